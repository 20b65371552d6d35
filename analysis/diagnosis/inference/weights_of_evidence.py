"""How far does each thing that is known of a car move the log odds of a part?

The posterior is built up step by step: from the chance before anything is known of the car, over the parts
fitted in vain, each code that is absent and each that is open, up to what past promises kept say of the chances so
far and what is moved to the unknown cause.
What a step moves the log odds of a part by is its weight of evidence, given the steps before it; so the
weights and the prior log odds sum to the posterior log odds, and every one is what the model used.

Source:
    I. J. Good, Probability and the Weighing of Evidence (1950), chapter 6; "Weight of evidence: a brief survey",
    Bayesian Statistics 2 (1985): the weight of evidence is the logarithm of the Bayes factor, and adds up where each
    is taken given the evidence before it.
"""

from dataclasses import dataclass, replace

import numpy as np

from analysis.diagnosis.inference.calibration import Calibration
from analysis.diagnosis.inference.posterior import (
    Car,
    Posterior,
    in_columns,
    part_odds,
    passed_share,
    sharpened,
    with_passed_cause,
    with_unknown_cause,
)
from analysis.diagnosis.model.noisy_or import Cases, Floats, Weights, weigh_sets
from analysis.diagnosis.model.parameters import NoisyOrParameters

ABSENT, OPEN, IN_VAIN = "absent", "open", "fitted in vain"
PROMISES = "what past promises kept"
STORED_ONLY, UNKNOWN_CAUSE, RENEWED = "stored only, none active", "unknown cause", "renewed, no scan since"


@dataclass(frozen=True)
class WeightsOfEvidence:
    """One car's steps in their fixed order, n of them, for its k suspects.

    Attributes:
        prior: (k,) log odds that the part is at fault before anything is known of the car.
        steps: What is taken into account at each step, and the column of the code, -1 where it is none.
        log_ratio: (n, k) natural logarithm of the Bayes factor for "the part is at fault", given the steps before.
    """

    prior: Floats
    steps: list[tuple[str, int]]
    log_ratio: Floats

    @property
    def log_odds(self) -> Floats:
        """Return (k,): the posterior log odds."""
        return np.asarray(self.prior + self.log_ratio.sum(axis=0))


def weights_of_evidence(
    car: Car, parameters: NoisyOrParameters, posterior: Posterior, calibration: Calibration
) -> WeightsOfEvidence:
    """Take a posterior apart.

    The order is: parts fitted in vain, absent codes, open codes (both by code), the sharpness that past promises
    teach, stored codes alone, the unknown cause, and last a part renewed since nobody looked, which is at fault still
    only where the new one does not cure.

    Args:
        car: What is open.
        parameters: What the posterior was inferred with.
        posterior: What ``infer`` made of the two.
        calibration: The same that it was inferred with.

    Returns:
        The weights of evidence of each suspect; steps that do not apply to the car are left out.
    """
    parameters = parameters.at(car.make)
    before, columns = _before_open_codes(car, parameters, posterior)
    stages = [weigh_sets(before), weigh_sets(_code_by_code(posterior.case))]
    odds = [_log_odds(weights, len(posterior.parts)) for weights in stages]
    steps = [(IN_VAIN, -1), *((ABSENT, d) for d in columns), *((OPEN, d) for d in car.codes)]
    # The last of the first stages and the first of the second are one: all but the open codes is known.
    path = [*odds[0], *odds[1][1:]]
    weights = replace(stages[1], chance=stages[1].chance[[-1]])
    if calibration.sharpness != 1:
        weights = sharpened(weights, calibration.sharpness)
        steps.append((PROMISES, -1))
        path.append(_log_odds(weights, len(posterior.parts))[0])
    if car.stale.all():
        weights = with_passed_cause(weights, parameters.past[int(car.mended)])
        steps.append((STORED_ONLY, -1))
        path.append(_log_odds(weights, len(posterior.parts))[0])
    weights = with_unknown_cause(weights, calibration.share * posterior.one_minus_max, passed_share(car))
    steps.append((UNKNOWN_CAUSE, -1))
    path.append(_log_odds(weights, len(posterior.parts))[0])
    if car.renewed & set(posterior.parts):
        steps.append((RENEWED, -1))
        path.append(_still_at_fault(path[-1], car, posterior))
    return WeightsOfEvidence(path[0], steps, np.diff(np.array(path), axis=0))


def _before_open_codes(car: Car, parameters: NoisyOrParameters, posterior: Posterior) -> tuple[Cases, list[int]]:
    """Return cases without any open code: nothing known, what failed, then one absent code more in each."""
    parts, unseen = posterior.parts, [int(d) for d in np.flatnonzero(car.absent)]
    told = np.cumsum(parameters.log_lik_absent[:, unseen], axis=1)
    told = np.hstack([np.zeros((len(told), 1)), told])
    columns, odds = [*parts, *posterior.causes], part_odds(car, parameters)
    plain, *_ = in_columns(part_odds(replace(car, failed=set()), parameters), told[:, :1], columns, parameters.standing)
    fault, absent, *_ = in_columns(odds, told, columns, parameters.standing)
    rows = len(unseen) + 2
    no_jobs = np.empty((rows, 0, 0))
    return Cases(
        fault=np.vstack([plain, np.tile(fault, (rows - 1, 1))]),
        log_lik_absent=np.vstack([np.zeros(len(fault)), absent.T]),
        link=np.zeros((rows, len(fault), 0)),
        leak=np.zeros((rows, 0)),
        shown=np.zeros((rows, 0), dtype=bool),
        fitted=np.empty((rows, 0, len(fault)), dtype=bool),
        lik_cleared=no_jobs,
        lik_recurred=no_jobs,
        leak_recurrence=0.0,
        bad=np.tile(posterior.case.bad, (rows, 1)),
        sizes=np.tile(posterior.case.sizes, (rows, 1)),
        standing=None if posterior.case.standing is None else np.tile(posterior.case.standing, (rows, 1)),
    ), unseen


def _code_by_code(case: Cases) -> Cases:
    """Return the case with none of its open codes, with the first, with the first two, and so on."""
    codes = case.leak.shape[1]
    shared = {
        name: np.repeat(getattr(case, name), codes + 1, axis=0)
        for name in (
            *("fault", "log_lik_absent", "link", "leak", "fitted", "lik_cleared", "lik_recurred"),
            *("bad", "sizes", "standing"),
        )
    }
    return replace(case, **shared, shown=np.tri(codes + 1, codes, -1, dtype=bool))


def _log_odds(weights: Weights, parts: int) -> Floats:
    """Return (n, parts): the log odds of each part, summed over the sets with it and the sets without it."""
    member, chance = weights.sets[:, :parts].astype(float), weights.chance.sum(axis=1)
    yes, no = chance @ member, chance @ (1 - member)
    return np.asarray(np.log(np.maximum(yes, 1e-300)) - np.log(np.maximum(no, 1e-300)))


def _still_at_fault(log_odds: Floats, car: Car, posterior: Posterior) -> Floats:
    """Return (k,): the log odds of "at fault, and the new one did not cure it" for the parts that were renewed."""
    renewed = np.array([part in car.renewed for part in posterior.parts], dtype=bool)
    still = posterior.case.bad[0, : len(posterior.parts)] / (1 + np.exp(-log_odds))
    return np.where(renewed, np.log(still) - np.log1p(-still), log_odds)
