"""Cells that tell of several control units: ``Engine: P0301, P0420 | ABS: no faults``; each becomes a row."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from pipelines.reading.tabular.raw_table import Reject

_SHOWN = 200


@dataclass(frozen=True)
class UnitCells:
    """How a cell tells of several units.

    Attributes:
        between: What stands between two of them.
        unit: The pattern of one, with the groups module and code; its code is what a cell of codes may hold.
    """

    between: str
    unit: str


def units_apart(frame: pl.DataFrame, how: UnitCells | None, rejects: list[Reject]) -> pl.DataFrame:
    """Give each unit of a cell its own row.

    Args:
        frame: Int64 ``row``, String columns of the layout.
        how: How cells tell of several; None: they do not.
        rejects: Gets the pieces that tell of no unit.
    """
    if how is None or "code" not in frame.columns:
        return frame
    pieces = pl.col("code").str.split(how.between).list.eval(pl.element().str.strip_chars())
    some = pieces.list.eval(pl.element().filter(pl.element().str.len_bytes() > 0))
    apart = frame.with_columns(code=pl.when(some.list.len() > 0).then(some)).explode("code", empty_as_null=True)
    cells = apart["code"]
    bad = cells.is_not_null() & ~cells.str.contains(how.unit).fill_null(False)
    why = f"expected a control unit and its codes that fit {how.unit}"
    rejects += [(row, "code", cell[:_SHOWN], why) for row, cell in apart.filter(bad).select("row", "code").iter_rows()]
    told = apart.filter(~bad)
    groups = told["code"].str.extract_groups(how.unit).struct.unnest()
    return told.with_columns(groups["module"].str.strip_chars(), groups["code"].str.strip_chars())
