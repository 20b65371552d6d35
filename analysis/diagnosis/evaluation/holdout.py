"""The past visits that can check a list, and what was known before a given day."""

import math
from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import datetime

import polars as pl

from analysis.diagnosis.inputs.episodes import LONGEST_GAP
from analysis.diagnosis.inputs.frames import DiagnosisFrames
from analysis.evidence.cleared import SUREST
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
        log_ratios: For each of these codes the log likelihood ratio of what was seen: gone against still there.
        cured: At least one code was proven gone and none came back.
        failed: Parts that the car got before in vain: a code that is there now came back after them.
        vehicle: Stock number.
        turn: How many jobs on that vehicle in which parts were worked on were before this one.
    """

    job_id: int
    done_at: datetime
    part: Part
    ends: dict[str, str]
    log_ratios: dict[str, float]
    cured: bool
    failed: frozenset[Part]
    vehicle: str
    turn: int

    @property
    def name(self) -> str:
        """A name of its own: one car may come several times."""
        return f"job {self.job_id}"


def visits_to_check(frames: DiagnosisFrames) -> list[PastVisit]:
    """Return the visits that can check a list, in time order.

    Args:
        frames: The facts about past jobs.

    Returns:
        Jobs with one part in one place, an unmasked code before them, and some code that was looked for after them.
    """
    known = set(frames.codes["code"])
    ends: dict[int, dict[str, str]] = defaultdict(dict)
    ratios: dict[int, dict[str, float]] = defaultdict(dict)
    real = frames.outcomes.filter(pl.col("background").is_null())
    seen = real.select("job_id", "code", "outcome", "lik_gone", "lik_still").sort("job_id", "code")
    for job, code, outcome, gone, still in seen.iter_rows():
        if code in known:
            ends[job][code] = outcome
            ratios[job][code] = math.log(gone / still)
    alone = single_part_jobs(frames.job_parts).select("job_id", "part", pl.col("position").fill_null(""))
    worked = frames.jobs.join(frames.job_parts.filter(pl.col("part").is_not_null()), on="job_id", how="semi")
    turns = worked.sort("done_at", "job_id").with_columns(pl.int_range(pl.len()).over("vehicle").alias("turn"))
    jobs = turns.join(alone, on="job_id").sort("done_at", "job_id")
    failed = _failed_before(frames, ends)
    return [
        PastVisit(
            job_id=job,
            done_at=when,
            part=(part, place),
            ends=ends[job],
            log_ratios=ratios[job],
            cured=_cured(ends[job]),
            failed=failed.get(job, frozenset()),
            vehicle=vehicle,
            turn=turn,
        )
        for job, when, part, place, vehicle, turn in jobs.select(
            "job_id", "done_at", "part", "position", "vehicle", "turn"
        ).iter_rows()
        if {*CLEARED, "returned", "unproven"} & set(ends.get(job, {}).values())
    ]


def attempts(visits: list[PastVisit]) -> dict[int, list[PastVisit]]:
    """Return for each visit, by job, all visits from it on that were about the same fault, itself the first.

    A visit goes on with the one before it on the car if a code that came back there is there again within a year, and
    no other job with parts lies between the two.

    Args:
        visits: In time order.
    """
    after: dict[int, PastVisit] = {}
    last: dict[str, PastVisit] = {}
    for visit in visits:
        before = last.get(visit.vehicle)
        if before and visit.turn == before.turn + 1 and visit.done_at - before.done_at <= LONGEST_GAP:
            back = {code for code, end in before.ends.items() if end == "returned"}
            if back & visit.ends.keys():
                after[before.job_id] = visit
        last[visit.vehicle] = visit
    told: dict[int, list[PastVisit]] = {}
    for visit in reversed(visits):
        later = after.get(visit.job_id)
        told[visit.job_id] = [visit, *(told[later.job_id] if later else [])]
    return told


def promise_kept(part: Part, codes: set[str], visits: list[PastVisit]) -> bool | None:
    """Return whether a part would have cleared the codes that it was promised to clear.

    It is known where the part was fitted in the end and the codes that were left then are known to have gone or come
    back, or where all of them had gone without it.  So a promise is judged whether or not the workshop agreed with it:
    judging only those that it tried would count its own eyes to the list's credit.

    Args:
        part: Part and position.
        codes: What it was to clear.
        visits: All attempts at the fault from then on.

    Returns:
        Kept or not; None where that is not known.
    """
    left = set(codes)
    for visit in visits:
        ends = {visit.ends.get(code) for code in left}
        if visit.part == part:
            return False if "returned" in ends else True if ends and ends <= {*CLEARED} else None
        left = {code for code in left if visit.ends.get(code) not in CLEARED}
        if not left:
            return False
    return None


def promise_log_ratio(part: Part, codes: set[str], visits: list[PastVisit]) -> float:
    """Return how much likelier what was seen is if a part would have cleared its codes than if not, as a logarithm.

    What is not proven counts as far as it goes: a repair that fails is soon seen again, one that holds takes a drive to
    prove, so the proven ends alone would make promises seem worse than they were.

    Args:
        part: Part and position.
        codes: What it was to clear.
        visits: All attempts at the fault from then on.
    """
    left, told = set(codes), 0.0
    for visit in visits:
        seen = sum(visit.log_ratios.get(code, 0.0) for code in left)
        if visit.part == part:
            return _sure(told + _sure(seen))
        told -= max(_sure(seen), 0.0)
        left = {code for code in left if visit.ends.get(code) not in CLEARED}
        if not left:
            break
    return _sure(told)


def _sure(log_ratio: float) -> float:
    """No end is surer than one code's."""
    return min(max(log_ratio, math.log(SUREST)), -math.log(SUREST))


def _cured(ends: dict[str, str]) -> bool:
    return "returned" not in ends.values() and bool({*CLEARED} & set(ends.values()))


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
