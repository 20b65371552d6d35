"""How far must a car be driven before a code that is still there shows itself again?

Some codes come back at the first start, others after a hundred kilometres.  The
distances at which codes did come back tell how much a clean scan is worth: after
d kilometres a code that was going to return has shown itself with chance
1 - exp(-d / tau).  Codes that stay away for good must not stretch that distance,
so they are told apart as a share of their own.
"""

import math
from collections.abc import Sequence

import polars as pl

DEFAULT_KM = 40.0
PRIOR_RETURNS = 4.0
"""A code with fewer returns than this leans more on the pooled distance than on its own."""
ROUNDS = 60


def kaplan_meier(km: Sequence[float], returned: Sequence[bool]) -> pl.DataFrame:
    """Return the share of codes that still stay away after each distance.

    Args:
        km: Distance driven until the code returned, or until last seen absent.
        returned: Whether it returned; False means the watch ended there (censored).

    Returns:
        One row per distance with a return, ascending: km, at_risk, returned, staying (a fraction),
        staying_low, staying_high (95 %, on the log-log scale).

    Source:
        E. L. Kaplan and P. Meier, "Nonparametric estimation from incomplete observations", Journal of the
        American Statistical Association 53 (1958); variance after Greenwood (1926).
    """
    watched = pl.DataFrame({"km": km, "returned": returned}, schema={"km": pl.Float64, "returned": pl.Boolean})
    rows, staying, spread, at_risk = [], 1.0, 0.0, watched.height
    for distance, back, total in (
        watched.group_by("km")
        .agg(pl.col("returned").sum().cast(pl.Int64), pl.len().cast(pl.Int64))
        .sort("km")
        .iter_rows()
    ):
        if back:
            staying *= 1 - back / at_risk
            spread += back / (at_risk * (at_risk - back)) if back < at_risk else 0.0
            rows.append((distance, at_risk, back, staying, *_log_log(staying, spread)))
        at_risk -= total
    names = {"km": pl.Float64, "at_risk": pl.Int64, "returned": pl.Int64}
    return pl.DataFrame(
        rows, schema=names | dict.fromkeys(("staying", "staying_low", "staying_high"), pl.Float64), orient="row"
    )


def _log_log(staying: float, spread: float) -> tuple[float, float]:
    if not 0 < staying < 1:
        return staying, staying
    turn = 1.959963984540054 * math.sqrt(spread) / math.log(staying)
    return staying ** math.exp(-turn), staying ** math.exp(turn)


def mean_return_km(km: Sequence[float], returned: Sequence[bool], prior_km: float, prior_returns: float) -> float:
    """Return the mean distance at which a code that will return does return.

    A share of the codes is cured and never returns; the rest return at exponential distances.  Both are
    fitted by expectation and maximisation, with ``prior_returns`` earlier returns at ``prior_km`` each.

    Args:
        km: Distances in km; returned: whether the code was seen again there.
        returned: As for ``kaplan_meier``.
        prior_km: Distance believed before looking, in km.
        prior_returns: How many returns that belief is worth.

    Returns:
        Kilometres.

    Source:
        J. Berkson and R. P. Gage, "Survival curve for cancer patients following treatment", Journal of the
        American Statistical Association 47 (1952): a cured share and an exponential rest.
    """
    back = [d for d, seen in zip(km, returned, strict=True) if seen]
    away = [d for d, seen in zip(km, returned, strict=True) if not seen]
    tau, cured = prior_km, 0.5
    for _ in range(ROUNDS):
        waiting = [(1 - cured) * math.exp(-d / tau) for d in away]
        due = [w / (w + cured) for w in waiting]
        driven = sum(back) + sum(share * d for share, d in zip(due, away, strict=True))
        tau = (prior_returns * prior_km + driven) / (prior_returns + len(back))
        cured = (1 + sum(1 - share for share in due)) / (2 + len(km))
    return tau


def return_distances(outcomes: pl.DataFrame) -> tuple[float, pl.DataFrame]:
    """Fit the return distance of every code, shrunk towards the pooled one.

    Args:
        outcomes: The frame ``marts.outcomes``; background rows and rows without a distance are passed over.

    Returns:
        ``(pooled km, frame)``; the frame has one row per code: code, returns, tau_km, sorted by code.
    """
    seen = watched(outcomes)
    pooled = mean_return_km(seen["km"].to_list(), seen["returned"].to_list(), DEFAULT_KM, PRIOR_RETURNS)
    rows = [
        (str(code), sum(back), mean_return_km(km, back, pooled, PRIOR_RETURNS))
        for code, km, back in seen.group_by("code").agg("km", "returned").sort("code").iter_rows()
    ]
    frame = pl.DataFrame(rows, schema={"code": pl.String, "returns": pl.Int64, "tau_km": pl.Float64}, orient="row")
    return pooled, frame


def watched(outcomes: pl.DataFrame) -> pl.DataFrame:
    """Return the codes whose later distance is known: job_id, code, km, returned."""
    back = pl.col("outcome") == "returned"
    km = pl.when(back).then("km_to_return").otherwise("km_proven").cast(pl.Float64)
    return (
        outcomes.filter(pl.col("background").is_null() & pl.col("outcome").is_in(["returned", "cleared", "unproven"]))
        .select("job_id", "code", km.alias("km"), back.alias("returned"))
        .filter(pl.col("km").is_not_null() & (pl.col("km") >= 0))
        .sort("job_id", "code")
    )


def return_curves(outcomes: pl.DataFrame, jobs: pl.DataFrame) -> pl.DataFrame:
    """Return the Kaplan-Meier curves of codes after a bare erase and after work on the car.

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
        curve = kaplan_meier(part["km"].to_list(), part["returned"].to_list())
        curves.append(curve.select(pl.lit(group).alias("group"), pl.all()))
    return pl.concat(curves)
