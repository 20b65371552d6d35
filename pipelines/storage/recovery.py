"""What a run that was cut short may have left, and how the next one goes on from there.

Half-made folders are cleared, a report that was moved aside comes back, files
that still have to move are moved.  A file of the archive that the database does
not know, or that grew after it was taken in, is named, so that it is read again.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pipelines.atomic_folder import recover
from pipelines.reading.layouts import LAYOUTS, Layout
from pipelines.storage.file_archive import archive, archived, content_hash, set_aside
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace

# What is still to be done with a file, written down with the change that asks for it.
LEAVE, COME_BACK, AGAIN = "leave", "come back", "again"
_HASH = re.compile(r"[0-9a-f]{64}")


def tidy(workspace: Workspace) -> None:
    """Clear what runs that were cut short have left; reports that were moved aside come back."""
    for path in sorted(workspace.reports.glob(".*")):
        found = re.fullmatch(r"\.(\d{4}-W\d\d)\.(new|old)", path.name)
        if found:
            recover(workspace.reports / found[1])
    for left in sorted(workspace.backups.glob(".*.new")):
        shutil.rmtree(left, ignore_errors=True)
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
        name: The name it had in the inbox, where that is still known.
        week: The week it was booked on, or None.
        run: The run that took it in, or None.
    """

    layout: str
    path: Path
    name: str
    week: str | None
    run: str | None


def strays(workspace: Workspace, warehouse: Warehouse) -> Iterator[Stray]:
    """Yield the archived files that the database does not know, or that grew after they were taken in.

    Args:
        workspace: The dealer's folder.
        warehouse: Its open database.

    Yields:
        Each file, in the order in which they once came in as far as that is known, else the oldest first.
    """
    known: dict[tuple[str, str], tuple[str, int | None]] = {}
    for layout, sha256, name, length in warehouse.query(_KNOWN).iter_rows():
        known[layout, sha256] = name, length
    listed = list(warehouse.query(_AGAIN, {"again": AGAIN}).iter_rows())
    waiting = {(layout, sha256): (place, name, week, run) for place, layout, sha256, name, week, run in listed}
    found = []
    for layout in LAYOUTS:
        for path in (workspace.archive / layout).glob("*"):
            key, about = (layout, path.stem), path.stat()
            name, length = known.get(key, (None, None))
            if not _HASH.fullmatch(path.stem) or (key in known and length in (None, about.st_size)):
                continue
            place, again, week, run = waiting.get(key, (len(waiting), name or path.name, None, None))
            shown = again.rpartition("/")[2]
            stray = Stray(layout=layout, path=path, name=shown, week=week, run=run)
            found.append(((place, about.st_mtime_ns, path.name), stray))
    yield from (stray for _, stray in sorted(found, key=lambda pair: pair[0]))


_KNOWN = "select layout, sha256, name, bytes from raw.files where refused is null order by file_id"
_AGAIN = "select place, layout, sha256, name, week, run from raw.pending where what = $again order by place"
