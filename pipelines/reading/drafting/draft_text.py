"""Draft the patterns of a printed text from its lines: scan headings, module headings, lines with codes.

A heading's own words are kept, what changes from scan to scan is not: make and model beside a
car's number are passed over, every number is any number.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from pipelines.reading.account import LIKE_A_CODE
from pipelines.reading.drafting.dates import date_guess
from pipelines.reading.drafting.draft import Draft, literal
from pipelines.reading.drafting.draft_columns import ask_form, draft_words, put_marks
from pipelines.reading.drafting.guessing import IsModule
from pipelines.reading.drafting.numbers import number_guess
from pipelines.reading.drafting.words import HEADINGS, NO_CODES, SILENT, STATUS, folded, known_in

_CODE = re.compile(LIKE_A_CODE)
_TIME = r"\d{1,2}:\d\d(?::\d\d)?(?: ?[AaPp][Mm])?"
_WORD = r"[^\W\d_]{3,12}\.?"
_DATE = re.compile(
    rf"(?<![\w.])(?:\d{{4}}[./-]\d{{1,2}}[./-]\d{{1,2}}"
    rf"|\d{{1,2}}[./-]\d{{1,2}}[./-]\d{{2,4}}|\d{{1,2}}\.? {_WORD} \d{{4}}"
    rf"|\d{{1,2}}[-/]{_WORD}[-/]\d{{2,4}}|{_WORD} \d{{1,2}},? \d{{4}})(?:(?:,? |T){_TIME})?(?![\d.])"
)
_CLOCK = re.compile(rf"(?<![\d:.-]){_TIME}(?![\d:])")
_ODOMETER = re.compile(r"(?<![\d.,])(\d[\d.,'\u00a0\u202f ]*\d|\d) ?(km|mi|miles)\b", re.IGNORECASE)
_LABELS = sorted(HEADINGS["scans"]["vehicle"] + ("stock number", "stock no"), key=len, reverse=True)
_VEHICLE = re.compile(
    rf"\b(?:{'|'.join(map(re.escape, _LABELS))}|véhicule|vehículo)"
    r"(?: (?:number|no\.?|nr\.?))?\b[ \t:#.]*([\w-]*\d[\w-]*)",
    re.IGNORECASE,
)
_MODULE_LABEL = (
    r"(?:control unit|control module|steuerger[aä]t|steuergeraet|calculateur|module|modul|unit|ecu|system|centralita)"
)
_SHAPES = (
    # What stands around a module's name in its heading: a number in brackets, a number, a label, marks.
    r"^\s*\[\w+\]\s*(?<module>\S.*?)\s*$",
    r"^\s*\d+\s*[.):-]\s*(?<module>[^\d\s:][^:]*?)\s*:?\s*$",
    rf"^\s*(?i:{_MODULE_LABEL})\s*(?:\d+\s*)?[:\s]\s*(?<module>\S.*?)\s*:?\s*$",
    r"^\s*\[(?<module>[^\]]+)\]\s*$",
    r"^\s*[*=#-]+\s*(?<module>[^*=#]*[^*=#\s-])\s*[*=#-]*\s*$",
    r"^\s*(?<module>[^:\d][^:]*?)\s*:\s*$",
)  # fmt: skip
_LETTER = re.compile(r"[^\W\d_]")
_ENOUGH = 0.9


@dataclass(frozen=True)
class _Field:
    """A value that was found in a line: what it is, where, and the pattern that reads it."""

    column: str
    start: int
    end: int
    pattern: str


def draft_text(draft: Draft, lines: Sequence[str], is_module: IsModule) -> None:
    """Draft the patterns of a printed text.

    Args:
        draft: Gets the lines.
        lines: The text.
        is_module: Whether a text names a module.
    """
    lines = [line.rstrip() for line in lines if line.strip()]
    coded = [line for line in lines if _CODE.search(line) and not _VEHICLE.search(line)]
    heads = _scan_patterns(lines, coded)
    code, inline = _code_pattern(coded, is_module)
    module = None if inline else _module_pattern(lines, coded, is_module)
    _draft_values(draft, lines, [*heads, *filter(None, [module]), code], heads, is_module)
    if heads:
        draft.line("scan = [", "text")
        for pattern in heads:
            draft.line(f"    {literal(pattern)},", "text")
        draft.line("]", "text")
        draft.reasons.append(f"scan: the lines that tell the car and the date; {heads[0]!r} begins a scan")
    else:
        draft.ask("text.scan", "Which pattern begins a scan?", None, "no line tells a car or a date")
        draft.line("# scan = '^... (?<vehicle>\\S+) ... (?<scanned_at>...)$'  # no line tells a car or a date", "text")
    groups = {name.removesuffix("_2") for pattern in heads for name in _groups(pattern)}
    for column, what in (("vehicle", "the car"), ("scanned_at", "the date")):
        if heads and column not in groups and not (column == "vehicle" and "vin" in groups):
            draft.ask(f"text.scan.{column}", f"Which line tells {what}?", None, f"no line tells {what}")
    if module is not None:
        draft.line(f"module = {literal(module)}", "text")
        shown = next((line for line in lines if _fits(module, line)), "")
        draft.reasons.append(f"module: lines like {shown.strip()!r} hold a module's name")
    elif not inline:
        draft.ask(
            "text.module", "What do the headings of modules look like?", None, "no line holds only a module's name"
        )
        draft.line("# module = '^(?<module>...)$'  # no line was found that holds only a module's name", "text")
    draft.line(f"code = {literal(code)}", "text")
    draft.reasons.append(f"code: lines like {(coded or [''])[0].strip()!r}")
    _draft_nothing(draft, lines)
    _check_below(draft, lines, coded, [*heads, *filter(None, [module])], code)


def _groups(pattern: str) -> list[str]:
    return re.findall(r"\(\?<(\w+)>", pattern)


def _python(pattern: str) -> str:
    return pattern.replace("(?<", "(?P<").replace("(?P<=", "(?<=").replace("(?P<!", "(?<!")


def _fits(pattern: str, line: str) -> re.Match[str] | None:
    return re.search(_python(pattern), line)


def _draft_values(
    draft: Draft, lines: Sequence[str], patterns: Sequence[str], heads: Sequence[str], is_module: IsModule
) -> None:
    """Draft how dates and numbers are written and what words mean, from what the patterns take."""
    taken: dict[str, list[str]] = {}
    for line in lines:
        for pattern in patterns:
            match = _fits(pattern, line)
            if match:
                cells: dict[str, list[str]] = {name.removesuffix("_2"): [] for name in match.groupdict()}
                for name, text in match.groupdict().items():
                    if text is not None:
                        cells[name.removesuffix("_2")].append(text.strip())
                for name, pieces in cells.items():
                    taken.setdefault(name, []).append(" ".join(pieces))
                break
    dates = _dates_joined(lines, heads) or taken.get("scanned_at", [])
    if dates:
        form = ask_form(draft, date_guess(dates), dates)
        if form is not None and not re.fullmatch(r"%Y-%m-%d(?:[ T]%H:%M(?::%S)?)?", form):
            draft.put("date_formats", [form])
    put_marks(draft, {"odometer": number_guess(taken.get("odometer", []), whole=True)})
    if any(unit.lower() == "miles" for unit in taken.get("odometer_unit", ())):
        draft.put("miles", "mi", table="values.odometer_unit")
    draft_words(draft, taken, is_module)


def _dates_joined(lines: Sequence[str], heads: Sequence[str]) -> list[str]:
    """Return the dates of the scans, date and time of day joined as the reader joins them."""
    dates: list[str] = []
    for line in lines:
        for place, pattern in enumerate(heads):
            match = _fits(pattern, line)
            if match is None:
                continue
            named = match.groupdict()
            if named.get("scanned_at"):
                dates.append(named["scanned_at"].strip())
            if named.get("scanned_at_2") and dates:
                dates[-1] += " " + named["scanned_at_2"].strip()
            if place == 0 and not named.get("scanned_at") and named.get("scanned_at_2"):
                dates.append("")
            break
    return [date for date in dates if date]


def _scan_patterns(lines: Sequence[str], coded: Sequence[str]) -> list[str]:
    """Draft the patterns of a scan's heading: the first line that tells the car or the date begins it."""
    patterns: list[str] = []
    wanted = {"vehicle", "scanned_at", "odometer", "odometer_unit", "scanned_at_2"}
    for line in lines:
        if line in coded:
            if patterns:
                break
            continue
        fields = [
            field
            for field in _fields(line)
            if field.column in wanted and not (field.column == "scanned_at_2" and _has(patterns, "scanned_at_2"))
        ]
        if not {field.column for field in fields} & (wanted if patterns else {"vehicle", "scanned_at"}):
            continue
        patterns.append(_heading(line, fields))
        wanted -= {field.column for field in fields}
        if any(
            field.column == "scanned_at" and re.search(rf"{_TIME}$", line[field.start : field.end]) for field in fields
        ):
            wanted.discard("scanned_at_2")
        if not wanted - {"scanned_at_2"}:
            break
    return patterns


def _has(patterns: Sequence[str], group: str) -> bool:
    return any(f"?<{group}>" in pattern for pattern in patterns)


def _fields(line: str) -> list[_Field]:
    found = []
    if match := _VEHICLE.search(line):
        found.append(_Field("vehicle", *match.span(1), r"[\w-]*\d[\w-]*"))
    date = _DATE.search(line)
    if date:
        found.append(_Field("scanned_at", *date.span(), _digits(date[0])))
    for clock in _CLOCK.finditer(line):
        if date is None or not date.start() <= clock.start() < date.end():
            if date is None or not re.search(_TIME, date[0]):
                found.append(_Field("scanned_at_2", *clock.span(), _digits(clock[0])))
            break
    match = _ODOMETER.search(line)
    if match and not any(field.start <= match.start() < field.end for field in found):
        found.append(_Field("odometer", *match.span(1), r"\d[\d.,' ]*?"))
        found.append(_Field("odometer_unit", *match.span(2), "(?i:km|mi|miles)"))
    return sorted(found, key=lambda field: field.start)


def _digits(text: str) -> str:
    """Return a pattern for a date or time: any number for its numbers, any word for its words."""
    made = []
    for piece in re.findall(r"\d+|[^\W\d_]+\.?|\s+|.", text):
        if piece.isdigit():
            made.append(r"\d+")
        elif piece[0].isalpha():
            made.append("T" if piece == "T" else r"[^\W\d_]+\.?")
        else:
            made.append(r"\s+" if piece.isspace() else _escaped(piece))
    return "".join(made)


def _escaped(text: str) -> str:
    return re.sub(r"([\\.^$|?*+()\[\]{}])", r"\\\1", text)


def _heading(line: str, fields: Sequence[_Field]) -> str:
    """Return a pattern for one line: the word in front of each value, the value as a group, anything between."""
    made, at = "^", 0
    for number, field in enumerate(fields):
        label = line[at : field.start]
        words = re.search(r"[^\W\d_]+\.?[\s:.#(\[=-]*$", label)
        if field.column == "odometer_unit":
            made += r"\s*"
        elif words is None:
            made += r"\s*" if not label.strip() else ".*?" + _spaced(label.lstrip()[-1:])
        else:
            whole = label.strip() == words[0].strip()
            made += (
                (r"\s*" if whole and number == 0 else ".*?" if not whole else r"\s*")
                + r"\b" * (not whole)
                + _spaced(words[0])
            )
        made += f"(?<{field.column}>{field.pattern})"
        at = field.end
    last = fields[-1]
    return made + (r"\b" if last.pattern[-1] not in ")?" else "")


def _spaced(text: str) -> str:
    return "".join(r"\s*" if piece.isspace() else _escaped(piece) for piece in re.findall(r"\s+|\S", text))


def _module_pattern(lines: Sequence[str], coded: Sequence[str], is_module: IsModule) -> str | None:
    """Return the shape of the lines that hold a module's name and nothing else."""
    others = [line for line in lines if line not in coded and not _fields(line) and not _says_nothing(line)]
    for shape in _SHAPES:
        names = [match["module"].strip() for line in others if (match := _fits(shape, line))]
        if names and sum(map(is_module, names)) >= 0.5 * len(names):
            return shape
    bare = [line for line in others if is_module(line.strip())]
    if not bare:
        return None
    edge = min(len(line) - len(line.lstrip()) for line in bare)
    inside = [len(line) - len(line.lstrip()) for line in coded]
    if inside and min(inside) > edge and edge == max(len(line) - len(line.lstrip()) for line in bare):
        return rf"^\s{{{edge}}}(?<module>[^\d\s:|][^\d:|]*)$"
    names = sorted({line.strip() for line in bare}, key=lambda name: (-len(name), name))
    return rf"^\s*(?<module>{'|'.join(map(_escaped, names))})\s*$"


def _says_nothing(line: str) -> bool:
    return bool(_LETTER.search(line) and (NO_CODES.search(line.strip()) or SILENT.search(line.strip())))


def _code_pattern(coded: Sequence[str], is_module: IsModule) -> tuple[str, bool]:
    """Return the pattern of lines with a code, and whether it holds the module too."""
    code = r"(?<code>[PCBU][0-3][0-9A-F]{3}(?:-[0-9A-F]{2})?)"
    words = Counter(
        match[0] for line in coded for match in [re.search(r"[^\W\d_]+(?: [^\W\d_]+)*$", line.strip(" .)]"))] if match
    )
    known = sorted({ending for word in words for ending in _endings(word)}, key=lambda word: (-len(word), word))
    ways = [
        rf"^[^A-Z]*{code}[\s:|–-]*(?<text>.*?)\s*[(\[](?<status>[^()\[\]]+)[)\]]\s*$",
        rf"^[^A-Z]*{code}\s*[(\[](?<status>[^()\[\]]+)[)\]][\s:|–-]*(?<text>.*)$",
        rf"^[^A-Z]*{code}\s{{2,}}(?<text>\S.*?)\s{{2,}}(?<status>\S.*?)\s*$",
        rf"^[^A-Z]*{code}\s{{2,}}(?<status>\S.*?)\s{{2,}}(?<text>\S.*?)\s*$",
        *(
            rf"^[^A-Z]*{code}\s*{mark}\s*(?<text>.*?)\s*{mark}\s*(?<status>[^{mark[-1]}]+?)\s*$"
            for mark in (r"\|", "-", ";", ",", ":")
        ),
        *(
            rf"^[^A-Z]*{code}\s*{mark}\s*(?<status>[^{mark[-1]}]+?)\s*{mark}\s*(?<text>.*?)\s*$"
            for mark in (r"\|", "-", ";", ",", ":")
        ),
    ]
    if known:
        ways.append(
            rf"^[^A-Z]*{code}[\s:|,–-]*(?<text>.*?)[\s,:(\[|-]+(?<status>{'|'.join(map(_escaped, known))})[)\].]*\s*$"
        )
    for way in ways:
        matches = [match for line in coded if (match := _fits(way, line))]
        states = [match["status"].strip() for match in matches]
        if coded and len(matches) >= _ENOUGH * len(coded) and all(known_in(STATUS, state) for state in states):
            return way, False
    inline = rf"^\s*(?:\d+\s+)?(?<module>\S.*?)[\s:|–-]+{code}[\s:|–-]*(?<text>.*?)\s*$"
    named = [match["module"] for line in coded if (match := _fits(inline, line))]
    if coded and len(named) >= _ENOUGH * len(coded) and sum(map(is_module, named)) >= 0.6 * len(named):
        return inline, True
    return rf"^.*?\b{code}\b[\s:|–-]*(?<text>.*)$", False


def _endings(words: str) -> list[str]:
    """Return the ends of a line's last words that are a state's name, in the spelling of the line."""
    parts = words.split()
    return [ending for at in range(len(parts)) if known_in(STATUS, ending := " ".join(parts[at:]))][:1]


def _draft_nothing(draft: Draft, lines: Sequence[str]) -> None:
    for key, words in (("no_codes", NO_CODES), ("silent", SILENT)):
        found = [
            line
            for line in lines
            if not _CODE.search(line)
            and not _fields(line)
            and len(line.strip()) < 60
            and _LETTER.search(line)
            and words.search(line.strip())
        ]
        if not found:
            draft.line(f"# {key} = '^...$'  # no such line was found", "text")
            continue
        spellings = sorted({re.sub(r"\d+", r"\\d+", _escaped(line.strip())) for line in found})
        pattern = r"^\s*(?:" + "|".join(spellings[:20]) + r")\s*$"
        draft.line(f"{key} = {literal(pattern)}", "text")
        draft.reasons.append(f"{key}: lines like {found[0].strip()!r}")


def _check_below(draft: Draft, lines: Sequence[str], coded: Sequence[str], heads: Sequence[str], code: str) -> None:
    """Ask where lines below codes tell something that no pattern takes: the state of each code, for instance."""
    lost = []
    for above, line in pairwise(lines):
        if above not in coded or line in coded or _says_nothing(line) or any(_fits(pattern, line) for pattern in heads):
            continue
        words = folded(line.rpartition(":")[2]) or folded(line)
        if known_in(STATUS, words) or (len(line) - len(line.lstrip()) > len(above) - len(above.lstrip())):
            lost.append(line.strip())
    if len(lost) > 0.2 * len(coded):
        draft.ask(
            "text.below",
            f"Lines like {lost[0]!r} stand below codes and no pattern takes them; may they be left out (yes)?",
            None,
            "they may tell the state of a code, and a mapping looks at each line alone",
            ("yes",),
        )
