"""Frames of a CAN log put together again to whole answers (ISO 15765-2, and the transport protocol of SAE J1939).

A long answer comes in a first frame that tells its length and numbered frames
behind it.  A missing or misplaced frame spoils its answer, and only that one.
Each bus of a log is a line of its own: what two buses carry is never joined.
"""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass, field, replace

from pipelines.reading.diagnostics.answers import AnswerError, Message
from pipelines.reading.diagnostics.j1939 import PARAMETER_GROUPS
from pipelines.reading.diagnostics.requests import answers_to

_STAMP = r"(?:\(\d{1,12}\.\d{1,9}\)\s+)?"
_BUS = r"([a-z]{1,9}\d{1,3})\s+"
_SHORT_FORM = re.compile(_STAMP + _BUS + r"([0-9A-F]{8}|[0-9A-F]{3})#(#[0-9A-F])?(.*)", re.IGNORECASE | re.ASCII)
_LONG_FORM = re.compile(
    _STAMP
    + _BUS
    + r"(?:[TR]X\s+(?:[-BE]{1,3}\s+){0,2})?([0-9A-F]{8}|[0-9A-F]{3})\s+\[(\d{1,2})\]((?:\s+[0-9A-F]{2})*)(?:\s+'.*)?",
    re.IGNORECASE | re.ASCII,
)
_PLAIN, _FLEXIBLE = 8, 64
# Lengths that a frame of CAN FD can have above 8 bytes (ISO 11898-1).
_FLEXIBLE_LENGTHS = (12, 16, 20, 24, 32, 48, 64)
FIRST_ANSWER = 0x40
_TRANSPORT, _TRANSPORT_DATA = 0xEC, 0xEB
_TO_ALL, _TO_ONE, _ABORT = 0x20, 0x10, 0xFF


@dataclass(frozen=True)
class Frame:
    """One frame of a log: its bus, the identifier as it is written, in capitals, and its bytes."""

    bus: str
    identifier: str
    content: bytes


def looks_like_frame(line: str) -> bool:
    """Say whether a line is a frame of a CAN log, good or damaged."""
    return bool(_SHORT_FORM.fullmatch(line) or _LONG_FORM.fullmatch(line))


def read_frame(line: str) -> Frame:
    """Read one line of a CAN log: ``(1700000000.123) can0 7E8#0643...``, ``can0 7E8##1...`` or ``can0 7E8 [8] 06 ...``.

    Raises:
        AnswerError: It is no frame of at most 8 bytes, 64 for CAN FD, or has another number of bytes than it says.
    """
    if match := _SHORT_FORM.fullmatch(line):
        bus, identifier, flexible = match[1].lower(), match[2].upper(), match[3]
        most, digits = (_FLEXIBLE if flexible else _PLAIN), (match[4].split() or [""])[0]
        if not re.fullmatch(rf"(?:[0-9A-F]{{2}}\.?){{0,{most}}}", digits, re.IGNORECASE | re.ASCII):
            raise AnswerError(f"expected up to {most} bytes of two hex digits behind #; found {digits[:40]!r}")
        return Frame(bus, identifier, bytes.fromhex(digits.replace(".", "")))
    match = _LONG_FORM.fullmatch(line)
    if match is None:
        raise AnswerError("expected a frame like 'can0 7E8 [8] 06 43 02 01 33 01 34 00'")
    content = bytes.fromhex(match[4])
    if len(content) != int(match[3]) or (len(content) > _PLAIN and len(content) not in _FLEXIBLE_LENGTHS):
        raise AnswerError(
            f"expected {match[3]} bytes, at most 8 or as many as CAN FD can have, as the frame says; "
            f"found {len(content)}"
        )
    return Frame(match[1].lower(), match[2].upper(), content)


_Key = tuple[str, str]
"""Bus, and the identifier that answers; for fault messages of trucks the two addresses."""


@dataclass
class _Open:
    """An answer of which some frames are there; of ``kind`` where it is a fault message of a truck."""

    line: int
    length: int
    content: bytes
    next_number: int = 1
    kind: str = ""


@dataclass
class Assembly:
    """Puts the frames of one log together, one after the other.

    Attributes:
        messages: The whole answers so far, and the tester's requests.
        faults: Line, bus, identifier and reason of each answer that could not be put together.
        passed: Frames that belong to no answer: requests and other traffic of the bus.
    """

    messages: list[Message] = field(default_factory=list)
    faults: list[tuple[int, str, str, str]] = field(default_factory=list)
    passed: int = 0
    _open: dict[_Key, _Open] = field(default_factory=dict)
    _spoiled: set[_Key] = field(default_factory=set)

    def add(self, line: int, frame: Frame) -> None:
        """Take one frame in; ``line`` is where it stands."""
        number = int(frame.identifier, 16)
        long = len(frame.identifier) == 8
        kind = PARAMETER_GROUPS.get(number >> 8 & 0xFFFF) if long else None
        if kind is not None:
            self.messages.append(Message(line, _source(number), frame.content, kind, can=True, bus=frame.bus))
        elif long and number >> 16 & 0xFF == _TRANSPORT:
            self._announced(line, number, frame)
        elif long and number >> 16 & 0xFF == _TRANSPORT_DATA:
            self._packet(line, number, frame)
        elif frame.content and (_may_answer(frame.identifier) or answers_to(frame.identifier) is not None):
            self._take(line, frame)
        else:
            self.passed += 1

    def close(self) -> tuple[list[Message], list[tuple[int, str, str]]]:
        """Say of every answer that is still open that frames are missing.

        Returns:
            The messages, and line, module and reason of each fault.  A module is named by its address, and by its bus
            beside it where the same address speaks on several: these are different modules.
        """
        for key in sorted(self._open):
            self._spoil(key, "the log ends")
        self._spoiled.clear()
        buses = defaultdict(set)
        for bus, name in [(message.bus, message.module) for message in self.messages if message.kind != "request"]:
            buses[name].add(bus)
        for _, bus, name, _ in self.faults:
            buses[name].add(bus)

        def named(bus: str, name: str) -> str:
            return f"{name} ({bus})" if len(buses[name]) > 1 else name

        messages = [
            message if message.kind == "request" else replace(message, module=named(message.bus, message.module))
            for message in self.messages
        ]
        return messages, [(line, named(bus, name), why) for line, bus, name, why in self.faults]

    def _announced(self, line: int, number: int, frame: Frame) -> None:
        """Open a fault message of several packets: announced to all, or to one who has to agree first."""
        content, key = frame.content, _transport_key(frame.bus, number)
        kind = PARAMETER_GROUPS.get(int.from_bytes(content[5:7], "little")) if len(content) == 8 else None
        if content[:1] == bytes([_ABORT]) and key in self._open:
            self._spoil(key, "the sender gives up")
        elif kind is None or content[0] not in (_TO_ALL, _TO_ONE):
            self.passed += 1
        else:
            if key in self._open:
                self._spoil(key, "a new message begins")
            self._open[key] = _Open(line, int.from_bytes(content[1:3], "little"), b"", kind=kind)

    def _packet(self, line: int, number: int, frame: Frame) -> None:
        key = _transport_key(frame.bus, number)
        open_one = self._open.get(key)
        if open_one is None or not frame.content:
            self.passed += 1
        elif frame.content[0] != open_one.next_number:
            self._spoil(key, f"line {line} has packet {frame.content[0]} where {open_one.next_number} belongs")
        else:
            open_one.content += frame.content[1:]
            open_one.next_number += 1
            if len(open_one.content) >= open_one.length:
                del self._open[key]
                payload = open_one.content[: open_one.length]
                self.messages.append(
                    Message(open_one.line, _source(number), payload, open_one.kind, can=True, bus=frame.bus)
                )

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
            self._fault(line, frame, f"expected a frame kind from 0 to 3; found {content[0]:02X}")

    def _fault(self, line: int, frame: Frame, why: str) -> None:
        if answers_to(frame.identifier) is None:
            self.faults.append((line, frame.bus, frame.identifier, why))
        else:
            self.passed += 1  # the tester's own frame, and no module's

    def _single(self, line: int, frame: Frame) -> None:
        self._interrupt(frame)
        length, content = frame.content[0] & 15, frame.content[1:]
        if not length and len(frame.content) > _PLAIN:  # CAN FD: the length has a byte of its own
            length, content = frame.content[1], frame.content[2:]
        if not 1 <= length <= len(content):
            self._fault(line, frame, f"expected a single frame of 1 to {len(content)} bytes; it says {length}")
        else:
            self._finish(line, frame.bus, frame.identifier, content[:length])

    def _first(self, line: int, frame: Frame) -> None:
        self._interrupt(frame)
        length, content = int.from_bytes(frame.content[:2]) & 0xFFF, frame.content[2:]
        if not length and len(frame.content) >= _PLAIN:  # more than 4,095 bytes: the length has four of its own
            length, content = int.from_bytes(frame.content[2:6]), frame.content[6:]
        if len(frame.content) < _PLAIN or length < _PLAIN:
            self._spoiled.add((frame.bus, frame.identifier))
            found = frame.content.hex(" ")
            self._fault(
                line, frame, f"expected a first frame of 8 bytes that tells a length of 8 or more; found {found}"
            )
        else:
            self._open[frame.bus, frame.identifier] = _Open(line, length, content)

    def _consecutive(self, line: int, frame: Frame) -> None:
        key = (frame.bus, frame.identifier)
        open_one, number = self._open.get(key), frame.content[0] & 15
        if open_one is None:
            if key not in self._spoiled:
                self._spoiled.add(key)
                self._fault(line, frame, f"expected a first frame; found frame {number} of an answer")
            return
        if number != open_one.next_number:
            self._spoil(key, f"line {line} has frame {number} where {open_one.next_number} belongs")
            return
        open_one.content += frame.content[1:]
        open_one.next_number = (number + 1) % 16
        if len(open_one.content) >= open_one.length:
            del self._open[key]
            self._finish(open_one.line, frame.bus, frame.identifier, open_one.content[: open_one.length])

    def _interrupt(self, frame: Frame) -> None:
        """A new answer of a module ends what is open of its old one."""
        key = (frame.bus, frame.identifier)
        self._spoiled.discard(key)
        if key in self._open:
            self._spoil(key, "a new answer begins")
            self._spoiled.discard(key)

    def _spoil(self, key: _Key, because: str) -> None:
        lost = self._open.pop(key)
        self._spoiled.add(key)
        part = "packet" if lost.kind else "frame"
        why = f"expected {lost.length} bytes; found {len(lost.content)}, then {because}: a {part} is missing"
        bus, name = key
        if answers_to(name) is None:
            self.faults.append((lost.line, bus, name.partition(" to ")[0], why))

    def _finish(self, line: int, bus: str, identifier: str, payload: bytes) -> None:
        target = answers_to(identifier)
        if payload[0] < FIRST_ANSWER:
            self.passed += 1
            asked = identifier if target is None else target
            self.messages.append(Message(line, asked, payload, "request", can=True, bus=bus))
        elif target is None:
            self.messages.append(Message(line, identifier, payload, can=True, bus=bus))
        else:
            self.passed += 1


def _source(number: int) -> str:
    return f"SA {number & 0xFF}"


def _transport_key(bus: str, number: int) -> _Key:
    return bus, f"{_source(number)} to {number >> 8 & 0xFF}"


def _may_answer(identifier: str) -> bool:
    """Diagnosis on 11 bits takes the identifiers from 700 on; on 29 bits an answer goes to the tester, F1."""
    if len(identifier) == 3:
        return identifier.startswith("7")
    return identifier.startswith("18DAF1")
