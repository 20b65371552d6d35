"""The files behind the rows: do they still stand in the archive as they were loaded, and where else does a row stand?

A row that came again in a later file is kept once, under the file that brought it first.  Which other files hold it,
only those files can tell, so they are read again.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from pipelines.errors import InputFileError
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import load_mappings
from pipelines.settings import Settings
from pipelines.storage.file_archive import archived, content_hash, read_again
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace

Place = tuple[int, int]
"""File number and row number: where a row stands."""

_FILES = """
select file_id, name, sha256, week, rows_repeated from raw.files
where layout = $layout and refused is null order by file_id
"""
# Of these a row that says what the latest one said is not kept again, however often a file says it.
_STATES = ("stock", "parts")


@dataclass(frozen=True)
class KeptFile:
    """A file whose rows are in the database.

    Attributes:
        file_id: Its number in the database.
        layout: The table it belongs to.
        name: Its name below the inbox when it came.
        sha256: Hash of its bytes.
        week: The report week it was loaded in.
        rows_repeated: How many of its rows were known already.
    """

    file_id: int
    layout: str
    name: str
    sha256: str
    week: str
    rows_repeated: int


class SourceFiles:
    """The files that the database was loaded from, in the archive beside it."""

    def __init__(self, workspace: Workspace, settings: Settings, warehouse: Warehouse) -> None:
        """Look at an archive; no file is read yet.

        Args:
            workspace: Where it is.
            settings: For the time zone of local times.
            warehouse: The open database, or a copy of it.
        """
        self._workspace = workspace
        self._zone = settings.zone
        self._mappings = load_mappings(workspace.root)
        self._warehouse = warehouse
        self._frames: dict[int, pl.DataFrame | None] = {}
        self.files = {
            row["file_id"]: KeptFile(layout=layout, **row)
            for layout in LAYOUTS
            for row in warehouse.query(_FILES, {"layout": layout}).iter_rows(named=True)
        }

    def path(self, file: KeptFile) -> Path | None:
        """Return where the file stands in the archive, or None."""
        return archived(self._workspace, LAYOUTS[file.layout], file.sha256)

    def state(self, file: KeptFile) -> str:
        """Say in words whether the archived file is the one that was loaded."""
        path = self.path(file)
        if path is None:
            return "missing from the archive"
        return "as it was loaded" if content_hash(path) == file.sha256 else "changed since it was loaded"

    def elsewhere(self, layout: str, places: Collection[Place]) -> dict[Place, list[Place]]:
        """Return for each kept row all places that hold the same cells today, its own among them.

        Args:
            layout: The table of the rows.
            places: The kept rows.

        Returns:
            The places, sorted; none for a row whose file is gone or is read differently by now.
        """
        found: dict[Place, list[Place]] = {place: [] for place in sorted(places)}
        if not found:
            return {}
        wanted = self._kept(layout, list(found))
        owners = {file_id for file_id, _ in found}
        for file in self.files.values():
            if file.layout == layout and (file.file_id in owners or file.rows_repeated):
                for kept_file, kept_row, row in self._same_rows(file, wanted):
                    found[kept_file, kept_row].append((file.file_id, row))
        return {place: sorted(held) for place, held in found.items()}

    def _kept(self, layout: str, places: Sequence[Place]) -> pl.DataFrame:
        # The layout's name is the program's own; places are bound.
        query = (
            f"select * exclude (content, nth) rename (row as kept_row) from raw.{layout} "  # noqa: S608
            "where (file_id, row) in (select (unnest($files), unnest($rows)))"
        )
        return self._warehouse.query(query, {"files": [place[0] for place in places], "rows": [p[1] for p in places]})

    def _same_rows(self, file: KeptFile, wanted: pl.DataFrame) -> list[tuple[int, int, int]]:
        """Read a file again; return file and row of each kept row that it holds, with the row where it holds it."""
        columns = [column.name for column in LAYOUTS[file.layout].kept]
        read = self._read(file)
        if read is None:
            return []
        rows = read.select(
            "row",
            *(pl.col(name) if name in read.columns else pl.lit(None, pl.String).alias(name) for name in columns),
        )
        keys = columns
        if file.layout not in _STATES:
            counted = rows.sort("row").with_columns(pl.int_range(1, pl.len() + 1).over(columns).alias("ordinal"))
            rows, keys = counted, [*columns, "ordinal"]
        same = wanted.join(rows, on=keys, how="inner", nulls_equal=True)
        return same.select("file_id", "kept_row", "row").sort("file_id", "kept_row", "row").rows()

    def _read(self, file: KeptFile) -> pl.DataFrame | None:
        if file.file_id not in self._frames:
            self._frames[file.file_id] = self._read_anew(file)
        return self._frames[file.file_id]

    def _read_anew(self, file: KeptFile) -> pl.DataFrame | None:
        path = self.path(file)
        if path is None:
            return None
        with self._workspace.scratch_folder() as room:
            try:
                return read_again(path, room / file.name, file.layout, self._zone, self._mappings)
            except (InputFileError, OSError):
                return None
