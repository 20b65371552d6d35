"""Do archive, database and snapshots still say the same of every file that was taken in?

Each is held against the others by hash.  A weekly run looks at what is new or has another size or time than when it was
last found right, and once in a month at everything, as ``verify`` does whenever it is asked: each archived file against
the sum it came in with, each snapshot against its own sums, and the rows of the latest one against the database.
What is missing, changed or there without a reason is named, each with what to do; nothing is changed here.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import polars as pl

from pipelines.errors import WorkspaceError
from pipelines.reading.layouts import LAYOUTS, Layout, instants
from pipelines.storage.file_archive import archived, content_hash, hash_in_name
from pipelines.storage.recovery import AGAIN, archived_files
from pipelines.storage.snapshots import Snapshot, damage, read_table, snapshots, table_file
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace, private_folder

MONTH_DAYS = 28
_MOST_NAMED = 20

_FILES = "select file_id, layout, sha256, name, run, rows_loaded from raw.files where refused is null order by file_id"
_LOST = "select layout, sha256, name, run, rows from raw.pending where what = $again order by place"
_UNDONE = "select layout, sha256 from raw.undone"


@dataclass(frozen=True, kw_only=True)
class Verification:
    """What was looked at, and what was found.

    Attributes:
        full: Everything was looked at, not only what is new or has changed its size or time.
        files: Files whose rows the database holds.
        hashed: Archived files and files of snapshots that were read and summed.
        findings: What is missing, changed or too much, one sentence each, with what to do.
    """

    full: bool
    files: int
    hashed: int
    findings: tuple[str, ...]


def verify_files(
    workspace: Workspace,
    warehouse: Warehouse,
    day: date,
    *,
    full: bool = False,
    progress: Callable[[str], None] = lambda _: None,
) -> Verification:
    """Hold archive, database and snapshots against each other.

    Args:
        workspace: The dealer's folder; the caller holds its lock, and what had to be read again has been.
        warehouse: Its open database.
        day: The day of the run; four weeks after the last full look, or before it, everything is looked at.
        full: Look at everything now.
        progress: Told what is looked at, and how much of it is done.

    Returns:
        What was found; it is also remembered what was right, in ``.knockon/verified.json``.
    """
    seen = _Seen.remembered(workspace)
    full = full or not seen.full or not 0 <= (day - date.fromisoformat(seen.full)).days < MONTH_DAYS
    look = _Look(workspace, seen, full=full, progress=progress)
    files = warehouse.query(_FILES).to_dicts()
    findings = [
        *_archive(look, files),
        *lost_files(workspace, warehouse),
        *_counts(warehouse),
        *_snapshots(look, warehouse, files),
    ]
    look.now.full = day.isoformat() if full else seen.full
    look.now.keep(workspace)
    if len(findings) > _MOST_NAMED and not full:
        more = f"{len(findings) - _MOST_NAMED} more places differ; 'knockon verify' lists them all"
        findings = [*findings[:_MOST_NAMED], more]
    return Verification(full=full, files=len(files), hashed=look.hashed, findings=tuple(findings))


def lost_files(workspace: Workspace, warehouse: Warehouse) -> list[str]:
    """Return a sentence for each file that was taken in, whose rows the database lacks and the archive cannot give.

    Args:
        workspace: The dealer's folder.
        warehouse: Its open database, with a list of what is to be read again after a restore.
    """
    return [
        _lost(file)
        for file in warehouse.query(_LOST, {"again": AGAIN}).iter_rows(named=True)
        if not _stands(workspace, file["layout"], file["sha256"])
    ]


def _lost(file: Mapping[str, Any]) -> str:
    rows = "an unknown number of rows" if file["rows"] is None else _rows(file["rows"])
    return (
        f"{_called(file)}: brought {rows} that the database now lacks, and the archive has no file with its content. "
        f"Put the file into inbox/{file['layout']} again, or give it up with 'knockon undo {file['sha256'][:12]}'"
    )


def _stands(workspace: Workspace, layout: str, sha256: str) -> bool:
    path = archived(workspace, LAYOUTS[layout], sha256)
    return path is not None and content_hash(path) == sha256


@dataclass
class _Seen:
    """What was found right: the day everything was looked at; size and time of each file, by its path."""

    full: str = ""
    files: dict[str, list[int]] = field(default_factory=dict)

    @classmethod
    def remembered(cls, workspace: Workspace) -> _Seen:
        """Return what the last look remembered; nothing where that cannot be read."""
        with suppress(OSError, ValueError, KeyError, TypeError, AttributeError):
            told = json.loads(_memory(workspace).read_text(encoding="utf-8"))
            date.fromisoformat(told["full"])
            return cls(told["full"], {str(name): list(about) for name, about in told["files"].items()})
        return cls()

    def keep(self, workspace: Workspace) -> None:
        """Remember it; what cannot be remembered is looked at again."""
        path = _memory(workspace)
        fresh = path.with_suffix(".new")
        with suppress(OSError):
            private_folder(path.parent)
            fresh.write_text(json.dumps({"full": self.full, "files": self.files}), encoding="utf-8")
            os.replace(fresh, path)


def _memory(workspace: Workspace) -> Path:
    return workspace.state / "verified.json"


class _Look:
    """One look: which files have to be summed, and what was right."""

    def __init__(self, workspace: Workspace, before: _Seen, *, full: bool, progress: Callable[[str], None]) -> None:
        self.workspace, self.full, self.progress = workspace, full, progress
        self._before, self.now, self.hashed = before, _Seen(), 0

    def wrong(self, path: Path, sha256: str) -> str | None:
        """Return the sum of a file where it is not the one it should be, else None."""
        about = path.stat()
        name, now = path.relative_to(self.workspace.root).as_posix(), [about.st_size, about.st_mtime_ns]
        if self.full or self._before.files.get(name) != now:
            self.hashed += 1
            found = content_hash(path)
            if not found.startswith(sha256):
                return found
        self.now.files[name] = now
        return None

    def share(self, what: str, done: int, of: int) -> None:
        """Tell how far the look is, some twenty times."""
        if done % max(1, of // 20) == 0:
            self.progress(f"verify {what}: {done} of {of}")


def _archive(look: _Look, files: list[dict[str, Any]]) -> Iterator[str]:
    """Name what of the archive is missing, changed, or there without a reason."""
    places: dict[str, dict[str, list[Path]]] = {}
    for layout in LAYOUTS:
        places[layout] = {}
        for path in archived_files(look.workspace, layout):
            places[layout].setdefault((hash_in_name(path) or "")[:8], []).append(path)
    explained: set[Path] = set()
    for done, file in enumerate(files):
        look.share("archive", done, len(files))
        own = [
            path
            for path in places[file["layout"]].get(file["sha256"][:8], [])
            if file["sha256"].startswith(hash_in_name(path) or "-")
        ]
        explained.update(own)
        sums = {path: look.wrong(path, file["sha256"]) for path in own}
        if not own:
            yield _missing(file)
        elif None not in sums.values():
            path, found = next(iter(sums.items()))
            yield _changed(look.workspace, file, path, found or "")
    for layout, by_hash in places.items():
        for path in sorted(path for paths in by_hash.values() for path in paths):
            if path not in explained:
                yield _extra(look.workspace, layout, path)


def _called(file: Mapping[str, Any]) -> str:
    return f"{file['name']} (SHA-256 {file['sha256'][:12]}, run {file['run'] or 'not ended'})"


def _rows(count: int) -> str:
    return "1 row" if count == 1 else f"{count} rows"


def _missing(file: Mapping[str, Any]) -> str:
    return (
        f"{_called(file)}: missing from the archive. Its {_rows(file['rows_loaded'])} are in the database and the "
        f"snapshots, but could not be read again. Put a copy of the file into inbox/{file['layout']}: it is known by "
        "its content and goes back into the archive"
    )


def _changed(workspace: Workspace, file: Mapping[str, Any], path: Path, found: str) -> str:
    return (
        f"{path.relative_to(workspace.root)}: changed since it came in as {_called(file)}; its SHA-256 sum is now "
        f"{found[:12]}. Nothing is read from it; the database has the {_rows(file['rows_loaded'])} of before. Put a "
        f"copy of the right file into inbox/{file['layout']}: it takes its place, and this one goes to rejected/"
    )


def _extra(workspace: Workspace, layout: str, path: Path) -> str:
    promise = hash_in_name(path)
    why = "is no file that was taken in"
    if promise is not None and not content_hash(path).startswith(promise):
        why = f"has another content than its name says ({content_hash(path)[:12]}) and was not read"
    return (
        f"{path.relative_to(workspace.root)}: {why}. Move it into inbox/{layout} if its rows are wanted, else out of "
        "the archive"
    )


def _counts(warehouse: Warehouse) -> Iterator[str]:
    """Name the files of which the database holds more or fewer rows than it took in, and rows of no file."""
    for layout in LAYOUTS:
        # A layout's name is the program's own.
        held = f"select file_id, count(*) as held from raw.{layout} group by file_id"  # noqa: S608
        query = (
            "select name, sha256, run, rows_loaded, coalesce(held, 0) as held from raw.files "  # noqa: S608
            f"left join ({held}) as counted using (file_id) "
            "where layout = $layout and refused is null and rows_loaded <> coalesce(held, 0) order by file_id"
        )
        for file in warehouse.query(query, {"layout": layout}).iter_rows(named=True):
            yield (
                f"{_called(file)}: the database holds {_rows(file['held'])} of it and took in {file['rows_loaded']}: "
                f"it was changed by something else than knockon. {_RESTORE}"
            )
        strange = warehouse.number(
            f"select count(*) from raw.{layout} anti join raw.files using (file_id)"  # noqa: S608
        )
        if strange:
            yield f"the database holds {_rows(strange)} of {layout} that no file brought. {_RESTORE}"


_RESTORE = (
    "'knockon restore' puts the latest snapshot in its place, and what came in later is read again from the archive"
)


def _snapshots(look: _Look, warehouse: Warehouse, files: list[dict[str, Any]]) -> Iterator[str]:
    """Name damaged snapshots, and what the latest one knows and the database does not."""
    kept = snapshots(look.workspace)
    latest: Snapshot | None = None
    for done, snapshot in enumerate(kept):
        look.share("snapshots", done, len(kept))
        hurt = damage(snapshot, look.wrong)
        if hurt:
            yield (
                f"{hurt}. Nothing can be restored from this snapshot; the other {len(kept) - 1} are looked at too. "
                "'knockon backup' makes a new one; move this one out of backups/"
            )
        else:
            latest = snapshot
    if latest is not None:
        yield from _rows_of_snapshot(look, warehouse, latest, files)


def _rows_of_snapshot(
    look: _Look, warehouse: Warehouse, snapshot: Snapshot, files: list[dict[str, Any]]
) -> Iterator[str]:
    listed = pl.read_parquet(snapshot.folder / table_file("raw.files")).filter(pl.col("refused").is_null())
    held = {(file["layout"], file["sha256"]) for file in files}
    excused = {
        *warehouse.query(_UNDONE).iter_rows(),
        *warehouse.query(_LOST, {"again": AGAIN}).select("layout", "sha256").iter_rows(),
    }
    for file in listed.sort("file_id").iter_rows(named=True):
        if (file["layout"], file["sha256"]) not in held | excused:
            yield (
                f"{_called({'run': None, **file})}: the snapshot {snapshot.name} has {_rows(file['rows_loaded'])} of "
                "it, the database none, and it was not taken back. Put the file into the inbox again, or "
                f"'knockon restore {snapshot.name}' brings the rows back"
            )
    if look.full:
        with _kept_tables(warehouse, snapshot, LAYOUTS.values()):
            for done, layout in enumerate(LAYOUTS.values()):
                look.share("rows", done, len(LAYOUTS))
                yield from _differing_rows(warehouse, snapshot, layout)


class _kept_tables:  # noqa: N801 - a context manager
    """The rows of a snapshot as the temporary tables ``kept_files`` and ``kept_LAYOUT``, for the length of a block."""

    def __init__(self, warehouse: Warehouse, snapshot: Snapshot, layouts: Iterable[Layout]) -> None:
        self._warehouse = warehouse
        self._tables = {
            f"kept_{name}": snapshot.folder / table_file(f"raw.{name}")
            for name in ("files", *(layout.name for layout in layouts))
        }

    def __enter__(self) -> None:
        for table, path in self._tables.items():
            if path.is_file():
                with self._warehouse.incoming(read_table(path)):
                    self._warehouse.execute(
                        f"create or replace temp table {table} as select * from incoming"  # noqa: S608 - a layout's own name
                    )

    def __exit__(self, *_: object) -> None:
        for table in self._tables:
            self._warehouse.execute(f"drop table if exists {table}")


def _differing_rows(warehouse: Warehouse, snapshot: Snapshot, layout: Layout) -> Iterator[str]:
    """Name the files of which the database lacks rows, or says them otherwise, than the snapshot does.

    Rows are known again by content and number, so that one that another file brings too, after an undo, is not missed.
    Times are left out of the comparison: they are shown in the time zone that is set.
    """
    path = snapshot.folder / table_file(f"raw.{layout.name}")
    if not path.is_file():
        return
    there = read_table(path).schema.names
    times = {*instants(layout), *instants(layout).values()}
    cells = [column.name for column in layout.kept if column.name in there and column.name not in times]
    other = " or ".join(f'kept."{name}" is distinct from held."{name}"' for name in cells)
    # Only names that the program itself declares are put into SQL text.
    query = (
        "select files.name, files.sha256, files.run, count(*) filter (held.content is null) as lacking, "  # noqa: S608
        f"count(*) filter (held.content is not null and ({other})) as changed "
        f"from kept_{layout.name} as kept join kept_files as past using (file_id) "
        "join raw.files as files on files.layout = past.layout and files.sha256 = past.sha256 "
        "and files.refused is null "
        f"left join raw.{layout.name} as held "
        "on held.content = kept.content::uhugeint and held.ordinal = kept.ordinal "
        "where past.refused is null group by all having lacking > 0 or changed > 0 order by all"
    )
    for file in warehouse.query(query).iter_rows(named=True):
        yield (
            f"{_called(file)}: the database lacks {_rows(file['lacking'])} of it that the snapshot {snapshot.name} "
            f"has, and has {file['changed']} otherwise: it was changed by something else than knockon. {_RESTORE}"
        )


def show(done: Verification) -> Iterator[str]:
    """Yield what a verification has to say, line by line."""
    how = "everything" if done.full else "what is new or has changed"
    yield f"looked at {how}: {done.files} files taken in, {done.hashed} sums made"
    if not done.findings:
        yield "archive, database and snapshots say the same"
    yield from done.findings


def raise_if_wrong(done: Verification) -> None:
    """Raise where something was found.

    Raises:
        WorkspaceError: Archive, database and snapshots do not say the same.
    """
    if done.findings:
        raise WorkspaceError(
            f"archive, database and snapshots differ in {len(done.findings)} places, named above. Nothing was changed."
        )
