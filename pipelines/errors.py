"""What can go wrong with a batch, in words that name the place.

Every message says what was found, what was wanted and what happened to the
rest.  The command line catches ``BatchError`` once and shows its text.
"""

import difflib
import errno
import re
from collections.abc import Iterable
from pathlib import Path


def shell_command(*words: str | Path) -> str:
    """Return a command of ours as the user types it: a word with blanks or signs in it is quoted."""
    quoted = (f'"{word}"' if re.search(r"[^\w./\\:~+@=,%-]", str(word)) else str(word) for word in words)
    return " ".join(["knockon", *quoted])


def near(word: str, names: Iterable[str]) -> str:
    """Return the names that look like a word, as ``near it: V0101, V0110``; blank where none does."""
    folded = {name.casefold(): name for name in names}
    found = [folded[name] for name in difflib.get_close_matches(word.casefold(), sorted(folded), n=3)]
    return f"near it: {', '.join(found)}" if found else ""


_REMEDIES = {
    errno.EACCES: "Give your user the right to it, or name a place of your own.",
    errno.EPERM: "Give your user the right to it, or name a place of your own.",
    errno.EROFS: "The disk is only to be read; name another place.",
    errno.ENOSPC: "The disk is full; make room and run it again.",
    errno.ENOENT: "It is not there.",
    errno.ENAMETOOLONG: "The name is too long; choose a shorter one.",
    errno.ENOTDIR: "A part of the path is a file; name another place.",
    errno.EISDIR: "It is a folder; name a file.",
}


def why_refused(error: OSError) -> str:
    """Return what the operating system refused, without its own wording around it: the reason, else a number."""
    return error.strerror or f"error {error.errno}"


def refused(place: str | Path, error: OSError) -> str:
    """Return the sentences that tell the user that a place could not be read or written, why, and what to do.

    Args:
        place: Where; the error's own file where it names one.
        error: What the operating system said.
    """
    remedy = _REMEDIES.get(error.errno or 0, "Run it again.")
    return f"{error.filename or place} could not be read or written ({why_refused(error)}). {remedy}"


def known_as(word: str, names: Iterable[str]) -> str:
    """Return the one known name that a word is, capitals and surrounding spaces aside; else the word as it is."""
    listed = set(names)
    found = [name for name in listed if name.strip().casefold() == word.strip().casefold()]
    return found[0] if word not in listed and len(found) == 1 else word


def plain_name(text: str) -> str:
    """Return the letters and digits of a name, in capitals: the plates ``LT 44 RKM`` and ``lt44-rkm`` are one."""
    return "".join(sign for sign in text.upper() if sign.isalnum())


class BatchError(Exception):
    """Something the user can mend: the root of every error that knockon raises on purpose."""


class InputFileError(BatchError):
    """A file could not be read at all; the other files go on."""


class UnansweredError(InputFileError):
    """Nothing in a file can decide how it is meant; it waits until the one line that is named answers it."""


class SettingsError(BatchError):
    """A line of ``knockon.toml`` does not mean what it should."""


class WorkspaceError(BatchError):
    """The folder is no workspace, or another run is using it."""


class BusyError(WorkspaceError):
    """Another run of ours holds the workspace."""


class DamagedError(WorkspaceError):
    """The database file is damaged, or no database at all."""


class ModelError(BatchError):
    """A SQL model broke its own contract: header, order or grain."""


class EngineError(BatchError):
    """The orchestration engine could not start; the plain engine can take over."""
