"""Take the inbox in: hash, read, load, then archive; or refuse and say why.

A file in the wrong folder is sorted by what it holds; one that nothing in the file can decide waits in the inbox, with
the question.  Files of one table come in some hundreds at a time: rows, rejects and hashes of all of them land together
or not at all, and only then do the files leave the inbox.  Bytes that were loaded before change nothing.
A file of the archive that the database does not know is read again first.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path

from pipelines.errors import InputFileError, UnansweredError, shell_command
from pipelines.ingest.parallel import Reader, Spread, read_ahead
from pipelines.reading.layouts import LAYOUTS, Layout
from pipelines.reading.mapping.mapping_file import Mapping, load_mappings
from pipelines.reading.read_table import Reading
from pipelines.reading.recognise import read_file, table_of
from pipelines.reading.together import SMALL, Outcome, read_together
from pipelines.settings import Settings
from pipelines.storage.file_archive import (
    archive,
    archived_by_hash,
    content_hash,
    cut_back,
    set_aside,
    shown_name,
    why_unread,
)
from pipelines.storage.file_loader import Arrival, LoadedFile, load_files, refuse_file, taken_hashes
from pipelines.storage.recovery import Stray, reading_room, strays
from pipelines.storage.storage_errors import is_disk_error
from pipelines.storage.time_zone import show_in
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace

# The stock list comes first: it knows the vehicle numbers that scans may stand on.
_ORDER = ("stock", "parts", "background", "repairs", "scans")
# Files, and bytes of files, that come in at once.
_MOST_FILES, _MOST_BYTES = 500, 8 * 2**20


@dataclass
class Intake:
    """What one pass over the inbox did.

    Attributes:
        loaded: Files whose rows are now kept, with their counts.
        refused: Files that could not be read, each with its reason.
        skipped: Names of files whose bytes had been loaded before.
        busy: Messages for files that another program holds or writes, and for those that wait for an answer; they stay
            in the inbox.
        again: Names of files that were read again from the archive.
        notes: What the user should be told, in words.
    """

    loaded: list[LoadedFile] = field(default_factory=list)
    refused: list[LoadedFile] = field(default_factory=list)
    skipped: list[str] = field(default_factory=list)
    busy: list[str] = field(default_factory=list)
    again: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def nothing_readable(self) -> bool:
        """There was something to read, and not one row of it could be read."""
        taken = sum(file.rows_loaded + file.rows_repeated for file in self.loaded)
        refused = bool(self.refused or self.busy or sum(file.rows_refused for file in self.loaded))
        return refused and not taken and not self.skipped


def take_in(
    workspace: Workspace,
    settings: Settings,
    warehouse: Warehouse,
    week: str,
    progress: Callable[[str], None],
    *,
    spread: Spread | None = None,
) -> Intake:
    """Load every file of the inbox that is new.

    Args:
        workspace: Where the inbox, archive and rejected folders are.
        settings: For the time zone of local times.
        warehouse: The open database.
        week: The report week that the files are booked on.
        progress: Told each file's name before it is read, and which of how many it is.
        spread: Who reads the files; None: this process, one by one.

    Returns:
        What became of each file.

    Raises:
        SettingsError: A line of a mapping does not mean what it should; no file was read.
    """
    run = _Run(workspace, settings, warehouse, week, load_mappings(workspace.root), taken_hashes(warehouse))
    done = Intake(notes=show_in(warehouse, settings.zone))
    loose = _sort_loose(run, done)
    again = list(strays(workspace, warehouse))
    for number, stray in enumerate(again, 1):
        progress(f"{stray.layout}/{stray.name} once more, {number} of {len(again)}")
        _take_again(run, stray, done)
    files = sorted([*_inbox_files(workspace), *loose], key=lambda file: _ORDER.index(file[0].name))
    if spread is not None:
        fresh = [
            (layout, path)
            for layout, path in files
            if why_unread(path, path.name) is None and path.stat().st_size > SMALL
        ]
        ahead = read_ahead(
            spread,
            fresh,
            settings.zone,
            run.mappings,
            habits=settings.habits,
            room=reading_room(workspace) / "ahead",
        )
        run = replace(run, read=ahead)
    _take_files(run, files, done, progress)
    return done


def _sort_loose(run: _Run, done: Intake) -> list[tuple[Layout, Path]]:
    """Return the files of the inbox itself, each with the table that it holds; the others are left, and said."""
    inbox = run.workspace.inbox
    loose = [path for path in inbox.glob("*") if path.name not in LAYOUTS and not _hidden(path)]
    deep = [path for name in LAYOUTS for path in (inbox / name).glob("*") if path.is_dir() and not _hidden(path)]
    found = []
    for path in sorted([*loose, *deep], key=lambda path: path.relative_to(inbox).as_posix()):
        name = path.relative_to(inbox).as_posix()
        table = None if path.is_dir() or why_unread(path, name) else table_of(path, run.mappings)
        if table is not None:
            done.notes.append(f"{name}: lay in inbox/ itself; it holds {table}, so it was read as that")
            found.append((LAYOUTS[table], path))
            continue
        hint = "" if path.is_dir() else f", or let '{shell_command('map', f'inbox/{name}')}' draft a mapping"
        why = (
            f"{name}: found at this place, and what it holds cannot be told; expected a file in one of "
            f"inbox/{', inbox/'.join(sorted(LAYOUTS))}{hint}. It stays where it is, unread."
        )
        done.refused.append(LoadedFile(name, "", "", run.week, refused=why))
    return found


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
    known: set[tuple[str, str]]
    run_name: str | None = None
    read: Reader = read_file


def _take_again(run: _Run, stray: Stray, done: Intake) -> None:
    """Read a file of the archive again under the name it had; of one that grew, what it was before stays there too."""
    copy = reading_room(run.workspace) / stray.layout / stray.name
    copy.parent.mkdir(parents=True, exist_ok=True)
    shutil.copy2(stray.path, copy)
    again = replace(run, week=stray.week or run.week, run_name=stray.run)
    _take_files(again, [(LAYOUTS[stray.layout], copy)], done)
    if stray.grown_from is not None:
        cut_back(stray.path, stray.grown_from)
    elif (stray.layout, stray.sha256) not in run.known:
        stray.path.unlink()
    done.again.append(f"{stray.layout}/{stray.name}")


@dataclass(frozen=True)
class _Newcomer:
    """A file that is to be read."""

    layout: Layout
    path: Path
    file: LoadedFile


def _take_files(
    run: _Run, files: Sequence[tuple[Layout, Path]], done: Intake, progress: Callable[[str], None] = lambda _: None
) -> None:
    """Take files in, those of one table that follow each other some hundreds at a time."""
    batch: dict[str, _Newcomer] = {}
    held, table = 0, ""
    for number, (layout, path) in enumerate(files, 1):
        progress(f"{shown_name(layout, path)}, {number} of {len(files)}")
        with _opening(layout, path, done):
            size = path.lstat().st_size
            if layout.name != table or len(batch) == _MOST_FILES or held + size > _MOST_BYTES:
                _take_batch(run, [*batch.values()], done)
                batch, held, table = {}, 0, layout.name
            newcomer = _newcomer(run, layout, path, done)
            if newcomer is not None and newcomer.file.sha256 in batch:
                _take_batch(run, [*batch.values()], done)
                batch, held = {}, 0
                newcomer = _newcomer(run, layout, path, done)
            if newcomer is not None:
                batch[newcomer.file.sha256] = newcomer
                held += size
    _take_batch(run, [*batch.values()], done)


@contextmanager
def _opening(layout: Layout, path: Path, done: Intake) -> Iterator[None]:
    """Say of a file that cannot be opened that it stays; an error of the disk goes on."""
    try:
        yield
    except OSError as error:
        if is_disk_error(error):
            raise
        name = shown_name(layout, path)
        done.busy.append(f"{name}: could not be opened ({error.strerror or error}); it stays in the inbox.")


def _newcomer(run: _Run, layout: Layout, path: Path, done: Intake) -> _Newcomer | None:
    """Return a file that is to be read; None where it may not be, or was loaded before."""
    name = shown_name(layout, path)
    why = why_unread(path, name)
    if why is not None:
        done.refused.append(LoadedFile(name, layout.name, "", run.week, refused=why))
        return None
    sha256, length = content_hash(path), path.stat().st_size
    if (layout.name, sha256) in run.known:
        done.skipped.append(name)
        archive(run.workspace, layout, path, sha256)
        return None
    file = LoadedFile(name, layout.name, sha256, run.week, bytes=length, run=run.run_name)
    return _Newcomer(layout, path, file)


def _take_batch(run: _Run, batch: Sequence[_Newcomer], done: Intake) -> None:
    """Read some files of one table and load them in one transaction; only then do they leave the inbox."""
    if not batch:
        return
    layout = batch[0].layout
    arrived: list[tuple[_Newcomer, Arrival]] = []
    unread: list[tuple[_Newcomer, InputFileError | OSError]] = []
    for newcomer, outcome in zip(batch, _outcomes(run, batch), strict=True):
        if not isinstance(outcome, Reading):
            unread.append((newcomer, outcome))
            continue
        with _opening(layout, newcomer.path, done):
            if not _still_written(newcomer.path, newcomer.file.sha256, newcomer.file.name, done):
                arrived.append((newcomer, Arrival(_counted(newcomer.file, outcome), outcome.rows, outcome.rejects)))
    done.loaded += load_files(run.warehouse, [arrival for _, arrival in arrived])
    listed = archived_by_hash(run.workspace, layout) if arrived else {}
    for newcomer, _ in arrived:
        run.known.add((layout.name, newcomer.file.sha256))
        with _opening(layout, newcomer.path, done):
            archive(run.workspace, layout, newcomer.path, newcomer.file.sha256, listed)
    for newcomer, error in unread:
        with _opening(layout, newcomer.path, done):
            _not_read(run, newcomer, error, done)


def _outcomes(run: _Run, batch: Sequence[_Newcomer]) -> list[Outcome]:
    """Read the files of a batch: the small ones together, the others each by itself."""
    layout, settings = batch[0].layout, run.settings
    small = [newcomer.path for newcomer in batch if (newcomer.file.bytes or 0) <= SMALL]
    together = dict(zip(small, read_together(small, layout, settings.zone, run.mappings, settings.habits), strict=True))
    found: list[Outcome] = []
    for newcomer in batch:
        try:
            path = newcomer.path
            read = together.get(path) or run.read(path, layout, settings.zone, run.mappings, settings.habits)
        except (InputFileError, OSError) as error:
            read = error
        found.append(read)
    return found


def _not_read(run: _Run, newcomer: _Newcomer, error: InputFileError | OSError, done: Intake) -> None:
    """Let a file that could not be read wait, take it in as another table, or refuse it."""
    layout, path, file = newcomer.layout, newcomer.path, newcomer.file
    if isinstance(error, OSError):
        raise error
    if isinstance(error, UnansweredError):
        done.busy.append(f"{str(error).replace(str(path), file.name)} It stays in the inbox.")
        return
    other = table_of(path, run.mappings)
    if other is not None and other != layout.name and path.parent.name == layout.name:
        done.notes.append(f"{file.name}: lay in inbox/{layout.name}; it holds {other}, so it was read as that")
        _take_files(run, [(LAYOUTS[other], path)], done)
    elif not _still_written(path, file.sha256, file.name, done):
        _refuse(run, layout, path, replace(file, refused=str(error).replace(str(path), file.name)), done)


def _counted(file: LoadedFile, reading: Reading) -> LoadedFile:
    refused = reading.rows_read - reading.rows.height
    return replace(file, rows_read=reading.rows_read, rows_refused=refused, notes=tuple(reading.notes))


def _still_written(path: Path, sha256: str, name: str, done: Intake) -> bool:
    """Tell whether a file changed while it was read; it is then left for the next run."""
    if content_hash(path) == sha256:
        return False
    done.busy.append(
        f"{name}: another program was still writing it while it was read. Nothing of it was taken in; it stays in the "
        "inbox for the next run."
    )
    return True


def _refuse(run: _Run, layout: Layout, path: Path, file: LoadedFile, done: Intake) -> None:
    done.refused.append(file)
    refuse_file(run.warehouse, file)
    set_aside(run.workspace, layout, path, file.sha256, file.refused or "")
