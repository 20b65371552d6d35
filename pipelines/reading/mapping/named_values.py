"""Texts in which every value stands behind its name: pairs along a line, or a name and a value a line.

A line of pairs is a row.  Where a line holds one name and its value, a row ends as soon as one of
its names comes again: what stood above that name counts for the next row too, what stood below it does not.  So a
scan's head counts for each of its modules, and a module for each of its codes.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from pipelines.reading.account import LIKE_A_CODE

Row = tuple[int, dict[str, str]]
_PAIR = re.compile(
    r"([A-Za-z_][\w.-]{0,40})\s?=(?: (?![A-Za-z_][\w.-]{0,40}\s?=))?"
    r"(\"[^\"]*\"|'[^']*'|\[[^\]]*\]|.*?)(?=[\s,;|&]+[A-Za-z_][\w.-]{0,40}\s?=|[\s,;|&]*$)"
)
_LABELLED = re.compile(r"\s*[-*•·>]*\s*[\"']?([^\W\d_][^:=\"']{0,40}?)[\"']?\s*[:=](?:\s+|(?==)|(?<==)|$|(?=\S))(.*)$")
_TITLED = re.compile(r"(#{1,6})\s+(\S.*?)\s*#*\s*$")
"""The heading of a section in notes, which is what its level names."""
_SECTION = re.compile(r"\s*\[[^\]]*\]\s*$|\s*[-=*_#~+]{3,}\s*$|\s*-\s*$")
_CODE = re.compile(LIKE_A_CODE)
_LONGEST = 10_000
_ENOUGH, _FEWEST = 0.9, 2
START = "line start"
"""The name of what stands in front of a line's first pair."""


def pairs_in(lines: Sequence[str]) -> list[Row] | None:
    """Return the rows of a text whose lines are pairs of names and values; None where it is none."""
    filled = [(number, line[:_LONGEST]) for number, line in enumerate(lines, 1) if line.strip()]
    rows = [(number, _pairs(line)) for number, line in filled]
    whole = [found for found in rows if len(found[1]) >= _FEWEST]
    if len(whole) < _FEWEST or len(whole) < _ENOUGH * len(filled):
        return None
    return whole


def _pairs(line: str) -> dict[str, str]:
    found: dict[str, str] = {}
    first = None
    for match in _PAIR.finditer(line):
        first = match.start() if first is None else first
        name, value = match[1], match[2].strip()
        if value[:1] in ("'", '"') and value[-1:] == value[:1] and len(value) > 1:
            value = value[1:-1]
        found[name] = f"{found[name]}\n{value}" if name in found else value
    start = line[:first].strip(" \t,;|[]") if first else ""
    return {START: start, **found} if start and len(found) >= _FEWEST else found


def records_in(lines: Sequence[str]) -> list[Row] | None:
    """Return the rows of a text with a name and its value a line; None where it is none, or has one row only."""
    filled = [(number, line) for number, line in enumerate(lines, 1) if line.strip() and not _SECTION.fullmatch(line)]
    told = [(number, *_named(line)) for number, line in filled]
    named = [found for found in told if found[1]]
    if len(named) < _FEWEST or len(named) < 0.8 * len(filled):
        return None
    rows = [*_rows(named)]
    return rows if len(rows) >= _FEWEST else None


def _named(line: str) -> tuple[str, str]:
    titled = _TITLED.match(line[:_LONGEST])
    if titled is not None and ":" not in titled[2]:
        return titled[1], titled[2]
    match = _LABELLED.match(line[:_LONGEST])
    if match is None or _CODE.search(match[1]):
        return "", ""
    value = match[2].strip()
    value = "" if value in ("[]", "{}", "null", "~", "|", ">") else value
    if value[:1] in ("'", '"') and value[-1:] == value[:1] and len(value) > 1:
        value = value[1:-1]
    return " ".join(match[1].split()), value


def _rows(named: Sequence[tuple[int, str, str]]) -> Iterator[Row]:
    row: dict[str, str] = {}
    begins = named[0][0]
    fresh = False
    for number, name, value in named:
        if name in row:
            if fresh:
                yield begins, dict(row)
            names = [*row]
            row = {kept: row[kept] for kept in names[: names.index(name)]}
            begins, fresh = number, False
        row[name] = value
        fresh = fresh or bool(value)
    if fresh:
        yield begins, dict(row)


def grid_of(rows: Sequence[Row], wanted: Sequence[str] = ()) -> list[tuple[int, list[str]]]:
    """Return rows as a table, its names first, under the number 0.

    Args:
        rows: The rows.
        wanted: Names that the table has even where no row has them, if it has most of them.
    """
    # A name that never has a value is the heading of a list.
    names = list(dict.fromkeys(name for _, row in rows for name, value in row.items() if value))
    lacking = [name for name in wanted if name not in names]
    if len(lacking) <= 0.5 * len(wanted):
        names += lacking
    return [(0, names), *((number, [row.get(name, "") for name in names]) for number, row in rows)]
