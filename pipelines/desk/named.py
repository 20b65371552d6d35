"""What the files on the tray name, as they would be taken in: cars, control units, parts; each file is read once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import polars as pl

from pipelines.desk.look import Look, look, read_whole, state_of
from pipelines.desk.tray import MOST_FILES, Tray
from pipelines.errors import BatchError
from pipelines.workspace import Workspace

Names = frozenset[tuple[str | None, str | None, str | None]]
"""Stock number, vehicle number and plate of some cars."""
CARS = ("vehicle", "vin", "plate")


@dataclass(frozen=True)
class Named:
    """What one file names.

    Attributes:
        cars: Its cars.
        modules: Its control units, each with the number of its rows.
        priced: Where it is a price book: each part with its other names, ``;``-separated.
        fitted: Where it tells repairs: each part with its car and its job.
    """

    cars: Names = frozenset()
    modules: Counter[str] = field(default_factory=Counter)
    priced: tuple[tuple[str, str], ...] = ()
    fitted: tuple[tuple[str, str, str], ...] = ()


def named_in(workspace: Workspace, seen: Look) -> Named:
    """Return what a file names; nothing where it cannot be read."""
    return _named(workspace, seen.file.mark, state_of(workspace, seen.file))


def names_in(workspace: Workspace, seen: Look) -> Names:
    """Return the cars of a file."""
    return named_in(workspace, seen).cars


@lru_cache(2 * MOST_FILES)
def _named(workspace: Workspace, mark: str, _state: object) -> Named:
    try:
        seen = look(workspace, Tray(workspace).get(mark))
        rows = read_whole(workspace, seen).rows
    except BatchError:
        return Named()
    table = seen.found.table or "scans"
    return Named(
        cars=cars_in(rows),
        modules=Counter(_cells(rows, "module")[0]) if table == "scans" else Counter(),
        priced=tuple(zip(*_cells(rows, "part", "also_called"), strict=True)) if table == "parts" else (),
        fitted=tuple(zip(*_cells(rows, "part", "vehicle", "job"), strict=True)) if table == "repairs" else (),
    )


def cars_in(rows: pl.DataFrame) -> Names:
    """Return the cars that some rows of stock lists or scans name."""
    cells = [pl.col(name) if name in rows.columns else pl.lit(None, pl.String) for name in CARS]
    return frozenset(rows.select(cell.alias(str(at)) for at, cell in enumerate(cells)).unique().rows())


def _cells(rows: pl.DataFrame, first: str, *others: str) -> Sequence[list[str]]:
    """Return some columns of the rows whose first one is filled, blank cells as empty text."""
    if first not in rows.columns:
        return [[] for _ in (first, *others)]
    there = rows.filter(pl.col(first).is_not_null())
    blank = [""] * there.height
    columns = (there[name].fill_null("").to_list() if name in there.columns else blank for name in (first, *others))
    return list(columns)
