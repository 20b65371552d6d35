"""What a run that was cut short may have left, and how the next one goes on from there.

Half-made folders and working files are cleared, a report that was moved aside
comes back, files that still have to move are moved.  A file of the archive that
the database does not know, or that grew after it was taken in, is named, so that
it is read again; never one whose content is another than its name says.
"""

from __future__ import annotations

import re
import shutil
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pipelines.atomic_folder import recover
from pipelines.reading.layouts import LAYOUTS, Layout
from pipelines.storage.file_archive import (
    archive,
    archived,
    begins_with,
    content_hash,
    hash_in_name,
    name_before,
    set_aside,
)
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace

# What is still to be done with a file, written down with the change that asks for it.
LEAVE, COME_BACK, AGAIN = "leave", "come back", "again"


def tidy(workspace: Workspace) -> None:
    """Clear what runs that were cut short have left, bring back reports that were moved aside, and shut others out."""
    for path in sorted(workspace.reports.glob(".*")):
        found = re.fullmatch(r"\.(\d{4}-W\d\d)\.(new|old)", path.name)
        if found:
            recover(workspace.reports / found[1])
    for left in sorted(workspace.backups.glob(".*.new")):
        shutil.rmtree(left, ignore_errors=True)
    for left in sorted(workspace.archive.glob("*/.*.new")):
        left.unlink(missing_ok=True)
    workspace.clear_scratch()
    workspace.make_private()
    shutil.rmtree(reading_room(workspace), ignore_errors=True)
    shutil.rmtree(workspace.database.with_name(workspace.database.name + ".tmp"), ignore_errors=True)


def reading_room(workspace: Workspace) -> Path:
    """Return the folder in which copies of archived files are read again under their own names."""
    return workspace.state / "again"


def settle(workspace: Workspace, warehouse: Warehouse) -> list[str]:
    """Do what is still to be done with files of the archive.

    Args:
        workspace: The dealer's folder.
        warehouse: Its open database.

    Returns:
        What could not be done, in words.
    """
    notes = []
    todo = "select layout, sha256, name, what, why from raw.pending where what <> $again order by place"
    for layout, sha256, name, what, why in warehouse.query(todo, {"again": AGAIN}).iter_rows():
        if what == LEAVE:
            notes += _leave(workspace, LAYOUTS[layout], sha256, name, why)
        elif archived(workspace, LAYOUTS[layout], sha256) is None and not _bring_back(workspace, layout, sha256):
            notes.append(f"{name}: its rows are in the database, its file is no longer in the archive")
        done = {"layout": layout, "sha256": sha256}
        warehouse.execute("delete from raw.pending where layout = $layout and sha256 = $sha256", done)
    return notes


def _leave(workspace: Workspace, layout: Layout, sha256: str, name: str, why: str) -> list[str]:
    """Move an undone file out of the archive, each copy of it too: none may be read again."""
    path = archived(workspace, layout, sha256)
    if path is None:
        return [f"{name}: its file is no longer in the archive, so it is not in rejected/ either"]
    while path is not None:
        set_aside(workspace, layout, path, sha256, why, name=name.partition("/")[2])
        path = archived(workspace, layout, sha256)
    return []


def _bring_back(workspace: Workspace, layout: str, sha256: str) -> bool:
    """Move a file that an undo had set aside back into the archive."""
    for path in sorted((workspace.rejected / layout).glob("*")):
        if not path.name.endswith(".why.txt") and path.is_file() and content_hash(path) == sha256:
            archive(workspace, LAYOUTS[layout], path, sha256)
            path.with_name(path.name + ".why.txt").unlink(missing_ok=True)
            return True
    return False


@dataclass(frozen=True, kw_only=True)
class Stray:
    """A file of the archive that has to be read again.

    Attributes:
        layout: The table it belongs to.
        path: Where it is in the archive.
        sha256: Hash of its bytes.
        name: The name it had in the inbox, where that is still known.
        week: The week it was booked on, or None.
        run: The run that took it in, or None.
        grown_from: How many bytes it had when it came in, where it has grown since.
    """

    layout: str
    path: Path
    sha256: str
    name: str
    week: str | None
    run: str | None
    grown_from: int | None = None


@dataclass(frozen=True, kw_only=True)
class _Record:
    """What is known of one file: its place in the order, its length, and whether its rows are in the database."""

    place: int
    sha256: str
    name: str
    length: int | None
    week: str | None = None
    run: str | None = None
    held: bool


def strays(workspace: Workspace, warehouse: Warehouse) -> Iterator[Stray]:
    """Yield the archived files that the database does not know, or that grew after they were taken in.

    Args:
        workspace: The dealer's folder.
        warehouse: Its open database.

    Yields:
        Each file, in the order in which they once came in as far as that is known, else the oldest first.  One whose
        content contradicts its name is left out, see ``integrity``.
    """
    records = _records(warehouse)
    found = []
    for layout in LAYOUTS:
        for path in archived_files(workspace, layout):
            promise = hash_in_name(path) or ""
            known = [r for r in records[layout, promise[:8]] if promise and r.sha256.startswith(promise)]
            about = path.stat()
            if not promise or any(record.held and record.length in (None, about.st_size) for record in known):
                continue
            sha256 = content_hash(path)
            record = next((record for record in known if record.sha256 == sha256), None)
            grown = next((r for r in known if r.length and about.st_size > r.length), None)
            if record is None and grown is not None and begins_with(path, grown.length or 0, grown.sha256):
                record = grown
            elif record is None and (any(r.held for r in known) or not sha256.startswith(promise)):
                continue
            stray = Stray(
                layout=layout,
                path=path,
                sha256=sha256,
                name=record.name.rpartition("/")[2] if record else name_before(path),
                week=record.week if record else None,
                run=record.run if record else None,
                grown_from=record.length if record and record is grown and record.sha256 != sha256 else None,
            )
            found.append(((record.place if record else len(records), about.st_mtime_ns, path.name), stray))
    yield from (stray for _, stray in sorted(found, key=lambda pair: pair[0]))


def archived_files(workspace: Workspace, layout: str) -> Iterator[Path]:
    """Yield what stands in the archive of a layout, by name; hidden files, which are a program's own, left out."""
    for path in sorted((workspace.archive / layout).glob("*")):
        if path.is_file() and not path.is_symlink() and not path.name.startswith("."):
            yield path


def _records(warehouse: Warehouse) -> dict[tuple[str, str], list[_Record]]:
    """Return what is known of files, by layout and the first eight digits of the hash."""
    records: dict[tuple[str, str], list[_Record]] = defaultdict(list)
    for row in warehouse.query(_KNOWN).iter_rows(named=True):
        layout = row.pop("layout")
        records[layout, row["sha256"][:8]].append(_Record(**row, held=True))
    for row in warehouse.query(_AGAIN, {"again": AGAIN}).iter_rows(named=True):
        layout = row.pop("layout")
        records[layout, row["sha256"][:8]].append(_Record(**row, held=False))
    return records


_KNOWN = (
    "select file_id as place, layout, sha256, name, bytes as length from raw.files where refused is null order by all"
)
_AGAIN = (
    "select place, layout, sha256, name, week, run, bytes as length from raw.pending where what = $again order by place"
)
