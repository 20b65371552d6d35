"""How often does a check miss a faulty part, and how often does it take a good one for faulty, at this dealer?

A job's row ``inspect`` that names a part is a check of it.  What the check said is told by what was fitted next on that
car: the part itself, so it was called faulty, or another one, so it was called good.  Whether that was right is told by
whether the codes stayed away.  What the price book says of the check, or what is usual, stands as a prior beside that.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import polars as pl

from analysis.diagnosis.inputs.candidates import Candidate
from analysis.diagnosis.inputs.frames import DiagnosisFrames
from analysis.evidence.clusters import CLEARED

CHECK_ERRS = 0.05
"""How often a check misses a faulty part, and how often it takes a good one for faulty, where nobody says."""
CHECK_VISITS = 20.0
"""What the price book says of a check, or what is usual, is worth so many checks."""
WITHIN = timedelta(days=60)
"""Work so long after a check may still be its consequence."""


@dataclass
class CheckCounts:
    """What became of the checks of one part; broken numbers where it cannot be told for certain.

    Attributes:
        found: It was faulty and was called so.
        missed: It was faulty and was called good.
        alarms: It was good and was called faulty.
        passed: It was good and was called so.
    """

    found: float = 0.0
    missed: float = 0.0
    alarms: float = 0.0
    passed: float = 0.0


@dataclass(frozen=True)
class _Job:
    """A past job of one car: its number, when it was done, what was worked on, and whether the codes stayed away."""

    job: str
    done_at: datetime
    work: frozenset[tuple[str, str]]
    gone: bool | None


def past_checks(frames: DiagnosisFrames, bad: Mapping[str, float]) -> dict[str, CheckCounts]:
    """Count what became of the checks of each part.

    Args:
        frames: For the past jobs and the checks.
        bad: Per part, the chance that a new one does not cure: then the codes are back though the check was right.

    Returns:
        Counts by part, for those that were checked and whose check can be judged.
    """
    jobs, found = _jobs(frames), defaultdict[str, CheckCounts](CheckCounts)
    checks = frames.job_checks.sort("vehicle", "done_at", "job", "part", "position")
    for vehicle, job, part, position, at in checks.select("vehicle", "job", "part", "position", "done_at").iter_rows():
        after = [one for one in jobs[vehicle] if one.job == job or at <= one.done_at <= at + WITHIN]
        after.sort(key=lambda one: (one.job != job, one.done_at))
        _judge(found[part], [one for one in after if one.work], (part, position), bad.get(part, 0.0))
    return {part: counts for part, counts in found.items() if counts != CheckCounts()}


def _judge(counts: CheckCounts, after: list[_Job], key: tuple[str, str], bad: float) -> None:
    """Add one check to the counts of its part, by the jobs from it on."""
    if not after:
        return
    first = after[0]
    if _worked_on(first, key):
        if len(first.work) == 1 and first.gone is not None:
            wrong = 0.0 if first.gone else CHECK_ERRS / (CHECK_ERRS + bad)
            counts.alarms += wrong
            counts.found += 1 - wrong
        return
    # It was called good; the first single work that cleared the codes tells what it was.
    for one in after:
        if one.gone is None or len(one.work) > 1:
            return
        if one.gone:
            right = not _worked_on(one, key)
            counts.passed += right
            counts.missed += not right
            return


def _worked_on(job: _Job, key: tuple[str, str]) -> bool:
    """Say whether a job worked on a part; a place that is not told may be any."""
    part, place = key
    return any(one == part and (not place or not where or place == where) for one, where in job.work)


def _jobs(frames: DiagnosisFrames) -> defaultdict[str, list[_Job]]:
    ends: dict[int, set[str]] = defaultdict(set)
    real = frames.outcomes.filter(pl.col("background").is_null())
    for job, outcome in real.select("job_id", "outcome").iter_rows():
        ends[job].add(outcome)
    work: dict[int, set[tuple[str, str]]] = defaultdict(set)
    for job, part, position in frames.job_parts.select("job_id", "part", "position").fill_null("").iter_rows():
        work[job].add((part, position))
    jobs: defaultdict[str, list[_Job]] = defaultdict(list)
    for number, vehicle, job, at in frames.jobs.select("job_id", "vehicle", "job", "done_at").iter_rows():
        known = ends[number] & {*CLEARED, "returned"}
        gone = None if not known else "returned" not in known
        jobs[vehicle].append(_Job(job, at, frozenset(work[number]), gone))
    return jobs


def check_errors(parts: Sequence[Candidate], counts: Mapping[str, CheckCounts]) -> tuple[list[float], list[float]]:
    """Return how often the check of each part misses, and how often it cries wolf.

    Args:
        parts: The candidates.
        counts: What ``past_checks`` returned.

    Returns:
        ``(misses, false_alarms)``, the means of beta posteriors whose prior is what the price book says.
    """
    misses, alarms = [], []
    for part in parts:
        told = counts.get(part.part, CheckCounts())
        misses.append(_mean(part.check_misses, told.missed, told.missed + told.found))
        alarms.append(_mean(part.check_false_alarms, told.alarms, told.alarms + told.passed))
    return misses, alarms


def _mean(said: float | None, wrong: float, of: float) -> float:
    prior = CHECK_ERRS if said is None else said
    return (CHECK_VISITS * prior + wrong) / (CHECK_VISITS + of)
