"""Put lists on cars whose faults are known and count: who named a faulty part first, and what did it cost?

A part costs what it costs, a step whose codes are gone already is skipped, and whoever
reaches the end of a list with a code left hands the car over.
"""

from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.diagnosis import DiagnosisFrames, fit, list_cars
from analysis.diagnosis.decision.operations import drive_cents
from analysis.diagnosis.decision.order_of_work import RECHECK
from analysis.diagnosis.inputs.candidates import Candidate, list_candidates
from analysis.diagnosis.inputs.text_matching import Reader
from analysis.diagnosis.inputs.training_data import Visits, gather_visits
from analysis.diagnosis.model.priors import Prior, text_priors
from analysis.evidence import Evidence, EvidenceFrames, weigh
from tests.studies.diagnosis_rivals import most_likely
from tests.support.diagnosis_world import COSTS, Truth, nothing_mined

Steps = list[tuple[int, set[str]]]
"""Part (or ``RECHECK``) and the codes that it should clear."""


@dataclass(frozen=True)
class Played:
    """One policy on the cars in stock.

    Attributes:
        steps: The list of each car, before handing over.
        ranking: The three parts that it holds most likely, prices left out of account.
    """

    steps: dict[str, Steps]
    ranking: dict[str, list[int]]


@dataclass(frozen=True)
class Score:
    """Sums over cars: judged (with a fault), first right, one of three right, cents, cars."""

    judged: int = 0
    first: int = 0
    three: int = 0
    cents: float = 0.0
    cars: int = 0

    def __add__(self, other: "Score") -> "Score":
        mine, theirs = vars(self), vars(other)
        return Score(**{name: mine[name] + theirs[name] for name in mine})


def evidence_of(frames: DiagnosisFrames) -> Evidence:
    """What the batch draws from the same past jobs."""
    past = EvidenceFrames(
        jobs=frames.jobs,
        job_parts=frames.job_parts,
        job_modules=frames.job_modules,
        outcomes=frames.outcomes,
        codes=frames.codes,
    )
    return weigh(past, nothing_mined().members)


def prepared(frames: DiagnosisFrames) -> tuple[Visits, Prior, list[Candidate]]:
    """What is learned from: the past visits, the beliefs from texts, and the parts of both."""
    reader = Reader(frames.trade_words)
    candidates = list_candidates(frames, reader)
    return (
        gather_visits(frames, candidates),
        text_priors(candidates, frames, nothing_mined().families, reader),
        candidates,
    )


def our_rows(frames: DiagnosisFrames) -> pl.DataFrame:
    """The list as the workshop gets it."""
    return list_cars(fit(frames, nothing_mined().families, COSTS)).rows


def our_steps(rows: pl.DataFrame) -> dict[str, Steps]:
    """The list's rows as steps."""
    steps: dict[str, Steps] = {}
    for vehicle, action, part, clears in rows.select("vehicle", "action", "part", "clears").iter_rows():
        mine = steps.setdefault(vehicle, [])
        if action == "recheck":
            mine.append((RECHECK, set(clears.split(";"))))
        elif action not in ("specialist", "leave"):
            mine.append((int(part[6:]), set(clears.split(";"))))
    return steps


def play_ours(truth: Truth, frames: DiagnosisFrames) -> Played:
    """The list as the workshop gets it, and the parts that the diagnosis behind it holds most likely."""
    model = fit(frames, nothing_mined().families, COSTS)
    ranking = {}
    for car in model.cars():
        posterior, chance = model.diagnose(car).posterior, np.zeros(len(truth.link))
        named = [int(model.candidates[i].part[6:]) for i in posterior.parts]
        chance[named] = posterior.weights.faulty()[0][: len(named)]
        ranking[car.vehicle] = most_likely(chance, truth.total_cents)
    return Played(our_steps(list_cars(model).rows), ranking)


def play_scores(truth: Truth, frames: DiagnosisFrames, scores: dict[str, np.ndarray]) -> Played:
    """A rival's list: its three best parts, each tried for every code."""
    codes = dict(frames.open_codes.group_by("vehicle").agg("code").iter_rows())
    ranking = {vehicle: most_likely(score, truth.total_cents) for vehicle, score in scores.items()}
    steps = {vehicle: [(part, set(codes[vehicle])) for part in order] for vehicle, order in ranking.items()}
    return Played(steps, ranking)


def play(truth: Truth, steps: Steps, faults: set[int], causes: dict[str, set]) -> float:
    """Return the cents spent until the car's codes are gone for good."""
    left, open_codes, cents = set(faults), set(causes), 0.0
    for part, clears in steps:
        if not open_codes & clears:
            continue
        cents += drive_cents(COSTS) if part == RECHECK else float(truth.total_cents[part])
        left -= {part}
        open_codes = {code for code, by in causes.items() if by & left or "leak" in by}
        if not open_codes:
            return cents
    return cents + COSTS.specialist_cents


def score_of(truth: Truth, played: Played, faults: dict[str, set[int]], causes: dict[str, dict[str, set]]) -> Score:
    """Play every car's list and count."""
    score = Score()
    for vehicle, true in faults.items():
        best = played.ranking.get(vehicle, [])
        score += Score(
            judged=bool(true),
            first=bool(set(best[:1]) & true),
            three=bool(set(best[:3]) & true),
            cents=play(truth, played.steps.get(vehicle, []), true, causes[vehicle]),
            cars=1,
        )
    return score
