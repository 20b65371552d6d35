"""Where files go: into the archive under their content's hash, or aside with the reason beside them.

A file that is a link, no file at all or far too large is not even opened.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
from collections.abc import Sequence
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl

from pipelines.errors import InputFileError
from pipelines.reading.layouts import LAYOUTS, Layout
from pipelines.reading.mapping.mapping_file import Mapping
from pipelines.reading.recognise import read_file
from pipelines.reading.source import check_size
from pipelines.workspace import Workspace

_LONGEST_NAME = 200


def shown_name(layout: Layout, path: Path) -> str:
    """Return a file's name for people; what cannot be printed on one line is spelled out."""
    plain = "".join(letter if letter.isprintable() else f"\\x{ord(letter):02x}" for letter in path.name)
    return f"{layout.name}/{plain}"


def why_unread(path: Path, name: str) -> str | None:
    """Return why a file is not even opened, or None."""
    if path.is_symlink():
        return f"{name}: is a link to {os.readlink(path)}; expected a file of its own. It stays where it is, unread."
    if not path.is_file():
        return f"{name}: is no file but a device or a pipe; expected a file. It stays where it is, unread."
    try:
        check_size(path)
    except InputFileError as error:
        return f"{error} It stays where it is, unread.".replace(str(path), name)
    return None


def content_hash(path: Path) -> str:
    """Return the SHA-256 of a file's bytes in hex."""
    with path.open("rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()


def archive(workspace: Workspace, layout: Layout, path: Path, sha256: str) -> None:
    """Move a file that was taken in into the archive."""
    folder = workspace.archive / layout.name
    folder.mkdir(parents=True, exist_ok=True)
    ending = path.suffix.lower() if re.fullmatch(r"\.[a-z0-9]{1,10}", path.suffix.lower()) else ""
    path.replace(folder / (sha256 + ending))


def archived(workspace: Workspace, layout: Layout, sha256: str) -> Path | None:
    """Return where a file that was taken in is in the archive, or None where it is not."""
    found = sorted((workspace.archive / layout.name).glob(f"{sha256}*"))
    return found[0] if found else None


def set_aside(workspace: Workspace, layout: Layout, path: Path, sha256: str, why: str, *, name: str = "") -> None:
    """Move a file that was refused aside, its reason beside it.

    Args:
        workspace: The dealer's folder.
        layout: The table it was meant for.
        path: Where it is.
        sha256: Hash of its bytes.
        why: The reason, in words.
        name: The name it shall have there; "" keeps the one it has.
    """
    folder = workspace.rejected / layout.name
    folder.mkdir(parents=True, exist_ok=True)
    target = folder / (name or path.name)
    if len(os.fsencode(target.name)) > _LONGEST_NAME:
        target = folder / sha256
    if target.exists() and content_hash(target) != sha256:
        target = folder / f"{target.stem}-{sha256[:12]}{target.suffix}"
    # The reason first: a run that is cut off between the two leaves no file without one.
    target.with_name(target.name + ".why.txt").write_text(why + "\n", encoding="utf-8", newline="\n")
    path.replace(target)


def read_again(path: Path, copy: Path, layout: str, zone: ZoneInfo, mappings: Sequence[Mapping]) -> pl.DataFrame:
    """Read a file of the archive as it would be read now.

    Args:
        path: Where it is in the archive.
        copy: Where it is read: below a folder of the caller's, under the name that it came with, for a mapping may go
            by that.  The copy is gone afterwards.
        layout: The table it belongs to.
        zone: The workspace's time zone.
        mappings: Those of the workspace.

    Returns:
        Its rows.

    Raises:
        InputFileError: It cannot be read any more.
        OSError: It cannot be copied.
    """
    copy.parent.mkdir(parents=True, exist_ok=True)
    try:
        shutil.copyfile(path, copy)
        return read_file(copy, LAYOUTS[layout], zone, mappings).rows
    finally:
        copy.unlink(missing_ok=True)
