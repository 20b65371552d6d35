"""The facts of a run: what the SQL models say of the rows, and what each room of the analysis asks for out of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

import polars as pl

from analysis.diagnosis import Costs, PastElsewhere
from analysis.frames import select_frames
from analysis.progress import each, portion
from pipelines.ingest.normalise import normalise_spellings
from pipelines.ingest.own_words import own_words
from pipelines.settings import Settings
from pipelines.storage.sql_models import Model, reference_table, shipped_models, upstream
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace, week_name

F = TypeVar("F")

_REFERENCE = ("cautions", "first_checks", "inspection", "trade_words", "generic_codes")


@dataclass(frozen=True)
class Facts:
    """What the models say.

    Attributes:
        frames: The tables of ``marts`` and the reference tables of the diagnosis, by name without schema.
    """

    frames: Mapping[str, pl.DataFrame]

    def __getitem__(self, name: str) -> pl.DataFrame:
        """Return one table."""
        return self.frames[name]

    def take(self, room: type[F]) -> F:
        """Return the tables that a room of the analysis takes in, with the columns that it reads.

        Args:
            room: Its type, for instance ``MiningFrames``.
        """
        return select_frames(room, self.frames)


def normalise(workspace: Workspace, warehouse: Warehouse) -> list[str]:
    """Read each distinct spelling once, by the dealer's own words too; return what to say of them."""
    own, notes = own_words(workspace.root)
    return [*notes, *normalise_spellings(warehouse, own)]


def build_marts(warehouse: Warehouse, settings: Settings, as_of: date) -> Facts:
    """Build the models and fetch what the analysis reads.

    Args:
        warehouse: With its spellings normalised.
        settings: For units, distances and the week.
        as_of: The day that says what is in stock.
    """
    first = _build_outcomes(warehouse, settings, as_of)
    rest = [model for model in shipped_models() if model not in first]
    with portion(len(first) / len(shipped_models()), 1.0):
        _build(warehouse, rest, _params(settings, as_of))
    warehouse.rest()
    return fetch_marts(warehouse)


def build_past(warehouse: Warehouse, settings: Settings, as_of: date) -> Facts:
    """Build only what the diagnosis learns from the jobs of another dealer.

    Args:
        warehouse: With its spellings normalised.
        settings: For units, distances and the week.
        as_of: The day of the report.
    """
    first, names = _build_outcomes(warehouse, settings, as_of), list(PastElsewhere.__annotations__)
    models = upstream(*(f"marts.{name}" for name in names))
    _build(warehouse, [model for model in models if model not in first], _params(settings, as_of))
    return fetch_marts(warehouse, names)


def _build_outcomes(warehouse: Warehouse, settings: Settings, as_of: date) -> list[Model]:
    """State what became of each code after each job; return the models built for it."""
    from analysis.evidence.cleared import (  # noqa: PLC0415 - loaded where the models are built
        distances_of,
        fit_cure_model,
        outcomes_of,
    )

    first = upstream("marts.seen_after")
    half = len(first) / len(shipped_models())
    with portion(0.0, half):
        _build(warehouse, first, _params(settings, as_of))
    # What a distance driven proves is learned from all jobs, and then says what became of each.
    seen_after = warehouse.fetch("marts.seen_after")
    cure = fit_cure_model(seen_after, settings.road_test_km)
    warehouse.replace_table("fitted.outcomes", outcomes_of(seen_after, cure))
    warehouse.replace_table("fitted.distances", distances_of(cure))
    return first


def build_of_one_car(warehouse: Warehouse, settings: Settings, as_of: date) -> Mapping[str, pl.DataFrame]:
    """Build only what is known of cars in stock, as if nobody had ever repaired one.

    Args:
        warehouse: With its spellings normalised.
        settings: For units, distances and the week.
        as_of: The day that says what is in stock.

    Returns:
        stock, open_codes, open_modules, car_modules, codes and stock_erases.
    """
    names = ("stock", "open_codes", "open_modules", "car_modules", "codes", "stock_erases")
    _build(warehouse, upstream(*(f"marts.{name}" for name in names)), _params(settings, as_of))
    return {name: warehouse.fetch(f"marts.{name}") for name in names}


def fetch_marts(warehouse: Warehouse, names: Iterable[str] | None = None) -> Facts:
    """Fetch tables that the last run built, without building anything.

    Args:
        warehouse: With its models built.
        names: The tables of ``marts`` that are asked for; None for all.
    """
    if names is None:
        marts = (model.name for model in shipped_models() if model.name.startswith("marts."))
        names = [name.removeprefix("marts.") for name in marts]
    frames = {name: warehouse.fetch(f"marts.{name}") for name in names if name not in _REFERENCE}
    return Facts(frames | {name: reference_table(name) for name in _REFERENCE})


def _params(settings: Settings, as_of: date) -> dict[str, object]:
    return {
        "as_of": as_of.isoformat(),
        "week": week_name(as_of, settings.week_starts),
        "odometer_unit": settings.odometer_unit,
        "day_format": settings.formatter.day_format,
        "road_test_km": settings.road_test_km,
    }


def _build(warehouse: Warehouse, models: list[Model], params: dict[str, object]) -> None:
    for model in each(models):
        warehouse.build(model, params)


def costs_of(settings: Settings) -> Costs:
    """Return what work costs at this dealer, money in cents."""
    return Costs(
        labour_rate_cents=settings.cents("labour_rate"),
        specialist_cents=settings.cents("specialist_cost"),
        cheap_limit_cents=settings.cents("cheap_limit"),
        country=settings.country,
        road_test_km=settings.road_test_km,
        least_chance=float(settings.least_chance),
        inspection_only=settings.must_clear == "inspection",
        formatter=settings.formatter,
    )
