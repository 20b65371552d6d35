"""Before buying: what will it cost to clear one car, and how much of that can its scan not show?"""

from dataclasses import dataclass

import polars as pl

from analysis.diagnosis.decision.appraisal import costs_to_clear
from analysis.diagnosis.engine import DiagnosisModel


@dataclass(frozen=True, kw_only=True)
class Appraisal:
    """What clearing one car will cost.

    Attributes:
        costs: One row per total: cost in cents, share (summing to 1), ascending.
    """

    costs: pl.DataFrame


def appraise(model: DiagnosisModel, vehicle: str) -> Appraisal:
    """Return what it will cost to clear one car.

    Args:
        model: What all cars are diagnosed with.
        vehicle: A car in stock.
    """
    car = next((car for car in model.cars() if car.vehicle == vehicle), None)
    if car is None:
        return Appraisal(costs=pl.DataFrame({"cost": [0.0], "share": [1.0]}))
    diagnosis = model.diagnose(car)
    return Appraisal(costs=costs_to_clear(diagnosis.repair, diagnosis.steps))
