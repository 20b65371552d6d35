"""Work that can be spread over several processes, and reading as such: a file is read by itself.

Who does the pieces is handed in; the results come back in order, so they are the same whoever did them.  Loading
stays here, file by file in the usual order.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol, TypeVar
from zoneinfo import ZoneInfo

import polars as pl

from pipelines.errors import InputFileError, UnansweredError
from pipelines.habits import Habits
from pipelines.reading.layouts import LAYOUTS, Layout
from pipelines.reading.mapping.mapping_file import Mapping
from pipelines.reading.read_table import Reading
from pipelines.reading.recognise import read_file
from pipelines.storage.file_archive import content_hash

_One = TypeVar("_One")
_Other = TypeVar("_Other")
Reader = Callable[[Path, Layout, ZoneInfo, Sequence[Mapping], Habits], Reading]


class Spread(Protocol):
    """Does one piece of work on every item, somewhere, and yields the results in the items' order."""

    def __call__(self, work: Callable[[_One], _Other], items: Sequence[_One]) -> Iterator[_Other]:
        """Do it."""


@dataclass(frozen=True)
class _Job:
    """One file to read, and where its rows shall be put."""

    path: Path
    layout: str
    zone: ZoneInfo
    mappings: Sequence[Mapping]
    habits: Habits
    target: Path


@dataclass(frozen=True)
class _Read:
    """What one file held: everything but its rows, which stand in a Parquet file."""

    sha256: str
    refused: str | None = None
    waits: bool = False
    rejects: pl.DataFrame | None = None
    notes: tuple[str, ...] = ()
    rows_read: int = 0


def read_ahead(
    spread: Spread,
    files: Sequence[tuple[Layout, Path]],
    zone: ZoneInfo,
    mappings: Sequence[Mapping],
    *,
    habits: Habits,
    room: Path,
) -> Reader:
    """Have every file read, and return a reader that hands the results out.

    Args:
        spread: Who reads.
        files: The files with their layouts, in the order in which they will be asked for.
        zone: The workspace's time zone.
        mappings: Those of the workspace.
        habits: How its tables are written where they cannot tell.
        room: A folder for the rows, which every process can reach.

    Returns:
        A reader; a file that was not read ahead, or has changed since, it reads itself.
    """
    room.mkdir(parents=True, exist_ok=True)
    jobs = [
        _Job(path, layout.name, zone, mappings, habits, room / f"{number}.parquet")
        for number, (layout, path) in enumerate(files)
    ]
    results, found = iter(spread(_read_one, jobs)), dict[Path, tuple[Path, _Read]]()
    waiting = iter(jobs)

    def reader(path: Path, layout: Layout, zone: ZoneInfo, mappings: Sequence[Mapping], habits: Habits) -> Reading:
        while path not in found and (job := next(waiting, None)) is not None:
            found[job.path] = job.target, next(results)
        target, read = found.pop(path, (path, _Read("")))
        if read.sha256 != content_hash(path):
            return read_file(path, layout, zone, mappings, habits)
        if read.refused is not None or read.rejects is None:
            raise (UnansweredError if read.waits else InputFileError)(read.refused or "")
        rows = pl.read_parquet(target)
        target.unlink()
        return Reading(rows, read.rejects, list(read.notes), read.rows_read)

    return reader


def _read_one(job: _Job) -> _Read:
    """In a worker: read one file."""
    try:
        sha256 = content_hash(job.path)
        reading = read_file(job.path, LAYOUTS[job.layout], job.zone, job.mappings, job.habits)
        reading.rows.write_parquet(job.target, compression="lz4")
    except InputFileError as error:
        return _Read(sha256, refused=str(error), waits=isinstance(error, UnansweredError))
    except OSError:
        return _Read("")  # whoever asks for it tries again, and says what is wrong
    same = content_hash(job.path) == sha256
    return _Read(sha256 if same else "", None, False, reading.rejects, tuple(reading.notes), reading.rows_read)
