"""Do codes stay away longer after work on the car than after a bare erase, or could that be chance?"""

import polars as pl

from analysis.evidence.returns import watched
from analysis.statistics.survival import log_rank
from analysis.texts import findings as say

LEVEL = 0.05
FEWEST = 4
"""A group with fewer returns and absences than this is not compared."""


def erased_or_repaired(outcomes: pl.DataFrame, jobs: pl.DataFrame) -> list[str]:
    """Say whether jobs that only erased see their codes again sooner than jobs that worked on the car.

    A job counts once, however many codes it had: with the first that came back, else as far as all were watched.

    Args:
        outcomes: The frame ``marts.outcomes``.
        jobs: The frame ``marts.jobs``, for ``erase_only``.

    Returns:
        One sentence where chance does not explain the difference, else none.
    """
    each = (
        watched(outcomes)
        .group_by("job_id")
        .agg(pl.col("seen").min(), pl.col("absent").min())
        .join(jobs.select("job_id", "erase_only"), on="job_id")
        .sort("job_id")
    )
    sizes = int(each["erase_only"].sum()), int((~each["erase_only"]).sum())
    if min(sizes) < FEWEST:
        return []
    km = each.select(pl.coalesce("seen", "absent")).to_series().to_list()
    found = log_rank(km, each["seen"].is_not_null().to_list(), each["erase_only"].to_list())
    if found.p_value >= LEVEL:
        return []
    return [say.erased_or_repaired(found.z > 0, *sizes, found.chi_square, found.p_value)]
