"""The first screen: one row a car, with what to do, how sure that is, what it costs and takes, and what it clears."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

import polars as pl

from analysis.charts import wording
from analysis.charts.tickets import Ticket, tickets
from analysis.diagnosis.decision.operations import DRIVE_MINUTES
from analysis.texts import action_text
from analysis.texts import list_text as say

FIXES = ("replace", "repair")
WEEK = 7
"""Days; an older scan is told on the row."""


@dataclass(frozen=True)
class Time:
    """Minutes of own time that a row of the list takes.

    Attributes:
        check: The check that comes before the part; 0 where none does.
        work: The work itself.
        drive: Erasing, the test drive and the scans; 0 where the car is handed over or left.
    """

    check: float
    work: float
    drive: float

    @property
    def all(self) -> float:
        """All of it."""
        return self.check + self.work + self.drive


@dataclass(frozen=True, kw_only=True)
class CarRow:
    """One car of the list, as the first screen shows it.

    Attributes:
        ticket: The car with all its rows.
        do: What to do first, in words.
        clears: What that should clear, in words.
        some: How many of the open codes that are, where it leaves others; else blank.
        minutes: Own time for all of it: check, work, erasing and scans; None where it is not known.
        time: The same in its parts.
        asking: Asking price, in units; None where it is not known.
        scanned: When it was scanned last; None where that is not known.
        age: Days since then, where they are more than a week; else None.
        marked: The work of the first line itself is such as a caution is for.
        hint: It fits a part that no own job speaks for, on codes that come together alone.
        drives: The line ends with a test drive and a scan.
        buy: What the part, or the material of a repair, costs; 0 where it is not known.
        checked: The part is bought only once a check says so.
        to_end: What following the list to the end should cost, on average; 0 where that is not known.
        handing: What handing the car over costs; 0 for one that needs no work, and where one of the two is not known.
        choices: Names of the families, parts and codes that this car belongs to.
        lines: The line of each part that is not in the first one.
    """

    ticket: Ticket
    do: str
    clears: str
    some: str
    minutes: float | None
    time: Time | None
    asking: float | None
    scanned: datetime | None
    age: int | None
    marked: bool
    hint: bool
    drives: bool
    buy: float
    checked: bool
    to_end: float
    handing: float
    choices: dict[str, list[str]]
    lines: dict[str, int]


def car_rows(
    made: Sequence[Ticket],
    tables: Mapping[str, pl.DataFrame],
    settings: Mapping[str, Any],
    texts: Mapping[str, str],
    *,
    as_of: str | None = None,
) -> list[CarRow]:
    """Turn tickets into rows, in their order.

    Args:
        made: The tickets.
        tables: open_codes, and "cars" (vehicle, asking_cents) and "read" (vehicle, scanned_at) where they are known.
        settings: labour_rate and specialist_cost, where they are known.
        texts: The wording of codes, where it is known.
        as_of: Day of the list, as 2026-11-23, where it is known: how old a scan is counts from it.
    """
    day = None if as_of is None else date.fromisoformat(as_of[:10])
    asked = {}
    if "cars" in tables:
        asked = dict(tables["cars"].select("vehicle", pl.col("asking_cents") / 100).iter_rows())
    scanned = {}
    if "read" in tables:
        scanned = dict(tables["read"].group_by("vehicle").agg(pl.col("scanned_at").max()).iter_rows())
    open_codes = dict(tables["open_codes"].group_by("vehicle").agg(pl.col("code").sort()).iter_rows())
    return [
        _row(
            ticket,
            _Known(asked.get(ticket.vehicle), scanned.get(ticket.vehicle), open_codes.get(ticket.vehicle, []), day),
            settings, texts,
        )
        for ticket in made
    ]  # fmt: skip


def without_ages(rows: Sequence[CarRow]) -> tuple[list[CarRow], tuple[int, int, int, int] | None]:
    """Take the ages of the scans off the rows where most have one, so that they are told once for all.

    Returns:
        The rows, and how many scans are old, of how many, from and to how many days; None where few are.
    """
    ages = [row.age for row in rows if row.age is not None]
    if 2 * len(ages) <= len(rows):
        return list(rows), None
    return [replace(row, age=None) for row in rows], (len(ages), len(rows), min(ages), max(ages))


@dataclass(frozen=True)
class _Known:
    """What is known of a car beside its tickets: asking price, last scan, open codes; and the day of the list."""

    asking: float | None
    scanned: datetime | None
    codes: list[str]
    day: date | None

    @property
    def age(self) -> int | None:
        """Days since the last scan, where they are more than a week."""
        if self.day is None or self.scanned is None:
            return None
        days = (self.day - self.scanned.date()).days
        return days if days > WEEK else None


def _row(ticket: Ticket, known: _Known, settings: Mapping[str, Any], texts: Mapping[str, str]) -> CarRow:
    first, handing = ticket.first, settings.get("specialist_cost")
    time = time_of(first, settings.get("labour_rate"))
    fix = first["action"] in FIXES
    both = handing is not None and first["expected_cost"] is not None and first["action"] != "leave"
    parts = sorted({row["part"] for row in (first, *ticket.later) if row["part"]})
    return CarRow(
        ticket=ticket,
        do=action_text.to_do(first),
        clears=_clears(first, texts),
        some=_some(first),
        minutes=None if time is None else time.all,
        time=time,
        asking=known.asking,
        scanned=known.scanned,
        age=known.age,
        marked=action_text.is_marked(first),
        hint=fix and first["basis"] == "pattern" and not first["jobs"],
        drives=first["action"] not in ("specialist", "leave"),
        buy=(first["part_cost"] or 0.0) if fix else 0.0,
        checked=wording.check(first["check_first"]).pays,
        to_end=first["expected_cost"] if both else 0.0,
        handing=float(handing or 0.0) if both else 0.0,
        choices={"family": ticket.families, "part": parts, "code": known.codes},
        lines={
            row["part"]: row["rank"] for row in reversed(ticket.later) if row["part"] and row["part"] != first["part"]
        },
    )


def minutes_of(row: Mapping[str, Any], labour_rate: float | None) -> float | None:
    """Return the minutes of labour behind a row's cost; None where they or the hourly rate are not known."""
    if row["labour_cost"] is None or not labour_rate:
        return None
    return float(round(row["labour_cost"] / labour_rate * 60))


def time_of(row: Mapping[str, Any], labour_rate: float | None, *, checked: bool = True) -> Time | None:
    """Return the own time that a row takes; None where its labour or the hourly rate is not known.

    A test drive with its scans counts what the order of work counts for it, ``DRIVE_MINUTES``, behind a part as well
    as on its own.

    Args:
        row: A row of the list.
        labour_rate: Money per hour.
        checked: Its check is still to be done; an earlier row may have done it.
    """
    minutes = minutes_of(row, labour_rate)
    if minutes is None:
        return None
    if row["action"] == "recheck":
        return Time(0.0, 0.0, minutes)
    drive = float(DRIVE_MINUTES) if row["action"] in FIXES else 0.0
    return Time(action_text.check_minutes(row["check_first"]) if checked else 0.0, minutes, drive)


def _keys(first: Mapping[str, Any], column: str) -> list[str]:
    return [key for key in (first[column] or "").split(";") if key]


def _some(first: Mapping[str, Any]) -> str:
    codes, left = len(_keys(first, "clears")), len(_keys(first, "leaves"))
    return say.some_of(codes, left) if codes and left else ""


def _clears(first: Mapping[str, Any], texts: Mapping[str, str]) -> str:
    keys, left = _keys(first, "clears"), len(_keys(first, "leaves"))
    named = [texts[key] for key in keys if key in texts] or keys[:1]
    if not named:
        return ""
    if action_text.is_not_proven(first["check_first"]):
        return say.gone(named[0], len(keys))
    return say.clears(named[0], len(keys), left)


@dataclass(frozen=True)
class Totals:
    """Sums over the rows that are shown; money in units."""

    cars: int
    now: float
    maybe: float
    labour: float
    minutes: float
    drives: int
    first: float
    to_end: float
    handing: float

    @property
    def saving(self) -> int:
        """What the list should save, in whole units: the two sums as they are shown, one less the other."""
        return round(self.handing) - round(self.to_end)


def totals(rows: Sequence[CarRow]) -> Totals:
    """Add up the rows."""
    return Totals(
        len(rows),
        sum(row.buy for row in rows if not row.checked),
        sum(row.buy for row in rows if row.checked),
        sum(row.ticket.first["labour_cost"] or 0.0 for row in rows),
        sum(row.minutes or 0.0 for row in rows),
        sum(row.drives for row in rows),
        sum(row.ticket.first["total_cost"] or 0.0 for row in rows),
        sum(row.to_end for row in rows),
        sum(row.handing for row in rows),
    )


def week_list(tables: Mapping[str, pl.DataFrame], settings: Mapping[str, Any]) -> pl.DataFrame:
    """Return the list as the first screen shows it, a row a car in its order, for a workbook.

    Args:
        tables: shortlist and open_codes as they go out, "cars" and "codes" where they are known.
        settings: labour_rate and specialist_cost, where they are known.

    Returns:
        The columns of ``list_text.SAVE_HEADS``: texts, and numbers where they are numbers; money in units.
    """
    made = tickets(tables["shortlist"], tables["open_codes"])
    rows = car_rows(made, tables, settings, wording.texts(tables.get("codes")))
    schema = dict.fromkeys(say.SAVE_HEADS, pl.String) | dict.fromkeys(say.SAVE_NUMBERS, pl.Float64)
    return pl.DataFrame([_cells(row) for row in rows], schema=schema, orient="row")


def _cells(row: CarRow) -> tuple[object, ...]:
    first, ticket = row.ticket.first, row.ticket
    sure = first["action"] not in ("specialist", "leave")
    chances = [first[name] if sure else None for name in ("chance", "chance_low", "chance_high")]
    costs = [first[name] for name in ("total_cost", "part_cost", "labour_cost")]
    said = (row.clears, first["caution"], first["check_first"])
    cheap = action_text.YES if first["cheap"] else action_text.NO
    return (ticket.vehicle, ticket.make, ticket.model, row.do, *chances, *costs, row.minutes, row.asking, cheap, *said)


def off_list(tables: Mapping[str, pl.DataFrame]) -> list[tuple[str, str]]:
    """Return the cars in stock that are not on the list, each with the reason.

    Args:
        tables: shortlist, open_codes, and "cars" (vehicle, scanned, waiting: a scan was read; erased and not scanned
            since) where it is known.
    """
    if "cars" not in tables or "scanned" not in tables["cars"].columns:
        return []
    away = tables["cars"].join(tables["shortlist"], on="vehicle", how="anti").sort("vehicle")
    present = tables["open_codes"].sort("vehicle", "code").partition_by("vehicle", as_dict=True)
    told = []
    for vehicle, scanned, waiting in away.select("vehicle", "scanned", "waiting").iter_rows():
        found = present.get((vehicle,))
        if found is not None:
            past = [f"{code} ({why})" for code, why in found.select("code", "background").iter_rows() if why]
            reason = f"{say.OFF_PAST}: {', '.join(past)}" if len(past) == found.height else say.OFF_OTHER
        else:
            reason = say.OFF_WAITING if waiting else say.OFF_CLEAN if scanned else say.OFF_UNREAD
        told.append((vehicle, reason))
    return told
