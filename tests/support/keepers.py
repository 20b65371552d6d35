"""What the tests of keeping, restoring and undoing share: a workspace of a few files, and all it holds and reports."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import polars as pl

from pipelines.ingest.intake import Intake, take_in
from pipelines.report.new_workspace import init_workspace
from pipelines.settings import load_settings
from pipelines.storage.file_loader import end_run
from pipelines.storage.session import opened
from pipelines.storage.snapshots import keep_weekly, prune
from pipelines.storage.undo import Undone, undo
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace, week_name
from tests.support.small_dealer import AS_OF, Rows, write

SCAN = {"vehicle": "A1", "scanned_at": "2026-03-01T09:00", "module": "ECM", "code": "P0301"}
CAR = {"vehicle": "A1", "make": "Corvane", "model": "Alder"}


def scans(*codes: str) -> Rows:
    """Return one row per code of the one car's one scan."""
    return [{**SCAN, "code": code} for code in codes]


def cars(**models: str) -> Rows:
    """Return one stock row per car and model."""
    return [{**CAR, "vehicle": vehicle, "model": model} for vehicle, model in models.items()]


def dealer(folder: Path) -> Workspace:
    """Make an empty workspace."""
    init_workspace(folder)
    return Workspace.open(folder)


def put(place: Workspace, name: str, rows: Rows) -> Path:
    """Write a file into the inbox."""
    path = place.inbox / name
    write(path, rows)
    return path


def run(place: Workspace, day: date = AS_OF, *, snapshot: bool = False) -> Intake:
    """Take the inbox in and end the run, as the week's batch does around its report."""
    settings = load_settings(place.settings_file)
    week = week_name(day, settings.week_starts)
    with opened(place) as warehouse:
        done = take_in(place, settings, warehouse, week, lambda _: None)
        end_run(warehouse, week)
        if snapshot:
            keep_weekly(place, warehouse, day, week)
            prune(place, settings.backups_weekly, settings.backups_monthly)
    return done


def taken(place: Workspace, **files: Rows) -> None:
    """Put one file in, ``stock_1`` into ``stock`` for instance, and take it in; one run a file."""
    settings = load_settings(place.settings_file)
    with opened(place) as warehouse:
        for name, rows in files.items():
            put(place, f"{name.partition('_')[0]}/{name}.csv", rows)
            take_in(place, settings, warehouse, "2026-W48", lambda _: None)
            end_run(warehouse, "2026-W48")


def held(place: Workspace, *, without: tuple[str, ...] = ()) -> dict[str, list[tuple[object, ...]]]:
    """Return the rows of every table of what was read, some columns left out; not the list of what was taken back."""
    with Warehouse(place.database) as warehouse:
        return {
            table: warehouse.query(f"select * exclude ({', '.join(left)}) from {table} order by all").rows()
            if (left := [name for name in without if name in warehouse.columns(table)])
            else warehouse.fetch(table).rows()
            for table in warehouse.raw_tables()
            if table != "raw.undone"
        }


def files_in(folder: Path) -> list[str]:
    """Return the files below a folder, by their path in it."""
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())


def tables_of(place: Workspace) -> dict[str, pl.DataFrame]:
    """Return every table of the database that was read or built."""
    with Warehouse(place.database) as warehouse:
        names = warehouse.query(
            "select table_schema || '.' || table_name as name from information_schema.tables "
            "where table_schema in ('raw', 'spelling', 'staging', 'core', 'marts') and table_name <> 'undone' "
            "order by all"
        )["name"]
        return {name: warehouse.fetch(name) for name in names}


def report_bytes(folder: Path) -> dict[str, object]:
    """Return each file of a report; run.json without its timings, the workbook as its cells."""
    from openpyxl import load_workbook  # noqa: PLC0415 - processes that only take files in start without it

    content: dict[str, object] = {}
    for path in sorted(file for file in folder.rglob("*") if file.is_file()):
        if path.name == "run.json":
            run = json.loads(path.read_text(encoding="utf-8"))
            run.pop("timings")
            content[path.name] = run
        elif path.suffix == ".xlsx":
            book = load_workbook(path)
            content[path.name] = {sheet.title: list(sheet.values) for sheet in book}
        else:
            content[path.relative_to(folder).as_posix()] = path.read_bytes()
    return content


def undone(place: Workspace, target: str) -> Undone:
    """Take a file or a run back."""
    with opened(place) as warehouse:
        return undo(place, load_settings(place.settings_file), warehouse, target)
