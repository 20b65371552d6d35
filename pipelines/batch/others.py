"""Other dealers' sets, as ``knockon share`` writes them, laid into ``others/NAME/``: first beliefs, never own rows.

A set is read with the same readers as the own inbox, in a database of its own that is gone afterwards, here or in a
worker process; what became of its jobs is kept below ``.knockon/others/`` for questions between two weeks, and for the
next week as long as its files are the same.  A set whose folder is gone is forgotten, and one that cannot be read is
named and left out.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from datetime import date
from importlib.metadata import version
from pathlib import Path

import polars as pl

from analysis.diagnosis import PastElsewhere
from pipelines.batch.marts import build_past, normalise
from pipelines.errors import BatchError
from pipelines.ingest.parallel import Spread
from pipelines.reading.layouts import LAYOUTS
from pipelines.settings import load_settings
from pipelines.storage.file_archive import content_hash
from pipelines.storage.session import opened
from pipelines.workspace import Workspace, private_folder, week_name, write_private

FRAMES = tuple(field.name for field in fields(PastElsewhere))
MARK = "read.txt"
"""Beside what is kept of a set: the hashes of the files that it was read from."""


@dataclass(frozen=True)
class OtherSets:
    """The past jobs of other dealers by the names of their folders, and what there is to say of their sets."""

    past: Mapping[str, PastElsewhere]
    notes: list[str]


NONE = OtherSets({}, [])


def read_sets(
    workspace: Workspace,
    as_of: date,
    progress: Callable[[str], None] = lambda _: None,
    spread: Spread | None = None,
) -> OtherSets:
    """Read every set below ``others/`` that was not read before.

    Args:
        workspace: The dealer's folder.
        as_of: The day of the report.
        progress: Told each set's name as it is done.
        spread: Who reads; None for this process.

    Returns:
        The sets that could be read.
    """
    names = sorted(place.name for place in sets_folder(workspace).glob("*") if (place / "inbox").is_dir())
    for kept in _kept(workspace).glob("*"):
        if kept.name not in names:
            shutil.rmtree(kept, ignore_errors=True)
    notes, jobs = list[str](), [_Job(workspace.root, name, as_of) for name in names]
    for name, refused in zip(names, spread(_read_one, jobs) if spread else map(_read_one, jobs), strict=True):
        progress(f"others/{name}")
        if refused:
            notes.append(f"others/{name} could not be read: {refused} The set was left out, all else was done.")
    return OtherSets(kept_sets(workspace), notes)


def kept_sets(workspace: Workspace) -> Mapping[str, PastElsewhere]:
    """Return what the last week kept of the sets whose folders are still there."""
    folders = [place for place in _kept(workspace).glob("*") if sets_folder(workspace, place.name).is_dir()]
    return {
        folder.name: PastElsewhere(**{name: pl.read_parquet(folder / f"{name}.parquet") for name in FRAMES})
        for folder in sorted(folders)
        if (folder / MARK).is_file()
    }


def sets_folder(workspace: Workspace, name: str = "") -> Path:
    """Return where the sets are laid, or where one of them is."""
    return workspace.root / "others" / name


def _kept(workspace: Workspace) -> Path:
    return workspace.state / "others"


@dataclass(frozen=True)
class _Job:
    """One set to read."""

    root: Path
    name: str
    as_of: date


def _read_one(job: _Job) -> str:
    """Read one set, unless what is kept of it came from the same files; return why it was refused, blank if it was not.

    The mark is written last: what is kept without one was cut short.
    """
    workspace = Workspace(job.root)
    folder, kept = sets_folder(workspace, job.name), _kept(workspace) / job.name
    mark = _mark(folder)
    if (kept / MARK).is_file() and (kept / MARK).read_text(encoding="utf-8") == mark:
        return ""
    shutil.rmtree(kept, ignore_errors=True)
    try:
        told = _read(workspace, folder, job.as_of)
    except BatchError as error:
        return str(error)
    private_folder(kept)
    for name in FRAMES:
        getattr(told, name).write_parquet(kept / f"{name}.parquet")
    write_private(kept / MARK, mark)
    return ""


def _files(folder: Path) -> list[Path]:
    """Return the files of a set that are read: its tables and its settings."""
    tables = [file for name in LAYOUTS for file in sorted((folder / "inbox" / name).glob("*.csv"))]
    return [*tables, *(file for file in (folder / "knockon.toml",) if file.is_file())]


def _mark(folder: Path) -> str:
    """Return what changes with any file of a set, and with the program that reads it."""
    told = [f"{content_hash(file)} {file.relative_to(folder).as_posix()}" for file in _files(folder)]
    return "\n".join([f"knockon {version('knockon')}", *told]) + "\n"


def _read(workspace: Workspace, folder: Path, as_of: date) -> PastElsewhere:
    """Read one set in a workspace of its own."""
    from pipelines.ingest.intake import take_in  # noqa: PLC0415 - a question between two weeks reads no set

    with workspace.scratch_folder() as scratch:
        for file in _files(folder):
            copy = scratch / file.relative_to(folder)
            copy.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(file, copy)
        alone = Workspace(scratch)
        settings = load_settings(alone.settings_file)
        with opened(alone) as warehouse:
            take_in(alone, settings, warehouse, week_name(as_of, settings.week_starts), lambda _: None)
            normalise(alone, warehouse)
            return build_past(warehouse, settings, as_of).take(PastElsewhere)
