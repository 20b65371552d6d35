"""Is each cell what its column promises, and does each row have what it must?

A cell that is not what its column promises refuses its whole row, once, with the
cell's place, what stood there and what was wanted.  Every cast that SQL does later
is checked here, so what passes can be loaded.  Vehicle numbers that look wrong but
may be right are named in the notes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from zoneinfo import ZoneInfo

import polars as pl

from analysis.vocabulary.codes import split_code
from analysis.vocabulary.vin import is_no_vin, misread_vin, model_year, read_vin
from pipelines.reading.cell_values import ALL, instant, once_each, one_spelling, wanted
from pipelines.reading.layouts import Column, Layout, instants
from pipelines.reading.module_lists import Gaps, complete
from pipelines.reading.tabular.raw_table import Reject

REJECTS = {"row": pl.Int64(), "column": pl.String(), "value": pl.String(), "why": pl.String()}
_LONGEST_SHOWN = 200
_MOST_NOTES = 5
_FEW = 2_000  # rows of a file whose cells are worked out one by one: fewer than it takes to find the distinct ones
_RAW = "as it stands "  # before the name of a column whose cells are not yet in their one spelling


def check_cells(
    frame: pl.DataFrame, layout: Layout, zone: ZoneInfo, lost: Sequence[Reject] = ()
) -> tuple[pl.DataFrame, pl.DataFrame, list[str]]:
    """Check every cell and bring it into its one spelling.

    Args:
        frame: Int64 ``row`` and String columns, trimmed, null where blank; columns of the layout may be missing.
        layout: What they should be.
        zone: What times without an offset are local to.
        lost: Rows that could not be told apart; what they would have said of a module is not known.

    Returns:
        The good rows (``row`` and every column that the layout keeps, String), the rejects (``row``, ``column``,
        ``value``, ``why``: one line a bad cell, column by column) and notes on vehicle numbers that look wrong.
    """
    blank = [
        pl.lit(None, pl.String).alias(column.name) for column in layout.columns if column.name not in frame.columns
    ]
    decoded = "complete" in frame.columns
    raw, misread = _without_misread(_without_placeholders(_codes_apart(frame.with_columns(blank), layout)), layout)
    spelled = _all_spelled(raw, layout, zone)
    refused = pl.Series([False]).new_from_index(0, raw.height)
    parts = [pl.DataFrame(schema=REJECTS)]
    for column, flags, why in _wrong(raw, spelled, layout):
        refused |= flags
        shown = pl.col(column).fill_null("").str.slice(0, _LONGEST_SHOWN)
        bad = raw.filter(flags)
        told = {cell: _why_misread(cell) or why for cell in bad["vin"].drop_nulls().unique()} if column == "vin" else {}
        whys = pl.col(column).replace_strict(told, default=why, return_dtype=pl.String) if told else pl.lit(why)
        parts.append(bad.select("row", column=pl.lit(column), value=shown, why=whys))
    rows = spelled.with_columns(_internal(raw, layout))
    rows = rows.filter(~refused) if refused.any() else rows
    if "asked" in rows.columns:
        rows = rows.with_columns(pl.col("asked").replace(ALL, None))
    if "complete" in rows.columns:
        # A reader that decodes answers has marked the lists itself; its rejects are lines, not rows.
        rows = rows.with_columns(complete(rows, Gaps(spelled.filter(refused), raw, () if decoded else lost)))
    notes = [*misread, *vin_notes(frame, rows)]
    return rows.select("row", *(column.name for column in layout.kept)), pl.concat(parts), notes


def _internal(raw: pl.DataFrame, layout: Layout) -> list[pl.Series]:
    """Return the layout's internal columns as far as the reader of the file or a cell tells them."""
    moments = {kept: name for name, kept in instants(layout).items()}
    found = []
    for column in layout.internal:
        if column.name in moments:
            cells = raw[moments[column.name]]
            told = once_each(cells, lambda some: some.to_frame("cell").select(instant(pl.col("cell"))).to_series())
            found.append(told.alias(column.name))
        elif column.name in raw.columns:
            found.append(raw[column.name])
        else:
            found.append(pl.Series(column.name, [None], pl.String).new_from_index(0, raw.height))
    return found


def _codes_apart(raw: pl.DataFrame, layout: Layout) -> pl.DataFrame:
    """Put the wording that stands behind a code in its cell into the column of its own, where that is blank."""
    if not any(column.name == "code" for column in layout.columns):
        return raw
    cells = raw["code"]
    distinct = cells.drop_nulls().unique()
    split = {cell: split_code(cell) for cell in distinct}
    wordy = {cell: found for cell, found in split.items() if found[1] is not None}
    if not wordy:
        return raw
    code = cells.replace({cell: found[0] for cell, found in wordy.items()})
    if "text" not in raw.columns:
        return raw.with_columns(code)
    behind = cells.replace_strict(
        {cell: found[1] for cell, found in wordy.items()}, default=None, return_dtype=pl.String
    )
    return raw.with_columns(code, text=pl.coalesce("text", behind))


def _without_placeholders(raw: pl.DataFrame) -> pl.DataFrame:
    """Blank the words that stand where a vehicle number is not known; a row may still name its car otherwise."""
    words = _placeholders(raw)
    return raw.with_columns(pl.when(~pl.col("vin").is_in(words)).then("vin")) if words else raw


def _without_misread(raw: pl.DataFrame, layout: Layout) -> tuple[pl.DataFrame, list[str]]:
    """Blank vehicle numbers with a letter that none has, in scans that name their car otherwise too; and say so."""
    if layout.name != "scans" or "vin" not in raw.columns or "vehicle" not in raw.columns:
        return raw, []
    named = raw.filter(pl.col("vehicle").is_not_null())
    found = {cell: why for cell in named["vin"].drop_nulls().unique().sort() if (why := _why_misread(cell))}
    if not found:
        return raw, []
    wrong = pl.col("vin").is_in([*found]) & pl.col("vehicle").is_not_null()
    cars = {vin: car for vin, car in named.select("vin", "vehicle").iter_rows() if vin in found}
    notes = [
        f"vin {cell!r}: {why}; the car is taken for {cars[cell]!r}" for cell, why in [*found.items()][:_MOST_NOTES]
    ]
    return raw.with_columns(pl.when(~wrong.fill_null(False)).then("vin")), notes


def _why_misread(cell: str) -> str | None:
    """Say in words which letter of a vehicle number none has, and what may be meant; None where none is wrong."""
    told = misread_vin(cell)
    if told is None:
        return None
    letter, meant = told
    return f"this VIN has a letter {letter}, which no VIN has; perhaps {meant} is meant"


def _placeholders(raw: pl.DataFrame) -> list[str]:
    if "vin" not in raw.columns:
        return []
    return [cell for cell in raw["vin"].drop_nulls().unique().sort() if is_no_vin(cell)]


def vin_notes(raw: pl.DataFrame, rows: pl.DataFrame) -> list[str]:
    """Name the vehicle numbers that are none or look wrong.

    Args:
        raw: The rows as they stand.
        rows: Those that are kept, in their one spelling.
    """
    words, notes = _placeholders(raw), []
    for word in words[:_MOST_NOTES]:
        times = (raw["vin"] == word).sum()
        notes.append(f"vin {word[:_LONGEST_SHOWN]!r} is no vehicle number and was taken as blank ({times} rows)")
    if len(words) > _MOST_NOTES:
        notes.append(f"vin: {len(words) - _MOST_NOTES} more words that are no vehicle number were taken as blank")
    return notes + _odd_vins(rows)


def _wrong(raw: pl.DataFrame, spelled: pl.DataFrame, layout: Layout) -> list[tuple[str, pl.Series, str]]:
    """Return, column by column, which cells are wrong or blank against the rules, and what was wanted.

    All rules are looked at in one go: a small file costs little more than that.
    """
    both = raw.select(pl.exclude("row").name.prefix(_RAW)).hstack(spelled)
    rules = [*_cell_rules(layout), *_row_rules(layout)]
    flags = both.select(told.alias(str(place)) for place, (_, told, _) in enumerate(rules))
    some = flags.select(pl.all().any()).row(0)
    return [(column, flags.to_series(place), why) for place, (column, _, why) in enumerate(rules) if some[place]]


def _cell_rules(layout: Layout) -> Iterator[tuple[str, pl.Expr, str]]:
    for column in layout.columns:
        filled = pl.col(_RAW + column.name).is_not_null()
        yield column.name, filled & pl.col(column.name).is_null(), f"expected {wanted(column)}"
        if column.required:
            yield column.name, ~filled, "blank; it must be filled"


def _row_rules(layout: Layout) -> Iterator[tuple[str, pl.Expr, str]]:
    for rule in layout.rules:
        lacking = pl.all_horizontal(pl.col(_RAW + name).is_null() for name in rule.any_of)
        if rule.column is not None:
            lacking &= pl.col(rule.column).is_in(list(rule.values)).fill_null(False)
        yield rule.any_of[0], lacking, f"blank; {rule.doc}"


def _all_spelled(raw: pl.DataFrame, layout: Layout, zone: ZoneInfo) -> pl.DataFrame:
    """Return every cell in its one spelling; those of a small file all at once, as a look at one has its price."""
    blank = {column.name for column in layout.columns if raw[column.name].null_count() == raw.height}
    at_once = [
        column for column in layout.columns if raw.height <= _FEW and column.kind != "vin" and column.name not in blank
    ]
    told = raw.select(one_spelling(column, zone).alias(column.name) for column in at_once)
    return pl.DataFrame(
        [
            raw["row"],
            *(
                told[column.name] if column.name in told.columns else _spelled(raw[column.name], column, zone)
                for column in layout.columns
            ),
        ]
    )


def _spelled(cells: pl.Series, column: Column, zone: ZoneInfo) -> pl.Series:
    """Return the cells in their one spelling."""
    if column.kind == "vin":
        return once_each(cells, lambda found: pl.Series([read_vin(text).vin for text in found], dtype=pl.String))
    spelling = one_spelling(column, zone)
    return once_each(cells, lambda found: found.to_frame().select(spelling).to_series())


def _odd_vins(rows: pl.DataFrame) -> list[str]:
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
