"""Codes with their wording, and a row of the list with what it says to do."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import polars as pl

from analysis.texts import action_text as say
from analysis.texts.words import large

_SHORT = frozenset(
    ("ABS", "BCM", "CAN", "DPF", "ECM", "ECU", "EGR", "EPB", "EPS", "ESC", "OBD", "PCM", "SRS", "TCM", "VIN")
)
"""Short names that stay in capitals."""


@dataclass(frozen=True)
class Code:
    """A code as the page shows it: its key, and its wording where one is known."""

    key: str
    words: str


@dataclass(frozen=True)
class Check:
    """How to prove a part faulty.

    Attributes:
        how: In words; empty text where nothing is known.
        pays: Checking before buying is cheaper than fitting straight away.
    """

    how: str
    pays: bool


@dataclass(frozen=True)
class Repeats:
    """What a line of a car's list says again.

    Attributes:
        check: The earlier line whose check tells the same; None where its own does, or there is none.
        part: The earlier line with the same part in the same place; None for a second new one, which says so itself.
    """

    check: int | None
    part: int | None


def repeats(rows: Sequence[Mapping[str, Any]]) -> list[Repeats]:
    """Return for each row of one car's list, in their order, which earlier line it says again."""
    checks: dict[str, int] = {}
    parts: dict[tuple[str, str], int] = {}
    told = []
    for row in rows:
        how, part = say.check_how(row["check_first"]) if row["part"] else "", (row["part"] or "", row["position"] or "")
        again = part[0] and not say.is_once_again(row["check_first"])
        told.append(Repeats(checks.get(how) if how else None, parts.get(part) if again else None))
        checks.setdefault(how, row["rank"])
        parts.setdefault(part, row["rank"])
    return told


def thin(row: Mapping[str, Any], rows: Sequence[Mapping[str, Any]]) -> str:
    """Say of one of a car's rows how little speaks for it, and which row hands over; blank where enough does."""
    return say.why_thin(row, next((one["rank"] for one in rows if one["action"] == "specialist"), None))


def likelier(rows: Sequence[Mapping[str, Any]]) -> str:
    """Say why the first of a car's rows comes first, where a later part is likelier; blank where none is."""
    first, *later = rows
    parts = [row for row in later if row["part"] and row["chance"] is not None]
    best = max(parts, key=lambda row: row["chance"], default=None)
    if best is None or not first["part"] or first["chance"] is None or best["chance"] <= first["chance"]:
        return ""
    if not {*(first["clears"] or "").split(";")} & {*(best["clears"] or "").split(";")}:
        return ""  # they are for different codes: neither spares the other
    named = ", ".join(one for one in (best["part"], best["position"]) if one)
    return say.why_first(best["rank"], named, checked=say.check_pays(first["check_first"]))


def texts(known: pl.DataFrame | None) -> dict[str, str]:
    """Return the wording of each code that has one, out of the columns code and text."""
    if known is None:
        return {}
    told = known.filter(pl.col("text").is_not_null()).select("code", "text").iter_rows()
    return {code: in_small_letters(text) for code, text in told}


def in_small_letters(text: str) -> str:
    """Return a text that is all capitals in small letters, names of control units and numbers aside."""
    if not text.isupper() or not re.search(r"[^\W\d_]{4}", text):
        return text
    words = [word if word in _SHORT or re.search(r"\d", word) else word.lower() for word in text.split(" ")]
    return large(" ".join(words))


def codes(joined: str | None, texts: Mapping[str, str]) -> list[Code]:
    """Split ``;``-separated code keys and put the known wording beside each."""
    return [Code(key, texts.get(key, "")) for key in (joined or "").split(";") if key]


def named(family: str, texts: Mapping[str, str]) -> str:
    """Return a family's name with the wording of the code it is named after, where that is known."""
    return f"{family} {texts[family]}" if family in texts else family


def others(joined: str, root: str | None, knock_on: str | None) -> str:
    """Return the codes of a family that are neither its root nor knock-on, again ``;``-separated."""
    named = {root, *(knock_on or "").split(";")}
    return ";".join(key for key in joined.split(";") if key not in named)


def check(text: str | None) -> Check:
    """Take a row's ``check_first`` apart: what to look at, and whether checking before buying pays."""
    said = text or ""
    if not say.check_pays(said):
        return Check(said, pays=False)
    return Check(large(said.removeprefix(say.CHECK_PAYS).lstrip(": ")), pays=True)


def counts(named: Sequence[tuple[str, int]]) -> str:
    """Return names with how often each came, for instance "Depot 2, Nordkette 1"."""
    return ", ".join(f"{name} {times}" for name, times in named)


def csv_cell(text: str) -> str:
    """Return a text as one cell of a CSV line: in quotes where it holds a comma, a quote or a line's end."""
    return '"' + text.replace('"', '""') + '"' if re.search(r'[",\r\n]', text) else text
