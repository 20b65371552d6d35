"""The policy that knows the planted parameters: the same planner with the truth in the place of what was learned.

No policy can be expected to do better; every other one is measured against it.
"""

from dataclasses import replace

import numpy as np

from analysis.diagnosis import DiagnosisFrames
from analysis.diagnosis.decision.operations import drive_cents
from analysis.diagnosis.decision.order_of_work import plan
from analysis.diagnosis.decision.repair_model import RECHECK, repair_model_of
from analysis.diagnosis.engine import RECHECK_FROM
from analysis.diagnosis.inference.observations import cars_in_stock
from analysis.diagnosis.inference.posterior import Car, Posterior, infer
from analysis.diagnosis.inputs.candidates import list_candidates
from analysis.diagnosis.inputs.text_matching import Reader
from analysis.diagnosis.model.parameters import NoisyOrParameters
from tests.studies.diagnosis_rivals import most_likely
from tests.support.diagnosis_play import Played
from tests.support.diagnosis_world import BAD_PART, COSTS, FAULTS, Truth

NUMBERS = np.array(FAULTS)


def true_parameters(truth: Truth) -> NoisyOrParameters:
    """The planted parameters in the planner's form."""
    fault = np.vstack([truth.fault, truth.fault.mean(axis=0)])
    many = 1e6
    fault = np.clip(fault, 1e-6, 0.9)
    names = [f"make{m}" for m in range(len(truth.fault))]
    return NoisyOrParameters(
        link_yes=truth.link * many,
        link_no=(1 - truth.link) * many + 1e-3,
        fault_yes=fault * many,
        fault_no=(1 - fault) * many,
        leak=truth.leak,
        leak_recurrence=np.full(len(truth.leak), 0.3),
        leak_stayed=np.zeros(len(truth.leak)),
        leak_strength=many,
        numbers=NUMBERS,
        bad=np.full(len(truth.link), BAD_PART),
        learned=truth.link,
        taught=truth.link,
        standing=np.zeros(len(truth.link), dtype=bool),
        passing=np.zeros(len(truth.link), dtype=bool),
        alike=np.ones_like(truth.link),
        past=np.full(2, 0.5),
        make_names=[*names, ""],
    )


def knowing_posteriors(truth: Truth, frames: DiagnosisFrames) -> list[tuple[Car, Posterior, list[int], list[str]]]:
    """Every car in stock under the planted parameters: car, posterior, its planted parts, all code keys."""
    order = np.argsort(truth.codes["code"].to_numpy().astype(str))
    candidates = list_candidates(frames, Reader())
    index = [int(c.part[6:]) for c in candidates]
    planted = true_parameters(truth)
    where = np.ix_(index, order)
    known = replace(
        planted,
        link_yes=planted.link_yes[where],
        link_no=planted.link_no[where],
        fault_yes=planted.fault_yes[:, index],
        fault_no=planted.fault_no[:, index],
        leak=truth.leak[order],
        bad=planted.bad[index],
        learned=truth.link[where],
        taught=truth.link[where],
        alike=planted.alike[where],
        standing=planted.standing[index],
        passing=planted.passing[index],
    )
    ordered = DiagnosisFrames(**(vars(frames) | {"codes": frames.codes.sort("code")}))
    keys = ordered.codes["code"].to_list()
    posteriors = [
        (car, infer(car, known, np.ones(len(index), dtype=bool))) for car in cars_in_stock(ordered, candidates, known)
    ]
    return [(car, posterior, [index[i] for i in posterior.parts], keys) for car, posterior in posteriors]


def play_knowing(truth: Truth, frames: DiagnosisFrames) -> Played:
    """The same planner with the planted parameters."""
    steps, ranking = {}, {}
    for car, posterior, parts, keys in knowing_posteriors(truth, frames):
        repair = repair_model_of(posterior, truth.total_cents[parts], float(COSTS.specialist_cents), drive_cents(COSTS))
        chosen = plan(repair, np.ones(len(parts), dtype=bool), RECHECK_FROM)
        clears = [{keys[d] for d, yes in zip(car.codes, row, strict=True) if yes} for row in posterior.clears]
        everything = {keys[d] for d in car.codes}
        steps[car.vehicle] = [
            (RECHECK, everything) if s.part == RECHECK else (parts[s.part], clears[s.part]) for s in chosen
        ]
        chance = np.zeros(len(truth.link))
        chance[parts] = posterior.weights.faulty()[0][: len(parts)]
        ranking[car.vehicle] = most_likely(chance, truth.total_cents)
    return Played(steps, ranking)
