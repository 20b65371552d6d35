"""Draft the patterns of a printed text from its lines: scan headings, module headings, lines with codes.

What a scan's heading looks like, ``scan_lines`` says.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from pipelines.reading.account import LIKE_A_CODE, codes_in
from pipelines.reading.drafting.below_codes import Below
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
)
from pipelines.reading.drafting.guessing import says_nothing
from pipelines.reading.drafting.left_out import ask_left_out, ask_modules
from pipelines.reading.drafting.log_prefixes import plain_log, put_prefix
from pipelines.reading.drafting.log_sessions import put_sessions, session_log
from pipelines.reading.drafting.module_headings import WORDS, ask_between, module_pattern, words_above
from pipelines.reading.drafting.names import ask_time_of_names, both, car_in, date_in
from pipelines.reading.drafting.nothing_lines import MODULE_FIRST, bare_name, counted, draft_nothing, line_says_nothing
from pipelines.reading.drafting.numbers import number_guess
from pipelines.reading.drafting.other_lists import ask_other_list
from pipelines.reading.drafting.pointed import CAR, DAY, lines_for, pointed_at, printed_day
from pipelines.reading.drafting.scan_lines import FIELDS, escaped, fields, heading_unit, in_mil, scan_patterns
from pipelines.reading.drafting.words import HEADINGS, Modules, folded
from pipelines.reading.mapping.mapping_file import BY_CODE
from pipelines.reading.mapping.printed_text import FURNITURE

_CODE = re.compile(LIKE_A_CODE)


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
    above = [] if inline or module is not None else words_above(lines, coded, heads)
    module = WORDS if draft.answers.get("text.module") in above else module
    behind = module is not None and _stands_behind(module, lines, coded)
    found = Below(
        lines, coded, [*heads, *filter(None, [module if not behind else None])], _filled(code, coded), is_module
    )
    below = [*found.patterns(), *([module] if behind and module else [])]
    patterns = [*heads, *below, *filter(None, [module]), code]
    groups = {name.removesuffix("_2") for pattern in patterns for name in groups_in(pattern)}
    groups |= _draft_names(draft, names, groups)
    _draft_values(draft, lines, patterns, heads, is_module)
    if "odometer" in groups and "odometer_unit" not in groups:
        _put_unit(draft, lines)
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
        ask_between(draft, module, lines, coded, is_module)
    draft.line(f"code = {literal(code)}", "text")
    draft.reasons.append(f"code: lines like {(coded or [''])[0].strip()!r}")
    if below:
        draft.line(f"below = [{', '.join(map(literal, below))}]", "text")
        draft.reasons.append(f"below: lines like {found.example.strip()!r} tell more of the code above them")
    groups |= _draft_several(draft, coded, code, is_module if inline else None)
    nothing = draft_nothing(
        draft,
        [line for line in lines if behind or not _heads(module, line)],
        is_module,
        counted("" if behind else module, lines, coded),
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


def _put_unit(draft: Draft, lines: Sequence[str]) -> None:
    """Write the unit of an odometer that a word behind or in front of its number says."""
    mil = in_mil(lines)
    if mil is not None:
        asks = f"Does {mil.strip()[:100]!r} count Scandinavian miles of 10 km (mil), or km, or miles (mi)?"
        why = "mil is the word for them; the numbers are turned into km"
        unit = draft.ask("constants.odometer_unit", asks, "mil", why, ("mil", "km", "mi"))
        draft.put("odometer_unit", unit or "mil", why, "constants")
    elif (unit := heading_unit(lines)) is not None:
        draft.put("odometer_unit", unit, "the word in front of the number says so", "constants")


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
        name, told = line.strip(" |;,:-*[]"), MODULE_FIRST.match(line)
        bare = bool(name) and not name.isdigit() and not line_says_nothing(line) and is_module(name)
        clean = told is not None and line_says_nothing(told[2]) and is_module(bare_name(told[1]))
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
        begins = (line in held and above not in held) or (line_says_nothing(line) and not fits(patterns[-1], line))
        below.setdefault(above, []).append(begins)
    for above, begin in below.items():
        # The title of a page stands above other lines too.
        strange = all(begin) and fits(WORDS, above) and not line_says_nothing(above) and not _is_title(above)
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
    return match is not None and not line_says_nothing(match["module"])


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
