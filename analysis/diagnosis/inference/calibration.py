"""How far are the chances of a model to be believed, as past promises were kept?

Two numbers, both learned from past visits of which it is known in the end whether the line that the list would have
named first was right.

*Sharpness.*  A noisy-OR takes codes for independent that one cause sets together, and faults for independent that one
record names; its chances may stand too close together or too far apart.  The chance of each set of faults is raised to
a power and all are scaled to sum to 1 again: above 1 what leads leads by more, below 1 by less.

*Unknown-cause mass.*  No list of parts is complete and no code text is always right, so a part of each car's
chance stays with "something else": the more, the less one part stands out.  It is a share of one minus the largest
posterior chance, of a part or of no fault at all: some of it for another part, the rest for something that has
passed, so that no part is at fault.  The share is larger for a dealer with few visits.

Each past promise that is shown beside what became of it is made with the two numbers that all other faults teach.

Source:
    D. R. Cox, "Two further applications of a model for binary regression", Biometrika 45 (1958): the slope by which
    log odds that were forecast have to be multiplied; C. Guo, G. Pleiss, Y. Sun and K. Q. Weinberger, "On calibration
    of modern neural networks", ICML (2017): the same for many answers, a temperature.  A. P. Dawid, "The
    well-calibrated Bayesian", Journal of the American Statistical Association 77 (1982), for the demand that of all
    forecasts of 80 % four in five come true; the unknown-cause mass is our own.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from analysis.diagnosis.model.noisy_or import Floats, Ints

UNKNOWN_CAUSE_SHARE, UNKNOWN_CAUSE_VISITS = 0.4, 60.0
"""The share before any visit, and the number of visits that halves it.  Fitted on drawn fleets: without it
parts held likely were at fault as often as said, but those of .50 to .80 less often, by .10 to .15 at 30 visits."""
PRIOR_PREDICTIONS = 40.0
"""The usual share counts as much as so many past predictions."""
SHARPNESS_DEVIATION = 0.2
"""The logarithm of the sharpness differs about so much from 0 (no change): 80 promises of .8 tell as much."""
ENOUGH, TOLD = 30, float(np.log(9.0))
"""With fewer promises than this of which nine to one is known whether they were kept nothing is learned from them."""
PLACES = 4
"""Both numbers are defined to so many places, so that the one in a report's table is the very one that was used."""
SHARPNESSES = np.exp(np.linspace(np.log(0.5), np.log(2.0), 15))
"""Between these a chance is told by straight lines."""
_POWER = 8
_SHARES = ((np.arange(160) + 0.5) / 160) ** _POWER
"""Shares between 0 and 1, dense where they are small: their density rises without bound towards 0."""


class Calibration(NamedTuple):
    """How far the chances of a model are believed.

    Attributes:
        share: Share of one minus the largest posterior chance that is moved to the unknown cause.
        sharpness: The power to which the chance of each set of faults is raised; 1 leaves them as they are.
    """

    share: float
    sharpness: float = 1.0


PLAIN = Calibration(0.0)
"""Chances as the codes say them."""


@dataclass(frozen=True, kw_only=True)
class Promises:
    """Past promises of n visits under each of ``SHARPNESSES``, and what was seen of them.

    Attributes:
        chance: (n, sharpnesses) the chance of the first line, without unknown-cause mass.
        one_minus_max: (n, sharpnesses) one less the largest posterior chance.
        if_unknown: (n,) the chance of the first line if all were unknown-cause mass.
        log_ratio: (n,) logarithm of the likelihood of what was seen if it was kept, against that if not.
        fault: (n,) number of the fault; visits about one fault are not independent.
    """

    chance: Floats
    one_minus_max: Floats
    if_unknown: Floats
    log_ratio: Floats
    fault: Ints

    def under(self, calibration: Calibration, row: int) -> float:
        """Return the chance of one promise under a calibration."""
        at = np.log(calibration.sharpness), np.log(SHARPNESSES)
        chance, left = (float(np.interp(*at, table[row])) for table in (self.chance, self.one_minus_max))
        return chance + calibration.share * left * (float(self.if_unknown[row]) - chance)


def usual_calibration(jobs: int) -> Calibration:
    """Return the calibration where the past says nothing yet: chances as they are, less an unknown-cause mass.

    Args:
        jobs: Past jobs that were learned from.
    """
    share = UNKNOWN_CAUSE_SHARE * UNKNOWN_CAUSE_VISITS / (UNKNOWN_CAUSE_VISITS + jobs)
    return Calibration(round(share, PLACES))


def learned_calibration(promises: Promises, jobs: int) -> Calibration:
    """Return the calibration that past promises speak for.

    Args:
        promises: What was promised, and whether it was kept.
        jobs: Past jobs that were learned from.

    Returns:
        The posterior means: of the share, from a Beta with the usual share as its mean worth ``PRIOR_PREDICTIONS``; of
        the sharpness, of its logarithm, from a normal around 0.  The usual ones with fewer than ``ENOUGH`` promises.
    """
    if (abs(promises.log_ratio) >= TOLD).sum() < ENOUGH:
        return usual_calibration(jobs)
    return _mean(_log_prior(jobs) + _log_likelihoods(promises).sum(axis=-1))


def left_out_chances(promises: Promises, jobs: int) -> Floats:
    """Return (n,): each promise as it would have been made with what the promises on all other faults teach.

    Args:
        promises: What was promised, and whether it was kept.
        jobs: Past jobs that were learned from.
    """
    told, prior = _log_likelihoods(promises), _log_prior(jobs)
    whole, chances = told.sum(axis=-1), np.zeros(len(promises.fault))
    known = abs(promises.log_ratio) >= TOLD
    for fault in np.unique(promises.fault):
        mine = np.flatnonzero(promises.fault == fault)
        enough = known.sum() - known[mine].sum() >= ENOUGH
        learned = _mean(prior + whole - told[:, :, mine].sum(axis=-1)) if enough else usual_calibration(jobs)
        chances[mine] = [promises.under(learned, int(row)) for row in mine]
    return chances


def _log_prior(jobs: int) -> Floats:
    """Return (sharpnesses, shares): the logarithm of the prior density, of log share what its spacing adds."""
    usual = usual_calibration(jobs).share
    yes, no = usual * PRIOR_PREDICTIONS, (1 - usual) * PRIOR_PREDICTIONS
    share = (yes - 1 / _POWER) * np.log(_SHARES) + (no - 1) * np.log1p(-_SHARES)
    return np.asarray(share - (np.log(SHARPNESSES) / SHARPNESS_DEVIATION)[:, None] ** 2 / 2)


def _log_likelihoods(promises: Promises) -> Floats:
    """Return (sharpnesses, shares, n): the logarithm of the chance of what became of each promise."""
    bare, left = promises.chance.T[:, None], promises.one_minus_max.T[:, None]
    chance = np.clip(bare + left * _SHARES[:, None] * (promises.if_unknown - bare), 1e-12, 1 - 1e-12)
    kept = np.exp(np.minimum(promises.log_ratio, 0.0)), np.exp(np.minimum(-promises.log_ratio, 0.0))
    return np.log(chance * kept[0] + (1 - chance) * kept[1])


def _mean(score: Floats) -> Calibration:
    """Return the posterior means of a table (sharpnesses, shares) of log densities."""
    weight = np.exp(score - score.max())
    weight /= weight.sum()
    sharpness = np.exp(weight.sum(axis=1) @ np.log(SHARPNESSES))
    return Calibration(round(float(weight.sum(axis=0) @ _SHARES), PLACES), round(float(sharpness), PLACES))
