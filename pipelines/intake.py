"""Take the inbox in: hash, read, load, then archive; or refuse and say why.

Rows, rejects and the hash of a file land together or not at all, and only then
does the file leave the inbox.  Bytes that were loaded before change nothing.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import polars as pl

from analysis.vocabulary.codes import read_code
from pipelines.errors import InputFileError
from pipelines.reading.layouts import LAYOUTS, Layout
from pipelines.reading.tables import SUFFIXES, Reading, guess_layout, read_table
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
        notes: What else was noticed, in words.
    """

    loaded: list[LoadedFile] = field(default_factory=list)
    refused: list[LoadedFile] = field(default_factory=list)
    skipped: list[str] = field(default_factory=list)
    busy: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

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
    """
    done = Intake()
    for layout, path in _inbox_files(workspace, done.notes):
        name = f"{layout.name}/{path.name}"
        progress(name)
        try:
            _take_file(workspace, settings, warehouse, week, layout, path, done)
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


def check_file(path: Path, settings: Settings, table: str | None = None) -> FileCheck:
    """Read one file as ``weekly`` would and say what would be taken and refused.

    Args:
        path: The file.
        settings: For the time zone of local times.
        table: The layout to read it as; None guesses from the folder's name or the header.

    Returns:
        The findings; ``refused`` is filled where nothing could be read.
    """
    empty = pl.DataFrame(schema={"row": pl.Int64, "column": pl.String, "value": pl.String, "why": pl.String})
    name = table or guess_layout(path)
    if name is None:
        wanted = ", ".join(LAYOUTS)
        return FileCheck(
            path, None, 0, 0, empty, (), f"{path}: fits none of the tables {wanted}; name one with --table"
        )
    try:
        reading = read_table(path, LAYOUTS[name], settings.zone)
    except (InputFileError, OSError) as error:
        return FileCheck(path, name, 0, 0, empty, (), str(error))
    codes = _refused_codes(reading)
    rejects = pl.concat([reading.rejects, codes]).sort("row", "column", nulls_last=False)
    taken = reading.rows.height - codes["row"].n_unique()
    return FileCheck(path, name, reading.rows_read, taken, rejects, tuple(reading.notes), None)


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


def _inbox_files(workspace: Workspace, notes: list[str]) -> Iterator[tuple[Layout, Path]]:
    for entry in sorted(workspace.inbox.glob("*")):
        if entry.name not in LAYOUTS and not entry.name.startswith("."):
            notes.append(f"inbox/{entry.name}: not one of the folders {', '.join(sorted(LAYOUTS))}; left where it is.")
    for name in _ORDER:
        for path in sorted((workspace.inbox / name).glob("*")):
            if path.name.startswith((".", "~$")):
                continue
            if path.is_dir() and not path.is_symlink():
                notes.append(f"inbox/{name}/{path.name}: a folder inside {name}/ is not read; left where it is.")
                continue
            yield LAYOUTS[name], path


def _take_file(
    workspace: Workspace,
    settings: Settings,
    warehouse: Warehouse,
    week: str,
    layout: Layout,
    path: Path,
    done: Intake,
) -> None:
    name = f"{layout.name}/{path.name}"
    if path.is_symlink():
        done.refused.append(LoadedFile(name, layout.name, "", week, refused=_refuse_link(path, name)))
        return
    sha256 = _hash(path)
    file = LoadedFile(name, layout.name, sha256, week)
    if warehouse.has_file(layout.name, sha256):
        done.skipped.append(name)
        _archive(workspace, layout, path, sha256)
        return
    try:
        reading = read_table(path, layout, settings.zone)
    except InputFileError as error:
        why = str(error).replace(str(path), name)
        file = LoadedFile(name, layout.name, sha256, week, refused=why)
        warehouse.refuse_file(file)
        _set_aside(workspace, layout, path, sha256, why)
        done.refused.append(file)
        return
    file = LoadedFile(
        name,
        layout.name,
        sha256,
        week,
        rows_read=reading.rows_read,
        rows_refused=reading.rows_read - reading.rows.height,
        notes=tuple(reading.notes),
    )
    done.loaded.append(warehouse.load_file(file, reading.rows, reading.rejects))
    _archive(workspace, layout, path, sha256)


def _refuse_link(path: Path, name: str) -> str:
    return f"{name}: is a link to {os.readlink(path)}; expected a file of its own. It stays where it is, unread."


def _hash(path: Path) -> str:
    with path.open("rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()


def _archive(workspace: Workspace, layout: Layout, path: Path, sha256: str) -> None:
    folder = workspace.archive / layout.name
    folder.mkdir(parents=True, exist_ok=True)
    path.replace(folder / (sha256 + path.suffix.lower()))


def _set_aside(workspace: Workspace, layout: Layout, path: Path, sha256: str, why: str) -> None:
    folder = workspace.rejected / layout.name
    folder.mkdir(parents=True, exist_ok=True)
    target = folder / path.name
    if target.exists() and _hash(target) != sha256:
        target = folder / f"{path.stem}-{sha256[:12]}{path.suffix}"
    path.replace(target)
    target.with_name(target.name + ".why.txt").write_text(why + "\n", encoding="utf-8", newline="\n")


def readable_suffixes() -> tuple[str, ...]:
    """Return the endings of file names that can be read."""
    return SUFFIXES
