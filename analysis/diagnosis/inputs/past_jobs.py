"""The past jobs with one part alone: what a row of the list rests on."""

from collections import defaultdict

import numpy as np
import polars as pl

from analysis.diagnosis.inputs.candidates import Candidate
from analysis.diagnosis.inputs.frames import DiagnosisFrames
from analysis.evidence.clusters import CLEARED, single_part_jobs

VISITS = {
    **dict.fromkeys(("part", "position", "vehicle", "job"), pl.String),
    "done_at": pl.Datetime, "codes": pl.String, "outcome": pl.String, "km": pl.Float64,
}  # fmt: skip

_Jobs = dict[tuple[tuple[str, str], str], set[int]]
"""Ids of jobs by part, position and code."""


class PastJobs:
    """Answers which jobs with this part alone had these codes, and how they ended."""

    def __init__(self, frames: DiagnosisFrames, candidates: list[Candidate]):
        """Sort the past jobs by part and code once.

        Args:
            frames: The facts.
            candidates: The parts; ``fitted`` says for each whether it was ever worked on, in whichever place.
        """
        ever = set(frames.job_parts["part"])
        self.fitted = np.array([candidate.part in ever for candidate in candidates], dtype=bool)
        alone = single_part_jobs(frames.job_parts).select("job_id", "part", pl.col("position").fill_null(""))
        counted = frames.outcomes.filter(pl.col("background").is_null()).select("job_id", "code", "outcome")
        told = alone.join(counted, on="job_id")
        self._known = _by_part_and_code(told, [*CLEARED, "returned"])
        self._back = _by_part_and_code(told, ["returned"])
        self._open = _by_part_and_code(told, ["unproven", "unread"])

    def single_jobs(self, key: tuple[str, str], codes: set[str]) -> tuple[int, int]:
        """Count the jobs with this part alone and a known outcome for at least one of the codes.

        Args:
            key: Part and position.
            codes: Keys of the codes that the row should clear.

        Returns:
            ``(jobs, those after which every one of the codes whose outcome is known was proven gone)``.
        """
        known, back = (_with_any(jobs, key, codes) for jobs in (self._known, self._back))
        return len(known), len(known) - len(back)

    def open_jobs(self, key: tuple[str, str], codes: set[str]) -> int:
        """Count the jobs with this part alone on cars with one of the codes after which nothing tells whether it went.

        Args:
            key: Part and position.
            codes: Keys of codes.
        """
        return len(_with_any(self._open, key, codes))


def _by_part_and_code(told: pl.DataFrame, outcomes: list[str]) -> _Jobs:
    """Sort the jobs that ended so for a code by their part and that code."""
    found: _Jobs = defaultdict(set)
    wanted = told.filter(pl.col("outcome").is_in(outcomes))
    for job, part, position, code in wanted.select("job_id", "part", "position", "code").iter_rows():
        found[(part, position), code].add(job)
    return found


def _with_any(jobs: _Jobs, key: tuple[str, str], codes: set[str]) -> set[int]:
    return set().union(*(jobs[key, code] for code in codes if (key, code) in jobs))


def past_jobs(frames: DiagnosisFrames, candidate: Candidate, codes: list[str]) -> pl.DataFrame:
    """Return the jobs with one part alone that had one of the codes before them.

    Args:
        frames: For the past jobs.
        candidate: The part and its place.
        codes: Keys of the codes that the row should clear.

    Returns:
        part, position, vehicle, job, done_at, codes (those asked for, ``;``-separated), outcome (of the one that fared
        worst), km (to the return, else driven without it; null where unknown); the latest job first.
    """
    alone = single_part_jobs(frames.job_parts).with_columns(pl.col("position").fill_null(""))
    alone = alone.filter((pl.col("part") == candidate.part) & (pl.col("position") == candidate.position))
    ends = (
        frames.outcomes.filter(pl.col("background").is_null() & pl.col("code").is_in(codes))
        .sort("job_id", "code")
        .group_by("job_id", maintain_order=True)
        .agg(
            pl.col("code").str.join(";").alias("codes"),
            _worst().alias("outcome"),
            pl.coalesce(
                pl.col("km_to_return").filter(pl.col("outcome") == "returned").min(), pl.col("km_proven").min()
            ).alias("km"),
        )
    )
    jobs = frames.jobs.select("job_id", "vehicle", "job", "done_at")
    found = alone.join(ends, on="job_id").join(jobs, on="job_id")
    found = found.sort("done_at", "job_id", descending=True)
    return found.select(*VISITS).cast({"done_at": pl.Datetime, "km": pl.Float64})


def _worst() -> pl.Expr:
    """Of several codes the one that fared worst speaks for the job."""
    outcome = pl.col("outcome")
    ends: pl.Expr = pl.lit("cleared")
    for word in ("recurred", "unread", "unproven", "returned"):
        ends = pl.when((outcome == word).any()).then(pl.lit(word)).otherwise(ends)
    return ends
