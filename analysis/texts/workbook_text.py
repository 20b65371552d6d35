"""The first sheet of the workbook, which explains the others."""

from __future__ import annotations

TITLE = "What to try first"
FIRST_SHEET = "read me"
THIS_WEEK = "This week"
SHOWN = "shown: "
EXPLAINS = (
    'The sheets stand in the order of the report. "This week" holds the list as the report shows it, the next sheet '
    "all lines of each car, in the same order. Headings can be filtered; the line above them counts and adds up what "
    "the filter leaves. Hover over a heading to read what it means and what its column is called in the CSV file. A "
    "blank cell means that it is not known.",
    "A chance is what your own scans and repairs suggest, with its interval. It is not a verdict on the car. "
    "Record every module before erasing anything, and keep the scans from before and after.",
)
TABLE_HEADS = ("sheet", "rows", "the same as CSV", "one row is")
COLUMN_HEADS = ("sheet", "column", "holds", "meaning")


def cut(meaning: str, rows: int, table: str) -> str:
    """Say that a sheet does not hold all rows of its table."""
    return f"{meaning} Only the first {rows:,} rows; {table}.csv has all."


def note(column: str, meaning: str) -> str:
    """Return the note of a heading: what it means, and the column's name in the CSV file."""
    return f"{meaning}\n\nIn the CSV file: {column}"
