"""Letters that hold a report: a text document (Office Open XML) or a mail, as the page or text that they print.

A document becomes a page of its paragraphs and tables; of a mail the first text counts, else its page.
What hangs on a mail is not read, and said so where the mail itself holds no code.
"""

from __future__ import annotations

import email
import email.policy
import html
import io
import re
import zipfile
from pathlib import Path
from xml.parsers import expat

from pipelines.errors import InputFileError
from pipelines.library_words import in_our_words
from pipelines.reading.account import codes_in
from pipelines.reading.mapping.packed_xml import feed
from pipelines.reading.source import read_bytes

_LARGEST = 64 * 2**20
_DOCUMENT = "word/document.xml"
_MAIL = re.compile(rb"(?:[A-Za-z][A-Za-z-]{1,40}: [^\n]*\n(?:[ \t][^\n]*\n)*){2,}")
_MAIL_HEADS = re.compile(rb"(?im)^(from|to|subject|date|mime-version|content-type|received|message-id): ")
_FEWEST_HEADS = 3
_OLD = b"\xd0\xcf\x11\xe0"


def letter_text(path: Path) -> str | None:
    """Return the text or page of a document or a mail; None where the file is neither.

    Raises:
        InputFileError: It is damaged or too large, has nothing but what hangs on it, or is of an old kind that nothing
            here reads.
        OSError: It cannot be opened.
    """
    with path.open("rb") as handle:
        start = handle.read(4096)
    if start.startswith(_OLD):
        raise InputFileError(
            f"{path}: it is an office file of the old kind (.xls, .doc, .msg); expected it saved anew as .xlsx, .docx "
            "or .csv. The file was not loaded."
        )
    if start.startswith(b"{\\rtf"):
        raise InputFileError(
            f"{path}: it is rich text (.rtf); expected it saved as .docx or .txt. The file was not loaded."
        )
    if start.startswith(b"PK\x03\x04"):
        return _document(path)
    head = _MAIL.match(start.replace(b"\r\n", b"\n"))
    names = {name.lower() for name in _MAIL_HEADS.findall(head[0])} if head else set()
    return _mail(path) if b"from" in names and len(names) >= _FEWEST_HEADS else None


def _document(path: Path) -> str | None:
    try:
        with zipfile.ZipFile(io.BytesIO(read_bytes(path))) as packed:
            if _DOCUMENT not in packed.namelist():
                return None
            if packed.getinfo(_DOCUMENT).file_size > _LARGEST:
                raise ValueError(f"more than {_LARGEST // 2**20} MB")
            page = _Page()
            feed(packed.read(_DOCUMENT), page)
    except zipfile.BadZipFile:
        return None  # what it should be, the reader of that says
    except (ValueError, NotImplementedError, RuntimeError, EOFError, expat.ExpatError) as error:
        raise InputFileError(
            f"{path}: it cannot be read as a document ({in_our_words(error)}). The file was not loaded."
        ) from error
    return f"<html><body>{''.join(page.made)}</body></html>"


class _Page:
    """Makes a page of a document while the parser goes through it."""

    def __init__(self) -> None:
        self.made: list[str] = []
        self._in_text = False

    def start(self, tag: str, _: dict[str, str]) -> None:
        """Begin an element."""
        name = tag.rpartition(" ")[2]
        self._in_text = name == "t"
        self.made.append(_BEGIN.get(name, ""))

    def text(self, piece: str) -> None:
        """Take a text."""
        if self._in_text:
            self.made.append(html.escape(piece))

    def end(self, tag: str) -> None:
        """End an element."""
        self._in_text = False
        self.made.append(_END.get(tag.rpartition(" ")[2], ""))


_BEGIN = {"p": "<p>", "tbl": "<table>", "tr": "<tr>", "tc": "<td>", "br": "<br>", "tab": "    "}
_END = {"p": "</p>", "tbl": "</table>", "tr": "</tr>", "tc": "</td>"}


def _mail(path: Path) -> str:
    letter = email.message_from_bytes(read_bytes(path), policy=email.policy.default)
    try:
        body = letter.get_body(preferencelist=("plain", "html"))
        text = body.get_content() if body is not None else ""
        page = letter.get_body(preferencelist=("html",))
        if page is not None and not codes_in([text]):
            text = page.get_content()
        hanging = [part.get_filename() or "a file" for part in letter.iter_attachments()]
    except (LookupError, ValueError, AttributeError, TypeError, KeyError) as error:
        raise InputFileError(
            f"{path}: the mail cannot be read ({in_our_words(error)}). The file was not loaded."
        ) from error
    if hanging and not codes_in([text]):
        raise InputFileError(
            f"{path}: it is a mail, and {', '.join(hanging)[:200]} hangs on it; expected that saved as a file of its "
            "own. The file was not loaded."
        )
    if not text.strip():
        raise InputFileError(f"{path}: the mail holds no text. The file was not loaded.")
    return text.replace("\r\n", "\n")
