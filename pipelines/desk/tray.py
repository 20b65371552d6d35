"""Files that were dropped and are not taken in yet: each kept under the hash of its content, with what was said of it.

What comes from the browser is streamed into a working file and counted on the way; only a whole file is put on the
tray.  The name that the browser gives is shown to people and decides how a file ends; no path is made of it.  The tray
outlives the desk: whoever starts it again finds there what was dropped and answered.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
from collections.abc import AsyncIterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePosixPath

from pipelines.errors import BatchError
from pipelines.file_names import sheet_names
from pipelines.reading.source import LARGEST_FILE
from pipelines.workspace import Workspace, private_folder

MOST_BYTES = LARGEST_FILE
"""Bytes of one file that are taken: the readers open no larger one."""
MOST_FILES = 200
"""Files on the tray: more than a year's exports of a small dealer; each is read whenever the page is shown."""
MARK = 32
"""Hex digits of its content's hash by which a file is known on the tray."""
_ROOM = 64 * 2**20  # bytes that stay free on the disk
_ABOUT = "about.json"
_ID = re.compile(r"[0-9a-f]{32}")
_ENDING = re.compile(r"\.[a-z0-9]{1,8}")
_LONGEST_SHOWN = 120


class TooLargeError(BatchError):
    """More bytes came than are taken."""


@dataclass(frozen=True, kw_only=True)
class Waiting:
    """One file on the tray.

    Attributes:
        mark: The first 32 hex digits of the SHA-256 of its content.
        path: Where it is.
        name: What its owner calls it, for people.
        table: The table that it was said to belong to; None: what it holds decides.
        asked: It is read by a mapping that is drafted question by question.
        answers: What was answered, by the key of each question.
        before: What was answered while it was said to belong to another table, by that table: whoever goes back finds
            it again.
        cars: The stock number of each car that the file calls otherwise.
        taken: The mark of the file of which the answer to a question was taken, by the key of the question.
        again: The name under which the same content lay there already, where it was dropped a second time.
    """

    mark: str
    path: Path
    name: str
    table: str | None = None
    asked: bool = False
    answers: Mapping[str, str] = field(default_factory=dict)
    before: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    cars: Mapping[str, str] = field(default_factory=dict)
    taken: Mapping[str, str] = field(default_factory=dict)
    again: str = ""


class Tray:
    """The files of one folder that wait for their owner's word."""

    def __init__(self, workspace: Workspace, name: str = "tray") -> None:
        """Name a tray; nothing is made yet.

        Args:
            workspace: The dealer's folder.
            name: Its folder below ``.knockon/desk``.
        """
        self._workspace = workspace
        self.folder = workspace.state / "desk" / name

    def files(self) -> list[Waiting]:
        """Return the files, by name; what is not whole is passed over."""
        found = [self._open(folder) for folder in sorted(self.folder.glob("*")) if _ID.fullmatch(folder.name)]
        return sorted(filter(None, found), key=lambda file: (file.name.casefold(), file.mark))

    def get(self, mark: str) -> Waiting:
        """Return one file.

        Raises:
            BatchError: There is none of that mark.
        """
        file = self._open(self.folder / mark) if _ID.fullmatch(mark) else None
        if file is None:
            raise BatchError("That file is not on the tray any more. Nothing was changed.")
        return file

    async def put(self, name: str, content: AsyncIterator[bytes], announced: int | None) -> Waiting:
        """Take a file from the browser.

        Args:
            name: What its owner calls it.
            content: Its bytes, piece by piece.
            announced: How many bytes were said to come.

        Raises:
            TooLargeError: There are more bytes than are taken, or than the disk has room for; nothing is kept.
            BatchError: The tray is full, the file is empty, or not all of it came.
        """
        _check_name(name)
        if len(list(self.folder.glob("*"))) >= MOST_FILES:
            raise BatchError(f"There are {MOST_FILES} files here already; take them in first. Nothing was kept.")
        self._check(announced or 0)
        with self._workspace.scratch_folder() as scratch:
            fresh, digest, length = scratch / "content", hashlib.sha256(), 0
            with fresh.open("wb") as handle:
                async for piece in content:
                    length += len(piece)
                    self._check(length)
                    digest.update(piece)
                    handle.write(piece)
                handle.flush()
                os.fsync(handle.fileno())
            if not length:
                raise BatchError(f"{shown(name)} is empty. Nothing was kept.")
            if announced is not None and announced != length:
                raise BatchError(f"Not all of {shown(name)} came. Nothing was kept.")
            return self._keep(fresh, digest.hexdigest()[:MARK], name)

    def say(self, file: Waiting) -> None:
        """Write down what was said of a file."""
        about: dict[str, object] = {
            "name": file.name,
            "table": file.table,
            "asked": file.asked,
            "answers": dict(file.answers),
        }
        about["cars"], about["taken"] = dict(file.cars), dict(file.taken)
        about["before"] = {table: dict(answers) for table, answers in file.before.items()}
        fresh = self.folder / file.mark / f".{_ABOUT}.new"
        fresh.write_text(json.dumps(about), encoding="utf-8")
        fresh.replace(self.folder / file.mark / _ABOUT)

    def rename(self, file: Waiting, name: str) -> Waiting:
        """Call a file otherwise, its ending kept; a file's name may tell its car or its day.

        Raises:
            BatchError: That is no name of a file.
        """
        ending = file.path.suffix
        name = name if name.lower().endswith(ending) else name + ending
        _check_name(name)
        called = replace(file, name=shown(name), path=file.path.with_name(safe_name(name)))
        file.path.replace(called.path)
        self.say(called)
        return called

    def drop(self, file: Waiting) -> None:
        """Take a file off the tray."""
        shutil.rmtree(self.folder / file.mark, ignore_errors=True)

    def clear(self) -> None:
        """Take all files off the tray."""
        shutil.rmtree(self.folder, ignore_errors=True)

    def _check(self, length: int) -> None:
        if length > MOST_BYTES:
            raise TooLargeError(f"A file may have at most {MOST_BYTES // 2**20} MB; split it. Nothing of it was kept.")
        if length and shutil.disk_usage(self._workspace.root).free < _ROOM:
            raise TooLargeError("The disk is nearly full; make room first. Nothing of the file was kept.")

    def _keep(self, fresh: Path, mark: str, name: str) -> Waiting:
        folder = self.folder / mark
        known = self._open(folder)
        if known is not None:
            called = known if known.name == shown(name) else self.rename(known, name)
            return replace(called, again=known.name)
        shutil.rmtree(folder, ignore_errors=True)
        private_folder(folder)
        file = Waiting(mark=mark, path=folder / safe_name(name), name=shown(name))
        fresh.replace(file.path)
        self.say(file)  # last: a folder without it is not whole
        return file

    def _open(self, folder: Path) -> Waiting | None:
        try:
            about = json.loads((folder / _ABOUT).read_text(encoding="utf-8"))
            name, answers = str(about["name"]), {str(key): str(value) for key, value in about["answers"].items()}
            cars = {str(key): str(value) for key, value in about.get("cars", {}).items()}
            taken = {str(key): str(value) for key, value in about.get("taken", {}).items()}
            table = None if about["table"] is None else str(about["table"])
            before = {
                str(key): {str(one): str(text) for one, text in told.items()}
                for key, told in about.get("before", {}).items()
            }
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            return None
        path = folder / safe_name(name)
        file = Waiting(mark=folder.name, path=path, name=name, table=table, answers=answers, before=before, cars=cars)
        return replace(file, asked=bool(about.get("asked")), taken=taken) if path.is_file() else None


def _check_name(name: str) -> None:
    if not name or shown(name) != name or name.startswith("."):
        raise BatchError("That is no name of a file. Nothing was kept.")


def shown(name: str) -> str:
    """Return a name as people see it: its last part, on one line, not too long."""
    last = PurePosixPath(name.replace("\\", "/")).name
    plain = "".join(letter if letter.isprintable() else "_" for letter in last).strip()
    if len(plain) <= _LONGEST_SHOWN:
        return plain or "file"
    return plain[: _LONGEST_SHOWN - 10] + plain[-10:]


def safe_name(name: str) -> str:
    """Return a name for a file: letters, digits and ``._-`` alone, no device's name, the ending it came with."""
    stem, dot, ending = shown(name).rpartition(".")
    if not dot or not stem or not _ENDING.fullmatch(f".{ending.lower()}"):
        stem, ending = shown(name), ""
    stem = stem.replace(".", "_")
    return sheet_names([stem])[stem] + (f".{ending.lower()}" if ending else "")
