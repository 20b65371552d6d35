"""The same scales for every question about a car: what to try, why, at what cost, and how it went before.

The list, the reasons behind a row, the cost of clearing a car and the check on past
visits all weigh a car with one knowledge and one set of prices.  Both are made
ready once and kept together here.
"""

from dataclasses import dataclass, replace
from statistics import median

import numpy as np
import polars as pl

from analysis.diagnosis.decision.operations import work_of
from analysis.diagnosis.decision.policy import Step, World, plan
from analysis.diagnosis.decision.repair_model import Work
from analysis.diagnosis.decision.rows import drive_cents, total_cents
from analysis.diagnosis.decision.safety import Adviser
from analysis.diagnosis.decision.support import PastJobs
from analysis.diagnosis.inference.calibration import usual_reserve
from analysis.diagnosis.inference.observations import cars_in_stock
from analysis.diagnosis.inference.posterior import Car, View, look_at, world_of
from analysis.diagnosis.inputs.candidates import Candidate, list_candidates
from analysis.diagnosis.inputs.frames import Costs, DiagnosisFrames
from analysis.diagnosis.inputs.training_data import gather_visits
from analysis.diagnosis.learning.fit import learn
from analysis.diagnosis.model.noisy_or import Bools, Floats
from analysis.diagnosis.model.parameters import Knowledge
from analysis.diagnosis.model.priors import Prior, text_priors
from analysis.evidence import Evidence

RECHECK_FROM = 0.25
TIE = 0.05
"""Two parts whose chances differ by less than this share, for the same codes, cannot be told apart."""


@dataclass(frozen=True)
class Scales:
    """What all cars share.

    Attributes:
        frames: The facts, codes in order.
        costs: What work costs here.
        candidates: The parts in their places.
        prior: The beliefs from texts alone.
        knowledge: The beliefs with past jobs.
        visits: Past jobs that were learned from.
        reserve: Share of the doubt that is kept back of every chance, for causes that nothing known points at.
        past: The single-part jobs that a row rests on.
        adviser: What must be said beside a fix.
        total: (parts,) cents of trying each part; not a number where none is known.
        assumed: Cents that stand for an unknown price.
        work: Checks and openings of the parts.
        codes: The code of each column.
        places: Module and code without it, of each column.
        network: (codes,) whether the code tells that another module is not heard.
    """

    frames: DiagnosisFrames
    costs: Costs
    candidates: list[Candidate]
    prior: Prior
    knowledge: Knowledge
    visits: int
    reserve: float
    past: PastJobs
    adviser: Adviser
    total: Floats
    assumed: float
    work: Work
    codes: list[str]
    places: list[tuple[str, str]]
    network: Bools

    @property
    def price(self) -> Floats:
        """(parts,) cents of trying each part; the assumed price where none is known."""
        return np.where(np.isnan(self.total), self.assumed, self.total)

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


def set_up(
    frames: DiagnosisFrames, evidence: Evidence, families: pl.DataFrame, costs: Costs, reserve: float | None = None
) -> Scales:
    """Learn from the past jobs and lay prices beside the parts.

    Args:
        frames: The facts.
        evidence: For the return distance of each code.
        families: One row per family: codes (list of text) and root; may be empty.
        costs: What work costs here.
        reserve: Share of the doubt to keep back of every chance, as ``backtest`` learned it; None for the usual one.

    Returns:
        The scales, the same that the list is made with.
    """
    frames = _in_order(frames)
    candidates = list_candidates(frames)
    prior = text_priors(candidates, frames.codes, families)
    visits = gather_visits(frames, candidates, evidence)
    total = np.array([total_cents(candidate, costs) for candidate in candidates], dtype=float)
    known = total[~np.isnan(total)]
    assumed = float(median(known)) if known.size else costs.specialist_cents / 4
    jobs = sum(len(attempt) for attempts in visits.jobs for attempt in attempts)
    kept_back = usual_reserve(jobs) if reserve is None else reserve
    return Scales(
        frames, costs, candidates, prior, learn(visits, prior), jobs, kept_back,
        PastJobs(frames, candidates),
        Adviser(frames.cautions, frames.first_checks, frames.inspection, costs.country),
        total, assumed, work_of(candidates, costs), frames.codes["code"].to_list(),
        list(frames.codes.select("module", pl.col("short").fill_null("")).iter_rows()),
        frames.codes["network"].fill_null(False).to_numpy().astype(bool),
    )  # fmt: skip


def _in_order(frames: DiagnosisFrames) -> DiagnosisFrames:
    """Every open or past code has a column, in a fixed order."""
    known = frames.codes.sort("code")
    return DiagnosisFrames(**(vars(frames) | {"codes": known}))


def weigh_car(scales: Scales, car: Car) -> Weighed:
    """Weigh one car and plan its steps, as the list does.

    Args:
        scales: What all cars share.
        car: What is open on it.

    Returns:
        The car weighed.
    """
    view = look_at(car, scales.knowledge, _allowed(scales, car), scales.reserve)
    specialist, drive = float(scales.costs.specialist_cents), drive_cents(scales.costs)
    plain = world_of(view, scales.price[view.parts], specialist, drive)
    renewed = tuple(k for k, part in enumerate(view.parts) if part in car.renewed)
    world = replace(plain, work=scales.work.only(view.parts), renewed=renewed)
    first = _eligible(scales, car, view)
    tied = _tied(view, world, first)
    behind = [j for others in tied.values() for j in others]
    steps = plan(world, first, 0.0 if car.stale.all() else RECHECK_FROM, behind) if view.parts else []
    return Weighed(view, world, steps, tied)


def _allowed(scales: Scales, car: Car) -> Bools:
    """A part never fitted is weighed only where some text ties it to an open code."""
    told = scales.prior.link[:, car.codes] > 0.3
    return np.asarray(scales.past.fitted | scales.prior.named[:, car.codes].any(axis=1) | told.any(axis=1))


def _eligible(scales: Scales, car: Car, view: View) -> Bools:
    """Only a part that was fitted before, or that an open code names, may stand first."""
    return np.asarray(scales.past.fitted[view.parts] | scales.prior.named[np.ix_(view.parts, car.codes)].any(axis=1))


def _tied(view: View, world: World, eligible: Bools) -> dict[int, list[int]]:
    """Parts whose chance and codes are the same: the cheapest of each group, and the others it stands for."""
    chance, groups, taken = view.weights.faulty()[0], dict[int, list[int]](), set[int]()
    order = sorted(range(len(view.parts)), key=lambda i: (not eligible[i], world.cost[i], i))
    for head in order:
        if head in taken:
            continue
        groups[head] = [
            i
            for i in order
            if i not in taken | {head}
            and (view.clears[i] == view.clears[head]).all()
            and abs(chance[i] - chance[head]) <= TIE * max(chance[i], chance[head])
        ]
        taken |= {head, *groups[head]}
    return groups
