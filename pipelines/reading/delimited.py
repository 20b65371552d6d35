"""Split a comma file into rows of cells, and set aside each row that does not come out even.

Rows are numbered as a spreadsheet shows them: the header is row 1.  A file
without quotation marks is split in one go; one with them is read row by row,
and an opening quote that is never closed spoils its own line only.
"""

from __future__ import annotations

import csv
import io
import itertools
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import polars as pl

from pipelines.errors import InputFileError
from pipelines.reading.headers import match_header
from pipelines.reading.layouts import Layout
from pipelines.reading.sources import read_text

Reject = tuple[int | None, str | None, str | None, str]
_SHOWN = 120
_BLOCK = 4_000
_EMPTY_LINE = ", \t"
_LONGEST_HEADER = 65_536


@dataclass
class RawTable:
    """A table as it stands in a file, before its cells are checked.

    Attributes:
        frame: Int64 ``row`` and the known columns as String, trimmed, null where blank; rows without any cell left out.
        rejects: Rows that could not be split: row, column, value, why.
        notes: What else was noticed.
    """

    frame: pl.DataFrame
    rejects: list[Reject] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def read_header(path: Path, text: str) -> list[str]:
    """Return the names of the first line.

    Raises:
        InputFileError: The line is far too long, is split by semicolons or tabs, or its quotes are not closed.
    """
    line = text.partition("\n")[0]
    if len(line) > _LONGEST_HEADER:
        raise InputFileError(
            f"{path} line 1: found {len(line)} characters; expected a header of at most {_LONGEST_HEADER}. "
            "The file was not loaded."
        )
    for mark, name in ((";", "semicolons"), ("\t", "tabs")):
        if mark in line and "," not in line:
            raise InputFileError(f"{path}: the header is split by {name}; expected commas. The file was not loaded.")
    try:
        return next(csv.reader([line], strict=True), [])
    except csv.Error as error:
        raise InputFileError(f"{path}: the header cannot be split ({error}). The file was not loaded.") from error


def read_delimited(path: Path, layout: Layout) -> RawTable:
    """Read a comma file.

    Args:
        path: The file.
        layout: What it should be.

    Returns:
        Its rows and the rows that could not be split.

    Raises:
        InputFileError: The file cannot be the layout at all.
    """
    text = read_text(path)
    notes: list[str] = []
    header = read_header(path, text)
    known = match_header(path, header, layout, notes)
    body = text.partition("\n")[2]
    frame, rejects = split_rows(body, len(header), known)
    return RawTable(tidy(frame), rejects, notes)


def split_rows(
    body: str, width: int, known: dict[str, int], delimiter: str = ",", first_row: int = 2
) -> tuple[pl.DataFrame, list[Reject]]:
    """Split the lines below a header.

    Args:
        body: The text below the header.
        width: How many cells a row has.
        known: Name of each column to keep, to its place from 0.
        delimiter: What stands between two cells, one character.
        first_row: The number of the body's first line.

    Returns:
        Int64 ``row`` and the columns as they stand, as String; and the rows that could not be split.
    """
    split = _split_quoted if '"' in body else _split_plain
    return split(body, width, known, delimiter, first_row)


def tidy(frame: pl.DataFrame) -> pl.DataFrame:
    """Trim every cell, make blank ones null and leave out rows without any cell."""
    cells = pl.exclude("row").str.strip_chars()
    trimmed = frame.with_columns(pl.when(cells.str.len_bytes() > 0).then(cells).name.keep())
    return trimmed.filter(pl.any_horizontal(pl.exclude("row").is_not_null()))


def _split_plain(
    body: str, width: int, known: dict[str, int], delimiter: str, first_row: int
) -> tuple[pl.DataFrame, list[Reject]]:
    """Split a body without quotation marks, all lines at once."""
    lines = pl.DataFrame({"line": [body]}).select(pl.col("line").str.split("\n").explode(empty_as_null=True))
    lines = lines.select(
        pl.int_range(first_row, pl.len() + first_row, dtype=pl.Int64).alias("row"),
        "line",
        cells=pl.col("line").str.count_matches(delimiter, literal=True) + 1,
    ).filter(pl.col("line").str.strip_chars(_EMPTY_LINE + delimiter).str.len_bytes() > 0)
    uneven = lines.filter(pl.col("cells") != width)
    rejects = [_uneven(row, line, width, cells) for row, line, cells in uneven.iter_rows()]
    even = lines.filter(pl.col("cells") == width)
    if even.is_empty():
        return _frame([], {name: [] for name in known}), rejects
    content = even["line"].str.join("\n").item().encode()
    names = {f"cell {place}": pl.String for place in range(width)}
    split = pl.read_csv(
        io.BytesIO(content), has_header=False, schema=names, separator=delimiter, quote_char=None, glob=False
    )
    columns = [split[f"cell {place}"].alias(name) for name, place in known.items()]
    return pl.DataFrame([even["row"], *columns]), rejects


def _split_quoted(
    body: str, width: int, known: dict[str, int], delimiter: str, first_row: int
) -> tuple[pl.DataFrame, list[Reject]]:
    """Split a body with quotation marks, row by row, a block of rows at a time to keep memory small."""
    rejects: list[Reject] = []
    records = _records(body, rejects, delimiter, first_row)
    blocks: list[pl.DataFrame] = []
    while block := list(itertools.islice(records, _BLOCK)):
        even = [(row, cells) for row, cells in block if len(cells) == width]
        columns = {name: [cells[place] for _, cells in even] for name, place in known.items()}
        blocks.append(_frame([row for row, _ in even], columns))
        rejects += [
            _uneven(row, delimiter.join(cells), width, len(cells))
            for row, cells in block
            if len(cells) != width and "".join(cells).strip(_EMPTY_LINE + delimiter)
        ]
    return pl.concat([_frame([], {name: [] for name in known}), *blocks]), rejects


def _records(body: str, rejects: list[Reject], delimiter: str, first_row: int) -> Iterator[tuple[int, list[str]]]:
    """Yield each row that can be split; after one that cannot, go on with the line behind its first line."""
    lines = _Lines(body)
    reader = csv.reader(lines, strict=True, delimiter=delimiter)
    for row in itertools.count(first_row):
        start = lines.at
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            rejects.append((row, None, lines.lines[start].rstrip("\n")[:_SHOWN], _why_not_split(str(error), delimiter)))
            lines.at = start + 1
            continue
        yield row, cells


class _Lines:
    """The lines of a text; the reader can be sent back to one."""

    def __init__(self, body: str) -> None:
        self.lines = io.StringIO(body, newline="\n").readlines()
        self.at = 0

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        if self.at >= len(self.lines):
            raise StopIteration
        self.at += 1
        return self.lines[self.at - 1]


def _why_not_split(error: str, delimiter: str) -> str:
    if "unexpected end" in error:
        return "a quotation mark is opened and never closed"
    if "field larger" in error:
        return f"a cell is longer than {csv.field_size_limit()} characters"
    wanted = "a comma" if delimiter == "," else repr(delimiter)
    return f"text stands behind a closing quotation mark; expected {wanted}"


def _uneven(row: int, line: str, width: int, cells: int) -> Reject:
    return row, None, line[:_SHOWN], f"expected {width} cells as in the header, found {cells}"


def _frame(rows: list[int], columns: dict[str, list[str]]) -> pl.DataFrame:
    return pl.DataFrame({"row": rows, **columns}, schema={"row": pl.Int64, **dict.fromkeys(columns, pl.String)})
