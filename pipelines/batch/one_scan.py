"""One car that is not the dealer's yet, diagnosed from a scan of it with all that the last run had learned.

Where a run is kept, its facts and its model are taken as they stand, and only what the new scan says is built: as the
scan of the only car of a copy of the database.  Where none is kept, or the scan shows a code that its model does not
know, the model is fitted for this question.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import date

import polars as pl

from analysis.diagnosis import (
    DiagnosisFrames,
    DiagnosisModel,
    fit,
    learn_elsewhere,
    list_cars,
    stored_calibration,
)
from analysis.diagnosis.unseen import PastCars
from pipelines.batch.last_week import refusing
from pipelines.batch.marts import Facts, build_marts, build_of_one_car, costs_of, fetch_marts, normalise
from pipelines.batch.others import kept_sets
from pipelines.settings import Settings
from pipelines.storage.model_store import ModelStore, StoredRun
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace

_OTHERS = ("raw.scans", "raw.repairs", "raw.stock")
_NO_FAMILIES = pl.DataFrame(schema={"codes": pl.List(pl.String), "root": pl.String})


@dataclass(frozen=True, kw_only=True)
class ScannedCar:
    """One car as the list would see it.

    Attributes:
        facts: What is known of past jobs, and of this car as the only one in stock.
        model: What it is diagnosed with.
        past: The dealer's cars as they came in.
        rows: Its rows of the list, money in cents.
        notes: What there is to say of it.
    """

    facts: Facts
    model: DiagnosisModel
    past: PastCars
    rows: pl.DataFrame
    notes: list[str]


def diagnose_scan(
    workspace: Workspace,
    settings: Settings,
    as_of: date,
    warehouse: Warehouse,
    *,
    vehicle: str,
    load: Callable[[Warehouse], None],
) -> ScannedCar:
    """Diagnose the car that a scan shows.

    Args:
        workspace: For the dealer's own names of modules.
        settings: The settings.
        as_of: The day of the scan.
        warehouse: A copy of the database; it is changed.
        vehicle: What the car is called.
        load: Loads the scan, and its car into the stock.
    """
    facts, model, past = model_of_scan(workspace, settings, as_of, warehouse, load)
    listed = list_cars(model, vehicle, past)
    return ScannedCar(facts=facts, model=model, past=past, rows=listed.rows, notes=listed.notes)


def model_of_scan(
    workspace: Workspace, settings: Settings, as_of: date, warehouse: Warehouse, load: Callable[[Warehouse], None]
) -> tuple[Facts, DiagnosisModel, PastCars]:
    """Return the facts with newly scanned cars as all that is in stock, what to diagnose them with, and past cars.

    Args:
        workspace: For the dealer's own names of modules.
        settings: The settings.
        as_of: The day of the scans.
        warehouse: A copy of the database; it is changed.
        load: Loads the scans, and their cars into the stock.
    """
    run = ModelStore(warehouse).current()
    if run is None:
        load(warehouse)
        normalise(workspace, warehouse)
        facts, run = build_marts(warehouse, settings, as_of), ModelStore(warehouse).latest()
    else:
        past = fetch_marts(warehouse, DiagnosisFrames.__annotations__)
        for table in _OTHERS:
            warehouse.execute(f"delete from {table}")  # noqa: S608 - a table the program itself has named
        load(warehouse)
        normalise(workspace, warehouse)
        facts = _with_car(past, build_of_one_car(warehouse, settings, as_of))
    return facts, *_model(facts, settings, run, workspace)


def _with_car(past: Facts, car: Mapping[str, pl.DataFrame]) -> Facts:
    """Return the facts of the last run with one car as all that is in stock; its codes are added to the known ones."""
    new = car["codes"].join(past["codes"], on="code", how="anti")
    codes = pl.concat([past["codes"], new]).sort("code")
    modules = pl.concat([past["car_modules"], car["car_modules"]]).unique(maintain_order=True)
    return Facts({**past.frames, **car, "codes": codes, "car_modules": modules})


def _model(
    facts: Facts, settings: Settings, run: StoredRun | None, workspace: Workspace
) -> tuple[DiagnosisModel, PastCars]:
    frames, costs = facts.take(DiagnosisFrames), costs_of(settings)
    if run is not None and set(run.fitted["codes"].tolist()) == set(facts["codes"]["code"]):
        # What another version of the program had learned may lack something: it is learned anew.
        with suppress(ValueError):
            model = refusing(DiagnosisModel.restored(frames, costs, dict(run.fitted)), run)
            return model, PastCars(model, run.tables.get("past_cars"))
    families = run.tables["families"] if run else _NO_FAMILIES
    calibration = stored_calibration(run.fitted) if run else None
    model = fit(frames, families, costs, calibration, learn_elsewhere(frames, families, kept_sets(workspace)).get(None))
    return refusing(model, run), PastCars(model)
