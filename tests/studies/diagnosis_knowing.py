"""The policy that knows the planted parameters: the same planner with the truth in the place of what was learned.

No policy can be expected to do better; every other one is measured against it.
"""

import numpy as np

from analysis.diagnosis import DiagnosisFrames
from analysis.diagnosis.decision.policy import RECHECK, plan
from analysis.diagnosis.decision.rows import drive_cents
from analysis.diagnosis.engine import RECHECK_FROM
from analysis.diagnosis.inference.observations import cars_in_stock
from analysis.diagnosis.inference.posterior import Car, View, look_at, world_of
from analysis.diagnosis.inputs.candidates import list_candidates
from analysis.diagnosis.model.parameters import Knowledge
from tests.studies.diagnosis_rivals import most_likely
from tests.support.diagnosis_play import Played
from tests.support.diagnosis_world import BAD_PART, COSTS, FAULTS, Truth

NUMBERS = np.array(FAULTS)


def true_knowledge(truth: Truth) -> Knowledge:
    """The planted parameters in the planner's form."""
    fault = np.vstack([truth.fault, truth.fault.mean(axis=0)])
    many = 1e6
    fault = np.clip(fault, 1e-6, 0.9)
    names = [f"make{m}" for m in range(len(truth.fault))]
    return Knowledge(
        truth.link * many, (1 - truth.link) * many + 1e-3, fault * many, (1 - fault) * many, truth.leak, 0.3, NUMBERS,
        np.full(len(truth.link), BAD_PART), truth.link, truth.link, [*names, ""],
    )  # fmt: skip


def knowing_views(truth: Truth, frames: DiagnosisFrames) -> list[tuple[Car, View, list[int], list[str]]]:
    """Every car in stock weighed with the planted parameters: car, view, the view's planted parts, all code keys."""
    order = np.argsort(truth.codes["code"].to_numpy().astype(str))
    candidates = list_candidates(frames)
    index = [int(c.part[6:]) for c in candidates]
    sorted_truth = true_knowledge(truth)
    where = np.ix_(index, order)
    known = Knowledge(
        sorted_truth.link_yes[where], sorted_truth.link_no[where], sorted_truth.fault_yes[:, index],
        sorted_truth.fault_no[:, index],
        truth.leak[order], 0.3, NUMBERS, sorted_truth.bad[index], truth.link[where], truth.link[where],
        sorted_truth.make_names,
    )  # fmt: skip
    ordered = DiagnosisFrames(**(vars(frames) | {"codes": frames.codes.sort("code")}))
    keys = ordered.codes["code"].to_list()
    views = [
        (car, look_at(car, known, np.ones(len(index), dtype=bool))) for car in cars_in_stock(ordered, candidates, known)
    ]
    return [(car, view, [index[i] for i in view.parts], keys) for car, view in views]


def play_knowing(truth: Truth, frames: DiagnosisFrames) -> Played:
    """The same planner with the planted parameters."""
    steps, ranking = {}, {}
    for car, view, parts, keys in knowing_views(truth, frames):
        world = world_of(view, truth.total_cents[parts], float(COSTS.specialist_cents), drive_cents(COSTS))
        chosen = plan(world, np.ones(len(parts), dtype=bool), RECHECK_FROM)
        clears = [{keys[d] for d, yes in zip(car.codes, row, strict=True) if yes} for row in view.clears]
        everything = {keys[d] for d in car.codes}
        steps[car.vehicle] = [
            (RECHECK, everything) if s.part == RECHECK else (parts[s.part], clears[s.part]) for s in chosen
        ]
        chance = np.zeros(len(truth.link))
        chance[parts] = view.weights.faulty()[0][: len(parts)]
        ranking[car.vehicle] = most_likely(chance, truth.total_cents)
    return Played(steps, ranking)
