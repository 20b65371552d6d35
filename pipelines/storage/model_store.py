"""What a run had learned, kept in the database: the fitted model's arrays and the tables that its report was made from.

Reports go out and are never read back, so what a later question needs of a run
stands here, exact and unrounded: arrays as NumPy's own format (never pickled, so
reading them runs nothing), tables as Arrow, each with the sum of its bytes.
It can always be learned again from what was read, so no snapshot carries it: a
restored database has none, and an undo strikes the runs that knew the undone file.
"""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

import numpy as np
import numpy.typing as npt
import polars as pl

from pipelines.errors import WorkspaceError
from pipelines.storage.warehouse import Warehouse

KEPT = 12
"""So many weeks' runs are kept, the latest saved."""

Arrays = Mapping[str, npt.NDArray[np.generic]]
_ARRAYS, _TABLE = "arrays", "table"


@dataclass(frozen=True, kw_only=True)
class StoredRun:
    """What one run had learned.

    Attributes:
        week: The report's week, ``YYYY-Www``.
        as_of: The day the report was made for.
        made_at: When the run was made, local time.
        version: The program's version.
        fitted: The fitted model's arrays by name; numbers, Booleans or text, no objects.
        tables: The run's tables by name, unrounded, lists as lists.
    """

    week: str
    as_of: date
    made_at: datetime
    version: str
    fitted: Arrays
    tables: Mapping[str, pl.DataFrame]


class ModelStore:
    """The stored runs of one open database."""

    def __init__(self, warehouse: Warehouse) -> None:
        """Look at the stored runs of an open database."""
        self._warehouse = warehouse

    def save(self, run: StoredRun) -> None:
        """Keep a run, whole or not at all, as the one that built the marts as they now stand.

        It takes the place of an earlier run of its week, so that the week before stays known however often a week is
        run; of all weeks the latest saved are kept.

        Args:
            run: What was learned.

        Raises:
            ValueError: An array holds objects.
        """
        contents = [(_ARRAYS, "fitted", _array_bytes(run.fitted))]
        contents += [(_TABLE, name, _table_bytes(table)) for name, table in run.tables.items()]
        about = {"week": run.week, "as_of": run.as_of, "made_at": run.made_at, "version": run.version}
        with self._warehouse.transaction():
            number = self._warehouse.number("select coalesce(max(number), 0) + 1 from fitted.runs")
            self._strike("week = $week", {"week": run.week})
            self._warehouse.execute(_INSERT_RUN, about | {"number": number})
            for kind, name, content in contents:
                sha256 = hashlib.sha256(content).hexdigest()
                told = {"run": number, "kind": kind, "name": name, "sha256": sha256, "content": content}
                self._warehouse.execute(
                    "insert into fitted.contents values ($run, $kind, $name, $sha256, $content)", told
                )
            self._strike(
                "number not in (select number from fitted.runs order by number desc limit $kept)", {"kept": KEPT}
            )
            self._warehouse.execute("delete from fitted.marts_of")
            self._warehouse.execute("insert into fitted.marts_of values ($number)", {"number": number})

    def _strike(self, which: str, values: Mapping[str, object]) -> None:
        # The condition is the program's own; values are bound.
        chosen = f"select number from fitted.runs where {which}"  # noqa: S608
        self._warehouse.execute(f"delete from fitted.contents where run in ({chosen})", values)  # noqa: S608
        self._warehouse.execute(f"delete from fitted.runs where {which}", values)  # noqa: S608

    def latest(self) -> StoredRun | None:
        """Return the run that was saved last, or None where there is none.

        Raises:
            WorkspaceError: What it had learned does not read back as it was written.
        """
        return self._read("select * from fitted.runs order by number desc limit 1")

    def current(self) -> StoredRun | None:
        """Return the run that built the marts as they stand; None where they were built or taken back since.

        Raises:
            WorkspaceError: What it had learned does not read back as it was written.
        """
        return self._read("select * from fitted.runs where number in (select run from fitted.marts_of)")

    def before(self, week: str) -> StoredRun | None:
        """Return the run of the latest week before one, or None where none is kept.

        Args:
            week: ``YYYY-Www``.

        Raises:
            WorkspaceError: What it had learned does not read back as it was written.
        """
        query = "select * from fitted.runs where week < $week order by week desc, number desc limit 1"
        return self._read(query, {"week": week})

    def first_lines(self, week: str) -> pl.DataFrame:
        """Return the first line of every car on the lists of the stored runs before a week.

        Args:
            week: ``YYYY-Www``.

        Returns:
            One row per run and car: week, as_of and last_file (the last file that the run knew), vehicle, action, part,
            position, chance and clears (code keys, ``;``-separated); no rows where no run is kept.

        Raises:
            WorkspaceError: What a run had learned does not read back as it was written.
        """
        found = [pl.DataFrame(schema=_FIRST_LINES)]
        for week_before, last_file in self._warehouse.query(_RUNS_BEFORE, {"week": week}).iter_rows():
            run = self._read("select * from fitted.runs where week = $week", {"week": week_before})
            if run is not None and "shortlist" in run.tables:
                lines = run.tables["shortlist"].filter(pl.col("rank") == 1)
                about = {"week": pl.lit(run.week), "as_of": pl.lit(run.as_of), "last_file": pl.lit(last_file)}
                found.append(
                    lines.with_columns(**about).select(pl.col(name).cast(kind) for name, kind in _FIRST_LINES.items())
                )
        return pl.concat(found)

    def _read(self, query: str, values: Mapping[str, object] | None = None) -> StoredRun | None:
        found = self._warehouse.query(query, values).rows(named=True)
        if not found:
            return None
        [about] = found
        fitted: dict[str, npt.NDArray[np.generic]] = {}
        tables: dict[str, pl.DataFrame] = {}
        for kind, name, sha256, content in self._warehouse.query(_CONTENTS, {"run": about["number"]}).iter_rows():
            summed = hashlib.sha256(content).hexdigest()
            if summed != sha256:
                raise WorkspaceError(
                    f"what the run of {about['week']} had learned is damaged in the database: the SHA-256 sum of its "
                    f"{name} is {summed}, it was written with {sha256}. The files that were read are not concerned: "
                    "run 'knockon weekly' again, it learns the same from them once more."
                )
            if kind == _ARRAYS:
                fitted |= _arrays(content)
            else:
                tables[name] = pl.read_ipc(io.BytesIO(content))
        return StoredRun(
            week=about["week"], as_of=about["as_of"], made_at=about["made_at"], version=about["version"],
            fitted=fitted, tables=tables,
        )  # fmt: skip


def strike_runs(warehouse: Warehouse, first_file: int) -> None:
    """Strike the runs that knew a file or a later one, and say that the marts as they stand are no run's.

    Args:
        warehouse: The open database, in a transaction of the caller's.
        first_file: The file's number; runs that were saved before it came in stay.
    """
    known = {"first_file": first_file}
    warehouse.execute(
        "delete from fitted.contents where run in (select number from fitted.runs where last_file >= $first_file)",
        known,
    )
    warehouse.execute("delete from fitted.runs where last_file >= $first_file", known)
    warehouse.execute("delete from fitted.marts_of")


_INSERT_RUN = (
    "insert into fitted.runs by name select $number as number, $week as week, $as_of as as_of, $made_at as made_at, "
    "$version as version, (select coalesce(max(file_id), 0) from raw.files) as last_file"
)
_RUNS_BEFORE = "select week, last_file from fitted.runs where week < $week order by week"
_FIRST_LINES: dict[str, type[pl.DataType]] = {
    "week": pl.String, "as_of": pl.Date, "last_file": pl.Int64, "vehicle": pl.String, "action": pl.String,
    "part": pl.String, "position": pl.String, "chance": pl.Float64, "clears": pl.String,
}  # fmt: skip
_CONTENTS = "select kind, name, sha256, content from fitted.contents where run = $run order by kind, name"


def _array_bytes(arrays: Arrays) -> bytes:
    """Return arrays as an npz file; ``numpy.savez`` would take names such as ``file`` for its own arguments."""
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, array in arrays.items():
            with archive.open(f"{name}.npy", "w", force_zip64=True) as entry:
                np.lib.format.write_array(entry, np.asanyarray(array), allow_pickle=False)
    return written.getvalue()


def _arrays(content: bytes) -> dict[str, npt.NDArray[np.generic]]:
    with np.load(io.BytesIO(content), allow_pickle=False) as read:
        return {name: read[name] for name in read.files}


def _table_bytes(table: pl.DataFrame) -> bytes:
    written = io.BytesIO()
    table.write_ipc(written, compression="zstd")
    return written.getvalue()
