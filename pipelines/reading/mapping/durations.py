"""Times of work as people write them, each with its own unit: ``1 h 15 min``, ``1h30``, ``1,5 Std.``, ``45'``.

How the units are spelled in a few languages is common practice, no source.
"""

from __future__ import annotations

import re

_HOUR = (
    r"(?:hours?|hrs?|std|stunden?|heures?|horas?|ore|ora|uur|uren|godz|godziny|godzin|hod|hodin[ay]?|timer?|timmar|tim"
    r"|[uh])\b\.?"
)
_MINUTE = r"(?:(?:minut\w*|mins?|mn|mín|m)\b\.?|'|′)"
_NUMBER = r"\d{1,3}(?:[.,]\d{1,2})?"
_WRITTEN = re.compile(
    rf"(?:(?P<hours>{_NUMBER}) ?{_HOUR}(?: ?(?:and|und|et|y|e|en|i|a|og|och) | ?)"
    rf"(?:(?P<behind>[0-5]?\d) ?(?:{_MINUTE})?)?"
    rf"|(?P<minutes>{_NUMBER}) ?{_MINUTE}|(?P<clock>\d{{1,2}}):(?P<past>[0-5]\d)(?: ?{_HOUR})?)",
    re.IGNORECASE,
)
_RUN_TOGETHER = re.compile(r"(?<=\d)h(?=\d)", re.IGNORECASE)


def minutes_in(text: str) -> float | None:
    """Return the minutes of a time with its units; None where it is none, or a bare number, which may be of any."""
    found = _WRITTEN.fullmatch(_RUN_TOGETHER.sub(" h ", " ".join(text.split())))
    if found is None:
        return None
    if found["minutes"]:
        return _number(found["minutes"])
    if found["clock"]:
        return 60 * int(found["clock"]) + int(found["past"])
    return 60 * _number(found["hours"]) + int(found["behind"] or 0)


def _number(text: str) -> float:
    return float(text.replace(",", "."))
