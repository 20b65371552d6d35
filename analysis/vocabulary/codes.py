"""What a fault code says by itself: who defined it, and what its failure type and status add.

A code such as P0301 is two bytes written as a letter, a digit from 0 to 3 and
three hex digits (SAE J2012, the same as ISO 15031-6).  Makers also have bare
numbers of their own, and trucks name a number and a failure mode (SAE J1939).
Each spelling is read once; a text that is no code is refused with its reason,
never mended by guessing.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Literal

from analysis.vocabulary.misreadings import is_a_word, is_a_year, why_no_code

Control = Literal["standard", "maker", "reserved"]
Kind = Literal["standard", "maker", "reserved", "numeric", "none"]

_LETTERS = "PCBU"
_SHORT = re.compile(r"[PCBU][0-3][0-9A-F]{3}")
_J2012 = re.compile(r"([PCBU])[\s-]?([0-3][0-9A-F]{3})(?:(?:\s?[:_/-]\s?|\s)?([0-9A-F]{2}))?")
# A text that starts with B or C could be half a J2012 code, so makers' hex numbers start with another digit.
_NUMERIC = re.compile(r"[0-9ADEF][0-9A-F]{3,5}(?:-[0-9A-F]{2,3})?")
# Behind 0x it is a number and cannot be half of anything: two bytes are a J2012 code, more only the maker can read.
_HEX_NUMBER = re.compile(r"0X([0-9A-F]{4,6})")
_TWO_BYTES = 4
# A code with its wording behind it, as most exports print it: a mark or a space, then text with a word in it.
_BEFORE_TEXT = re.compile(
    r"(?P<code>[PCBU][\s-]?[0-3][0-9A-F]{3}(?:[:_/-]?[0-9A-F]{2}(?![0-9A-Z])|\s[:_/-]\s[0-9A-F]{2}(?=\s?[:,;|/-]\s))?"
    r"|SPN[\s:=#-]*[0-9]{1,6}[\s,;/-]*FMI[\s:=#-]*[0-9]{1,2}"
    r"|(?:0X)?[0-9][0-9A-F]{3,5}(?=\s?[:,;|(]|\s-)"
    # A maker's number of five digits needs no mark before its words: longer and shorter ones count other things too.
    r"|[0-9]{5}(?=\s+[^\W\d_]))"
    r"(?:\s?[:,;|]\s?|\s[-/]\s?|\s?(?=\()|\s)\s*(?P<text>.*[^\W\d_]{3}.*)",
    re.DOTALL | re.IGNORECASE,
)
_ANY_CODE = re.compile(r"(?<![0-9A-Z])[PCBU][0-3][0-9A-F]{3}(?![0-9A-Z])", re.IGNORECASE)
_J1939 = re.compile(r"SPN[\s:=#-]*([0-9]{1,6})(?:[\s,;/-]*FMI[\s:=#-]*|[\s,;/-]+)([0-9]{1,2})")
_HEX_BYTE = re.compile(r"[0-9A-F]{2}")
_DASHES = dict.fromkeys(map(ord, "\u2010\u2011\u2012\u2013\u2014\u2212"), "-")
_MAKER_SPN = 520_192
_LAST_SPN, _LAST_FMI = 524_287, 31


@dataclass(frozen=True)
class CodeReading:
    """What one spelling of a code means.

    Attributes:
        short: The code in its one spelling (``P0301``, ``00532``, ``SPN110/3``), or None where there is none.
        failure_type: Two hex digits beside the code, or None.
        kind: Who defined it; ``numeric`` is a bare number, ``none`` says that no code was meant or none was found.
        why: Why the text is no code, or None where it is one or is mere padding.
        note: What did not fit but was decided, or None.
        text: The wording that stood behind the code in the same cell, as it is written, or None.
    """

    short: str | None
    failure_type: str | None
    kind: Kind
    why: str | None = None
    note: str | None = None
    text: str | None = None

    @property
    def value(self) -> str | None:
        """What two writings of one code have in common: a bare number without its leading zeros."""
        if self.kind != "numeric" or self.short is None:
            return self.short
        number, mark, ending = self.short.partition("-")
        return (number.lstrip("0") or "0") + mark + ending

    @property
    def scoped_by_make(self) -> bool:
        """The same text means something else on another make."""
        if self.short is not None and self.short.startswith("SPN"):
            return int(self.short[3:].split("/")[0]) >= _MAKER_SPN
        return self.kind in ("maker", "numeric")


def bytes_to_code(high: int, low: int) -> str:
    """Return the five characters that two bytes spell.

    Args:
        high: First byte on the wire, 0 to 255.
        low: Second byte, 0 to 255.

    Returns:
        The code in capitals, for example ``P0301`` for 0x03, 0x01.

    Raises:
        ValueError: A byte is not in 0..255.

    Source:
        SAE J2012 / ISO 15031-6: two bits of letter, two bits of first digit, three times four bits.
    """
    if not (0 <= high <= 255 and 0 <= low <= 255):
        raise ValueError(f"a code is two bytes, each in 0..255; got {high}, {low}")
    return f"{_LETTERS[high >> 6]}{high >> 4 & 3}{high & 15:X}{low:02X}"


def code_to_bytes(text: str) -> tuple[int, int]:
    """Return the two bytes of a five-character code in capitals; the reverse of ``bytes_to_code``.

    Raises:
        ValueError: The text is not one of P, C, B, U, a digit from 0 to 3 and three hex digits.
    """
    if not _SHORT.fullmatch(text):
        raise ValueError(f"expected a code like P0301; got {text!r}")
    return _LETTERS.index(text[0]) << 6 | int(text[1:3], 16), int(text[3:], 16)


def control_of(short: str) -> Control:
    """Return who controls a five-character code.

    Args:
        short: A code in capitals, for example ``P3400``.

    Returns:
        ``standard``, ``maker`` or, for B3 and C3, ``reserved`` (a later edition may have filled them).

    Raises:
        ValueError: ``short`` is no five-character code.

    Source:
        The ranges of SAE J2012: P3 is the maker's up to P33FF and the standard's from P3400; U3 is the standard's.
    """
    code_to_bytes(short)
    letter, digit = short[0], short[1]
    if letter == "P":
        maker = digit == "1" or (digit == "3" and short[2] < "4")
        return "maker" if maker else "standard"
    if digit == "3":
        return "standard" if letter == "U" else "reserved"
    return "standard" if digit == "0" else "maker"


def read_code(text: str, failure_type: str | None = None) -> CodeReading:
    """Read one spelling of a code.

    Args:
        text: The cell as it stands.
        failure_type: The failure type byte, two hex digits, where the export has it in a column of its own.

    Returns:
        The reading.  ``why`` is filled where the text is no code.  All zeros (P0000, 00000) are padding: kind ``none``
        without a reason.  Where the text has a failure type of its own that differs, the text's is kept and
        ``note`` says so.  Wording behind the code (``P0301 - Misfire cylinder 1``) is told apart from it.
    """
    code, wording = split_code(text)
    read = _read_bare(code, failure_type)
    if wording is None or read.short is None:
        return read if wording is None else _read_bare(text, failure_type)
    return replace(read, text=wording)


def split_code(text: str) -> tuple[str, str | None]:
    """Tell a code from the wording behind it in one cell.

    Args:
        text: The cell as it stands.

    Returns:
        The code with its failure type, and the wording; the whole cell and None where it holds no wording, or a
        second code: then nobody can tell which of them is meant.
    """
    match = _BEFORE_TEXT.fullmatch(text.translate(_DASHES).strip())
    if match is None or _ANY_CODE.search(match["text"]):
        return text, None
    wording = match["text"].strip()
    whole = wording.startswith("(") and wording.endswith(")") and wording.count("(") == 1
    return match["code"].strip(), wording[1:-1].strip() if whole else wording.lstrip("-:/ ")


def _read_bare(text: str, failure_type: str | None) -> CodeReading:
    """Read a cell that holds a code and nothing else."""
    plain = text.translate(_DASHES).strip().upper()
    given = failure_type.strip().upper() if failure_type and failure_type.strip() else None
    if given is not None and not _HEX_BYTE.fullmatch(given):
        return CodeReading(None, None, "none", f"its failure type {failure_type!r} is not 2 hex digits")
    if match := _J2012.fullmatch(plain):
        return _read_j2012(match, given)
    if match := _J1939.fullmatch(plain):
        return _read_j1939(match, given)
    number = _HEX_NUMBER.fullmatch(plain)
    if number and len(number[1]) == _TWO_BYTES:
        short = bytes_to_code(int(number[1][:2], 16), int(number[1][2:], 16))
        return CodeReading(short, given, control_of(short)) if short != "P0000" else CodeReading(None, None, "none")
    if number or (_NUMERIC.fullmatch(plain) and not is_a_word(plain) and not is_a_year(plain)):
        short = number[1] if number else plain
        return CodeReading(short, given, "numeric") if short.strip("0-") else CodeReading(None, None, "none")
    return CodeReading(None, None, "none", why_no_code(plain))


def _read_j2012(match: re.Match[str], given: str | None) -> CodeReading:
    short, own = match[1] + match[2], match[3]
    if match[2] == "0000":
        return CodeReading(None, None, "none")
    note = None
    if own and given and own != given:
        note = f"the text says failure type {own}, its own column {given}; {own} was kept"
    return CodeReading(short, own or given, control_of(short), note=note)


def _read_j1939(match: re.Match[str], given: str | None) -> CodeReading:
    number, mode = int(match[1]), int(match[2])
    if number > _LAST_SPN or mode > _LAST_FMI:
        why = f"SPN {number} FMI {mode} is out of range; the largest are {_LAST_SPN} and {_LAST_FMI}"
        return CodeReading(None, None, "none", why)
    if (number, mode) in ((0, 0), (_LAST_SPN, _LAST_FMI)):
        return CodeReading(None, None, "none")
    return CodeReading(f"SPN{number}/{mode}", given, "numeric")


@dataclass(frozen=True)
class StatusReading:
    """What a status says of one listed code.

    Attributes:
        present: The entry records a fault; False where the module merely lists a code that it could set.
        tested: The test behind the code has run since the last erase and in this cycle; None where nothing tells.
        word: active, pending, confirmed, permanent, history, not tested, or blank where there is nothing to say.
    """

    present: bool
    tested: bool | None
    word: str


STATUS_WORDS = ("active", "pending", "confirmed", "permanent", "history")
# What a module can be asked for; a code is absent only from a list that could have named it.
ASKED_WORDS = ("active", "stored", "pending", "permanent", "history")


def status_of(text: str) -> StatusReading:
    """Read a status: a status byte of two hex digits, or one of ``STATUS_WORDS``.

    Args:
        text: The cell as it stands.  Blank: the code is listed and nothing else is known, so it counts as present.

    Returns:
        The reading.  A byte is present where it records a failure now, in this cycle, pending, confirmed or since the
        erase.  Without one, a test that has not run since the erase or in this cycle makes it ``not tested``: the
        code's absence then proves nothing.  A word does not tell whether the test has run.

    Raises:
        ValueError: The text is neither.

    Source:
        ISO 14229-1, the eight bits of the status byte.
    """
    plain = text.strip().lower().removeprefix("0x")
    if plain in ("", *STATUS_WORDS):
        return StatusReading(True, None, plain)
    if not _HEX_BYTE.fullmatch(plain.upper()):
        raise ValueError(f"expected 2 hex digits or one of {', '.join(STATUS_WORDS)}; got {text!r}")
    byte = int(plain, 16)
    if byte & 0x2F:
        return StatusReading(True, True, _word_of(byte))
    ran = not byte & 0x50
    return StatusReading(False, ran, "" if ran else "not tested")


def _word_of(byte: int) -> str:
    """Return the word for a byte that records a failure; bits 4, 6 and 7 play no part in it."""
    if byte & 0x01:
        return "active"
    if byte & 0x08:
        # Confirmed and nothing else: it failed in some earlier time and has not failed since.
        return "confirmed" if byte & 0x26 else "history"
    return "pending" if byte & 0x06 else "history"
