"""Files packed into one: the members of a zip, with a limit on what they unpack to."""

from __future__ import annotations

import io
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from pipelines.errors import InputFileError
from pipelines.library_words import in_our_words
from pipelines.reading.source import read_bytes

LARGEST_UNPACKED = 256 * 2**20
_MOST_MEMBERS = 20_000
_DAMAGE = (zipfile.BadZipFile, ValueError, OSError, NotImplementedError, RuntimeError, EOFError, zlib.error)
_ZIP, _WORKBOOKS, _WORKBOOK_ENDS = b"PK\x03\x04", ("[Content_Types].xml", "content.xml"), (".xlsx", ".xlsm", ".ods")


def is_packed(path: Path) -> bool:
    """Say whether a file is a zip of other files, and not a workbook, which is a zip too.

    Raises:
        OSError: It cannot be opened.
    """
    with path.open("rb") as handle:
        if path.suffix.lower() in _WORKBOOK_ENDS or handle.read(4) != _ZIP:
            return False
    try:
        with zipfile.ZipFile(path) as packed:
            return not {*_WORKBOOKS} & {*packed.namelist()}
    except _DAMAGE:
        return False


@contextmanager
def unpacked(path: Path) -> Iterator[list[tuple[str, Path]]]:
    """Unpack a zip into a folder of its own, for a while; a file inside it is named by its number, never by its name.

    Returns:
        Each member's name, and where it lies; folders, hidden files and what is empty left out.

    Raises:
        InputFileError: It is damaged, locked, or unpacks to too much.
        OSError: It cannot be opened.
    """
    content = read_bytes(path)
    with TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        found: list[tuple[str, Path]] = []
        try:
            with zipfile.ZipFile(io.BytesIO(content)) as packed:
                parts = [part for part in packed.infolist() if not part.is_dir() and part.file_size]
                size = sum(part.file_size for part in parts)
                if size > LARGEST_UNPACKED or len(parts) > _MOST_MEMBERS:
                    raise InputFileError(
                        f"{path}: it unpacks to {len(parts)} files and {size / 2**20:.0f} MB; expected at most "
                        f"{_MOST_MEMBERS} files and {LARGEST_UNPACKED // 2**20} MB. The file was not loaded."
                    )
                for number, part in enumerate(sorted(parts, key=lambda part: part.filename)):
                    name = part.filename.rsplit("/", 1)[-1]
                    if name.startswith(".") or "__MACOSX" in part.filename:
                        continue
                    target = Path(folder) / f"{number}{Path(name).suffix[:10] if name.isascii() else ''}"
                    # No part can unpack to more than the directory says: reading stops there.
                    target.write_bytes(packed.read(part))
                    found.append((part.filename, target))
        except _DAMAGE as error:
            raise InputFileError(
                f"{path}: it cannot be unpacked ({in_our_words(error)}); expected a whole zip without a "
                "password. The file was not loaded."
            ) from error
        yield found
