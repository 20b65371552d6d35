"""Do things return sooner in one group than in another, and how many stay away for how long?

Both questions are about distances that are not all known to their end: where nothing had
come back when the watch ended, all that is known is "longer than that" (censored on the right).
The log-rank test and the Kaplan-Meier estimate are scipy's; this module hands them over
in the words of the rest of the project, and says what holds where there is nothing to compare.
"""

from collections.abc import Sequence
from typing import NamedTuple
from warnings import catch_warnings, simplefilter

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.stats import CensoredData, ecdf, logrank

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
        ``scipy.stats.logrank``: N. Mantel, "Evaluation of survival data and two new rank order statistics arising
        in its consideration", Cancer Chemotherapy Reports 50 (1966); R. Peto and J. Peto, Journal of the Royal
        Statistical Society A 135 (1972).
    """
    at, back, mine = np.array(km, dtype=float), np.array(returned, dtype=bool), np.array(first, dtype=bool)
    if not back.any() or mine.all() or not mine.any():
        return LogRank(0.0, 0.0, 1.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        found = logrank(_censored(at[mine], back[mine]), _censored(at[~mine], back[~mine]))
    if not np.isfinite(found.statistic):
        return LogRank(0.0, 0.0, 1.0)
    return LogRank(float(found.statistic), float(found.statistic) ** 2, float(found.pvalue))


def kaplan_meier(km: Sequence[float], returned: Sequence[bool]) -> pl.DataFrame:
    """Return the share of codes that still stay away after each distance.

    Args:
        km: Distance driven until the code returned, or until last seen absent.
        returned: Whether it returned; False means the watch ended there (censored).

    Returns:
        One row per distance with a return, ascending (``CURVE_SCHEMA``): km, at_risk, returned, staying (a fraction),
        staying_low, staying_high (95 %, on the log-log scale; where all or none stay both are the share itself).

    Source:
        ``scipy.stats.ecdf``: E. L. Kaplan and P. Meier, "Nonparametric estimation from incomplete observations",
        Journal of the American Statistical Association 53 (1958); variance after Greenwood (1926).
    """
    at, back = np.array(km, dtype=float), np.array(returned, dtype=bool)
    if not back.any():
        return CURVE_SCHEMA.to_frame()
    staying = ecdf(_censored(at, back)).sf
    with np.errstate(divide="ignore", invalid="ignore"), catch_warnings():
        simplefilter("ignore")  # no interval where none or all stay: the share stands there instead
        low, high = staying.confidence_interval(method="log-log")
    share = staying.probabilities
    ends = [np.where((share > 0) & (share < 1), end.probabilities, share) for end in (low, high)]
    # How many were watched and how many came back at each distance: scipy keeps both to itself.
    distances, events = np.unique(at[back], return_counts=True)
    at_risk = len(at) - np.searchsorted(np.sort(at), distances, side="left")
    here = np.searchsorted(staying.quantiles, distances)
    columns = (distances, at_risk, events, share[here], *(end[here] for end in ends))
    return pl.DataFrame(dict(zip(CURVE_SCHEMA, columns, strict=True)), schema=CURVE_SCHEMA)


def _censored(at: npt.NDArray[np.float64], back: npt.NDArray[np.bool_]) -> CensoredData:
    return CensoredData(uncensored=at[back], right=at[~back])
