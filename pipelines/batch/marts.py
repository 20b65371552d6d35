"""The facts of a run: what the SQL models say of the rows, and what the diagnosis asks for out of it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import polars as pl

from analysis import evidence
from analysis.diagnosis import Costs, DiagnosisFrames
from pipelines.ingest.normalise import normalise_spellings, own_modules
from pipelines.settings import Settings
from pipelines.storage.sql_models import Model, downstream, reference_table, shipped_models, upstream
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace, week_name


def normalise(workspace: Workspace, warehouse: Warehouse) -> list[str]:
    """Read each spelling once, the dealer's own names of modules included; return what there is to say of them."""
    modules, notes = own_modules(workspace.root / "modules.csv")
    return [*notes, *normalise_spellings(warehouse, modules)]


def build(warehouse: Warehouse, settings: Settings, as_of: date) -> dict[str, pl.DataFrame]:
    """Build the models and fetch what the analysis reads.

    Args:
        warehouse: With its spellings normalised.
        settings: For units, distances and the week.
        as_of: The day that says what is in stock.

    Returns:
        The frames of ``marts`` and the reference tables of the diagnosis, by name without schema.
    """
    models = shipped_models()
    params: dict[str, object] = {
        "as_of": as_of.isoformat(),
        "week": week_name(as_of, settings.week_starts),
        "odometer_unit": settings.odometer_unit,
        "day_format": settings.formatter.day_format,
        "road_test_km": settings.road_test_km,
    }
    _set_proof(warehouse, evidence.proof_distances(None))
    first = upstream(models, "marts.outcomes")
    _build_models(warehouse, first, params)
    # What driving proves is learned from what came back, and then says more of what stayed away.
    _set_proof(warehouse, evidence.proof_distances(warehouse.fetch("marts.outcomes")))
    again = downstream(models, "core.sightings_after")
    _build_models(warehouse, [model for model in models if model in again or model not in first], params)
    marts = [model for model in models if model.name.startswith("marts.")]
    frames = {model.name.removeprefix("marts."): warehouse.fetch(model.name, model.grain) for model in marts}
    return frames | {name: reference_table(name) for name in ("cautions", "first_checks", "inspection")}


def _set_proof(warehouse: Warehouse, distances: pl.DataFrame) -> None:
    warehouse.replace_table("fitted.proof_distances", distances)


def _build_models(warehouse: Warehouse, models: list[Model], params: dict[str, object]) -> None:
    for model in models:
        warehouse.build(model, params)


def diagnosis_frames(frames: Mapping[str, pl.DataFrame]) -> DiagnosisFrames:
    """Return the frames that the diagnosis takes in, out of all frames of a run by name."""
    return DiagnosisFrames(**{name: frames[name] for name in DiagnosisFrames.__annotations__})


def costs_of(settings: Settings) -> Costs:
    """Return what work costs at this dealer, money in cents."""
    return Costs(
        labour_rate_cents=settings.cents("labour_rate"),
        specialist_cents=settings.cents("specialist_cost"),
        cheap_limit_cents=settings.cents("cheap_limit"),
        country=settings.country,
        road_test_km=settings.road_test_km,
        formatter=settings.formatter,
    )
