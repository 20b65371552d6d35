"""Draft how lines without names are cut, each of which tells car, day and codes: a log, or a scan along a line."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import product

from pipelines.reading.account import LIKE_A_CODE, codes_in
from pipelines.reading.drafting.code_lines import CODE, fits
from pipelines.reading.drafting.guessing import says_nothing
from pipelines.reading.drafting.nothing_lines import module_and_words
from pipelines.reading.drafting.scan_lines import FIELDS, escaped, fields, heading, with_bare_car
from pipelines.reading.drafting.words import Modules
from pipelines.reading.mapping.cut_lines import LineCuts
from pipelines.reading.mapping.printed_text import FURNITURE

_FEWEST, _ENOUGH = 2, 0.9
_MARKS = ("; ", " | ", ";", "|", " / ", " > ", "\t")
_SAID = (
    r"none|ok|okay|clear|clean|nothing|nothing stored|no (?:faults?|codes?|dtcs?)|keine fehler|i\.? ?o\.?|fehlerfrei|-+"
    r"|no (?:answer|response|reply)|keine antwort"
)
_MODULE = r"[\s:;,|\])–-]*(?<module>[^\W_].*?)[\s:=|,;(\[–-]+"


def cuts_of(lines: Sequence[str], is_module: Modules) -> LineCuts | None:
    """Return how lines are cut, where nearly each tells a car, a day and a module with its codes or none; else None."""
    lines = [line.rstrip() for line in lines if line.strip() and not fits(FURNITURE, line.rstrip())]
    coded = [line for line in lines if codes_in([line])]
    if len(lines) < _FEWEST or len(coded) < 0.3 * len(lines):
        return None
    head = _head(coded)
    if head is None:
        return None
    told = [line for line in lines if fits(head, line)]
    others = [line for line in lines if not fits(head, line)]
    # The title above the first of them, and words behind the last, are of no scan.
    places = [at for at, line in enumerate(lines) if fits(head, line)]
    between = lines[places[0] : places[-1] + 1] if places else lines
    titled = any(fields(line) or says_nothing(line) for line in others)
    enough = len(told) >= _ENOUGH * len(lines if titled else between)
    if len(told) < len(coded) or not (enough or _only_words(told, others, is_module)):
        return None
    rests = [re.sub(r"^[\s:;,|\])–-]+", "", line[match.end() :]) for line in told if (match := fits(head, line))]
    for mark in (None, *_MARKS):
        pieces = rests if mark is None else [piece.strip() for rest in rests for piece in rest.split(mark)]
        pieces = [piece for piece in pieces if piece]
        cells = _cells(pieces, is_module)
        piece = rf"^{_MODULE}{cells}\s*$"
        found = [match for one in pieces if (match := fits(piece, one))]
        if len(found) == len(pieces) and all(
            is_module(match["module"]) and _one(match["codes"], is_module) for match in found
        ):
            if mark is None:
                return LineCuts(f"{head}{_MODULE}{cells}\\s*$")
            return LineCuts(rf"{head}[\s:;,|\])–-]*(?<rest>\S.*)$", mark, piece)
    return None


def _cells(pieces: Sequence[str], is_module: Modules) -> str:
    """Return the pattern of what stands behind a module: codes, or words that say that there is none, or no answer."""
    said = {
        match[2].strip()
        for piece in pieces
        if (match := _WORDS_BEHIND.match(piece)) and is_module(match[1].strip()) and says_nothing(match[2])
    }
    said |= {parts[1] for piece in pieces if not codes_in([piece]) and (parts := module_and_words(piece, is_module))}
    words = "|".join([_SAID, *sorted(map(escaped, said), key=lambda word: (-len(word), word))])
    return rf"(?<codes>(?:{CODE}\b|(?i:{words})\s*[.)\]]*\s*$).*?)"


_WORDS_BEHIND = re.compile(r"([^:=|]+?)\s*[:=|–-]+\s*([^\d:=|]{2,40})$")


def _only_words(told: Sequence[str], others: Sequence[str], is_module: Modules) -> bool:
    """Say whether lines that tell scans are a list among words, as in a mail: all begin with one mark, the others not.

    None of the others tells a car, nor of a module that it was read.
    """
    marks = {match[0] for line in told if (match := _BULLET.match(line))}
    listed = len(told) >= _FEWEST and len(marks) == 1 and all(map(_BULLET.match, told))
    telling = any(
        {"vehicle", "vin"} & {field.column for field in fields(line)}
        or (says_nothing(line) and is_module(re.split(r"[:=|]|\s[-–]\s", line)[0].strip()))
        for line in others
    )
    return listed and not telling and not any(_BULLET.match(line) for line in others if len(line.split()) > 1)


_BULLET = re.compile(r"\s*[-*•·–>]\s+(?=\S)")


def _one(cells: str, is_module: Modules) -> bool:
    """Say whether what stands behind a module is its own: no other one's name stands before a code or colon."""
    if any(is_module(name) for name in re.findall(r"[;|,/]\s*([^\W\d_][^:;|,/=]*?)\s*[:=]", cells)):
        return False
    if any(module_and_words(piece, is_module) for piece in re.split(r"[;|,]|\s/\s", cells)[1:]):
        return False
    words = re.split(rf"{LIKE_A_CODE}", cells)[:-1]
    return not any(is_module(last) for text in words[1:] for last in re.findall(r"([^\W\d_][\w ]*?)[\s:=]*$", text))


def _head(coded: Sequence[str]) -> str | None:
    """Return the pattern of what stands in front of module and codes: car, day and distance."""
    for line, plain in product(coded[:3], (True, False)):
        begin = re.search(LIKE_A_CODE, line)
        cut = line[: begin.start()] if begin else line
        found = [field for field in fields(line) if field.column in FIELDS and field.end <= len(cut)]
        if not {"vehicle", "vin"} & {field.column for field in found}:
            found = [field for field in with_bare_car(cut, found) if field.end <= len(cut)]
        names = [field.column for field in found]
        if "scanned_at" not in names or not {"vehicle", "vin"} & {*names} or len({*names}) < len(names):
            continue
        made = heading(line, found)
        if len(whole := _ways_of_days(coded)) > 1:
            day = next(field for field in found if field.column == "scanned_at")
            made = made.replace(f"(?<scanned_at>{day.pattern})", f"(?<scanned_at>{'|'.join(whole)})")
        if not plain:
            made = "^" + "".join(
                ("" if field.column == "odometer_unit" else ".*?") + rf"\s*(?<{field.column}>{field.pattern})"
                for field in found
            )
        if all(fits(made, one) for one in coded):
            return made.replace("(?<scanned_at_2>", "(?<time>")
    return None


def _ways_of_days(coded: Sequence[str]) -> list[str]:
    """Return the patterns of the days in some lines, each once: a mail has 14.5.2026 and 17. Mai 2026."""
    days = (field.pattern for line in coded for field in fields(line) if field.column == "scanned_at")
    return sorted({*days}, key=lambda pattern: (-len(pattern), pattern))
