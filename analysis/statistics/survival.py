"""Do things return sooner in one group than in another, and how many stay away for how long?

Both questions are about distances that are not all known to their end: where nothing had
come back when the watch ended, all that is known is "longer than that" (censored on the right).
The log-rank test and the Kaplan-Meier estimate are a few sums over the distances at which something came back;
``scipy.stats`` has both, and would have to be loaded for them alone.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import polars as pl

from analysis.statistics.tails import normal_beyond, normal_two_sided

_TAIL = 0.025

CURVE_SCHEMA = pl.Schema(
    {
        "km": pl.Float64(),
        "at_risk": pl.Int64(),
        "returned": pl.Int64(),
        "staying": pl.Float64(),
        "staying_low": pl.Float64(),
        "staying_high": pl.Float64(),
    }
)


class LogRank(NamedTuple):
    """Result of a log-rank test.

    Attributes:
        z: Standard normal if the groups are alike; above 0 where the first group returns more often than its share.
        chi_square: Its square, with one degree of freedom.
        p_value: Two-sided.
    """

    z: float
    chi_square: float
    p_value: float


def log_rank(km: Sequence[float], returned: Sequence[bool], first: Sequence[bool]) -> LogRank:
    """Compare how soon things return in two groups.

    Args:
        km: Distance driven until the return, or until the watch ended.
        returned: Whether it returned; False means the watch ended there (censored).
        first: Whether it belongs to the first group.

    Returns:
        The test; ``(0, 0, 1)`` where nothing can be compared: a group is empty, or nothing came back while
        both groups were watched.

    Source:
        N. Mantel, "Evaluation of survival data and two new rank order statistics arising
        in its consideration", Cancer Chemotherapy Reports 50 (1966); R. Peto and J. Peto, Journal of the Royal
        Statistical Society A 135 (1972).
    """
    at, back, mine = np.array(km, dtype=float), np.array(returned, dtype=bool), np.array(first, dtype=bool)
    if not back.any() or mine.all() or not mine.any():
        return LogRank(0.0, 0.0, 1.0)
    distances, events = np.unique(at[back], return_counts=True)
    watched, watched_mine = _at_risk(at, distances), _at_risk(at[mine], distances)
    share = watched_mine / watched
    excess = float((back & mine).sum() - (events * share).sum())
    spread = events * share * (1 - share) * (watched - events) / np.maximum(watched - 1, 1)
    if spread.sum() <= 0:
        return LogRank(0.0, 0.0, 1.0)
    z = excess / float(np.sqrt(spread.sum()))
    return LogRank(z, z * z, normal_two_sided(z))


def kaplan_meier(km: Sequence[float], returned: Sequence[bool]) -> pl.DataFrame:
    """Return the share of codes that still stay away after each distance.

    Args:
        km: Distance driven until the code returned, or until last seen absent.
        returned: Whether it returned; False means the watch ended there (censored).

    Returns:
        One row per distance with a return, ascending (``CURVE_SCHEMA``): km, at_risk, returned, staying (a fraction),
        staying_low, staying_high (95 %, on the log-log scale; where all or none stay both are the share itself).

    Source:
        E. L. Kaplan and P. Meier, "Nonparametric estimation from incomplete observations",
        Journal of the American Statistical Association 53 (1958); variance after Greenwood (1926).
    """
    at, back = np.array(km, dtype=float), np.array(returned, dtype=bool)
    if not back.any():
        return CURVE_SCHEMA.to_frame()
    distances, events = np.unique(at[back], return_counts=True)
    at_risk = _at_risk(at, distances)
    share = np.cumprod(1 - events / at_risk)
    with np.errstate(divide="ignore", invalid="ignore"):
        greenwood = np.sqrt(np.cumsum(events / (at_risk * (at_risk - events))))
        reach = np.exp(normal_beyond(_TAIL) * greenwood / np.abs(np.log(share)))
        # No interval where none or all stay: the share stands there instead.
        ends = [np.where((share > 0) & (share < 1), share**power, share) for power in (reach, 1 / reach)]
    columns = (distances, at_risk, events, share, *ends)
    return pl.DataFrame(dict(zip(CURVE_SCHEMA, columns, strict=True)), schema=CURVE_SCHEMA)


def _at_risk(at: npt.NDArray[np.float64], distances: npt.NDArray[np.float64]) -> npt.NDArray[np.int64]:
    """Return how many were still watched at each distance."""
    return (len(at) - np.searchsorted(np.sort(at), distances, side="left")).astype(np.int64)
