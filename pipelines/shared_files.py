"""What takes long to make, is the same for every workspace and says nothing of a dealer: made once for a user.

The script that draws the page's charts is: it comes from the libraries alone.  It stands where the system keeps such
files; without it all goes on, some seconds slower.
"""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
from contextlib import suppress
from pathlib import Path

from pipelines.workspace import private_folder

FOLDER = "KNOCKON_SHARED_FILES"
"""An environment variable that names another folder."""


def shared_folder() -> Path | None:
    """Return the folder, which need not be there; None where the system does not know where the user lives.

    Source:
        XDG Base Directory Specification 0.8 (``XDG_CACHE_HOME``, of which only a full path counts); on Windows and
        macOS the folders that the systems' own guides name for files that can be made again.
    """
    home = Path(os.path.expanduser("~"))
    folder = Path(os.environ.get("XDG_CACHE_HOME", ""))
    if not folder.is_absolute():
        folder = home / ".cache"
    if sys.platform == "win32":
        folder = Path(os.environ.get("LOCALAPPDATA", home / "AppData" / "Local"))
    elif sys.platform == "darwin":
        folder = home / "Library" / "Caches"
    folder = Path(os.environ.get(FOLDER, folder / "knockon"))
    return folder if folder.is_absolute() else None


def shared_file(name: str) -> bytes | None:
    """Return a file's content; None where it is not there, or not whole."""
    folder = shared_folder()
    if folder is not None:
        with suppress(OSError):
            mark, _, content = (folder / name).read_bytes().partition(b"\n")
            if mark == _mark(content):
                return content
    return None


def share_file(name: str, content: bytes) -> None:
    """Keep a file for the next workspace, whole or not at all; where nothing can be written nothing is."""
    folder = shared_folder()
    if folder is None:
        return
    with suppress(OSError):
        private_folder(folder)
        handle, fresh = tempfile.mkstemp(prefix=name, suffix=".new", dir=folder)
        with os.fdopen(handle, "wb") as file:
            file.write(_mark(content) + b"\n" + content)
        os.replace(fresh, folder / name)


def _mark(content: bytes) -> bytes:
    return hashlib.sha256(content).hexdigest().encode()
