"""Puts a run into a workspace's database as if a week had been run, for tests that only ask what was kept."""

from __future__ import annotations

from datetime import date, datetime

import polars as pl

from pipelines.storage.model_store import ModelStore, StoredRun
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace


def stored_run(week: str, as_of: date, **tables: pl.DataFrame) -> StoredRun:
    """Make a run that had learned nothing but some tables."""
    return StoredRun(week=week, as_of=as_of, made_at=datetime(2026, 11, 23, 6), version="0", fitted={}, tables=tables)


def keep_run(place: Workspace, week: str, as_of: date, **tables: pl.DataFrame) -> None:
    """Keep such a run in the database, and make the folder of its report."""
    (place.reports / week).mkdir(parents=True, exist_ok=True)
    with Warehouse(place.database) as warehouse:
        ModelStore(warehouse).save(stored_run(week, as_of, **tables))
