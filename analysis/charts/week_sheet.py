"""The week on one sheet: the cars by the mechanic's time, the parts to order by supplier, the money at stake."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import polars as pl

from analysis.charts.car_rows import CarRow, totals

MOST_CARS = 40


@dataclass(frozen=True)
class OrderLine:
    """A part to order.

    Attributes:
        part: With its position, where it has one.
        cost: Price of one, in units; None where it is not known.
        cars: Stock numbers of the cars that want it.
        checked: Each of them is to be checked before the part is bought.
    """

    part: str
    cost: float | None
    cars: list[str]
    checked: bool


@dataclass(frozen=True)
class WeekSheet:
    """What stands on the sheet.

    Attributes:
        rows: The cars, those that take least of the mechanic's time first, an unknown time last; behind them those to
            hand over and to leave as they are.
        more: How many cars are not on it.
        minutes: Labour of all of them together.
        orders: Lines of parts to order by supplier, the supplier without a name last.
        to_order: What these lines cost together, as far as prices are known.
        parts: What the first lines cost in parts, material of repairs included.
        asking: What is asked for these cars together, as far as it is known.
        saving: What following the list should cost less than handing all of them over.
    """

    rows: list[CarRow]
    more: int
    minutes: float
    orders: list[tuple[str, list[OrderLine]]]
    to_order: float
    parts: float
    asking: float
    saving: float


def week_sheet(
    rows: Sequence[CarRow], part_suppliers: pl.DataFrame | None, check_pays: Mapping[str, bool]
) -> WeekSheet:
    """Put the week together.

    Args:
        rows: The rows of the list, in its order.
        part_suppliers: Columns part and supplier, where they are known.
        check_pays: Whether the first line of a vehicle wants the part checked before it is bought.
    """
    shown = list(rows[:MOST_CARS])
    last = {"recheck": 1, "specialist": 2, "leave": 3}
    shown.sort(
        key=lambda row: (
            last.get(row.ticket.first["action"], 0),
            row.minutes is None,
            row.minutes or 0.0,
            row.ticket.vehicle,
        )
    )
    from_whom = {} if part_suppliers is None else dict(part_suppliers.select("part", "supplier").iter_rows())
    wanted: dict[tuple[str, str, float | None], list[str]] = {}
    for row in shown:
        first = row.ticket.first
        if first["action"] == "replace" and first["part"]:
            named = ", ".join(one for one in (first["part"], first["position"]) if one)
            key = (from_whom.get(first["part"], ""), named, first["part_cost"])
            wanted.setdefault(key, []).append(row.ticket.vehicle)
    orders: dict[str, list[OrderLine]] = {}
    for (supplier, part, cost), cars in sorted(
        wanted.items(), key=lambda item: (not item[0][0], item[0][0], item[0][1])
    ):
        checked = all(check_pays.get(car, False) for car in cars)
        orders.setdefault(supplier, []).append(OrderLine(part, cost, cars, checked))
    summed = totals(shown)
    return WeekSheet(
        shown, len(rows) - len(shown), summed.minutes, list(orders.items()),
        sum((line.cost or 0.0) * len(line.cars) for lines in orders.values() for line in lines), summed.parts,
        sum(row.asking or 0.0 for row in shown), summed.saving,
    )  # fmt: skip
