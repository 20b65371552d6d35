"""The emission codes and counters of SAE J1979 (ISO 15031-5): stored, pending, permanent, and what an erase reset.

On a CAN bus a list has a byte that counts its codes; on the older links it has
none and is filled up with zeros.  The bytes alone do not tell which, so the link
must be declared.
"""

from __future__ import annotations

from analysis.vocabulary.codes import bytes_to_code
from pipelines.reading.diagnostics.answers import AnswerError, Decoded, FoundCode

CODE_LISTS = {0x43: "confirmed", 0x47: "pending", 0x4A: "permanent"}
_ASKED = {0x43: "stored", 0x47: "pending", 0x4A: "permanent"}
# Bytes that fill a frame up: zeros, ones, and the patterns that some links use.
_FILLING = (b"\x00", b"\xff", b"\x55", b"\xaa", b"\xcc")
_WIDTHS = {0x01: 4, 0x1C: 1, 0x21: 2, 0x30: 1, 0x31: 2, 0x41: 4, 0x4D: 2, 0x4E: 2}


def read_codes(payload: bytes, counted: bool) -> Decoded:
    """Read an answer that begins with 43, 47 or 4A.

    Args:
        payload: The whole answer.
        counted: The link is CAN, where the second byte counts the codes.

    Returns:
        The codes, confirmed, pending or permanent; each list names its own kind and says nothing of the others.

    Raises:
        AnswerError: The count does not fit the bytes, or the bytes are odd.
    """
    body = _counted(payload) if counted else payload[1:]
    if len(body) % 2:
        raise AnswerError(f"expected 2 bytes a code on a link without a count byte; found {len(body)} bytes")
    pairs = [(body[at], body[at + 1]) for at in range(0, len(body), 2)]
    status = CODE_LISTS[payload[0]]
    codes = [FoundCode(bytes_to_code(*pair), None, status) for pair in pairs if pair not in ((0, 0), (255, 255))]
    return Decoded(tuple(codes), asked=(_ASKED[payload[0]],))


def _counted(payload: bytes) -> bytes:
    if len(payload) < 2:
        raise AnswerError(f"expected a count byte behind {payload[0]:02X}; found nothing")
    wanted, body = payload[1] * 2, payload[2:]
    if len(body) < wanted:
        raise AnswerError(f"expected {wanted} bytes for the {payload[1]} codes that are counted; found {len(body)}")
    if not _is_filling(body[wanted:]):
        raise AnswerError(
            f"expected {wanted} bytes for the {payload[1]} codes that are counted; found {len(body)} that are no "
            "mere filling"
        )
    return body[:wanted]


def _is_filling(rest: bytes) -> bool:
    return any(not rest.strip(byte) for byte in _FILLING)


def read_counters(payload: bytes) -> Decoded:
    """Read an answer that begins with 41: readiness and what has happened since the codes were erased.

    Args:
        payload: The whole answer; on a CAN bus it may hold several parameters one behind the other.

    Returns:
        Facts of the scan and notes.

    Raises:
        AnswerError: A parameter has too few bytes.

    Source:
        SAE J1979, parameters 01 (readiness), 21 (km with the lamp on), 30 (warm-ups), 31 (km) and 4E (minutes since
        the erase).
    """
    rest = payload[1:]
    facts: dict[str, str] = {}
    notes: list[str] = []
    if not rest:
        raise AnswerError("expected a parameter behind 41; found nothing")
    first = True
    while rest and (first or not _is_filling(rest)):
        width = _WIDTHS.get(rest[0])
        if width is None:
            notes.append(f"answer 41 {rest[0]:02X} was left: the parameter is not read here")
            break
        value = rest[1 : 1 + width]
        if len(value) < width:
            raise AnswerError(f"expected {width} bytes behind parameter {rest[0]:02X}; found {len(value)}")
        facts |= _facts(rest[0], value)
        notes += _notes(rest[0], value)
        rest, first = rest[1 + width :], False
    return Decoded(facts=facts, notes=tuple(notes))


def _facts(parameter: int, value: bytes) -> dict[str, str]:
    if parameter == 0x01:
        ready = monitors_ready(value)
        return {} if ready is None else {"monitors_ready": "true" if ready else "false"}
    names = {0x30: "warmups_since_erase", 0x31: "km_since_erase"}
    return {names[parameter]: str(int.from_bytes(value))} if parameter in names else {}


def monitors_ready(value: bytes) -> bool | None:
    """Return whether every readiness monitor that the module has is complete; None where it has none.

    Args:
        value: The four bytes of parameter 01: in the second, bits 0 to 2 say which continuous monitors there are and
            bits 4 to 6 which are incomplete; the third and fourth say the same of the others.
    """
    there = (value[1] & 7) << 8 | value[2]
    open_ones = there & ((value[1] >> 4 & 7) << 8 | value[3])
    return open_ones == 0 if there else None


def _notes(parameter: int, value: bytes) -> list[str]:
    number = int.from_bytes(value)
    if parameter == 0x21 and number:
        return [f"{number} km driven with the warning lamp on"]
    if parameter == 0x4E:
        return [f"{number} minutes run since the codes were erased"]
    return []
