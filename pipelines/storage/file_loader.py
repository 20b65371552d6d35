"""Takes the rows of files into the database, whole or not at all, and keeps the list of files.

A file's number is its place in the order in which files came in.  Files of one table can come in together, in one
transaction: what each brings is what it would have brought alone, behind those before it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import polars as pl

from pipelines.reading.layouts import LAYOUTS
from pipelines.storage.raw_tables import arriving_rows, insert_fresh
from pipelines.storage.time_zone import known_times
from pipelines.storage.warehouse import Warehouse


@dataclass(frozen=True)
class LoadedFile:
    """What became of one file.

    Attributes:
        name: The file's name below the inbox, ``scans/2026-w47.csv``.
        layout: The table it belongs to.
        sha256: Hash of its bytes.
        week: The report week it came in.
        rows_read: Rows found in it.
        rows_loaded: Rows that were new and are now kept.
        rows_refused: Rows set aside.
        rows_repeated: Rows that were kept already.
        refused: Why the whole file was refused, or None.
        notes: What else the reader noticed.
        bytes: Its length, or None where it is not known.
        run: The run that took it in, or None while that run has not ended.
    """

    name: str
    layout: str
    sha256: str
    week: str
    rows_read: int = 0
    rows_loaded: int = 0
    rows_refused: int = 0
    rows_repeated: int = 0
    refused: str | None = None
    notes: tuple[str, ...] = ()
    bytes: int | None = None
    run: str | None = None


@dataclass(frozen=True)
class Arrival:
    """A file that was read.

    Attributes:
        file: What is known of it; the counts of loaded and repeated rows are filled in when it is loaded.
        rows: Int64 ``row`` and one String column per column that the layout keeps; several of one row in their order.
        rejects: ``row``, ``column``, ``value``, ``why``.
    """

    file: LoadedFile
    rows: pl.DataFrame
    rejects: pl.DataFrame


def taken_hashes(warehouse: Warehouse) -> set[tuple[str, str]]:
    """Return table and hash of every file whose rows were loaded."""
    return {*warehouse.query("select layout, sha256 from raw.files where refused is null").iter_rows()}


def load_file(warehouse: Warehouse, file: LoadedFile, rows: pl.DataFrame, rejects: pl.DataFrame) -> LoadedFile:
    """Keep a file's rows, its rejects and its hash, all or none of them; see ``load_files``."""
    [loaded] = load_files(warehouse, [Arrival(file, rows, rejects)])
    return loaded


def load_files(warehouse: Warehouse, arrivals: Sequence[Arrival]) -> list[LoadedFile]:
    """Keep the rows, rejects and hashes of some files, all or none of them.

    Args:
        warehouse: The open database.
        arrivals: Files of one table, in the order in which they come in.

    Returns:
        The files with their final counts, in the same order.
    """
    if not arrivals:
        return []
    layout = arrivals[0].file.layout
    with warehouse.transaction():
        first = _next_file_id(warehouse)
        arrive(warehouse, layout, {first + place: arrival.rows for place, arrival in enumerate(arrivals)})
        warehouse.execute(insert_fresh(LAYOUTS[layout], several=len(arrivals) > 1))
        query = f"select file_id, count(*) from raw.{layout} where file_id >= $first group by file_id"  # noqa: S608
        kept = dict(warehouse.query(query, {"first": first}).iter_rows())
        counted = {
            file_id: replace(
                arrival.file,
                rows_loaded=kept.get(file_id, 0),
                rows_repeated=arrival.rows.height - kept.get(file_id, 0),
            )
            for file_id, arrival in enumerate(arrivals, first)
        }
        _insert_files(warehouse, counted)
        _insert_rejects(warehouse, {first + place: arrival.rejects for place, arrival in enumerate(arrivals)})
        same = pl.DataFrame({"sha256": [arrival.file.sha256 for arrival in arrivals]})
        with warehouse.incoming(same):
            for table in ("raw.pending", "raw.undone"):
                told = f"delete from {table} where layout = $layout and sha256 in (select sha256 from incoming)"  # noqa: S608
                warehouse.execute(told, {"layout": layout})
    return [*counted.values()]


def arrive(warehouse: Warehouse, layout: str, rows: Mapping[int, pl.DataFrame]) -> None:
    """Put the rows of files, by their numbers, into the table ``arriving``, each with the mark that it is known by."""
    numbered = pl.concat(frame.with_columns(file_id=pl.lit(number, pl.Int64)) for number, frame in rows.items())
    counted = numbered.with_columns(pl.int_range(1, pl.len() + 1).over("file_id", "row").alias("nth"))
    with warehouse.incoming(known_times(warehouse, LAYOUTS[layout], counted)):
        warehouse.execute(arriving_rows(LAYOUTS[layout]))


def rows_of(warehouse: Warehouse, layout: str, file_id: int) -> int:
    """Return how many rows of a file are kept."""
    query = f"select count(*) from raw.{layout} where file_id = $file_id"  # noqa: S608 - a layout's own name
    return warehouse.number(query, {"file_id": file_id})


def refuse_file(warehouse: Warehouse, file: LoadedFile) -> None:
    """Record that a whole file was refused; refusing the same bytes again leaves one record."""
    same = {"layout": file.layout, "sha256": file.sha256}
    old = "select file_id from raw.files where layout = $layout and sha256 = $sha256 and refused is not null"
    with warehouse.transaction():
        warehouse.execute(f"delete from raw.rejects where file_id in ({old})", same)  # noqa: S608 - see above
        warehouse.execute(
            "delete from raw.files where layout = $layout and sha256 = $sha256 and refused is not null", same
        )
        file_id = _next_file_id(warehouse)
        _insert_files(warehouse, {file_id: file})
        why = pl.DataFrame({"row": [None], "column": [None], "value": [None], "why": [file.refused]})
        typed = why.cast({"row": pl.Int64, "column": pl.String, "value": pl.String})
        _insert_rejects(warehouse, {file_id: typed})


def end_run(warehouse: Warehouse, week: str) -> None:
    """Give the files that came in since the last run that ended the name of this one: its week and a number."""
    last = (
        "select coalesce(max(split_part(run, '.', 2)::bigint), 0) from raw.files where split_part(run, '.', 1) = $week"
    )
    run = f"{week}.{warehouse.number(last, {'week': week}) + 1}"
    warehouse.execute("update raw.files set run = $run where run is null and refused is null", {"run": run})


def _next_file_id(warehouse: Warehouse) -> int:
    return warehouse.number("select coalesce(max(file_id), 0) + 1 from raw.files")


def _insert_files(warehouse: Warehouse, files: Mapping[int, LoadedFile]) -> None:
    told = [{"file_id": number, **vars(file), "notes": list(file.notes)} for number, file in files.items()]
    with warehouse.incoming(pl.DataFrame(told, schema=_FILES)):
        warehouse.execute("insert into raw.files by name select * from incoming order by file_id")


_FILES = {
    "file_id": pl.Int64(),
    **dict.fromkeys(("name", "layout", "sha256", "week"), pl.String()),
    **dict.fromkeys(("rows_read", "rows_loaded", "rows_refused", "rows_repeated"), pl.Int64()),
    "refused": pl.String(),
    "notes": pl.List(pl.String()),
    "bytes": pl.Int64(),
    "run": pl.String(),
}


def _insert_rejects(warehouse: Warehouse, rejects: Mapping[int, pl.DataFrame]) -> None:
    some = [frame.with_columns(file_id=pl.lit(number, pl.Int64)) for number, frame in rejects.items() if frame.height]
    if not some:
        return
    with warehouse.incoming(pl.concat(some)):
        warehouse.execute('insert into raw.rejects select file_id, row, "column", value, why from incoming')
