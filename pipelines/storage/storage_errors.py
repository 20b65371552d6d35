"""What to say when the disk or the database file fails: what, where, what became of the rest, how to go on.

The reason comes from the operating system or the database's own library; the
words around it are the same wherever the run happened to stand.
"""

from __future__ import annotations

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pipelines.errors import DamagedError, WorkspaceError

_FULL = ("No space left", "File too large", "Disk quota", "not enough space")
_LOCKED = ("Could not set lock", "used by another process", "being used by another")
_MEMORY = ("Out of Memory", "could not allocate", "failed to allocate")
_CLOSED = ("Permission denied", "Read-only file system", "Access is denied")
_DAMAGED = (
    "Corrupt",
    "Could not read enough bytes",
    "not a valid DuckDB database",
    "deserialize",
    "Failure while replaying",
)

_NEWER = ("we can only read versions", "storage version")

_REST = "Files taken in so far stay taken in, the others wait in the inbox, and the earlier reports stand as they were."
_OF_THE_DISK = {errno.ENOSPC, errno.EFBIG, errno.EROFS, errno.EIO, *filter(None, [getattr(errno, "EDQUOT", None)])}


def database_error(path: Path, reason: str) -> WorkspaceError | None:
    """Return what to tell the user where the database met an error of the disk or the file.

    Args:
        path: The database.
        reason: The library's own words; the first line is repeated.

    Returns:
        The error to raise, or None where it is no error of this kind.
    """
    if any(sign in reason for sign in _LOCKED):
        words = f"{path} is in use by another program ({_first(reason)}). Close it there and run this again. "
        return WorkspaceError(words + "Nothing was run.")
    if any(sign in reason for sign in _FULL):
        return _full(path, reason)
    for signs, error in ((_MEMORY, _no_memory), (_CLOSED, _closed), (_NEWER, newer)):
        if any(sign in reason for sign in signs):
            return error(path, _first(reason))
    if any(sign in reason for sign in _DAMAGED):
        return DamagedError(
            f"{path} is damaged or no database ({_first(reason)}). It was left as it is, and so were the files of "
            "the inbox and the archive. 'knockon restore' puts the latest snapshot of backups/ in its place, keeps "
            "the damaged file beside it, and the next 'knockon weekly' takes in again what the snapshot lacks."
        )
    return None


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


def _no_memory(path: Path, reason: str) -> WorkspaceError:
    words = f"memory ran out while the tables of {path} were made ({_first(reason)}). {_REST} "
    return WorkspaceError(words + "Close other programs and run it again.")


def _closed(path: Path, reason: str) -> WorkspaceError:
    words = f"{path} may not be written ({_first(reason)}). {_REST} "
    return WorkspaceError(words + "Give your user the right to write in the workspace, and run it again.")


def _first(reason: str) -> str:
    return reason.splitlines()[0] if reason else "no reason given"
