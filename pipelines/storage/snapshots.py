"""Snapshots: everything that was read, as Parquet, with the sum of each file.

A snapshot is written beside its place, read back and compared with the
database, and only then takes its name.  The files of the archive are not in it;
they stay where they are.
"""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from analysis.progress import each
from pipelines.errors import WorkspaceError
from pipelines.storage.file_archive import content_hash
from pipelines.storage.storage_errors import disk_errors, plain
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace, private_folder

WEEKLY = "weekly"
ASKED = "asked"
_NAME = re.compile(r"(\d{4}-\d\d-\d\d)-([a-z0-9]+)-(\d{4,})")
_TABLE = re.compile(r"raw\.[a-z_]+")
_LIST = "manifest.json"
_OTHERS = "Nothing was changed. 'knockon restore NAME' takes another snapshot of backups/."


@dataclass(frozen=True, kw_only=True)
class Snapshot:
    """One snapshot's place and what its name says.

    Attributes:
        folder: Where it is.
        day: The day it was made for, ``YYYY-MM-DD``.
        reason: ``weekly``, ``asked``, or ``version1`` before that version was brought forward.
        number: Snapshots of one workspace are numbered through; the clock plays no part in their order.
    """

    folder: Path
    day: str
    reason: str
    number: int

    @property
    def name(self) -> str:
        """The folder's name."""
        return self.folder.name


@dataclass(frozen=True)
class Manifest:
    """What a snapshot says of itself.

    Attributes:
        version: The version of the database it was taken of.
        week: The report week it was made in, or "" outside a weekly run.
        tables: By name: its ``content`` (number of rows and a digest of them), its file's ``sha256``.
    """

    version: int
    week: str
    tables: dict[str, dict[str, str]]


def snapshots(workspace: Workspace) -> list[Snapshot]:
    """Return the snapshots of a workspace, the oldest first."""
    found = [(path, _NAME.fullmatch(path.name)) for path in workspace.backups.glob("*")]
    named = [Snapshot(folder=path, day=name[1], reason=name[2], number=int(name[3])) for path, name in found if name]
    return sorted(named, key=lambda snapshot: snapshot.number)


def write_snapshot(
    workspace: Workspace,
    warehouse: Warehouse,
    day: date,
    reason: str,
    week: str = "",
    *,
    contents: Mapping[str, str] | None = None,
) -> Snapshot:
    """Write a checked snapshot of all that was read.

    Args:
        workspace: The dealer's folder.
        warehouse: Its open database.
        day: The day in the snapshot's name.
        reason: Why it is made, one word of small letters and digits.
        week: The report week that it is made in.
        contents: What the tables hold, as ``table_contents`` returns it; None looks.

    Returns:
        The snapshot.

    Raises:
        WorkspaceError: It could not be written, or does not read back as it was written; none was left then.
    """
    number = max((snapshot.number for snapshot in snapshots(workspace)), default=0) + 1
    name = f"{day.isoformat()}-{reason}-{number:04d}"
    fresh, folder = workspace.backups / f".{name}.new", workspace.backups / name
    with disk_errors(workspace.root):
        try:
            shutil.rmtree(fresh, ignore_errors=True)
            private_folder(fresh)
            held = table_contents(warehouse) if contents is None else contents
            tables = {table: _write_table(warehouse, table, content, fresh) for table, content in each(held.items())}
            told = {"made_for": day.isoformat(), "week": week, "version": warehouse.version, "tables": tables}
            _write_text(fresh / _LIST, json.dumps(told, indent=2) + "\n")
            fresh.replace(folder)
        finally:
            shutil.rmtree(fresh, ignore_errors=True)
    return Snapshot(folder=folder, day=day.isoformat(), reason=reason, number=number)


def table_contents(warehouse: Warehouse) -> dict[str, str]:
    """Return number of rows and a digest of them of each table of what was read."""
    return {table: warehouse.digest(table) for table in warehouse.raw_tables()}


def _write_table(warehouse: Warehouse, table: str, content: str, folder: Path) -> dict[str, str]:
    path = folder / table_file(table)
    rows = warehouse.batches(table)
    with path.open("wb") as handle:
        with pq.ParquetWriter(handle, rows.schema, compression="zstd") as writer:
            for batch in rows:
                writer.write_batch(batch)
        handle.flush()
        os.fsync(handle.fileno())
    back = warehouse.digest(table, read_table(path))
    if back != content:
        raise WorkspaceError(
            f"the snapshot's {path.name} does not read back as it was written ({back}; expected {content}): the disk "
            "may be failing. No snapshot was made; the database and the earlier snapshots are as they were."
        )
    return {"content": content, "sha256": content_hash(path)}


def _write_text(path: Path, text: str) -> None:
    with path.open("w", encoding="utf-8", newline="\n") as handle:
        handle.write(text)
        handle.flush()
        os.fsync(handle.fileno())


def table_file(table: str) -> str:
    """Return the name of a table's file in a snapshot."""
    return f"{table.removeprefix('raw.')}.parquet"


def read_table(path: Path) -> Any:
    """Return a reader of one file of a snapshot, in Arrow batches."""
    file = pq.ParquetFile(path)
    return pa.RecordBatchReader.from_batches(file.schema_arrow, file.iter_batches())


def read_manifest(snapshot: Snapshot) -> Manifest:
    """Return what a snapshot says of itself.

    Raises:
        WorkspaceError: Its list cannot be read.
    """
    path = snapshot.folder / _LIST
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
        tables = {name: {key: str(of[key]) for key in ("content", "sha256")} for name, of in told["tables"].items()}
        if not all(map(_TABLE.fullmatch, tables)):
            raise ValueError(f"expected tables of raw, found {', '.join(tables)}")
        return Manifest(int(told["version"]), str(told["week"]), tables)
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise WorkspaceError(f"{path} cannot be read ({plain(error)}). {_OTHERS}") from error


def verify(snapshot: Snapshot) -> Manifest:
    """Hold every file of a snapshot against its sum.

    Returns:
        What the snapshot says of itself.

    Raises:
        WorkspaceError: A file is missing or not as it was written.
    """
    hurt = damage(snapshot, _wrong)
    if hurt:
        raise WorkspaceError(f"{hurt}. {_OTHERS}")
    return read_manifest(snapshot)


def damage(snapshot: Snapshot, wrong: Callable[[Path, str], str | None]) -> str | None:
    """Return what of a snapshot is missing or not as it was written, or None.

    Args:
        snapshot: The snapshot.
        wrong: Takes a file and its sum; returns the sum it has, where that is another.
    """
    try:
        manifest = read_manifest(snapshot)
    except WorkspaceError as error:
        return str(error).removesuffix(f". {_OTHERS}")
    for table, told in manifest.tables.items():
        path = snapshot.folder / table_file(table)
        found = wrong(path, told["sha256"]) if path.is_file() else "no file"
        if found:
            return f"{path} is damaged: its SHA-256 sum is {found}, the snapshot was written with {told['sha256']}"
    return None


def _wrong(path: Path, sha256: str) -> str | None:
    found = content_hash(path)
    return None if found == sha256 else found


def keep_weekly(workspace: Workspace, warehouse: Warehouse, day: date, week: str) -> Snapshot | None:
    """Write the week's snapshot, unless the latest one holds the same.

    Args:
        workspace: The dealer's folder.
        warehouse: Its open database.
        day: The report's day.
        week: The report's week.

    Returns:
        The snapshot, or None where nothing changed since the latest.
    """
    kept = snapshots(workspace)
    now = table_contents(warehouse)
    if kept and now == _contents(kept[-1]):
        return None
    return write_snapshot(workspace, warehouse, day, WEEKLY, week, contents=now)


def _contents(snapshot: Snapshot) -> dict[str, str]:
    try:
        return {table: told["content"] for table, told in read_manifest(snapshot).tables.items()}
    except WorkspaceError:
        return {}


def prune(workspace: Workspace, weekly: int, monthly: int) -> list[str]:
    """Delete weekly snapshots that the rule no longer keeps; those made on request or before a migration stay.

    Args:
        workspace: The dealer's folder.
        weekly: The latest snapshot of each of so many weeks is kept.
        monthly: And the latest of each of so many months.

    Returns:
        The names of those deleted.
    """
    weeks: dict[str, Snapshot] = {}
    months: dict[str, Snapshot] = {}
    made = [snapshot for snapshot in snapshots(workspace) if snapshot.reason == WEEKLY]
    for snapshot in reversed(made):
        weeks.setdefault(_week(snapshot), snapshot)
        months.setdefault(snapshot.day[:7], snapshot)
    kept = [*list(weeks.values())[:weekly], *list(months.values())[:monthly]]
    gone = [snapshot for snapshot in made if snapshot not in kept]
    for snapshot in gone:
        # Out of the list first: what is cut off here is no snapshot any more.
        aside = snapshot.folder.with_name(f".{snapshot.name}.new")
        snapshot.folder.replace(aside)
        shutil.rmtree(aside, ignore_errors=True)
    return [snapshot.name for snapshot in gone]


def _week(snapshot: Snapshot) -> str:
    try:
        return read_manifest(snapshot).week
    except WorkspaceError:
        return snapshot.name
