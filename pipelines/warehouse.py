"""The database: what was read, kept once, and the tables that are built from it.

The only module that knows duckdb.  Files go in whole or not at all; models are
built in order, and each is checked for one row per grain on every run.
"""

# ruff: noqa: S608 - only names that the program itself declares are put into SQL text; values are bound

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Self

import duckdb
import polars as pl

from pipelines.errors import ModelError, WorkspaceError
from pipelines.models import Model, reference_names, reference_table
from pipelines.rawtables import DEFINITIONS, arriving_rows, insert_fresh, raw_table
from pipelines.reading.layouts import LAYOUTS


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


class Warehouse:
    """One open database; use it in a ``with`` block."""

    def __init__(self, path: Path) -> None:
        """Open or make the database at ``path``.

        Raises:
            WorkspaceError: The file is locked by another program or is no database.
        """
        # Nothing outside the database file is read, written or fetched by any query.
        config: dict[str, str | bool | int | float | list[str]] = {
            "autoinstall_known_extensions": False,
            "autoload_known_extensions": False,
            "enable_external_access": False,
        }
        try:
            self._con = duckdb.connect(str(path), config=config)
        except duckdb.Error as error:
            reason = str(error).splitlines()[0]
            raise WorkspaceError(
                f"{path} could not be opened: {reason}. Close other programs that use it. Nothing was run."
            ) from error
        self._con.execute(DEFINITIONS)
        for layout in LAYOUTS.values():
            self._con.execute(raw_table(layout))
        self._load_reference()

    def __enter__(self) -> Self:
        """Return the open database."""
        return self

    def __exit__(self, kind: type[BaseException] | None, value: BaseException | None, at: TracebackType | None) -> None:
        """Close the database."""
        self.close()

    def close(self) -> None:
        """Close the database; a second call does nothing."""
        self._con.close()

    def has_file(self, layout: str, sha256: str) -> bool:
        """Tell whether these bytes were loaded before for this table."""
        query = "select count(*) from raw.files where layout = $layout and sha256 = $sha256 and refused is null"
        return bool(self._con.execute(query, {"layout": layout, "sha256": sha256}).fetchall()[0][0])

    def load_file(self, file: LoadedFile, rows: pl.DataFrame, rejects: pl.DataFrame) -> LoadedFile:
        """Keep a file's rows, its rejects and its hash, all or none of them.

        Args:
            file: What is known of the file; the counts of loaded and repeated rows are filled in here.
            rows: Int64 ``row`` and one String column per column of the layout.
            rejects: ``row``, ``column``, ``value``, ``why``.

        Returns:
            The file with its final counts.
        """
        with self._transaction():
            file_id = self._next_file_id()
            loaded = self._insert_rows(file.layout, file_id, rows)
            counted = LoadedFile(**{**vars(file), "rows_loaded": loaded, "rows_repeated": rows.height - loaded})
            self._insert_file(file_id, counted)
            self._insert_rejects(file_id, rejects)
        return counted

    def refuse_file(self, file: LoadedFile) -> None:
        """Record that a whole file was refused; refusing the same bytes again leaves one record."""
        with self._transaction():
            same = {"layout": file.layout, "sha256": file.sha256}
            old = "select file_id from raw.files where layout = $layout and sha256 = $sha256 and refused is not null"
            self._con.execute(f"delete from raw.rejects where file_id in ({old})", same)
            self._con.execute(
                "delete from raw.files where layout = $layout and sha256 = $sha256 and refused is not null", same
            )
            file_id = self._next_file_id()
            self._insert_file(file_id, file)
            why = pl.DataFrame({"row": [None], "column": [None], "value": [None], "why": [file.refused]})
            self._insert_rejects(file_id, why.cast({"row": pl.Int64, "column": pl.String, "value": pl.String}))

    def replace_table(self, name: str, frame: pl.DataFrame) -> None:
        """Put ``frame`` in the place of the table ``name`` (schema-qualified, one of the program's own)."""
        with self._incoming(frame):
            self._con.execute(f"create or replace table {name} as select * from incoming")

    def build(self, model: Model, params: Mapping[str, object]) -> None:
        """Build one model's table and check that its grain is unique and filled.

        Args:
            model: The model; all it reads must be there.
            params: Values by name; only those that the model takes are bound.

        Raises:
            ModelError: The query fails, or a row's grain is blank or stands twice; the first such row is named.
        """
        bound = {name: params[name] for name in model.params}
        try:
            self._con.execute(f"create or replace table {model.name} as {model.query}", bound)
        except duckdb.Error as error:
            raise ModelError(f"the SQL model {model.name} failed: {error}") from error
        grain = ", ".join(f'"{column}"' for column in model.grain)
        blank = " or ".join(f'"{column}" is null' for column in model.grain)
        bad = self._con.execute(
            f"select {grain}, count(*) from {model.name} group by {grain} having count(*) > 1 or {blank} "
            f"order by all limit 1"
        ).fetchall()
        if bad:
            row = ", ".join(f"{name} {value!r}" for name, value in zip(model.grain, bad[0], strict=False))
            raise ModelError(f"the SQL model {model.name} has {bad[0][-1]} rows for {row}; expected one, and no blanks")

    def fetch(self, name: str, order: tuple[str, ...] = ()) -> pl.DataFrame:
        """Return the whole table ``name``, sorted by ``order`` or else by all its columns."""
        columns = ", ".join(f'"{column}"' for column in order) or "all"
        frame: pl.DataFrame = self._con.sql(f"select * from {name} order by {columns}").pl()
        return frame

    def query(self, text: str, params: Mapping[str, object] | None = None) -> pl.DataFrame:
        """Return the rows of one of the program's own queries, values bound by name."""
        frame: pl.DataFrame = self._con.sql(text, params=dict(params or {})).pl()
        return frame

    @contextmanager
    def _incoming(self, frame: pl.DataFrame) -> Iterator[None]:
        """Let queries read ``frame`` as the table ``incoming``."""
        self._con.register("incoming", frame)
        try:
            yield
        finally:
            self._con.unregister("incoming")

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        self._con.execute("begin")
        try:
            yield
        except BaseException:
            self._con.execute("rollback")
            raise
        self._con.execute("commit")

    def _load_reference(self) -> None:
        for name in reference_names():
            self.replace_table(f"reference.{name}", reference_table(name))

    def _next_file_id(self) -> int:
        return int(self._con.execute("select nextval('raw.file_ids')").fetchall()[0][0])

    def _insert_rows(self, layout: str, file_id: int, rows: pl.DataFrame) -> int:
        """Add the rows that are new; a row is known by what its filled cells say and how often it said so."""
        with self._incoming(rows):
            self._con.execute(arriving_rows(LAYOUTS[layout]), {"file_id": file_id})
        before = self._count(f"raw.{layout}")
        self._con.execute(insert_fresh(LAYOUTS[layout]))
        return self._count(f"raw.{layout}") - before

    def _count(self, table: str) -> int:
        return int(self._con.execute(f"select count(*) from {table}").fetchall()[0][0])

    def _insert_file(self, file_id: int, file: LoadedFile) -> None:
        self._con.execute(
            "insert into raw.files values ($file_id, $sha256, $layout, $name, $week, $rows_read, $rows_loaded, "
            "$rows_refused, $rows_repeated, $refused, $notes)",
            {"file_id": file_id, **vars(file), "notes": list(file.notes)},
        )

    def _insert_rejects(self, file_id: int, rejects: pl.DataFrame) -> None:
        with self._incoming(rejects):
            self._con.execute(
                'insert into raw.rejects select $file_id, row, "column", value, why from incoming', {"file_id": file_id}
            )
