"""Tables of other programs: delimited text, sheets of workbooks, tables of HTML pages, columns of a fixed width.

What comes out are the cells that a mapping names, as they stand.  A file can hold several
tables of the same columns; the rows of each further one are numbered on from the next ten million.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path

import polars as pl

from pipelines.errors import InputFileError
from pipelines.library_words import in_our_words
from pipelines.reading.account import Found, codes_in
from pipelines.reading.mapping.cut_lines import rows_of, unfitting
from pipelines.reading.mapping.fixed_width import cells_of, columns_of, sections
from pipelines.reading.mapping.html_tables import Page
from pipelines.reading.mapping.mapping_file import EVERY_SHEET, Mapping
from pipelines.reading.mapping.marked_text import without_marks
from pipelines.reading.mapping.named_values import Row, grid_of, pairs_in, records_in
from pipelines.reading.mapping.reshaping import plain, reshaped, unique_names, with_joined
from pipelines.reading.mapping.table_surroundings import Surroundings, fitting, row_text
from pipelines.reading.mapping.translating import (
    CLEAN,
    CROSSED,
    ERASED,
    FLAG,
    NO_ANSWER,
    REPEATED,
    SESSION,
    WIDE,
    WIDE_STATE,
)
from pipelines.reading.mapping.workbook_reader import Formula, sheet_names, sheet_rows
from pipelines.reading.mapping.years import with_year
from pipelines.reading.source import read_text
from pipelines.reading.tabular.raw_table import RawTable, Reject
from pipelines.reading.tabular.splitting import split_rows

PART_ROWS = 10_000_000
_SHOWN = 500
_CELL, _ABOVE = "cell ", "above "

Rows = Iterable[tuple[int, list[str]]]


@dataclass(frozen=True)
class Grid:
    """One table of a file: its name in messages, its numbered rows with the header among them, and what is above it."""

    name: str
    rows: Rows
    before: list[str] = field(default_factory=list)


def read_mapped_table(path: Path, mapping: Mapping) -> RawTable:
    """Read delimited text.

    Args:
        path: The file.
        mapping: Its encoding, delimiter, header row and columns.

    Returns:
        Int64 ``row`` and what the mapping makes (``wide NAME`` with a column a module), and the rows that could not be
        split.

    Raises:
        InputFileError: It cannot be read so at all.
        OSError: It cannot be opened.
    """
    text = without_marks(read_text(path, mapping.encoding))
    text = text if mapping.year is None else with_year(text, mapping.year)
    # The quick way reads a header of one line, and names that its cells alone have.
    if mapping.above or mapping.skip or mapping.crossed or mapping.header != "row" or _over_lines(text, mapping):
        return _read_sections(path, text, mapping)
    above, body = _cut(text, mapping.header_row)
    header = split_header(path, above[-1] if len(above) == mapping.header_row else "", mapping)
    notes: list[str] = []
    known = _places(f"{path} row {mapping.header_row}", header, mapping, notes)
    frame, rejects = split_rows(body, len(header), known, mapping.delimiter, mapping.header_row + 1)
    found = Found(codes_in([text]), columns=(len(known), len(header)))
    return RawTable(_layout_columns(_filled_down(frame, mapping), mapping), rejects, notes, found)


def _over_lines(text: str, mapping: Mapping) -> bool:
    """Say whether a cell of the header goes over the end of its line."""
    above, _ = _cut(text, mapping.header_row)
    return len(above) == mapping.header_row and above[-1].count('"') % 2 == 1


def _filled_down(frame: pl.DataFrame, mapping: Mapping) -> pl.DataFrame:
    """Put what stands above into the empty cells of the columns for which the mapping says so."""
    wanted = {plain(name) for name in mapping.fill_down}
    names = [name for name in mapping.source_names() if plain(name) in wanted]
    if not names:
        return frame
    # A row without any cell says nothing, and nothing is put into it.
    some = pl.any_horizontal(pl.exclude("row").str.strip_chars() != "")
    filled = [
        pl.when(pl.col(name).str.strip_chars() != "").then(pl.col(name)).forward_fill().alias(name)
        for name in (_CELL + name for name in names)
    ]
    return frame.filter(some.fill_null(False)).with_columns(filled)


def _read_sections(path: Path, text: str, mapping: Mapping) -> RawTable:
    """Read delimited text with rows between those of its table, which may begin anew with the same header."""
    at = None if mapping.header == "row" and not mapping.crossed else mapping.header_row
    table = read_grids(path, [Grid("text", _split(text, mapping.delimiter))], mapping, "", at=at)
    if table.found is not None:
        table.found.codes, table.found.parts = codes_in([text]), (0, 0)
    return table


def _split(text: str, delimiter: str) -> Iterator[tuple[int, list[str]]]:
    """Yield the rows of a delimited text; where a quotation mark is not closed, the lines as they stand."""
    reader = csv.reader(io.StringIO(text), delimiter=delimiter)
    number = 1
    lines = text.split("\n")
    while True:
        try:
            cells = next(reader, None)
        except csv.Error:
            yield from ((at, line.split(delimiter)) for at, line in enumerate(lines[number - 1 :], number))
            return
        if cells is None:
            return
        if any(cell.strip() for cell in cells):
            yield number, cells
        number = reader.line_num + 1


def _cut(text: str, header_row: int) -> tuple[list[str], str]:
    """Return the lines down to the header, and the text below."""
    lines = text.split("\n", header_row)
    return lines[:header_row], lines[header_row] if len(lines) > header_row else ""


def split_header(path: Path, line: str, mapping: Mapping) -> list[str]:
    """Return the names of a header line.

    Raises:
        InputFileError: Its quotes are not closed, or it is far too long.
    """
    try:
        return unique_names(next(csv.reader([line], strict=True, delimiter=mapping.delimiter), []))
    except csv.Error as error:
        raise InputFileError(
            f"{path} line {mapping.header_row}: the header cannot be split ({in_our_words(error)}). "
            "The file was not loaded."
        ) from error


def has_header(lines: Sequence[str], mapping: Mapping) -> bool:
    """Say whether one of some lines of delimited text has the mapping's columns."""
    cut = (next(_split(line, mapping.delimiter), (0, list[str]()))[1] for line in lines)
    return any(not lacking(unique_names(cells), mapping) for cells in cut)


def read_mapped_sheets(path: Path, mapping: Mapping) -> RawTable:
    """Read the sheets of a workbook that a mapping names; a row that needs a formula without a value is set aside.

    Raises:
        InputFileError: It is no workbook, lacks a sheet, or no sheet has the columns.
        OSError: It cannot be opened.
    """
    every = sheet_names(path)
    wanted = every if EVERY_SHEET in mapping.sheets else [*(mapping.sheets or every[:1])]
    join = mapping.join
    if join is not None and join.sheet not in every:
        raise InputFileError(
            f"{path}: found the sheets {', '.join(every)[:_SHOWN]}; expected {join.sheet!r}, which join.sheet of "
            f"{mapping.name} names. The file was not loaded."
        )
    wanted = [name for name in wanted if join is None or name != join.sheet]
    grids = [Grid(name, sheet_rows(path, name, mapping.decimal, hidden=mapping.hidden)) for name in wanted]
    if join is not None:
        other = [cells for at, cells in sheet_rows(path, join.sheet, mapping.decimal) if at >= join.header_row]
        grids = [Grid(grid.name, with_joined(grid.rows, mapping.header_row, join.keys, other)) for grid in grids]
    grids += [Grid(name, ()) for name in every if name not in wanted and (join is None or name != join.sheet)]
    table = read_grids(path, grids, mapping, "sheet", at=mapping.header_row, choosy=EVERY_SHEET not in mapping.sheets)
    if table.found is not None and table.found.codes is not None:
        for name in every:
            if name not in wanted and (join is None or name != join.sheet):
                table.found.codes += codes_in(cell for _, cells in sheet_rows(path, name) for cell in cells)
    return table


def read_mapped_html(path: Path, text: str, mapping: Mapping) -> RawTable:
    """Read every table of a page whose header has the mapping's columns.

    Raises:
        InputFileError: None has, or the page is too large.
    """
    page = Page(text)
    if page.too_large:
        raise InputFileError(f"{path}: the page has too many cells; split it. The file was not loaded.")
    grids = [
        Grid(f"table {place}", list(enumerate(rows, 1)), page.before[place - 1])
        for place, rows in enumerate(page.tables, 1)
    ]
    if mapping.above and page.after:
        grids.append(Grid("behind", [], page.after))
    table = read_grids(path, grids, mapping, "table", at=1 if mapping.header != "row" else None)
    if table.found is not None:
        table.found.codes = codes_in(page.lines)
    return table


def read_mapped_columns(path: Path, text: str, mapping: Mapping) -> RawTable:
    """Read a text whose columns are parted by blanks; each header that is repeated begins a section of its own.

    Raises:
        InputFileError: No line holds the names of the mapping's columns.
    """
    lines = [(number, line.expandtabs()) for number, line in enumerate(text.replace("\f", "\n").split("\n"), 1)]
    told = fitting([row_text([line]) for _, line in lines], mapping.above)
    outside = [(number, [line]) for (number, line), above in zip(lines, told, strict=True) if above]
    lines = [found for found, above in zip(lines, told, strict=True) if not above]
    rows: list[tuple[int, list[str]]] = []
    names: list[str] = []
    for _, section in sections(lines, mapping.source_names()):
        columns = columns_of(section[0][1], [line for _, line in section[1:]], mapping.source_names())
        header = cells_of(section[0][1], columns)
        if names and header != names:
            raise InputFileError(
                f"{path} line {section[0][0]}: the header here is cut into {', '.join(header)}; expected "
                f"{', '.join(names)} as above. The file was not loaded."
            )
        rows += [(number, cells_of(line, columns)) for number, line in section[bool(names) :]]
        names = header
    first = rows[0][0] if rows else 0
    before = [line for number, (line,) in outside if number < first]
    rows = sorted([*rows, *(found for found in outside if found[0] > first)])
    table = read_grids(path, [Grid("text", rows, before)], mapping, "")
    if table.found is not None:
        table.found.codes, table.found.parts = codes_in([text]), (0, 0)
    return table


_WANTED = {
    "pairs": "pairs like name=value along each line",
    "records": "a name and a value a line",
    "lines": "lines that fit lines.cut",
}


def read_named_values(path: Path, text: str, mapping: Mapping) -> RawTable:
    """Read a text in which every value stands behind its name.

    Raises:
        InputFileError: It is none, or lacks the mapping's names.
    """
    lines = text.replace("\f", "\n").split("\n")
    if mapping.lines is not None:
        rows: list[Row] | None = rows_of(lines, mapping.lines) or None
    else:
        rows = pairs_in(lines) if mapping.format == "pairs" else records_in(lines)
    if rows is None:
        wanted = _WANTED[mapping.format]
        raise InputFileError(
            f"{path}: the text is no list of names and values; expected {wanted}. The file was not loaded."
        )
    table = read_grids(path, [Grid("text", grid_of(rows, mapping.source_names()))], mapping, "")
    if mapping.lines is not None and mapping.table != "scans":  # of scans a line without a code may be any words
        why = "the line begins as those of the list do, and does not fit lines.cut"
        table.rejects.extend((row, None, line[:_SHOWN], why) for row, line in unfitting(lines, mapping.lines))
    if table.found is not None:
        table.found.codes, table.found.parts = codes_in([text]), (0, 0)
    return table


def read_grids(
    path: Path, grids: Sequence[Grid], mapping: Mapping, part: str, *, at: int | None = None, choosy: bool = False
) -> RawTable:
    """Read the tables of a file that have a mapping's columns.

    Args:
        path: The file, for messages.
        grids: Its tables; one without rows is not read and counted.
        mapping: Its columns.
        part: What a table is called.
        at: The row of the header; None: the first row that has the columns.
        choosy: A table with rows must have the columns.

    Returns:
        As ``read_mapped_table``; ``found`` counts what looks like a code in every cell.

    Raises:
        InputFileError: No table has the columns, or one of them lacks some and ``choosy`` is set.
    """
    rows = _Grids(path, mapping, part, len(grids), None if mapping.above else at)
    first: InputFileError | None = None
    for place, grid in enumerate(grids):
        try:
            rows.read(place, grid)
        except InputFileError as error:
            first = first or error
            if choosy and grid.rows:
                raise
    if not rows.found.parts[0]:
        raise first or InputFileError(f"{path}: no table was found. The file was not loaded.")
    return rows.table()


class _Grids:
    """Collects the rows of a file's tables, one after the other.

    Attributes:
        found: What was seen of the file so far.
    """

    def __init__(self, path: Path, mapping: Mapping, part: str, count: int, at: int | None) -> None:
        self.found = Found(Counter(), part=part, parts=(0, count))
        self._path, self._mapping, self._at = path, mapping, at
        self._crossed: list[str] = []
        self._unit = ""
        self._units: list[str] | None = None
        self._many = count > 1
        self._around = Surroundings(mapping)
        self._numbers: list[int] = []
        self._cells: dict[str, list[str]] = {_CELL + name: [] for name in mapping.source_names()}
        self._told: dict[str, list[str]] = {_ABOVE + name: [] for name in mapping.told_above()}
        self._notes: list[str] = []
        self._rejects: list[Reject] = []

    def read(self, place: int, grid: Grid) -> None:
        """Read one table.

        Raises:
            InputFileError: It has not the columns; it is counted as not read.
        """
        mapping, at = self._mapping, self._at
        rows = iter(grid.rows)
        if mapping.header != "row":
            shaped, at = reshaped(rows, mapping.header, at or mapping.header_row)
            rows = iter(shaped)
        above, header = _header(rows, mapping, at)
        self._see(cell for cells in above for cell in cells)
        lines = [row_text(cells) for cells in (*([line] for line in grid.before), *above)]
        code = next((_CELL + name for name in self._mapping.columns.get("code", ())), "")
        for words, now in self._around.begin(grid.name if self.found.part == "sheet" else None, lines):
            self._add(place * PART_ROWS + 1, {code: words}, now)
        where = f"row {self._at}" if self._at is not None else "header"
        where = f"{self.found.part} {grid.name!r} {where}" if self._many else where
        read, there = self.found.parts
        try:
            known = self._known(f"{self._path} {where}", header)
        except InputFileError:
            if grid.rows or not grid.before:
                self.found.unread.append(grid.name)
            else:
                self.found.parts = read, there - 1  # lines only, and they are read
            self._see(header)
            self._see(cell for _, cells in rows for cell in cells)
            raise
        if place and read:
            self._notes.append(f"rows of the {self.found.part} {grid.name!r} are numbered from {place * PART_ROWS + 1}")
        self.found.parts = read + 1, there
        self.found.columns = len(known), len([name for name in header if name])
        self._take(rows, header, known, place * PART_ROWS if read else 0)

    def _known(self, where: str, header: list[str]) -> dict[str, int]:
        """Find the columns, those among them whose names hold a module and a code."""
        known = _places(where, header, self._mapping, self._notes)
        there = [plain(name) for name in header]
        if any(name not in there for name in _odometers(self._mapping)):
            own = self._mapping.constants["odometer_unit"]
            self._unit = "mi" if own == "km" else "km"
            if self._units is None:
                self._units = [own] * len(self._numbers)
            self._notes.append(f"{where}: the odometer is in {self._unit} here, as its heading says")
        elif self._units is not None:
            self._unit = self._mapping.constants["odometer_unit"]
        if self._mapping.crossed:
            names = pl.Series(header, dtype=pl.String)
            found = {
                name: header.index(name)
                for name in header
                if name and names.str.contains(self._mapping.crossed)[header.index(name)]
            }
            if not found:
                raise InputFileError(
                    f"{where}: no name fits the pattern crossed of {self._mapping.name}; it has "
                    f"{', '.join(header)[:_SHOWN]}. The file was not loaded."
                )
            for name, place in found.items():
                known[_CELL + name] = place
                if _CELL + name not in self._cells:
                    self._cells[_CELL + name] = [""] * len(self._numbers)
                    self._crossed.append(name)
        return known

    def _take(self, rows: Rows, header: Sequence[str], known: dict[str, int], start: int) -> None:
        again = [plain(name) for name in header]
        for row, cells in self._around.rows(rows):
            self._see(cells)
            if [plain(cell) for cell in cells] == again:
                continue
            taken = {name: cells[at] if at < len(cells) else "" for name, at in known.items()}
            formula = next((name for name, cell in taken.items() if isinstance(cell, Formula)), None)
            if formula is not None:
                why = "a formula without a stored value; expected the value itself"
                self._rejects.append((start + row, formula.removeprefix(_CELL), taken[formula][:_SHOWN], why))
                continue
            self._add(start + row, taken, self._around.now())
        if self._around.skipped:
            self._notes.append(f"{self._around.skipped} rows were passed over, as {self._mapping.name} says under skip")

    def _see(self, cells: Iterable[str]) -> None:
        if self.found.codes is not None:
            self.found.codes += codes_in(cells)

    def _add(self, row: int, cells: dict[str, str], now: dict[str, str]) -> None:
        if self._units is not None:
            self._units.append(self._unit)
        self._numbers.append(row)
        for name, column in self._cells.items():
            column.append(cells.get(name, ""))
        for name, column in self._told.items():
            column.append(now.get(name.removeprefix(_ABOVE), ""))

    def table(self) -> RawTable:
        """Return what was read."""
        schema = {"row": pl.Int64, **dict.fromkeys([*self._cells, *self._told], pl.String)}
        frame = pl.DataFrame({"row": self._numbers, **self._cells, **self._told}, schema=schema)
        cells = _layout_columns(_filled_down(frame, self._mapping), self._mapping, self._crossed)
        if self._units is not None:
            cells = cells.with_columns(odometer_unit=pl.Series(self._units, dtype=pl.String))
        return RawTable(cells, self._rejects, list(dict.fromkeys(self._notes)), self.found)


def _header(
    rows: Iterator[tuple[int, list[str]]], mapping: Mapping, at: int | None
) -> tuple[list[list[str]], list[str]]:
    """Take rows down to the header; return those above it, and the header, blank where there is none."""
    above: list[list[str]] = []
    for number, cells in rows:
        names = unique_names(cells)
        if at is None and not lacking(names, mapping):
            return above, names
        if at is not None and number >= at:
            if number == at:
                return above, names
            return [*above, cells], []
        above.append(cells)
    return above, []


def lacking(names: Sequence[str], mapping: Mapping) -> list[str]:
    """Return which of the mapping's columns a header lacks; an odometer in the other unit counts as there."""
    there = [plain(name) for name in names]
    return [
        name
        for name in mapping.source_names()
        if plain(name) not in there and (plain(name) not in _odometers(mapping) or _other_unit(name) not in there)
    ]


def _odometers(mapping: Mapping) -> list[str]:
    told = mapping.constants.get("odometer_unit") in ("km", "mi") and "odometer_unit" not in mapping.columns
    return [plain(name) for name in mapping.columns.get("odometer", ())] if told else []


def _other_unit(name: str) -> str:
    """Return a name with mi for km and km for mi: what a sheet of cars from elsewhere calls the same column."""
    return re.sub(r"\b(km|mi|miles)\b", lambda unit: "mi" if unit[0] == "km" else "km", plain(name))


def _places(place: str, header: list[str], mapping: Mapping, notes: list[str]) -> dict[str, int]:
    """Find the mapping's columns in a header; capitals and spaces around a name do not matter."""
    missing = lacking(header, mapping)
    shown = ", ".join(name or "a blank name" for name in header)[:_SHOWN] or "nothing"
    if missing:
        raise InputFileError(
            f"{place}: the header lacks {', '.join(missing)}, which {mapping.name} needs; it has {shown}. "
            "The file was not loaded."
        )
    names = [plain(name) for name in header]
    wanted = {name: plain(name) for name in mapping.source_names()}
    # The second of two columns of one name is named so; a mapping that names only the first would lose the other.
    twice = sorted(name for name in wanted.values() if f"{name} (2)" in names and f"{name} (2)" not in wanted.values())
    if twice:
        raise InputFileError(
            f"{place}: the header has {', '.join(twice)} more than once; expected it once. The file was not loaded."
        )
    unknown = [name for name in header if name and plain(name) not in wanted.values()]
    if unknown:
        notes.append(f"left out, not in {mapping.name}: {', '.join(unknown)[:_SHOWN]}")
    return {_CELL + name: names.index(bare if bare in names else _other_unit(name)) for name, bare in wanted.items()}


def _layout_columns(frame: pl.DataFrame, mapping: Mapping, crossed: Sequence[str] = ()) -> pl.DataFrame:
    """Name the cells by the layout's columns; several that make one are joined by a space, parts of a code by none."""
    made = {
        column: pl.concat_str(
            [pl.col(_CELL + name).str.strip_chars() for name in names],
            separator="" if column == "code" and mapping.codes.one_code else " ",
            ignore_nulls=True,
        )
        for column, names in mapping.made().items()
    }
    for column in mapping.told_above():
        if _ABOVE + column in frame.columns:
            own = made.get(column, pl.lit(None, pl.String))
            made[column] = pl.when(own.str.strip_chars() != "").then(own).otherwise(pl.col(_ABOVE + column))
    named = (made_of.alias(column) for column, made_of in made.items())
    beside = [pl.col(_CELL + name).alias(WIDE + name) for name in mapping.wide]
    beside += [pl.col(_CELL + state).alias(WIDE_STATE + name) for name, state in mapping.wide_states.items()]
    beside += [pl.col(_CELL + name).alias(FLAG + name) for name in (mapping.flags.columns if mapping.flags else ())]
    beside += [pl.col(_CELL + name).alias(CROSSED + name) for name in crossed]
    beside += [pl.col(_CELL + mapping.codes.clean).alias(CLEAN)] if mapping.codes.clean else []
    listed = mapping.codes.silent_modules
    beside += [pl.col(_CELL + listed).alias(NO_ANSWER)] if listed else []
    beside += [pl.col(_CELL + mapping.codes.repeated).alias(REPEATED)] if mapping.codes.repeated else []
    beside += [pl.col(_CELL + mapping.session).alias(SESSION)] if mapping.session else []
    beside += [pl.col(_CELL + mapping.erased.column).alias(ERASED)] if mapping.erased else []
    return frame.select("row", *named, *beside)


def sheets_with_columns(path: Path, mapping: Mapping) -> list[str]:
    """Return the sheets of a workbook, of those a mapping names, whose header has its columns."""
    every = sheet_names(path)
    wanted = every if EVERY_SHEET in mapping.sheets else [*(mapping.sheets or every[:1])]
    found = []
    for name in wanted:
        rows = sheet_rows(path, name) if name in every else iter(())
        at = None if mapping.above else mapping.header_row
        if not lacking(_header(rows, mapping, at)[1], mapping):
            found.append(name)
    return found


def first_cells(path: Path, mapping: Mapping, count: int) -> list[str]:
    """Return the cells of a workbook's first rows that are not blank, of the sheets that a mapping names."""
    every = sheet_names(path)
    wanted = every if EVERY_SHEET in mapping.sheets else [*(mapping.sheets or every[:1])]
    return [cell for name in wanted for _, cells in islice(sheet_rows(path, name), count) for cell in cells]
