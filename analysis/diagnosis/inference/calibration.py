"""How much of every chance is kept back for causes that nothing known points at?

No list of parts is complete and no code text is always right, so a part of each car's
chance stays with "something else": the more, the less one part stands out.  A car's
doubt is the chance that the likeliest answer, a part or no fault at all, is wrong, and
a share of the doubt is kept back of all its chances: half for another part, half for
something that has passed, so that no part is at fault.  A dealer with few visits keeps
more back than one with many.  Where past promises can be held beside what became of
them, they say how much: if fewer codes stayed away than was promised, more is kept back
from now on.
"""

import numpy as np
import polars as pl

RESERVE, RESERVE_VISITS = 0.4, 60.0
"""Share of the doubt before any visit, and the number of visits that halves it.  Fitted on drawn fleets: without it
parts held likely were at fault as often as said, but those of .50 to .80 less often, by .10 to .15 at 30 visits."""
WORTH = 40.0
"""The usual reserve counts as much as so many past promises."""
ENOUGH = 30
"""With fewer past promises than this the usual reserve stays."""
PLACES = 4
"""Rounded, so that the share in a report's table is the one that was used."""
_SHARES = ((np.arange(2000) + 0.5) / 2000) ** 8
"""Shares between 0 and 1, dense where they are small: their density rises without bound towards 0."""


def usual_reserve(visits: int) -> float:
    """Return the share kept back where the past says nothing yet.

    Args:
        visits: Past jobs that were learned from.

    Returns:
        A fraction of the doubt.
    """
    return round(RESERVE * RESERVE_VISITS / (RESERVE_VISITS + visits), PLACES)


def learned_reserve(promised: pl.DataFrame, visits: int) -> float:
    """Return the share to keep back, as past promises say.

    Args:
        promised: One row per past promise that was put to the test: ``chance`` with nothing kept back, ``doubt``,
            ``spared``, the chance if all were kept back, and ``held``, whether it came true.
        visits: Past jobs that were learned from.

    Returns:
        The posterior mean of the share, from a Beta with the usual reserve as its mean worth ``WORTH`` promises;
        the usual reserve itself with fewer than ``ENOUGH`` promises.

    Source:
        A. P. Dawid, "The well-calibrated Bayesian", Journal of the American Statistical Association 77 (1982), for
        the demand that of all promises of 80 % four in five come true; the correction is our own.
    """
    usual = usual_reserve(visits)
    if promised.height < ENOUGH:
        return usual
    # The Beta's logarithm, and seven eighths of log share for the spacing of the shares.
    score = (usual * WORTH - 1 + 7 / 8) * np.log(_SHARES) + ((1 - usual) * WORTH - 1) * np.log1p(-_SHARES)
    bare, doubt, spared = (promised[name].to_numpy().clip(0.0, 1.0)[:, None] for name in ("chance", "doubt", "spared"))
    chance = bare + doubt * _SHARES * (spared - bare)
    held = promised["held"].to_numpy().astype(bool)[:, None]
    score += np.where(held, np.log(np.maximum(chance, 1e-12)), np.log1p(-np.minimum(chance, 1 - 1e-12))).sum(axis=0)
    weight = np.exp(score - score.max())
    return round(float((weight * _SHARES).sum() / weight.sum()), PLACES)
