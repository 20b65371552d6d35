"""The cars in stock as the diagnosis sees them: what is open, what is absent, what failed already."""

from collections import defaultdict
from collections.abc import Iterator

import numpy as np
import polars as pl

from analysis.diagnosis.inference.posterior import Car
from analysis.diagnosis.inputs.candidates import Candidate
from analysis.diagnosis.inputs.frames import DiagnosisFrames
from analysis.diagnosis.inputs.training_data import can_occur, known_make
from analysis.diagnosis.model.parameters import NoisyOrParameters

STORED = ("history", "confirmed", "permanent")
"""Status words of a code that is stored and not failing now, where lists tell an active one apart."""
LONG_STORED = ("history", "permanent")
"""The same where they do not: confirmed is then said of every code that lights its lamp, failing now or not."""
AWAKE = ("active", "pending")
"""Status words of a code whose test failed lately."""


def cars_in_stock(frames: DiagnosisFrames, candidates: list[Candidate], parameters: NoisyOrParameters) -> list[Car]:
    """Return the cars in stock that have at least one code to explain, sorted by vehicle.

    Args:
        frames: The facts.
        candidates: The parts.
        parameters: For the row of each make.

    Returns:
        One car each; cars with no open code, or background codes only, are left out.
    """
    column = {code: d for d, code in enumerate(frames.codes["code"])}
    home = frames.codes["module"].to_list()
    opened, status = defaultdict(list), {}
    real = frames.open_codes.filter(pl.col("background").is_null()).sort("vehicle", "code")
    for vehicle, code, state in real.select("vehicle", "code", pl.col("status").fill_null("")).iter_rows():
        opened[vehicle].append(column[code])
        status[vehicle, column[code]] = state
    read = defaultdict(set)
    for vehicle, module in frames.open_modules.select("vehicle", "module").iter_rows():
        read[vehicle].add(module)
    holds = defaultdict(set)
    for vehicle, module in frames.open_codes.select("vehicle", "module").iter_rows():
        holds[vehicle].add(module)
    background = _background(frames, column)
    missed = {column[code]: there for code, there in _missed(frames.codes)}
    returned = frames.outcomes.filter((pl.col("outcome") == "returned") & pl.col("background").is_null())
    failed = _failed_parts(frames, candidates, returned, opened, column)
    came_back = {(vehicle, column.get(code)) for vehicle, code in returned.select("vehicle", "code").iter_rows()}
    renewed = _renewed_parts(frames, candidates, opened, column)
    mended = set(frames.jobs.join(frames.job_parts, on="job_id", how="semi")["vehicle"])
    stored = STORED if _tell_active(frames) else LONG_STORED
    makes = sorted({known_make(make) for make in frames.stock["make"].fill_null("").unique()})
    occurs = dict(zip(makes, can_occur(makes, frames.codes), strict=True))
    cars = []
    for vehicle, make in frames.stock.select("vehicle", pl.col("make").fill_null("")).sort("vehicle").iter_rows():
        if vehicle not in opened:
            continue
        codes, past = _awake(sorted(opened[vehicle]), [status[vehicle, d] in stored for d in sorted(opened[vehicle])])
        absent = np.array([module in read[vehicle] for module in home], dtype=bool)
        absent &= occurs[known_make(make)]
        absent[codes + past + background[vehicle]] = False
        stale = np.array([status[vehicle, d] in stored for d in codes], dtype=bool)
        awake = frozenset(d for d in codes if status[vehicle, d] in AWAKE)
        unseen = frozenset(renewed.get(vehicle, set()))
        lasting = frozenset(d for d in codes if (vehicle, d) in came_back)
        cars.append(
            Car(
                vehicle=vehicle, make=_row(parameters, make), codes=codes, absent=absent, stale=stale,
                failed=failed[vehicle], lasting=lasting, renewed=unseen, awake=awake, past=tuple(past),
                missed={d: missed[d] for d in codes if d in missed}, mended=vehicle in mended,
                clean=frozenset(read[vehicle] - holds[vehicle]),
            )
        )  # fmt: skip
    return cars


def _missed(codes: pl.DataFrame) -> Iterator[tuple[str, str]]:
    """Yield each code that tells that another module is not heard, with that module."""
    told = codes.filter(pl.col("network").fill_null(False) & pl.col("points_at").is_not_null())
    yield from told.select("code", "points_at").iter_rows()


def _tell_active(frames: DiagnosisFrames) -> bool:
    """Say whether this dealer's lists tell active codes from stored ones: some do not, and that says nothing of a code.

    An open code is active, or one was awake before a job and none is pending, which such lists tell as well.
    """
    status = frames.open_codes["status"]
    awake = frames.outcomes["awake"].any() and not (status == "pending").any()
    return bool((status == "active").any() or awake)


def _awake(codes: list[int], stored: list[bool]) -> tuple[list[int], list[int]]:
    """Return the codes to explain, and those that are stored only beside them: these mostly tell of the past."""
    past = [d for d, only in zip(codes, stored, strict=True) if only]
    return (codes, []) if len(past) == len(codes) else ([d for d in codes if d not in set(past)], past)


def _row(parameters: NoisyOrParameters, make: str) -> int:
    names = parameters.make_names
    return names.index(known_make(make)) if make and known_make(make) in names else len(names) - 1


def _background(frames: DiagnosisFrames, column: dict[str, int]) -> defaultdict[str, list[int]]:
    masked: defaultdict[str, list[int]] = defaultdict(list)
    for vehicle, code in (
        frames.open_codes.filter(pl.col("background").is_not_null()).select("vehicle", "code").iter_rows()
    ):
        masked[vehicle] += [column[code]] if code in column else []
    return masked


def _failed_parts(
    frames: DiagnosisFrames,
    candidates: list[Candidate],
    returned: pl.DataFrame,
    opened: dict[str, list[int]],
    column: dict[str, int],
) -> defaultdict[str, set[int]]:
    """The parts fitted on a car in a job after which a code that is open today came back."""
    place = {candidate.key: i for i, candidate in enumerate(candidates)}
    jobs = {
        job: vehicle
        for job, vehicle, code in returned.select("job_id", "vehicle", "code").iter_rows()
        if column.get(code) in opened.get(vehicle, [])
    }
    failed: defaultdict[str, set[int]] = defaultdict(set)
    for job, part, position in frames.job_parts.select("job_id", "part", pl.col("position").fill_null("")).iter_rows():
        if job in jobs and (part, position) in place:
            failed[jobs[job]].add(place[part, position])
    return failed


def _renewed_parts(
    frames: DiagnosisFrames, candidates: list[Candidate], opened: dict[str, list[int]], column: dict[str, int]
) -> dict[str, set[int]]:
    """The parts fitted on a car since its codes were read, where no scan tells yet whether one of them stayed away.

    From the latest job back: a job before which nothing was read passes the question on to the one before it.
    """
    place = {candidate.key: i for i, candidate in enumerate(candidates)}
    jobs = frames.jobs.filter(pl.col("vehicle").is_in(list(opened))).sort("done_at", "job_id", descending=True)
    ends: dict[int, dict[int, str]] = defaultdict(dict)
    known = frames.outcomes.join(jobs, on="job_id", how="semi")
    for job, code, outcome in known.select("job_id", "code", "outcome").iter_rows():
        ends[job][column.get(code, -1)] = outcome
    fitted: dict[int, set[int]] = defaultdict(set)
    work = frames.job_parts.join(jobs, on="job_id", how="semi")
    for job, part, position in work.select("job_id", "part", pl.col("position").fill_null("")).iter_rows():
        if (part, position) in place:
            fitted[job].add(place[part, position])
    waiting, found = {vehicle: set[int]() for vehicle in opened}, dict[str, set[int]]()
    for job, vehicle in jobs.select("job_id", "vehicle").iter_rows():
        if vehicle not in waiting:
            continue
        waiting[vehicle] |= fitted[job]
        if job in ends:
            since = waiting.pop(vehicle)
            if all(ends[job].get(d) in ("unread", "unproven") for d in opened[vehicle]):
                found[vehicle] = since
    return found
