"""How long do codes stay away after a bare erase, and after work on the car?"""

import polars as pl

from analysis.statistics.survival import kaplan_meier


def watched(outcomes: pl.DataFrame) -> pl.DataFrame:
    """Return the codes whose later distance is known: job_id, code, absent (km, last without it), seen (km or null)."""
    back = pl.col("outcome").is_in(["returned", "recurred"])
    seen = pl.when(back).then(pl.col("km_to_return").clip(0.0).cast(pl.Float64))
    absent = pl.col("km_proven").cast(pl.Float64).clip(0.0)
    return (
        outcomes.filter(pl.col("background").is_null() & (pl.col("outcome") != "unread"))
        .select("job_id", "code", absent.alias("absent"), seen.alias("seen"), back=back)
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
