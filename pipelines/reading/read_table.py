"""One file in: its good rows, and each refused row with its place and reason.

A file is read as it stands or refused as a whole; a bad row stops nobody.
Whatever the format, the same cell comes out as the same text.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl

from pipelines.errors import InputFileError
from pipelines.habits import ASKED, Habits
from pipelines.reading.account import Account, Found, account_of, codes_in
from pipelines.reading.checks import REJECTS, check_cells
from pipelines.reading.diagnostics.responses import SUFFIXES as ANSWER_SUFFIXES
from pipelines.reading.diagnostics.responses import looks_like_responses, read_answers
from pipelines.reading.headers import missing_columns
from pipelines.reading.layouts import LAYOUTS, Layout
from pipelines.reading.source import read_any_text, read_text
from pipelines.reading.tabular.delimited import read_delimited, read_header
from pipelines.reading.tabular.parquet import parquet_names, read_parquet
from pipelines.reading.tabular.raw_table import RawTable
from pipelines.reading.tabular.records import json_names, read_json_lines

_READERS: dict[str, Callable[[Path, Layout], RawTable]] = {
    ".parquet": read_parquet,
    ".jsonl": read_json_lines,
    **dict.fromkeys(ANSWER_SUFFIXES, read_answers),
}
SUFFIXES: tuple[str, ...] = (".csv", *_READERS)
_LOOK = 65_536


@dataclass(frozen=True)
class Reading:
    """What one file held.

    Attributes:
        rows: Int64 ``row`` and every column that the layout keeps as String, in the layout's order: blank cells null,
            times ``2026-11-23 09:15:00`` in local time and, where they were written with an offset, in UTC beside it,
            days ``2026-11-23``, numbers with a point, ``true`` and ``false``.  One row of the file may be several.
        rejects: ``row`` Int64, ``column``, ``value``, ``why``: one line a bad cell; ``column`` is null where the row
            could not be split.  A row in here is not in ``rows``.
        notes: What else was noticed.
        rows_read: Rows found, the refused ones included; rows without any cell do not count.
        account: What became of everything in the file; of scans alone.
    """

    rows: pl.DataFrame
    rejects: pl.DataFrame
    notes: list[str]
    rows_read: int
    account: Account = field(default_factory=Account)


def read_table(path: Path, layout: Layout, zone: ZoneInfo, habits: Habits = ASKED) -> Reading:
    """Read one file as one of the inbox's tables.

    Args:
        path: A ``.csv``, ``.parquet`` or ``.jsonl`` file; for scans also a file of raw answers.
        layout: What it should be.
        zone: What times without an offset are local to; times with one are brought to it.
        habits: What the settings say where a delimited file cannot tell how its numbers or dates are written.

    Returns:
        Its good rows and its refused ones.  Rows are numbered as a spreadsheet shows them, the header being row 1; in
        ``.jsonl`` the row is the line; those of raw answers are numbered from 1, and their rejects name the line.

    Raises:
        UnansweredError: Nothing in the file can tell how its numbers or dates are meant; the message asks.
        InputFileError: The file cannot be read at all; the message names it, what was found and what was wanted.
        OSError: The file cannot be opened.
    """
    return check_table(split_table(path, layout, habits), layout, zone)


def split_table(path: Path, layout: Layout, habits: Habits = ASKED) -> RawTable:
    """Split one file into rows of cells, by its ending; the first half of ``read_table``, which raises the same."""
    if path.suffix.lower() == ".csv":
        return read_delimited(path, layout, habits)
    reader = _READERS.get(path.suffix.lower())
    if reader is None:
        found = f"a file that ends in {path.suffix}" if path.suffix else "a file without an ending"
        raise InputFileError(f"{path}: found {found}; expected {', '.join(SUFFIXES)}. The file was not loaded.")
    return reader(path, layout)


def check_table(table: RawTable, layout: Layout, zone: ZoneInfo) -> Reading:
    """Check the cells of a table that was split into rows, whatever its file looked like.

    Args:
        table: The rows as they stand, and those that could not be split.
        layout: What they should be.
        zone: What times without an offset are local to.

    Returns:
        Its good rows and its refused ones.
    """
    rows, bad_cells, notes = check_cells(table.frame, layout, zone, table.rejects)
    return reading_of(table, rows, bad_cells, notes, layout)


def reading_of(
    table: RawTable, rows: pl.DataFrame, bad_cells: pl.DataFrame, notes: list[str], layout: Layout
) -> Reading:
    """Put together what a table held and what its check found, and draw up the account of a file of scans."""
    not_split = pl.DataFrame(table.rejects, schema=REJECTS, orient="row")
    rejects = pl.concat([not_split, bad_cells])
    if rejects.height > 1:
        rejects = rejects.sort("row", maintain_order=True)
    read = table.frame.height + not_split.height
    found = table.found or Found()
    if layout.name != "scans":
        parts = Account(parts=found.parts, part=found.part, unread=tuple(found.unread))
        return Reading(rows, rejects, table.notes + notes, read, parts if found.unread else Account())
    found.refused += codes_in(value or "" for _, _, value, _ in table.rejects)
    account = account_of(found, table.frame, rows)
    return Reading(rows, rejects, table.notes + notes, read, account)


def guess_layout(path: Path, by_folder: bool = True) -> str | None:
    """Return the name of the layout that a file most likely is, or None.

    Args:
        path: The file; its header decides.
        by_folder: The name of its folder decides first.
    """
    if by_folder and path.parent.name in LAYOUTS:
        return path.parent.name
    try:
        if path.suffix.lower() in ANSWER_SUFFIXES:
            return "scans" if looks_like_responses(_beginning(path)) else None
        names = [name.strip().lower() for name in _header(path)]
    except (InputFileError, OSError, pl.exceptions.PolarsError):
        return None
    fits = [layout for layout in LAYOUTS.values() if not missing_columns(names, layout)]
    shared = {layout.name: sum(column.name in names for column in layout.columns) for layout in fits}
    return max(shared, key=lambda name: shared[name], default=None)


def nearest_layout(path: Path) -> tuple[str, list[str], list[str]] | None:
    """Return the layout that most names of a file's header are columns of, what it lacks for it, and the names.

    None where no name is a column of any.
    """
    try:
        names = [name.strip() for name in _header(path)]
    except (InputFileError, OSError, pl.exceptions.PolarsError):
        return None
    plain = [name.lower() for name in names]
    shared = {
        layout.name: (sum(column.name in plain for column in layout.columns), -len(missing_columns(plain, layout)))
        for layout in LAYOUTS.values()
    }
    best = max(shared, key=lambda name: shared[name])
    return (best, missing_columns(plain, LAYOUTS[best]), names) if shared[best][0] else None


def _beginning(path: Path) -> bytes:
    with path.open("rb") as handle:
        return handle.read(_LOOK)


def _header(path: Path) -> Sequence[str]:
    if path.suffix.lower() == ".parquet":
        return parquet_names(path)
    if path.suffix.lower() == ".jsonl":
        return json_names(read_text(path))
    return read_header(path, read_any_text(path)[0])[0]
