"""What the failure type byte behind a code says, in our own words.

The first hex digit names a group (1 electrical ... 8 bus), the second how it
failed.  It tells wiring from settings and from mere hearsay: 1x is wiring or
part, 5x a module that wants coding, 8x usually a message that did not come.
"""

from __future__ import annotations

import re

_GROUPS = {
    "1": "electrical",
    "2": "signal",
    "3": "pulse or frequency signal",
    "4": "inside the control unit",
    "5": "programming or coding",
    "6": "calculation or plausibility",
    "7": "mechanical",
    "8": "data bus or message",
    "9": "component",
    "F": "defined by the maker",
}

# From memory of the public failure type lists, in our own words; a sub-type that is not here keeps its group's name.
_KINDS = {
    "11": "short to ground",
    "12": "short to battery",
    "13": "open circuit",
    "14": "short to ground or open",
    "15": "short to battery or open",
    "16": "voltage too low",
    "17": "voltage too high",
    "18": "current too low",
    "19": "current too high",
    "1A": "resistance too low",
    "1B": "resistance too high",
    "1C": "voltage out of range",
    "1D": "current out of range",
    "1E": "resistance out of range",
    "1F": "comes and goes",
    "21": "amplitude too small",
    "22": "amplitude too large",
    "23": "stuck low",
    "24": "stuck high",
    "25": "wrong shape",
    "26": "changes too slowly",
    "27": "changes too fast",
    "28": "shifted zero point",
    "29": "invalid",
    "2A": "stuck within its range",
    "2F": "erratic",
    "31": "no signal",
    "36": "frequency too low",
    "37": "frequency too high",
    "38": "wrong frequency",
    "39": "too few pulses",
    "3A": "too many pulses",
    "41": "checksum",
    "42": "memory",
    "43": "special memory",
    "44": "data memory",
    "45": "program memory",
    "46": "stored settings",
    "47": "watchdog",
    "48": "supervision software",
    "49": "electronics",
    "4B": "too hot",
    "51": "not programmed",
    "52": "not activated",
    "54": "calibration missing",
    "55": "not configured",
    "56": "wrong configuration",
    "57": "wrong software",
    "61": "wrong calculation",
    "62": "two signals disagree",
    "63": "protection time-out",
    "64": "implausible",
    "65": "too few events",
    "66": "too many events",
    "67": "wrong after an event",
    "71": "stuck",
    "72": "stuck open",
    "73": "stuck closed",
    "74": "slipping",
    "76": "wrongly mounted",
    "77": "position not reached",
    "78": "wrongly adjusted",
    "79": "linkage",
    "7A": "leak",
    "7B": "fluid too low",
    "7C": "too slow",
    "81": "invalid data received",
    "82": "wrong message counter",
    "83": "wrong protection value",
    "84": "value below range",
    "85": "value above range",
    "86": "signal marked invalid",
    "87": "message missing",
    "88": "bus off",
    "91": "outside its limits",
    "92": "works badly",
    "93": "does not work",
    "94": "works when it should not",
    "95": "wrongly assembled",
    "96": "internal fault",
    "97": "blocked",
    "98": "too hot",
    "9A": "operating conditions",
}


def failure_type_meaning(hex2: str) -> str | None:
    """Return what a failure type byte says.

    Args:
        hex2: Two hex digits in either case.

    Returns:
        "electrical: short to ground" for 11; the group alone where the sub-type is not listed or is 0; None for 00
        (no failure type) and for the reserved bytes (0A to 0F, A0 to EF).

    Raises:
        ValueError: ``hex2`` is not two hex digits.
    """
    byte = hex2.upper()
    if not re.fullmatch(r"[0-9A-F]{2}", byte):
        raise ValueError(f"expected 2 hex digits; got {hex2!r}")
    # 01 to 09 name a group and nothing more.
    group = _GROUPS.get(byte[1]) if byte[0] == "0" and byte[1] != "F" else _GROUPS.get(byte[0])
    if group is None or byte not in _KINDS:
        return group
    return f"{group}: {_KINDS[byte]}"
