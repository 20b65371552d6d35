"""What is printed about one car on the terminal: titled lines and tables, and the list as one of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import polars as pl

from analysis.texts import names
from analysis.texts.action_text import check_pays, check_then, in_vain, is_not_proven, to_do, work
from analysis.texts.words import listed, small

LIST_HEAD = (
    *(names.COLUMNS["rank"], names.DO, names.CHANCE, "between", names.COST, names.CLEARS, names.COLUMNS["jobs"]),
)
LIST_NUMBERS = (0, 2, 4)


@dataclass(frozen=True)
class Section:
    """A piece of what is printed: a title, lines, and a table.

    Attributes:
        title: One line.
        lines: Sentences below it.
        head: Names of the table's columns.
        rows: Cells as text.
        numbers: Columns that are set to the right.
    """

    title: str
    lines: Sequence[str] = ()
    head: Sequence[str] = ()
    rows: Sequence[Sequence[str]] = field(default=())
    numbers: Sequence[int] = ()


def list_section(rows: pl.DataFrame, currency: str) -> Section:
    """Return the list of one car as a table.

    Args:
        rows: The rows of the shortlist, money in cents.
        currency: Three letters.
    """
    cells = [
        (
            str(row["rank"]),
            _tried(row),
            *_chances(row),
            "?" if row["total_cost"] is None else f"{row['total_cost'] / 100:.2f}",
            (row["clears"] or "").replace(";", ", "),
            _own_jobs(row),
        )
        for row in rows.sort("rank").iter_rows(named=True)
    ]
    return Section(f"The list (cost in {currency})", (), LIST_HEAD, cells, LIST_NUMBERS)


def _tried(row: dict[str, str]) -> str:
    """What a row tries, and first of all its check where that comes first."""
    words = what(row["action"], row["part"], row["position"], row["or_else"])
    if row["action"] == "leave":
        return f"{small(to_do(row))}, {listed(row['leaves'])}"
    if is_not_proven(row["check_first"]):
        return small(to_do(row))
    return small(check_then(words)) if check_pays(row["check_first"]) else words


def _own_jobs(row: dict[str, Any]) -> str:
    """Return how many own jobs cleared, and where none did and the chance is high all the same, what it rests on."""
    if not row["jobs"]:
        return "none"
    cleared = f"{row['jobs_cleared']} of {row['jobs']} cleared"
    why = in_vain(row["jobs"], row["jobs_cleared"], row["chance"])
    return f"{cleared}, but this car's codes name it" if why else cleared


def _chances(row: dict[str, Any]) -> tuple[str, str]:
    """Return a row's chance and its interval; a specialist is paid until it is fixed, so his row has none."""
    if row["chance"] is None or row["action"] == "specialist":
        return "", ""
    return f"{row['chance']:.0%}", f"{row['chance_low']:.0%} to {row['chance_high']:.0%}"


def what(action: str, part: str, position: str, or_else: str = "") -> str:
    """Say in words what a row tries: ``replace battery`` or ``hand over to a specialist``."""
    words = small(work(action, part, position))
    return f"{words}, or else {listed(or_else)}" if or_else else words
