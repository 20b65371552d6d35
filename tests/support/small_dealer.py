"""A dealer of a few rows: writes them as inbox files, loads them and builds the models."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path

import polars as pl

from analysis.evidence.cleared import distances_of, fit_cure_model, outcomes_of
from pipelines.ingest.intake import Intake, take_in
from pipelines.ingest.normalise import normalise_spellings
from pipelines.ingest.own_words import NOTHING_SAID, OwnWords
from pipelines.report.new_workspace import init_workspace
from pipelines.settings import load_settings
from pipelines.storage.sql_models import shipped_models, upstream
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace

AS_OF = date(2026, 11, 23)
PARAMS: dict[str, object] = {
    "as_of": AS_OF.isoformat(),
    "week": "2026-W48",
    "odometer_unit": "km",
    "road_test_km": 40.0,
    "day_format": "%Y-%m-%d",
}
Rows = list[dict[str, object]]


def workspace(folder: Path, **tables: Rows) -> Workspace:
    """Make a workspace whose inbox holds one file per table."""
    init_workspace(folder)
    for name, rows in tables.items():
        write(folder / "inbox" / name / f"{name}.csv", rows)
    return Workspace.open(folder)


def write(path: Path, rows: Rows) -> None:
    """Write rows as CSV; a row may leave columns out.  Scans get a column for codes: without it they are refused."""
    columns = list(dict.fromkeys(column for row in rows for column in row))
    columns += ["code"] if "scanned_at" in columns and "code" not in columns else []
    with path.open("w", newline="", encoding="utf-8") as handle:
        writer = csv.DictWriter(handle, columns, restval="")
        writer.writeheader()
        writer.writerows(rows)


def load(place: Workspace, warehouse: Warehouse, week: str = "2026-W48") -> Intake:
    """Take the inbox in."""
    return take_in(place, load_settings(place.settings_file), warehouse, week, lambda _: None)


def build(
    warehouse: Warehouse,
    as_of: date = AS_OF,
    marts: tuple[str, ...] = (),
    own: OwnWords = NOTHING_SAID,
    **more: object,
) -> dict[str, pl.DataFrame]:
    """Normalise, build the models and fetch the marts by their short names.

    Args:
        warehouse: The open database.
        as_of: The report's day.
        marts: Those that are asked for; only they and what they read are built.  None named: all.
        own: The dealer's own words.
        more: Parameters of the models.
    """
    normalise_spellings(warehouse, own)
    params = PARAMS | {"as_of": as_of.isoformat()} | more
    asked = {model.name for mart in marts for model in upstream(f"marts.{mart}")}
    models = [model for model in shipped_models() if not asked or model.name in asked]
    first = upstream("marts.seen_after")
    for model in first:
        warehouse.build(model, params)
    road_test_km = float(str(params["road_test_km"]))
    seen_after = warehouse.fetch("marts.seen_after")
    cure = fit_cure_model(seen_after, road_test_km)
    warehouse.replace_table("fitted.outcomes", outcomes_of(seen_after, cure))
    warehouse.replace_table("fitted.distances", distances_of(cure))
    for model in models:
        if model not in first:
            warehouse.build(model, params)
    names = [model.name for model in models if not marts or model.name.removeprefix("marts.") in marts]
    return {name.removeprefix("marts."): warehouse.fetch(name) for name in names}


def built(folder: Path, marts: tuple[str, ...] = (), **tables: Rows) -> dict[str, pl.DataFrame]:
    """Make, load and build in one go; only some marts where they are named."""
    place = workspace(folder, **tables)
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
        return build(warehouse, marts=marts)
