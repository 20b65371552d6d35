"""The distinct spellings of codes, modules, statuses and parts, each normalised once.

A million rows hold a few thousand spellings.  They are fetched, read by the
vocabulary, and put beside the rows as small tables that SQL joins back.
"""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from analysis.texts.notes import no_such_car, unknown_module
from analysis.vocabulary.codes import read_code, status_of
from analysis.vocabulary.makes import make_key
from analysis.vocabulary.modules import ModuleIndex
from analysis.vocabulary.parts import canonical_parts, canonical_positions
from pipelines.errors import plain_name
from pipelines.ingest.near_cars import near_cars
from pipelines.ingest.own_words import EQUIPMENT, NOTHING_SAID, OwnWords, Row
from pipelines.storage.warehouse import Warehouse

_CODES = """
select distinct code as spelling, coalesce(failure_type, '') as given_type from raw.scans where code is not null
union
select code, '' from raw.background where code is not null
order by all
"""
_MODULES = """
select module as spelling, count(*) as rows
from (select module from raw.scans union all select module from raw.background) as named
where module is not null
group by module order by module
"""
_STATUSES = "select distinct status as spelling from raw.scans where status is not null order by all"
_MAKES = """
select make as spelling from raw.stock where make is not null
union
select model from raw.stock where model is not null
union
select make from raw.background where make is not null
order by all
"""
_VEHICLES = """
select spelling, bool_or(in_stock) as in_stock from (
    select vehicle as spelling, true as in_stock, file_id, row from raw.stock
    union all select vehicle, false, file_id, row from raw.scans
    union all select vehicle, false, file_id, row from raw.repairs
    union all select vehicle, false, file_id, row from raw.background
) as named where spelling is not null
group by spelling order by min(file_id), min(row), spelling
"""
_REPAIRED_ALONE = """
select distinct vehicle from raw.repairs
where lower(trim(vehicle)) not in (select lower(trim(vehicle)) from raw.scans where vehicle is not null)
order by all
"""
# Two stock numbers with one vehicle number cannot be told apart by it, so neither is taken.
_VINS = """
select upper(trim(vin)) as vin, min(vehicle) as vehicle from raw.stock where vin is not null
group by upper(trim(vin)) having count(distinct lower(trim(vehicle))) = 1
"""
# A number that scans with two vehicle numbers bear is no name of one car.
_SCANNED_WITH = """
select lower(trim(vehicle)) as number, min(upper(trim(vin))) as vin from raw.scans
where vehicle is not null and vin is not null
group by lower(trim(vehicle)) having count(distinct upper(trim(vin))) = 1
"""
_PLATES = "select distinct plate, vehicle from raw.stock where plate is not null and vehicle is not null order by all"
_PRICED = "select distinct part, coalesce(also_called, '') as also_called from raw.parts order by all"
_FITTED = "select part, count(*) as times from raw.repairs where part is not null group by part order by part"
_PLACED = """
select position, count(*) as times from raw.repairs where position is not null group by position order by position
"""


def normalise_spellings(warehouse: Warehouse, own: OwnWords = NOTHING_SAID) -> list[str]:
    """Read every distinct spelling and replace the tables ``spelling.*``.

    Args:
        warehouse: The open database with its raw tables.
        own: The dealer's own words, beside those of the shipped lists.

    Returns:
        Notes for the run: spellings that are kept as they stand because nothing known matches.
    """
    notes = _codes(warehouse)
    notes += _modules(warehouse, own.modules)
    _statuses(warehouse)
    _makes(warehouse)
    notes += _vehicles(warehouse)
    notes += _equipment(warehouse, own.equipment)
    return notes + _parts(warehouse, own.one_part)


def _codes(warehouse: Warehouse) -> list[str]:
    rows, notes = [], []
    written: dict[str, str] = {}
    for spelling, given in warehouse.query(_CODES).iter_rows():
        read = read_code(spelling, given or None)
        rows.append((spelling, given, read.value, read.failure_type, read.kind, read.scoped_by_make, read.why))
        if read.value is not None and read.short is not None:
            # 05123 and 5123 are one number; it is shown as whoever wrote all its zeros wrote it.
            written[read.value] = max(written.get(read.value, ""), read.short, key=lambda text: (len(text), text))
        if read.note:
            notes.append(f"code {spelling!r}: {read.note}")
    rows = [(spelling, given, written.get(value or ""), *rest) for spelling, given, value, *rest in rows]
    schema = {
        "spelling": pl.String,
        "given_type": pl.String,
        "short": pl.String,
        "failure_type": pl.String,
        "kind": pl.String,
        "scoped": pl.Boolean,
        "why": pl.String,
    }
    warehouse.replace_table("spelling.codes", pl.DataFrame(rows, schema=schema, orient="row"))
    return notes


def _modules(warehouse: Warehouse, own: Sequence[Row]) -> list[str]:
    shipped = ModuleIndex.from_rows(warehouse.fetch("reference.modules").iter_rows(named=True))
    index, notes = shipped.taught(own)
    rows = []
    for spelling, times in warehouse.query(_MODULES).iter_rows():
        module, known = index.canonical(spelling)
        rows.append((spelling, module, known))
        if not known:
            notes.append(unknown_module(spelling, times, module))
    schema = {"spelling": pl.String, "module": pl.String, "known": pl.Boolean}
    warehouse.replace_table("spelling.modules", pl.DataFrame(rows, schema=schema, orient="row"))
    return notes


def _makes(warehouse: Warehouse) -> None:
    rows = [(spelling, make_key(spelling)) for (spelling,) in warehouse.query(_MAKES).iter_rows()]
    schema = {"spelling": pl.String, "make_key": pl.String}
    warehouse.replace_table("spelling.makes", pl.DataFrame(rows, schema=schema, orient="row"))


def _vehicles(warehouse: Warehouse) -> list[str]:
    """Give each spelling of a stock number the one that the stock list has, capitals and surrounding spaces aside.

    A vehicle number or a plate in place of a stock number means the one car that has it in the stock list; of a plate
    letters and digits alone count.  A number of no stock list whose scans all tell one vehicle number means the car
    that has it in the stock list.
    Where the stock list itself has several, they may be several cars, and each stays its own.  What is in no stock
    list goes by the spelling that came first.
    """
    cars: dict[str, list[tuple[str, bool]]] = {}
    named = list(warehouse.query(_VEHICLES).iter_rows())
    listed = {spelling.strip().casefold() for spelling, in_stock in named if in_stock}
    strange = [spelling for spelling, in_stock in named if not in_stock and spelling.strip().casefold() not in listed]
    meant, notes = _other_names(warehouse, strange)
    for spelling, in_stock in named:
        if spelling not in meant:
            cars.setdefault(spelling.strip().casefold(), []).append((spelling, in_stock))
    rows = []
    for spellings in cars.values():
        in_list = [spelling for spelling, in_stock in spellings if in_stock]
        names = [spelling for spelling, _ in spellings]
        if len(in_list) > 1:
            rows += [(name, name) for name in names]
            told = ", ".join(repr(name) for name in names)
            notes.append(
                f"the stock list has the stock numbers {told}: taken for different cars, for it names them all"
            )
            continue
        vehicle = in_list[0] if in_list else names[0]
        rows += [(name, vehicle) for name in names]
        others = ", ".join(repr(name) for name in names if name != vehicle)
        if others:
            notes.append(f"stock number {others} is taken for {vehicle}: only capitals or spaces differ")
    notes += _no_such_cars(warehouse, {*strange} - meant.keys(), [name for name, in_stock in named if in_stock])
    told_by = dict(rows)
    rows += [(spelling, told_by.get(vehicle, vehicle)) for spelling, vehicle in meant.items()]
    schema = {"spelling": pl.String, "vehicle": pl.String}
    warehouse.replace_table("spelling.vehicles", pl.DataFrame(sorted(rows), schema=schema, orient="row"))
    return notes


def _equipment(warehouse: Warehouse, said: Sequence[Row]) -> list[str]:
    """Put what was said to be fitted to cars beside the stock list; a note for each car that nothing names."""
    cars = {
        plain_name(name): vehicle
        for name, vehicle in warehouse.query("from spelling.vehicles order by all").iter_rows()
    }
    rows, notes = [], []
    for row in said:
        vehicle = cars.get(plain_name(row["vehicle"]))
        if vehicle is None:
            notes.append(f"{EQUIPMENT}: no file names the car {row['vehicle']!r}, so that it has {row['has']!r} waits")
            continue
        codes = [code.strip() for code in row["codes"].split(";") if code.strip()]
        rows += [(vehicle, row["has"].lower().replace(";", ","), code) for code in codes or [""]]
    schema = {"vehicle": pl.String, "modification": pl.String, "code": pl.String}
    table = pl.DataFrame(sorted(set(rows)), schema=schema, orient="row")
    warehouse.replace_table("spelling.equipment", table)
    return notes


def _other_names(warehouse: Warehouse, strange: Sequence[str]) -> tuple[dict[str, str], list[str]]:
    """Return the car of each spelling of no stock list that names it otherwise, and a note for each way to do so."""
    plates, notes = _by_plate(warehouse)
    vins = dict(warehouse.query(_VINS).iter_rows())
    scanned_with = dict(warehouse.query(_SCANNED_WITH).iter_rows())
    by_vin = {name: vins[name.strip().upper()] for name in strange if name.strip().upper() in vins}
    rest = [name for name in strange if name not in by_vin]
    by_plate = {name: plates[plain_name(name)] for name in rest if plain_name(name) in plates}
    told = {name: scanned_with.get(name.strip().lower(), "") for name in rest if name not in by_plate}
    beside = {name: vins[vin] for name, vin in told.items() if vin in vins}
    if by_vin:
        notes.append(
            f"{len(by_vin)} vehicle numbers stand in place of a stock number: each is taken for the car that has it in "
            "the stock list"
        )
    if by_plate:
        spelling, vehicle = next(iter(by_plate.items()))
        notes.append(
            f"{len(by_plate)} plates stand in place of a stock number, like {spelling!r} for {vehicle}: each is taken "
            "for the car that has it in the stock list"
        )
    if beside:
        spelling, vehicle = next(iter(beside.items()))
        notes.append(
            f"{len(beside)} numbers of scans stand in no stock list, like {spelling!r} for {vehicle}: each is taken "
            "for the car that has the vehicle number of these scans in the stock list"
        )
    return by_vin | by_plate | beside, notes


def _no_such_cars(warehouse: Warehouse, strange: set[str], listed: Sequence[str]) -> list[str]:
    """Say which repairs are of cars that no stock list and no scan knows but for one letter."""
    if not listed:
        return []
    known = [*listed, *(plate for plate, _ in warehouse.query(_PLATES).iter_rows())]
    names = [name for (name,) in warehouse.query(_REPAIRED_ALONE).iter_rows() if name in strange]
    near = {name: found for name in names if (found := near_cars(name, known))}
    notes = [no_such_car(name, found) for name, found in [*near.items()][:_MOST_NEAR]]
    return [*notes, *([f"and {len(near) - _MOST_NEAR} more such numbers"] if len(near) > _MOST_NEAR else [])]


_MOST_NEAR = 10


def _by_plate(warehouse: Warehouse) -> tuple[dict[str, str], list[str]]:
    """Return the one car of each plate of the stock list, and notes on plates that several have."""
    cars: dict[str, dict[str, str]] = {}
    shown: dict[str, str] = {}
    for plate, vehicle in warehouse.query(_PLATES).iter_rows():
        cars.setdefault(plain_name(plate), {})[vehicle.strip().casefold()] = vehicle
        shown.setdefault(plain_name(plate), plate)
    notes = [
        f"the stock list has the plate {shown[key]!r} for {' and '.join(sorted(found.values()))}: it names none of them"
        for key, found in cars.items()
        if len(found) > 1
    ]
    return {key: next(iter(found.values())) for key, found in cars.items() if key and len(found) == 1}, notes


def _statuses(warehouse: Warehouse) -> None:
    rows = []
    for (spelling,) in warehouse.query(_STATUSES).iter_rows():
        read = status_of(spelling)
        rows.append((spelling, read.present, read.tested, read.word))
    schema = {"spelling": pl.String, "present": pl.Boolean, "tested": pl.Boolean, "word": pl.String}
    warehouse.replace_table("spelling.statuses", pl.DataFrame(rows, schema=schema, orient="row"))


def _parts(warehouse: Warehouse, one_part: Sequence[tuple[str, str]]) -> list[str]:
    priced = list(warehouse.query(_PRICED).iter_rows())
    names, notes = canonical_parts(priced, list(warehouse.query(_FITTED).iter_rows()), one_part)
    positions = canonical_positions(list(warehouse.query(_PLACED).iter_rows()))
    for table, column, known in (("parts", "part", names), ("positions", "position", positions)):
        schema = {"spelling": pl.String, column: pl.String}
        # A semicolon parts the entries of a list in the tables, so a name may not hold one.
        rows = sorted((spelling, name.replace(";", ",")) for spelling, name in known.items())
        frame = pl.DataFrame(rows, schema=schema, orient="row")
        warehouse.replace_table(f"spelling.{table}", frame)
    return notes
