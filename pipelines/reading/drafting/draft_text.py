"""Draft the patterns of a printed text from its lines: scan headings, module headings, lines with codes.

What a scan's heading looks like, ``scan_lines`` says.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from pipelines.reading.account import LIKE_A_CODE, codes_in
from pipelines.reading.drafting.code_lines import (
    EACH,
    ask_states,
    code_pattern,
    each_pattern,
    fits,
    groups_in,
    listed_with_states,
    separator_of,
    with_numbers,
)
from pipelines.reading.drafting.date_guesses import date_guess
from pipelines.reading.drafting.draft import NOTHING, Draft, literal
from pipelines.reading.drafting.draft_values import (
    NO_MODULE,
    ask_form,
    draft_words,
    put_forms,
    put_marks,
    put_whole_car,
)
from pipelines.reading.drafting.guessing import says_nothing
from pipelines.reading.drafting.left_out import ask_left_out, ask_modules
from pipelines.reading.drafting.log_prefixes import plain_log, put_prefix
from pipelines.reading.drafting.log_sessions import put_sessions, session_log
from pipelines.reading.drafting.names import ask_time_of_names, both, car_in, date_in
from pipelines.reading.drafting.numbers import number_guess
from pipelines.reading.drafting.other_lists import ask_other_list
from pipelines.reading.drafting.pointed import CAR, DAY, lines_for, pointed_at, printed_day
from pipelines.reading.drafting.scan_lines import FIELDS, escaped, fields, heading_unit, scan_patterns, spaced
from pipelines.reading.drafting.words import HEADINGS, NO_CODES, SILENT, STATUS, Modules, folded, known_in
from pipelines.reading.mapping.mapping_file import BY_CODE
from pipelines.reading.mapping.printed_text import FURNITURE

_CODE = re.compile(LIKE_A_CODE)
_MODULE_LABEL = (
    r"(?:control unit|control module|(?:regel|steuer)?ger[aä]t|steuergeraet|calculateur|module|modul|m[oó]dulo|unit|ecu"
    r"|system|syst[eè]me|sistema|centralita|centralina|sterownik|sg|controller|address|adresse|addr\.?|adr\.?)"
)
_LABEL_BEHIND = r"[^\W\d_][^:=]*[:=].*$"
_SHAPES = (
    # What stands around a module's name in its heading: a number in brackets, a number, a label, marks.
    r"^\s*\[\w+\]\s*(?<module>\S.*?)\s*$",
    r"^\s*\d+\s*[.):-]\s*(?<module>[^\d\s:][^:]*?)\s*:?\s*$",
    rf"^\s*(?i:{_MODULE_LABEL})\b\s*(?:(?:0x)?[0-9A-F]{{1,4}}\b\s*)?[:=\s.-]\s*(?<module>[^\s:=].*?)\s*:?\s*$",
    # A label, the module, and after some blanks another label.
    rf"^\s*(?i:{_MODULE_LABEL})\b\s*[:=]\s*(?<module>[^\s:=].*?)(?:\s{{2,}}|\t){_LABEL_BEHIND}",
    r"^\s*\[(?<module>[^\]]+)\]\s*$",
    r"^\s*\[(?<module>[^\]]+)\]\s*\d+\s+[^\W\d_]+(?:\(\w+\))?\s*$",
    # An address, the name, and in brackets that address or another one.
    r"^\s*(?:0x)?[0-9A-F]{1,3}h?\s+[–-]?\s*(?<module>[^\W\d_][^:;|]*?)"
    r"(?:\s*[(\[](?i:(?:address|adresse|addr|adr|dir|dirección|id|no|nr)\b\.?:?\s*)?(?:0x)?[0-9A-F]{1,4}h?[)\]])?\s*:?\s*$",
    r"^\s*[*=#-]+\s*(?<module>[^*=#]*[^*=#\s-])\s*[*=#-]*\s*$",
    r"^\s*(?<module>[^:\d][^:]*?)\s*:\s*$",
    # A module and how many codes it has, or that it is in order.
    r"^\s*(?<module>[^\W\d_][^:;|]*?)\s*[(\[]\s*\d+\s*[)\]]\s*:?\s*$",
    r"^\s*(?<module>[^\W\d_][^:;|\d]*?)(?:\s{2,}|\s*[-–:(\[]+\s*)\d+\s+[^\W\d_]+(?:\(\w+\))?[)\]]?\s*:?\s*$",
    r"^\s*(?<module>[^\W\d_][^:;|\d]*?)(?:\s{2,}|\s*[-–:(\[]+\s*)[^\W\d_]+\s*:\s*\d+[)\]]?\s*$",
)  # fmt: skip
_COUNTS = (
    r"[(\[]\s*\d+\s*[)\]]\s*:?\s*$",
    r"(?:\s{2,}|\s*[-–:(\[]+\s*)\d+\s+[^\W\d_]+(?:\(\w+\))?[)\]]?\s*:?\s*$",
    r"(?:\s{2,}|\s*[-–:(\[]+\s*)[^\W\d_]+\s*:\s*\d+[)\]]?\s*$",
    r"\]\s*\d+\s+[^\W\d_]+(?:\(\w+\))?\s*$",
)
"""How headings of modules end that count their codes."""
_COUNT = re.compile(r"(?:[-–:(\[\]]\s*|\s{2,})(\d+)\s*(?:[^\W\d_]+(?:\(\w+\))?)?\s*[)\]]?\s*:?\s*$")
_LABELLED = re.compile(r"\s*([^\W\d_][^:=]{1,30}?)\s*[:=]\s*(\S.*?)\s*$")
_MODULE_FIRST = re.compile(r"\s*([^\d:=|]+?)\s*[:=|–-]+\s*([^:=|]+)$")
_AROUND = " ()[]-–"
_WORDS = r"^\s*(?<module>[^\W\d_][^\d:|;]{1,40})$"
_WORDING = re.compile(r"\s*[^\W\d_][^=]*")
_IN_BRACKETS = re.compile(r"\[[^\[\]]+\]")
_LETTER = re.compile(r"[^\W\d_]")
_ENOUGH = 0.9


def _draft_heads(draft: Draft, lines: Sequence[str], coded: Sequence[str], names: Sequence[str]) -> list[str]:
    """Return the patterns of a scan's heading, as found, as proposed and as pointed at."""
    heads = scan_patterns(lines, set(coded)) or scan_patterns(lines, set(coded), begins=FIELDS)
    printed = printed_day(lines, coded, heads) if date_in(names) is None else None
    if printed is not None:
        why = "no other line tells a day; most programs print a scan when it is made"
        draft.ask(DAY, "Which line tells the date?", printed, why, lines_for(DAY, lines, coded))
    return pointed_at({DAY: printed or NOTHING, **draft.answers}, lines, coded, heads)


def draft_text(draft: Draft, lines: Sequence[str], is_module: Modules, names: Sequence[str] = ()) -> None:
    """Draft the patterns of a printed text.

    Args:
        draft: Gets the lines.
        lines: The text.
        is_module: Whether a text names a module.
        names: Those of the files that the text comes from.
    """
    lines = [line.rstrip() for line in lines if line.strip() and not fits(FURNITURE, line.rstrip())]
    log = session_log(lines, is_module)
    plain = plain_log(lines) if log is None else None
    if log is None:
        _draft_blocks(draft, lines if plain is None else plain.lines, is_module, names)
        if plain is not None:
            put_prefix(draft, plain)
        return
    put_sessions(draft, log, lines, is_module)
    _draft_values(draft, lines, [log.head, log.code, *filter(None, log.nothing.values())], [log.head], is_module)
    ask_modules(draft, log.lost)


def _draft_blocks(draft: Draft, lines: Sequence[str], is_module: Modules, names: Sequence[str]) -> None:
    """Draft the patterns of a text of headings with lines below them."""
    coded = [line for line in lines if _holds_code(line)]
    if not coded and ask_other_list(draft, lines, is_module):
        return
    heads = _draft_heads(draft, lines, coded, names)
    code, inline = code_pattern(coded, is_module)
    code, coded = with_numbers(code, coded, [line for line in lines if not any(fits(head, line) for head in heads)])
    module = None if inline else module_pattern(lines, coded, is_module)
    above = [] if inline or module is not None else _words_above(lines, coded, heads)
    module = _WORDS if draft.answers.get("text.module") in above else module
    behind = module is not None and _stands_behind(module, lines, coded)
    found = _Below(
        lines, coded, [*heads, *filter(None, [module if not behind else None])], _filled(code, coded), is_module
    )
    below = [*found.patterns(), *([module] if behind and module else [])]
    patterns = [*heads, *below, *filter(None, [module]), code]
    groups = {name.removesuffix("_2") for pattern in patterns for name in groups_in(pattern)}
    groups |= _draft_names(draft, names, groups)
    _draft_values(draft, lines, patterns, heads, is_module)
    if "odometer" in groups and "odometer_unit" not in groups and (unit := heading_unit(lines)):
        draft.put("odometer_unit", unit, "the word in front of the number says so", "constants")
    _put_heads(draft, heads, groups, lines, coded)
    if behind:
        draft.reasons.append("module: it stands below the code that it belongs to")
    elif module is not None:
        draft.line(f"module = {literal(module)}", "text")
        shown = next((line for line in lines if fits(module, line)), "")
        draft.reasons.append(f"module: lines like {shown.strip()!r} hold a module's name")
    if not inline:
        _ask_module(draft, module, above)
    if module is not None and not behind:
        _ask_between(draft, module, lines, coded, is_module)
    draft.line(f"code = {literal(code)}", "text")
    draft.reasons.append(f"code: lines like {(coded or [''])[0].strip()!r}")
    if below:
        draft.line(f"below = [{', '.join(map(literal, below))}]", "text")
        draft.reasons.append(f"below: lines like {found.example.strip()!r} tell more of the code above them")
    groups |= _draft_several(draft, coded, code, is_module if inline else None)
    nothing = _draft_nothing(
        draft,
        [line for line in lines if behind or not _heads(module, line)],
        is_module,
        _counted("" if behind else module, lines, coded),
        inline=inline,
    )
    found.ask(draft, "status" in groups)
    if "status" not in groups:
        ask_states(
            draft, [text for line in coded if (match := fits(code, line)) and (text := match.groupdict().get("text"))]
        )
    ask_left_out(draft, lines)
    _ask_heads(draft, lines, coded, patterns)
    _ask_modules(draft, lines, [*patterns, *nothing], is_module)
    if not above:
        _ask_strangers(draft, lines, coded, patterns)


def _draft_several(draft: Draft, coded: Sequence[str], code: str, inline: Modules | None) -> set[str]:
    """Draft what parts several codes of a line, and each from its state; return the groups that this takes."""
    listed = listed_with_states(coded, inline) if inline is not None else None
    if inline is not None and listed is not None:
        draft.put("separator", listed[1], f"several codes stand in one line, {listed[1]!r} between them", "codes")
        draft.line(f"code = {literal(listed[2])}", "pick")
        draft_words(
            draft, {"status": [match["status"] for one in listed[3] if (match := fits(listed[2], one))]}, inline
        )
        return {*groups_in(listed[2])}
    if any(len(codes_in([line])) > 1 for line in coded):
        held = [match["code"] for line in coded if (match := fits(code, line))]
        mark = separator_of(held)
        if mark is None and each_pattern(held, inline or Modules(lambda _: False), has_module=True) == EACH:
            draft.line(f"each = {literal(EACH)}", "codes")
            return set()
        why = "it stands between them" if mark else "no mark parts the codes of a line in a way that is known here"
        shown = next(line.strip() for line in coded if len(codes_in([line])) > 1)
        mark = draft.ask("codes.separator", f"What stands between the codes of lines like {shown!r}?", mark, why)
        if mark is not None:
            draft.put("separator", mark, table="codes")
    return set()


def _filled(pattern: str, lines: Sequence[str]) -> list[str]:
    """Return the groups of a pattern that hold something in most of some lines."""
    matches = [match for line in lines if (match := fits(pattern, line))]
    return [name for name in groups_in(pattern) if sum(bool(match[name]) for match in matches) > 0.5 * len(matches)]


def _ask_heads(draft: Draft, lines: Sequence[str], coded: Sequence[str], patterns: Sequence[str]) -> None:
    """Ask about lines that tell a car and a day, as the heading of a scan does, and that no pattern takes."""
    held = {*coded}
    for line in lines:
        told = {field.column.removesuffix("_2") for field in fields(line)} - {"odometer_unit"}
        begins = line not in held and len(told) > 1 and told & {"vehicle", "vin", "scanned_at"}
        if begins and not any(fits(pattern, line) for pattern in patterns):
            asks = f"Does {line.strip()[:100]!r} begin a scan? No pattern takes it; may such lines be passed over?"
            draft.ask_leave("text.scan", asks, "the codes below it would count for the scan before")
            return


def _ask_modules(draft: Draft, lines: Sequence[str], patterns: Sequence[str], is_module: Modules) -> None:
    """Ask about lines that fit nothing and hold a module's name, alone or with words that it stored nothing."""
    lost = []
    for line in lines:
        name, told = line.strip(" |;,:-*[]"), _MODULE_FIRST.match(line)
        bare = bool(name) and not name.isdigit() and not _says_nothing(line) and is_module(name)
        clean = told is not None and _says_nothing(told[2]) and is_module(_bare_name(told[1]))
        if (bare or clean or _clean_module(line, is_module)) and not any(fits(pattern, line) for pattern in patterns):
            lost.append(line)
    ask_modules(draft, lost)


def _clean_module(line: str, is_module: Modules) -> bool:
    """Say whether a line without a code names a module and then says in words that it has none, or no answer."""
    if _CODE.search(line) or fields(line):
        return False
    words = re.split(r"[\s:;,|=#()\[\]-]+", line)
    said = next((at for at in range(1, len(words)) if says_nothing(" ".join(words[at:]))), None)
    before = words[: said or 0]
    return any(is_module(" ".join(before[at:])) for at in range(max(0, len(before) - 3), len(before)))


def _ask_strangers(draft: Draft, lines: Sequence[str], coded: Sequence[str], patterns: Sequence[str]) -> None:
    """Ask about words alone on a line right above codes that fit nothing: a module of that name may begin there."""
    held = {*coded}
    below: dict[str, list[bool]] = {}
    for above, line in pairwise(lines):
        begins = (line in held and above not in held) or (_says_nothing(line) and not fits(patterns[-1], line))
        below.setdefault(above, []).append(begins)
    for above, begin in below.items():
        # The title of a page stands above other lines too.
        strange = all(begin) and fits(_WORDS, above) and not _says_nothing(above) and not _is_title(above)
        if strange and not any(fits(pattern, above) for pattern in patterns):
            asks = f"Is {above.strip()!r} a module? What stands below it would belong to the one before."
            draft.ask_leave("text.strangers", f"{asks} May such lines be passed over?", _STRANGE)
            return


def _ask_module(draft: Draft, module: str | None, above: Sequence[str]) -> None:
    """Ask which lines name the modules where none is known to, and keep the answer; each code may say it as well."""
    if module is not None and "text.module" not in draft.answers:
        return
    why = f"no line holds only the name of a module that is known. {NO_MODULE}"
    draft.ask("text.module", "What do the headings of modules look like?", None, why, above)
    if draft.answers.get("text.module") == NOTHING:
        draft.put("module", BY_CODE, NO_MODULE, "constants")
    elif module is None:
        draft.line("# module = '^(?<module>...)$'  # no line was found that holds only a module's name", "text")


def _words_above(lines: Sequence[str], coded: Sequence[str], heads: Sequence[str]) -> list[str]:
    """Return the lines of words alone that stand right above codes, each once: one may name a module."""
    held = {*coded}
    found = (above.strip() for above, line in pairwise(lines) if line in held and above not in held)
    words = (line for line in found if fits(_WORDS, line) and not _says_nothing(line))
    return list(dict.fromkeys(line for line in words if not any(fits(head, line) for head in heads)))


def _is_title(line: str) -> bool:
    """Say whether a line names what follows, codes or modules, in the words that columns are named with."""
    words = folded(line).split()
    return bool(words) and all(word in _TITLES for word in words)


_TITLES = {
    word
    for name in ("code", "module", "status", "text")
    for phrase in HEADINGS["scans"][name]
    for word in phrase.split()
}
_TITLES |= {
    "modules",
    "list",
    "memory",
    "results",
    "found",
    "stored",
    "read",
    "out",
    "report",
    "fehlerspeicher",
    "speicher",
}


def _heads(module: str | None, line: str) -> bool:
    """Say whether a line is a module's heading, and no words that say that there is nothing."""
    match = fits(module, line) if module else None
    return match is not None and not _says_nothing(match["module"])


_STRANGE = "it stands right above codes, and no pattern takes it"


def _holds_code(line: str) -> bool:
    """Say whether a line holds a code that is not a car's number."""
    cars = [field for field in fields(line) if field.column in ("vehicle", "vin")]
    return any(not any(field.start <= match.start() < field.end for field in cars) for match in _CODE.finditer(line))


def _draft_names(draft: Draft, names: Sequence[str], groups: set[str]) -> set[str]:
    """Take what no line tells out of the names of the files; return what they tell."""
    asked = [None if {"vehicle", "vin"} & groups else car_in(names), None]
    day = None if "scanned_at" in groups else date_in(names)
    asked[1] = day[0] if day is not None else None
    patterns = [pattern for pattern in asked if pattern is not None] if names else []
    pattern = both(patterns, names) if len(patterns) > 1 else next(iter(patterns), None)
    if pattern is None:
        return set()
    draft.line(f"file = {literal(pattern)}", "names")
    told = {*groups_in(pattern)}
    draft.reasons.append(f"names.file: no line tells {' and '.join(sorted(told))}, and names like {names[0]!r} do")
    if day is not None and "scanned_at" in told:
        draft.put("date_formats", [day[1]])
        ask_time_of_names(draft, names, day[0])
    return told


def _put_heads(
    draft: Draft, heads: Sequence[str], groups: set[str], lines: Sequence[str], coded: Sequence[str]
) -> None:
    given = {column for key, column in ((CAR, "vehicle"), (DAY, "scanned_at")) if draft.told_of_all(key)}
    told = groups | given | ({"vehicle"} if "vin" in groups else set())
    if heads:
        draft.line("scan = [", "text")
        for pattern in heads:
            draft.line(f"    {literal(pattern)},", "text")
        draft.line("]", "text")
        draft.reasons.append(f"scan: the lines that tell the car and the date; {heads[0]!r} begins a scan")
    elif (title := lines[0] if lines and lines[0] not in coded else None) and {"vehicle", "scanned_at"} <= told:
        draft.line(f"scan = {literal('^' + escaped(title) + '$')}", "text")
        draft.reasons.append("scan: each file is one scan; its first line begins it")
    else:
        draft.line("# scan = '^... (?<vehicle>\\S+) ... (?<scanned_at>...)$'  # no line tells a car or a date", "text")
    for key, column, what, shown in (
        (CAR, "vehicle", "the car", "'S-104 faults.txt' or 'car 104 faults.txt'"),
        (DAY, "scanned_at", "the date", "'2026-11-20 faults.txt'"),
    ):
        if key in draft.answers or not (column in groups or (column == "vehicle" and "vin" in groups)):
            why = f"no line is known to; where none does, the file's name may, like {shown}"
            draft.ask(key, f"Which line tells {what}?", None, why, lines_for(key, lines, coded))
            if (answer := draft.told_of_all(key)) is not None:
                draft.put(column, answer, "as answered", "constants")
    first = next((line for line in lines if line in coded or any(fits(pattern, line) for pattern in heads)), "")
    if heads and first in coded:
        draft.ask(
            "text.scan",
            f"Which pattern begins a scan? Codes like {first.strip()!r} stand above the first line that tells a car.",
            None,
            "what stands below codes may belong to them or to those that follow",
        )


def _stands_behind(module: str, lines: Sequence[str], coded: Sequence[str]) -> bool:
    """Say whether the module of each code stands below it, as in records that begin with the code."""
    marks = ["code" if line in coded else "module" for line in lines if line in coded or fits(module, line)]
    return bool(marks) and marks[0] == "code" and marks[::2] == ["code"] * len(marks[::2]) and len(marks) % 2 == 0


class _Below:
    """Looks at the lines below codes: which tell more of the code, and which nobody understands."""

    def __init__(
        self,
        lines: Sequence[str],
        coded: Sequence[str],
        heads: Sequence[str],
        known: Sequence[str],
        is_module: Modules,
    ) -> None:
        self._is_module = is_module
        self.example = ""
        self._known = {*known}
        self._found: dict[str, list[str]] = {}
        self._coded = len(coded)
        self.lost: list[str] = []
        under, fresh = "", False
        self._wordings: list[str] = []
        self._outside: list[str] = []
        for line in lines:
            if line in coded:
                under = line
            elif any(fits(pattern, line) for pattern in heads) or (_says_nothing(line) and not _is_wording(line)):
                under = ""
            elif under:
                self._look(line, under, first=fresh)
            if not under or line in coded:
                self._outside.append(line)
            fresh = line in coded

    def _look(self, line: str, above: str, *, first: bool) -> None:
        match = _LABELLED.match(line)
        column = None
        if match:
            column = _column_of(match[1], match[2])
            key = rf"^\s*{spaced(match[1])}\s*[:=]\s*(?<{column}>\S.*?)\s*$"
        elif known_in(STATUS, line):
            column, key = "status", line.strip(_AROUND)
        if column is None and first and "text" not in self._known and _WORDING.fullmatch(line):
            self._wordings.append(line)
        if column is not None and column not in self._known:
            self.example = self.example or line
            self._found.setdefault(column if match is None else "", []).append(key)
        elif match is None and _indent(line) > _indent(above):
            self.lost.append(line)

    def _names_module(self, line: str) -> bool:
        name = line.strip(" \t:*-[]")
        return self._is_module(name) or (":" in name and self._is_module(name.partition(":")[2].strip()))

    def patterns(self) -> list[str]:
        """Return the patterns of the lines that tell more."""
        made = list(dict.fromkeys(self._found.get("", ())))
        modules = sum(map(self._names_module, self._wordings))
        if len(self._wordings) >= _ENOUGH * self._coded and modules < 0.5 * len(self._wordings):
            # The line right below each code is its wording, and stands as far in everywhere.
            edges = {_indent(line) for line in self._wordings}
            self.lost = [line for line in self.lost if line not in self._wordings]
            edge = edges.pop() if len(edges) == 1 else 0
            pattern = rf"^\s{{{edge}}}(?<text>[^\W\d_]\D.*)$"
            if edge and not self.lost and not any(fits(pattern, line) for line in self._outside):
                self.example = self.example or self._wordings[0]
                made.append(pattern)
        words = sorted(set(self._found.get("status", ())), key=lambda word: (-len(word), word))
        if words:
            made.append(rf"^[\s(\[–-]*(?<status>{'|'.join(map(escaped, words))})[\s)\]]*$")
        return made

    def ask(self, draft: Draft, has_status: bool) -> None:
        """Ask whether lines may be left out that may tell the state of a code."""
        if len(self.lost) > 0.2 * self._coded and not has_status:
            asks = f"Lines like {self.lost[0].strip()!r} stand below codes and no pattern takes them"
            draft.ask_leave("text.below", f"{asks}; may they be left out?", "they may tell the state of a code")


def _is_wording(line: str) -> bool:
    """Say whether a line has a label for the wording of a code: below a code, ``no answer from`` is what it means."""
    match = _LABELLED.match(line)
    return match is not None and folded(match[1]) in HEADINGS["scans"]["text"]


def _column_of(label: str, value: str) -> str | None:
    """Return what a line ``label: value`` below a code tells of it."""
    plain = folded(label)
    if plain in HEADINGS["scans"]["status"] or known_in(STATUS, value):
        return "status"
    if plain in HEADINGS["scans"]["text"]:
        return "text"
    if plain in HEADINGS["scans"]["occurrences"] and value.isdecimal():
        return "occurrences"
    if plain in HEADINGS["scans"]["failure_type"] and re.fullmatch("(?:0x)?[0-9A-Fa-f]{2}", value):
        return "failure_type"
    return None


def _draft_values(
    draft: Draft, lines: Sequence[str], patterns: Sequence[str], heads: Sequence[str], is_module: Modules
) -> None:
    """Draft how dates and numbers are written and what words mean, from what the patterns take."""
    taken: dict[str, list[str]] = {}
    for line in lines:
        for pattern in patterns:
            match = fits(pattern, line)
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
            put_forms(draft, form)
        _ask_time(draft, form, lines, heads)
    put_marks(draft, {"odometer": number_guess(taken.get("odometer", []), whole=True, printed=True)})
    for unit in sorted({unit.lower() for unit in taken.get("odometer_unit", ())} - {"km", "mi"}):
        draft.put(unit, "mi", table="values.odometer_unit")
    draft_words(draft, taken, is_module)


def _ask_time(draft: Draft, form: str | None, lines: Sequence[str], heads: Sequence[str]) -> None:
    """Ask about what looks like a time of day right behind a date and was not taken."""
    if form is None or "%" not in form or re.search("%[HI]", form):
        return
    for line in lines:
        match = next((match for head in heads if "scanned_at" in head and (match := fits(head, line))), None)
        if match is not None and match.groupdict().get("scanned_at"):
            left = _CLOCK_BEHIND.match(line[match.end("scanned_at") :])
            if left is not None:
                asks = f"{left[0].strip()!r} in {line.strip()!r} may be the time of day; may it be left out?"
                draft.ask_leave("text.time", asks, "it has no form that is known here")
            return


_CLOCK_BEHIND = re.compile(r"\W*(?:[^\W\d_]{1,6}\.?\s+){0,2}\d{1,2}[.:hu]\d{2}\b(?![.,]?\d)")


def _dates_joined(lines: Sequence[str], heads: Sequence[str]) -> list[str]:
    """Return the dates of the scans, date and time of day joined as the reader joins them."""
    dates: list[str] = []
    for line in lines:
        for place, pattern in enumerate(heads):
            match = fits(pattern, line)
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


def module_pattern(lines: Sequence[str], coded: Sequence[str], is_module: Modules) -> str | None:
    """Return the shape of the lines that hold a module's name and nothing else."""
    # A line further in, right below a code and nowhere else, says what that code means.
    held = {*coded}
    deep = {(above, line) for above, line in pairwise(lines) if _indent(line) > _indent(above)}
    wordings = {line for above, line in deep if above in held}
    wordings -= {line for above, line in pairwise(lines) if above not in held}
    others = [
        line
        for line in lines
        if line not in coded and line not in wordings and not fields(line) and not _says_nothing(line)
    ]
    best: tuple[int, str] = (sum(is_module(line.strip()) for line in others), "")
    for shape in _SHAPES:
        names = [match["module"].strip() for line in others if (match := fits(shape, line))]
        known = sum(map(is_module, names))
        # The first shape that takes most of the names; lines of a bare name are looked at below.
        if names and known >= 0.5 * len(names) and known > best[0] - (not best[1] and best[0] == known):
            best = known, shape
    if best[1]:
        return best[1]
    bare = [line for line in others if is_module(line.strip())]
    if not bare:
        return None
    edge = min(_indent(line) for line in bare)
    inside = [_indent(line) for line in coded]
    if inside and min(inside) > edge and edge == max(_indent(line) for line in bare):
        ruled = {line.strip()[0] for line in others if not _LETTER.search(line)} & {*"=_~*#-+."}
        ruled -= {line.strip()[0] for line in bare}  # a line of the page names none
        return rf"^\s{{{edge}}}(?<module>[^\d\s:|{escaped(''.join(sorted(ruled)))}][^\d:|]*)$"
    # Any line of words, where no other such line stands right above codes: the next file may have more modules.
    strangers = {line for line in others if fits(_WORDS, line) and not is_module(line.strip())}
    leading = {above for above, line in pairwise(lines) if line in {*coded} or _says_nothing(line)}
    if not strangers & leading:
        return _WORDS
    names = sorted({line.strip() for line in bare}, key=lambda name: (-len(name), name))
    return rf"^\s*(?<module>{'|'.join(map(escaped, names))})\s*$"


def _ask_between(draft: Draft, module: str, lines: Sequence[str], coded: Sequence[str], is_module: Modules) -> None:
    """Ask where a line that looks like a module's heading stands between one that is and its codes."""
    for above, line, below in zip(lines, lines[1:], lines[2:], strict=False):
        named, found = fits(module, above), fits(module, line)
        if named and found and below in coded and is_module(named["module"]) and not is_module(found["module"]):
            draft.ask(
                "text.module",
                f"Is {found['module']!r} a module? It stands below {above.strip()!r}; give the pattern of headings.",
                None,
                "the codes below it may belong to either",
            )
            return


_MODULES_BEHIND = re.compile(r"\s*[>*•·–-]*\s*([^:=]+?)\s*[:=]\s*(.+)$")


def _are_modules(text: str, is_module: Modules) -> bool:
    pieces = [piece.strip() for piece in re.split(r"[,;]|\s/\s", text) if piece.strip()]
    return bool(pieces) and all(map(is_module, pieces))


_BULLETS = " \t>*•·–-"


def _bare_name(text: str) -> str:
    return text.strip(_BULLETS)


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip())


def _says_nothing(line: str) -> bool:
    return bool(_LETTER.search(line) and (NO_CODES.search(line.strip()) or SILENT.search(line.strip())))


def _module_and_words(line: str, is_module: Modules) -> tuple[str, str, str] | None:
    """Return the module that a line begins with, the words behind it that say it has no code or gave no answer.

    And what stands between: a sign, or a blank.  None where the line is not so.
    """
    match = _MODULE_FIRST.match(line)
    if match is not None and is_module(_bare_name(match[1])):
        return _bare_name(match[1]), match[2].strip(), ""
    words = re.sub(r"^\d+[.):]?\s+", "", line.strip().lstrip(_BULLETS)).split()
    for at in range(len(words) - 1, 0, -1):
        name, rest = " ".join(words[:at]), " ".join(words[at:])
        said = rest.lstrip(_BEFORE_WORDS)
        if _LETTER.search(words[at - 1]) and is_module(name) and any(found.match(said) for found in (NO_CODES, SILENT)):
            return name, rest, " "
    return None


def _unknown_and_words(line: str) -> tuple[str, str, str] | None:
    """Return words that stand where other lines have a module, apart from those that say that there is nothing."""
    match = _NAME_APART.match(line.strip().lstrip(_BULLETS))
    if match is None or says_nothing(match[1]) or not any(found.match(match[3]) for found in (NO_CODES, SILENT)):
        return None
    return match[1], match[2].lstrip(" \t:=|–-") + match[3], " "


_NAME_APART = re.compile(r"([^\W\d_][^\d:=|]{0,30}?)((?:\s{2,}|\t|\s*[:=|]\s*|\s[–-]\s)[ *<(\[{!~>#+.–-]*)(\S.*)$")


_BEFORE_WORDS = " *<([{!~>#+.–-"
"""Marks in front of words that say that there is nothing: ``** no answer **``."""


def _among_codes(lines: Sequence[str], found: Sequence[str]) -> list[str]:
    """Return of some lines those that stand right beside a line with a code: they are of a unit, not of the car."""
    held = {*found}
    pairs = [*pairwise(lines)]
    return [line for above, line in pairs if line in held and _CODE.search(above)] + [
        line for line, below in pairs if line in held and _CODE.search(below)
    ]


def _counted(module: str | None, lines: Sequence[str], coded: Sequence[str]) -> str | None:
    """Return the pattern of module headings that count 0 codes; None where the numbers behind them count no codes."""
    if not module or not module.endswith((_LABEL_BEHIND, *_COUNTS)):
        return None
    told: list[tuple[int, int]] = []
    for line in lines:
        number = re.search(r"[^\W\d_][^:=]*[:=]\s*(\d+)\s*$", line) or _COUNT.search(line)
        if fits(module, line) and number:
            told.append((int(number[1]), 0))
        elif line in coded and told:
            told[-1] = (told[-1][0], told[-1][1] + len(codes_in([line])))
    if not told or any(said != found for said, found in told):
        return None
    for end in _COUNTS:
        if module.endswith(end):
            return module.removesuffix(end) + end.replace(r"\d+", "0+", 1)
    return module.removesuffix(_LABEL_BEHIND) + r"[^\W\d_][^:=]*[:=]\s*0\s*$"


def _draft_nothing(
    draft: Draft, lines: Sequence[str], is_module: Modules, counted: str | None, *, inline: bool
) -> list[str]:
    """Draft the lines that say that there is no code, or no answer; a module may stand in front of the words.

    Returns their patterns.
    """
    made = []
    for key, words in (("no_codes", NO_CODES), ("silent", SILENT)):
        patterns = []
        if key == "no_codes" and counted is not None:
            patterns = [counted]
            draft.reasons.append("no_codes: the headings of modules count their codes, and these say 0")
        found = [
            line
            for line in lines
            if not any(fits(pattern, line) for pattern in patterns)
            and not _CODE.search(line)
            and not fields(line)
            and (len(line.strip()) < 60 or _MODULES_BEHIND.match(line))
            and _LETTER.search(line)
            and words.search(line.strip())
        ]
        if not found:
            nothing = f"# {key} = '^...$'  # no such line was found"
            draft.line(f"{key} = {literal(patterns[0])}" if patterns else nothing, "text")
            made += patterns
            continue
        listed = {
            line: match
            for line in found
            if (match := _MODULES_BEHIND.match(line)) and _are_modules(match[2], is_module)
        }
        if listed and key == "no_codes":
            words_of = sorted({escaped(match[1].strip()) for match in listed.values()})
            patterns += [rf"^\s*[>*•·–-]*\s*(?:{'|'.join(words_of)})\s*[:=–-]+\s*(?<module>.+?)\s*$"]
            mark = next(
                mark
                for mark in (", ", ",", "; ", ";", " / ", "/")
                if any(mark in match[2] for match in listed.values()) or mark == "/"
            )
            draft.put("modules_between", mark, f"lines like {next(iter(listed)).strip()!r} list modules", "codes")
            draft_words(
                draft,
                {"module": [piece.strip() for match in listed.values() for piece in match[2].split(mark)]},
                is_module,
            )
            draft.reasons.append(f"no_codes: lines like {next(iter(listed)).strip()!r} list the modules without codes")
            found = [line for line in found if line not in listed]
            if not found:
                draft.line(f"no_codes = [{', '.join(map(literal, patterns))}]", "text")
                made += patterns
                put_whole_car(draft)
                continue
        behind = {line: parts for line in found if (parts := _module_and_words(line, is_module)) is not None}
        if 2 * len(behind) >= len(found):
            behind |= {line: parts for line in found if line not in behind and (parts := _unknown_and_words(line))}
        told = [behind[line][1] if line in behind else line.strip() for line in found]
        numbers = (re.sub(r"(?<!\d)(?!0+(?!\d))\d+", r"\\d+", escaped(words)) for words in told)
        spellings = sorted({re.sub(r"\s+", r"\\s+", words) for words in numbers})
        parted = r"[\s:=|–-]+" if any(" " in between for _, _, between in behind.values()) else r"\s*[:=|–-]+\s*"
        numbered = r"(?:\d+[.):]?\s+)?" if all(re.match(r"\W*\d+[.):]?\s", line) for line in behind) else ""
        named = rf"[*>•·–-]*\s*{numbered}(?<module>[^\s*>•·–-].*?){parted}"
        names = [name for name, *_ in behind.values()]
        if names and all(map(_IN_BRACKETS.fullmatch, names)):
            named = r"\[(?<module>[^\]]+)\][\s:=|–-]*"
            names = [name[1:-1].strip() for name in names]
        start = r"^\s*" + ("" if not behind else named if len(behind) == len(found) else f"(?:{named})?") + "(?:"
        pattern = start + "|".join(spellings[:20]) + r")\s*$"
        draft.line(
            f"{key} = [{', '.join(map(literal, [*patterns, pattern]))}]" if patterns else f"{key} = {literal(pattern)}",
            "text",
        )
        draft.reasons.append(f"{key}: lines like {found[0].strip()!r}")
        draft_words(draft, {"module": names}, is_module)
        if inline:
            ask_modules(draft, _among_codes(lines, [line for line in found if line not in behind]))
        made += [*patterns, pattern]
        if key == "no_codes":
            put_whole_car(draft)
    return made
