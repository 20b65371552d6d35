"""The same scales for every question about a car: what to try, why, at what cost, and how it went before.

The list, the reasons behind a row, the cost of clearing a car and the check on past
visits all weigh a car with one knowledge and one set of prices.  Both are made
ready once and kept together here.
"""

from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.diagnosis.candidates import Candidate
from analysis.diagnosis.car import Car, View, look_at, world_of
from analysis.diagnosis.frames import Costs, DiagnosisFrames
from analysis.diagnosis.knowledge import Knowledge
from analysis.diagnosis.noisy_or import Floats
from analysis.diagnosis.priors import Prior
from analysis.diagnosis.rows import drive_cents
from analysis.diagnosis.shortlist import RECHECK_FROM, Desk, _allowed, _eligible, _prepare, _tied
from analysis.diagnosis.stock import cars_in_stock
from analysis.diagnosis.troubleshooting import Step, World, plan
from analysis.evidence import Evidence


@dataclass(frozen=True)
class Scales:
    """What all cars share.

    Attributes:
        frames: The facts, codes in order.
        costs: What work costs here.
        candidates: The parts in their places.
        prior: The beliefs from texts alone.
        knowledge: The beliefs with past jobs.
        price: (parts,) cents of trying each part; the middle price where none is known.
        codes: The code of each column.
        desk: What the list itself is made with.
    """

    frames: DiagnosisFrames
    costs: Costs
    candidates: list[Candidate]
    prior: Prior
    knowledge: Knowledge
    price: Floats
    codes: list[str]
    desk: Desk

    def cars(self) -> list[Car]:
        """Return the cars in stock that have a code to explain, sorted by vehicle."""
        return cars_in_stock(self.frames, self.candidates, self.knowledge)


@dataclass(frozen=True)
class Weighed:
    """One car on the scales.

    Attributes:
        view: Its suspects weighed.
        world: What the order depends on.
        steps: The steps before handing over; none for a car without suspects.
        tied: For each part that a step may name, the others it stands for.
    """

    view: View
    world: World
    steps: list[Step]
    tied: dict[int, list[int]]


def set_up(frames: DiagnosisFrames, evidence: Evidence, families: pl.DataFrame, costs: Costs) -> Scales:
    """Learn from the past jobs and lay prices beside the parts.

    Args:
        frames: The facts.
        evidence: For the return distance of each code.
        families: One row per family: codes (list of text) and root; may be empty.
        costs: What work costs here.

    Returns:
        The scales, the same that the list is made with.
    """
    desk, _ = _prepare(frames, evidence, families, costs)
    price = np.where(np.isnan(desk.total), desk.assumed, desk.total)
    return Scales(desk.frames, costs, desk.candidates, desk.prior, desk.knowledge, price, desk.codes, desk)


def weigh_car(scales: Scales, car: Car) -> Weighed:
    """Weigh one car and plan its steps, as the list does.

    Args:
        scales: What all cars share.
        car: What is open on it.

    Returns:
        The car weighed.
    """
    view = look_at(car, scales.knowledge, _allowed(scales.desk, car))
    specialist, drive = float(scales.costs.specialist_cents), drive_cents(scales.costs)
    world = world_of(view, scales.price[view.parts], specialist, drive)
    first = _eligible(scales.desk, car, view)
    tied = _tied(view, world, first)
    behind = [j for others in tied.values() for j in others]
    steps = plan(world, first, 0.0 if car.stale.all() else RECHECK_FROM, behind) if view.parts else []
    return Weighed(view, world, steps, tied)
