"""How are the numbers of some cells written: decimal mark, mark between thousands, unit behind?"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

_SPACES = str.maketrans({"\u00a0": " ", "\u202f": " ", "\u2019": "'"})
_NUMBER = re.compile(r"[+-]?\d[\d.,' ]*")
_MONEY = r"eur|euro|€|\$|£|usd|gbp|chf|pln|zł|zl|kr|sek|kč"
_UNITS = rf"km|mi|miles|{_MONEY}|min|mins|minutes|minuten|minuti|minutos|minuty|std|h"
_WITH_UNIT = re.compile(rf"([+-]?\d[\d.,' ]*?)(?:[.,][-–—]+)? ?({_UNITS}|(?<=[-–—]))\.?", re.IGNORECASE)
_BEHIND_UNIT = re.compile(rf"({_MONEY}) ?([+-]?\d[\d.,' ]*?)(?:[.,][-–—]+)?", re.IGNORECASE)
_GROUPED = re.compile(r"[+-]?\d{1,3}(?:([.,' ])\d{3})+")
_DASHED = re.compile(r"\d([.,])[-–—]{1,2}(?!\d)")
_FEWEST_GROUPED = 3


@dataclass(frozen=True)
class NumberGuess:
    """How numbers are written.

    Attributes:
        decimal: The decimal mark, "." or ",".
        thousands: The mark between thousands, or None.
        why: What tells so; blank where the numbers have no marks.
        unsure: A cell whose mark may be either; blank where none is.
        spaced: Only blanks or apostrophes between thousands were seen, so the decimal mark is open.
    """

    decimal: str = "."
    thousands: str | None = None
    why: str = ""
    unsure: str = ""
    spaced: bool = False


def unit_behind(cells: Iterable[str]) -> set[str]:
    """Return the units that stand behind the numbers of some cells, or money in front of them, in small letters."""
    plain = [cell.strip().translate(_SPACES) for cell in cells]
    found = {match[2].lower() for cell in plain if (match := _WITH_UNIT.fullmatch(cell))}
    return found | {match[1].lower() for cell in plain if (match := _BEHIND_UNIT.fullmatch(cell))}


def bare(cell: str) -> str:
    """Return the number of a cell without its unit, spaces made plain; the cell where it is no number."""
    plain = cell.strip().translate(_SPACES)
    match = _WITH_UNIT.fullmatch(plain)
    behind = _BEHIND_UNIT.fullmatch(plain) if match is None else None
    return match[1] if match else behind[2] if behind else plain


def looks_like_number(cell: str) -> bool:
    """Say whether a cell is a number, marks and unit allowed."""
    return _NUMBER.fullmatch(bare(cell)) is not None


def number_guess(cells: Iterable[str], *, whole: bool, printed: bool = False) -> NumberGuess:
    """Tell how some numbers are written.

    Args:
        cells: All of them, other cells among them.
        whole: They are whole numbers by what they mean, like an odometer: three digits behind every mark are thousands.
        printed: They are what a clock of distance shows, with its unit: one is enough, for none counts thousandths.

    Returns:
        The guess.
    """
    cells = [*cells]
    numbers = sorted({bare(cell) for cell in cells if looks_like_number(cell)})
    if (dashed := _by_dashes(cells, numbers)) is not None:
        return dashed
    marked = [number for number in numbers if re.search(r"\d[.,' ]\d", number)]
    spaced = next((mark for mark in (" ", "'") if any(mark in number for number in marked)), None)
    comma = next((number for number in marked if _is_decimal(number, ",")), None)
    point = next((number for number in marked if _is_decimal(number, ".")), None)
    grouped = [number for number in marked if _GROUPED.fullmatch(number)]
    marks = {mark for number in grouped for mark in re.findall(r"[.,]", number)}
    if comma and point:
        return NumberGuess(unsure=comma)
    if comma:
        return NumberGuess(
            ",", spaced or ("." if any("." in number for number in marked) else None), f"{comma!r} has a decimal comma"
        )
    if point:
        between = spaced or ("," if any("," in number for number in marked) else None)
        return NumberGuess(".", between, f"{point!r} has a decimal point" if between else "")
    if len(marks) == 1:
        mark = marks.pop()
        plain = [number for number in numbers if number.isdigit() and len(number) > 3]
        sure = any(number.count(mark) > 1 for number in grouped) or (
            whole and (printed or len(grouped) >= _FEWEST_GROUPED) and not plain
        )
        other = "." if mark == "," else ","
        why = f"three digits stand behind every {mark!r}, as in {grouped[0]!r}"
        return NumberGuess(other, mark, why) if sure else NumberGuess(unsure=grouped[0])
    rest = NumberGuess(".", spaced, f"{marked[0]!r} has it between thousands", spaced=True) if spaced else NumberGuess()
    return NumberGuess(unsure=grouped[0]) if marks else rest


def _by_dashes(cells: Sequence[str], numbers: Sequence[str]) -> NumberGuess | None:
    """Tell how numbers are written where a dash stands for their cents, ``8.600,-``; None where none does."""
    shown = next((cell for cell in cells if looks_like_number(cell) and _DASHED.search(cell)), None)
    found = _DASHED.search(shown) if shown is not None else None
    if found is None:
        return None
    other = "." if found[1] == "," else ","
    if any(_is_decimal(number, other) for number in numbers):
        return None
    between = other if any(other in number for number in numbers) else None
    return NumberGuess(found[1], between, f"{shown!r} has a dash for its cents")


def _is_decimal(number: str, mark: str) -> bool:
    """Say whether a mark in a number can be its decimal mark only."""
    if number.count(mark) != 1:
        return False
    before, behind = number.split(mark)
    if re.search("[.,' ]", behind):
        return False
    return bool(re.search("[.,' ]", before)) or len(behind) != 3 or len(before.lstrip("+-")) > 3 or before in ("0", "")
