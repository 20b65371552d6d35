"""What a file itself says that a unit of work is: ``1 AW = 5 Minuten``, ``12 AW = 1 Stunde``."""

from __future__ import annotations

import re
from collections.abc import Iterable

from pipelines.reading.drafting.words import WORK_UNITS, folded

_HOUR = 60.0
_SAID = re.compile(
    r"(?i)\b(\d{1,3}) ?([^\W\d_]{2,20}) ?(?:=|:|\bis\b|\bsind\b|\bentspr\w+) ?"
    r"(\d{1,3}(?:[.,]\d{1,2})?) ?(min\w*|mn|h|hours?|std|stunden?|heures?|horas?|ore|ora|uur|uren|godz\w*)\b"
)
"""A number of units, and the time that they are."""


def units_of_work(lines: Iterable[str]) -> dict[str, float]:
    """Return how many of each unit of work some lines say that an hour has, by its folded name."""
    told: dict[str, float] = {}
    for match in (match for line in lines for match in _SAID.finditer(line)):
        units, name, time = int(match[1]), folded(match[2]), float(match[3].replace(",", "."))
        minutes = time if match[4].lower().startswith("m") else time * _HOUR
        if name in WORK_UNITS and units and minutes:
            told[name] = round(_HOUR * units / minutes, 4)
    return told
