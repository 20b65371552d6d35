"""What to say when the disk or the database file fails: what, where, what became of the rest, how to go on.

The reason is the operating system's, or what the database's own library found,
in our words; they are the same wherever the run happened to stand.
"""

from __future__ import annotations

import errno
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pipelines.errors import DamagedError, WorkspaceError

_FULL = ("No space left", "File too large", "Disk quota", "not enough space")
_LOCKED = ("Could not set lock", "used by another process", "being used by another")
_MEMORY = ("Out of Memory", "could not allocate", "failed to allocate")
_CLOSED = ("Permission denied", "Read-only file system", "Access is denied")
# The library's words, and ours.
_DAMAGED = {
    "Could not read enough bytes": "it ends before it should",
    "not a valid DuckDB database": "it does not begin like one",
    "deserialize": "its content does not fit together",
    "Failure while replaying": "its log cannot be replayed",
    "Corrupt": "a checksum in it is wrong",
}

_NEWER = ("we can only read versions", "storage version")

_REST = "Files taken in so far stay taken in, the others wait in the inbox, and the earlier reports stand as they were."
_OF_THE_DISK = {errno.ENOSPC, errno.EFBIG, errno.EROFS, errno.EIO, *filter(None, [getattr(errno, "EDQUOT", None)])}


def database_error(path: Path, reason: str) -> WorkspaceError | None:
    """Return what to tell the user where the database met an error of the disk or the file.

    Args:
        path: The database.
        reason: The library's own words; what they mean is said in ours.

    Returns:
        The error to raise, or None where it is no error of this kind.
    """
    if any(sign in reason for sign in _LOCKED):
        words = f"{path} is in use by another program{_holder(reason)}. Close it there and run this again. "
        return WorkspaceError(words + "Nothing was run.")
    for signs, error in ((_FULL, _full), (_MEMORY, _no_memory), (_CLOSED, _closed), (_NEWER, _newer_file)):
        for sign in signs:
            if sign in reason:
                return error(path, sign)
    return next((_damaged(path, why) for sign, why in _DAMAGED.items() if sign in reason), None)


def _damaged(path: Path, why: str) -> DamagedError:
    return DamagedError(
        f"{path} is damaged or no database ({why}). It was left as it is, and so were the files of "
        "the inbox and the archive. 'knockon restore' puts the latest snapshot of backups/ in its place, keeps "
        "the damaged file beside it, and the next 'knockon weekly' takes in again what the snapshot lacks."
    )


def _newer_file(path: Path, _sign: str) -> WorkspaceError:
    return newer(path, "its file format is newer than this program's")


def newer(path: Path, why: str) -> WorkspaceError:
    """Return what to tell the user whose database was written by a newer program."""
    return WorkspaceError(
        f"{path} was written by a newer knockon ({why}). Use that one, or restore a snapshot that this program has "
        "made into another workspace. Nothing was changed."
    )


@contextmanager
def disk_errors(root: Path) -> Iterator[None]:
    """Say in words what the operating system refuses inside the block.

    Args:
        root: The workspace, named where the system names no file.

    Raises:
        WorkspaceError: In the place of an ``OSError``.
    """
    try:
        yield
    except OSError as error:
        place = Path(error.filename) if error.filename else root
        reason = error.strerror or str(error)
        if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
            raise _closed(place, reason) from error
        if is_disk_error(error):
            raise _full(place, reason) from error
        raise WorkspaceError(f"{place} could not be read or written ({reason}). {_REST} Run it again.") from error


def plain(error: Exception) -> str:
    """Return the reason of an error in a few words: the system's own where there is one, else the first line."""
    if isinstance(error, OSError) and error.strerror:
        return error.strerror
    return _first(str(error))


def is_disk_error(error: OSError) -> bool:
    """Tell whether an error will meet every file alike, because the disk is full, broken or only to be read."""
    return error.errno in _OF_THE_DISK


def _full(path: Path, reason: str) -> WorkspaceError:
    words = f"the disk is full: {path} could not be written ({_first(reason)}). {_REST} "
    return WorkspaceError(words + "Make room and run it again; it goes on where it stopped.")


def _no_memory(path: Path, _sign: str) -> WorkspaceError:
    words = f"memory ran out while the tables of {path} were made. {_REST} "
    return WorkspaceError(words + "Close other programs and run it again.")


def _closed(path: Path, reason: str) -> WorkspaceError:
    words = f"{path} may not be written ({_first(reason)}). {_REST} "
    return WorkspaceError(words + "Give your user the right to write in the workspace, and run it again.")


def _holder(reason: str) -> str:
    """Return who holds a file, as far as the library says it."""
    found = re.search(r"held in (\S+) \(PID (\d+)\)", reason)
    return f" ({Path(found[1]).name}, process {found[2]})" if found else ""


def _first(reason: str) -> str:
    return reason.splitlines()[0] if reason else "no reason given"
