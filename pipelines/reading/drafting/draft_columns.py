"""Draft the columns of a mapping: which is which, how dates and numbers are written, and what words may mean."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from analysis.vocabulary.codes import STATUS_WORDS
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.guessing import Guess, date_format_of, guess_columns, has_decimal_comma, looks_like_code

NOTHING = re.compile(r"\b(no (?:fault|code|dtc|trouble)s?|nothing|none stored|kein\w* fehler|ok)\b", re.IGNORECASE)
SILENT = re.compile(r"\b(no (?:answer|response|reply)|not (?:answer|respond)\w*|silent|keine antwort)\b", re.IGNORECASE)
_CLOCK = re.compile(r"\d{1,2}:\d\d(:\d\d)?")
_WITH_UNIT = re.compile(r"[\d.,]+ ?(km|mi)")
_YES_NO = {"true": "", "yes": "", "1": "", "false": "silent", "no": "silent", "0": "silent"}
_MOST_WORDS = 20
_SEPARATORS = ("|", ";", ",", "/")


def draft_columns(draft: Draft, columns: dict[str, list[str]], is_module: Callable[[str], bool]) -> None:
    """Draft everything that hangs on the columns.

    Args:
        draft: Gets the lines.
        columns: The file's columns, or JSON paths, with some of their cells.
        is_module: Whether the vocabulary knows a text as a module.
    """
    wide = _wide(columns, is_module)
    guesses = guess_columns({name: cells for name, cells in columns.items() if name not in wide}, is_module)
    guesses = [guess for guess in guesses if not wide or guess.column not in ("module", "code")]
    clock = _draft_date(draft, guesses, columns)
    for guess in guesses:
        both = [guess.source, clock] if clock and guess.column == "scanned_at" else guess.source
        draft.put(guess.column, both, guess.why, "columns")
    used = {*wide, clock, *(guess.source for guess in guesses)}
    for name in columns:
        if name not in used:
            draft.line(f"# not used: {name!a}", "columns")
    sources = {guess.column: columns[guess.source] for guess in guesses}
    _draft_numbers(draft, sources.get("odometer", []), "odometer_unit" in sources)
    _draft_words(draft, sources)
    for name in wide:
        draft.put(name, name, "its name is a module's, and or codes stand below it", "wide")
    code_cells = sources.get("code", []) if not wide else [cell for name in wide for cell in columns[name]]
    _draft_code_cells(draft, code_cells)


def _wide(columns: dict[str, list[str]], is_module: Callable[[str], bool]) -> list[str]:
    """Return the columns that are named as modules, where codes stand in two or more of them."""
    named = [name for name in columns if is_module(name)]
    if sum(any(map(looks_like_code, columns[name])) for name in named) < 2:
        return []
    return [name for name, cells in columns.items() if name in named or any(map(_tells_of_codes, cells))]


def _tells_of_codes(cell: str) -> bool:
    return bool(looks_like_code(cell) or NOTHING.fullmatch(cell.strip()) or SILENT.fullmatch(cell.strip()))


def _draft_date(draft: Draft, guesses: Sequence[Guess], columns: dict[str, list[str]]) -> str | None:
    """Draft the form of dates; return the column with the time of day where it stands apart."""
    source = next((guess.source for guess in guesses if guess.column == "scanned_at"), None)
    if source is None:
        return None
    cells = columns[source]
    clock = next((name for name, other in columns.items() if name != source and _all_fit(_CLOCK, other)), None)
    form, other = date_format_of(cells)
    if form is None:
        return None
    if clock is not None and "%H" not in form and "%I" not in form:
        form += " %H:%M:%S" if columns[clock][0].count(":") > 1 else " %H:%M"
    else:
        clock = None
    both = f", and as well {other!r}: check which is meant" if other else ""
    timeless = "" if re.search("%[HI]", form) else "; no time of day was found"
    draft.put("date_formats", [form], f"the dates have this form{both}{timeless}")
    return clock


def _all_fit(pattern: re.Pattern[str], cells: Sequence[str]) -> bool:
    filled = [cell.strip() for cell in cells if cell.strip()]
    return bool(filled) and all(pattern.fullmatch(cell) for cell in filled)


def _draft_numbers(draft: Draft, cells: Sequence[str], has_unit: bool) -> None:
    unit = next((match[1] for cell in cells if (match := _WITH_UNIT.fullmatch(cell.strip()))), None)
    if unit is not None:
        draft.put("odometer", f"^([0-9.,]+) ?{unit}$", f"the unit stands behind the number, as in {cells[0]!r}", "pick")
    if cells and not has_unit:
        why = "" if unit else "nothing in the file says km or mi; check it"
        draft.put("odometer_unit", unit or "km", why, "constants")
    if has_decimal_comma([cell.removesuffix(unit or "").strip() for cell in cells]):
        draft.put("decimal", ",", "numbers have a comma, or points between thousands")
        draft.put("thousands", ".")


def _draft_words(draft: Draft, sources: dict[str, list[str]]) -> None:
    """Draft translations of yes and no, and list the words for a status that need one."""
    answers = {cell.strip().lower() for cell in sources.get("module_state", []) if cell.strip()}
    if answers and answers <= _YES_NO.keys():
        for word in sorted(answers):
            draft.put(word, _YES_NO[word], table="values.module_state")
    words = {cell.strip() for cell in sources.get("status", []) if cell.strip()}
    unknown = sorted(
        word for word in words if word.lower() not in STATUS_WORDS and not re.fullmatch("[0-9A-F]{2}", word)
    )
    if unknown:
        draft.line(f"# Each of these has to become one of {', '.join(STATUS_WORDS)}, or nothing:", "values.status")
        for word in unknown[:_MOST_WORDS]:
            draft.put(word, "", table="values.status")


def _draft_code_cells(draft: Draft, cells: Sequence[str]) -> None:
    """Draft what stands between codes, and which words stand in their place."""
    mark = next((mark for mark in _SEPARATORS for cell in cells if _several(cell, mark)), None)
    if mark is not None:
        draft.put("separator", mark, "several codes stand in one cell", "codes")
    words = {cell.strip() for cell in cells if cell.strip() and not looks_like_code(cell)}
    for key, pattern in (("silent", SILENT), ("no_codes", NOTHING)):
        found = sorted(word for word in words if pattern.search(word))
        words -= set(found)
        if found:
            draft.put(key, found, "such words stand in place of codes", "codes")


def _several(cell: str, mark: str) -> bool:
    parts = [part.strip() for part in cell.split(mark)]
    return len(parts) > 1 and all(map(looks_like_code, parts))
