"""The first screen: one row a car, with what to do, how sure that is, what it costs and takes, and what it clears."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import polars as pl

from analysis.charts import wording
from analysis.charts.tickets import Ticket
from analysis.texts import list_text as say

FIXES = ("replace", "repair")


@dataclass(frozen=True, kw_only=True)
class CarRow:
    """One car of the list, as the first screen shows it.

    Attributes:
        ticket: The car with all its rows.
        do: What to do first, in words.
        clears: What that should clear, in words.
        minutes: Own labour of it; None where it is not known.
        asking: Asking price, in units; None where it is not known.
        part, labour: What the part and the labour cost, 0 where it is not known.
        saving: What following the list should cost less than handing the car over, on average; 0 for one that is.
        choices: Names of the families, parts and codes that this car belongs to.
    """

    ticket: Ticket
    do: str
    clears: str
    minutes: float | None
    asking: float | None
    part: float
    labour: float
    saving: float
    choices: dict[str, list[str]]


def car_rows(
    made: Sequence[Ticket], tables: Mapping[str, pl.DataFrame], settings: Mapping[str, Any], texts: Mapping[str, str]
) -> list[CarRow]:
    """Turn tickets into rows, in their order.

    Args:
        made: The tickets.
        tables: open_codes, and "cars" (vehicle, asking_cents) where it is known.
        settings: labour_rate and specialist_cost, where they are known.
        texts: The wording of codes, where it is known.
    """
    asked = {}
    if "cars" in tables:
        asked = dict(tables["cars"].select("vehicle", pl.col("asking_cents") / 100).iter_rows())
    open_codes = dict(tables["open_codes"].group_by("vehicle").agg(pl.col("code").sort()).iter_rows())
    return [
        _row(ticket, asked.get(ticket.vehicle), open_codes.get(ticket.vehicle, []), settings, texts) for ticket in made
    ]


def _row(
    ticket: Ticket, asking: float | None, codes: list[str], settings: Mapping[str, Any], texts: Mapping[str, str]
) -> CarRow:
    first, rate, handing = ticket.first, settings.get("labour_rate"), settings.get("specialist_cost")
    fix = first["action"] in FIXES
    saving = 0.0
    if handing is not None and first["expected_cost"] is not None and first["action"] not in ("specialist", "leave"):
        saving = max(0.0, float(handing) - first["expected_cost"])
    parts = sorted({row["part"] for row in (first, *ticket.later) if row["part"]})
    return CarRow(
        ticket=ticket,
        do=wording.title(first),
        clears=_clears(first, texts),
        minutes=minutes_of(first, rate),
        asking=asking,
        part=(first["part_cost"] or 0.0) if fix else 0.0,
        labour=first["labour_cost"] or 0.0,
        saving=saving,
        choices={"family": ticket.families, "part": parts, "code": codes},
    )


def minutes_of(row: Mapping[str, Any], labour_rate: float | None) -> float | None:
    """Return the minutes of labour behind a row's cost; None where they or the hourly rate are not known."""
    if row["labour_cost"] is None or not labour_rate:
        return None
    return float(round(row["labour_cost"] / labour_rate * 60))


def _clears(first: Mapping[str, Any], texts: Mapping[str, str]) -> str:
    keys = [key for key in (first["clears"] or "").split(";") if key]
    left = len([key for key in (first["leaves"] or "").split(";") if key])
    named = [texts[key] for key in keys if key in texts] or keys[:1]
    return say.clears(named[0], len(keys), left) if named else ""


@dataclass(frozen=True)
class Totals:
    """Sums over the rows that are shown; money in units."""

    cars: int
    parts: float
    labour: float
    minutes: float
    saving: float


def totals(rows: Sequence[CarRow]) -> Totals:
    """Add up the rows."""
    return Totals(
        len(rows),
        sum(row.part for row in rows),
        sum(row.labour for row in rows),
        sum(row.minutes or 0.0 for row in rows),
        sum(row.saving for row in rows),
    )
