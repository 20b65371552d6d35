"""Which column of an unknown export is which column of the scan layout: a guess, with its reason.

A column is known by its name, in a few languages, and by what its cells look like.
The one with most for it gets the place; every guess is shown to the user, who decides.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from analysis.vocabulary.codes import STATUS_WORDS, read_code

NAMES: dict[str, tuple[str, ...]] = {
    "vehicle": ("vehicle", "car", "stock", "number", "wagen", "fahrzeug", "vehicule", "coche", "plate", "kennzeichen"),
    "vin": ("vin", "chassis", "fin", "fahrgestell", "frame"),
    "scanned_at": ("date", "datum", "fecha", "time", "when", "read", "scanned", "zeit", "taken", "day", "uhrzeit"),
    "odometer": (
        "odometer",
        "mileage",
        "km",
        "kilometer",
        "kilometers",
        "kilometres",
        "miles",
        "distance",
        "kilometrage",
    ),
    "odometer_unit": ("odometerunit", "distanceunit"),
    "module": ("module", "unit", "ecu", "system", "steuergerat", "steuergeraet", "modul", "calculateur", "controller"),
    "module_state": ("reply", "answer", "response", "answered", "modulestate"),
    "code": ("code", "dtc", "fault", "fehler", "fehlercode", "trouble", "defaut", "averia", "id"),
    "failure_type": ("failuretype", "ftb", "type", "kind", "symptom"),
    "status": ("status", "state", "zustand", "estado", "etat"),
    "occurrences": ("occurrences", "count", "times", "anzahl"),
    "text": ("text", "description", "meaning", "wording", "words", "note", "beschreibung", "wortlaut", "label"),
}
DATE_FORMATS = tuple(
    f"{day}{time}"
    for day in (
        "%d.%m.%Y",
        "%d/%m/%Y",
        "%m/%d/%Y",
        "%Y/%m/%d",
        "%Y-%m-%d",
        "%d-%m-%Y",
        "%d %b %Y",
        "%Y%m%d",
        "%d.%m.%y",
    )
    for time in (" %H:%M", " %H:%M:%S", " %I:%M %p", "T%H:%M", "T%H:%M:%S", "T%H:%M:%S%z", "T%H%M", "T%H%M%S", "")
)
_MOST = 200
_LONGEST_DATE, _FEWEST_DIGITS = 40, 5
_COMMA_NUMBER = re.compile(r"\d{1,3}(?:\.\d{3})*,\d+|\d+,\d+|\d{1,3}(?:\.\d{3})+")
_VIN = re.compile(r"[A-HJ-NPR-Z0-9]{17}")
_ENOUGH = 0.6
_BY_NAME, _BY_CELLS = 2, 3


@dataclass(frozen=True)
class Guess:
    """One column of the layout, the file's column that seems to be it, and why."""

    column: str
    source: str
    why: str


def guess_columns(cells: dict[str, list[str]], is_module: Callable[[str], bool]) -> list[Guess]:
    """Guess which of a file's columns are which of the layout's.

    Args:
        cells: The file's columns with some of their cells.
        is_module: Whether the vocabulary knows a text as a module.

    Returns:
        At most one guess a column of the layout and of the file, those with most for them first.
    """
    scored = []
    for place, (source, column_cells) in enumerate(cells.items()):
        filled = [cell.strip() for cell in column_cells[:_MOST] if cell.strip()]
        for column in NAMES:
            score, why = _score(column, source, filled, is_module)
            if score:
                scored.append((-score, place, list(NAMES).index(column), Guess(column, source, why)))
    taken: list[Guess] = []
    for *_, guess in sorted(scored, key=lambda found: found[:3]):
        if not any(guess.column == other.column or guess.source == other.source for other in taken):
            taken.append(guess)
    return taken


def _score(column: str, source: str, filled: Sequence[str], is_module: Callable[[str], bool]) -> tuple[int, str]:
    score, reasons = 0, []
    words = _words(source)
    if words & set(NAMES[column]) or "".join(sorted(words, key=source.lower().find)) in NAMES[column]:
        score, reasons = _BY_NAME, [f"the name {source!r}"]
    looks = _LOOKS.get(column)
    share = sum(map(looks, filled)) / len(filled) if looks and filled else 0.0
    if column == "module" and filled:
        share = sum(map(is_module, filled)) / len(filled)
    if share >= _ENOUGH:
        score += _BY_CELLS
        reasons.append(f"{share:.0%} of its cells look like it, {filled[0]!r} for instance")
    elif looks and filled and column != "vin":
        score -= 1
    return max(score, 0), " and ".join(reasons)


def _words(name: str) -> set[str]:
    plain = name.lower().translate(str.maketrans("äöüéèêóí", "aoueeeoi"))
    return set(re.findall("[a-z]+", plain))


def looks_like_code(cell: str) -> bool:
    """Say whether a cell begins with a code of five characters."""
    first = re.split(r"[;|, ]", cell.strip(), maxsplit=1)[0]
    return bool(first) and first[0].upper() in "PCBU" and read_code(first).why is None


def date_format_of(cells: Sequence[str]) -> tuple[str | None, str | None]:
    """Return the form that most of some dates have, and another that fits as well and means other days, or None."""
    filled = [cell.strip() for cell in cells if cell.strip()][:_MOST]
    fits = [
        form for form in DATE_FORMATS if filled and sum(_is_date(cell, form) for cell in filled) >= 0.9 * len(filled)
    ]
    other = next((form for form in fits[1:] if _days(filled, form) != _days(filled, fits[0])), None)
    return (fits[0] if fits else None), other


def _days(filled: Sequence[str], form: str) -> list[str]:
    return [datetime.strptime(cell, form).date().isoformat() for cell in filled if _is_date(cell, form)]


def _is_date(cell: str, form: str) -> bool:
    try:
        return 1990 <= datetime.strptime(cell, form).year <= 2100
    except ValueError:
        return False


def looks_like_date(cell: str) -> bool:
    """Say whether a cell has the form of a date that is known here."""
    if len(cell) > _LONGEST_DATE or sum(map(str.isdigit, cell)) < _FEWEST_DIGITS:
        return False
    return any(_is_date(cell.strip(), form) for form in DATE_FORMATS)


def has_decimal_comma(cells: Sequence[str]) -> bool:
    """Say whether numbers are written with a decimal comma or with points between thousands."""
    return any(_COMMA_NUMBER.fullmatch(cell.strip()) for cell in cells)


def _is_status(cell: str) -> bool:
    return cell.lower() in STATUS_WORDS


_LOOKS: dict[str, Callable[[str], bool]] = {
    "code": looks_like_code,
    "scanned_at": looks_like_date,
    "status": _is_status,
    "vin": lambda cell: _VIN.fullmatch(cell.upper()) is not None,
    "odometer": lambda cell: re.fullmatch(r"[\d.,' ]+( ?(km|mi))?", cell) is not None,
    "failure_type": lambda cell: re.fullmatch("(0x)?[0-9A-Fa-f]{2}", cell) is not None,
    "odometer_unit": lambda cell: cell.lower() in ("km", "mi"),
    "occurrences": lambda cell: re.fullmatch(r"\d{1,6}", cell) is not None,
}
