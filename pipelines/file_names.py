"""Names of files made of what people call things: stock numbers, jobs, dropped files."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Iterable

_LONGEST = 60
# Names that Windows keeps for devices, whatever stands behind a dot.
_DEVICES = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?")


def sheet_names(vehicles: Iterable[str]) -> dict[str, str]:
    """Give each vehicle a file name of its own, without its ending.

    Args:
        vehicles: Stock numbers, of any letters.

    Returns:
        Vehicle to a name of ``A-Z a-z 0-9 . _ -`` that begins with none of the last three.  Where the stock number
        had to be changed, is a device's name, or differs from another only by case, a mark of eight digits of its
        SHA-256 follows: the name stays the same from week to week, whatever other cars there are.
    """
    listed = sorted(set(vehicles))
    folded = Counter(vehicle.casefold() for vehicle in listed)
    names = {}
    for vehicle in listed:
        name = re.sub(r"[^A-Za-z0-9._-]", "_", vehicle)[:_LONGEST].lstrip("._-").rstrip(".")
        if not name or name != vehicle or _DEVICES.fullmatch(name) or folded[vehicle.casefold()] > 1:
            name = f"{name or 'car'}-{hashlib.sha256(vehicle.encode()).hexdigest()[:8]}"
            name = f"car-{name}" if _DEVICES.fullmatch(name) else name
        names[vehicle] = name
    return names
