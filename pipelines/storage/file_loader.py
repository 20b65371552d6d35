"""Takes one file's rows into the database, whole or not at all, and keeps the list of files.

A file's number is its place in the order in which files came in.
"""

from __future__ import annotations

from dataclasses import dataclass

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


def has_file(warehouse: Warehouse, layout: str, sha256: str) -> bool:
    """Tell whether these bytes were loaded before for this table."""
    query = "select count(*) from raw.files where layout = $layout and sha256 = $sha256 and refused is null"
    return bool(warehouse.number(query, {"layout": layout, "sha256": sha256}))


def load_file(warehouse: Warehouse, file: LoadedFile, rows: pl.DataFrame, rejects: pl.DataFrame) -> LoadedFile:
    """Keep a file's rows, its rejects and its hash, all or none of them.

    Args:
        warehouse: The open database.
        file: What is known of the file; the counts of loaded and repeated rows are filled in here.
        rows: Int64 ``row`` and one String column per column that the layout keeps; several of one row in their order.
        rejects: ``row``, ``column``, ``value``, ``why``.

    Returns:
        The file with its final counts.
    """
    same = {"layout": file.layout, "sha256": file.sha256}
    with warehouse.transaction():
        file_id = _next_file_id(warehouse)
        arrive(warehouse, file.layout, file_id, rows)
        warehouse.execute(insert_fresh(LAYOUTS[file.layout]))
        loaded = rows_of(warehouse, file.layout, file_id)
        counted = LoadedFile(**{**vars(file), "rows_loaded": loaded, "rows_repeated": rows.height - loaded})
        _insert_file(warehouse, file_id, counted)
        _insert_rejects(warehouse, file_id, rejects)
        for table in ("raw.pending", "raw.undone"):
            warehouse.execute(f"delete from {table} where layout = $layout and sha256 = $sha256", same)  # noqa: S608
    return counted


def arrive(warehouse: Warehouse, layout: str, file_id: int, rows: pl.DataFrame) -> None:
    """Put a file's rows into the table ``arriving``, each with the mark that it is known by."""
    counted = rows.with_columns(pl.int_range(1, pl.len() + 1).over("row").alias("nth"))
    with warehouse.incoming(known_times(warehouse, LAYOUTS[layout], counted)):
        warehouse.execute(arriving_rows(LAYOUTS[layout]), {"file_id": file_id})


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
        _insert_file(warehouse, file_id, file)
        why = pl.DataFrame({"row": [None], "column": [None], "value": [None], "why": [file.refused]})
        _insert_rejects(warehouse, file_id, why.cast({"row": pl.Int64, "column": pl.String, "value": pl.String}))


def end_run(warehouse: Warehouse, week: str) -> None:
    """Give the files that came in since the last run that ended the name of this one: its week and a number."""
    last = (
        "select coalesce(max(split_part(run, '.', 2)::bigint), 0) from raw.files where split_part(run, '.', 1) = $week"
    )
    run = f"{week}.{warehouse.number(last, {'week': week}) + 1}"
    warehouse.execute("update raw.files set run = $run where run is null and refused is null", {"run": run})


def _next_file_id(warehouse: Warehouse) -> int:
    return warehouse.number("select coalesce(max(file_id), 0) + 1 from raw.files")


def _insert_file(warehouse: Warehouse, file_id: int, file: LoadedFile) -> None:
    warehouse.execute(
        "insert into raw.files by name select $file_id as file_id, $sha256 as sha256, $layout as layout, "
        "$name as name, $week as week, $rows_read as rows_read, $rows_loaded as rows_loaded, "
        "$rows_refused as rows_refused, $rows_repeated as rows_repeated, $refused as refused, "
        "$notes::varchar[] as notes, $bytes as bytes, $run as run",
        {"file_id": file_id, **vars(file), "notes": list(file.notes)},
    )


def _insert_rejects(warehouse: Warehouse, file_id: int, rejects: pl.DataFrame) -> None:
    with warehouse.incoming(rejects):
        warehouse.execute(
            'insert into raw.rejects select $file_id, row, "column", value, why from incoming', {"file_id": file_id}
        )
