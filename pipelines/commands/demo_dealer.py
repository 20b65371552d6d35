"""The demo dealer: an invented one, so that the first run shows something.

The files ship with the program; here they are copied into a folder of the
user's, which then is a workspace like any other.
"""

from __future__ import annotations

import shutil
from importlib.resources import as_file, files
from importlib.resources.abc import Traversable
from pathlib import Path

from pipelines.errors import WorkspaceError, refused

_ELSEWHERE = "'knockon demo FOLDER' lays the demo out elsewhere."
_MARK = Path(".knockon") / "demo"


def lay_out_demo(folder: Path) -> None:
    """Copy the demo dealer into ``folder``.

    Args:
        folder: A new or empty folder, or one that holds the demo already.

    Raises:
        WorkspaceError: The folder holds something else, or the demo did not ship with this installation.
    """
    try:
        used = folder.exists() and not (folder / _MARK).is_file() and (not folder.is_dir() or any(folder.iterdir()))
    except OSError as error:
        raise WorkspaceError(f"{refused(folder, error)} {_ELSEWHERE}") from error
    if used:
        raise WorkspaceError(f"{folder} is in use: the demo wants a new or empty folder. Nothing was written.")
    shipped: Traversable = files("pipelines") / "demo"
    if not shipped.is_dir():
        shipped = Path(__file__).resolve().parents[2] / "fixtures" / "demo"
    if not shipped.is_dir():
        raise WorkspaceError("the demo dealer's files are missing from this installation. Nothing was written.")
    try:
        (folder / _MARK).parent.mkdir(parents=True, exist_ok=True)
        (folder / _MARK).write_text("laid out by 'knockon demo'\n", encoding="utf-8")
        with as_file(shipped) as source:
            shutil.copytree(source, folder, dirs_exist_ok=True)
    except shutil.Error as error:
        raise WorkspaceError(f"{error.args[0][0][1]} could not be written. {_ELSEWHERE}") from error
    except OSError as error:
        raise WorkspaceError(f"{refused(folder, error)} {_ELSEWHERE}") from error
