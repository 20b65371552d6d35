"""One ticket a car: what to try first, what comes behind it, what is looked past, and the car's story.

The tickets stand in the order in which a morning is best spent: the surest
result for the least money first, then cars to look at again, cars to hand over last.

The story is which code each scan showed, and what was done to the car in between: a line a
code, a column a visit.  A module that was not read leaves its places blank: nothing is known
there, which is not the same as gone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import polars as pl

from analysis.charts.cost_chance import first_tries
from analysis.texts import action_text as say
from analysis.texts.notes import of_cars

MOST_VISITS = 14
SEEN, GONE, UNREAD, WORK = "seen", "gone", "unread", "work"


@dataclass(frozen=True)
class Ticket:
    """One car of the shortlist.

    Attributes:
        vehicle, make, model: Which car; empty text where not known.
        point: The mark in the chart of cost against chance; empty where there is none.
        families: Names of the families its open codes belong to.
        heap: What is to be done next with it: 0 a cheap try, 1 a dearer one, 2 one of unknown cost, 3 to drive and
            scan, 4 to hand over, 5 nothing.
        first: The row of rank 1, by column.
        later: The rows behind it, in order; not the one that leaves codes as they are.
        left: The codes that may be left alone if the dealer agrees, ``;``-separated.
        stays: Which of them a fault may have set, and why they may stay; empty text where there are none.
        past: Open codes that are looked past, each with the reason.
        stored: Codes stored only that no row speaks of, ``;``-separated: they go with the erase.
        why: Why the car is handed over at once, a sentence each.
        warnings: What is known of parts in its rows whose codes come back more often than they should.
    """

    vehicle: str
    make: str
    model: str
    point: str
    families: list[str]
    heap: int
    first: dict[str, Any]
    later: list[dict[str, Any]]
    left: str
    stays: str
    past: list[tuple[str, str]]
    stored: str
    why: list[str]
    warnings: list[str]


def tickets(
    shortlist: pl.DataFrame,
    open_codes: pl.DataFrame,
    worse_parts: pl.DataFrame | None = None,
    notes: Sequence[str] = (),
) -> list[Ticket]:
    """Turn the shortlist into tickets.

    Args:
        shortlist: The columns of ``shortlist.csv``, money in units.
        open_codes: The columns of ``open_codes.csv``.
        worse_parts: The columns of ``worse_parts.csv``, where it is known.
        notes: The notes of the run.

    Returns:
        One ticket a car.  First the cars whose first try is cheap, then those with a dearer one, each by chance
        per cost, the highest first (an unknown cost last); then those to look at again, the likeliest first;
        then those to hand over.  Level ones stand by vehicle.
    """
    rows = _by_car(shortlist.sort("vehicle", "rank"))
    present = _by_car(open_codes.sort("vehicle", "code"))
    warned = warnings_by_part(worse_parts)
    why = of_cars(notes, rows)
    made = []
    for vehicle, point, heap in _in_order(first_tries(shortlist)).select("vehicle", "point", "heap").iter_rows():
        first, *later = rows[vehicle].to_dicts()
        mine = present.get(vehicle, open_codes.clear())
        families, past = _seen(mine)
        stored = ";".join(stored_only(mine, (first, *later)))
        named = (vehicle, first["make"] or "", first["model"] or "", point or "")
        parts = dict.fromkeys(row["part"] for row in (first, *later) if row["part"])
        warnings = [warning for part in parts for warning in warned.get(part, [])]
        left = ";".join(row["leaves"] or "" for row in later if row["action"] == "leave")
        stays = "".join(row["check_first"] or "" for row in later if row["action"] == "leave")
        later = [row for row in later if row["action"] != "leave"]
        reasons = why.get(vehicle, []) if first["action"] == "specialist" else []
        made.append(Ticket(*named, families, heap, first, later, left, stays, past, stored, reasons, warnings))
    return made


def first_cars(shortlist: pl.DataFrame, most: int) -> list[str]:
    """Return the first cars in the order of the tickets.

    Args:
        shortlist: The columns of ``shortlist.csv``, money in units.
        most: How many at most.
    """
    return _in_order(first_tries(shortlist))["vehicle"].head(most).to_list()


def stored_only(open_codes: pl.DataFrame, rows: Iterable[Mapping[str, Any]]) -> list[str]:
    """Return the open codes of a car that are not looked past and that none of its rows clears or leaves."""
    spoken = {key for row in rows for name in ("clears", "leaves") for key in (row[name] or "").split(";")}
    counted = open_codes.filter(pl.col("background").is_null())["code"].sort()
    return [code for code in counted if code not in spoken]


def warnings_by_part(worse_parts: pl.DataFrame | None) -> dict[str, list[str]]:
    """Return the warnings of ``worse_parts.csv`` by part, in their order there."""
    found: dict[str, list[str]] = {}
    if worse_parts is not None:
        for part, warning in worse_parts.select("part", "warning").iter_rows():
            found.setdefault(part, []).append(warning)
    return found


def _in_order(firsts: pl.DataFrame) -> pl.DataFrame:
    # A try that costs nothing would divide by nothing: a hundredth stands in for it.
    worth = pl.col("chance") / pl.col("total_cost").clip(lower_bound=0.01)
    tried = pl.when("cheap").then(0).when(pl.col("total_cost").is_not_null()).then(1).otherwise(2)
    fixed = pl.when(action="leave").then(5).when(action="specialist").then(4).when(action="recheck").then(3)
    heap = fixed.otherwise(tried)
    ranked = firsts.with_columns(heap=heap, worth=worth)
    return ranked.sort("heap", "worth", "vehicle", descending=[False, True, False], nulls_last=True)


def _by_car(frame: pl.DataFrame) -> dict[str, pl.DataFrame]:
    return {str(key[0]): part for key, part in frame.partition_by("vehicle", as_dict=True).items()}


def _seen(present: pl.DataFrame) -> tuple[list[str], list[tuple[str, str]]]:
    names = {name for joined in present["family"].drop_nulls() for name in joined.split(";")}
    masked = present.filter(pl.col("background").is_not_null())
    return sorted(names), list(masked.select("code", "background").iter_rows())


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
    seen, read, work = (_story_rows(frames[name]) for name in ("seen", "read", "work"))
    empty = {name: frame.clear() for name, frame in frames.items()}
    return {
        vehicle: _story(seen.get(vehicle, empty["seen"]), rows, work.get(vehicle, empty["work"]))
        for vehicle, rows in sorted(read.items())
    }


def _story_rows(frame: pl.DataFrame) -> dict[str, pl.DataFrame]:
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
