"""One spelling for the address of a control module, whichever way a tool writes it.

On 11 bits a module is asked on 7E0 to 7E7 and answers 8 higher; on 29 bits the
tester is F1 and its partner stands beside it; trucks have one source address.
"""

from __future__ import annotations

import re

_SHORT = re.compile(r"(?:0x)?(7[0-9a-f]{2})h?")
_LONG = re.compile(r"(?:0x)?18da(?:f1([0-9a-f]{2})|([0-9a-f]{2})f1)h?")
_FAULT_MESSAGE = re.compile(r"(?:0x)?1[0-9a-f]fec[ab]([0-9a-f]{2})h?")
_SOURCE = re.compile(r"sa ?0*([0-9]{1,3})")
_ANSWERS = "89abcdef"


def address_of(text: str) -> str | None:
    """Return the one spelling of a module's address.

    Args:
        text: An identifier such as ``7E8``, ``0x7e8``, ``7E8h`` or ``18DAF110``, or a J1939 source address, ``SA 11``
            or within the identifier of a fault message, ``18FECA0B``.

    Returns:
        The request's identifier in capitals (``7E0`` for 7E8, ``18DA10F1`` for 18DAF110, ``SA 11``), or None where the
        text is no address.  Identifiers from 700 on that the standard leaves to makers keep their own number, because
        nothing tells which of them is the answer to which.

    Source:
        ISO 15765-4: requests 7E0 to 7E7, answers 7E8 to 7EF; 18DA tt F1 asks and 18DA F1 ss answers.
    """
    plain = text.strip().casefold()
    if match := _SHORT.fullmatch(plain):
        digits = match[1]
        if digits.startswith("7e") and digits[2] in _ANSWERS:
            digits = f"7e{int(digits[2], 16) - 8}"
        return digits.upper()
    if match := _LONG.fullmatch(plain):
        return f"18DA{match[1] or match[2]}F1".upper()
    if match := _FAULT_MESSAGE.fullmatch(plain):
        return f"SA {int(match[1], 16)}"
    if match := _SOURCE.fullmatch(plain):
        return f"SA {match[1]}"
    return None
