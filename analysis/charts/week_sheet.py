"""The week on one sheet: the cars in the order of the list, the parts to order by supplier, the money at stake."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import polars as pl

from analysis.charts.car_rows import FIXES, CarRow, Totals, totals
from analysis.texts.paper_text import material, which_car

MOST_CARS = 40


@dataclass(frozen=True)
class OrderLine:
    """A part to order, or the material of a repair.

    Attributes:
        part: With its position, where it has one.
        cost: Price of one, in units; None where it is not known.
        cars: Stock numbers of the cars that want it, each with what a supplier asks for: plate, make, model, year, VIN.
        checked: It is bought only once the check says so.
    """

    part: str
    cost: float | None
    cars: dict[str, str]
    checked: bool


@dataclass(frozen=True)
class WeekSheet:
    """What stands on the sheet.

    Attributes:
        rows: The cars, in the order of the list.
        more: How many cars are not on it.
        orders: Lines of parts to order by supplier, the supplier without a name last.
        asking: What is asked for these cars together, as far as it is known.
        sums: Sums over these cars; what is bought now and what maybe are the sums of the lines to order.
    """

    rows: list[CarRow]
    more: int
    orders: list[tuple[str, list[OrderLine]]]
    asking: float
    sums: Totals

    @property
    def now(self) -> list[tuple[str, list[OrderLine]]]:
        """The lines to order now."""
        return self._lines(checked=False)

    @property
    def maybe(self) -> list[tuple[str, list[OrderLine]]]:
        """The lines to order once a check says so."""
        return self._lines(checked=True)

    def _lines(self, *, checked: bool) -> list[tuple[str, list[OrderLine]]]:
        found = [(supplier, [line for line in lines if line.checked == checked]) for supplier, lines in self.orders]
        return [(supplier, lines) for supplier, lines in found if lines]


def week_sheet(
    rows: Sequence[CarRow], part_suppliers: pl.DataFrame | None, cars: pl.DataFrame | None = None
) -> WeekSheet:
    """Put the week together.

    Args:
        rows: The rows of the list, in its order.
        part_suppliers: Columns part and supplier, where they are known.
        cars: Columns vehicle, plate, model_year and vin, where they are known.
    """
    shown = list(rows[:MOST_CARS])
    from_whom = {} if part_suppliers is None else dict(part_suppliers.select("part", "supplier").iter_rows())
    known = {} if cars is None else {car["vehicle"]: car for car in cars.to_dicts()}
    wanted: dict[tuple[str, str, bool, float | None], dict[str, str]] = {}
    for row in shown:
        first = row.ticket.first
        if first["part"] and (first["action"] == "replace" or (first["action"] in FIXES and first["part_cost"])):
            named = ", ".join(one for one in (first["part"], first["position"]) if one)
            named = named if first["action"] == "replace" else material(named)
            key = (from_whom.get(first["part"], ""), named, row.checked, first["part_cost"])
            wanted.setdefault(key, {})[row.ticket.vehicle] = _which(row, known.get(row.ticket.vehicle, {}))
    orders: dict[str, list[OrderLine]] = {}
    for (supplier, part, checked, cost), which in sorted(
        wanted.items(), key=lambda item: (not item[0][0], item[0][:3])
    ):
        orders.setdefault(supplier, []).append(OrderLine(part, cost, which, checked))
    asking = sum(row.asking or 0.0 for row in shown)
    return WeekSheet(shown, len(rows) - len(shown), list(orders.items()), asking, totals(shown))


def _which(row: CarRow, car: Mapping[str, Any]) -> str:
    """Say which car it is, for whoever sells the part; the maker of its codes stands in for a make not known."""
    ticket = row.ticket
    codes = sorted({key.partition("@")[2] for key in (ticket.first["clears"] or "").split(";") if "@" in key})
    make = ticket.make or ", ".join(codes)
    named = " ".join(str(one) for one in (make, ticket.model, car.get("model_year")) if one)
    return which_car(str(car.get("plate") or ""), named, str(car.get("vin") or ""))
