"""Frames of a CAN log put together again to whole answers (ISO 15765-2).

A long answer comes in a first frame that tells its length and numbered frames
behind it.  A missing or misplaced frame spoils its answer, and only that one.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from pipelines.reading.diagnostics.answers import AnswerError, Message
from pipelines.reading.diagnostics.j1939 import PARAMETER_GROUPS

_STAMP = r"(?:\(\d{1,12}\.\d{1,9}\)\s+)?"
_BUS = r"[a-z]{1,9}\d{1,3}\s+"
_SHORT_FORM = re.compile(_STAMP + _BUS + r"([0-9A-F]{8}|[0-9A-F]{3})(#.*)", re.IGNORECASE | re.ASCII)
_LONG_FORM = re.compile(
    _STAMP
    + _BUS
    + r"(?:[TR]X\s+(?:[-BE]{1,3}\s+){0,2})?([0-9A-F]{8}|[0-9A-F]{3})\s+\[(\d{1,2})\]((?:\s+[0-9A-F]{2})*)(?:\s+'.*)?",
    re.IGNORECASE | re.ASCII,
)
_FIRST_ANSWER = 0x40
_TRANSPORT = 0xEC


@dataclass(frozen=True)
class Frame:
    """One frame of a log: the identifier as it is written, in capitals, and its bytes."""

    identifier: str
    content: bytes


def looks_like_frame(line: str) -> bool:
    """Say whether a line is a frame of a CAN log, good or damaged."""
    return bool(_SHORT_FORM.fullmatch(line) or _LONG_FORM.fullmatch(line))


def read_frame(line: str) -> Frame:
    """Read one line of a CAN log, ``(1700000000.123) can0 7E8#0643...`` or ``can0 7E8 [8] 06 43 ...``.

    Raises:
        AnswerError: It is no frame of at most 8 bytes, or has another number of bytes than it says.
    """
    if match := _SHORT_FORM.fullmatch(line):
        identifier, digits = match[1], match[2][1:].split()[0] if match[2][1:].split() else ""
        if not re.fullmatch(r"(?:[0-9A-F]{2}\.?){0,8}", digits, re.IGNORECASE | re.ASCII):
            raise AnswerError(f"expected up to 8 bytes of two hex digits behind #; found {digits[:40]!r}")
        return Frame(identifier.upper(), bytes.fromhex(digits.replace(".", "")))
    match = _LONG_FORM.fullmatch(line)
    if match is None:
        raise AnswerError("expected a frame like 'can0 7E8 [8] 06 43 02 01 33 01 34 00'")
    content = bytes.fromhex(match[3])
    if len(content) != int(match[2]) or len(content) > 8:
        raise AnswerError(f"expected {match[2]} bytes, at most 8, as the frame says; found {len(content)}")
    return Frame(match[1].upper(), content)


@dataclass
class _Open:
    """An answer of which some frames are there."""

    line: int
    length: int
    content: bytes
    next_number: int = 1


@dataclass
class Assembly:
    """Puts the frames of one log together, one after the other.

    Attributes:
        messages: The whole answers so far.
        faults: Line, identifier and reason of each answer that could not be put together.
        passed: Frames that belong to no answer: other traffic of the bus.
    """

    messages: list[Message] = field(default_factory=list)
    faults: list[tuple[int, str, str]] = field(default_factory=list)
    passed: int = 0
    _open: dict[str, _Open] = field(default_factory=dict)
    _spoiled: set[str] = field(default_factory=set)

    def add(self, line: int, frame: Frame) -> None:
        """Take one frame in; ``line`` is where it stands."""
        number = int(frame.identifier, 16)
        kind = PARAMETER_GROUPS.get(number >> 8 & 0xFFFF) if len(frame.identifier) == 8 else None
        if kind is not None:
            self.messages.append(Message(line, f"SA {number & 0xFF}", frame.content, kind, can=True))
        elif len(frame.identifier) == 8 and number >> 16 & 0xFF == _TRANSPORT:
            self._announced(line, number, frame.content)
        elif _may_answer(frame.identifier) and frame.content:
            self._take(line, frame)
        else:
            self.passed += 1

    def close(self) -> None:
        """Say of every answer that is still open that frames are missing."""
        for identifier in sorted(self._open):
            self._spoil(identifier, "the log ends")
        self._spoiled.clear()

    def _announced(self, line: int, number: int, content: bytes) -> None:
        """A fault message of several frames in the transport protocol of SAE J1939 is named, not put together."""
        kind = PARAMETER_GROUPS.get(int.from_bytes(content[5:7], "little")) if len(content) == 8 else None
        if kind is None:
            self.passed += 1
            return
        why = f"expected a {kind} in one frame; found one in {content[3]}: write its payload as '{kind} SA n: bytes'"
        self.faults.append((line, f"SA {number & 0xFF}", why))

    def _take(self, line: int, frame: Frame) -> None:
        control, content = frame.content[0] >> 4, frame.content
        if control == 0:
            self._single(line, frame)
        elif control == 1:
            self._first(line, frame)
        elif control == 2:
            self._consecutive(line, frame)
        elif control == 3:
            self.passed += 1
        else:
            self.faults.append((line, frame.identifier, f"expected a frame kind from 0 to 3; found {content[0]:02X}"))

    def _single(self, line: int, frame: Frame) -> None:
        self._interrupt(frame.identifier)
        length, content = frame.content[0] & 15, frame.content[1:]
        if not 1 <= length <= len(content):
            why = f"expected a single frame of 1 to {len(content)} bytes; it says {length}"
            self.faults.append((line, frame.identifier, why))
        else:
            self._finish(line, frame.identifier, content[:length])

    def _first(self, line: int, frame: Frame) -> None:
        self._interrupt(frame.identifier)
        length = int.from_bytes(frame.content[:2]) & 0xFFF
        if len(frame.content) < 8 or length < 8:
            self._spoiled.add(frame.identifier)
            why = f"expected a first frame of 8 bytes that tells a length of 8 or more; found {frame.content.hex(' ')}"
            self.faults.append((line, frame.identifier, why))
        else:
            self._open[frame.identifier] = _Open(line, length, frame.content[2:])

    def _consecutive(self, line: int, frame: Frame) -> None:
        open_one, number = self._open.get(frame.identifier), frame.content[0] & 15
        if open_one is None:
            if frame.identifier not in self._spoiled:
                self._spoiled.add(frame.identifier)
                self.faults.append(
                    (line, frame.identifier, f"expected a first frame; found frame {number} of an answer")
                )
            return
        if number != open_one.next_number:
            self._spoil(frame.identifier, f"line {line} has frame {number} where {open_one.next_number} belongs")
            return
        open_one.content += frame.content[1:]
        open_one.next_number = (number + 1) % 16
        if len(open_one.content) >= open_one.length:
            del self._open[frame.identifier]
            self._finish(open_one.line, frame.identifier, open_one.content[: open_one.length])

    def _interrupt(self, identifier: str) -> None:
        """A new answer of a module ends what is open of its old one."""
        self._spoiled.discard(identifier)
        if identifier in self._open:
            self._spoil(identifier, "a new answer begins")
            self._spoiled.discard(identifier)

    def _spoil(self, identifier: str, because: str) -> None:
        lost = self._open.pop(identifier)
        self._spoiled.add(identifier)
        why = f"expected {lost.length} bytes; found {len(lost.content)}, then {because}: a frame is missing"
        self.faults.append((lost.line, identifier, why))

    def _finish(self, line: int, identifier: str, payload: bytes) -> None:
        if payload[0] < _FIRST_ANSWER:
            self.passed += 1  # a request of the tester
        else:
            self.messages.append(Message(line, identifier, payload, can=True))


def _may_answer(identifier: str) -> bool:
    """Diagnosis on 11 bits takes the identifiers from 700 on; on 29 bits an answer goes to the tester, F1."""
    if len(identifier) == 3:
        return identifier.startswith("7") and identifier != "7DF"
    return identifier.startswith("18DAF1")
