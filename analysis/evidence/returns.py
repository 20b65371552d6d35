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


def mean_return_km(
    last_absent: Sequence[float], seen: Sequence[float | None], prior_km: float, prior_returns: float
) -> float:
    """Return the mean distance at which a code that will return does return.

    A share of the codes is cured and never returns; the rest return at exponential distances, somewhere
    between the last reading without the code and the first one with it.  Both are fitted by expectation and
    maximisation, with ``prior_returns`` earlier returns at ``prior_km`` on average.

    Args:
        last_absent: Distance at which each code was last found absent, in km; 0 where it never was.
        seen: Distance at which it was first seen again; None where it has not been.
        prior_km: Distance believed before looking, in km.
        prior_returns: How many returns that belief is worth.

    Returns:
        Kilometres.

    Source:
        J. Berkson and R. P. Gage, "Survival curve for cancer patients following treatment", Journal of the
        American Statistical Association 47 (1952): a cured share and an exponential rest.
    """
    back = [(low, high - low) for low, high in zip(last_absent, seen, strict=True) if high is not None]
    away = [low for low, high in zip(last_absent, seen, strict=True) if high is None]
    tau, cured = prior_km, 0.5
    for _ in range(ROUNDS):
        due = [_share(math.exp(-low / tau) * (1 - cured), cured) for low in away]
        driven = sum(low + _within(width, tau) for low, width in back)
        driven += sum(share * (low + tau) for share, low in zip(due, away, strict=True))
        tau = (prior_returns * prior_km + driven) / (prior_returns + len(back) + sum(due))
        cured = (1 + sum(1 - share for share in due)) / (2 + len(back) + len(away))
    return tau


def _share(one: float, other: float) -> float:
    return one / (one + other)


def _within(width: float, tau: float) -> float:
    """The mean of an exponential distance that is known to be below ``width``."""
    reach = width / tau
    if reach < 1e-6:
        return width / 2
    # Beyond 500 means the bound says nothing, and the power would be too large for a number.
    return tau if reach > 500 else tau - width / math.expm1(reach)


def return_distances(outcomes: pl.DataFrame) -> tuple[float, pl.DataFrame]:
    """Fit the return distance of every code, shrunk towards the pooled one.

    Args:
        outcomes: The frame ``marts.outcomes``; background rows and rows without a distance are passed over.

    Returns:
        ``(pooled km, frame)``; the frame has one row per code: code, returns, tau_km, sorted by code.
    """
    seen = watched(outcomes)
    pooled = mean_return_km(seen["absent"].to_list(), seen["seen"].to_list(), DEFAULT_KM, PRIOR_RETURNS)
    rows = [
        (str(code), sum(km is not None for km in back), mean_return_km(absent, back, pooled, PRIOR_RETURNS))
        for code, absent, back in seen.group_by("code", maintain_order=True)
        .agg("absent", "seen")
        .sort("code")
        .iter_rows()
    ]
    frame = pl.DataFrame(rows, schema={"code": pl.String, "returns": pl.Int64, "tau_km": pl.Float64}, orient="row")
    return pooled, frame


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
