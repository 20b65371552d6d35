"""A folder takes the place of an older one as one act: made beside it, renamed at the end, tidied after a cut."""

from __future__ import annotations

import os
import shutil
from pathlib import Path


def beside(folder: Path) -> tuple[Path, Path]:
    """Return where a new report is made, and where the older one waits while the new one takes its place."""
    return folder.with_name(f".{folder.name}.new"), folder.with_name(f".{folder.name}.old")


def recover(folder: Path) -> None:
    """Clear what a run that was cut short has left of a report; an older report moved aside comes back."""
    fresh, aside = beside(folder)
    if aside.exists() and not folder.exists():
        os.replace(aside, folder)
    for left in (fresh, aside):
        if left.exists():
            shutil.rmtree(left)


def swap(folder: Path, fresh: Path, aside: Path) -> None:
    """Put a finished folder in the place of an older one.

    Args:
        folder: The place.
        fresh: The finished folder; it is renamed as the last act.
        aside: Where the older one waits meanwhile; the caller removes it.

    Raises:
        OSError: A rename was refused; the older folder is back in its place.
    """
    if folder.exists():
        os.replace(folder, aside)
    try:
        os.replace(fresh, folder)
    except OSError:
        if aside.exists():
            os.replace(aside, folder)
        raise
