"""A file of raw answers, line by line: the headings of its scans, and the answers behind them.

A heading is a few lines like ``vehicle: A1``; the first heading line behind an
answer begins the next scan, and nothing is carried over from the one before.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from pipelines.reading.diagnostics.answers import AnswerError, Message
from pipelines.reading.diagnostics.isotp import FIRST_ANSWER, Assembly, looks_like_frame, read_frame
from pipelines.reading.diagnostics.j1939 import MESSAGES
from pipelines.reading.diagnostics.requests import answers_to
from pipelines.reading.tabular.raw_table import Reject

HEADINGS = ("vehicle", "vin", "scanned_at", "odometer", "odometer_unit", "link", "format")
SILENT = "silent"
WANTED = "'7E8 43 01 03 01'"
SHOWN = 120
_LONGEST_LINE = 20_000

_HEADING = re.compile(rf"({'|'.join(HEADINGS)})\s*:(.*)", re.IGNORECASE | re.ASCII)
_ADDRESS = r"(?:0x)?(?:[0-7][0-9A-F]{2}|1[0-9A-F]{7})h?|SA\s*\d{1,3}"
_KINDS = "|".join(MESSAGES)
_ANSWER = re.compile(rf"(?:({_KINDS})\s+)?(?:({_ADDRESS})\s*:?\s|([^:]{{1,100}}):)\s*(.*)", re.IGNORECASE | re.ASCII)
_BYTES = re.compile(r"(?:[0-9A-F]{2})+(?:\s+(?:[0-9A-F]{2})+)*", re.IGNORECASE | re.ASCII)
_COMMENT = re.compile(r"(?:^|\s)#.*")


@dataclass
class ScanBlock:
    """One scan of a file.

    Attributes:
        line: Its first line.
        heading: Name of each heading line to its line and its text.
        messages: Its answers and the requests that a log shows, in the order of their lines.
        faults: Line, module (None where none could be told), text and reason of each line that is no answer.
        passed: Frames of a log that belong to no answer.
    """

    line: int
    heading: dict[str, tuple[int, str]] = field(default_factory=dict)
    messages: list[Message] = field(default_factory=list)
    faults: list[tuple[int, str | None, str, str]] = field(default_factory=list)
    passed: int = 0

    def rejects(self) -> list[Reject]:
        """The faults in the reader's form."""
        return [(line, None, text[:SHOWN], why) for line, _, text, why in self.faults]

    def told(self, name: str) -> str | None:
        """Return the text of a heading line in lower case, or None."""
        return self.heading[name][1].lower() if name in self.heading else None


def split_scans(text: str) -> list[ScanBlock]:
    """Split a file into its scans.

    Args:
        text: The whole file with plain line ends.

    Returns:
        The scans, in order.  Answers in front of the first heading are a scan without one.
    """
    scans: list[ScanBlock] = []
    lines = text.split("\n")
    log = Assembly()
    for number, full in enumerate(lines, 1):
        line = _COMMENT.sub("", full[: _LONGEST_LINE + 1]).strip()
        if not line:
            continue
        heading = _HEADING.fullmatch(line)
        if not scans or (heading and _begins_anew(scans[-1], log, heading[1].lower())):
            _end(scans, log, lines)
            log = Assembly()
            scans.append(ScanBlock(number))
        if heading:
            scans[-1].heading[heading[1].lower()] = (number, heading[2].strip())
        else:
            _take(scans[-1], log, number, line)
    _end(scans, log, lines)
    return scans


def is_answer_line(line: str) -> bool | None:
    """Say whether a line is an answer or a frame; None where it is a heading, a comment or empty."""
    plain = _COMMENT.sub("", line[:_LONGEST_LINE]).strip()
    if not plain or _HEADING.fullmatch(plain):
        return None
    if looks_like_frame(plain):
        return True
    match = _ANSWER.fullmatch(plain)
    return bool(match and (match[4].lower() == SILENT or _BYTES.fullmatch(match[4])))


def _begins_anew(scan: ScanBlock, log: Assembly, name: str) -> bool:
    seen = scan.messages or scan.faults or log.messages or log.faults or log.passed
    return bool(seen) or name in scan.heading


def _take(scan: ScanBlock, log: Assembly, number: int, line: str) -> None:
    try:
        if looks_like_frame(line):
            log.add(number, read_frame(line))
        else:
            scan.messages.append(_read_answer(number, line))
    except AnswerError as error:
        match = _ANSWER.fullmatch(line)
        scan.faults.append((number, (match[2] or match[3]).strip() if match else None, line, str(error)))


def _read_answer(number: int, line: str) -> Message:
    if len(line) > _LONGEST_LINE:
        raise AnswerError(f"expected a line of at most {_LONGEST_LINE} characters; found a longer one")
    match = _ANSWER.fullmatch(line)
    if match is None:
        raise AnswerError(f"expected a heading, an answer like {WANTED}, or a frame of a CAN log")
    kind, module, content = (match[1] or "answer"), (match[2] or match[3]).strip(), match[4].strip()
    if not module:
        raise AnswerError("expected an address or a module's name in front of the colon; found nothing")
    if content.lower() == SILENT:
        return Message(number, module, b"")
    if not _BYTES.fullmatch(content):
        raise AnswerError(f"expected bytes of two hex digits each, or the word {SILENT}; found {content[:40]!r}")
    payload = bytes.fromhex(content)
    target = answers_to(module)
    if match[1] is None and target is not None and payload[0] < FIRST_ANSWER:
        return Message(number, target, payload, "request")
    return Message(number, module, payload, kind.upper() if match[1] else kind)


def _end(scans: list[ScanBlock], log: Assembly, lines: list[str]) -> None:
    """Give the last scan what its log holds."""
    if not scans:
        return
    messages, faults = log.close()
    scan = scans[-1]
    scan.messages += messages
    scan.faults += [(line, module, lines[line - 1].strip(), why) for line, module, why in faults]
    scan.messages.sort(key=lambda message: message.line)
    scan.faults.sort(key=lambda fault: fault[0])
    scan.passed += log.passed
