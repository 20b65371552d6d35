"""The database: what was read, kept once, and the tables that are built from it.

It brings an older database to the newest version, refuses a newer one, and says
in words when the disk or the file fails.  Each model's table is held against the
model's header on every build: columns, types, blanks, one row per grain.
"""

# ruff: noqa: S608 - only names that the program itself declares are put into SQL text; values are bound

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from itertools import zip_longest
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import duckdb
import polars as pl

from pipelines.errors import ModelError
from pipelines.reading.layouts import LAYOUTS
from pipelines.storage.migrations import VERSION, schemas, steps
from pipelines.storage.raw_tables import raw_table
from pipelines.storage.sql_models import Model, reference_names, reference_table, shipped_model
from pipelines.storage.storage_errors import database_error, newer

_BATCH = 100_000  # rows
_MEMORY = 1_000_000_000
"""The database keeps so many bytes in memory, or as many as its file has where that is more.  With 50,000 cars it would
else take three times as much, the most of all that a run holds, to build the models a sixth faster."""
_AT_REST = 250_000_000
"""So many once its models are built: what follows reads and writes table by table, and the analysis needs the rest."""
# The text of a number too long for Arrow; its decimal digits would take a thousand times as long.
_HEX = """'0x' || to_hex("{}")"""


class Warehouse:
    """One open database; use it in a ``with`` block."""

    def __init__(
        self, path: Path, version: int = VERSION, before_migration: Callable[[Warehouse], None] = lambda _: None
    ) -> None:
        """Open or make the database at ``path``.

        Args:
            path: The file; where there is none, a whole new database takes its place at once.
            version: Bring it to this version.
            before_migration: Handed the older database, still as it was, before it is brought forward.

        Raises:
            WorkspaceError: The file is in use elsewhere, damaged, no database, or of a newer program.
        """
        self._path = path
        if not path.exists():
            # A run that is cut off while it makes the file must not leave half of one behind.
            fresh = path.with_name(f".{path.name}.new")
            for left in (fresh, fresh.with_name(fresh.name + ".wal")):
                left.unlink(missing_ok=True)
            with self._errors_in_words(), _opened(fresh) as self._con:
                self._bring_to(version, before_migration)
                self._con.execute("checkpoint")  # closing would pass over a full disk in silence
            fresh.replace(path)
        with self._errors_in_words():
            self._con = _opened(path)
        try:
            with self._errors_in_words():
                self._bring_to(version, before_migration)
                self._load_reference()
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> Self:
        """Return the open database."""
        return self

    def __exit__(self, kind: type[BaseException] | None, value: BaseException | None, at: TracebackType | None) -> None:
        """Close the database; say in words what failed where the disk or the file did."""
        self.close()
        if isinstance(value, duckdb.Error):
            with self._errors_in_words():
                raise value

    def close(self) -> None:
        """Close the database; a second call does nothing."""
        self._con.close()

    def replace_table(self, name: str, frame: pl.DataFrame) -> None:
        """Put ``frame`` in the place of the table ``name`` (schema-qualified, one of the program's own)."""
        with self.incoming(frame):
            self._con.execute(f"create or replace table {name} as select * from incoming")

    def build(self, model: Model, params: Mapping[str, object]) -> None:
        """Build one model's table and hold it against what its header says.

        Args:
            model: The model; all it reads must be there.
            params: Values by name; only those that the model takes are bound.

        Raises:
            ModelError: The query fails, a column is not as declared, or a row is: blank where the header says that
                it is filled, or a grain that stands twice.  The column or the first such row is named.
        """
        bound = {name: params[name] for name in model.params}
        making = f"create or replace table {model.name} as {model.query}"
        try:
            # From here on the marts are no stored run's, until one is saved again.
            self._con.execute("delete from fitted.marts_of")
            _limit_memory(self._con, self._path)  # the file may have grown since it was opened
            try:
                self._con.execute(making, bound)
            except duckdb.OutOfMemoryException:
                self._con.execute("reset memory_limit")  # as much as the computer can spare
                self._con.execute(making, bound)
        except duckdb.Error as error:
            told = database_error(self._path, str(error))
            if told:
                raise told from error
            raise ModelError(f"the SQL model {model.name} failed: {error}") from error
        self._check_columns(model)
        self._check_rows(model)

    def rest(self) -> None:
        """Give back the memory that building took; the next model takes it again."""
        with suppress(duckdb.OutOfMemoryException):  # a little more than that is in use
            self._con.execute(f"set memory_limit = '{_AT_REST} B'")

    def _check_columns(self, model: Model, advice: str = "") -> None:
        """Hold the columns of a model's table against those that its header declares."""
        declared = [(column.name, column.type.upper()) for column in model.columns]
        query = "select name, type from pragma_table_info($table)"  # twice as fast as `columns`
        try:
            found = self._con.execute(query, {"table": model.name}).fetchall()
        except duckdb.CatalogException:  # there is no such table
            found = []
        for place, (want, have) in enumerate(zip_longest(declared, found), start=1):
            if want != have:
                raise ModelError(
                    f"the SQL model {model.name}: column {place} is {_column(have)}; its header declares "
                    f"{_column(want)}{advice}"
                )

    def _check_rows(self, model: Model) -> None:
        """Look for blanks where none may be, and for a grain that stands twice; name the first such row."""
        grain = _quoted(model.grain)
        twice = f"select {grain}, count(*) from {model.name} group by {grain} having count(*) > 1"
        blanks = ", ".join(f'count(*) - count("{column}")' for column in model.filled)
        counted = f"select (select count(*) from ({twice})), {blanks} from {model.name}"
        doubled, *blank = self._con.execute(counted).fetchall()[0]
        for column, rows in zip(model.filled, blank, strict=True):
            if rows:
                first = f'select {grain} from {model.name} where "{column}" is null order by all limit 1'
                raise ModelError(
                    f"the SQL model {model.name}: column {column} is blank in {rows} rows, the first of them "
                    f"{_row(model, self._con.execute(first).fetchall()[0])}; its header declares it never blank"
                )
        if doubled:
            first_twice = self._con.execute(f"{twice} order by all limit 1").fetchall()[0]
            raise ModelError(
                f"the SQL model {model.name} has {first_twice[-1]} rows for {_row(model, first_twice)}; expected one"
            )

    def fetch(self, name: str, order: tuple[str, ...] = ()) -> pl.DataFrame:
        """Return a whole table.

        Args:
            name: Schema-qualified.  Of a model that ships with the program come the columns that its header declares,
                in their order and of their types, sorted by its grain.
            order: The columns to sort any other table by; all of them where none is named.

        Raises:
            ModelError: A model's table has other columns than this program's header declares.
        """
        model = shipped_model(name)
        listed, by = "*", order
        if model is not None:
            self._check_columns(model, ". Another version of the program built it; 'knockon weekly' builds it again")
            listed, by = _quoted(model.schema), order or model.grain
        frame: pl.DataFrame = self._con.sql(f"select {listed} from {name} order by {_quoted(by) or 'all'}").pl()
        return frame

    def query(self, text: str, params: Mapping[str, object] | None = None) -> pl.DataFrame:
        """Return the rows of one of the program's own queries, values bound by name."""
        frame: pl.DataFrame = self._con.sql(text, params=dict(params or {})).pl()
        return frame

    def execute(self, text: str, params: Mapping[str, object] | None = None) -> None:
        """Run the program's own statements, values bound by name."""
        self._con.execute(text, dict(params or {})).fetchall()

    def number(self, text: str, params: Mapping[str, object] | None = None) -> int:
        """Return the one whole number that a query of the program's own gives."""
        return int(self._con.execute(text, dict(params or {})).fetchall()[0][0])

    @contextmanager
    def incoming(self, rows: object) -> Iterator[None]:
        """Let queries read a frame, or a reader of Arrow batches, as the table ``incoming``."""
        self._con.register("incoming", rows)
        try:
            yield
        finally:
            self._con.unregister("incoming")

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Keep all that is done inside the block, or none of it."""
        self._con.execute("begin")
        try:
            yield
            self._con.execute("commit")
        except BaseException:
            with suppress(duckdb.Error):  # after an error of the disk it is rolled back already
                self._con.execute("rollback")
            raise

    def columns(self, table: str) -> dict[str, str]:
        """Return the columns of a table with their types, in order; none where there is no such table."""
        query = (  # the information schema says the same and takes eight times as long
            "select column_name, data_type from duckdb_columns() "
            "where schema_name = $schema and table_name = $name order by column_index"
        )
        schema, _, name = table.partition(".")
        return dict(self._con.execute(query, {"schema": schema, "name": name}).fetchall())

    def raw_tables(self) -> list[str]:
        """Return the names of the tables that hold what was read, schema-qualified."""
        query = "select 'raw.' || table_name from information_schema.tables where table_schema = 'raw' order by all"
        return [name for (name,) in self._con.execute(query).fetchall()]

    def batches(self, table: str) -> Any:
        """Return a reader of a table's rows in Arrow batches; numbers too long for Arrow come as text."""
        listed = ", ".join(
            f'{_HEX.format(name)} as "{name}"' if kind == "UHUGEINT" else f'"{name}"'
            for name, kind in self.columns(table).items()
        )
        return self._con.sql(f"select {listed} from {table}").to_arrow_reader(_BATCH)

    def fill(self, table: str, rows: Any) -> None:
        """Add the rows of an Arrow reader to a table, by the names of its columns."""
        listed = ", ".join(f'"{name}"' for name in rows.schema.names)
        with self.incoming(rows):
            self._con.execute(f"insert into {table} ({listed}) select {listed} from incoming")

    def digest(self, table: str, rows: Any = None, columns: Iterable[str] | None = None) -> str:
        """Return one text that tells tables with other rows apart, whatever their order.

        Args:
            table: A table of this database.
            rows: A reader of Arrow batches to look at in its place.
            columns: The columns to look at; None takes all that the table has.
        """
        kinds = self.columns(table) if rows is None else {}
        listed = ", ".join(
            _HEX.format(name) if kinds.get(name) == "UHUGEINT" else f'"{name}"::varchar'
            for name in columns or self.columns(table)
        )
        query = "select count(*), coalesce(sum(hash({})::hugeint), 0) from {}"
        if rows is None:
            found = self._con.execute(query.format(listed, table)).fetchall()
        else:
            with self.incoming(rows):
                found = self._con.execute(query.format(listed, "incoming")).fetchall()
        return f"{found[0][0]} rows, {found[0][1]}"

    def _bring_to(self, version: int, before_migration: Callable[[Warehouse], None]) -> None:
        """Make the tables of an empty database, or walk an older one forward, all steps or none."""
        held = self.version
        if held > version:
            raise newer(self._path, f"its version is {held}, this program knows up to {version}")
        if 0 < held < version:
            before_migration(self)
        with self.transaction():
            if held < version:
                self._con.execute(schemas() + steps(held, version))
            for layout in LAYOUTS.values():
                wanted = {"nth", *(column.name for column in layout.kept)}
                if not wanted <= self.columns(f"raw.{layout.name}").keys():
                    self._con.execute(raw_table(layout))

    @property
    def version(self) -> int:
        """The version of the tables that hold what was read; 0 for an empty database."""
        if self.columns("raw.version"):
            return self.number("select number from raw.version")
        return 1 if self.columns("raw.files") else 0

    @contextmanager
    def _errors_in_words(self) -> Iterator[None]:
        """Say in words what fails because of the disk or the file."""
        try:
            yield
        except duckdb.Error as error:
            told = database_error(self._path, str(error))
            if told is None:
                raise
            raise told from error

    def _load_reference(self) -> None:
        with self.transaction():
            for name in reference_names():
                self.replace_table(f"reference.{name}", reference_table(name))


def _quoted(columns: Iterable[str]) -> str:
    return ", ".join(f'"{column}"' for column in columns)


def _column(column: tuple[str, str] | None) -> str:
    """Say what a column is, or that there is none."""
    return f"{column[0]} {column[1].lower()}" if column else "missing"


def _row(model: Model, values: Iterable[object]) -> str:
    """Name a row by its grain."""
    return ", ".join(f"{name} {value!r}" for name, value in zip(model.grain, values, strict=False))


def _opened(path: Path) -> duckdb.DuckDBPyConnection:
    # Nothing outside the database file is read, written or fetched by any query.
    config: dict[str, str | bool | int | float | list[str]] = {
        "autoinstall_known_extensions": False,
        "autoload_known_extensions": False,
        "enable_external_access": False,
    }
    opened = duckdb.connect(str(path), config=config)
    opened.execute("set enable_progress_bar = false")  # it would draw into what a command says
    _limit_memory(opened, path)
    return opened


def _limit_memory(opened: duckdb.DuckDBPyConnection, path: Path) -> None:
    opened.execute(f"set memory_limit = '{max(_MEMORY, path.stat().st_size)} B'")
