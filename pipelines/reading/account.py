"""What became of everything in a file: its rows, columns and parts, and every text that looks like a code.

A reader that leaves something out must say so: a column nobody mapped may hold the
second fault of every car.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

import polars as pl

# A generic five-character code as exports print it, capitals only: in words of small letters it is too often none.
LIKE_A_CODE = r"\b[PCBU][0-3][0-9A-F]{3}\b"
_LIKE = re.compile(LIKE_A_CODE)
_MOST_EXAMPLES = 5
_FEW = 200  # cells that are looked at one by one: fewer than it takes to find the distinct ones
FULL_OF_CODES = 3
NOT_ALL = "not everything was read: "
"""How a note begins that says so."""


@dataclass
class Found:
    """What a reader saw of a file, beside the rows that it made.

    Attributes:
        codes: Every text of the file that looks like a code; None where only what was left out was looked at.
        refused: Those in rows that were set aside on the way.
        left: Such texts in what the reader left out, where ``codes`` is None.
        columns: Columns of the file, those used first, then all.
        parts: Sheets, tables or files in it, those read first, then all.
        part: What a part is called.
        unread: Names of the parts that were not read.
    """

    codes: Counter[str] | None = None
    refused: Counter[str] = field(default_factory=Counter)
    left: Counter[str] = field(default_factory=Counter)
    columns: tuple[int, int] = (0, 0)
    parts: tuple[int, int] = (0, 0)
    part: str = "sheet"
    unread: list[str] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True)
class Account:
    """What became of everything in one file.

    Attributes:
        codes: Texts that look like a code.
        codes_read: Those of them in rows that are kept.
        codes_refused: Those in rows that were refused.
        examples: Some of the others.
        shown: Some of all.
        columns: Columns used, columns there; (0, 0) where the file has none.
        parts: Sheets, tables or files read, and there; (0, 0) where the file is one whole.
        part: What a part is called.
        unread: Names of the parts that were not read.
    """

    codes: int = 0
    codes_read: int = 0
    codes_refused: int = 0
    examples: tuple[str, ...] = ()
    shown: tuple[str, ...] = ()
    columns: tuple[int, int] = (0, 0)
    parts: tuple[int, int] = (0, 0)
    part: str = "sheet"
    unread: tuple[str, ...] = ()

    @property
    def codes_left(self) -> int:
        """Texts that look like a code and came into no row, not even a refused one."""
        return self.codes - self.codes_read - self.codes_refused

    @property
    def whole(self) -> bool:
        """Every text that looks like a code came into a row that is kept."""
        return self.codes_read == self.codes

    def sentence(self) -> str:
        """Say it in words; blank where there is nothing to say."""
        told = []
        if self.codes:
            told.append(f"{self.codes_read} of {self.codes} texts that look like a code were read")
        if self.codes_refused:
            told.append(f"{self.codes_refused} stand in refused rows")
        if self.codes_left:
            told.append(f"{self.codes_left} were not read ({', '.join(self.examples)})")
        if self.columns[1]:
            told.append(f"{self.columns[1]} columns, {self.columns[0]} read")
        if self.parts[1]:
            names = f" (not {', '.join(self.unread)})" if self.unread else ""
            told.append(f"{self.parts[1]} {self.part}{'s' if self.parts[1] > 1 else ''}, {self.parts[0]} read{names}")
        return "; ".join(told)


def codes_in(texts: Iterable[str]) -> Counter[str]:
    """Count the texts that look like a code."""
    return Counter(code for text in texts for code in _LIKE.findall(text))


def codes_of(cells: pl.Series) -> Counter[str]:
    """Count the texts that look like a code in a String column; each distinct cell is looked at once."""
    if cells.len() < _FEW:
        return codes_in(cell for cell in cells.to_list() if cell)
    counted: Counter[str] = Counter()
    if cells.null_count() == cells.len():
        return counted
    some = cells.value_counts().filter(pl.first().str.contains(LIKE_A_CODE))
    for cell, times in some.iter_rows():
        for code in _LIKE.findall(cell):
            counted[code] += times
    return counted


def account_of(found: Found, raw: pl.DataFrame, rows: pl.DataFrame) -> Account:
    """Draw up the account of a file of scans.

    Args:
        found: What the reader saw.
        raw: The rows it made, refused ones included.
        rows: Those that are kept.

    Returns:
        The account; a text that stands in more rows than the file has it counts once.
    """
    kept = _in_rows(rows, found)
    alike = found.codes is None and "code" in raw.columns and raw["code"].equals(rows["code"])
    made = kept if alike else _in_rows(raw, found)
    seen = made + found.left + found.refused if found.codes is None else found.codes
    read = sum(min(times, kept[code]) for code, times in seen.items())
    reach = {code: max(kept[code], made[code]) + found.refused[code] for code in seen}
    reached = sum(min(times, reach[code]) for code, times in seen.items())
    left = [code for code, times in seen.items() if times > reach[code]]
    return Account(
        codes=seen.total(),
        codes_read=read,
        codes_refused=reached - read,
        examples=tuple(left[:_MOST_EXAMPLES]),
        shown=tuple([*seen][:_MOST_EXAMPLES]),
        columns=found.columns,
        parts=found.parts,
        part=found.part,
        unread=tuple(found.unread),
    )


def _in_rows(rows: pl.DataFrame, found: Found) -> Counter[str]:
    names = ["code"] if found.codes is None else [name for name in rows.columns if rows[name].dtype == pl.String]
    counted: Counter[str] = Counter()
    for name in names:
        if name in rows.columns:
            counted += codes_of(rows[name])
    return counted
