"""The bytes of a file as text, or why they cannot be: too large, binary, or another encoding than was promised.

A file that is too large is refused by its size alone, before a byte of it is read.
"""

from __future__ import annotations

import codecs
import re
from pathlib import Path
from typing import Literal, get_args

from pipelines.errors import InputFileError

LARGEST_FILE = 512 * 2**20
Encoding = Literal[
    "utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "cp1250", "cp1251", "cp850", "cp852"
]
ENCODINGS: tuple[str, ...] = get_args(Encoding)
_UTF16_MARKS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_MEGABYTE = 2**20
# In Windows-1250: l with stroke, a with ogonek, z with dot; in Windows-1252 signs that stand between no two letters.
_CENTRAL = re.compile(rb"[A-Za-z][\xb3\xb9\xbf][A-Za-z\x80-\xff]")
# In Windows-1252 an o with stroke (Danish) beside an i or u with grave (Italian), or two letters of Portuguese and
# French; in Windows-1250 two letters of Czech, or of Hungarian.
_NEVER_TOGETHER = ((b"\xf8", b"\xec"), (b"\xf8", b"\xf9"), (b"\xf8", b"\xe8"), (b"\xf5", b"\xfb"))
# Letters of the code pages of printers and consoles; in the Windows ones signs that stand between no two letters.
_OF_DOS = re.compile(
    rb"(?<=[A-Za-z])[\x81\x82\x84-\x88\x8b\x90\x93-\x95\x98\x99\x9b\xa1-\xa5\xa9\xab\xbe](?=[A-Za-z\x80-\xff])"
)
_OF_WINDOWS = re.compile(rb"(?<=[A-Za-z])[\xc0-\xff](?=[A-Za-z])")
_CENTRAL_OF_DOS = re.compile(rb"[A-Za-z\x80-\xff][\xa5\xa9\x98\xab\xbe](?:[A-Za-z]|[\x86\x88\xa2\xe4])")
_HALF = re.compile("[\ud800-\udfff]")


def read_bytes(path: Path, largest: int = LARGEST_FILE) -> bytes:
    """Return a file's bytes.

    Args:
        path: The file.
        largest: Most bytes it may have.

    Raises:
        InputFileError: It has more.
        OSError: It cannot be opened.
    """
    check_size(path, largest)
    return path.read_bytes()


def check_size(path: Path, largest: int = LARGEST_FILE) -> None:
    """Refuse a file of more than ``largest`` bytes without reading it.

    Raises:
        InputFileError: It has more.
        OSError: It cannot be looked at.
    """
    size = path.stat().st_size
    if size > largest:
        raise InputFileError(
            f"{path}: the file has {size / _MEGABYTE:.0f} MB; expected at most {largest // _MEGABYTE} MB. "
            "Split it. The file was not loaded."
        )


def read_text(path: Path, encoding: str = "utf-8") -> str:
    """Return a file's text with plain line ends and without a byte-order mark.

    Args:
        path: The file.
        encoding: One of ``ENCODINGS``.

    Raises:
        InputFileError: The file is empty or too large, is no text, or is text of another encoding.
        OSError: It cannot be opened.
    """
    return _decoded(path, read_bytes(path), encoding)


def _decoded(path: Path, content: bytes, encoding: str) -> str:
    if not content or content.isspace():
        raise InputFileError(f"{path}: the file is empty; expected a header line. The file was not loaded.")
    if encoding.startswith("utf-16"):
        text = _decode_utf16(path, content, encoding)
    else:
        text = _decode_bytewise(path, content, encoding)
    if "\0" in text:
        raise InputFileError(f"{path}: the content is binary; expected text. The file was not loaded.")
    return text.replace("\r\n", "\n").replace("\r", "\n") if "\r" in text else text


def read_any_text(path: Path) -> tuple[str, str]:
    """Return a file's text as ``read_text`` does, in the encoding that its bytes seem to have, and that encoding.

    Raises:
        InputFileError: The file is empty or too large, or is no text.
        OSError: It cannot be opened.
    """
    content = read_bytes(path)
    encoding = encoding_of(content)
    return _decoded(path, content, encoding), encoding


def encoding_of(content: bytes) -> str:
    """Return the encoding that a file's bytes seem to have; where they are no UTF-8, the likeliest code page.

    Bytes above 7F stand in rows in Cyrillic words and one by one in words of Latin letters.  What Windows-1250 has for
    some Polish letters are signs in Windows-1252 (their code charts), and what the pages of printers and consoles (850,
    852) have for most letters with accents are signs in those of Windows, that stand between no two letters.
    """
    if looks_like_utf16(content):
        marked, start = content[:2] in _UTF16_MARKS, content[:4096]
        return "utf-16" if marked or start[1::2].count(0) > start[0::2].count(0) else "utf-16-be"
    if b"\0" in content:
        return "utf-8"  # it is no text at all, and reading it says so
    try:
        content.decode("utf-8")
    except UnicodeDecodeError:
        pass
    else:
        return "utf-8"
    return _page_of(content)


def _page_of(content: bytes) -> str:
    """Return the likeliest code page of bytes that are no UTF-8."""
    high = re.findall(rb"[\x80-\xff]+", content)
    if sum(len(run) for run in high if len(run) > 2) > 0.5 * sum(map(len, high)):
        return "cp1251"
    if len(_OF_DOS.findall(content)) > len(_OF_WINDOWS.findall(content)):
        return "cp852" if _CENTRAL_OF_DOS.search(content) else "cp850"
    if _CENTRAL.search(content) or any(all(sign in content for sign in signs) for signs in _NEVER_TOGETHER):
        return "cp1250"
    return "cp1252"


_NAMES = {
    **{page: page.replace("cp", "Windows-") for page in ENCODINGS if page.startswith("cp125")},
    **{page: page.replace("cp", "code page ") for page in ENCODINGS if page.startswith("cp8")},
}


def _decode_bytewise(path: Path, content: bytes, encoding: str) -> str:
    named = _NAMES.get(encoding, "UTF-8")
    if looks_like_utf16(content):
        raise InputFileError(f"{path}: the text is UTF-16; expected {named}. The file was not loaded.")
    if b"\0" in content or content.startswith(b"PK\x03\x04"):
        raise InputFileError(f"{path}: the content is binary; expected {named} text. The file was not loaded.")
    try:
        return content.decode("utf-8-sig" if named == "UTF-8" else encoding)
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        byte = content[error.start]
        raise InputFileError(
            f"{path} line {line}: found the byte 0x{byte:02X}, which is no {named} text; expected {named}. "
            "The file was not loaded."
        ) from error


def _decode_utf16(path: Path, content: bytes, encoding: str) -> str:
    """Decode with the byte order of the mark, else the one that was named, else little-endian."""
    order = encoding if encoding != "utf-16" else "utf-16-le"
    if content[:2] in _UTF16_MARKS:
        order, content = "utf-16-le" if content[:2] == codecs.BOM_UTF16_LE else "utf-16-be", content[2:]
    try:
        return content.decode(order)
    except UnicodeDecodeError as error:
        line = content[: error.start].decode(order, errors="replace").count("\n") + 1
        raise InputFileError(
            f"{path} line {line}: found bytes that are no UTF-16 text; expected UTF-16. The file was not loaded."
        ) from error


def looks_like_utf16(content: bytes) -> bool:
    """Say whether bytes begin with a UTF-16 mark, or hold plain text with a zero in every second byte."""
    if content[:2] in _UTF16_MARKS:
        return True
    start = content[:4096]
    pairs = len(start) // 2
    return pairs > 1 and any(
        start[odd::2].count(0) > 0.9 * pairs and start[1 - odd :: 2].count(0) == 0 for odd in (0, 1)
    )


def is_whole(text: str) -> bool:
    """Say whether a text holds whole characters only; JSON can spell half of one, which no table can keep."""
    return text.isascii() or not _HALF.search(text)
