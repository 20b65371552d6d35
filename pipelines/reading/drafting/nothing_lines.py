"""Draft the lines of a printed text that say that a module stored no code, or did not answer."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from itertools import pairwise

from pipelines.reading.account import LIKE_A_CODE, codes_in
from pipelines.reading.drafting.code_lines import (
    fits,
)
from pipelines.reading.drafting.draft import Draft, literal
from pipelines.reading.drafting.draft_values import (
    draft_words,
    put_whole_car,
)
from pipelines.reading.drafting.guessing import says_nothing
from pipelines.reading.drafting.left_out import ask_modules
from pipelines.reading.drafting.scan_lines import escaped, fields
from pipelines.reading.drafting.words import NO_CODES, SILENT, Modules

_CODE = re.compile(LIKE_A_CODE)
LABEL_BEHIND = r"[^\W\d_][^:=]*[:=].*$"
COUNTS = (
    r"[(\[]\s*\d+\s*[)\]]\s*:?\s*$",
    r"(?:\s{2,}|\s*[-–:(\[]+\s*)\d+\s+[^\W\d_]+(?:\(\w+\))?[)\]]?\s*:?\s*$",
    r"(?:\s{2,}|\s*[-–:(\[]+\s*)[^\W\d_]+\s*:\s*\d+[)\]]?\s*$",
    r"\]\s*\d+\s+[^\W\d_]+(?:\(\w+\))?\s*$",
)
"""How headings of modules end that count their codes."""
_COUNT = re.compile(r"(?:[-–:(\[\]]\s*|\s{2,})(\d+)\s*(?:[^\W\d_]+(?:\(\w+\))?)?\s*[)\]]?\s*:?\s*$")
MODULE_FIRST = re.compile(r"\s*([^\d:=|]+?)\s*[:=|–-]+\s*([^:=|]+)$")
_IN_BRACKETS = re.compile(r"\[[^\[\]]+\]")
LETTER = re.compile(r"[^\W\d_]")
_MODULES_BEHIND = re.compile(r"\s*[>*•·–-]*\s*([^:=]+?)\s*[:=]\s*(.+)$")


def _are_modules(text: str, is_module: Modules) -> bool:
    pieces = [piece.strip() for piece in re.split(r"[,;]|\s/\s", text) if piece.strip()]
    return bool(pieces) and all(map(is_module, pieces))


_BULLETS = " \t>*•·–-"


def bare_name(text: str) -> str:
    """Return a name without the marks of a list around it."""
    return text.strip(_BULLETS)


def line_says_nothing(line: str) -> bool:
    """Say whether a line says in words that there is no code, or no answer."""
    return bool(LETTER.search(line) and (NO_CODES.search(line.strip()) or SILENT.search(line.strip())))


def module_and_words(line: str, is_module: Modules) -> tuple[str, str, str] | None:
    """Return the module that a line begins with, the words behind it that say it has no code or gave no answer.

    And what stands between: a sign, or a blank.  None where the line is not so.
    """
    match = MODULE_FIRST.match(line)
    if match is not None and is_module(bare_name(match[1])):
        return bare_name(match[1]), match[2].strip(), ""
    words = re.sub(r"^\d+[.):]?\s+", "", line.strip().lstrip(_BULLETS)).split()
    for at in range(len(words) - 1, 0, -1):
        name, rest = " ".join(words[:at]), " ".join(words[at:])
        said = rest.lstrip(_BEFORE_WORDS)
        if LETTER.search(words[at - 1]) and is_module(name) and any(found.match(said) for found in (NO_CODES, SILENT)):
            return name, rest, " "
    return None


def _unknown_and_words(line: str) -> tuple[str, str, str] | None:
    """Return words that stand where other lines have a module, apart from those that say that there is nothing."""
    match = _NAME_APART.match(line.strip().lstrip(_BULLETS))
    if match is None or says_nothing(match[1]) or not any(found.match(match[3]) for found in (NO_CODES, SILENT)):
        return None
    return match[1], match[2].lstrip(" \t:=|–-") + match[3], " "


_NAME_APART = re.compile(r"([^\W\d_][^\d:=|]{0,30}?)((?:\s{2,}|\t|\s*[:=|]\s*|\s[–-]\s)[ *<(\[{!~>#+.–-]*)(\S.*)$")


_BEFORE_WORDS = " *<([{!~>#+.–|:=-"
"""Marks in front of words that say that there is nothing: ``** no answer **``."""


def _among_codes(lines: Sequence[str], found: Sequence[str]) -> list[str]:
    """Return of some lines those that stand right beside a line with a code: they are of a unit, not of the car."""
    held = {*found}
    pairs = [*pairwise(lines)]
    return [line for above, line in pairs if line in held and _CODE.search(above)] + [
        line for line, below in pairs if line in held and _CODE.search(below)
    ]


def counted(module: str | None, lines: Sequence[str], coded: Sequence[str]) -> str | None:
    """Return the pattern of module headings that count 0 codes; None where the numbers behind them count no codes."""
    if not module or not module.endswith((LABEL_BEHIND, *COUNTS)):
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
    for end in COUNTS:
        if module.endswith(end):
            return module.removesuffix(end) + end.replace(r"\d+", "0+", 1)
    return module.removesuffix(LABEL_BEHIND) + r"[^\W\d_][^:=]*[:=]\s*0\s*$"


def _draft_listed(draft: Draft, key: str, listed: Mapping[str, re.Match[str]], is_module: Modules) -> str:
    """Draft lines that list modules without codes, or without an answer, behind words for it; return their pattern."""
    words_of = sorted({escaped(match[1].strip()) for match in listed.values()})
    marks = (", ", ",", "; ", ";", " / ", "/")
    mark = next(
        (mark for mark in marks if any(mark in match[2] for match in listed.values())),
        "/",
    )
    shown = next(iter(listed)).strip()
    if any(len(match[2].split(mark)) > 1 for match in listed.values()):
        draft.put("modules_between", mark, f"lines like {shown!r} list modules", "codes")
    names = [piece.strip() for match in listed.values() for piece in match[2].split(mark)]
    draft_words(draft, {"module": names}, is_module)
    draft.reasons.append(f"{key}: lines like {shown!r} list the modules")
    return rf"^\s*[>*•·–-]*\s*(?:{'|'.join(words_of)})\s*[:=–-]+\s*(?<module>.+?)\s*$"


def draft_nothing(
    draft: Draft, lines: Sequence[str], is_module: Modules, counted: str | None, *, inline: bool
) -> list[str]:
    """Draft the lines that say that there is no code, or no answer; a module may stand in front of the words.

    Returns their patterns.
    """
    made = []
    for key, words in (("no_codes", NO_CODES), ("silent", SILENT)):
        patterns = [counted] if key == "no_codes" and counted is not None else []
        if patterns:
            draft.reasons.append("no_codes: the headings of modules count their codes, and these say 0")
        found = [line for line in lines if not any(fits(one, line) for one in patterns) and _says(line, words)]
        listed = {
            line: match
            for line in found
            if (match := _MODULES_BEHIND.match(line)) and _are_modules(match[2], is_module)
        }
        patterns += [_draft_listed(draft, key, listed, is_module)] if listed else []
        single = [line for line in found if line not in listed]
        if single:
            pattern, behind = _named_or_bare(draft, key, single, is_module)
            patterns.append(pattern)
            if inline:
                ask_modules(draft, _among_codes(lines, [line for line in single if line not in behind]))
        _put_patterns(draft, key, patterns)
        made += patterns
        if key == "no_codes" and found:
            put_whole_car(draft)
    return made


def _says(line: str, words: re.Pattern[str]) -> bool:
    """Say whether a line without a code, and without what tells of a scan, has such words; no long one has."""
    short = len(line.strip()) < _LONG or _MODULES_BEHIND.match(line) is not None
    told = LETTER.search(line) is not None and words.search(line.strip()) is not None
    return short and told and not _CODE.search(line) and not fields(line)


_LONG = 60


def _named_or_bare(
    draft: Draft, key: str, found: Sequence[str], is_module: Modules
) -> tuple[str, Mapping[str, tuple[str, str, str]]]:
    """Return the pattern of lines of such words, a module in front of them or none; and those with one, by parts."""
    behind = {line: parts for line in found if (parts := module_and_words(line, is_module)) is not None}
    if 2 * len(behind) >= len({*found}):
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
    draft.reasons.append(f"{key}: lines like {found[0].strip()!r}")
    draft_words(draft, {"module": names}, is_module)
    return start + "|".join(spellings[:20]) + r")\s*$", behind


def _put_patterns(draft: Draft, key: str, patterns: Sequence[str]) -> None:
    """Write the patterns of such lines; those of silent ones are one pattern."""
    if not patterns:
        draft.line(f"# {key} = '^...$'  # no such line was found", "text")
    elif key == "silent" and len(patterns) > 1:
        first, *others = patterns
        whole = "|".join([first, *(other.replace("(?<module>", "(?<module_2>") for other in others)])
        draft.line(f"{key} = {literal(whole)}", "text")
    elif len(patterns) > 1:
        draft.line(f"{key} = [{', '.join(map(literal, patterns))}]", "text")
    else:
        draft.line(f"{key} = {literal(patterns[0])}", "text")
