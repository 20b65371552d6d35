"""What stands around the rows of a table and counts for them: lines above it, rows between, the name of its sheet.

A report often tells the car once, above a table of its codes.  The patterns of a mapping
find such lines; what their named groups hold counts for every row below, until another
line says otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice

import polars as pl

from pipelines.reading.mapping.mapping_file import Mapping, plain_group
from pipelines.reading.mapping.patterns import groups_of

_BLOCK = 20_000
Row = tuple[int, list[str]]


class Surroundings:
    """Follows the lines around the rows of a file's tables, in their order.

    Attributes:
        told: Column of the layout to what the lines so far tell of the next row.
        skipped: Rows of this table that were passed over.
    """

    def __init__(self, mapping: Mapping) -> None:
        """Follow by a mapping's patterns; without any, every row is a row and nothing is told."""
        self.told: dict[str, str] = {}
        self.skipped = 0
        self._mapping = mapping
        self._words = {*mapping.codes.no_codes, *mapping.codes.silent}
        self._sheet: dict[str, str] = {}

    def begin(self, sheet: str | None, lines: Sequence[str]) -> list[tuple[str, dict[str, str]]]:
        """Begin a table: on a sheet of its own only what its name and the lines above it tell counts.

        Args:
            sheet: The sheet's name; None where tables follow one another in one text.
            lines: What stands between the table before and this one's header.

        Returns:
            Of each line that says in the mapping's words that a module stored no code or did not answer: the words, and
            what counts for them.
        """
        self.skipped = 0
        if sheet is not None:
            self._sheet = named(sheet, self._mapping.sheet_name)
            self.told = dict(self._sheet)
        said = []
        for line, marked in zip(lines, self._marked(lines), strict=True):
            if self._mapping.above and line.lower() in self._words:
                said.append((line, self.now()))
            else:
                self._take(marked)
        return said

    def rows(self, rows: Iterable[Row]) -> Iterator[Row]:
        """Yield the rows that belong to the table; ``told`` holds what counts for each as it comes."""
        if not self._mapping.above and not self._mapping.skip:
            yield from rows
            return
        left = iter(rows)
        while block := list(islice(left, _BLOCK)):
            texts = [row_text(cells) for _, cells in block]
            passed = fitting(texts, self._mapping.skip)
            for row, marked, skip in zip(block, self._marked(texts), passed, strict=True):
                if marked is not None and row_text(row[1]).lower() not in self._words:
                    self._take(marked)
                elif skip:
                    self.skipped += 1
                else:
                    yield row

    def now(self) -> dict[str, str]:
        """Return what counts for the next row, second parts of columns joined to the first."""
        parts: dict[str, list[str]] = {}
        for name in sorted(self.told):
            parts.setdefault(plain_group(name), []).append(self.told[name])
        return {column: " ".join(texts) for column, texts in parts.items()}

    def _take(self, marked: tuple[bool, dict[str, str]] | None) -> None:
        if marked is not None:
            first, groups = marked
            self.told = {**(self._sheet if first else self.told), **groups}

    def _marked(self, texts: Sequence[str]) -> list[tuple[bool, dict[str, str]] | None]:
        """Return what the first pattern that each text fits tells, and if it is the first of all; None: no pattern."""
        found: list[tuple[bool, dict[str, str]] | None] = [None] * len(texts)
        cells = pl.Series(texts, dtype=pl.String)
        for place, pattern in enumerate(self._mapping.above):
            fits = cells.str.contains(pattern)
            groups = groups_of(pattern)
            taken = cells.str.extract_groups(pattern).struct.unnest().select(groups).rows(named=True) if groups else []
            for at in fits.arg_true().to_list():
                if found[at] is None:
                    told = {name: text for name, text in taken[at].items() if text} if groups else {}
                    found[at] = place == 0, told
        return found


def row_text(cells: Sequence[str]) -> str:
    """Return a row as the patterns see it: its cells that are not blank, joined by a space."""
    return " ".join(text for cell in cells if (text := " ".join(cell.split())))


def named(name: str, pattern: str | None) -> dict[str, str]:
    """Return what a name tells by a pattern: its named groups; nothing where it does not fit."""
    if pattern is None or not groups_of(pattern):
        return {}
    found = pl.Series([name]).str.extract_groups(pattern).struct.unnest().select(groups_of(pattern)).row(0, named=True)
    return {column: text for column, text in found.items() if text}


def fitting(texts: Sequence[str], patterns: Sequence[str]) -> list[bool]:
    """Say of each text whether one of some patterns fits it."""
    cells = pl.Series(texts, dtype=pl.String)
    fits = pl.Series([False] * len(texts), dtype=pl.Boolean)
    for pattern in patterns:
        fits |= cells.str.contains(pattern)
    return fits.to_list()
