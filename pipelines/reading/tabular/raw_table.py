"""A table as it stands in a file: rows of cells as text, and the rows that could not be told apart."""

from __future__ import annotations

from dataclasses import dataclass, field

import polars as pl

from pipelines.reading.account import Found

Reject = tuple[int | None, str | None, str | None, str]


@dataclass
class RawTable:
    """A table as it stands in a file, before its cells are checked.

    Attributes:
        frame: Int64 ``row`` and the known columns as String, trimmed, null where blank; rows without any cell left out.
        rejects: Rows that could not be split: row, column, value, why.
        notes: What else was noticed.
        found: What the reader saw of the file beside these rows; None where there is nothing else to see.
    """

    frame: pl.DataFrame
    rejects: list[Reject] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    found: Found | None = None


def tidy(frame: pl.DataFrame) -> pl.DataFrame:
    """Trim every cell, make blank ones null and leave out rows without any cell."""
    cells = pl.exclude("row").str.strip_chars()
    trimmed = frame.with_columns(pl.when(cells.str.len_bytes() > 0).then(cells).name.keep())
    names = [name for name in trimmed.columns if name != "row"]
    if any(trimmed[name].null_count() == 0 for name in names):
        return trimmed  # no row is blank
    return trimmed.filter(pl.any_horizontal(pl.exclude("row").is_not_null()))
