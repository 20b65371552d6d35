"""Sections of the page that are told in tables alone: what changed, what to look past, trust, what was set aside."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import polars as pl

from analysis.charts.wording import csv_cell
from analysis.diagnosis.evaluation.metrics import ENOUGH, trust, unknown_cause
from analysis.texts import family_text
from analysis.texts import page_text as say
from analysis.texts.findings import FIRST_CHOICE, TAKEN_FOR
from analysis.texts.formatter import Formatter
from analysis.texts.paper_text import FROM_NOBODY
from analysis.texts.standing_text import question as group_text
from analysis.texts.words import large

MOST_LINES = 200
_ORDER = ("new", "growing", "fading", "vanished")
# A semicolon ends an entry only behind the counts: a name may hold one.
_ONE = re.compile(r"(.*?) (\d+)/(\d+)(?:;|\Z)", re.DOTALL)


@dataclass(frozen=True)
class Aside:
    """One heap of things set aside.

    Attributes:
        title: What was set aside.
        why: In one sentence, why.
        size: How many there are in the table.
        heads: Headings of the columns.
        lines: The first ``MOST_LINES`` rows.
        more: How many distinct rows are not shown.
        table: The outgoing table that holds them all.
    """

    title: str
    why: str
    size: int
    heads: tuple[str, ...]
    lines: list[tuple[object, ...]]
    more: int
    table: str


def asides(outcomes: pl.DataFrame, open_codes: pl.DataFrame, rejects: pl.DataFrame) -> list[Aside]:
    """Gather what was set aside.

    Args:
        outcomes: The columns of ``outcomes.csv``.
        open_codes: The columns of ``open_codes.csv``.
        rejects: The columns of ``rejects.csv``.

    Returns:
        Four heaps, empty ones too: refused, unread, unproven, looked past.
    """
    refused = _counted(rejects, "file", "column", "why")
    unread, unproven = (
        _counted(outcomes.filter(pl.col("outcome") == kind), "module", "code") for kind in ("unread", "unproven")
    )
    masked = open_codes.filter(pl.col("background").is_not_null())
    past = masked.select("vehicle", "code", "background").sort("vehicle", "code")
    return [
        _heap(say.REFUSED, say.REFUSED_WHY, say.REFUSED_HEADS, refused, table="rejects"),
        _heap(say.UNREAD, say.UNREAD_WHY, say.MODULE_HEADS, unread, table="outcomes"),
        _heap(say.UNPROVEN, say.UNPROVEN_WHY, say.MODULE_HEADS, unproven, table="outcomes"),
        _heap(say.PAST, say.PAST_WHY, say.PAST_HEADS, past, table="open_codes", size=past.height),
    ]


def _counted(frame: pl.DataFrame, *by: str) -> pl.DataFrame:
    counts = frame.group_by(by).agg(pl.len().cast(pl.Int64).alias("times"))
    return counts.select("times", *by).sort("times", *by, descending=[True, *(False for _ in by)])


def _heap(
    title: str, why: str, heads: tuple[str, ...], rows: pl.DataFrame, *, table: str, size: int | None = None
) -> Aside:
    total = int(rows["times"].sum()) if size is None else size
    lines = list(rows.head(MOST_LINES).iter_rows())
    return Aside(title, why, total, heads, lines, more=rows.height - len(lines), table=table)


@dataclass(frozen=True)
class Changes:
    """What the page says of the week.

    Attributes:
        before: The week of the report before.
        families: Rows of ``family_changes.csv`` but the steady ones: new, growing, fading, vanished, each by name.
        steady: How many families are steady.
        new, off, other: Rows of ``car_changes.csv`` by what changed, by vehicle.
    """

    before: str
    families: list[dict[str, Any]]
    steady: int
    new: list[dict[str, Any]]
    off: list[dict[str, Any]]
    other: list[dict[str, Any]]


def changes(families: pl.DataFrame, cars: pl.DataFrame, before: str) -> Changes:
    """Sort what changed into what the page says.

    Args:
        families: The columns of ``family_changes.csv``.
        cars: The columns of ``car_changes.csv``.
        before: The week of the report before.
    """
    moved = [
        row
        for kind in _ORDER
        for row in families.filter(pl.col("change") == kind).sort("family", "before", nulls_last=True).to_dicts()
    ]
    by_kind = [cars.filter(pl.col("change") == kind).sort("vehicle").to_dicts() for kind in ("new", "off", "other try")]
    return Changes(before, moved, families.filter(pl.col("change") == "steady").height, *by_kind)


@dataclass(frozen=True)
class Trust:
    """What the page says of it.

    Attributes:
        sentence: In plain words, with the counts.
        few: There are some visits, but too few to tell.
        judged: Visits whose first part was fitted; there may be some where not one can be scored whole.
        check: The row of ``backtest.csv``; None where no visit could be checked.
        tenths: The rows of ``reliability.csv``.
        rivals: How the list did against plain rules, a sentence each.
        kept_back: How much of each chance is kept back, and why; empty text where it is not known.
        taken_for: What chances are taken for, as past ones held; empty text where they are taken as they are.
        said: Every sentence of these as the notes hold it.
    """

    sentence: str
    few: bool
    judged: int
    check: dict[str, Any] | None
    tenths: list[dict[str, Any]]
    rivals: list[str]
    kept_back: str
    taken_for: str
    said: list[str]


def trust_of(
    backtest: pl.DataFrame | None, reliability: pl.DataFrame | None, notes: Sequence[str] = ()
) -> Trust | None:
    """Put the check on the past into words and rows.

    Args:
        backtest: The columns of ``backtest.csv``.
        reliability: The columns of ``reliability.csv``.
        notes: The notes of the run: those on the first choice belong here.

    Returns:
        What the page says; None where the past was not checked.
    """
    if backtest is None or reliability is None or backtest.is_empty():
        return None
    check = backtest.row(0, named=True)
    known = check if check["n"] else None
    sentence, share = trust(backtest), check["reserve"]
    kept = "" if share is None else unknown_cause(share, check["judged"])
    compared = [note for note in notes if note.startswith(FIRST_CHOICE)]
    rivals = [large(note.removeprefix(FIRST_CHOICE)) for note in compared]
    tenths = reliability.sort("tenth").to_dicts()
    taken = [note for note in notes if note.startswith(TAKEN_FOR)]
    said, judged = [sentence, kept, *taken, *compared], check["judged"] or 0
    return Trust(sentence, 0 < check["n"] < ENOUGH, judged, known, tenths, rivals, kept, "".join(taken), said)


def recurred_lines(outcomes: pl.DataFrame | None, formatter: Formatter) -> list[dict[str, str]]:
    """Tell the codes that were proven gone and are back beyond the horizon, each with the work it held after.

    Args:
        outcomes: vehicle, job, code, km_proven, km_to_return, days_to_return, part and position, a row a part of the
            job; None or no rows where nothing recurred.
        formatter: Writes distances.

    Returns:
        vehicle, job, work, code, held; the car first whose code held longest.
    """
    if outcomes is None or outcomes.is_empty():
        return []
    what = pl.concat_str("part", pl.col("position").replace("", None), separator=", ", ignore_nulls=True)
    each_code = outcomes.group_by("vehicle", "job", "code", "km_proven", "km_to_return", "days_to_return").agg(
        what.replace("", None).drop_nulls().unique().sort().str.join("; ").alias("work")
    )
    lines = each_code.sort(
        pl.coalesce("km_proven", pl.lit(0.0)), "vehicle", "job", "code", descending=[True, False, False, False]
    )
    return [
        {name: row[name] for name in ("vehicle", "job", "work", "code")} | {"held": _held(row, formatter)}
        for row in lines.iter_rows(named=True)
    ]


def _held(row: dict[str, Any], formatter: Formatter) -> str:
    km, days = row["km_to_return"], row["days_to_return"]
    back = family_text.days(days) if km is None else formatter.distance(km)
    return family_text.held(formatter.distance(row["km_proven"] or 0.0), back)


def each(told: str | None) -> list[tuple[str, int, int]]:
    """Split the text of one row of ``suppliers`` into name, cleared and jobs of each supplier."""
    return [(name, int(cleared), int(jobs)) for name, cleared, jobs in _ONE.findall(told or "")]


def listed(told: str | None, cleared: int = 0, jobs: int = 0) -> str:
    """Return the text of one row of ``suppliers`` with commas between the suppliers.

    Args:
        told: The text of the row.
        cleared: How many jobs of the row cleared.
        jobs: Its jobs: those of no known supplier stand last, so that the counts add up.
    """
    named = each(told)
    left = (cleared - sum(one[1] for one in named), jobs - sum(one[2] for one in named))
    if named and left[1] > 0:
        named = [*named, (FROM_NOBODY, max(left[0], 0), left[1])]
    return ", ".join(f"{name} {came}/{of}" for name, came, of in named)


@dataclass(frozen=True)
class Standing:
    """A group of codes that no fault seems to set.

    Attributes:
        state: proposed, accepted or declared.
        question: What is known of it, in words.
        reason: Why it is taken for that; empty text where nothing more is said.
        line: What to write into the background file to look past it, a line a code.
        number: Its row in the table, from 1: what the dealer answers it by.
    """

    state: str
    question: str
    reason: str
    line: str
    number: int


def standing_groups(standing: pl.DataFrame) -> list[Standing]:
    """Put the rows of ``standing.csv`` into words: those to decide on first, those on most cars first."""
    made = []
    numbered = standing.with_row_index("number", offset=1)
    for row in numbered.sort("state", "cars", "codes", descending=[True, True, False], nulls_last=True).to_dicts():
        keys = row["codes"].split(";")
        where, reason = row["vehicle"] or row["make"] or "", row["reason"] or ""
        lines = []
        for key in keys:
            module, _, code = key.partition(":")
            cells = (row["vehicle"] or "", row["make"] or "", module, code.partition("@")[0], reason, "")
            lines.append(",".join(csv_cell(cell) for cell in cells))
        told = group_text(keys, where, row["cars"] or 0, row["erases_survived"] or 0, row["kind"])
        made.append(Standing(row["state"], told, reason, "\n".join(lines), row["number"]))
    return sorted(made, key=lambda one: one.state != "proposed")
