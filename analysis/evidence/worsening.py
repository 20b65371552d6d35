"""Has a part, or one supplier's part, got worse lately?

A batch of bad new parts shows as codes that return after jobs which used to hold.
The later half of a part's jobs is held against the earlier half with Fisher's
exact test; a supplier is held against all others of the same part.  Only a clear
difference is named, because a handful of jobs always wobbles.
"""

import polars as pl
from scipy.stats import hypergeom

from analysis.evidence.clusters import CLEARED, single_part_jobs
from analysis.evidence.frames import EvidenceFrames
from analysis.statistics.multiple_testing import benjamini_hochberg
from analysis.texts import findings as say

LEVEL = 0.05
FEWEST = 4
"""A half or a supplier with fewer known jobs than this is not judged."""


SCHEMA = {
    "part": pl.String, "supplier": pl.String, "returned": pl.Int64, "jobs": pl.Int64, "others_returned": pl.Int64,
    "others": pl.Int64, "p_value": pl.Float64, "warning": pl.String,
}  # fmt: skip


def worse_parts(frames: EvidenceFrames) -> pl.DataFrame:
    """Return the parts, and the parts from one supplier, whose codes return clearly more often.

    Args:
        frames: The facts about past jobs.

    Returns:
        One row per part and supplier: part, supplier (null: the part's latest jobs, whoever delivered), returned,
        jobs, others_returned, others (the same counts of the jobs it is held against), q_value, warning (one
        sentence).  Sorted by part and supplier; empty where nothing stands out.  All comparisons of all parts are
        judged together, so that many parts do not make a false alarm likely.

    Source:
        Y. Benjamini and Y. Hochberg, "Controlling the false discovery rate", J. R. Statist. Soc. B 57 (1995).
    """
    compared = []
    for part, jobs in _known_jobs(frames).group_by("part", maintain_order=True):
        compared += [*_over_time(str(part[0]), jobs["returned"].to_list()), *_by_supplier(str(part[0]), jobs)]
    held = pl.DataFrame(compared, schema=SCHEMA, orient="row")
    if held.is_empty():
        return held.rename({"p_value": "q_value"})
    q_values = benjamini_hochberg(held["p_value"].to_numpy(), held.height)
    return (
        held.with_columns(p_value=pl.Series(q_values)).rename({"p_value": "q_value"}).filter(pl.col("q_value") <= LEVEL)
    )


def _known_jobs(frames: EvidenceFrames) -> pl.DataFrame:
    """Return the single-part jobs whose end is known, judged by the codes that the part has ever cleared.

    A car's other faults return whatever is fitted: they are no fault of this part.
    """
    jobs = single_part_jobs(frames.job_parts)
    ends = frames.outcomes.filter(pl.col("background").is_null()).join(jobs.select("job_id", "part"), on="job_id")
    own = ends.filter(pl.col("outcome").is_in(CLEARED)).select("part", "code").unique()
    known = (
        ends.join(own, on=["part", "code"], how="semi")
        .group_by("job_id")
        .agg(
            (pl.col("outcome") == "returned").any().alias("returned"),
            pl.col("outcome").is_in(CLEARED).all().alias("gone"),
        )
        .filter(pl.col("returned") | pl.col("gone"))
    )
    return (
        jobs.join(known, on="job_id")
        .join(frames.jobs.select("job_id", "done_at"), on="job_id")
        .sort("part", "done_at", "job_id")
    )


def _over_time(part: str, returned: list[bool]) -> list[tuple[object, ...]]:
    early, late = returned[: len(returned) // 2], returned[len(returned) // 2 :]
    warning = say.worse_lately(part, (sum(late), len(late)), (sum(early), len(early)))
    return _compared(part, None, late, early, warning)


def _by_supplier(part: str, jobs: pl.DataFrame) -> list[tuple[object, ...]]:
    compared = []
    for supplier in jobs["supplier"].drop_nulls().unique().sort().to_list():
        own = jobs.filter(pl.col("supplier") == supplier)["returned"].to_list()
        others = jobs.filter(pl.col("supplier").ne_missing(supplier))["returned"].to_list()
        warning = say.worse_supplier(part, supplier, (sum(own), len(own)), (sum(others), len(others)))
        compared += _compared(part, supplier, own, others, warning)
    return compared


def _compared(
    part: str, supplier: str | None, own: list[bool], others: list[bool], warning: str
) -> list[tuple[object, ...]]:
    if min(len(own), len(others)) < FEWEST:
        return []
    counts = (sum(own), len(own), sum(others), len(others))
    return [(part, supplier, *counts, more_returns_p(*counts), warning)]


def more_returns_p(own_back: int, own: int, others_back: int, others: int) -> float:
    """Return Fisher's one-sided p-value that the first group's codes return more often.

    Args:
        own_back: Jobs of the first group whose codes returned.
        own: Jobs of the first group.
        others_back: Jobs of the second group whose codes returned.
        others: Jobs of the second group.

    Returns:
        The chance of at least ``own_back`` returns in the first group if both were alike.

    Source:
        R. A. Fisher, The Design of Experiments (1935), chapter II: all margins fixed.
    """
    return float(hypergeom.sf(own_back - 1, own + others, own_back + others_back, own))
