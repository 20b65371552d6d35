"""Other dealers' sets, as ``knockon share`` writes them, laid into ``others/NAME/``: first beliefs, never own rows.

A set is read with the same readers as the own inbox, in a database of its own that is gone afterwards; what became of
its jobs is kept below ``.knockon/others/`` for questions between two weeks.  A set whose folder is gone is forgotten,
and one that cannot be read is named and left out.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from datetime import date
from pathlib import Path

import polars as pl

from analysis.diagnosis import PastElsewhere
from pipelines.batch.marts import build_marts, normalise
from pipelines.errors import BatchError
from pipelines.reading.layouts import LAYOUTS
from pipelines.settings import load_settings
from pipelines.storage.session import opened
from pipelines.workspace import Workspace, private_folder, week_name

FRAMES = tuple(field.name for field in fields(PastElsewhere))


@dataclass(frozen=True)
class OtherSets:
    """The past jobs of other dealers by the names of their folders, and what there is to say of their sets."""

    past: Mapping[str, PastElsewhere]
    notes: list[str]


NONE = OtherSets({}, [])


def read_sets(workspace: Workspace, as_of: date, progress: Callable[[str], None] = lambda _: None) -> OtherSets:
    """Read every set below ``others/``.

    Args:
        workspace: The dealer's folder.
        as_of: The day of the report.
        progress: Told each set's name before it is read.

    Returns:
        The sets that could be read.  What an earlier week kept of them is replaced.
    """
    kept = workspace.state / "others"
    shutil.rmtree(kept, ignore_errors=True)
    past, notes = dict[str, PastElsewhere](), list[str]()
    for folder in sorted(place for place in sets_folder(workspace).glob("*") if (place / "inbox").is_dir()):
        progress(f"others/{folder.name}")
        try:
            told = _read(workspace, folder, as_of)
        except BatchError as error:
            notes.append(f"others/{folder.name} could not be read: {error} The set was left out, all else was done.")
            continue
        past[folder.name] = told
        private_folder(kept / folder.name)
        for name in FRAMES:
            getattr(told, name).write_parquet(kept / folder.name / f"{name}.parquet")
    return OtherSets(past, notes)


def kept_sets(workspace: Workspace) -> Mapping[str, PastElsewhere]:
    """Return what the last week kept of the sets whose folders are still there."""
    folders = [place for place in (workspace.state / "others").glob("*") if sets_folder(workspace, place.name).is_dir()]
    return {
        folder.name: PastElsewhere(**{name: pl.read_parquet(folder / f"{name}.parquet") for name in FRAMES})
        for folder in sorted(folders)
        if all((folder / f"{name}.parquet").is_file() for name in FRAMES)
    }


def sets_folder(workspace: Workspace, name: str = "") -> Path:
    """Return where the sets are laid, or where one of them is."""
    return workspace.root / "others" / name


def _read(workspace: Workspace, folder: Path, as_of: date) -> PastElsewhere:
    """Read one set in a workspace of its own: the tables that a set holds, and its settings."""
    from pipelines.ingest.intake import take_in  # noqa: PLC0415 - a question between two weeks reads no set

    with workspace.scratch_folder() as scratch:
        for name in LAYOUTS:
            for file in sorted((folder / "inbox" / name).glob("*.csv")):
                (scratch / "inbox" / name).mkdir(parents=True, exist_ok=True)
                shutil.copyfile(file, scratch / "inbox" / name / file.name)
        if (folder / "knockon.toml").is_file():
            shutil.copyfile(folder / "knockon.toml", scratch / "knockon.toml")
        alone = Workspace(scratch)
        settings = load_settings(alone.settings_file)
        with opened(alone) as warehouse:
            take_in(alone, settings, warehouse, week_name(as_of, settings.week_starts), lambda _: None)
            normalise(alone, warehouse)
            return build_marts(warehouse, settings, as_of).take(PastElsewhere)
