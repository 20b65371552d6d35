"""One car's story: which code each scan showed, and what was done to the car in between.

A line a code, a column a visit.  A module that was not read leaves its places
blank: nothing is known there, which is not the same as gone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import polars as pl

from analysis.texts import work as say

MOST_VISITS = 14
SEEN, GONE, UNREAD, WORK = "seen", "gone", "unread", "work"


@dataclass(frozen=True)
class Visit:
    """One column: a scan, or a job.

    Attributes:
        at: When.
        work: What was done, in words; empty text for a scan.
    """

    at: datetime
    work: str


@dataclass(frozen=True)
class Story:
    """The visits of one car and its codes over them.

    Attributes:
        visits: The latest ``MOST_VISITS`` scans and jobs, in order.
        earlier: How many visits before them are not shown.
        codes: Each code that one of these scans showed, with one of "seen", "gone", "unread" or "work" a visit;
            the one seen first on top.
    """

    visits: list[Visit]
    earlier: int
    codes: list[tuple[str, list[str]]]


def stories(frames: Mapping[str, pl.DataFrame]) -> dict[str, Story]:
    """Gather the stories of all cars.

    Args:
        frames: "seen" (vehicle, scanned_at, module, code: the scan showed the code), "read" (vehicle, scanned_at,
            module: the module answered) and "work" (vehicle, done_at, job, erased, and action, part, position, one
            row a piece of work, null where the job was nothing but an erase).

    Returns:
        A story for each vehicle with a scan.
    """
    seen, read, work = (_by_car(frames[name]) for name in ("seen", "read", "work"))
    empty = {name: frame.clear() for name, frame in frames.items()}
    return {
        vehicle: _story(seen.get(vehicle, empty["seen"]), rows, work.get(vehicle, empty["work"]))
        for vehicle, rows in sorted(read.items())
    }


def _by_car(frame: pl.DataFrame) -> dict[str, pl.DataFrame]:
    return {str(key[0]): part for key, part in frame.partition_by("vehicle", as_dict=True).items()}


def _story(seen: pl.DataFrame, read: pl.DataFrame, work: pl.DataFrame) -> Story:
    visits = [Visit(at, "") for at in read["scanned_at"].unique()] + _jobs(work)
    visits.sort(key=lambda visit: (visit.at, visit.work))
    shown = visits[-MOST_VISITS:]
    showed = set(seen.select("scanned_at", "code").iter_rows())
    answered = set(read.select("scanned_at", "module").iter_rows())
    scans = {visit.at for visit in shown if not visit.work}
    kept = seen.filter(pl.col("scanned_at").is_in(list(scans)))
    order = kept.group_by("code", "module").agg(pl.col("scanned_at").min()).sort("scanned_at", "code")
    codes = []
    for code, module in order.select("code", "module").iter_rows():
        codes.append((code, [_mark(visit, code, module, showed, answered) for visit in shown]))
    return Story(shown, len(visits) - len(shown), codes)


def _mark(
    visit: Visit, code: str, module: str, showed: set[tuple[object, ...]], answered: set[tuple[object, ...]]
) -> str:
    if visit.work:
        return WORK
    if (visit.at, code) in showed:
        return SEEN
    return GONE if (visit.at, module) in answered else UNREAD


def _jobs(work: pl.DataFrame) -> list[Visit]:
    jobs: dict[tuple[str, datetime], list[str]] = {}
    erased: set[tuple[str, datetime]] = set()
    rows = work.sort("done_at", "job", "part", "position").select(
        "job", "done_at", "erased", "action", "part", "position"
    )
    for job, at, bare, action, part, position in rows.iter_rows():
        words = jobs.setdefault((job, at), [])
        if action is not None:
            words.append(say.work(action, part, position))
        if bare:
            erased.add((job, at))
    return [
        Visit(at, "; ".join([*words, *([say.ERASED] if (job, at) in erased else [])]))
        for (job, at), words in jobs.items()
    ]
