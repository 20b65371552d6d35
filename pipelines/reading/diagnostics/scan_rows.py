"""The answers of each module in a scan, made rows of the scans table.

A module that answered with a list of its codes was read, also where the list is
empty; each list says which kind of codes it could have named.  A module that said
no was not read, and a damaged list is not whole: then codes are unknown, never gone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

import polars as pl

from analysis.vocabulary.codes import ASKED_WORDS
from pipelines.reading.checks import check_cells
from pipelines.reading.diagnostics import iso14229, iso14230, j1939, j1979
from pipelines.reading.diagnostics.answer_lines import SHOWN, ScanBlock
from pipelines.reading.diagnostics.answers import AnswerError, Decoded, FoundCode, Message
from pipelines.reading.diagnostics.requests import request_before
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.tabular.raw_table import Reject

_LINKS = ("can", "older")
_ERASED = (0x44, 0x54)
_CELLS = ("vehicle", "vin", "scanned_at", "odometer", "odometer_unit")

Row = dict[str, str | int | None]


@dataclass
class _Module:
    """What one module of a scan said so far: each code with its list's kinds, each whole list, both with their line."""

    line: int
    codes: dict[tuple[FoundCode, tuple[str, ...]], int] = field(default_factory=dict)
    asked: dict[tuple[str, ...], int] = field(default_factory=dict)
    flawed: bool = False
    refused: bool = False


def scan_rows(scan: ScanBlock, notes: Counter[str]) -> tuple[list[Row], list[Reject]]:
    """Decode a scan's answers.

    Args:
        scan: The scan; lines that are no answers are already among its faults.
        notes: Gets what else the answers say, counted.

    Returns:
        Rows of the scans table (``row`` is the line; of one line come several), module by module; and the rejects, by
        line.
    """
    rejects = scan.rejects()
    if wrong := _wrong_headings(scan):
        left = f"; the answers of this scan ({len(scan.messages)}) were left out"
        rejects += [(line, name, text, why + left) for line, name, text, why in wrong]
        return [], sorted(rejects, key=_by_line)
    modules: dict[str, _Module] = {}
    facts: dict[str, str] = {}
    for line, name, _, _ in scan.faults:
        if name is not None:
            modules.setdefault(name, _Module(line)).flawed = True
    formats = _formats(scan, notes)
    for message in scan.messages:
        if message.kind == "request":
            continue
        module = modules.setdefault(message.module, _Module(message.line))
        try:
            said = _decode(message, scan, formats)
        except AnswerError as error:
            said = Decoded(flaws=(str(error),))
        _hear(module, message, said)
        notes.update(f"{message.module} {note}" for note in said.notes)
        rejects += [(message.line, None, _shown(message), flaw) for flaw in said.flaws]
        facts = _merged(facts, said.facts)
    rows = [row for name, module in modules.items() for row in _module_rows(name, module, notes)]
    if not rows:
        notes[f"the scan of line {scan.line} holds no module's list of codes"] += 1
    cells = {name: scan.heading[name][1] for name in _CELLS if name in scan.heading}
    return [{**cells, **facts, **row} for row in rows], sorted(rejects, key=_by_line)


def _by_line(reject: Reject) -> int:
    return reject[0] or 0


def _wrong_headings(scan: ScanBlock) -> list[Reject]:
    """Return the heading lines that are not what they should be; blank ones stand at the scan's first line."""
    cells = {name: [scan.heading[name][1] if name in scan.heading else ""] for name in _CELLS}
    frame = pl.DataFrame({"row": [scan.line], **cells, "module": ["-"]}, schema_overrides={"row": pl.Int64})
    blanks = frame.with_columns(pl.col(*_CELLS).str.strip_chars().replace("", None))
    _, wrong, _ = check_cells(blanks, LAYOUTS["scans"], ZoneInfo("UTC"))
    rejects: list[Reject] = []
    for column, value, why in wrong.select("column", "value", "why").iter_rows():
        rejects.append((scan.heading.get(column, (scan.line,))[0], column, value, why))
    for name, wanted in (("link", _LINKS), ("format", iso14229.FORMATS)):
        told = scan.told(name)
        if told is not None and told not in wanted:
            rejects.append((scan.heading[name][0], name, told[:SHOWN], f"expected one of {', '.join(wanted)}"))
    return rejects


def _formats(scan: ScanBlock, notes: Counter[str]) -> dict[str, int]:
    """Return the code format of each module that names one, or the heading's for all of them."""
    declared = scan.told("format")
    formats: dict[str, int] = {}
    for message in scan.messages:
        told = iso14229.told_format(message.payload)
        if told is None or f"{told:02X}" == declared:
            continue
        if declared is not None:
            notes[f"{message.module} names code format {told:02X}; the heading's {declared} was kept"] += 1
        elif f"{told:02X}" in iso14229.FORMATS:
            formats[message.module] = told
    return formats


def _decode(message: Message, scan: ScanBlock, formats: dict[str, int]) -> Decoded:
    payload = message.payload
    code_format = formats.get(message.module, int(scan.told("format") or "00"))
    if message.kind in j1939.MESSAGES:
        return j1939.read_message(payload, message.kind)
    if payload[:1] == b"\x59":
        request = request_before(message, scan.messages, b"\x19" + payload[1:2])
        asked = request[2:3] if request is not None and payload[1:2] == b"\x02" else b""
        return iso14229.read_list(payload, code_format, *asked)
    if payload[:1] == bytes([iso14230.CODES_BY_STATUS]):
        request = request_before(message, scan.messages, bytes([iso14230.REQUEST]))
        return iso14230.read_codes(payload, code_format, request)
    if payload and payload[0] in j1979.CODE_LISTS:
        return j1979.read_codes(payload, _counted(message, scan))
    return _decode_other(payload)


def _decode_other(payload: bytes) -> Decoded:
    """Decode what is no list of codes."""
    if not payload:
        return Decoded(refused=True)
    if payload[0] == 0x7F:
        return iso14229.read_no(payload)
    if payload[0] == 0x41:
        return j1979.read_counters(payload)
    if payload[0] in _ERASED:
        return Decoded(notes=("answered that codes were erased; write it down as a job",))
    if payload[0] < 0x40:
        raise AnswerError(f"expected an answer, whose first byte is 41 or more; found {payload[0]:02X}, a request")
    name = f" ({iso14230.LEFT[payload[0]]})" if payload[0] in iso14230.LEFT else ""
    return Decoded(notes=(f"answer {payload[0]:02X}{name} was left: it is no list of codes that is read here",))


def _counted(message: Message, scan: ScanBlock) -> bool:
    link = "can" if message.can else scan.told("link")
    if link is None:
        raise AnswerError(
            "expected 'link: can' or 'link: older' in the heading: only on CAN does a byte count the codes behind "
            f"{message.payload[0]:02X}"
        )
    return link == "can"


def _hear(module: _Module, message: Message, said: Decoded) -> None:
    for code in said.codes:
        module.codes.setdefault((code, said.asked), message.line)
    if said.asked:
        module.asked.setdefault(said.asked, message.line)
    module.flawed |= bool(said.flaws)
    module.refused |= said.refused


def _merged(facts: dict[str, str], said: dict[str, str]) -> dict[str, str]:
    """Keep the most cautious of what modules say of the whole car: ready only where all are, the shorter distance."""
    merged = dict(facts)
    for name, value in said.items():
        known = merged.get(name, value)
        merged[name] = min(known, value) if name == "monitors_ready" else str(min(int(known), int(value)))
    return merged


def _module_rows(name: str, module: _Module, notes: Counter[str]) -> Iterator[Row]:
    for (code, asked), line in module.codes.items():
        whole = bool(asked) and not module.flawed
        yield {"row": line, "module": name, **vars(code), **_list_cells(asked, whole)}
    named = {asked for _, asked in module.codes}
    for asked, line in module.asked.items():
        if asked not in named:
            yield {"row": line, "module": name, **_list_cells(asked, not module.flawed)}
    if module.codes or module.asked or module.flawed:
        return
    if module.refused:
        yield {"row": module.line, "module": name, "module_state": "silent"}
        notes[f"{name} was not read: it said no or nothing"] += 1
    else:
        notes[f"{name} did not answer with a list of its codes: nothing is known of them"] += 1


def _list_cells(asked: tuple[str, ...], whole: bool) -> Row:
    every = not asked or set(asked) == {*ASKED_WORDS}
    return {"asked": None if every else ";".join(asked), "complete": None if whole else "false"}


def _shown(message: Message) -> str:
    return f"{message.module} {message.payload[:SHOWN].hex(' ').upper()}".strip()[:SHOWN]
