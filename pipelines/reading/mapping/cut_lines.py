"""Texts whose every line is a row without names: a log of codes, or a whole scan along a line.

One pattern cuts a line into named cells.  Where a line goes on with several modules, its rest is parted at a mark, and
a second pattern cuts each piece: a row each, with the cells of its line.  A line or piece that holds a code and fits
nothing is a row that cannot be read, so that it is refused and counted.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import polars as pl

from pipelines.reading.account import codes_in
from pipelines.reading.mapping.named_values import Row
from pipelines.reading.mapping.patterns import groups_of

REST, CODES = "rest", "codes"
"""The cell of a line that is parted into pieces, and the one that a piece which fits nothing stands in."""
_LONGEST = 10_000


@dataclass(frozen=True)
class LineCuts:
    """How lines are cut.

    Attributes:
        cut: The pattern of a line; its named groups are cells.
        between: What parts the pieces of its group ``rest``; None: a line is one row.
        piece: The pattern of a piece.
    """

    cut: str
    between: str | None = None
    piece: str | None = None


def rows_of(lines: Sequence[str], how: LineCuts) -> list[Row]:
    """Return the rows of a text's lines."""
    shown = [line[:_LONGEST] for line in lines]
    return [
        row for number, (line, cells) in enumerate(_cut(shown, how.cut), 1) for row in _rows(number, line, cells, how)
    ]


def unfitting(lines: Sequence[str], how: LineCuts) -> list[tuple[int, str]]:
    """Return the numbered lines that begin as those do that fit, and do not fit themselves."""
    shown = [line[:_LONGEST] for line in lines]
    cut = [(number, line, cells) for number, (line, cells) in enumerate(_cut(shown, how.cut), 1)]
    begins = {_first(line) for _, line, cells in cut if cells is not None}
    return [(number, line) for number, line, cells in cut if cells is None and line.strip() and _first(line) in begins]


def _first(line: str) -> str:
    """Return the first word of a line, any letter for its letters and any digit for its digits."""
    word = line.split(maxsplit=1)[0] if line.strip() else ""
    return re.sub(r"\d", "0", re.sub(r"[^\W\d_]", "a", word))


def _rows(number: int, line: str, cells: dict[str, str] | None, how: LineCuts) -> Iterator[Row]:
    if cells is None:
        if codes_in([line]):
            yield number, {CODES: line.strip()}
        return
    if how.between is None or how.piece is None:
        yield number, cells
        return
    pieces = [piece.strip() for piece in cells.pop(REST, "").split(how.between) if piece.strip()]
    for piece, found in _cut(pieces, how.piece):
        yield number, {**cells, **({CODES: piece} if found is None else found)}


def _cut(texts: Sequence[str], pattern: str) -> list[tuple[str, dict[str, str] | None]]:
    """Cut texts into the cells that a pattern names; None for one that it does not fit."""
    groups = groups_of(pattern)
    column = pl.Series("text", texts, dtype=pl.String)
    fit = column.str.contains(pattern)
    found = column.str.extract_groups(pattern).struct.unnest().select(groups).iter_rows(named=True)
    cells = [{name: cell for name, cell in row.items() if cell is not None} for row in found]
    return [(text, row if fits else None) for text, row, fits in zip(texts, cells, fit, strict=True)]
