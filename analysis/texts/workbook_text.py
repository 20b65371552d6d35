"""The first sheet of the workbook, which explains the others."""

from __future__ import annotations

TITLE = "What to try first"
FIRST_SHEET = "read me"
EXPLAINS = (
    "One sheet a table; the first line of each stays in view and can be filtered. Hover over a heading to read what "
    "it means, or look below. A blank cell means that it is not known.",
    "A chance is what your own scans and repairs suggest, with its interval. It is not a verdict on the car. "
    "Record every module before erasing anything, and keep the scans from before and after.",
)
TABLE_HEADS = ("sheet", "rows", "", "one row is")
COLUMN_HEADS = ("sheet", "column", "holds", "meaning")


def cut(meaning: str, rows: int, table: str) -> str:
    """Say that a sheet does not hold all rows of its table."""
    return f"{meaning} Only the first {rows:,} rows; {table}.csv has all."
