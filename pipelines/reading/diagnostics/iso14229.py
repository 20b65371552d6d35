"""The lists of fault codes that a module gives on service 19 of ISO 14229-1, and its ways to say no.

Every code comes with a status byte, and the availability mask in front says which
of its bits mean anything.  A list of codes that the module could set is no list of
faults: there the status decides.  A list that was asked for by a status mask names
only what the mask lets through.
"""

from __future__ import annotations

from dataclasses import dataclass

from analysis.vocabulary.codes import bytes_to_code
from pipelines.reading.diagnostics.answers import AnswerError, Decoded, FoundCode, without_filling
from pipelines.reading.diagnostics.j1939 import spn_and_fmi

FORMATS = ("00", "01", "02", "03", "04")
_LISTED, _SUPPORTED, _PERMANENT, _PERMANENT_OBD = 0x02, 0x0A, 0x15, 0x55
_SNAPSHOT, _EXTENDED = 0x04, 0x06


@dataclass(frozen=True)
class _Form:
    """How the bytes of one report stand behind its two first ones.

    Attributes:
        name: What it lists.
        mask: Place of the availability mask behind the report's number; None where it has none.
        head: Bytes in front of the first record.
        before: Bytes of a record in front of its code.
        kind: Place of the byte that names the code format, or None.
        records: It may hold any number of records; else one, and what stands behind its status is no code.
    """

    name: str
    mask: int | None = 0
    head: int = 1
    before: int = 0
    kind: int | None = None
    records: bool = True


_LISTS = {
    _LISTED: _Form("codes by status"),
    _SUPPORTED: _Form("list of supported codes"),
    0x0B: _Form("first failed code"),
    0x0C: _Form("first confirmed code"),
    0x0D: _Form("latest failed code"),
    0x0E: _Form("latest confirmed code"),
    _PERMANENT: _Form("permanent codes"),
    _SNAPSHOT: _Form("snapshot record of one code", mask=None, head=0, records=False),
    _EXTENDED: _Form("extended data record of one code", mask=None, head=0, records=False),
    0x08: _Form("codes by severity", before=2),
    0x09: _Form("severity of one code", before=2),
    0x17: _Form("codes of a user memory", mask=1, head=2),
    0x42: _Form("emission codes by severity", mask=1, head=4, before=1, kind=3),
    _PERMANENT_OBD: _Form("permanent emission codes", mask=1, head=3, kind=2),
}
_LEFT = {
    0x01: "count only",
    0x03: "list of snapshot records",
    0x05: "stored data of one record",
    0x07: "count only, by severity",
    0x14: "fault counters",
    0x56: "codes of a readiness group",
}
_FAILED, _NOT_TESTED = 0x2F, 0x50
_WHOLE_MASK = 0xFF
# Which bits of a status mask let the codes of a kind through: confirmed ones are stored, whatever else they are.
_LETS_THROUGH = {"active": (0x01, 0x08), "stored": (0x08,), "pending": (0x04,), "history": (0x08,)}
_WAIT = 0x78
_NO = {
    0x10: "general reject",
    0x11: "service not supported",
    0x12: "sub-function not supported",
    0x13: "wrong length or format of the request",
    0x14: "answer too long",
    0x21: "busy",
    0x22: "conditions not correct",
    0x24: "wrong order of requests",
    0x31: "request out of range",
    0x33: "access denied",
    0x34: "authentication required",
    0x7E: "sub-function not supported in this session",
    0x7F: "service not supported in this session",
}


def read_no(payload: bytes) -> Decoded:
    """Read a negative answer: 7F, the service that was asked for, and the reason.

    Returns:
        Refused with a note; for 78, "wait", nothing at all.

    Raises:
        AnswerError: It is not three bytes long (more may be mere filling).

    Source:
        ISO 14229-1, negative response codes, named in our own words.
    """
    if len(payload) < 3 or payload[3:].strip(payload[3:4]):
        raise AnswerError(f"expected 3 bytes in an answer that begins with 7F; found {len(payload)}")
    if payload[2] == _WAIT:
        return Decoded()
    meaning = _NO.get(payload[2], "a reason that the list does not name")
    return Decoded(refused=True, notes=(f"said no to service {payload[1]:02X}: {payload[2]:02X}, {meaning}",))


def told_format(payload: bytes) -> int | None:
    """Return the code format that a count answer (59 01 or 59 07) names, or None where it is no such answer."""
    is_count = len(payload) == 6 and payload[0] == 0x59 and payload[1] in (0x01, 0x07)
    return payload[3] if is_count else None


def asked_by(mask: int) -> tuple[str, ...]:
    """Return which codes a list that was asked for by a status mask could have named.

    Args:
        mask: The status mask of the request, less the bits that the module does not have.

    Returns:
        Words of ``ASKED_WORDS``.  A confirmed code is let through by bit 3, so that bit makes the list name every
        stored code, failing now or not.  Permanent codes are in a list of their own.

    Source:
        ISO 14229-1: a code is listed where its status and the mask have a bit in common.
    """
    return tuple(word for word, bits in _LETS_THROUGH.items() if any(mask & bit for bit in bits))


def read_list(payload: bytes, code_format: int, status_mask: int = _WHOLE_MASK) -> Decoded:
    """Read an answer that begins with 59.

    Args:
        payload: The whole answer.
        code_format: The code format identifier: 0 and 4 are SAE J2012 with a failure type, 2 is an SAE J1939 number
            and mode, 1 and 3 are kept as six hex digits, because only the maker knows them.  A report that names its
            format rules.
        status_mask: By which mask report 02 was asked for; all bits where the request is not known.

    Returns:
        The codes; or a note where the answer is of a kind that lists no faults.

    Raises:
        AnswerError: The answer is too short, or its bytes do not come out even.

    Source:
        ISO 14229-1: availability mask, then records of three bytes of code and one of status, some with severity in
        front or with bytes for memory or group before the mask (reports 17, 42 and 55).
    """
    if len(payload) < 2:
        raise AnswerError("expected the kind of report behind 59; found nothing")
    report = payload[1]
    if report not in _LISTS:
        name = _LEFT.get(report, "a report that is not known here")
        return Decoded(notes=(f"answer 59 {report:02X} ({name}) was left: it is no list of faults that is read here",))
    form = _LISTS[report]
    head, width = 2 + form.head, form.before + 4
    if len(payload) < head:
        wanted = "an availability mask" if form.head == 1 else f"{form.head} bytes"
        raise AnswerError(f"expected {wanted} behind 59 {report:02X}; found {len(payload) - 2 or 'nothing'}")
    mask = _WHOLE_MASK if form.mask is None else payload[2 + form.mask]
    code_format = code_format if form.kind is None else payload[2 + form.kind]
    records = without_filling(payload[head:], width) if form.records else payload[head : head + width]
    if len(records) % width or (not form.records and not records):
        raise AnswerError(f"expected {width} bytes a code; {len(records)} bytes leave {len(records) % width} over")
    codes = []
    for start in range(form.before, len(records), width):
        record = records[start : start + 4]
        counts, status = _status(report, record[3], mask)
        if counts and not _is_filling(record, code_format):
            codes.append(_code(record, code_format, status))
    return Decoded(tuple(codes), _asked(report, mask, status_mask), notes=_list_notes(report, mask, status_mask))


def _asked(report: int, mask: int, status_mask: int) -> tuple[str, ...]:
    """Return what a report could have named."""
    if report in (_PERMANENT, _PERMANENT_OBD):
        return ("permanent",)
    if report == _LISTED:
        return asked_by(status_mask & mask)
    return asked_by(mask) if report == _SUPPORTED else ()


def _list_notes(report: int, mask: int, status_mask: int) -> tuple[str, ...]:
    notes = []
    if not mask:
        notes.append(f"availability mask 00 in 59 {report:02X}: its status bytes mean nothing")
    if report == _LISTED and status_mask != _WHOLE_MASK:
        named = ", ".join(asked_by(status_mask & mask)) or "nothing that is a stored fault"
        notes.append(f"was asked by the status mask {status_mask:02X}: the list could name {named}")
    if report == _SUPPORTED:
        notes.append("answer 59 0A is a list of supported codes: those whose status tells of no fault were left out")
    elif report not in (_LISTED, _PERMANENT, _PERMANENT_OBD):
        notes.append(f"answer 59 {report:02X} ({_LISTS[report].name}) is no whole list of faults")
    return tuple(notes)


def _is_filling(record: bytes, code_format: int) -> bool:
    """All zeros or all ones is no code; P0000 is none whatever stands behind it."""
    zeros = record[:2] if code_format in (0, 4) else record[:3]
    return not any(zeros) or record == b"\xff\xff\xff\xff"


def _status(report: int, byte: int, mask: int) -> tuple[bool, str | None]:
    """Return whether an entry says anything of faults, and its status cell."""
    if report in (_PERMANENT, _PERMANENT_OBD):
        return True, "permanent"
    if not mask:
        return report != _SUPPORTED, None
    status = byte & mask
    text = f"{status:02X}"
    if status & (_FAILED | _NOT_TESTED):
        return True, text
    # No failure, and tested as far as it says: worth a row only where the module can say that it was not tested.
    return report != _SUPPORTED and mask & _NOT_TESTED == _NOT_TESTED, text


def _code(record: bytes, code_format: int, status: str | None) -> FoundCode:
    if code_format in (0, 4):
        return FoundCode(bytes_to_code(record[0], record[1]), f"{record[2]:02X}", status)
    if code_format == 2:
        number, mode = spn_and_fmi(record)
        return FoundCode(f"SPN{number}/{mode}", None, status)
    return FoundCode(f"0x{record[:3].hex().upper()}", None, status)
