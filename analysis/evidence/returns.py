"""How far must a car be driven before a code that is still there shows itself again?

Some codes come back at the first start, others after a hundred kilometres.  The
distances at which codes did come back tell how much a clean scan is worth: after
d kilometres a code that was going to return has shown itself with chance
1 - exp(-d / tau).  Codes that stay away for good must not stretch that distance,
so they are told apart as a share of their own.  A code that has not come back often
shrinks towards all codes together, the more the less codes differ from one another.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import polars as pl
from numpy.typing import NDArray

from analysis.statistics.shrinkage import beta_from_moments, shrink_rate, shrinkage_weights
from analysis.statistics.survival import kaplan_meier

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
DEFAULT_KM = 40.0
PRIOR_RETURNS = 4.0
"""A code with fewer returns than this shrinks further towards the pooled distance, until codes tell otherwise."""
SLIGHT_RETURNS = 0.5
RETURNS_NEEDED = 8
CODES_NEEDED = 10
"""Fewer codes with eight returns do not tell how much the distances of codes differ."""
FEWEST_RETURNS, MOST_RETURNS = 1.0, 40.0
CURED_DEVIATION = 0.2
"""The share of outcomes that stay away for good differs about so much from code to code."""
EVEN = (1.0, 1.0)
ROUNDS = 60


class ReturnDistances(NamedTuple):
    """How far a car is driven until a code that will return does.

    Attributes:
        tau_km: Mean distance, pooled over all codes.
        distances: One row per code: code, returns (how often it came back), tau_km.
    """

    tau_km: float
    distances: pl.DataFrame


class Belief(NamedTuple):
    """What is believed of a code before its own outcomes.

    Attributes:
        km: Mean distance to return.
        returns: How many returns that is worth.
        cured: Jobs after which codes stayed away for good, and jobs after which they did not, as if counted before.
    """

    km: float
    returns: float
    cured: tuple[float, float] = EVEN


def return_and_cure(
    last_absent: Sequence[float], seen: Sequence[float | None], prior_km: float, prior_returns: float
) -> tuple[float, float]:
    """Return the mean distance at which a code that will return does return, and the share that never will.

    A share of the codes is cured and never returns; the rest return at exponential distances, somewhere
    between the last reading without the code and the first one with it.  Both are fitted by expectation and
    maximisation, with ``prior_returns`` earlier returns at ``prior_km`` on average.

    Args:
        last_absent: Distance at which each code was last found absent, in km; 0 where it never was.
        seen: Distance at which it was first seen again; None where it has not been.
        prior_km: Distance believed before looking, in km.
        prior_returns: How many returns that belief is worth.

    Returns:
        ``(km, cured)``: kilometres, and a fraction between 0 and 1.

    Source:
        J. Berkson and R. P. Gage, "Survival curve for cancer patients following treatment", Journal of the
        American Statistical Association 47 (1952): a cured share and an exponential rest.
    """
    low, high = np.array(last_absent, dtype=float), np.array(seen, dtype=float)
    alike = np.zeros(len(low), dtype=np.int64)
    (km,), (cured,) = _fit(low, high - low, alike, 1, Belief(prior_km, prior_returns))
    return float(km), float(cured)


def _fit(low: Floats, width: Floats, group: Ints, groups: int, belief: Belief) -> tuple[Floats, Floats]:
    """Fit each group's mean return distance and cured share; width is no number where it has not been seen again."""
    seen, size = ~np.isnan(width), np.bincount(group, minlength=groups).astype(np.float64)
    none = np.zeros(groups)
    tau, cured = np.full(groups, belief.km), shrink_rate(none, none, belief.cured)
    for _ in range(ROUNDS):
        mean, gone = tau[group], cured[group]
        alive = np.exp(-low / mean) * (1 - gone)
        due = np.where(seen, 1.0, alive / (alive + gone))
        driven = np.where(seen, low + _within(np.where(seen, width, 0.0), mean), due * (low + mean))
        driven_in_all, due_in_all = np.bincount(group, driven, groups), np.bincount(group, due, groups)
        tau = (belief.returns * belief.km + driven_in_all) / (belief.returns + due_in_all)
        cured = shrink_rate(size - due_in_all, size, belief.cured)
    return tau, cured


def _within(width: Floats, tau: Floats) -> Floats:
    """The mean of an exponential distance that is known to be below ``width``."""
    reach = width / tau
    # Beyond 500 means the bound says nothing, and the power would be too large for a number.
    inside = tau - width / np.expm1(np.clip(reach, 1e-6, 500))
    return np.where(reach < 1e-6, width / 2, np.where(reach > 500, tau, inside))


def return_distances(outcomes: pl.DataFrame) -> ReturnDistances:
    """Fit the return distance of every code, shrunk towards the pooled one, the more the less codes differ.

    Args:
        outcomes: The frame ``marts.outcomes``; background rows and rows without a distance are passed over.

    Returns:
        The distances, sorted by code.
    """
    seen = watched(outcomes)
    codes = seen["code"].unique().sort()
    group = seen["code"].cast(pl.Enum(codes)).to_physical().cast(pl.Int64).to_numpy()
    low, high = seen["absent"].to_numpy(), seen["seen"].fill_null(float("nan")).to_numpy()
    pooled, cured = return_and_cure(seen["absent"].to_list(), seen["seen"].to_list(), DEFAULT_KM, PRIOR_RETURNS)
    returns = np.bincount(group, ~np.isnan(high), len(codes)).astype(np.int64)
    alone, _ = _fit(low, high - low, group, len(codes), Belief(pooled, SLIGHT_RETURNS))
    belief = Belief(pooled, _effective_returns(alone, returns), _cured_elsewhere(cured))
    tau, _ = _fit(low, high - low, group, len(codes), belief)
    frame = pl.DataFrame({"code": codes, "returns": returns, "tau_km": tau})
    return ReturnDistances(pooled, frame)


def _effective_returns(tau: Floats, returns: Ints) -> float:
    """Return how many returns the pooled distance is worth, from how much the distances of codes differ.

    The logarithm of a mean of n exponential distances has a variance of about 1 / n.
    """
    known = returns >= RETURNS_NEEDED
    if known.sum() < CODES_NEEDED:
        return PRIOR_RETURNS
    _, kept = shrinkage_weights(np.log(tau[known]), 1 / returns[known])
    # n returns of its own and w of the others keep n / (n + w).
    worth = returns[known] * (1 - kept) / np.maximum(kept, 1e-9)
    return float(np.clip(np.median(worth), FEWEST_RETURNS, MOST_RETURNS))


def _cured_elsewhere(pooled: float) -> tuple[float, float]:
    """Return what all codes together say of the share that stays away for good, as counts."""
    # Worth one outcome at least, which also keeps the moments possible where nearly all or none are cured.
    return beta_from_moments(pooled, min(CURED_DEVIATION, math.sqrt(pooled * (1 - pooled) / 2)))


def watched(outcomes: pl.DataFrame) -> pl.DataFrame:
    """Return the codes whose later distance is known: job_id, code, absent (km, last without it), seen (km or null)."""
    seen = pl.when(pl.col("outcome") == "returned").then(pl.col("km_to_return").clip(0.0).cast(pl.Float64))
    absent = pl.col("km_proven").cast(pl.Float64).clip(0.0)
    return (
        outcomes.filter(pl.col("background").is_null() & pl.col("outcome").is_in(["returned", "cleared", "unproven"]))
        .select("job_id", "code", absent.alias("absent"), seen.alias("seen"), back=pl.col("outcome") == "returned")
        .filter(pl.when("back").then(pl.col("seen").is_not_null()).otherwise(pl.col("absent").is_not_null()))
        .select("job_id", "code", pl.min_horizontal(pl.col("absent").fill_null(0.0), "seen").alias("absent"), "seen")
        .sort("job_id", "code")
    )


def return_curves(outcomes: pl.DataFrame, jobs: pl.DataFrame) -> pl.DataFrame:
    """Return the Kaplan-Meier curves of codes after a bare erase and after work on the car.

    A return counts at the distance where a scan saw it, which is later than it happened.

    Args:
        outcomes: The frame ``marts.outcomes``.
        jobs: The frame ``marts.jobs``, for ``erase_only``.

    Returns:
        The columns of ``kaplan_meier`` behind ``group`` (``erased`` or ``repaired``), sorted.
    """
    seen = watched(outcomes).join(jobs.select("job_id", "erase_only"), on="job_id")
    curves = []
    for group, alone in (("erased", True), ("repaired", False)):
        part = seen.filter(pl.col("erase_only") == alone)
        km = part.select(pl.coalesce("seen", "absent")).to_series().to_list()
        curve = kaplan_meier(km, part["seen"].is_not_null().to_list())
        curves.append(curve.select(pl.lit(group).alias("group"), pl.all()))
    return pl.concat(curves)
