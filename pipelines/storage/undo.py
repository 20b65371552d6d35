"""Takes a wrong import back: the rows of a file, or of all that one run took in.

A row that another file holds too stays: that file is read again from the
archive, and its copy counts.  The rows go in one transaction; the file then
moves from the archive to the rejected ones, and can come in again any time.
"""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from pipelines.errors import BatchError, InputFileError
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import Mapping, load_mappings
from pipelines.settings import Settings
from pipelines.storage.file_archive import archived, content_hash, read_again
from pipelines.storage.file_loader import arrive, rows_of
from pipelines.storage.model_store import strike_runs
from pipelines.storage.raw_tables import (
    affected_rows,
    forget_affected,
    insert_fresh,
    keep_affected,
    says_it_all,
    strange_rows,
)
from pipelines.storage.recovery import AGAIN, LEAVE, reading_room, settle
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace

_SHORTEST_HASH = 8
_FILES = (
    "select file_id, layout, sha256, name, week, run, rows_loaded, rows_repeated "
    "from raw.files where refused is null order by file_id"
)


_REFUSED = "select file_id, count(*) as many from raw.rejects group by file_id"
_FILE = "select file_id, name, notes from raw.files where refused is null and starts_with(sha256, $mark)"
_REFUSED_ROWS = """
select row, "column", value, why from raw.rejects where file_id = $file_id
order by row nulls first, "column", value, why
"""


@dataclass(frozen=True, kw_only=True)
class Taken:
    """One file that was taken in: its place in the order, what it is, and how many rows it brought."""

    file_id: int
    layout: str
    sha256: str
    name: str
    week: str
    run: str | None
    rows_loaded: int
    rows_repeated: int


@dataclass(frozen=True)
class Undone:
    """What an undo did.

    Attributes:
        files: The files that were taken back.
        removed: Rows that are gone.
        notes: What could not be done, in words.
    """

    files: list[Taken]
    removed: int
    notes: list[str]


def taken_in(warehouse: Warehouse) -> list[Taken]:
    """Return the files that were taken in, in order."""
    return [Taken(**row) for row in warehouse.query(_FILES).iter_rows(named=True)]


def refused_counts(warehouse: Warehouse) -> dict[int, int]:
    """Return how many rows and cells were refused of each file, by its place in the order; of most files none."""
    return dict(warehouse.query(_REFUSED).iter_rows())


def refused_in(
    warehouse: Warehouse, mark: str
) -> tuple[str, list[str], list[tuple[int | None, str | None, str | None, str]]] | None:
    """Return what was refused of a file that was taken in.

    Args:
        warehouse: The open database.
        mark: The first digits of its hash.

    Returns:
        Its name, the notes of its reader, and row, column, value and reason of all that was refused; None where not
        one file alone is meant.
    """
    named = warehouse.query(_FILE, {"mark": mark}).rows()
    if len(named) != 1 or len(mark) < _SHORTEST_HASH:
        return None
    file_id, name, notes = named[0]
    return name, notes, warehouse.query(_REFUSED_ROWS, {"file_id": file_id}).rows()


def undo(workspace: Workspace, settings: Settings, warehouse: Warehouse, target: str) -> Undone:
    """Take back a file or a run.

    Args:
        workspace: The dealer's folder.
        settings: For reading other files again as they were read.
        warehouse: Its open database.
        target: A run (``2026-W48.1``), a file's name (``scans/november.csv`` or its last part) or the first eight or
            more digits of its hash.

    Returns:
        What was done.

    Raises:
        BatchError: Nothing or more than one file is meant, or a file that holds the same rows cannot be read again;
            nothing was changed then.
    """
    files = taken_in(warehouse)
    given_up = _given_up(warehouse, target)
    if given_up is not None:
        return Undone([], 0, [given_up])
    chosen = _chosen(files, target)
    again = _Rereading(workspace, settings, load_mappings(workspace.root))
    before = _rows(warehouse)
    with warehouse.transaction():
        strike_runs(warehouse, min(file.file_id for file in chosen))
        for layout in sorted({file.layout for file in chosen}):
            _forget(warehouse, layout, [file for file in chosen if file.layout == layout], files, again)
        _strike(warehouse, chosen, target)
    removed = before - _rows(warehouse)
    notes = settle(workspace, warehouse)
    shutil.rmtree(reading_room(workspace), ignore_errors=True)
    return Undone(chosen, removed, notes)


def _given_up(warehouse: Warehouse, target: str) -> str | None:
    """Give up a file that a restore wants to read again, if it is meant; return what to say, or None."""
    query = "select layout, sha256, name, run from raw.pending where what = $again and starts_with(sha256, $target)"
    if len(target) < _SHORTEST_HASH:
        return None
    found = warehouse.query(query, {"again": AGAIN, "target": target}).rows(named=True)
    if len(found) != 1:
        return None
    [file] = found
    with warehouse.transaction():
        warehouse.execute(_NO_LONGER_PENDING, {"layout": file["layout"], "sha256": file["sha256"]})
        warehouse.execute(_INSERT_UNDONE, file)
    return f"{file['name']}: it is given up; its rows are asked for no longer"


def _chosen(files: Sequence[Taken], target: str) -> list[Taken]:
    run = [file for file in files if file.run == target]
    name = target.replace("\\", "/")
    named = [file for file in files if name == file.name or name.endswith("/" + file.name)]
    named = named or [file for file in files if file.name.partition("/")[2] == name.rpartition("/")[2]]
    hashed = [file for file in files if len(target) >= _SHORTEST_HASH and file.sha256.startswith(target)]
    found = run or hashed or named
    if not found:
        raise BatchError(
            f"{target!r} was not taken in: expected a run, a file's name or the first {_SHORTEST_HASH} digits of its "
            "hash, as 'knockon undo' without a name lists them. Nothing was changed."
        )
    if len(found) > 1 and not run:
        listed = ", ".join(f"{file.name} of run {file.run or 'not ended'}: {file.sha256[:12]}" for file in found)
        raise BatchError(f"{target!r} means {len(found)} files ({listed}); name one by its hash. Nothing was changed.")
    return found


_NOT_ARCHIVED = (
    "the archive does not have it as it was; where the last run was cut off, 'knockon weekly' first puts it there"
)


@dataclass(frozen=True)
class _Rereading:
    """How a file of the archive is read again."""

    workspace: Workspace
    settings: Settings
    mappings: Sequence[Mapping]

    def rows(self, file: Taken) -> pl.DataFrame:
        """Return the rows of an archived file as they would be read now."""
        path = archived(self.workspace, LAYOUTS[file.layout], file.sha256)
        if path is None or content_hash(path) != file.sha256:
            raise BatchError(_cannot(file, _NOT_ARCHIVED))
        copy = reading_room(self.workspace) / file.name
        try:
            return read_again(path, copy, file.layout, self.settings.zone, self.mappings)
        except InputFileError as error:
            raise BatchError(_cannot(file, f"it cannot be read any more: {error}")) from error


def _cannot(file: Taken, why: str) -> str:
    return (
        f"{file.name} ({file.sha256[:12]}) may hold the same rows and would have to keep them, but {why}. "
        "Nothing was changed."
    )


def _forget(
    warehouse: Warehouse, layout: str, chosen: Sequence[Taken], files: Sequence[Taken], again: _Rereading
) -> None:
    """Take the rows of some files of one layout out, and let later files keep what they hold of them."""
    table, gone = LAYOUTS[layout], [file.file_id for file in chosen]
    with warehouse.incoming(pl.DataFrame({"file_id": gone}, schema={"file_id": pl.Int64})):
        warehouse.execute("create or replace temp table undone as select * from incoming")
    warehouse.execute(affected_rows(table))
    warehouse.execute(forget_affected(table))
    for file in files:
        later = file.layout == layout and file.file_id > min(gone) and file.file_id not in gone
        if later and (file.rows_repeated or not says_it_all(table)):
            arrive(warehouse, layout, {file.file_id: again.rows(file)})
            if warehouse.number(strange_rows(table)):
                raise BatchError(_cannot(file, "it reads differently now; were the mappings or the time zone changed?"))
            warehouse.execute(keep_affected(table))
            warehouse.execute(insert_fresh(table))
            counts = {"file_id": file.file_id, "loaded": rows_of(warehouse, layout, file.file_id)}
            warehouse.execute(
                "update raw.files set rows_loaded = $loaded, rows_repeated = rows_loaded + rows_repeated - $loaded "
                "where file_id = $file_id",
                counts,
            )


def _strike(warehouse: Warehouse, chosen: Sequence[Taken], target: str) -> None:
    """Take files off the list, close the gaps that they leave in the order, and note where they go."""
    gone = [file.file_id for file in chosen]
    schema = {"place": pl.Int64, **dict.fromkeys(("what", "layout", "sha256", "name", "week", "run", "why"), pl.String)}
    leaving = [{**vars(file), "place": file.file_id, "what": LEAVE, "why": _why(file, target)} for file in chosen]
    rows = [{name: told[name] for name in schema} for told in leaving]
    with warehouse.incoming(pl.DataFrame(rows, schema=schema)):
        warehouse.execute("insert into raw.pending by name select * from incoming")
    for file in chosen:
        told = {"layout": file.layout, "sha256": file.sha256, "name": file.name, "run": file.run}
        warehouse.execute(_INSERT_UNDONE, told)
    for table in warehouse.raw_tables():
        if "file_id" in warehouse.columns(table):
            warehouse.execute(_WITHOUT.format(table), {"gone": gone})
            warehouse.execute(_CLOSED_UP.format(table), {"gone": gone})


_NO_LONGER_PENDING = "delete from raw.pending where layout = $layout and sha256 = $sha256"
_INSERT_UNDONE = (
    "insert into raw.undone by name select $layout as layout, $sha256 as sha256, $name as name, $run as run"
)
_WITHOUT = "delete from {} where file_id in (select unnest($gone::bigint[]))"
_CLOSED_UP = (
    "update {} set file_id = file_id - len(list_filter($gone::bigint[], lambda id: id < file_id)) "
    "where file_id > list_min($gone::bigint[])"
)


def _why(file: Taken, target: str) -> str:
    return (
        f"{file.name}: came in with the files of run {file.run or 'not ended'} and was taken back by 'knockon undo "
        f"{target}'. Put it into the inbox again to take it in once more."
    )


def _rows(warehouse: Warehouse) -> int:
    return sum(warehouse.number(f"select count(*) from raw.{layout}") for layout in LAYOUTS)  # noqa: S608
