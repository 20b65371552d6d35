"""In which dialect is a table of our own written, as the whole file tells?

A spreadsheet writes what its country writes: semicolons, tabs or bars between the
cells, a decimal comma, the day or the month first.  The header tells the mark between
cells; every number and every date of the file is looked at for the rest.  Where nothing
in it can decide, it is asked, never guessed.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

import polars as pl

from pipelines.errors import InputFileError, UnansweredError
from pipelines.habits import DateOrder, Habits
from pipelines.library_words import in_our_words
from pipelines.reading.cell_values import once_each
from pipelines.reading.layouts import LAYOUTS, Layout

MARKS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}
_MOST_SHOWN = 3
_MARKED = r"^[+-]?(?:[0-9]+[.,][0-9]+|[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?|[0-9]{1,3}(?:\.[0-9]{3})+(?:,[0-9]+)?)$"
_COMMA_GROUPS = r"^[+-]?[0-9]{1,3}(?:,[0-9]{3})+$"
_POINT_GROUPS = r"^[+-]?[0-9]{1,3}(?:\.[0-9]{3})+$"
_CLOCK = "([0-9]{1,2}):([0-9]{2}(?::[0-9]{2})?)(?: ?([AaPp])[Mm])?"
_DATE = rf"^([0-9]{{1,2}})([./-])([0-9]{{1,2}})([./-])([0-9]{{4}})(?:,?[T ]+{_CLOCK})?$"
_DAYS = ("date", "datetime", "day or time")


def split_names(line: str, mark: str) -> list[str]:
    """Return the names of a header line.

    Raises:
        csv.Error: Its quotation marks are not closed.
    """
    return next(csv.reader([line], strict=True, delimiter=mark), [])


def mark_of(line: str) -> str:
    """Return the mark between the cells of a header: the one that makes most names of our layouts of it.

    Where none makes any, the one that cuts it into most cells; a comma where it is not cut at all.
    """
    ours = {column.name for layout in LAYOUTS.values() for column in layout.columns}

    def known(mark: str) -> tuple[int, int]:
        try:
            names = split_names(line, mark)
        except csv.Error:
            names = line.replace('"', "").split(mark)
        return sum(name.strip().lower() in ours for name in names), len(names)

    return max(MARKS, key=known)


def in_our_spelling(
    path: Path, frame: pl.DataFrame, layout: Layout, habits: Habits, mark: str
) -> tuple[pl.DataFrame, list[str]]:
    """Bring numbers and dates of a spreadsheet's dialect into our own: a decimal point, ISO dates.

    Args:
        path: The file, for messages.
        frame: Its cells, trimmed, null where blank.
        layout: What they should be.
        habits: What the settings say where the file cannot tell.
        mark: What stands between its cells.

    Returns:
        The cells, those that fit no form of the dialect as they stand; and what was chosen, and why.

    Raises:
        UnansweredError: Nothing in the file can decide.
    """
    kinds = {column.name: column.kind for column in layout.columns if column.name in frame.columns}
    frame, notes = _numbers(path, frame, [name for name in kinds if kinds[name] in ("number", "integer")], habits, mark)
    dated, more = _dates(path, frame, [name for name in kinds if kinds[name] in _DAYS], habits)
    return dated, notes + more


def _numbers(
    path: Path, frame: pl.DataFrame, names: Sequence[str], habits: Habits, mark: str
) -> tuple[pl.DataFrame, list[str]]:
    cells = _distinct(frame, names, _MARKED)
    commas = cells.filter(cells.str.contains(",", literal=True))
    # A point is our own decimal mark; only in a spreadsheet's dialect can one stand between thousands.
    pointed = commas.is_empty() and mark != "," and cells.len() > 0 and cells.str.contains(_POINT_GROUPS).all()
    if commas.is_empty() and not pointed:
        return frame, []
    comma, point = _decimal_evidence(cells)
    if comma is not None and point is not None:
        return frame, []  # the point is our own mark; the others are refused, each with its place
    if comma is None and point is None:
        if habits.decimal_mark is None:
            found = ", ".join(map(repr, cells.sort().head(_MOST_SHOWN)))
            raise UnansweredError(
                f"{path}: found numbers like {found}: nothing in the file can tell whether it is a decimal mark "
                'that stands in them. Put the line decimal_mark = "comma" or decimal_mark = "point" into knockon.toml, '
                "or write the numbers without marks between thousands. The file waits."
            )
        told = habits.decimal_mark
        why = "the settings say so"
    else:
        told, why = (
            ("comma", f"{comma!r} can be nothing else") if comma else ("point", f"{point!r} can be nothing else")
        )
    between, decimal = (r"\.", ",") if told == "comma" else (",", r"\.")
    whole = rf"^[+-]?(?:[0-9]+|[0-9]{{1,3}}(?:{between}[0-9]{{3}})+)(?:{decimal}[0-9]+)?$"
    plain = pl.col("n").str.replace_all(between, "").str.replace(",", ".", literal=True)
    marked = pl.when(pl.col("n").str.contains(whole)).then(plain).otherwise("n")
    changed = [
        once_each(frame[name], lambda some: some.to_frame("n").select(marked).to_series()).alias(name) for name in names
    ]
    return frame.with_columns(changed), [f"numbers were read with a decimal {told}: {why}"]


def _decimal_evidence(cells: pl.Series) -> tuple[str | None, str | None]:
    """Return a cell that only a decimal comma explains, and one that only a decimal point does."""
    last_comma = cells.str.contains(r"\..*,[0-9]+$") | cells.str.contains(
        r"^[+-]?[0-9]+,[0-9]+$"
    ) & ~cells.str.contains(_COMMA_GROUPS)
    last_point = cells.str.contains(r",.*\.[0-9]*$") | cells.str.contains(
        r"^[+-]?[0-9]+\.[0-9]+$"
    ) & ~cells.str.contains(_POINT_GROUPS)
    several_points = cells.str.contains(r"\.[0-9]{3}\.[0-9]{3}")
    several_commas = cells.str.contains(r",[0-9]{3},[0-9]{3}")
    comma, point = cells.filter(last_comma | several_points).sort(), cells.filter(last_point | several_commas).sort()
    return (comma[0] if comma.len() else None), (point[0] if point.len() else None)


def _dates(path: Path, frame: pl.DataFrame, names: Sequence[str], habits: Habits) -> tuple[pl.DataFrame, list[str]]:
    cells = _distinct(frame, names, _DATE)
    if cells.is_empty():
        return frame, []
    first, second = (cells.str.extract(_DATE, group).cast(pl.Int64) for group in (1, 3))
    days, months = (
        cells.filter((first > 12) & (second <= 12)).sort(),
        cells.filter((second > 12) & (first <= 12)).sort(),
    )
    if days.is_empty() == months.is_empty():
        if habits.date_order is None:
            found = (
                f"{days[0]!r} and {months[0]!r}, which cannot be written alike"
                if days.len()
                else f"dates like {cells.sort()[0]!r}, every one with a day below 13: the day may be the month"
            )
            raise UnansweredError(
                f'{path}: found {found}. Put the line date_order = "day first" or date_order = "month first" into '
                "knockon.toml, or write dates like 2026-11-23. The file waits."
            )
        order, why = habits.date_order, "the settings say so"
    else:
        order, why = (
            ("day first", f"{days[0]!r} can be nothing else")
            if days.len()
            else ("month first", f"{months[0]!r} can be nothing else")
        )
    iso = _iso(order)
    changed = [
        once_each(frame[name], lambda some: some.to_frame("d").select(iso).to_series()).alias(name) for name in names
    ]
    return frame.with_columns(changed), [f"dates were read {order}: {why}"]


def _iso(order: DateOrder) -> pl.Expr:
    cell = pl.col("d")
    day, month = (1, 3) if order == "day first" else (3, 1)
    part = {group: cell.str.extract(_DATE, group) for group in range(1, 9)}
    half = part[8].str.to_lowercase()
    hour = part[6].cast(pl.Int64)
    clock = pl.when(half.is_null()).then(hour).otherwise(hour % 12 + pl.when(half == "p").then(12).otherwise(0))
    date = pl.concat_str(part[5], pl.lit("-"), part[month].str.zfill(2), pl.lit("-"), part[day].str.zfill(2))
    time = pl.concat_str(pl.lit(" "), clock.cast(pl.String).str.zfill(2), pl.lit(":"), part[7]).fill_null("")
    good = cell.str.contains(_DATE) & (part[2] == part[4]) & date.str.to_date("%Y-%m-%d", strict=False).is_not_null()
    return pl.when(good).then(pl.concat_str(date, time)).otherwise(cell).alias("d")


def dated_otherwise(layout: Layout, names: Sequence[str]) -> pl.Expr:
    """Say which rows have a date that only the whole file can read: the day or the month first.

    Args:
        layout: What the rows should be.
        names: The columns that they have.
    """
    dated = [column.name for column in layout.columns if column.kind in _DAYS and column.name in names]
    return pl.any_horizontal(pl.lit(False), *(pl.col(name).str.contains(_DATE).fill_null(False) for name in dated))


def _distinct(frame: pl.DataFrame, names: Sequence[str], pattern: str) -> pl.Series:
    """Return the distinct cells of some columns that hold a pattern."""
    found = [frame[name].filter(frame[name].str.contains(pattern).fill_null(False)).unique() for name in names]
    return pl.concat([pl.Series("cell", [], dtype=pl.String), *(cells.alias("cell") for cells in found)]).unique()


def check_names(path: Path, line: str, mark: str) -> list[str]:
    """Return the names of a header line.

    Raises:
        InputFileError: Its quotation marks are not closed.
    """
    try:
        return split_names(line, mark)
    except csv.Error as error:
        raise InputFileError(
            f"{path}: the header cannot be split ({in_our_words(error)}). The file was not loaded."
        ) from error
