"""Scanned cars that no stock list knows, and the row of a stock list that holds their number in another column.

A scan bears what somebody typed into the tester: a key's tag, a number of the yard.  Where the stock list calls the car
by a stock number, nothing joins the two until somebody says that they are one.  Vehicle numbers and plates that the
stock list is read with are names of its cars, as the week itself takes them.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.texts.desk_plain_text import file_name
from pipelines.desk.look import look, words_of
from pipelines.desk.named import Names, cars_in, names_in
from pipelines.errors import BatchError, InputFileError, plain_name
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.workbook_reader import sheet_rows

if TYPE_CHECKING:
    from pipelines.desk.desk import Desk
    from pipelines.desk.tray import Waiting

Grid = tuple[tuple[str, ...], ...]
_MARKS = ";\t|,"
_KEPT = 64


@dataclass(frozen=True, kw_only=True)
class Stranger:
    """A scanned car that no stock list knows.

    Attributes:
        number: As its scans call it.
        files: The files of these scans.
        vehicle: The stock number that stands in one row of a stock list with it; blank where there is none, or several.
        column: The heading of the column of that row that holds the number.
        stock: The name of that stock list.
        same: All its scans tell the vehicle number of that car, so that the week takes it for that one unasked.
    """

    number: str
    files: tuple[str, ...]
    vehicle: str = ""
    column: str = ""
    stock: str = ""
    same: bool = False


def on_tray(desk: Desk, files: Sequence[Waiting]) -> list[Stranger]:
    """Return the strangers in the files that wait, as they would be taken in; none where there is no stock list."""
    looks = [one for one in (look(desk.workspace, file) for file in files) if one.ready]
    scans = {one.file.name: names_in(desk.workspace, one) for one in looks if one.found.table == "scans"}
    lists = {one.file.name: one for one in looks if one.found.table == "stock"}
    stock = listed_cars(desk).union(*(names_in(desk.workspace, one) for one in lists.values()))
    grids = {name: _grid(one.file.path, one.file.mark) for name, one in lists.items()}
    return _strangers(scans, stock, {**_grids(desk), **grids})


def taken_in(desk: Desk) -> list[Stranger]:
    """Return the strangers in the scans that were taken in and that the week joins to no car of a stock list."""
    with desk.looking() as warehouse:
        rows = warehouse.query(_SCANNED).rows()
    scans: dict[str, set[tuple[str | None, str | None, str | None]]] = {}
    for name, vehicle, vin in rows:
        scans.setdefault(name, set()).add((vehicle, vin, None))
    found = _strangers(scans, listed_cars(desk), _grids(desk))
    named = (replace(one, files=tuple(map(file_name, one.files)), stock=file_name(one.stock)) for one in found)
    return [one for one in named if not one.same]


def misspelt(desk: Desk, files: Sequence[Waiting]) -> list[tuple[str, str, list[str]]]:
    """Return the cars of repairs on the tray that neither stock list nor scan knows but for one letter.

    Each is its number, its file, and the known ones.
    """
    from pipelines.ingest.near_cars import near_cars

    looks = [one for one in (look(desk.workspace, file) for file in files) if one.found.table == "repairs"]
    if not looks:
        return []
    others = [one for one in (look(desk.workspace, file) for file in files) if one.ready]
    held = {one.file.name: (one.found.table, names_in(desk.workspace, one)) for one in others}
    stock = listed_cars(desk).union(*(names for table, names in held.values() if table == "stock"))
    scanned = frozenset[tuple[str | None, str | None, str | None]]().union(
        *(names for table, names in held.values() if table == "scans"), _scanned(desk)
    )
    listed = {name for names in stock for name in names if name}
    known = {plain_name(name) for names in stock | scanned for name in names if name}
    return [
        (vehicle, one.file.name, near)
        for one in looks
        for vehicle in sorted({name for name, *_ in names_in(desk.workspace, one) if name})
        if listed and plain_name(vehicle) not in known and (near := near_cars(vehicle, listed))
    ]


def _scanned(desk: Desk) -> Names:
    if not desk.workspace.database.exists():
        return frozenset()
    try:
        with desk.looking() as warehouse:
            return frozenset((vehicle, vin, None) for _, vehicle, vin in warehouse.query(_SCANNED).iter_rows())
    except BatchError:  # a run holds it
        return frozenset()


_SCANNED = """
select distinct files.name, scans.vehicle, scans.vin
from raw.scans as scans join raw.files as files using (file_id) order by all
"""


def listed_cars(desk: Desk) -> Names:
    """Return the cars of the stock lists that were taken in."""
    if not desk.workspace.database.exists():
        return frozenset()
    try:
        with desk.looking() as warehouse:
            return cars_in(warehouse.query("select * from raw.stock"))
    except BatchError:  # a run holds it
        return frozenset()


def _grids(desk: Desk) -> dict[str, Grid]:
    """Return the cells of the stock lists that were taken in."""
    from pipelines.storage.file_archive import archived
    from pipelines.storage.undo import taken_in as files_of

    if not desk.workspace.database.exists():
        return {}
    try:
        with desk.looking() as warehouse:
            files = [file for file in files_of(warehouse) if file.name.startswith("stock/")]
    except BatchError:
        return {}
    places = {file.name: archived(desk.workspace, LAYOUTS["stock"], file.sha256) for file in files}
    return {name: _grid(place, place.name) for name, place in places.items() if place is not None}


def _strangers(
    scans: Mapping[str, Iterable[tuple[str | None, ...]]], stock: Names, grids: Mapping[str, Grid]
) -> list[Stranger]:
    if not stock:
        return []
    listed = {vehicle.strip().casefold() for vehicle, _, _ in stock if vehicle}
    vins = _one_each((vin, vehicle) for vehicle, vin, _ in stock)
    told_with = _one_each((vehicle, vin) for names in scans.values() for vehicle, vin, *_ in names)
    plates = {plain_name(plate) for _, _, plate in stock if plate}
    found: dict[str, list[str]] = {}
    for file, names in scans.items():
        for vehicle, vin, *_ in sorted(names, key=str):
            told = (vehicle or "").strip()
            alone = "" if told else (vin or "").strip().upper()
            known = told.casefold() in listed or {told.upper(), alone} & vins.keys()
            if not known and plain_name(told) not in plates:
                found.setdefault(told or vin or "", []).append(file)
    own = {plain_name(vehicle): vehicle for vehicle, _, _ in stock if vehicle}
    same = {number: vins.get(told_with.get(number.upper(), "").upper(), "") for number in found}
    return [
        Stranger(number=number, files=tuple(dict.fromkeys(files)), vehicle=same[number], same=True)
        if same[number]
        else _placed(number, files, own, grids)
        for number, files in sorted(found.items())
        if number
    ]


def _one_each(pairs: Iterable[tuple[str | None, str | None]]) -> dict[str, str]:
    """Return the one second name of each first one, in capitals; a first name with several has none."""
    found: dict[str, dict[str, str]] = {}
    for first, second in pairs:
        if first and second:
            found.setdefault(first.strip().upper(), {})[second.strip().upper()] = second.strip()
    return {first: next(iter(seconds.values())) for first, seconds in found.items() if len(seconds) == 1}


def _placed(number: str, files: list[str], own: Mapping[str, str], grids: Mapping[str, Grid]) -> Stranger:
    """Look for the row of a stock list that holds a number; of several rows none is meant."""
    wanted, rows = plain_name(number), []
    for name, grid in grids.items():
        for at, row in enumerate(grid):
            cars = {own[plain_name(cell)] for cell in row if plain_name(cell) in own}
            column = next((place for place, cell in enumerate(row) if plain_name(cell) == wanted), None)
            if column is not None and len(cars) == 1:
                rows.append((cars.pop(), _heading(grid, at, column, own), name))
    told = tuple(dict.fromkeys(files))
    if len({vehicle for vehicle, *_ in rows}) != 1:
        return Stranger(number=number, files=told)
    vehicle, column_name, stock_name = rows[-1]
    return Stranger(number=number, files=told, vehicle=vehicle, column=column_name, stock=stock_name)


def _heading(grid: Grid, at: int, column: int, own: Mapping[str, str]) -> str:
    """Return what stands above a column, nearest to its first row that names a car of the stock list."""
    above = [row for row in grid[:at] if not any(plain_name(cell) in own for cell in row)]
    return next((row[column] for row in reversed(above) if len(row) > column and row[column]), "")


@lru_cache(_KEPT)
def _grid(path: Path, _mark: str) -> Grid:
    """Return the cells of a table, of a workbook those of its first sheet; none where it is no table."""
    try:
        if path.read_bytes()[:2] == b"PK":
            return tuple(tuple(cell.strip() for cell in cells) for _, cells in sheet_rows(path, None))
        text = words_of(path, None)
        mark = max(_MARKS, key=text.count)
        return tuple(tuple(cell.strip() for cell in cells) for cells in csv.reader(io.StringIO(text), delimiter=mark))
    except (InputFileError, OSError, csv.Error):
        return ()
