"""Which line of a printed text tells the car or the day, where its owner has to say so.

The lines that may be meant are offered, and the pattern is made of the one that was pointed at.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence

from pipelines.reading.drafting.code_lines import fits
from pipelines.reading.drafting.draft import NOTHING
from pipelines.reading.drafting.scan_lines import DATE, Field, any_digits, fields, heading, spaced

CAR, DAY = "text.scan.vehicle", "text.scan.scanned_at"
"""The questions which line tells the car, and which the day."""
_MOST = 8
_LONGEST = 100
_LABELLED = re.compile(r"\s*([^\W\d_][^:=]{0,40}?)\s*[:=]\s*(\S.*?)\s*$")
_NUMBERED = re.compile(r"(?<![\w-])(?=[\w-]*\d)[\w-]+(?![\w-])")


def lines_for(key: str, lines: Sequence[str], coded: Collection[str]) -> list[str]:
    """Return the lines that may tell the car or the day, one of each kind, in their order.

    Lines that differ in numbers alone, as those of several scans do, are of one kind.

    Args:
        key: ``CAR`` or ``DAY``.
        lines: The text.
        coded: Those that hold a code.
    """
    found = (line.strip() for line in lines if line not in coded and _value(key, line.strip()) is not None)
    kinds: dict[str, str] = {}
    for line in found:
        if len(line) <= _LONGEST:
            kinds.setdefault(re.sub(r"\d+", "0", line) if key == DAY else line, line)
    return [*kinds.values()][:_MOST]


def printed_day(lines: Sequence[str], coded: Collection[str], heads: Sequence[str]) -> str | None:
    """Return the line that tells when a text was printed, where no other tells a day: scans are printed when made."""
    days = lines_for(DAY, lines, coded)
    told = any("<scanned_at>" in pattern for pattern in heads)
    return days[0] if len(days) == 1 and not told and _PRINTED.match(days[0]) else None


_PRINTED = re.compile(r"(?i)\W*(?:print(?:ed)?(?: on| at)?|gedruckt(?: am)?|druckdatum|imprim[eé]|stampato)\s*:")


def pointed_at(
    answers: Mapping[str, str], lines: Sequence[str], coded: Collection[str], heads: Sequence[str]
) -> list[str]:
    """Return the patterns of a scan's heading with those of the lines that were pointed at, as their lines stand.

    Args:
        answers: What was answered, by the key of each question.
        lines: The text.
        coded: Those that hold a code.
        heads: The patterns that were found without being told.
    """
    made = [*heads]
    for key in (CAR, DAY):
        line = answers.get(key, NOTHING)
        if line in lines_for(key, lines, coded):
            made.append(_pattern(key, line))
    return sorted(
        made, key=lambda pattern: next((at for at, line in enumerate(lines) if fits(pattern, line)), len(lines))
    )


def form_of(key: str, line: str) -> str | None:
    """Return how a line tells the car or the day, as one of another file may too; None where it cannot."""
    return None if _value(key, line) is None else _pattern(key, line)


def alike_line(key: str, line: str, lines: Sequence[str]) -> str | None:
    """Return the one of some lines that tells the car or the day just as a line of another file does."""
    wanted = form_of(key, line)
    return next((one for one in lines if wanted is not None and form_of(key, one) == wanted), None)


def _pattern(key: str, line: str) -> str:
    field = _value(key, line)
    labelled = _LABELLED.match(line)
    if key == CAR and labelled:
        return rf"^\s*{spaced(labelled[1])}\s*[:=]\s*(?<vehicle>\S.*?)\s*$"
    return heading(line, [field] if field else [])


def _value(key: str, line: str) -> Field | None:
    """Return where a line tells the car or the day, None where it cannot."""
    date = DATE.search(line)
    if key == DAY:
        return Field("scanned_at", *date.span(), any_digits(date[0])) if date else None
    labelled = _LABELLED.match(line)
    if labelled and not (date and date.start() <= labelled.start(2)):
        return Field("vehicle", *labelled.span(2), r"\S.*?")
    told = [field for field in fields(line) if field.column in ("scanned_at", "scanned_at_2", "odometer")]
    outside = [
        number
        for number in _NUMBERED.finditer(line)
        if not (date and date.start() <= number.start() < date.end())
        and not any(field.start <= number.start() < field.end for field in told)
    ]
    return Field("vehicle", *outside[0].span(), r"[\w-]*\d[\w-]*") if outside else None
