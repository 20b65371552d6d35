"""The fault messages of trucks and vans, SAE J1939: DM1 lists what is active, DM2 what was, DM6 what is pending.

A code is a number (SPN) and a failure mode (FMI).  Some old modules pack the number
in another order; which one they do not say, so such a code is refused, not guessed.
"""

from __future__ import annotations

from pipelines.reading.diagnostics.answers import AnswerError, Decoded, FoundCode

# Numbers of the groups from SAE J1939-73; those behind DM2 from memory.
MESSAGES = {"DM1": "active", "DM2": "history", "DM6": "pending", "DM12": "active", "DM28": "permanent"}
PARAMETER_GROUPS = {0xFECA: "DM1", 0xFECB: "DM2", 0xFECF: "DM6", 0xFED4: "DM12", 0xFD80: "DM28"}
_PART_OF_A_LIST = "DM12"
_LAMPS = 2
_COUNT_UNKNOWN = 127


def spn_and_fmi(record: bytes) -> tuple[int, int]:
    """Return the suspect parameter number and the failure mode in the first three bytes of a code.

    Source:
        SAE J1939-73: 16 bits of the number, low byte first; its 3 high bits stand above the 5 bits of the mode.
    """
    return record[0] | record[1] << 8 | record[2] >> 5 << 16, record[2] & 31


def read_message(payload: bytes, kind: str) -> Decoded:
    """Read the payload of a fault message.

    Args:
        payload: Two bytes of lamps, then four a code; filling with FF at the end is ignored.
        kind: One of ``MESSAGES``.

    Returns:
        The codes with their counts.  DM1 is the whole list of active codes and names no other, DM2 that of earlier
        ones, DM6 of pending and DM28 of permanent ones; DM12 holds only those active codes that bear on emissions.

    Raises:
        AnswerError: It is too short, or its bytes do not come out even.
    """
    codes, over = payload[_LAMPS:], (len(payload) - _LAMPS) % 4
    if len(payload) < _LAMPS + 4:
        raise AnswerError(f"expected 2 bytes of lamps and 4 a code in {kind}; found {len(payload)} bytes")
    if over and codes[-over:].strip(b"\xff"):
        raise AnswerError(f"expected 2 bytes of lamps and 4 a code in {kind}; {len(payload)} bytes leave {over} over")
    found, flaws = [], []
    for start in range(0, len(codes) - over, 4):
        record = codes[start : start + 4]
        number, mode = spn_and_fmi(record)
        if record == b"\xff\xff\xff\xff" or (number, mode) == (0, 0):
            continue
        if record[3] & 0x80:
            flaws.append(
                f"expected a number in the standard's order; {record.hex(' ').upper()} is marked as another order "
                "(conversion method 1)"
            )
            continue
        times = record[3] & 127
        counted = None if times == _COUNT_UNKNOWN else str(times)
        found.append(FoundCode(f"SPN{number}/{mode}", None, MESSAGES[kind], counted))
    asked = () if kind == _PART_OF_A_LIST else (MESSAGES[kind],)
    return Decoded(tuple(found), asked, flaws=tuple(flaws))
