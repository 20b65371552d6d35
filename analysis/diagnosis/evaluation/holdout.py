"""The past visits that can check a list, and what was known before a given day."""

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import datetime

import polars as pl

from analysis.diagnosis.inputs.frames import DiagnosisFrames
from analysis.evidence.clusters import CLEARED, single_part_jobs

Part = tuple[str, str]


@dataclass(frozen=True, kw_only=True)
class PastVisit:
    """One job with a single part whose outcome is known.

    Attributes:
        job_id: The job.
        done_at: When it was done.
        part: Part and position that was worked on.
        ends: The outcome of each unmasked code before it.
        cured: At least one code was proven gone and none came back.
        failed: Parts that the car got before in vain: a code that is there now came back after them.
    """

    job_id: int
    done_at: datetime
    part: Part
    ends: dict[str, str]
    cured: bool
    failed: frozenset[Part]

    @property
    def name(self) -> str:
        """A name of its own: one car may come several times."""
        return f"job {self.job_id}"


def visits_to_check(frames: DiagnosisFrames) -> list[PastVisit]:
    """Return the visits that can check a list, in time order.

    Args:
        frames: The facts about past jobs.

    Returns:
        Jobs with one part in one place, an unmasked code before them, and some code proven gone or back.
    """
    known = set(frames.codes["code"])
    ends: dict[int, dict[str, str]] = defaultdict(dict)
    real = frames.outcomes.filter(pl.col("background").is_null())
    for job, code, outcome in real.select("job_id", "code", "outcome").sort("job_id", "code").iter_rows():
        if code in known:
            ends[job][code] = outcome
    alone = single_part_jobs(frames.job_parts).select("job_id", "part", pl.col("position").fill_null(""))
    jobs = frames.jobs.join(alone, on="job_id").sort("done_at", "job_id")
    failed = _failed_before(frames, ends)
    return [
        PastVisit(
            job_id=job,
            done_at=when,
            part=(part, place),
            ends=ends[job],
            cured=_cured(ends[job]),
            failed=failed.get(job, frozenset()),
        )
        for job, when, part, place in jobs.select("job_id", "done_at", "part", "position").iter_rows()
        if {*CLEARED, "returned"} & set(ends.get(job, {}).values())
    ]


def _cured(ends: dict[str, str]) -> bool:
    return "returned" not in ends.values()


def _failed_before(frames: DiagnosisFrames, ends: dict[int, dict[str, str]]) -> dict[int, frozenset[Part]]:
    """For each job the parts fitted in earlier jobs on the car, after which a code that it has came back."""
    work: dict[int, set[Part]] = defaultdict(set)
    named = frames.job_parts.filter(pl.col("part").is_not_null())
    for job, part, position in named.select("job_id", "part", pl.col("position").fill_null("")).iter_rows():
        work[job].add((part, position))
    back: dict[str, list[tuple[set[str], set[Part]]]] = defaultdict(list)
    failed = {}
    for job, vehicle in frames.jobs.sort("done_at", "job_id").select("job_id", "vehicle").iter_rows():
        mine = ends.get(job, {})
        failed[job] = frozenset(part for codes, parts in back[vehicle] if codes & set(mine) for part in parts)
        returned = {code for code, outcome in mine.items() if outcome == "returned"}
        back[vehicle].append((returned, work[job]))
    return failed


def known_before(frames: DiagnosisFrames, start: datetime, most: int) -> DiagnosisFrames:
    """Return the frames as far as jobs before a moment fill them.

    Args:
        frames: The facts.
        start: Jobs done before this moment are kept.
        most: At most so many of them, the latest.

    Returns:
        The frames; a part whose name comes from later repairs alone is gone, and so are the places that the
        repairs name.  Prices and code texts are those of today.
    """
    jobs = frames.jobs.filter(pl.col("done_at") < start).sort("done_at", "job_id").tail(most)
    mine = jobs.select("job_id")
    kept = {
        name: getattr(frames, name).join(mine, on="job_id", how="semi")
        for name in ("job_parts", "job_modules", "outcomes")
    }
    own = (pl.col("price_source") == "price book") | pl.col("part").is_in(kept["job_parts"]["part"].unique().to_list())
    parts = frames.parts.filter(own.fill_null(False)).with_columns(pl.lit(None, pl.String).alias("positions"))
    checks = frames.job_checks.filter(pl.col("done_at") < start)
    return replace(frames, jobs=jobs, parts=parts, job_checks=checks, **kept)
