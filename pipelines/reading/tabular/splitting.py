"""Split lines into cells, and set aside each row that does not come out even.

Lines are split all at once where no cell goes over a line's end.  Where one does,
or a quotation mark is opened and never closed, the text is read row by row, and
such a mark spoils its own line only.  So does one that is closed some lines later
and swallows whole rows: a cell over several lines holds no line that is a row.
"""

from __future__ import annotations

import csv
import io
import itertools
from collections.abc import Iterator

import polars as pl

from pipelines.reading.tabular.raw_table import Reject

_SHOWN = 120
_BLOCK = 4_000
_MANY_QUOTES = 400_000
_EMPTY_LINE = ", \t"
_QUOTED_CELL = '"(?:[^"]|"")*"'


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
    has_quotes, content = '"' in body, body.encode()
    bare = _without_quoted(content, delimiter) if has_quotes else content
    if b'"' not in bare and _is_even(bare, width, delimiter):
        frame = _split_even(content, width, known, delimiter)
        rows = pl.int_range(first_row, frame.height + first_row, dtype=pl.Int64, eager=True)
        return frame.insert_column(0, rows.alias("row")), []
    text = pl.DataFrame({"line": [body]}).select(pl.col("line").str.split("\n").explode(empty_as_null=True))
    lines = text.with_row_index("row", first_row).with_columns(pl.col("row").cast(pl.Int64))
    if has_quotes and not lines["line"].str.contains(_whole_row(delimiter)).all():
        return _split_row_by_row(body, width, known, delimiter, first_row)
    return _split_lines(lines, width, known, delimiter)


def _whole_row(delimiter: str) -> str:
    """Return the pattern of a line whose cells all have their quotation marks around them, or none."""
    mark = "\\" + delimiter if delimiter in r"\^$.|?*+()[]{}-&~#" else delimiter
    cell = rf'(?:{_QUOTED_CELL}|[^"{mark}]*)'
    return f"^{cell}(?:{mark}{cell})*$"


def _without_quoted(content: bytes, delimiter: str) -> bytes:
    """Return a text without its cells in quotation marks; as it is where one is no whole cell of one line.

    Between two marks stands what is inside or outside of such cells, turn by turn; nothing between two is a doubled
    one.  A text with many is left as it is: to cut it into as many pieces takes more than it saves.
    """
    if content.count(b'"') > _MANY_QUOTES:
        return content
    pieces = content.split(b'"')
    edges = (delimiter.encode(), b"\n")
    outside, inside = pieces[::2], pieces[1::2]
    begins = all(not piece or piece.startswith(edges) for piece in outside[1:])
    ends = all(not piece or piece.endswith(edges) for piece in outside[:-1])
    even = len(pieces) % 2 and begins and ends and not any(b"\n" in piece for piece in inside)
    return b"".join(outside) if even else content


def _is_even(body: bytes, width: int, delimiter: str) -> bool:
    """Say whether every line has as many cells as the header, an empty one at the end aside."""
    if width < 2 or not body or not delimiter.isascii():
        return False
    # Marks and line ends in the order in which they stand: one end behind every so many marks, whatever is between.
    ends_and_marks = b"\n" + delimiter.encode()
    told = body.translate(None, bytes(sign for sign in range(256) if sign not in ends_and_marks))
    if not body.endswith(b"\n"):
        told += b"\n"
    line = delimiter.encode() * (width - 1) + b"\n"
    return told == line * (len(told) // width)


def _split_even(body: bytes, width: int, known: dict[str, int], delimiter: str) -> pl.DataFrame:
    """Split lines that all have the same number of cells."""
    names = {f"cell {place}": pl.String for place in range(width)}
    split = pl.read_csv(
        io.BytesIO(body),
        has_header=False,
        schema=names,
        separator=delimiter,
        quote_char='"' if b'"' in body else None,
        glob=False,
    )
    return pl.DataFrame([split[f"cell {place}"].alias(name) for name, place in known.items()])


def _split_lines(
    lines: pl.DataFrame, width: int, known: dict[str, int], delimiter: str
) -> tuple[pl.DataFrame, list[Reject]]:
    """Split lines that are a row each, those with odd quotation marks inside one by one."""
    line = pl.col("line")
    lines = lines.filter(line.str.strip_chars(_EMPTY_LINE + delimiter).str.len_bytes() > 0)
    outside = line.str.replace_all(_QUOTED_CELL, "")
    lines = lines.with_columns(cells=outside.str.count_matches(delimiter, literal=True) + 1)
    parts = [_frame([], {name: [] for name in known})]
    even = lines.filter(pl.col("cells") == width)
    if even.height:
        joined = even["line"].str.join("\n").item().encode()
        parts.append(_split_even(joined, width, known, delimiter).insert_column(0, even["row"]))
    rejects: list[Reject] = []
    odd = lines.filter(pl.col("cells") != width)
    if odd.height:  # read row by row, to tell a blank row from one that lacks cells
        _, bad = _split_row_by_row(odd["line"].str.join("\n").item(), width, known, delimiter, 0)
        rejects = [(odd["row"][place or 0], *rest) for place, *rest in bad]
    return pl.concat(parts), rejects


def _split_row_by_row(
    body: str, width: int, known: dict[str, int], delimiter: str, first_row: int
) -> tuple[pl.DataFrame, list[Reject]]:
    """Split a text with quotation marks, row by row, a block of rows at a time to keep memory small."""
    rejects: list[Reject] = []
    records = _records(body, width, rejects, delimiter, first_row)
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


def _records(
    body: str, width: int, rejects: list[Reject], delimiter: str, first_row: int
) -> Iterator[tuple[int, list[str]]]:
    """Yield each row that can be split; after one that cannot, go on with the line behind its first line."""
    lines = _Lines(body)
    reader = csv.reader(lines, strict=True, delimiter=delimiter)
    number = itertools.count(first_row)
    for row in number:
        start = lines.at
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            why: str | None = _why_not_split(str(error), delimiter)
        else:
            why = _swallows(lines.lines[start : lines.at], len(cells), width, delimiter)
            if why is None:
                yield row, cells
                continue
        rejects.append((row, None, lines.lines[start].rstrip("\n")[:_SHOWN], why or ""))
        lines.at = start + 1


def _swallows(spanned: list[str], cells: int, width: int, delimiter: str) -> str | None:
    """Say whether a row over several lines is rows that a stray quotation mark has joined."""
    behind = [line.count(delimiter) + 1 for line in spanned[1:]]
    if width > 1 and any(count >= width for count in behind):
        return "a quotation mark is opened and closed some lines later, behind what looks like a row"
    if behind and cells != width:
        return f"a quotation mark goes over {len(spanned)} lines, and {cells} cells come of it; expected {width}"
    return None


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
