"""Tables of other programs: delimited text, and sheets of workbooks.

What comes out are the cells that a mapping names, as they stand.
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path

import polars as pl

from pipelines.errors import InputFileError
from pipelines.reading.mapping.mapping_file import Mapping
from pipelines.reading.mapping.translating import WIDE
from pipelines.reading.mapping.workbook_reader import Formula, sheet_rows
from pipelines.reading.source import read_text
from pipelines.reading.tabular.raw_table import RawTable, Reject
from pipelines.reading.tabular.splitting import split_rows

_SHOWN = 500
_CELL = "cell "


def read_mapped_table(path: Path, mapping: Mapping) -> RawTable:
    """Read delimited text.

    Args:
        path: The file.
        mapping: Its encoding, delimiter, header row and columns.

    Returns:
        Int64 ``row`` and the layout's columns (or ``wide NAME``), and the rows that could not be split.

    Raises:
        InputFileError: It cannot be read so at all.
        OSError: It cannot be opened.
    """
    text = read_text(path, mapping.encoding)
    above, body = _cut(text, mapping.header_row)
    header = split_header(path, above[-1] if len(above) == mapping.header_row else "", mapping)
    notes: list[str] = []
    known = _places(path, header, mapping, notes)
    frame, rejects = split_rows(body, len(header), known, mapping.delimiter, mapping.header_row + 1)
    return RawTable(_layout_columns(frame, mapping), rejects, notes)


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
        return [name.strip() for name in next(csv.reader([line], strict=True, delimiter=mapping.delimiter), [])]
    except csv.Error as error:
        raise InputFileError(
            f"{path} line {mapping.header_row}: the header cannot be split ({error}). The file was not loaded."
        ) from error


def read_mapped_sheet(path: Path, mapping: Mapping) -> RawTable:
    """Read a sheet of a workbook, as ``read_mapped_table`` does delimited text; a row with a formula is set aside."""
    rows = sheet_rows(path, mapping.sheet, mapping.decimal)
    names = _sheet_header(rows, mapping)
    notes: list[str] = []
    known = _places(path, names, mapping, notes)
    rejects: list[Reject] = []
    numbers: list[int] = []
    columns: dict[str, list[str]] = {name: [] for name in known}
    for row, cells in rows:
        taken = {name: cells[place] if place < len(cells) else "" for name, place in known.items()}
        formula = next((name for name, cell in taken.items() if isinstance(cell, Formula)), None)
        if formula is not None:
            rejects.append(
                (row, formula.removeprefix(_CELL), taken[formula][:_SHOWN], "a formula; expected the value itself")
            )
            continue
        numbers.append(row)
        for name, cell in taken.items():
            columns[name].append(cell)
    schema = {"row": pl.Int64, **dict.fromkeys(columns, pl.String)}
    frame = pl.DataFrame({"row": numbers, **columns}, schema=schema)
    return RawTable(_layout_columns(frame, mapping), rejects, notes)


def lacking(names: Sequence[str], mapping: Mapping) -> list[str]:
    """Return which of the mapping's columns a header lacks."""
    plain = [name.strip().lower() for name in names]
    return [name for name in mapping.source_names() if name.strip().lower() not in plain]


def _places(path: Path, header: list[str], mapping: Mapping, notes: list[str]) -> dict[str, int]:
    """Find the mapping's columns in a header; capitals and spaces around a name do not matter."""
    place = f"{path} row {mapping.header_row}"
    missing = lacking(header, mapping)
    shown = ", ".join(name or "a blank name" for name in header)[:_SHOWN] or "nothing"
    if missing:
        raise InputFileError(
            f"{place}: the header lacks {', '.join(missing)}, which {mapping.name} needs; it has {shown}. "
            "The file was not loaded."
        )
    names = [name.lower() for name in header]
    wanted = {name: name.strip().lower() for name in mapping.source_names()}
    twice = sorted(name for name, times in Counter(names).items() if times > 1 and name in wanted.values())
    if twice:
        raise InputFileError(
            f"{place}: the header has {', '.join(twice)} more than once; expected it once. The file was not loaded."
        )
    unknown = [name for name in header if name and name.lower() not in wanted.values()]
    if unknown:
        notes.append(f"left out, not in {mapping.name}: {', '.join(unknown)[:_SHOWN]}")
    return {_CELL + name: names.index(plain) for name, plain in wanted.items()}


def _layout_columns(frame: pl.DataFrame, mapping: Mapping) -> pl.DataFrame:
    """Name the cells by the layout's columns; several that make one are joined by a space."""
    made = [
        pl.concat_str(
            [pl.col(_CELL + name).str.strip_chars() for name in names], separator=" ", ignore_nulls=True
        ).alias(column)
        for column, names in mapping.columns.items()
    ]
    return frame.select("row", *made, *(pl.col(_CELL + name).alias(WIDE + name) for name in mapping.wide))


def sheet_header(path: Path, mapping: Mapping) -> list[str]:
    """Return the column names of a workbook's sheet, none where its header row is blank."""
    return _sheet_header(sheet_rows(path, mapping.sheet), mapping)


def _sheet_header(rows: Iterator[tuple[int, list[str]]], mapping: Mapping) -> list[str]:
    """Take rows down to the header, and return it."""
    number, cells = next((found for found in rows if found[0] >= mapping.header_row), (0, []))
    return [name.strip() for name in cells] if number == mapping.header_row else []


def first_cells(path: Path, mapping: Mapping, count: int) -> list[str]:
    """Return the cells of a workbook sheet's first rows that are not blank."""
    return [cell for _, cells in islice(sheet_rows(path, mapping.sheet), count) for cell in cells]
