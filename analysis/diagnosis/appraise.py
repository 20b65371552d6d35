"""Before buying: what will it cost to clear one car, and how much of that can its scan not show?"""

from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.diagnosis.decision.appraisal import costs_to_clear, mean_cost
from analysis.diagnosis.decision.expected_cost import costs_to_the_end
from analysis.diagnosis.decision.operations import drive_cents
from analysis.diagnosis.engine import CarDiagnosis, DiagnosisModel
from analysis.diagnosis.inference.posterior import Car
from analysis.diagnosis.unseen import WORTH_SAYING, PastCars, Unseen, unseen


@dataclass(frozen=True, kw_only=True)
class Appraisal:
    """What clearing one car will cost.

    Attributes:
        mean: Expected cost in cents: what the list says of what is open, what is stored beside it and may not be of
            the past, and what may hide.
        costs: One row per total: cost in cents, share (summing to 1), ascending; drawn, so its mean is near ``mean``.
        car: What is open on it; None where nothing is that counts.
        diagnosis: Of what is open.
        unseen: What its scan cannot show.
    """

    mean: float
    costs: pl.DataFrame
    car: Car | None
    diagnosis: CarDiagnosis | None
    unseen: Unseen


def appraise(model: DiagnosisModel, vehicle: str, past: PastCars | None = None) -> Appraisal:
    """Return what it will cost to clear one car: of what is seen and of what is not.

    Args:
        model: What all cars are diagnosed with.
        vehicle: A car in stock.
        past: The dealer's cars as they came in, where they are known already.
    """
    past = past or PastCars(model)
    car = next((car for car in model.cars() if car.vehicle == vehicle), None)
    if car is None:
        hidden = unseen(model, past, vehicle)
        # Whoever wants to know has to drive and to scan again.
        drive = drive_cents(model.costs) if hidden.more_km and hidden.chance >= WORTH_SAYING else 0.0
        costs = hidden.costs.with_columns(pl.col("cost") + drive)
        return Appraisal(mean=mean_cost(costs), costs=costs, car=None, diagnosis=None, unseen=hidden)
    diagnosis = model.diagnose(car)
    # What comes back without a fault, of equipment for instance, says nothing of how many faults a car has.
    faulty = 1 - float(diagnosis.posterior.weights.sizes()[0, 0]) if diagnosis.repair.scope.any() else 0.0
    hidden = unseen(model, past, vehicle, faulty)
    listed = costs_to_the_end(diagnosis.repair, diagnosis.steps)[0] if diagnosis.repair.scope.any() else 0.0
    seen = costs_to_clear(diagnosis.repair, diagnosis.steps)
    make = model.frames.stock.filter(pl.col("vehicle") == vehicle)["make"].to_list()[0] or ""
    stored = past.stored(make, tuple(model.codes[d] for d in car.past))
    return Appraisal(
        mean=listed + mean_cost(stored) + mean_cost(hidden.costs),
        costs=_both(_both(seen, stored), hidden.costs),
        car=car,
        diagnosis=diagnosis,
        unseen=hidden,
    )


def _both(one: pl.DataFrame, other: pl.DataFrame) -> pl.DataFrame:
    """Return how the sum of two costs is distributed, each on its own."""
    if other["cost"].to_list() == [0.0]:
        return one
    cost = np.add.outer(one["cost"].to_numpy(), other["cost"].to_numpy()).ravel()
    share = np.multiply.outer(one["share"].to_numpy(), other["share"].to_numpy()).ravel()
    totals, place = np.unique(np.round(cost, 6), return_inverse=True)
    return pl.DataFrame({"cost": totals, "share": np.bincount(place, share)})
