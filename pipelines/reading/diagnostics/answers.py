"""What one answer of a control unit says, whichever standard it follows.

An answer that says "no" is not read: it is never the same as "no codes".  An answer
that is damaged is refused as a whole, because half a list looks like a repaired car.
"""

from __future__ import annotations

from dataclasses import dataclass, field


class AnswerError(ValueError):
    """An answer cannot be taken; the text says what was wanted and what was found."""


@dataclass(frozen=True)
class FoundCode:
    """One code of an answer, as the cells of a scan row.

    Attributes:
        code: The code's text.
        failure_type: Two hex digits, or None.
        status: Status byte as two hex digits, or a status word, or None where nothing is said.
        occurrences: Times the module counted it, or None.
    """

    code: str
    failure_type: str | None = None
    status: str | None = None
    occurrences: str | None = None


@dataclass(frozen=True)
class Decoded:
    """What one answer says.

    Attributes:
        codes: The codes it lists.
        asked: What the list could have named, words of ``ASKED_WORDS``: a code of that kind that it lacks is absent.
            Empty where the answer is no whole list of any kind.
        refused: The module said no, or nothing: it was not read.
        facts: Cells that hold for the whole scan: ``monitors_ready``, ``km_since_erase``, ``warmups_since_erase``.
        notes: What else it says, in words.
        flaws: Codes in it that cannot be told, each with its reason.
    """

    codes: tuple[FoundCode, ...] = ()
    asked: tuple[str, ...] = ()
    refused: bool = False
    facts: dict[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    flaws: tuple[str, ...] = ()


@dataclass(frozen=True)
class Message:
    """One answer as it stands in a file.

    Attributes:
        line: Its line, the first being 1; of several frames the first one's.
        module: The address or name as it is written, or that of the frame.
        payload: The bytes behind the address; empty where the file says that the module stayed silent.
        kind: ``answer``, ``request`` of the tester, or one of the fault messages ``DM1`` to ``DM28``.
        can: It came in frames of a CAN bus, so no link need be declared.
        bus: The bus that a log names, or "".
    """

    line: int
    module: str
    payload: bytes
    kind: str = "answer"
    can: bool = False
    bus: str = ""


# What fills a frame up behind an answer: zeros, ones, and the patterns that some links use.
_FILLING = (0x00, 0xFF, 0x55, 0xAA, 0xCC)


def without_filling(records: bytes, width: int) -> bytes:
    """Return records without the bytes that only fill the frame up behind them.

    Args:
        records: Records one behind the other.
        width: Bytes of one record.

    Returns:
        The records up to the one in which the run of filling bytes begins; all of them where there is no such run.
    """
    if not records or records[-1] not in _FILLING:
        return records
    told = len(records.rstrip(records[-1:]))
    whole = -(-told // width) * width
    return records[:whole] if whole <= len(records) else records
