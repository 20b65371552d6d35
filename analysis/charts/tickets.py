"""One ticket a car: what to try first, what comes behind it, and what is looked past.

The tickets stand in the order in which a morning is best spent: the surest
result for the least money first, then cars to look at again, cars to hand over last.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import polars as pl

from analysis.charts.cost_chance import first_tries


@dataclass(frozen=True)
class Ticket:
    """One car of the shortlist.

    Attributes:
        vehicle, make, model: Which car; empty text where not known.
        point: The mark in the chart of cost against chance; empty where there is none.
        families: Names of the families its open codes belong to.
        first: The row of rank 1, by column.
        later: The rows behind it, in order.
        past: Open codes that are looked past, each with the reason.
        warnings: What is known of parts in its rows whose codes come back more often than they should.
    """

    vehicle: str
    make: str
    model: str
    point: str
    families: list[str]
    first: dict[str, Any]
    later: list[dict[str, Any]]
    past: list[tuple[str, str]]
    warnings: list[str]


def tickets(shortlist: pl.DataFrame, open_codes: pl.DataFrame, worse_parts: pl.DataFrame | None = None) -> list[Ticket]:
    """Turn the shortlist into tickets.

    Args:
        shortlist: The columns of ``shortlist.csv``, money in units.
        open_codes: The columns of ``open_codes.csv``.
        worse_parts: The columns of ``worse_parts.csv``, where it is known.

    Returns:
        One ticket a car.  First the cars whose first try is cheap, then those with a dearer one, each by chance
        per cost, the highest first (an unknown cost last); then those to look at again, the likeliest first;
        then those to hand over.  Level ones stand by vehicle.
    """
    rows = _by_car(shortlist.sort("vehicle", "rank"))
    present = _by_car(open_codes.sort("vehicle", "code"))
    warned = warnings_by_part(worse_parts)
    made = []
    for vehicle, point in _in_order(first_tries(shortlist)).select("vehicle", "point").iter_rows():
        first, *later = rows[vehicle].to_dicts()
        families, past = _seen(present.get(vehicle, open_codes.clear()))
        named = (vehicle, first["make"] or "", first["model"] or "", point or "")
        parts = dict.fromkeys(row["part"] for row in (first, *later) if row["part"])
        warnings = [warning for part in parts for warning in warned.get(part, [])]
        made.append(Ticket(*named, families, first, later, past, warnings))
    return made


def warnings_by_part(worse_parts: pl.DataFrame | None) -> dict[str, list[str]]:
    """Return the warnings of ``worse_parts.csv`` by part, in their order there."""
    found: dict[str, list[str]] = {}
    if worse_parts is not None:
        for part, warning in worse_parts.select("part", "warning").iter_rows():
            found.setdefault(part, []).append(warning)
    return found


def _in_order(firsts: pl.DataFrame) -> pl.DataFrame:
    # A try that costs nothing would divide by nothing: a hundredth stands in for it.
    worth = pl.col("chance") / pl.col("total_cost").clip(lower_bound=0.01)
    dearer = pl.when("cheap").then(0).otherwise(1)
    heap = pl.when(action="specialist").then(3).when(action="recheck").then(2).otherwise(dearer)
    ranked = firsts.with_columns(heap=heap, worth=worth)
    return ranked.sort("heap", "worth", "vehicle", descending=[False, True, False], nulls_last=True)


def _by_car(frame: pl.DataFrame) -> dict[str, pl.DataFrame]:
    return {str(key[0]): part for key, part in frame.partition_by("vehicle", as_dict=True).items()}


def _seen(present: pl.DataFrame) -> tuple[list[str], list[tuple[str, str]]]:
    names = {name for joined in present["family"].drop_nulls() for name in joined.split(";")}
    masked = present.filter(pl.col("background").is_not_null())
    return sorted(names), list(masked.select("code", "background").iter_rows())
