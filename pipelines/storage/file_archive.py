"""Where files go: into the archive under a name that says what they are, or aside with the reason beside them.

``2026-11-23_november_1b0aa47b.csv``: the day it was archived, the name it came with and the first eight hex digits of
the SHA-256 of its bytes, more of them where two files would share a name.  Archives of before have the whole hash as
the name; both are found.  A file that is a link, no file at all or far too large is not even opened.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl

from pipelines.errors import InputFileError
from pipelines.reading.layouts import LAYOUTS, Layout
from pipelines.reading.mapping.mapping_file import Mapping
from pipelines.reading.recognise import read_file
from pipelines.reading.source import check_size
from pipelines.workspace import Workspace, make_private, private_folder

_LONGEST_NAME = 200
_LONGEST_STEM = 120  # bytes
_SHORTEST_PROMISE = 8  # hex digits
_BLOCK = 1 << 20  # bytes
_NAME = re.compile(r"(?:\d{4}-\d\d-\d\d_(?P<stem>.*)_(?P<some>[0-9a-f]{8,64})|(?P<all>[0-9a-f]{64}))")
_CHANGED = (
    "{place}: stood in the archive in the place of the file with the SHA-256 sum {sha256}, which came in again and "
    "took its place; this content is another. It was not read."
)


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


def hash_in_name(path: Path) -> str | None:
    """Return the digits of the hash that an archived file's name promises: 8 to 64 of them; None where it has none."""
    found = _NAME.fullmatch(path.stem)
    return found["some"] or found["all"] if found else None


def name_before(path: Path) -> str:
    """Return the name that an archived file came with, as far as its name there still says it."""
    found = _NAME.fullmatch(path.stem)
    return found["stem"] + path.suffix if found and found["stem"] else path.name


def begins_with(path: Path, length: int, sha256: str) -> bool:
    """Tell whether a file's first bytes have a hash: whether it has only grown since it was that long."""
    digest = hashlib.sha256()
    with path.open("rb") as handle:
        while length > 0 and (read := handle.read(min(length, _BLOCK))):
            digest.update(read)
            length -= len(read)
    return not length and digest.hexdigest() == sha256


def cut_back(path: Path, length: int) -> None:
    """Leave only the first bytes of a file that has grown in the archive, whoever still writes to it."""
    fresh = path.with_name(f".{path.name}.new")
    with path.open("rb") as handle, fresh.open("wb") as kept:
        while length > 0 and (read := handle.read(min(length, _BLOCK))):
            kept.write(read)
            length -= len(read)
    make_private(fresh)
    fresh.replace(path)


Archived = dict[str, list[Path]]
"""The files of an archive by the first eight digits of the hash that their names promise."""


def archived_by_hash(workspace: Workspace, layout: Layout) -> Archived:
    """List the archive of a layout once, for many files that go there."""
    found: Archived = {}
    for path in sorted((workspace.archive / layout.name).glob("*")):
        promise = hash_in_name(path)
        if promise is not None:
            found.setdefault(promise[:_SHORTEST_PROMISE], []).append(path)
    return found


def archive(workspace: Workspace, layout: Layout, path: Path, sha256: str, listed: Archived | None = None) -> Path:
    """Move a file that was taken in into the archive.

    Where a file stands there already under that hash, it takes its place and keeps its name; one whose content is
    another than its name says is set aside first.

    Args:
        workspace: The dealer's folder.
        layout: The table it belongs to.
        path: Where it is.
        sha256: Hash of its bytes.
        listed: What stands there, where that is known; the file is added.

    Returns:
        Where it is now.
    """
    folder = workspace.archive / layout.name
    private_folder(folder)
    place = archived(workspace, layout, sha256, listed)
    if place is not None and content_hash(place) != sha256:
        set_aside(workspace, layout, place, content_hash(place), _CHANGED.format(place=place.name, sha256=sha256))
    place = place or _free_name(folder, path, sha256)
    path.replace(place)
    make_private(place)
    if listed is not None:
        listed[sha256[:_SHORTEST_PROMISE]] = [*listed.get(sha256[:_SHORTEST_PROMISE], ()), place]
    return place


def _free_name(folder: Path, path: Path, sha256: str) -> Path:
    ending = path.suffix.lower() if re.fullmatch(r"\.[a-z0-9]{1,10}", path.suffix.lower()) else ""
    stem = path.name[: len(path.name) - len(ending)] if ending else path.name
    plain = re.sub(r"[^\w.-]+", "-", stem).encode()[:_LONGEST_STEM].decode(errors="ignore").strip("-.")
    for digits in (8, 16, 64):
        place = folder / f"{date.today():%Y-%m-%d}_{plain}_{sha256[:digits]}{ending}"
        if not place.exists():
            break
    return place


def archived(workspace: Workspace, layout: Layout, sha256: str, listed: Archived | None = None) -> Path | None:
    """Return the archived file whose name promises a hash, or None; where several do, one that keeps the promise.

    Args:
        workspace: The dealer's folder.
        layout: The table it belongs to.
        sha256: Hash of its bytes.
        listed: What stands in the archive, where that is known.
    """
    start = sha256[:_SHORTEST_PROMISE]
    named = [*(workspace.archive / layout.name).glob(f"*{start}*")] if listed is None else listed.get(start, [])
    found = [path for path in sorted(named) if sha256.startswith(hash_in_name(path) or "-") and path.is_file()]
    if len(found) > 1:
        return next((path for path in found if content_hash(path) == sha256), found[0])
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
    private_folder(folder)
    target = folder / (name or path.name)
    if len(os.fsencode(target.name)) > _LONGEST_NAME:
        target = folder / sha256
    if target.exists() and content_hash(target) != sha256:
        target = folder / f"{target.stem}-{sha256[:12]}{target.suffix}"
    # The reason first: a run that is cut off between the two leaves no file without one.
    target.with_name(target.name + ".why.txt").write_text(why + "\n", encoding="utf-8", newline="\n")
    path.replace(target)
    make_private(target)


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
