"""Take the inbox in: hash, read, load, then archive; or refuse and say why.

Rows, rejects and the hash of a file land together or not at all, and only then
does the file leave the inbox.  Bytes that were loaded before change nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import polars as pl

from analysis.vocabulary.codes import read_code
from pipelines.errors import InputFileError
from pipelines.filing import archive, content_hash, set_aside, shown_name, why_unread
from pipelines.reading.choosing import choose, read_file, read_mapped
from pipelines.reading.layouts import LAYOUTS, Layout
from pipelines.reading.mappings import FOLDER, Mapping, load_mapping, load_mappings
from pipelines.reading.tables import Reading, guess_layout
from pipelines.settings import Settings
from pipelines.warehouse import LoadedFile, Warehouse
from pipelines.workspace import Workspace

# The stock list comes first: it knows the vehicle numbers that scans may stand on.
_ORDER = ("stock", "parts", "background", "repairs", "scans")


@dataclass
class Intake:
    """What one pass over the inbox did.

    Attributes:
        loaded: Files whose rows are now kept, with their counts.
        refused: Files that could not be read, each with its reason.
        skipped: Names of files whose bytes had been loaded before.
        busy: Messages for files that another program holds; they stay in the inbox.
    """

    loaded: list[LoadedFile] = field(default_factory=list)
    refused: list[LoadedFile] = field(default_factory=list)
    skipped: list[str] = field(default_factory=list)
    busy: list[str] = field(default_factory=list)

    @property
    def nothing_readable(self) -> bool:
        """There was something to read, and not one row of it could be read."""
        taken = sum(file.rows_loaded + file.rows_repeated for file in self.loaded)
        refused = bool(self.refused or self.busy or sum(file.rows_refused for file in self.loaded))
        return refused and not taken and not self.skipped


def take_in(
    workspace: Workspace, settings: Settings, warehouse: Warehouse, week: str, progress: Callable[[str], None]
) -> Intake:
    """Load every file of the inbox that is new.

    Args:
        workspace: Where the inbox, archive and rejected folders are.
        settings: For the time zone of local times.
        warehouse: The open database.
        week: The report week that the files are booked on.
        progress: Told each file's name before it is read.

    Returns:
        What became of each file.

    Raises:
        SettingsError: A line of a mapping does not mean what it should; no file was read.
    """
    done = Intake(refused=_misplaced(workspace, week))
    run = _Run(workspace, settings, warehouse, week, load_mappings(workspace.root))
    for layout, path in _inbox_files(workspace):
        name = shown_name(layout, path)
        progress(name)
        try:
            _take_file(run, layout, path, done)
        except OSError as error:
            done.busy.append(f"{name}: could not be opened ({error.strerror or error}); it stays in the inbox.")
    return done


@dataclass(frozen=True)
class FileCheck:
    """What ``check`` found in one file; nothing is loaded.

    Attributes:
        path: The file.
        table: The layout it was read as, or None where none fits.
        rows_read: Rows found.
        rows_taken: Rows that would be loaded.
        rejects: ``row``, ``column``, ``value``, ``why``: the cells that would be refused.
        notes: What else the reader noticed.
        refused: Why the whole file would be refused, or None.
    """

    path: Path
    table: str | None
    rows_read: int
    rows_taken: int
    rejects: pl.DataFrame
    notes: tuple[str, ...]
    refused: str | None


def check_file(path: Path, settings: Settings, table: str | None = None, mapping: Path | None = None) -> FileCheck:
    """Read one file as ``weekly`` would and say what would be taken and refused.

    Args:
        path: The file.
        settings: For the time zone of local times.
        table: The layout to read it as; None guesses from the folder's name, a mapping that fits, or the header.
        mapping: A mapping file to read it by, whatever its name; None: those of the workspace the file lies in.

    Returns:
        The findings; ``refused`` is filled where nothing could be read.
    """
    empty = pl.DataFrame(schema={"row": pl.Int64, "column": pl.String, "value": pl.String, "why": pl.String})
    if not path.is_file():
        found = "is a folder" if path.is_dir() else "is not there"
        return FileCheck(path, None, 0, 0, empty, (), f"{path} {found}; expected a file to look at")
    name = "scans" if mapping else table
    mappings = load_mappings(_workspace_of(path)) if mapping is None else []
    try:
        name = name or guess_layout(path) or ("scans" if choose(path, mappings) else None)
        if name is None:
            why = f"{path}: fits none of the tables {', '.join(LAYOUTS)}; name one with --table, or let "
            return FileCheck(path, None, 0, 0, empty, (), why + f"'knockon map {path}' draft a mapping")
        if mapping is not None:
            reading = read_mapped(path, load_mapping(mapping), settings.zone)
        else:
            reading = read_file(path, LAYOUTS[name], settings.zone, mappings)
    except (InputFileError, OSError) as error:
        return FileCheck(path, name, 0, 0, empty, (), str(error))
    codes = _refused_codes(reading)
    rejects = pl.concat([reading.rejects, codes]).sort("row", "column", nulls_last=False)
    taken = reading.rows.height - codes.height
    return FileCheck(path, name, reading.rows_read, taken, rejects, tuple(reading.notes), None)


def _workspace_of(path: Path) -> Path:
    """Return the nearest folder above a file that looks like a workspace, else the working folder."""
    homes = path.resolve().parents
    return next((home for home in homes if (home / "inbox").is_dir() or (home / FOLDER).is_dir()), Path())


def _refused_codes(reading: Reading) -> pl.DataFrame:
    """Return the rows whose code is no code, as rejects."""
    columns = {"row": pl.Int64, "column": pl.String, "value": pl.String, "why": pl.String}
    if "code" not in reading.rows.columns:
        return pl.DataFrame(schema=columns)
    named = reading.rows.filter(pl.col("code").is_not_null())
    kinds = "failure_type" if "failure_type" in named.columns else None
    why: dict[tuple[str, str | None], str | None] = {}
    bad = []
    for row, code, kind in named.select("row", "code", pl.col(kinds) if kinds else pl.lit(None)).iter_rows():
        if (code, kind) not in why:
            why[code, kind] = read_code(code, kind).why
        if why[code, kind]:
            bad.append((row, "code", code, why[code, kind]))
    return pl.DataFrame(bad, schema=columns, orient="row")


def _misplaced(workspace: Workspace, week: str) -> list[LoadedFile]:
    """Return what lies in the inbox where no table's files belong; it is left there, unread."""
    wanted = f"expected a file in one of inbox/{', inbox/'.join(sorted(LAYOUTS))}. It stays where it is, unread."
    loose = [path for path in workspace.inbox.glob("*") if path.name not in LAYOUTS]
    deep = [path for name in LAYOUTS for path in (workspace.inbox / name).glob("*") if path.is_dir()]
    names = sorted(path.relative_to(workspace.inbox).as_posix() for path in [*loose, *deep] if not _hidden(path))
    return [LoadedFile(name, "", "", week, refused=f"{name}: found at this place; {wanted}") for name in names]


def _hidden(path: Path) -> bool:
    return path.name.startswith((".", "~$"))


def _inbox_files(workspace: Workspace) -> Iterator[tuple[Layout, Path]]:
    for name in _ORDER:
        for path in sorted((workspace.inbox / name).glob("*")):
            if not _hidden(path) and not path.is_dir():
                yield LAYOUTS[name], path


@dataclass(frozen=True)
class _Run:
    """What stays the same from file to file."""

    workspace: Workspace
    settings: Settings
    warehouse: Warehouse
    week: str
    mappings: Sequence[Mapping]


def _take_file(run: _Run, layout: Layout, path: Path, done: Intake) -> None:
    name = shown_name(layout, path)
    why = why_unread(path, name)
    if why is not None:
        done.refused.append(LoadedFile(name, layout.name, "", run.week, refused=why))
        return
    sha256 = content_hash(path)
    if run.warehouse.has_file(layout.name, sha256):
        done.skipped.append(name)
        archive(run.workspace, layout, path, sha256)
        return
    try:
        reading = read_file(path, layout, run.settings.zone, run.mappings)
    except InputFileError as error:
        why = str(error).replace(str(path), name)
        done.refused.append(LoadedFile(name, layout.name, sha256, run.week, refused=why))
        run.warehouse.refuse_file(done.refused[-1])
        set_aside(run.workspace, layout, path, sha256, why)
        return
    file = LoadedFile(
        name,
        layout.name,
        sha256,
        run.week,
        rows_read=reading.rows_read,
        rows_refused=reading.rows_read - reading.rows.height,
        notes=tuple(reading.notes),
    )
    done.loaded.append(run.warehouse.load_file(file, reading.rows, reading.rejects))
    archive(run.workspace, layout, path, sha256)
