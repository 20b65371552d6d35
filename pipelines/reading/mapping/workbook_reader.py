"""Read one sheet of a workbook as rows of text.

A workbook is a packed folder: how large it unpacks is looked at first, so that a
small file cannot fill the memory.  A formula is never worked out: the value that the
workbook stores beside it counts, and where there is none the cell is a ``Formula``.
"""

from __future__ import annotations

import datetime as dt
import io
import re
import warnings
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import repeat
from pathlib import Path
from typing import Any

from pipelines.errors import InputFileError
from pipelines.library_words import in_our_words
from pipelines.reading.mapping.open_documents import is_open_document, rows_of, sheets_of
from pipelines.reading.source import read_bytes

LARGEST_UNPACKED = 256 * 2**20
_MOST_PARTS = 5_000
_ROW, _FORMULA = re.compile(rb"<(?:\w+:)?row\b[^>]*>"), re.compile(rb"<(?:\w+:)?f[ >]")
_HIDDEN, _NUMBER = re.compile(rb"\bhidden=[\"'](?:1|true)"), re.compile(rb"\br=[\"'](\d{1,7})")
_MERGED = re.compile(rb"<(?:\w+:)?mergeCell [^>]*\bref=[\"']([A-Z]{1,3})(\d{1,7}):[A-Z]{1,3}(\d{1,7})[\"']")
_MOST_ROWS, _MOST_CELLS = 1_048_576, 20_000_000


class Formula(str):
    """A cell that holds a formula without a stored value, as it is written."""


def sheet_rows(
    path: Path, sheet: str | None, decimal: str = ".", *, hidden: bool = True
) -> Iterator[tuple[int, list[str]]]:
    """Yield the rows of a sheet, the first being 1.

    Args:
        path: The workbook.
        sheet: Its name; None: the first sheet.
        decimal: The decimal mark to write numbers with.
        hidden: Whether rows that the workbook hides are there too.

    Returns:
        Number of each row and its cells, "" where blank, without the blank ones at its end; days and times as
        2026-11-23 09:15:00, a formula without a stored value as ``Formula``.

    Raises:
        InputFileError: It is no workbook, lacks the sheet, or unpacks to too much.
        OSError: It cannot be opened.
    """
    content = read_bytes(path)
    if is_open_document(content):
        yield from rows_of(path, sheet, hidden=hidden)
        return
    with _opened(path) as (book, formulas):
        names = [found.title for found in book.worksheets]
        if not names or (sheet is not None and sheet not in names):
            wanted = f"a sheet named {sheet!r}" if sheet is not None else "a sheet"
            raise InputFileError(
                f"{path}: found {', '.join(names)[:200] or 'no sheet'}; expected {wanted}. The file was not loaded."
            )
        found = book[sheet if sheet is not None else names[0]]
        beside = formulas[found.title] if formulas is not None else None
        # The size that a sheet tells of itself is not trusted: every row would be filled up to it.
        for one in (found, beside):
            if one is not None:
                one.reset_dimensions()
        left = frozenset() if hidden else _hidden_rows(path, found)
        merged = _Merged(path, found)
        count = 0
        written: Iterator[Any] = beside.iter_rows(max_row=_MOST_ROWS) if beside is not None else repeat(())
        for number, (row, told) in enumerate(zip(found.iter_rows(max_row=_MOST_ROWS), written, strict=False), 1):
            if number in left:
                continue
            count += len(row)
            if count > _MOST_CELLS:
                raise InputFileError(
                    f"{path} row {number}: more than {_MOST_CELLS} cells; expected fewer. The file was not loaded."
                )
            cells = merged.filled(number, [_text(cell, decimal) for cell in row])
            _mark_formulas(cells, told)
            while cells and not cells[-1]:
                cells.pop()
            if cells:
                yield number, cells


def _mark_formulas(cells: list[str], written: Any) -> None:
    """Put the formulas that have no stored value in their cells' place."""
    for place, cell in enumerate(written):
        if cell.data_type == "f" and cell.value is not None and place < len(cells) and not cells[place]:
            cells[place] = Formula(cell.value if isinstance(cell.value, str) else "a formula over several cells")


def sheet_names(path: Path) -> list[str]:
    """Return the names of a workbook's sheets, in their order.

    Raises:
        InputFileError: It is no workbook, or unpacks to too much.
        OSError: It cannot be opened.
    """
    if is_open_document(read_bytes(path)):
        return [*sheets_of(path)]
    with _opened(path) as (book, _):
        return [found.title for found in book.worksheets]


def hidden_rows(path: Path, sheet: str) -> int:
    """Return how many rows of a sheet the workbook hides.

    Raises:
        InputFileError: It is no workbook, or unpacks to too much.
        OSError: It cannot be opened.
    """
    if is_open_document(read_bytes(path)):
        return sum(hidden for _, _, hidden in sheets_of(path).get(sheet, []))
    with _opened(path) as (book, _):
        return len(_hidden_rows(path, book[sheet]))


def _hidden_rows(path: Path, sheet: Any) -> frozenset[int]:
    """Return the numbers of the rows that are marked hidden; the library's streaming reader does not tell them."""
    with zipfile.ZipFile(path) as packed:
        text = packed.read(sheet._worksheet_path)
    heads = (head for head in _ROW.findall(text) if _HIDDEN.search(head))
    return frozenset(int(number[1]) for head in heads if (number := _NUMBER.search(head)))


class _Merged:
    """Puts what a cell merged over several rows holds into each of them; the library's streaming reader does not."""

    def __init__(self, path: Path, sheet: Any) -> None:
        with zipfile.ZipFile(path) as packed:
            text = packed.read(sheet._worksheet_path)
        self._until: dict[tuple[int, int], int] = {}
        for column, first, last in ((m[1], int(m[2]), int(m[3])) for m in _MERGED.finditer(text)):
            if last > first:
                self._until[(first, _column_number(column))] = last
        self._open: dict[int, tuple[int, str]] = {}

    def filled(self, number: int, cells: list[str]) -> list[str]:
        """Return the cells of a row with what counts for it from above."""
        if not self._until:
            return cells
        self._open = {place: told for place, told in self._open.items() if told[0] >= number}
        for place, (_, text) in self._open.items():
            if place < len(cells) and not cells[place]:
                cells[place] = text
        for place, cell in enumerate(cells):
            if cell and (number, place) in self._until:
                self._open[place] = self._until[(number, place)], cell
        return cells


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number - 1


@contextmanager
def _opened(path: Path) -> Iterator[tuple[Any, Any]]:
    """Open a workbook, once for its values and, where it has formulas, once for them.

    Whatever goes wrong while it is read refuses the file.
    """
    content = read_bytes(path)
    _check_unpacked(path, content)
    try:
        with warnings.catch_warnings(action="ignore"):  # on parts that are not read here, like styles
            import openpyxl  # noqa: PLC0415 - loaded for workbooks only

            book, formulas = (
                openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=values, keep_links=False)
                if values or _has_formulas(content)
                else None
                for values in (True, False)
            )
        yield book, formulas
    except (InputFileError, GeneratorExit):
        raise
    except Exception as error:  # a damaged workbook ends in almost any error of the library
        first = error.__cause__ or error.__context__ or error
        reason = " ".join(str(first).split())[:200] or type(first).__name__
        raise InputFileError(
            f"{path}: it cannot be read as a workbook ({reason}); expected .xlsx. The file was not loaded."
        ) from error


def _check_unpacked(path: Path, content: bytes) -> None:
    """Refuse a workbook that would unpack to more than is good, by what its directory says.

    No part can unpack to more than it says there: reading it stops at that size.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            parts = packed.infolist()
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError) as error:
        raise InputFileError(
            f"{path}: it cannot be read as a workbook ({in_our_words(error)}); expected .xlsx. The file was not loaded."
        ) from error
    size = sum(part.file_size for part in parts)
    if size > LARGEST_UNPACKED or len(parts) > _MOST_PARTS:
        raise InputFileError(
            f"{path}: the workbook unpacks to {len(parts)} parts and {size / 2**20:.0f} MB; expected at most "
            f"{_MOST_PARTS} parts and {LARGEST_UNPACKED // 2**20} MB. The file was not loaded."
        )


def _has_formulas(content: bytes) -> bool:
    """Say whether any sheet holds a formula."""
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        sheets = (part for part in packed.namelist() if "sheet" in part.lower() and part.endswith(".xml"))
        return any(_FORMULA.search(packed.read(part)) for part in sheets)


def _text(cell: Any, decimal: str) -> str:
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dt.datetime):
        whole_day = "h" not in str(cell.number_format).lower()
        return value.strftime("%Y-%m-%d" if whole_day else "%Y-%m-%d %H:%M:%S")
    if isinstance(value, float):
        return (str(int(value)) if value.is_integer() else repr(value)).replace(".", decimal)
    return str(value)
