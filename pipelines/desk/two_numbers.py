"""Stock numbers that stand together with two vehicle numbers, in the files that wait or in the stock list.

One of them is another car, so that its codes and repairs would be taken for those of this one: said before it is taken
in, with the car of the stock list whose number the other one is.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipelines.desk.look import look
from pipelines.desk.named import Names, names_in
from pipelines.desk.strangers import listed_cars

if TYPE_CHECKING:
    from pipelines.desk.desk import Desk
    from pipelines.desk.tray import Waiting

_HOLDING = ("scans", "stock")


@dataclass(frozen=True, kw_only=True)
class TwoNumbers:
    """A stock number with two vehicle numbers.

    Attributes:
        vehicle: The stock number.
        listed: Its vehicle number in the stock list; blank where that has none, or several.
        others: Each other one, with the names of the files that tell it and the stock number that has it in the stock
            list; blank where none has.
    """

    vehicle: str
    listed: str
    others: tuple[tuple[str, tuple[str, ...], str], ...]


def on_tray(desk: Desk, files: Sequence[Waiting]) -> list[TwoNumbers]:
    """Return the stock numbers of the files that wait, as they would be taken in, that have two vehicle numbers."""
    looks = [one for one in (look(desk.workspace, file) for file in files) if one.ready]
    told = [(one.file.name, one.found.table, names_in(desk.workspace, one)) for one in looks]
    stock = listed_cars(desk).union(*(names for _, table, names in told if table == "stock"))
    return _mixed({name: names for name, table, names in told if table in _HOLDING}, stock)


def _mixed(told: Mapping[str, Names], stock: Names) -> list[TwoNumbers]:
    """Return the stock numbers with two vehicle numbers.

    Args:
        told: The cars that each file names.
        stock: Those of the stock lists.
    """
    listed = _by_first((vehicle, vin) for vehicle, vin, _ in stock)
    owners = _by_first((vin, vehicle) for vehicle, vin, _ in stock)
    files: dict[str, dict[str, list[str]]] = {}
    for name, cars in told.items():
        for vehicle, seen in _by_first((vehicle, vin) for vehicle, vin, _ in cars).items():
            for vin in seen:
                files.setdefault(vehicle, {}).setdefault(vin, []).append(name)
    found = []
    for vehicle, vins in sorted(files.items()):
        own = listed.get(vehicle, {})
        known = next(iter(own)) if len(own) == 1 else ""
        if len(vins.keys() | own.keys()) > 1:
            others = [
                (vin, tuple(names), next((one for key, one in owners.get(vin, {}).items() if key != vehicle), ""))
                for vin, names in sorted(vins.items())
                if vin != known
            ]
            shown = next(iter(_listed_as(stock, vehicle)), vehicle)
            found.append(TwoNumbers(vehicle=shown, listed=known, others=tuple(others)))
    return found


def _listed_as(stock: Names, vehicle: str) -> list[str]:
    """Return how the stock list writes a stock number."""
    return sorted(one for one, _, _ in stock if one and one.strip().upper() == vehicle)


def _by_first(pairs: Iterable[tuple[str | None, str | None]]) -> dict[str, dict[str, str]]:
    """Return the second names of each first one, both in capitals, each with how it is written."""
    found: dict[str, dict[str, str]] = {}
    for first, second in pairs:
        if first and second:
            found.setdefault(first.strip().upper(), {})[second.strip().upper()] = second.strip()
    return found
