"""Every number of the report about one car and one code, traced to the rows and files it comes from.

The last run's facts, model and list are taken as the database keeps them; the archived files are read again to show
that the rows still stand where they are said to stand.
"""

from __future__ import annotations

from pipelines.batch.last_week import open_last_week
from pipelines.errors import BatchError, known_as, near
from pipelines.lineage import derived_values, source_rows
from pipelines.lineage.source_files import SourceFiles
from pipelines.lineage.source_rows import Record, Rows
from pipelines.settings import load_settings
from pipelines.storage.session import reading
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace

_MARTS = ("baskets", "basket_codes")
_CODES = "select distinct module, code from core.findings where vehicle = $vehicle order by code"
_VEHICLE = "select make, model, in_stock from core.vehicles where vehicle = $vehicle"
_VEHICLES = "select vehicle from core.vehicles order by vehicle"


def trace(workspace: Workspace, vehicle: str, code: str) -> Record:
    """Trace one code of one car.

    Args:
        workspace: The dealer's folder; nothing in it is changed.
        vehicle: Stock number, of a car that was sold too.
        code: The code's key (``ABS:C0031``, ``BCM:B1317@corvane``), or its short form (``C0031``) where only one
            module of the car has it.

    Returns:
        What ``view.sections`` prints and JSON can hold.

    Raises:
        BatchError: There was no run yet, another run is going on, or car or code are not known; near names are
            named.
    """
    settings = load_settings(workspace.settings_file)
    with reading(workspace) as warehouse:
        last = open_last_week(workspace, settings, warehouse, _MARTS)
        vehicle = known_as(vehicle, warehouse.query(_VEHICLES)["vehicle"])
        make, model, in_stock = _known_vehicle(warehouse, vehicle)
        module, key = _known_code(warehouse, vehicle, code)
        rows = Rows(SourceFiles(workspace, settings, warehouse))
        found: Record = {
            "vehicle": vehicle,
            "code": key,
            "report": last.week,
            "car": {
                "make": make,
                "model": model,
                "in_stock": in_stock,
                "rows": source_rows.stock_row(warehouse, rows, vehicle),
            },
            "open": derived_values.open_code(last, vehicle, key),
            "scans": source_rows.scans(warehouse, rows, vehicle, module, key),
            "looked_past": source_rows.mask(warehouse, rows, vehicle, key),
            "jobs": source_rows.jobs(warehouse, rows, vehicle, key),
            "families": derived_values.families(last, vehicle, key),
            "rules": derived_values.rules(last, vehicle, key),
            "part_results": derived_values.part_results(last, vehicle, key),
            "shortlist": derived_values.shortlist(last, warehouse, rows, vehicle, key),
        }
        return found | {"files": rows.files()}


def _known_vehicle(warehouse: Warehouse, vehicle: str) -> tuple[str | None, str | None, bool]:
    found = warehouse.query(_VEHICLE, {"vehicle": vehicle}).rows()
    if found:
        make, model, in_stock = found[0]
        return make, model, in_stock
    names = warehouse.query(_VEHICLES)["vehicle"].to_list()
    raise BatchError(f"{vehicle!r} is no vehicle of this workspace; {_near(vehicle, names)}. Nothing was changed.")


def _known_code(warehouse: Warehouse, vehicle: str, code: str) -> tuple[str, str]:
    held = {key: module for module, key in warehouse.query(_CODES, {"vehicle": vehicle}).iter_rows()}
    wanted = code.strip().casefold()
    exact = [key for key in held if key.casefold() == wanted]
    named = exact or [key for key in held if wanted in _short_forms(key)]
    if len(named) == 1:
        return held[named[0]], named[0]
    if named:
        raise BatchError(f"{code!r} stands for {' and '.join(named)} on {vehicle}; name one of them.")
    raise BatchError(f"{vehicle} never showed {code!r}; {_near(code, list(held))}. Nothing was changed.")


def _short_forms(key: str) -> set[str]:
    behind = key.partition(":")[2].casefold()
    return {behind, behind.partition("@")[0], key.partition("@")[0].casefold()}


def _near(word: str, names: list[str]) -> str:
    return near(word, names) or f"it has {', '.join(names[:5]) or 'none'}"
