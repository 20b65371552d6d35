"""Open Document spreadsheets (ISO/IEC 26300): the rows of each sheet as text, as those of a workbook.

A repeated cell or row stands as often as it says, blank ones at the end of a row or sheet aside; what
a formula came to is what its cell tells.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from xml.parsers import expat

from pipelines.errors import InputFileError
from pipelines.library_words import in_our_words
from pipelines.reading.mapping.packed_xml import feed
from pipelines.reading.source import read_bytes

LARGEST_CONTENT = 256 * 2**20
_KIND = b"application/vnd.oasis.opendocument.spreadsheet"
_MOST_CELLS, _MOST_COLUMNS = 20_000_000, 20_000
_TIME = re.compile(r"PT(\d+)H(\d+)M(\d+)(?:[.,]\d+)?S")
Rows = list[tuple[int, list[str], bool]]


def is_open_document(content: bytes) -> bool:
    """Say whether bytes are an Open Document spreadsheet: the first part of its zip says so, unpacked."""
    return content.startswith(b"PK\x03\x04") and _KIND in content[:200]


def sheets_of(path: Path) -> dict[str, Rows]:
    """Return each sheet's rows: number, cells as text without blank ones at the end, and if the row is hidden.

    Raises:
        InputFileError: It is damaged, locked, declares entities, or is too large.
        OSError: It cannot be opened.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(read_bytes(path))) as packed:
            if packed.getinfo("content.xml").file_size > LARGEST_CONTENT:
                raise ValueError(f"more than {LARGEST_CONTENT // 2**20} MB")
            content = packed.read("content.xml")
        book = _Book()
        feed(content, book)
    except (
        zipfile.BadZipFile,
        KeyError,
        ValueError,
        NotImplementedError,
        RuntimeError,
        EOFError,
        expat.ExpatError,
    ) as error:
        why = in_our_words(error)
        raise InputFileError(
            f"{path}: it cannot be read as a spreadsheet ({why}); expected .ods. The file was not loaded."
        ) from error
    return book.sheets


def rows_of(path: Path, sheet: str | None, *, hidden: bool) -> Iterator[tuple[int, list[str]]]:
    """Yield the rows of a sheet that have a cell, by their numbers; None: of the first sheet.

    Raises:
        InputFileError: It cannot be read, or lacks the sheet.
        OSError: It cannot be opened.
    """
    sheets = sheets_of(path)
    if not sheets or (sheet is not None and sheet not in sheets):
        wanted = f"a sheet named {sheet!r}" if sheet is not None else "a sheet"
        found = ", ".join(sheets)[:200] or "no sheet"
        raise InputFileError(f"{path}: found {found}; expected {wanted}. The file was not loaded.")
    for number, cells, is_hidden in sheets[sheet if sheet is not None else next(iter(sheets))]:
        if cells and (hidden or not is_hidden):
            yield number, cells


class _Book:
    """Builds the sheets while the parser goes through the content."""

    def __init__(self) -> None:
        self.sheets: dict[str, Rows] = {}
        self._rows: Rows | None = None
        self._number = self._count = 0
        self._cells: list[str] | None = None
        self._row: tuple[int, bool] = (1, False)
        self._cell: tuple[int, str | None] | None = None
        self._texts: list[str] = []
        self._note = 0

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        """Begin an element."""
        name = tag.rpartition(" ")[2]
        told = {key.rpartition(" ")[2]: value for key, value in attributes.items()}
        if name == "table":
            self._rows, self._number = self.sheets.setdefault(told.get("name", "Sheet"), []), 0
        elif name == "table-row" and self._rows is not None:
            self._cells = []
            self._row = _times(told, "number-rows-repeated"), told.get("visibility") in ("collapse", "filter")
        elif name in ("table-cell", "covered-table-cell") and self._cells is not None:
            self._cell, self._texts = (_times(told, "number-columns-repeated"), _value(told)), []
        elif name == "annotation":
            self._note += 1
        elif name == "p" and self._texts and not self._note:
            self._texts.append("\n")
        elif name == "s" and self._cell is not None:
            self._texts.append(" " * _times(told, "c"))

    def text(self, piece: str) -> None:
        """Take a text."""
        if self._cell is not None and not self._note:
            self._texts.append(piece)

    def end(self, tag: str) -> None:
        """End an element, and put it where it belongs."""
        name = tag.rpartition(" ")[2]
        if name in ("table-cell", "covered-table-cell") and self._cell is not None and self._cells is not None:
            times, value = self._cell
            text = value if value is not None else "".join(self._texts).strip()
            times = times if text else min(times, _MOST_COLUMNS)
            self._count += times
            if self._count > _MOST_CELLS or len(self._cells) + times > _MOST_COLUMNS:
                times = 1
            self._cells += [text] * times
            self._cell = None
        elif name == "annotation":
            self._note -= 1
        elif name == "table-row" and self._rows is not None and self._cells is not None:
            times, hidden = self._row
            while self._cells and not self._cells[-1]:
                self._cells.pop()
            for _ in range(min(times, 1000) if self._cells else 0):
                self._number += 1
                self._rows.append((self._number, list(self._cells), hidden))
            self._number += times - min(times, 1000) if self._cells else times
            self._cells = None
        elif name == "table":
            self._rows = None


def _times(told: dict[str, str], name: str) -> int:
    given = told.get(name, "1")
    return max(1, int(given)) if given.isdecimal() and len(given) < 8 else 1


def _value(told: dict[str, str]) -> str | None:
    """Return the value of a cell where it is no text: a number, a day, a time of day; None: its text counts."""
    kind = told.get("value-type")
    if kind == "date" and told.get("date-value"):
        day, _, clock = told["date-value"].partition("T")
        return f"{day} {clock.split('.')[0]}" if clock and clock.split(".")[0] != "00:00:00" else day
    if kind == "time" and (match := _TIME.fullmatch(told.get("time-value", ""))):
        return f"{int(match[1]):02}:{match[2]}:{match[3]}"
    if kind == "boolean":
        return told.get("boolean-value")
    if kind in ("float", "currency", "percentage") and told.get("value"):
        return told["value"].removesuffix(".0")
    return None
