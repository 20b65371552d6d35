"""The lists of fault codes that a module gives on service 19 of ISO 14229-1, and its ways to say no.

Every code comes with a status byte, and the availability mask in front says which
of its bits mean anything.  A list of codes that the module could set is no list of
faults: there the status decides.
"""

from __future__ import annotations

from analysis.vocabulary.codes import bytes_to_code
from pipelines.reading.diagnostics.answers import AnswerError, Decoded, FoundCode
from pipelines.reading.diagnostics.j1939 import spn_and_fmi

FORMATS = ("00", "01", "02", "03", "04")
_LISTED, _SUPPORTED, _PERMANENT = 0x02, 0x0A, 0x15
_LISTS = {
    _LISTED: "codes by status",
    _SUPPORTED: "supported codes",
    0x0B: "first failed code",
    0x0C: "first confirmed code",
    0x0D: "latest failed code",
    0x0E: "latest confirmed code",
    _PERMANENT: "permanent codes",
}
_LEFT = {
    0x01: "number of codes",
    0x03: "list of snapshots",
    0x04: "snapshot of one code",
    0x05: "stored data of one record",
    0x06: "extended data of one code",
    0x07: "number of codes by severity",
    0x08: "codes by severity",
    0x09: "severity of one code",
    0x14: "fault counters",
    0x17: "codes of a user memory",
    0x42: "emission codes by severity",
    0x55: "permanent emission codes",
    0x56: "codes of a readiness group",
}
_FAILED, _NOT_TESTED = 0x2F, 0x50
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


def read_list(payload: bytes, code_format: int) -> Decoded:
    """Read an answer that begins with 59.

    Args:
        payload: The whole answer.
        code_format: The code format identifier: 0 and 4 are SAE J2012 with a failure type, 2 is an SAE J1939 number
            and mode, 1 and 3 are kept as six hex digits, because only the maker knows them.

    Returns:
        The codes; or a note where the answer is of a kind that lists no faults.

    Raises:
        AnswerError: The answer is too short, or its bytes do not come out even.

    Source:
        ISO 14229-1, reports 02, 0A to 0E and 15: availability mask, then three bytes of code and one of status.
    """
    if len(payload) < 2:
        raise AnswerError("expected the kind of report behind 59; found nothing")
    report = payload[1]
    if report not in _LISTS:
        name = _LEFT.get(report, "an unknown report")
        return Decoded(notes=(f"answer 59 {report:02X} ({name}) was left: it is no list of faults that is read here",))
    if len(payload) < 3:
        raise AnswerError(f"expected an availability mask behind 59 {report:02X}; found nothing")
    mask, records = payload[2], payload[3:]
    if len(records) % 4:
        raise AnswerError(f"expected 4 bytes a code; {len(records)} bytes leave {len(records) % 4} over")
    codes = []
    for start in range(0, len(records), 4):
        record = records[start : start + 4]
        counts, status = _status(report, record[3], mask)
        if counts and not _is_filling(record, code_format):
            codes.append(_code(record, code_format, status))
    notes = () if mask else (f"availability mask 00 in 59 {report:02X}: its status bytes mean nothing",)
    return Decoded(tuple(codes), whole=report == _LISTED or (report == _SUPPORTED and mask != 0), notes=notes)


def _is_filling(record: bytes, code_format: int) -> bool:
    """All zeros or all ones is no code; P0000 is none whatever stands behind it."""
    zeros = record[:2] if code_format in (0, 4) else record[:3]
    return not any(zeros) or record == b"\xff\xff\xff\xff"


def _status(report: int, byte: int, mask: int) -> tuple[bool, str | None]:
    """Return whether an entry says anything of faults, and its status cell."""
    if report == _PERMANENT:
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
