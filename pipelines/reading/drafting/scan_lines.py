"""Which lines of a text tell the car, the day and the odometer of a scan, and which patterns read them?

A line's own words are kept, what changes from scan to scan is not: make and model beside a
car's number are passed over, every number is any number.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from pipelines.reading.drafting.words import HEADINGS, TIME_HEADINGS, folded, units_of
from pipelines.reading.mapping.dates import MONTH_BEGINS, WEEKDAYS, is_month

TIME = r"\d{1,2}[:.hu]\d\d(?::\d\d(?:Z|[+-]\d\d:?\d\d)?)?(?: ?[AaPp]\.? ?[Mm]\b\.?)?(?: (?:Uhr|uur|h)\b)?"
_CLOCKED = r"\d{1,2}:\d\d(?::\d\d)?(?: ?[AaPp]\.? ?[Mm]\b\.?)?(?: Uhr)?"
_AT = r"um|at|à|ore|alle|alle ore|às|as|a las|om|kl\.?|klo|o|godz\.?|o godz\.?|o godzinie|godzina|v|w|ora|hora"
_WORD = r"[^\W\d_]{3,12}\.?"
_DAY = (
    rf"(?:\d{{4}}[./-]\d{{1,2}}[./-]\d{{1,2}}"
    rf"|\d{{1,2}}[./-]\d{{1,2}}[./-](?:\d{{4}}|\d{{2}})(?!\d)"
    rf"|\d{{1,2}}(?:\.|st|nd|rd|th|er|º)?(?: de)? {_WORD}(?: del?)? \d{{4}}"
    rf"|\d{{1,2}}[-/](?i:{MONTH_BEGINS})[^\W\d_]*\.?[-/]\d{{2,4}}|{_WORD} \d{{1,2}},? \d{{4}})"
)
DATE = re.compile(rf"(?<![\w.])(?:{_DAY}(?:(?:,? {{1,3}}|T|,? (?:{_AT}) | - ){TIME})?|{_CLOCKED},? {_DAY})(?![\d])")
_OFFSET = re.compile(r"(?<=:\d\d)(?:Z|[+-]\d\d:?\d\d)$")
CLOCK = re.compile(rf"(?<![\d:.-])(?:{_CLOCKED}(?: uur\b)?|\d{{1,2}}[.h]\d\d (?:Uhr|uur|h)\b)(?![\d:])")
_LABELLED_CLOCK = re.compile(rf"^\s*(?:{'|'.join(TIME_HEADINGS)})\s*[:=]\s*(\d{{1,2}}[.hu]\d\d(?: (?:uhr|uur|h))?)\s*$")
# Dates of other things: of the printout, of the program, of the car's papers.
_OTHER_DATE = re.compile(
    r"\b(?:print(?:ed)?|gedruckt|druckdatum|export(?:ed|iert)?|version|software|update[ds]?|license|licen[cs]e|lizenz"
    r"|valid|gultig|registration|registered|erstzulassung|zulassung|built|bau(?:jahr|datum)|next|nachste[rn]?|due"
    r"|service|inspection|hu|tuv|imprime|edite|impreso|impresion|stampato|warranty|birth|sold|bought)\b"
)
_ODOMETER = re.compile(
    r"(?<![\d.,:\w])(\d{1,3}(?:[.,'\u00a0\u202f ]\d{3})+(?:[.,]\d{1,2})?|\d+(?:[.,]\d{1,2})?)"
    r" ?(km|mi|miles|meilen)\b(?!/h)",
    re.IGNORECASE,
)
_NUMBER = r"(?:\d{1,3}(?:[.,' ]\d{3})+|\d+)(?:[.,]\d{1,2})?"
_PLAIN_NUMBER = r"\d{1,3}(?:[.,'\u00a0\u202f ]\d{3})+(?!\d)|\d+"
_BETWEEN = r"[ \t:;,|=#.\"()\[\]-]*"
_WEAK_LABELS = {"no", "nr", "number", "auto", "data", "read", "day", "tag", "when", "mi", "km", "distance", "plate"}
_NOT_THE_CAR = (
    r"(?<!report )(?<!order )(?<!job )(?<!invoice )(?<!page )(?<!per )(?<!software )(?<!serial )(?<!protocol )"
)


def _labels(column: str, *more: str) -> str:
    words = {*HEADINGS["scans"][column], *more} - _WEAK_LABELS
    return "|".join(re.escape(word).replace(r"\ ", r"[ .-]*") for word in sorted(words, key=len, reverse=True))


NUMBERED = r"(?:[ .-]*(?:(?:number|no|nr|id)\b\.?|n[.]? ?[°ºo]|№|#)|\b)"
"""The pattern of what stands between a word for a thing and its number: ``no.``, ``n.º``, ``#``, or nothing."""
_CAR = re.compile(
    rf"{_NOT_THE_CAR}\b(?:{_labels('vehicle', 'stock number', 'stock no', 'wagennummer', 'car id')}){NUMBERED}"
    rf"{_BETWEEN}([\w-]*\d[\w-]*)"
)
# Number plates as a few countries have them, printed with blanks or dashes.
PLATE = (
    r"(?:[A-ZÄÖÜ]{1,3}-[A-Z]{1,2} ?\d{1,4}[EH]?|[A-Z]{2}[ -]?\d\d[ -]?[A-Z]{3}"
    r"|[A-Z]{1,2}-\d{3}-[A-Z]{1,2}|\d{1,4} ?[A-Z]{3}"
    r"|[A-Z]{2} ?\d{3} ?[A-Z]{2}|[A-Z]{2,3} ?\d{4,5}[A-Z]?|[A-Z]{1,3} \d{3,5}|[A-Z]{3} \d{2,3}[A-Z]?"
    r"|[A-Z]{1,2}-\d{2,3}-[A-Z]{1,2}|\d{1,2}-[A-Z]{2,3}-\d{1,3}|[A-Z]{2,3}-\d{2,4} [A-Z]{2}\b)"
)
_PLATE = re.compile(rf"(?<![\w-]){PLATE}(?![\w-])")
_CAR_BEHIND_WORDS = re.compile(
    rf"{_NOT_THE_CAR}\b(?:{_labels('vehicle')}){NUMBERED}[ \t:;,|=]+[^\d:;|=]{{1,40}}?"
    r"[\s(\[#]([a-z]{1,4}-?\d{2,6})\b(?![ ,(]+(?:19|20)\d\d\b)"
)
_PLATE_LABEL = r"\breg(?:istration)?[ .-]*(?:plate|mark)\b|^\s*plate\b"
_CAR_LABEL = re.compile(rf"(?:{_PLATE_LABEL}|{_NOT_THE_CAR}\b(?:{_labels('vehicle')}){NUMBERED}){_BETWEEN}")
# A model year in front of make and model, and no number of the car.
_YEAR_OF_A_CAR = re.compile(r"(?:19[89]|20[0-4])\d[ ,]+[^\W\d_]{2}")
_BARE_CAR = re.compile(r"(?<![\w-])([A-Z]{1,4}-?\d{2,6})(?![\w-])")
_VIN = re.compile(r"(?<![a-z0-9])(?=[a-z0-9]*\d)(?=[a-z0-9]*[a-z])([a-hj-npr-z0-9]{17})(?![a-z0-9])")
_VIN_NAMES = {word for phrase in HEADINGS["scans"]["vin"] for word in phrase.split() if len(word) >= len("vin")}
_ODOMETER_LABEL = re.compile(
    rf"\b(?:{_labels('odometer', 'odo', 'km stand')}|km)\b[ .]*(?:[(\[]?(km|mi|miles)[)\]]?)?"
    rf"{_BETWEEN}({_PLAIN_NUMBER})\b"
)
# Words that mean other things too name the car where nothing else stands in their line.
_WEAKLY_LABELLED = re.compile(
    r"^\s*(?:auto|number|nr|no|plate)\.?\s*[:=]+\s*([a-z]{1,4}[ -]?\d{2,6}(?: ?[a-z]{1,3})?)\s*$"
)
_MOST_ALIKE = 0.7
FIELDS = ("vehicle", "vin", "scanned_at", "scanned_at_2", "odometer", "odometer_unit")


@dataclass(frozen=True)
class Field:
    """A value that was found in a line: what it is, where, the pattern that reads it, and one for what leads to it."""

    column: str
    start: int
    end: int
    pattern: str
    lead: str = ""


_BARE_PLATE = re.compile(rf"(?<![\w-])({PLATE})(?![\w-])")


def plain(line: str) -> str:
    """Return a line in small letters without accents, each sign in its place."""
    if line.isascii():
        return line.lower()
    return "".join((unicodedata.normalize("NFKD", sign)[:1] or sign).lower()[:1] or " " for sign in line)


@lru_cache(maxsize=65_536)
def fields(line: str) -> tuple[Field, ...]:
    """Return what a line tells of a scan, in the order it stands there."""
    found: list[Field] = []
    simple = plain(line)
    vin = _VIN.search(simple)
    if vin:
        # Behind its name a number that is written wrong is read too, so that it is told of and not passed over.
        named = any(word in _VIN_NAMES for word in folded(_label(simple, vin.start(1))).split())
        found.append(Field("vin", *vin.span(1), "[A-Za-z0-9]{17}" if named else "[A-HJ-NPR-Za-hj-npr-z0-9]{17}"))
    car, lead = _CAR.search(simple), ""
    if car is None and (car := _CAR_BEHIND_WORDS.search(simple)):
        label = re.match(r"[^\W\d_]+", line[car.start() :])
        lead = rf".*?\b{label[0] if label else ''}\b[^\d]*?[\s(\[#]"
    if car is None and (weak := _WEAKLY_LABELLED.match(simple)):
        car = weak
    plate = _PLATE.match(line, car.start(1)) if car is not None and not lead else _labelled_plate(line, simple)
    if plate is not None and not _taken(found, plate.start()) and not DATE.match(line, plate.start()):
        found.append(Field("vehicle", *plate.span(), rf"(?:{PLATE}|[\w-]*\d[\w-]*)"))
        car = None
    a_year = car is not None and _YEAR_OF_A_CAR.match(line, car.start(1)) is not None
    if car and not a_year and not _taken(found, car.start(1)) and not DATE.match(line, car.start(1)):
        found.append(Field("vehicle", *car.span(1), r"[A-Za-z]{1,4}-?\d{2,6}\b" if lead else r"[\w-]*\d[\w-]*", lead))
    found += _moment(line, simple)
    found += _distance(line, simple, found)
    return tuple(sorted(found, key=lambda field: field.start))


def _labelled_plate(line: str, simple: str) -> re.Match[str] | None:
    """Return a number plate behind a word for the car; the digits of one may stand behind a blank."""
    label = _CAR_LABEL.search(simple)
    return _PLATE.match(line, label.end()) if label else None


def _taken(found: Iterable[Field], place: int) -> bool:
    return any(field.start <= place < field.end for field in found)


def _moment(line: str, simple: str) -> list[Field]:
    found = []
    dates = [
        date
        for date in DATE.finditer(line)
        if not _OTHER_DATE.search(_label(simple, date.start())) and not _is_a_name(date[0])
    ]
    date = dates[0] if dates else None
    if date:
        bare = _OFFSET.sub("", date[0])
        zone = "" if bare == date[0] else r"(?:Z|[+-]\d\d:?\d\d)"  # summer and winter have one each
        found.append(Field("scanned_at", *date.span(), any_digits(bare) + zone))
    if not dates and DATE.search(line):
        return found  # the time of day belongs to a day of something else
    for clock in CLOCK.finditer(line):
        if date is None or not date.start() <= clock.start() < date.end():
            if (date is None or not is_timed(date[0])) and not _OTHER_DATE.search(_label(simple, clock.start())):
                found.append(Field("scanned_at_2", *clock.span(), any_digits(clock[0])))
            return found
    labelled = _LABELLED_CLOCK.match(simple)
    if labelled is not None:
        found.append(Field("scanned_at_2", *labelled.span(1), any_digits(line[slice(*labelled.span(1))])))
    return found


def _is_a_name(moment: str) -> bool:
    """Say whether what looks like a date has a word for its month that is none: ``Dune 2, 2017`` is a model's name."""
    word = _NAMED_DAY.match(moment)
    return word is not None and not is_month(word[1] or word[2])


_NAMED_DAY = re.compile(r"([^\W\d_]{3,12}\.?) \d{1,2},? \d{4}|\d{1,2}\.? ([^\W\d_]{3,12}\.?) \d{4}")


def is_timed(moment: str) -> bool:
    """Say whether a moment, as it is written, has a time of day."""
    return re.search(r"\d[:hu]\d\d|[ T]\d{1,2}\.\d\d$", moment) is not None


def _label(simple: str, end: int) -> str:
    """Return the words in front of a place, back to the number before."""
    return re.split(r"\d|;|\||\t| {3,}", simple[:end].rstrip(" :;|=\t"))[-1]


def _distance(line: str, simple: str, before: Sequence[Field]) -> list[Field]:
    match = next((match for match in _ODOMETER.finditer(line) if not _taken(before, match.start())), None)
    if match:
        return [
            Field("odometer", *match.span(1), _NUMBER),
            Field("odometer_unit", *match.span(2), r"(?i:km|miles|mi|meilen)\b"),
        ]
    labelled = _ODOMETER_LABEL.search(simple)
    if labelled and not _taken(before, labelled.start(2)):
        number = Field("odometer", *labelled.span(2), r"\d[\d.,' ]*")
        if labelled[1]:
            return [Field("odometer_unit", *labelled.span(1), r"(?i:km|miles|mi)\b"), number]
        return [number]
    return []


def any_digits(text: str) -> str:
    """Return a pattern for a date or time: any number for its numbers, any word for its words."""
    made = []
    for piece in re.findall(r"\d+|[^\W\d_]+\.?|\s+|.", text):
        if piece.isdigit():
            made.append(r"\d+")
        elif piece[0].isalpha():
            made.append(piece if piece in "Thàum" else r"[^\W\d_]+\.?")
        else:
            made.append(r"\s+" if piece.isspace() else escaped(piece))
    return "".join(made)


def escaped(text: str) -> str:
    """Return a pattern that fits a text and nothing else."""
    return re.sub(r"([\\.^$|?*+()\[\]{}])", r"\\\1", text)


def spaced(text: str) -> str:
    """Return a pattern that fits a text, with any blanks or none where it has some."""
    return "".join(r"\s*" if piece.isspace() else escaped(piece) for piece in re.findall(r"\s+|\S", text))


def scan_patterns(
    lines: Sequence[str],
    coded: set[str],
    wanted: Iterable[str] = FIELDS,
    begins: Iterable[str] = ("vehicle", "vin", "scanned_at"),
) -> list[str]:
    """Draft the patterns of a scan's heading: the first line that tells the car or the date begins it.

    Args:
        lines: The text.
        coded: Those lines that hold a code; the heading ends at the first of them.
        wanted: What to look for.
        begins: What the first line must tell one of.
    """
    patterns: list[str] = []
    left = set(wanted)
    first = {*begins} & left
    told = any(field.column == "vehicle" for line in lines if line not in coded for field in fields(line))
    numbered = None if told else _numbered(line for line in lines if line not in coded)
    for line in lines:
        if line in coded:
            if patterns:
                break
            continue
        found = [field for field in fields(line) if field.column in left]
        leading = _LEADING_NUMBER.match(line) if numbered is not None and "vehicle" in left and found else None
        if leading is not None and len(leading[1]) == numbered:
            found = [Field("vehicle", *leading.span(1), rf"\d{{{numbered}}}", _MARKS_OF_A_TITLE), *found]
        if not told and "vehicle" in left and any(field.column in ("scanned_at", "vin") for field in found):
            found = with_bare_car(line, found)
        names = {field.column for field in found}
        if not names & (left if patterns else first):
            continue
        patterns.append(_for_most(line, found, [other for other in lines if other not in coded]))
        left -= names
        whole = any(field.column == "scanned_at" and is_timed(line[field.start : field.end]) for field in found)
        left -= {"scanned_at_2"} if whole else {"odometer_unit"} if "odometer" in names else set()
        if not left - {"scanned_at_2"}:
            break
    return patterns


def _numbered(lines: Iterable[str]) -> int | None:
    """Return how many digits the bare numbers have that begin each line with a day and a distance: numbers of cars.

    Numbers that count the lines are none.
    """
    told = [line for line in lines if {"scanned_at", "odometer"} <= {field.column for field in fields(line)}]
    numbers = [match[1] if (match := _LEADING_NUMBER.match(line)) else "" for line in told]
    counted = all(int(after) == int(number) + 1 for number, after in pairwise(numbers) if number and after)
    lengths = {len(number) for number in numbers}
    return lengths.pop() if len(told) > 1 and len(lengths) == 1 and all(numbers) and not counted else None


_MARKS_OF_A_TITLE = r"[\s#*>•·=–-]*"
_LEADING_NUMBER = re.compile(rf"{_MARKS_OF_A_TITLE}(\d{{3,6}})\s*(?:[·|:;,–—-]|\s)\s*(?=\S)")


def _for_most(line: str, found: Sequence[Field], lines: Sequence[str]) -> str:
    """Return the pattern of a line; without its words where other lines that tell the same have other words."""
    pattern = heading(line, found)
    told = [field.column for field in found]
    bare = "vehicle" in told and "vehicle" not in [field.column for field in fields(line)]
    alike = [
        other
        for other in lines
        if [field.column for field in (with_bare_car(other, [*fields(other)]) if bare else fields(other))][: len(told)]
        == told
    ]
    if {*told} <= {"odometer", "odometer_unit"}:
        return pattern  # other distances stand alone in a line too
    if len(told) < 2 or len(alike) < 2 or _share(pattern, alike) > _MOST_ALIKE:
        return pattern
    made = ""
    for at, field in enumerate(found):
        before = found[at - 1] if at else None
        tight = before is not None and (before.column, field.column) == ("odometer", "odometer_unit")
        made += (r"\s*" if tight else ".*?") + f"(?<{field.column}>{field.pattern})"
    loose = f"^{made}" + (r"\b" if found[-1].pattern[-1] not in ")?.*" else "")
    return loose if _share(loose, alike) > _share(pattern, alike) else pattern


def _share(pattern: str, lines: Sequence[str]) -> float:
    compiled = re.compile(re.sub(r"\(\?<(\w+)>", r"(?P<\1>", pattern))
    return sum(compiled.search(line) is not None for line in lines) / len(lines)


def with_bare_car(line: str, found: list[Field]) -> list[Field]:
    """Add a car's number that stands without a word in front of it: the one text of letters and digits of its kind."""
    bare = [match for match in _BARE_CAR.finditer(line) if not _taken(found, match.start(1))]
    plates = [match for match in _BARE_PLATE.finditer(line) if not _taken(found, match.start(1))]
    # The first half of a plate looks like a number of a car.
    half = len(bare) == len(plates) == 1 and plates[0].start(1) == bare[0].start(1) < bare[0].end(1) < plates[0].end(1)
    if (len(bare) != 1 or half) and len(plates) == 1:
        return sorted([Field("vehicle", *plates[0].span(1), PLATE), *found], key=lambda field: field.start)
    if len(bare) != 1:
        return found
    shape = re.sub(r"\d+$", r"\\d+", bare[0][1])
    return sorted([Field("vehicle", *bare[0].span(1), shape), *found], key=lambda field: field.start)


def is_labelled(line: str) -> bool:
    """Say whether the first thing that a line tells of a scan has a word in front of it; true where it tells none."""
    found = fields(line)
    return not found or re.search(r"[^\W\d_]{2,}[\s:;,|.#(\[=\")\]-]*$", line[: found[0].start]) is not None


def heading(line: str, found: Sequence[Field]) -> str:
    """Return a pattern for one line: the word in front of each value, the value as a group, anything between."""
    made, at = "^", 0
    for number, field in enumerate(found):
        label = line[at : field.start]
        words = _words_before(label)
        if field.lead:
            made += field.lead
        elif words is not None and field.column in ("scanned_at", "done_at") and _is_weekday(words[0]):
            made += _before_weekday(label[: words.start()]) + r"[^\W\d_]+\.?,?\s*"
        elif field.column == "odometer_unit" and number and found[number - 1].column == "odometer":
            made += r"\s*"
        elif words is None:
            made += r"\s*" if not label.strip() else ".*?" + spaced(label.lstrip()[-1:])
        else:
            whole = label.strip() == words[0].strip()
            made += (
                (r"\s*" if whole and number == 0 else ".*?" if not whole else r"\s*")
                + r"\b" * (not whole)
                + spaced(words[0])
            )
        made += f"(?<{field.column}>{field.pattern})"
        at = field.end
    return made + (r"\b" if found[-1].pattern[-1] not in ")?.*" and not line[at : at + 1].isalnum() else "")


_LAST_WORDS = [rf"(?:[^\W\d_]+\.?[ .-]+){{{more}}}[^\W\d_]+\.?[\s:;,|.#°º№(\[=\")\]-]*$" for more in range(3)]


def _words_before(label: str) -> re.Match[str] | None:
    """Return the words that lead to a value: the last one, or as many as stand nowhere before a value in the line."""
    found = [words for pattern in _LAST_WORDS if (words := re.search(pattern, label))]
    alone = (one for one in found if not re.search(rf"(?i)\b{spaced(one[0])}(?=\d)", label[: one.start()]))
    return next(alone, found[0] if found else None)


def _before_weekday(label: str) -> str:
    """Return the pattern of what stands before a day of the week, which is another one in the next title."""
    words = re.search(r"[^\W\d_]+\.?[\s:;,|.#°º№(\[=\")\]-]*$", label)
    return r".*?\b" + spaced(words[0]) if words else r".*?\b" if label.strip() else r"\s*"


def _is_weekday(text: str) -> bool:
    return "".join(re.findall(r"[^\W\d_]+", text.lower())) in WEEKDAYS


def in_mil(lines: Iterable[str]) -> str | None:
    """Return a line whose odometer counts Scandinavian miles of 10 km, as the word behind it says; None: none does."""
    for line in lines:
        for field in fields(line):
            if field.column == "odometer" and re.match(r"\s?mil\b(?!\w)", line[field.end :], re.IGNORECASE):
                return line
    return None


def heading_unit(lines: Iterable[str]) -> str | None:
    """Return the unit that lines with an odometer name in words only, like ``Kilometerstand``."""
    for line in lines:
        if any(field.column == "odometer" for field in fields(line)):
            if "mi" in units_of(line) or "miles" in folded(line):
                return "mi"
            if re.search(r"kilom|\bkm|chilom", folded(line)):
                return "km"
    return None
