"""Columns whose names hold what others have in cells: states with crosses below them, codes with states, code parts."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from pipelines.reading.drafting.code_lines import CODE, fits
from pipelines.reading.drafting.date_guesses import date_guess
from pipelines.reading.drafting.guessing import Source, holds_code, looks_like_code
from pipelines.reading.drafting.scan_lines import DATE, PLATE, any_digits
from pipelines.reading.drafting.words import HEADINGS, NO, STATUS, YES, Modules, folded, known_in

_FEWEST = 2
_BYTE = re.compile("[0-9A-F]{2}")
_MARKS = ("●", "•", "*", "■", "☑", "☒", "✗", "+", "v", "xx", "√")
_EMPTY = ("☐", "□", "○", "·", ".")
_FILLING = {"is", "currently", "fault", "code", "dtc", "faults", "fehler", "flag", "yn", "y", "n", "ja", "nein", "now"}
_CROSSED = (
    rf"^(?<module>.+?)[\s:/_.|-]+(?<code>{CODE})$",
    rf"^(?<code>{CODE})[\s:/_.|-]*[(\[]?(?<module>[^()\[\]]+?)[)\]]?$",
    rf"^(?<code>{CODE})$",
)


_DAY = DATE.pattern.replace("(?<![\\w.])", "").replace("(?![\\d])", "")
_CAR = rf"(?:{PLATE}|[A-Z]{{1,4}}-?\d{{2,6}}|\d{{3,6}})"
_OF_A_SCAN = re.compile(rf"(?<![\w-]){_CAR}(?![\w-]).*{_DAY}|{_DAY}.*(?<![\w-]){_CAR}(?![\w-])")
_CROSSED_SCANS = (
    rf"^[^\W\d_]*\s*(?<vehicle>{_CAR})[\s,;:/|(\[_–-]+(?<scanned_at>{_DAY})[)\]]?$",
    rf"^(?<scanned_at>{_DAY})[\s,;:/|(\[_–-]+[^\W\d_]*\s*(?<vehicle>{_CAR})[)\]]?$",
)


def _of_scans(pattern: str, found: Sequence[Mapping[str, str]]) -> str:
    """Return the pattern of names with a car and a day, shorter than the one that found them."""
    days = "|".join(sorted({any_digits(one["scanned_at"]) for one in found}, key=lambda day: (-len(day), day)))
    blanks = any(" " in one["vehicle"] for one in found)  # of a plate: then no word stands beside it
    car = r"\S.*?\d.*?" if blanks else r"\S*\d\S*?"
    groups = [f"(?<vehicle>{car})", f"(?<scanned_at>{days})"]
    first, second = groups if pattern.index("<vehicle>") < pattern.index("<scanned_at>") else groups[::-1]
    word = "" if blanks else r"(?:[^\W\d_]+\s+)??"
    return rf"^{word}{first}[\s,;:/|(\[_–-]+{word}{second}[)\]]?$"


@dataclass(frozen=True)
class Crosses:
    """Columns with crosses: each with its state, the words that mean yes and no, and if one column alone tells."""

    columns: dict[str, str]
    yes: list[str]
    no: list[str]


def crosses_in(sources: Mapping[str, Source]) -> Crosses | None:
    """Find columns whose names are states and whose cells are crosses or yes and no; None where there are none."""
    columns, yes, no = dict[str, str](), set[str](), set[str]()
    for name, source in sources.items():
        state = _state_of(source.headings[0].split("|")[0] if source.path else name)
        words = {cell.strip().lower() for cell in source.cells if cell.strip()}
        ticks, blanks = {word for word in words if is_yes(word)}, {word for word in words if is_no(word)}
        if state is None or ticks | blanks != words:
            continue
        columns[name] = state
        yes |= ticks
        no |= blanks
    return Crosses(columns, sorted(yes), sorted(no)) if columns and yes else None


def is_yes(word: str) -> bool:
    """Say whether a word in small letters, or a sign, says that something holds."""
    return word in YES or word in _MARKS or folded(word) in YES


def is_no(word: str) -> bool:
    """Say whether a word in small letters, or a sign, says that something does not hold."""
    return word in NO or word in _EMPTY or folded(word) in NO


def _state_of(heading: str) -> str | None:
    plain = folded(heading)
    bare = " ".join(word for word in plain.split() if word not in _FILLING)
    return known_in(STATUS, plain) or (known_in(STATUS, bare) if bare else None)


def crossed_by(sources: Mapping[str, Source], is_module: Modules) -> tuple[str, list[str]] | None:
    """Find columns whose names hold a code each, a state or a cross below them: the pattern of their names, and they.

    They may hold a car and a day each instead.  None where cells hold something else.
    """
    names = [name for name in sources if holds_code(name)] or [name for name in sources if _OF_A_SCAN.search(name)]
    if len(names) < _FEWEST:
        return None
    words = {cell.strip() for name in names for cell in sources[name].cells if cell.strip()}
    if not words or not all(known_in(STATUS, word) or is_yes(word.lower()) or is_no(word.lower()) for word in words):
        return None
    for pattern in (*_CROSSED, *_CROSSED_SCANS):
        found = [match.groupdict() for name in names if (match := fits(pattern, name))]
        if len(found) == len(names) and "scanned_at" in found[0]:
            return (_of_scans(pattern, found), names) if date_guess([one["scanned_at"] for one in found]).form else None
        if len(found) == len(names) and all("module" not in one or is_module(one["module"].strip()) for one in found):
            return pattern, names
    return None


def parts_of_code(sources: Mapping[str, Source]) -> list[str]:
    """Return two neighbouring columns that make whole codes together, and none alone; none where there are none."""
    names = [*sources]
    for first, second in pairwise(names):
        pairs = [
            (one.strip(), other.strip())
            for one, other in zip(sources[first].cells, sources[second].cells, strict=False)
            if one.strip() or other.strip()
        ]
        letters = all(one.upper() in ("P", "C", "B", "U") for one, _ in pairs)
        if len(pairs) > 1 and letters and all(looks_like_code(one + other) for one, other in pairs):
            return [first, second]
    return _bytes_of_code(sources)


def _bytes_of_code(sources: Mapping[str, Source]) -> list[str]:
    """Return three neighbouring columns, named alike, that hold the bytes of a code each; none where there are none."""
    names = [*sources]
    for three in zip(names, names[1:], names[2:], strict=False):
        cells = [[cell.strip().upper() for cell in sources[name].cells] for name in three]
        told = [row for row in zip(*cells, strict=False) if any(row)]
        alike = len({sources[name].stem for name in three}) == 1 and len({*map(len, cells)}) == 1
        # Days and times of two digits each have no letters.
        hexed = any(re.search("[A-F]", cell) for row in told for cell in row)
        if alike and hexed and len(told) > 1 and all(_BYTE.fullmatch(cell) for row in told for cell in row):
            return [*three]
    return []


def states_beside(wide: Sequence[str], sources: Mapping[str, Source], is_module: Modules) -> dict[str, str]:
    """Return of the columns of codes, one a module, those beside which a column holds the states of that module."""
    codes = {module: name for name in wide if (module := _module_beside(name, _CODE_WORDS, is_module))}
    found = {}
    for name, source in sources.items():
        module = _module_beside(name, _STATE_WORDS, is_module) if name not in wide else None
        if module in codes and any(known_in(STATUS, cell) for cell in source.filled):
            found[codes[module]] = name
    return found


_CODE_WORDS = {word for phrase in HEADINGS["scans"]["code"] for word in phrase.split()} | {"defauts", "fehlern"}
_STATE_WORDS = {word for phrase in HEADINGS["scans"]["status"] for word in phrase.split()}


def _module_beside(heading: str, words: set[str], is_module: Modules) -> str | None:
    """Return the module that a heading names, alone or beside some words."""
    rest = [word for word in re.split(r"[\s:./_-]+", heading) if word and folded(word) not in words]
    return is_module.means(" ".join(rest)) if rest else None
