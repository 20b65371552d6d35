"""Days without a year, as notes have them: ``7.2.``, ``12/05 14:30``, ``7 Feb``; a mapping says which year is meant."""

from __future__ import annotations

import re

from pipelines.reading.mapping.dates import is_month

_EDGE = r"(?<![\w/.,'+-])"
_WORD = r"[^\W\d_]{3,12}"
_POINTS = rf"{_EDGE}(?P<points>(?:0?[1-9]|[12]\d|3[01])\. ?(?:0?[1-9]|1[0-2])\.)(?! ?\d{{4}}|\d)"
_SLASH = rf"{_EDGE}(?P<slash>(?:0?[1-9]|[12]\d|3[01])/(?:0?[1-9]|[12]\d|3[01]))(?=[\s,;|\t\"):]|$)"
_DAY_FIRST = (
    rf"{_EDGE}(?P<named>(?:0?[1-9]|[12]\d|3[01])(?:\.|st|nd|rd|th|er|º)?(?: de)? (?P<month>{_WORD})\.?)"
    r"(?![^\W\d_]|,? ?(?:del? )?(?:19|20)\d\d|,? '?\d\d(?![\d:.h]))"
)
_MONTH_FIRST = (
    rf"(?<![^\W_])(?<!\d )(?<!\d\. )(?P<front>(?P<word>{_WORD})\.? (?:0?[1-9]|[12]\d|3[01])(?:st|nd|rd|th)?)"
    r"(?![\d.:h/]|,? ?(?:19|20)\d\d)"
)
_YEARLESS = re.compile("|".join((_POINTS, _SLASH, _DAY_FIRST, _MONTH_FIRST)))


def with_year(text: str, year: int) -> str:
    """Return a text with a year behind each day that has none."""

    def added(match: re.Match[str]) -> str:
        if not _is_day(match):
            return match[0]
        if match["points"]:
            return f"{match['points'].replace(' ', '')}{year}{_apart(match)}"
        if match["slash"]:
            return f"{match['slash']}/{year}"
        if match["named"]:
            return f"{match['named'].rstrip('.')} {year}"
        return f"{match['front']}, {year}"

    return _YEARLESS.sub(added, text)


def _apart(match: re.Match[str]) -> str:
    behind = match.string[match.end() : match.end() + 1]
    return " " if behind.isalnum() else ""


def _is_day(match: re.Match[str]) -> bool:
    word = match["month"] or match["word"]
    return word is None or is_month(word)


def yearless_in(text: str) -> list[tuple[str, int]]:
    """Return the days without a year in a text, and in which of its lines each stands, the first being 0."""
    return [
        (match[0], at)
        for at, line in enumerate(text.split("\n"))
        for match in _YEARLESS.finditer(line)
        if _is_day(match)
    ]
