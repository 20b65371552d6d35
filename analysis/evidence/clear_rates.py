"""What did each part really clear, and how much better was it than erasing alone?

A clear rate is "single-part jobs after which the whole family of codes was proven
gone" divided by "single-part jobs whose outcome is known".  Beside it stands what
merely erasing did to the same family, and the gain between the two, each with its
interval.  Jobs whose outcome is not known yet are left out, never counted as failed.
"""

import polars as pl

from analysis.evidence.clusters import family_outcomes, single_part_jobs
from analysis.evidence.frames import Evidence, EvidenceFrames
from analysis.progress import each
from analysis.statistics.intervals import jeffreys, newcombe_difference

CONFIDENCE = 0.90


def part_results(frames: EvidenceFrames, members: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Count what single parts and bare erasing did to each family.

    Args:
        frames: The facts about past jobs.
        members: One row per family and code.

    Returns:
        ``(part_results, erase_rates)``: the first has the columns of ``part_results.csv``, one row per part
        and family with a known outcome; the second one row per family: family, jobs, cleared, rate.
    """
    ends = family_outcomes(frames.outcomes, members).filter(pl.col("outcome").is_not_null())
    bare = frames.jobs.filter("erase_only").select("job_id")
    erased = (
        ends.join(bare, on="job_id")
        .group_by("family")
        .agg(pl.len().cast(pl.Int64).alias("jobs"), _count("cleared").alias("cleared"))
        .with_columns((pl.col("cleared") / pl.col("jobs")).alias("rate"))
        .sort("family")
    )
    known = ends.join(single_part_jobs(frames.job_parts), on="job_id").sort("part", "family", "job_id")
    counts = (
        known.group_by("part", "family")
        .agg(
            pl.len().cast(pl.Int64).alias("jobs"),
            _count("cleared").alias("cleared"),
            _count("returned").alias("returned"),
            pl.col("days").median().alias("median_days_to_return"),
        )
        .join(_suppliers(known), on=["part", "family"], how="left")
        .join(
            erased.rename({"jobs": "erase_jobs", "cleared": "erase_cleared", "rate": "erase_rate"}),
            on="family",
            how="left",
        )
        .with_columns(pl.col("erase_jobs", "erase_cleared").fill_null(0))
        .sort("part", "family")
    )
    return _with_intervals(counts), erased


def _count(outcome: str) -> pl.Expr:
    return (pl.col("outcome") == outcome).sum().cast(pl.Int64)


def _suppliers(known: pl.DataFrame) -> pl.DataFrame:
    each = (
        known.filter(pl.col("supplier").is_not_null())
        .group_by("part", "family", "supplier")
        .agg(_count("cleared").alias("cleared"), pl.len().alias("jobs"))
        .sort("part", "family", "supplier")
        .with_columns(pl.format("{} {}/{}", "supplier", "cleared", "jobs").alias("suppliers"))
    )
    return each.group_by("part", "family", maintain_order=True).agg(pl.col("suppliers").str.join(";"))


def _with_intervals(counts: pl.DataFrame) -> pl.DataFrame:
    told = counts.select("cleared", "jobs", "erase_cleared", "erase_jobs").rows()
    rates = [_rates(*row) for row in each(told)]
    names = ("rate", "rate_low", "rate_high", "gain", "gain_low", "gain_high")
    drawn = pl.DataFrame(rates, schema=dict.fromkeys(names, pl.Float64), orient="row")
    wide = counts.with_columns(drawn.get_columns())
    return wide.select(
        *("part", "family", "jobs", "cleared", "rate", "rate_low", "rate_high", "erase_jobs", "erase_cleared"),
        *("erase_rate", "gain", "gain_low", "gain_high", "returned", "median_days_to_return", "suppliers"),
    )


def _rates(cleared: int, jobs: int, erase_cleared: int, erase_jobs: int) -> tuple[float | None, ...]:
    own = (cleared / jobs, *jeffreys(cleared, jobs, CONFIDENCE))
    if not erase_jobs:
        return *own, None, None, None
    gain = cleared / jobs - erase_cleared / erase_jobs
    return *own, gain, *newcombe_difference(cleared, jobs, erase_cleared, erase_jobs, CONFIDENCE)


def family_results(families: pl.DataFrame, evidence: Evidence) -> pl.DataFrame:
    """Put the best part and the erase-only rate beside each family.

    The best part is the one whose clear rate has the highest lower limit, so one lucky repair does not beat
    nine good ones out of ten; a part that never cleared the family is no best part.

    Args:
        families: One row per family with list columns codes and knock_on.
        evidence: What ``weigh`` returned for the same families.

    Returns:
        The columns of ``families.csv``; lists joined by ``;``; best_* are null where no part cleared it.
    """
    return (
        families.join(_best_parts(evidence.part_results), on="family", how="left")
        .join(evidence.erase_rates.select("family", erase_rate="rate"), on="family", how="left")
        .select(
            "family",
            pl.col("codes").list.len().cast(pl.Int64).alias("size"),
            "vehicles",
            pl.col("codes").list.join(";"),
            "root",
            pl.col("knock_on").list.join(";"),
            "strength",
            "q_value",
            *("best_part", "best_part_rate", "best_part_low", "best_part_high"),
            pl.col("jobs").fill_null(0),
            "erase_rate",
        )
        .sort("family")
    )


def _best_parts(part_results: pl.DataFrame) -> pl.DataFrame:
    return (
        part_results.filter(pl.col("cleared") > 0)
        .sort(["family", "rate_low", "jobs", "part"], descending=[False, True, True, False])
        .unique("family", keep="first", maintain_order=True)
        .select(
            "family",
            "jobs",
            best_part="part",
            best_part_rate="rate",
            best_part_low="rate_low",
            best_part_high="rate_high",
        )
    )
