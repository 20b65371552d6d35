"""What changed since the report before: families that grew, cars that came onto the list or left it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import polars as pl


@dataclass(frozen=True)
class Changes:
    """What the page says of the week.

    Attributes:
        before: The week of the report before.
        families: Rows of ``family_changes.csv`` but the steady ones: new, growing, fading, vanished, each by name.
        steady: How many families are steady.
        new, off, other: Rows of ``car_changes.csv`` by what changed, by vehicle.
    """

    before: str
    families: list[dict[str, Any]]
    steady: int
    new: list[dict[str, Any]]
    off: list[dict[str, Any]]
    other: list[dict[str, Any]]


_ORDER = ("new", "growing", "fading", "vanished")


def changes(families: pl.DataFrame, cars: pl.DataFrame, before: str) -> Changes:
    """Sort what changed into what the page says.

    Args:
        families: The columns of ``family_changes.csv``.
        cars: The columns of ``car_changes.csv``.
        before: The week of the report before.
    """
    moved = [
        row
        for kind in _ORDER
        for row in families.filter(pl.col("change") == kind).sort("family", "before", nulls_last=True).to_dicts()
    ]
    by_kind = [cars.filter(pl.col("change") == kind).sort("vehicle").to_dicts() for kind in ("new", "off", "other try")]
    return Changes(before, moved, families.filter(pl.col("change") == "steady").height, *by_kind)
