"""The list of fault codes by status of older modules, service 18 of ISO 14230-3 (KWP2000).

Each code is two bytes and a status byte of its own kind, which is not the one of
ISO 14229-1.  The standard's text was not at hand; what stands here is from memory of it.
"""

from __future__ import annotations

from analysis.vocabulary.codes import bytes_to_code
from pipelines.reading.diagnostics.answers import AnswerError, Decoded, FoundCode, without_filling

CODES_BY_STATUS = 0x58
REQUEST = 0x18
LEFT = {0x53: "codes without status", 0x57: "status of one code", 0x52: "freeze frame"}
_RECORD = 3
# Bits 5 and 6 of the status: not stored; stored and not there now; there and not yet ripe; there and stored.
_STORAGE = {0: None, 1: "history", 2: "pending", 3: "active"}
_EVERY_GROUP = (0xFF00, 0xFFFF)
_STORED_STATES = (0x00, 0x02)
_J2012 = (0, 4)


def read_codes(payload: bytes, code_format: int, request: bytes | None) -> Decoded:
    """Read an answer that begins with 58.

    Args:
        payload: The whole answer.
        code_format: 0 and 4: the two bytes are a SAE J2012 code; else they are a number of the maker's.
        request: The request that it answers, where it is known: 18, the states asked for, and two bytes of group.

    Returns:
        The codes that are stored or there now; an entry that is neither is a code that the module could set.  The list
        is whole where stored codes of every group were asked for, or where the request is not known.

    Raises:
        AnswerError: The count does not fit the bytes.
    """
    if len(payload) < 2:
        raise AnswerError("expected a count byte behind 58; found nothing")
    wanted = payload[1] * _RECORD
    records, over = payload[2 : 2 + wanted], payload[2 + wanted :]
    if len(records) < wanted or without_filling(over, 1):
        found = len(payload) - 2
        raise AnswerError(f"expected {wanted} bytes for the {payload[1]} codes that are counted; found {found}")
    codes = []
    for start in range(0, wanted, _RECORD):
        high, low, status = records[start : start + _RECORD]
        word = _STORAGE[status >> 5 & 3]
        if word is not None and (high, low) not in ((0, 0), (255, 255)):
            text = bytes_to_code(high, low) if code_format in _J2012 else f"0x00{high:02X}{low:02X}"
            codes.append(FoundCode(text, None, word))
    whole = request is None or _asks_for_all(request)
    notes = () if whole else (f"was asked by {request.hex(' ').upper()}: no whole list of faults",) if request else ()
    return Decoded(tuple(codes), ("active", "stored", "pending", "history") if whole else (), notes=notes)


def _asks_for_all(request: bytes) -> bool:
    states, group = request[1:2], int.from_bytes(request[2:4])
    return len(request) >= 4 and states[0] in _STORED_STATES and group in _EVERY_GROUP
