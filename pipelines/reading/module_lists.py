"""Which modules' lists of codes were understood whole?

A code that a list does not name is absent only where every line of the list was
understood.  A row that was refused, or whose code is no code, leaves its module's
list incomplete; where its module cannot be told, every list of its scan; where its
scan cannot be told, those of the rows before and behind it, for the rows of one
scan stand together (common practice, no source).
"""

from __future__ import annotations

import re
from bisect import bisect
from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from analysis.vocabulary.codes import read_code
from pipelines.reading.tabular.raw_table import Reject

_CAR, _VIN, _WHEN, _MODULE = _KEYS = ("vehicle", "vin", "when", "name")
# What of a gap is known, the most telling first: then it is a gap in just the lists that share it.
_WAYS = (
    *([car, *rest] for car in (_CAR, _VIN) for rest in ([_WHEN, _MODULE], [_WHEN], [_MODULE], [])),
    [_WHEN, _MODULE],
    [_WHEN],
)
_BETWEEN_CELLS = re.compile(r"[,;\t|\"{}]")


@dataclass(frozen=True)
class Gaps:
    """What of a file was not understood.

    Attributes:
        refused: The rows that were refused, as far as their cells could be read: null where one could not.
        raw: Every row as it stands in the file.
        lost: Rows that could not even be told apart, and lines that look like a code: row, column, text, why.
    """

    refused: pl.DataFrame
    raw: pl.DataFrame
    lost: Sequence[Reject]


def complete(rows: pl.DataFrame, gaps: Gaps) -> pl.Series:
    """Say which rows stand in a list that was understood whole.

    Args:
        rows: The good rows of a scan file: ``row``, ``vehicle``, ``vin``, ``scanned_at``, ``module``, ``code``,
            ``failure_type``, and ``complete``: ``false`` where the reader of the file knows it already, else null.
        gaps: What was not understood.

    Returns:
        String ``complete``: ``false`` where a line of the row's list was not understood, else null.
    """
    flawed, unreadable = (rows["complete"] == "false").fill_null(False), _unreadable(rows)
    if gaps.refused.is_empty() and not gaps.lost and not unreadable.any():
        return _told(flawed)
    keyed, refused = _keyed(rows), _keyed(gaps.refused)
    scans, lines = _told_by_their_cells(gaps)
    lost_in = keyed.join(scans, on="row").with_columns(
        pl.when("whole").then(pl.lit(None, pl.String)).otherwise(_MODULE).alias(_MODULE)
    )
    nowhere = refused.filter(pl.all_horizontal(pl.col(_CAR, _VIN, _WHEN).is_null()))["row"]
    beside = _beside(pl.concat([keyed, refused]), [*nowhere, *lines])
    known = pl.concat([frame.select(_KEYS) for frame in (keyed.filter(unreadable), refused, lost_in, beside)])
    for keys in _WAYS:
        others = [key for key in (_WHEN, _MODULE) if key not in keys]
        nobody = [] if {_CAR, _VIN} & {*keys} else [_CAR, _VIN]
        told = known.filter(
            pl.all_horizontal(pl.col(keys).is_not_null()), *(pl.col(key).is_null() for key in (*others, *nobody))
        )
        if told.height:
            hit = keyed.join(
                told.select(keys).unique().with_columns(hit=True), on=keys, how="left", maintain_order="left"
            )
            flawed |= hit["hit"].fill_null(False)
    return _told(flawed)


def _told(flawed: pl.Series) -> pl.Series:
    return pl.select(complete=pl.when(flawed).then(pl.lit("false"))).to_series()


def _keyed(rows: pl.DataFrame) -> pl.DataFrame:
    """Return what tells lists apart: the car by either of its names, the time, and the module's name."""
    module = pl.col("module").str.to_lowercase().str.replace_all(r"[\s._-]+", " ")
    car = pl.col("vehicle").str.to_lowercase()
    return rows.select("row", car.alias(_CAR), _VIN, pl.col("scanned_at").alias(_WHEN), module.alias(_MODULE))


def _unreadable(rows: pl.DataFrame) -> pl.Series:
    """Say which rows hold a code that is no code."""
    typed = rows["failure_type"].null_count() < rows.height
    # Pairs take far longer to tell apart than the codes alone.
    pairs = rows.select("code", "failure_type") if typed else rows.select(pl.col("code").unique())
    spellings = (pairs.unique() if typed else pairs.with_columns(failure_type=pl.lit(None, pl.String))).drop_nulls(
        "code"
    )
    bad = [read_code(code, kind).why is not None for code, kind in spellings.iter_rows()]
    wrong = spellings.filter(pl.Series(bad, dtype=pl.Boolean))
    if wrong.is_empty():
        return pl.Series([False]).new_from_index(0, rows.height)
    return rows.select(
        pl.struct("code", "failure_type").is_in(wrong.to_struct().implode(), nulls_equal=True)
    ).to_series()


def _told_by_their_cells(gaps: Gaps) -> tuple[pl.DataFrame, list[int]]:
    """Find the scans of lost rows by the times, cars and modules of the file that stand in their text.

    Returns:
        ``row`` of rows in the scans that were found, with ``whole``: the lost row's module is not told; and the numbers
        of the lost rows whose scan was not found.
    """
    lost = [(row, text or "") for row, _, text, _ in gaps.lost if row is not None]
    rows: dict[int, bool] = {}
    nowhere = []
    cells = gaps.raw.select("row", "vehicle", "vin", "scanned_at", "module") if lost else pl.DataFrame()
    at: dict[str, list[tuple[int, str | None, str | None, str | None]]] = {}
    for row, vehicle, vin, when, module in cells.iter_rows():
        at.setdefault(when, []).append((row, vehicle, vin, module))
    for number, text in lost:
        said = {cell.strip() for cell in _BETWEEN_CELLS.split(text)} - {""}
        scan = [told for cell in said for told in at.get(cell, ()) if {told[1], told[2]} & said]
        modules = {told[3] for told in scan} & said
        for row, _, _, module in scan:
            if len(modules) != 1 or module in modules:
                rows[row] = rows.get(row, False) or len(modules) != 1
        if not scan:
            nowhere.append(number)
    found = pl.DataFrame(
        {"row": list(rows), "whole": list(rows.values())}, schema={"row": pl.Int64, "whole": pl.Boolean}
    )
    return found, nowhere


def _beside(keyed: pl.DataFrame, lines: Sequence[int]) -> pl.DataFrame:
    """Return the scans of the rows next to some lines, in front of and behind each, without a module."""
    near = keyed.filter(pl.col(_WHEN).is_not_null()).sort("row", maintain_order=True)
    numbers = near["row"].to_numpy()
    places = {place for line in lines for place in (bisect(numbers, line) - 1, bisect(numbers, line))}
    inside = sorted(place for place in places if 0 <= place < near.height)
    return near[inside].with_columns(pl.lit(None, pl.String).alias(_MODULE))
