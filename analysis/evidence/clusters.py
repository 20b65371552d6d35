"""Which jobs tell what one part does, and how did each job end for a family of codes?

Several parts fitted at once cannot be told apart, so only a job with a single
part in a single place counts for that part.  A job has failed for a family when
any of its codes came back, has cleared it when every one that was there is
proven gone, and otherwise tells nothing yet.
"""

import polars as pl

CLEARED = ("cleared", "recurred")
"""What a job has cleared: proven gone, or proven gone and back beyond the horizon as another fault."""


def single_part_jobs(job_parts: pl.DataFrame) -> pl.DataFrame:
    """Return the jobs in which exactly one part in one position was worked on.

    Args:
        job_parts: The frame ``marts.job_parts``; a row without a part (software on a module) counts as
            work of its own, so such a job is not a single-part job of another part.

    Returns:
        One row per job: job_id, part, position, supplier (null where none is named), sorted by job.
    """
    work = job_parts.select("job_id", "part", "position", "supplier").sort("job_id", "part", "position", "supplier")
    alone = (
        work.group_by("job_id")
        .agg(pl.struct("part", "position").n_unique().alias("places"))
        .filter(pl.col("places") == 1)
    )
    return (
        work.join(alone.select("job_id"), on="job_id")
        .filter(pl.col("part").is_not_null())
        .sort("job_id", "supplier", nulls_last=True)
        .unique("job_id", keep="first", maintain_order=True)
    )


def family_outcomes(outcomes: pl.DataFrame, members: pl.DataFrame) -> pl.DataFrame:
    """Return how each job ended for each family that it was about: it had the root, or at least two of the codes.

    One knock-on code alone may have any cause, so it says nothing of the family.

    Args:
        outcomes: The frame ``marts.outcomes``; rows with a background reason are passed over.
        members: One row per family and code, its ``role`` in the family.

    Returns:
        One row per job and family: job_id, family, outcome (``returned``, ``cleared`` or null where it is
        not known), days (to the first return, null where none), sorted by job and family.
    """
    ends = (
        outcomes.filter(pl.col("background").is_null())
        .join(members.select("family", "code", "role").unique(), on="code")
        .group_by("job_id", "family")
        .agg(
            ((pl.col("role") == "root").any() | (pl.col("code").n_unique() > 1)).alias("about"),
            (pl.col("outcome") == "returned").any().alias("back"),
            pl.col("outcome").is_in(CLEARED).all().alias("gone"),
            pl.col("days_to_return").filter(pl.col("outcome") == "returned").min().cast(pl.Float64).alias("days"),
        )
    )
    outcome = pl.when("back").then(pl.lit("returned")).when("gone").then(pl.lit("cleared"))
    return ends.filter("about").select("job_id", "family", outcome.alias("outcome"), "days").sort("job_id", "family")
