"""Draft the patterns of a log whose lines name what they tell: a line begins a car's scan, those below name its units.

``... session start car=K-11 odo=180232km`` and below it ``... module=ECM codes=P0301:active,P0171:pending``.  The words
between the names are kept, what changes from line to line is not.  Where lines of two cars stand among each other, no
line below can be told to belong to one, and nothing is drafted here.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pipelines.reading.account import codes_in
from pipelines.reading.drafting.code_lines import CODE, each_pattern, fits, separator_of
from pipelines.reading.drafting.draft import Draft, literal
from pipelines.reading.drafting.guessing import CODE_WORDS
from pipelines.reading.drafting.scan_lines import FIELDS, Field, escaped, fields
from pipelines.reading.drafting.words import HEADINGS, NO_CODES, SILENT, STATUS, Modules, folded, known_in

_PAIR = re.compile(rf"(?<![\w.-])(?!{CODE}\b)([A-Za-z_][\w.-]{{0,40}})\s?([=:])\s?(?=\S)")
_ENOUGH, _FEWEST = 0.9, 2
_PART = r"[\s,;|]+"
_SHAPE = re.compile(r"\d+|\s+|[A-Z]{4,5}\b|[^\W\d_]+|.")
_LEVELS = {"INFO", "WARN", "DEBUG", "ERROR", "TRACE", "NOTE", "FATAL"}


@dataclass(frozen=True)
class _Labels:
    """The names along the lines with codes, in their order, and which of ours the others are by theirs."""

    order: tuple[str, ...]
    marks: Mapping[str, str]
    roles: Mapping[str, str]

    def of(self, role: str) -> str:
        """Return the name of a column of ours."""
        return next(name for name, found in self.roles.items() if found == role)


@dataclass(frozen=True)
class SessionLog:
    """The patterns of such a log.

    Attributes:
        head: What begins a scan.
        code: A line with codes.
        nothing: By ``no_codes`` and ``silent`` the pattern of lines that say so; None: no such line.
        held: The cells of codes.
        lost: Lines that name a module and that none of the patterns takes.
    """

    head: str
    code: str
    nothing: Mapping[str, str | None]
    held: list[str]
    lost: list[str]


def session_log(lines: Sequence[str], is_module: Modules) -> SessionLog | None:
    """Return the patterns of a log of sessions; None where the lines are none."""
    coded = [line for line in lines if codes_in([line])]
    labels = _labels(coded, is_module)
    if labels is None:
        return None
    module = labels.of("module")
    named = [line for line in lines if _value(line, module) is not None]
    begins = [line for line in lines if line not in {*named} and _car(line) is not None]
    if not begins:
        return None
    head = _head(begins[0])
    if head is None or any(fits(head, line) for line in named) or not _in_turn(lines, head, {*named}):
        return None
    code = _pattern(labels)
    if sum(fits(code, line) is not None for line in coded) < len(coded):
        return None
    rest = [line for line in named if line not in {*coded}]
    nothing, lost = _nothing(rest, labels, is_module)
    held = [match["code"] for line in coded if (match := fits(code, line))]
    return SessionLog(head, code, nothing, held, lost)


def put_sessions(draft: Draft, log: SessionLog, lines: Sequence[str], is_module: Modules) -> None:
    """Write the patterns of a log, and what parts the codes of a line; ask about what is left."""
    draft.line(f"scan = {literal(log.head)}", "text")
    draft.line(f"code = {literal(log.code)}", "text")
    for key, pattern in log.nothing.items():
        draft.line(f"{key} = {literal(pattern)}" if pattern else f"# {key} = '^...$'  # no such line was found", "text")
    shown = next(line for line in lines if fits(log.code, line))
    draft.reasons.append(f"text: lines like {shown.strip()!r} name the units of the car that a line above begins")
    each = each_pattern(log.held, is_module, has_module=True)
    if each is not None:
        draft.line(f"each = {literal(each)}", "codes")
        draft.reasons.append(f"codes.each: cells like {max(log.held, key=len)!r} hold codes, again and again")
    elif any(len(codes_in([cell])) > 1 for cell in log.held):
        crowded = next(cell for cell in log.held if len(codes_in([cell])) > 1)
        mark = separator_of(log.held)
        asks = f"What stands between the codes of cells like {crowded!r}?"
        mark = draft.ask("codes.separator", asks, mark, "no mark parts them all" if mark is None else "it parts them")
        if mark is not None:
            draft.put("separator", mark, table="codes")


def _pairs(line: str) -> list[tuple[str, str, str]]:
    """Return the names along a line with their marks and values, each value up to the next name."""
    found = [*_PAIR.finditer(line)]
    ends = [*(match.start() for match in found[1:]), len(line)]
    values = [line[match.end() : end].strip(" ,;|\t\"'") for match, end in zip(found, ends, strict=False)]
    return [(match[1], match[2], value) for match, value in zip(found, values, strict=True)]


def _value(line: str, name: str) -> str | None:
    return next((value for found, _, value in _pairs(line) if found == name), None)


def _labels(coded: Sequence[str], is_module: Modules) -> _Labels | None:
    """Return the names along lines with codes, where one has modules and one codes in nearly all of them."""
    pairs = [_pairs(line) for line in coded]
    orders = Counter(tuple(name for name, *_ in found) for found in pairs)
    if len(coded) < _FEWEST or not orders:
        return None
    order, times = orders.most_common(1)[0]
    if times < len(coded) or len({*order}) < len(order):
        return None
    cells = {name: [value for found in pairs for one, _, value in found if one == name] for name in order}
    roles: dict[str, str] = {}
    for name, values in cells.items():
        role = _role(name, values, is_module)
        if role is not None and role not in roles.values():
            roles[name] = role
    if not {"module", "code"} <= {*roles.values()}:
        return None
    return _Labels(order, {name: mark for name, mark, _ in pairs[0]}, roles)


def _role(name: str, values: Sequence[str], is_module: Modules) -> str | None:
    plain = folded(name)
    if all(re.match(CODE, value) for value in values):
        return "code"
    if sum(map(is_module, values)) >= _ENOUGH * len(values):
        return "module"
    filled = [value for value in values if value]
    if filled and all(known_in(STATUS, value) for value in filled):
        return "status"
    return next((role for role in ("text", "occurrences") if plain in HEADINGS["scans"][role]), None)


def _label(labels: _Labels, name: str) -> str:
    return rf"{escaped(name)}\s?{labels.marks[name]}\s?[\"']?"


def _pattern(labels: _Labels) -> str:
    """Return the pattern of lines with codes: every name in its order, the groups where they are wanted."""
    first = min(labels.order.index(name) for name in labels.roles)
    made = r"^.*?\b"
    for place, name in enumerate(labels.order[first:]):
        role = labels.roles.get(name)
        value = rf"(?:{CODE}).*?" if role == "code" else ".*?"
        made += (rf"[\"']?{_PART}" if place else "") + _label(labels, name)
        made += f"(?<{role}>{value})" if role else value
    return made + r"[\"']?[\s,;|]*$"


def _nothing(lines: Sequence[str], labels: _Labels, is_module: Modules) -> tuple[dict[str, str | None], list[str]]:
    """Return the patterns of lines that name a module and say that it has no code, or did not answer; and the rest."""
    module, code = labels.of("module"), labels.of("code")
    found: dict[str, set[str]] = {"no_codes": set(), "silent": set()}
    lost = []
    for line in lines:
        value = _value(line, module) or ""
        name = _module_at_start(value, is_module)
        words = value[len(name) :].strip(" ,;|:–-") if name else ""
        told = _value(line, code)
        said = words or told or ""
        none = _counts_none(line)
        if name and value == name and told is None and none:
            found["no_codes"].add(rf"[\"']?{_PART}(?:.*?\b)?{none}")
            continue
        key = "silent" if SILENT.search(said) else "no_codes" if NO_CODES.search(said) or said in ("", "[]") else None
        if not name or key is None or (not words and told is None):
            lost.append(line)
            continue
        end = (
            rf"[\s,;|:–-]+{escaped(words)}"
            if words
            else rf"[\"']?{_PART}(?:.*?\b)?{_label(labels, code)}{escaped(said)}"
        )
        found[key].add(end)
    lead = rf"^.*?\b{_label(labels, module)}(?<module>[^\s=].*?)"
    made = {
        key: rf"{lead}(?:{'|'.join(sorted(ends, key=lambda end: (-len(end), end)))})[\"'\]]?[\s.]*$" if ends else None
        for key, ends in found.items()
    }
    return made, lost


def _counts_none(line: str) -> str:
    """Return the pattern of a name for codes or faults with a 0 behind it at the end of a line; blank: none there."""
    name, mark, value = (_pairs(line) or [("", "", "")])[-1]
    counted = value == "0" and bool({*folded(name).split()} & (CODE_WORDS | {"fehler", "errors", "faults", "codes"}))
    return rf"{escaped(name)}\s?{mark}\s?0" if counted else ""


def _module_at_start(value: str, is_module: Modules) -> str:
    """Return the longest beginning of a value that names a module; blank where none does."""
    words = [*re.finditer(r"[^\s,;|:]+", value)]
    return next((value[: word.end()] for word in reversed(words) if is_module(value[: word.end()])), "")


def _car(line: str) -> str | None:
    field = next((one for one in fields(line) if one.column in ("vehicle", "vin")), None)
    return None if field is None else line[field.start : field.end]


def _head(line: str) -> str | None:
    """Return the pattern of the line that begins a scan, its own words between what it tells; None without a day."""
    told = [field for field in fields(line) if field.column in FIELDS]
    if "scanned_at" not in [field.column for field in told]:
        return None
    made, at = r"^", 0
    for field in told:
        made += _lead(line[at : field.start]) + _group(field)
        at = field.end
    return made


def _group(field: Field) -> str:
    return f"(?<{field.column}>{field.pattern})"


def _lead(words: str) -> str:
    """Return the pattern of what stands between two things that are told: any number for its numbers, any level."""
    made = ""
    for piece in _SHAPE.findall(words):
        if piece.isdigit():
            made += r"\d+"
        elif piece.isspace():
            made += r"\s+"
        elif piece in _LEVELS:
            made += "[A-Z]+"
        else:
            made += escaped(piece)
    return made


def _in_turn(lines: Sequence[str], head: str, named: set[str]) -> bool:
    """Say whether every line that names a car between two that begin a scan names the car of the first."""
    car: str | None = None
    for line in lines:
        other = _car(line)
        if fits(head, line):
            car = other
        elif (line in named and car is None) or (other is not None and car is not None and other != car):
            return False
    return True
