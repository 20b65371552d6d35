"""Puts a snapshot in the database's place; the old database is kept beside it.

What was taken in after the snapshot is still in the archive: the next weekly
run reads it again, in its old order and under its old names; nothing is read
whose content is another than its name says, and what the archive no longer has
is named with its rows.  A file that was undone after the snapshot comes back
with it.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from pipelines.errors import DamagedError, WorkspaceError
from pipelines.reading.layouts import LAYOUTS
from pipelines.storage.file_archive import archived, content_hash
from pipelines.storage.integrity import lost_files
from pipelines.storage.recovery import AGAIN, COME_BACK, settle, strays, tidy
from pipelines.storage.session import end_restore, keeping, ready_database
from pipelines.storage.snapshots import Snapshot, read_table, snapshots, table_file, verify
from pipelines.storage.storage_errors import disk_errors
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace, private_folder

_FILES = (
    "select layout, sha256, name, week, run, bytes, rows_loaded as rows from raw.files where refused is null "
    "order by file_id"
)
_WAITING = "select layout, sha256, name, week, run, bytes, rows from raw.pending where what = $again order by place"
_TODO = {
    **{"place": pl.Int64, "what": pl.String, "layout": pl.String, "sha256": pl.String, "name": pl.String},
    **{"week": pl.String, "run": pl.String, "why": pl.String, "bytes": pl.Int64, "rows": pl.Int64},
}

File = dict[str, str | int | None]


@dataclass(frozen=True, kw_only=True)
class Restored:
    """What a restore did.

    Attributes:
        snapshot: The one that was taken.
        rows: Rows of files that the database now holds.
        kept: Where the old database is now, or None where there was none.
        again: Number of archived files that the next weekly run reads again.
        lacking: What was taken in after the snapshot and cannot be read again, one sentence a file.
        notes: What could not be done, in words.
    """

    snapshot: Snapshot
    rows: int
    kept: Path | None
    again: int
    lacking: list[str]
    notes: list[str]


def restore(workspace: Workspace, name: str | None = None) -> Restored:
    """Put a snapshot in the database's place.

    Args:
        workspace: The dealer's folder.
        name: The snapshot's folder name; None takes the latest.

    Returns:
        What was done.

    Raises:
        WorkspaceError: There is no such snapshot, or it is damaged, or the disk refuses something; the database is
            then as it was.
    """
    with disk_errors(workspace.root), workspace.lock():
        tidy(workspace)
        end_restore(workspace)
        chosen = _choose(workspace, name)
        manifest = verify(chosen)
        known = _known_files(workspace)
        made = workspace.state / ".restored.duckdb"
        made.unlink(missing_ok=True)
        rows = _fill(made, chosen, manifest.version, list(manifest.tables))
        with Warehouse(made) as warehouse:
            _note_what_is_to_do(workspace, warehouse, known)
        made.replace(ready_database(workspace))
        kept = _make_room(workspace)
        ready_database(workspace).replace(workspace.database)
        with Warehouse(workspace.database) as warehouse:
            notes = settle(workspace, warehouse)
            again = sum(1 for _ in strays(workspace, warehouse))
            lacking = lost_files(workspace, warehouse)
            return Restored(snapshot=chosen, rows=rows, kept=kept, again=again, lacking=lacking, notes=notes)


def _choose(workspace: Workspace, name: str | None) -> Snapshot:
    found = snapshots(workspace)
    if not found:
        raise WorkspaceError(f"{workspace.backups} holds no snapshot yet. Nothing was changed.")
    if name is None:
        return found[-1]
    for snapshot in found:
        if snapshot.name == name:
            return snapshot
    names = ", ".join(snapshot.name for snapshot in reversed(found))
    raise WorkspaceError(f"{workspace.backups} has no snapshot {name!r}; it has {names}. Nothing was changed.")


def _fill(path: Path, snapshot: Snapshot, version: int, tables: Iterable[str]) -> int:
    """Make a database of the snapshot's own version out of its files; return how many rows of files it holds."""
    rows = 0
    with Warehouse(path, version=version) as warehouse, warehouse.transaction():
        for table in tables:
            file = snapshot.folder / table_file(table)
            warehouse.execute(f"delete from {table}")  # noqa: S608 - a table the program itself has named
            warehouse.fill(table, read_table(file))
            # A later program's tables may have columns that the snapshot does not know.
            columns = read_table(file).schema.names
            if warehouse.digest(table, None, columns) != warehouse.digest(table, read_table(file), columns):
                raise WorkspaceError(f"{table} differs from {file} once it is filled. Nothing was changed.")
            if table.removeprefix("raw.") in LAYOUTS:
                rows += warehouse.number(f"select count(*) from {table}")  # noqa: S608 - see above
    return rows


def _known_files(workspace: Workspace) -> list[File]:
    """Return what was taken in up to now: as the old database says, or the latest snapshot that is whole."""
    if workspace.database.is_file():
        # A database that is whole takes up its log here, so that one file holds it all.
        with suppress(DamagedError), Warehouse(workspace.database, before_migration=keeping(workspace)) as warehouse:
            listed: list[File] = warehouse.query(_FILES).to_dicts()
            return listed + warehouse.query(_WAITING, {"again": AGAIN}).to_dicts()
    for snapshot in reversed(snapshots(workspace)):
        try:
            verify(snapshot)
        except WorkspaceError:
            continue
        files = pl.read_parquet(snapshot.folder / table_file("raw.files")).sort("file_id")
        # Snapshots of older versions have neither runs nor lengths.
        since = [
            pl.col(name) if name in files.columns else pl.lit(None, kind).alias(name)
            for name, kind in (("run", pl.String), ("bytes", pl.Int64))
        ]
        taken = files.filter(pl.col("refused").is_null())
        return taken.select("layout", "sha256", "name", "week", *since, rows="rows_loaded").to_dicts()
    return []


def _note_what_is_to_do(workspace: Workspace, warehouse: Warehouse, known: list[File]) -> None:
    """Write down in the restored database which files come back and which are to be read again."""
    held = warehouse.query(_FILES).to_dicts()
    has = {(file["layout"], file["sha256"]) for file in held}
    lost = [file for file in held if not _stands(workspace, file["layout"], file["sha256"])]
    again = [file for file in known if (file["layout"], file["sha256"]) not in has]
    todo = [*(file | {"what": COME_BACK} for file in lost), *(file | {"what": AGAIN} for file in again)]
    rows = [{**file, "place": place, "why": None} for place, file in enumerate(todo)]
    warehouse.execute("delete from raw.pending")
    with warehouse.incoming(pl.DataFrame(rows, schema=_TODO)):
        warehouse.execute("insert into raw.pending by name select * from incoming")


def _stands(workspace: Workspace, layout: str, sha256: str) -> bool:
    """Tell whether the archive has a file with the content that its name says."""
    path = archived(workspace, LAYOUTS[layout], sha256)
    return path is not None and content_hash(path) == sha256


def _make_room(workspace: Workspace) -> Path | None:
    """Move the old database out of the way, its log first: what is left of it never stands beside the new one."""
    database = workspace.database
    log = database.with_name(database.name + ".wal")
    if not database.exists() and not log.exists():
        return None
    folder = workspace.backups / "replaced"
    private_folder(folder)
    number = 1 + len(list(folder.glob("*.duckdb")))
    while (folder / f"knockon-{number:04d}.duckdb").exists() or (folder / f"knockon-{number:04d}.duckdb.wal").exists():
        number += 1
    kept = folder / f"knockon-{number:04d}.duckdb"
    if log.exists():
        log.replace(kept.with_name(kept.name + ".wal"))
    if database.exists():
        database.replace(kept)
    return kept
