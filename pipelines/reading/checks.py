"""Is each cell what its column promises, and does each row have what it must?

A cell that is not what its column promises refuses its whole row, once, with the
cell's place, what stood there and what was wanted.  Vehicle numbers that look
wrong but may be right are named in the notes.
"""

from __future__ import annotations

from zoneinfo import ZoneInfo

import polars as pl

from analysis.vocabulary.vin import model_year, read_vin
from pipelines.reading.cells import once_each, one_spelling, wanted
from pipelines.reading.layouts import Column, Layout

REJECTS = {"row": pl.Int64(), "column": pl.String(), "value": pl.String(), "why": pl.String()}
_LONGEST_SHOWN = 200
_MOST_NOTES = 5


def check_cells(frame: pl.DataFrame, layout: Layout, zone: ZoneInfo) -> tuple[pl.DataFrame, pl.DataFrame, list[str]]:
    """Check every cell and bring it into its one spelling.

    Args:
        frame: Int64 ``row`` and String columns, trimmed, null where blank; columns of the layout may be missing.
        layout: What they should be.
        zone: What times without an offset are local to.

    Returns:
        The good rows (``row`` and every column of the layout, String), the rejects (``row``, ``column``, ``value``,
        ``why``: one line a bad cell, column by column) and notes on vehicle numbers that look wrong.
    """
    blank = [
        pl.lit(None, pl.String).alias(column.name) for column in layout.columns if column.name not in frame.columns
    ]
    raw = frame.with_columns(blank)
    spelled = pl.DataFrame([raw["row"], *(_spelled(raw[column.name], column, zone) for column in layout.columns)])
    wrong = _wrong_cells(raw, spelled, layout) + _broken_rules(raw, spelled, layout)
    refused = pl.Series([False]).new_from_index(0, raw.height)
    parts = [pl.DataFrame(schema=REJECTS)]
    for column, flags, why in wrong:
        if not flags.any():
            continue
        refused |= flags
        shown = pl.col(column).fill_null("").str.slice(0, _LONGEST_SHOWN)
        parts.append(raw.filter(flags).select("row", column=pl.lit(column), value=shown, why=pl.lit(why)))
    rows = spelled.filter(~refused)
    return rows, pl.concat(parts), _vin_notes(rows)


_Wrong = list[tuple[str, pl.Series, str]]


def _wrong_cells(raw: pl.DataFrame, spelled: pl.DataFrame, layout: Layout) -> _Wrong:
    """Return, column by column, which cells are wrong or blank against the rule, and what was wanted."""
    wrong: _Wrong = []
    for column in layout.columns:
        filled = raw[column.name].is_not_null()
        wrong.append((column.name, filled & spelled[column.name].is_null(), f"expected {wanted(column)}"))
        if column.required:
            wrong.append((column.name, ~filled, "blank; it must be filled"))
    return wrong


def _broken_rules(raw: pl.DataFrame, spelled: pl.DataFrame, layout: Layout) -> _Wrong:
    broken: _Wrong = []
    for rule in layout.rules:
        lacking = raw.select(pl.all_horizontal(pl.col(rule.any_of).is_null())).to_series()
        if rule.column is not None:
            lacking &= spelled[rule.column].is_in(list(rule.values)).fill_null(False)
        broken.append((rule.any_of[0], lacking, f"blank; {rule.doc}"))
    return broken


def _spelled(cells: pl.Series, column: Column, zone: ZoneInfo) -> pl.Series:
    """Return the cells in their one spelling."""
    if column.kind == "vin":
        return once_each(cells, lambda found: pl.Series([read_vin(text).vin for text in found], dtype=pl.String))
    spelling = one_spelling(column, zone)
    return once_each(cells, lambda found: found.to_frame().select(spelling).to_series())


def _vin_notes(rows: pl.DataFrame) -> list[str]:
    """Name the vehicle numbers that look wrong, a few of them in full."""
    if "vin" not in rows.columns:
        return []
    notes = []
    for vin in rows["vin"].drop_nulls().unique().sort().to_list():
        notes += [f"vehicle number {vin}: {warning}" for warning in read_vin(vin).warnings]
    if "model_year" in rows.columns:
        dated = rows.select("vin", "model_year").drop_nulls().unique().sort("vin", "model_year")
        for vin, year in dated.iter_rows():
            named = model_year(vin)
            if named is not None and named != int(year):
                notes.append(f"vehicle number {vin}: it names model year {named}, model_year says {year}")
    if len(notes) > _MOST_NOTES:
        notes[_MOST_NOTES:] = [f"vehicle numbers: {len(notes) - _MOST_NOTES} more look wrong"]
    return notes
