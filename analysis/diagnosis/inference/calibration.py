"""How much of every chance belongs to causes that nothing known points at?

No list of parts is complete and no code text is always right, so a part of each car's
chance stays with "something else": the more, the less one part stands out.  The
unknown-cause mass of a car is a share of one minus its largest posterior chance, of a
part or of no fault at all: half of it for another part, half for something that has
passed, so that no part is at fault.  The share, the calibration, is larger for a dealer
with few visits.  Where past predictions can be held beside what became of them, they
say how large: if fewer codes stayed away than was predicted, it grows.
"""

import numpy as np
import polars as pl

UNKNOWN_CAUSE_SHARE, UNKNOWN_CAUSE_VISITS = 0.4, 60.0
"""The share before any visit, and the number of visits that halves it.  Fitted on drawn fleets: without it
parts held likely were at fault as often as said, but those of .50 to .80 less often, by .10 to .15 at 30 visits."""
PRIOR_PREDICTIONS = 40.0
"""The usual share counts as much as so many past predictions."""
ENOUGH = 30
"""With fewer past predictions than this the usual share stays."""
PLACES = 4
"""The share is defined to so many places, so that the one in a report's table is the very one that was used."""
_GRID = (np.arange(2000) + 0.5) / 2000
_POWER = 8
_SHARES = _GRID**_POWER
"""Shares between 0 and 1, dense where they are small: their density rises without bound towards 0."""


def usual_calibration(jobs: int) -> float:
    """Return the share of one minus the largest posterior that is unknown-cause mass where the past says nothing yet.

    Args:
        jobs: Past jobs that were learned from.

    Returns:
        A fraction.
    """
    return round(UNKNOWN_CAUSE_SHARE * UNKNOWN_CAUSE_VISITS / (UNKNOWN_CAUSE_VISITS + jobs), PLACES)


def learned_calibration(predicted: pl.DataFrame, jobs: int) -> float:
    """Return the share as past predictions say.

    Args:
        predicted: One row per past prediction that was put to the test: ``chance`` without unknown-cause mass,
            ``one_minus_max``, ``if_unknown``, the chance if all were unknown-cause mass, and ``held``, whether it came
            true.
        jobs: Past jobs that were learned from.

    Returns:
        The posterior mean of the share, from a Beta with the usual share as its mean worth
        ``PRIOR_PREDICTIONS``; the usual share itself with fewer than ``ENOUGH`` predictions.

    Source:
        A. P. Dawid, "The well-calibrated Bayesian", Journal of the American Statistical Association 77 (1982), for
        the demand that of all forecasts of 80 % four in five come true; the correction is our own.
    """
    usual = usual_calibration(jobs)
    if predicted.height < ENOUGH:
        return usual
    # The Beta's logarithm, and of log share what the spacing of the shares adds.
    yes, no = usual * PRIOR_PREDICTIONS, (1 - usual) * PRIOR_PREDICTIONS
    score = (yes - 1 / _POWER) * np.log(_SHARES) + (no - 1) * np.log1p(-_SHARES)
    names = ("chance", "one_minus_max", "if_unknown")
    bare, left, unknown = (predicted[name].to_numpy().clip(0.0, 1.0)[:, None] for name in names)
    chance = bare + left * _SHARES * (unknown - bare)
    held = predicted["held"].to_numpy().astype(bool)[:, None]
    score += np.where(held, np.log(np.maximum(chance, 1e-12)), np.log1p(-np.minimum(chance, 1 - 1e-12))).sum(axis=0)
    weight = np.exp(score - score.max())
    return round(float((weight * _SHARES).sum() / weight.sum()), PLACES)
