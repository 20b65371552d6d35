"""Draft what a column for work counts: minutes, hours, money, units of work, or times each with its own unit."""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.guessing import in_hours
from pipelines.reading.drafting.numbers import looks_like_number, unit_behind
from pipelines.reading.drafting.words import BARE_WORK, MONEY, WAGES, WORK_UNITS, folded, units_of
from pipelines.reading.mapping.durations import minutes_in


def draft_labour(draft: Draft, names: Sequence[str], cells: Sequence[str], *, priced: bool) -> bool:
    """Draft what work is counted in; say whether each cell is a time with its own unit, so that none is a mere number.

    Args:
        draft: Gets the lines.
        names: The headings of the file's columns for it.
        cells: Their cells, those that are filled.
        priced: Another column has the prices of parts.
    """
    if _written(draft, names, cells):
        return True
    if _in_units(draft, names, cells) or _in_money(draft, names, cells, priced=priced):
        return False
    timed = any("min" in units_of(name) for name in names) or unit_behind(cells) & _OF_MINUTES
    if any(map(in_hours, names)):
        draft.put("labour", "hours", f"the heading {names[0]!r} says so")
    elif not timed and any(re.search(r"[.,]\d", cell) for cell in cells) and all(map(_few_hours, cells)):
        asks = f"Does {names[0]!r} count minutes or hours? It has numbers like {', '.join(cells[:_SHOWN])}."
        counts = draft.ask("labour", asks, None, "none is above 24, and nothing in the file says it", _COUNTED[:2])
        if counts == "hours":
            draft.put("labour", counts, "as answered")
    elif cells and all(map(_HOURS_AND_MINUTES.fullmatch, cells)):
        # Common practice, no source: work is written as a clock is, and nobody writes seconds of it.
        draft.put("labour", "hours", f"cells like {cells[0]!r} are hours and minutes")
    return False


_HOURS_AND_MINUTES = re.compile(r"\d{1,2}:[0-5]\d(?::00)?")


def _written(draft: Draft, names: Sequence[str], cells: Sequence[str]) -> bool:
    """Draft times that have their own units, where these are not the same behind a number in each, which is simpler."""
    told = [cell for cell in cells if minutes_in(cell) is not None]
    clocks = all(map(_HOURS_AND_MINUTES.fullmatch, told))
    plain = all(map(looks_like_number, cells)) and len(unit_behind(cells)) == 1 and unit_behind(cells) <= _OF_MINUTES
    if not told or clocks or plain or not {"written"} >= {draft.answers.get("labour", "written")}:
        return False
    left = next((cell for cell in cells if minutes_in(cell) is None), None)
    why = f"cells like {max(told, key=len)!r} have their own units"
    if left is not None:
        asks = f"What does {names[0]!r} count? {why}, and {left!r} has none; rows with such cells would be refused."
        draft.ask("labour", asks, None, "nothing in the file says it of all cells", (*_COUNTED, "written"))
    draft.put("labour", "written", why)
    return True


_OF_MINUTES = {"min", "mins", "minutes", "minuten", "minuti", "minutos", "minuty"}


def _in_units(draft: Draft, names: Sequence[str], cells: Sequence[str]) -> bool:
    """Draft units of work, of which the makers' books count ten or twelve an hour: how many is asked."""
    named = next((name for name in names if folded(name) in WORK_UNITS), None)
    if named is None or not all(map(looks_like_number, cells)):
        return False
    asks = f"How many units of {named!r} are an hour (12 where one is 5 minutes, 10 where it is 6)?"
    told = draft.units_of_work.get(folded(named))
    proposal = None if told is None else f"{told:g}"
    why = "nothing in the file says it, and both are usual" if told is None else "the file itself says so"
    given = draft.ask("labour_rate", asks, proposal, why, ("10", "12"))
    number = None if given is None else _rate_of(given)
    # Without it the mapping is refused, so that no unit passes for a minute.
    draft.put("labour", "units")
    if number is not None:
        draft.put("labour_rate", number, f"{named!r} counts units of work; {number:g} of them are an hour")
    return True


def _in_money(draft: Draft, names: Sequence[str], cells: Sequence[str], *, priced: bool) -> bool:
    """Draft what work is counted in where its numbers are amounts of money, or may be; say whether that was decided.

    A heading may name money or time, or a sign of money stand in the cells.  Else two digits behind each decimal mark
    may be cents or parts of an hour, and numbers beside the prices of parts under a mere ``Labour`` either: that is
    asked.
    """
    if cells and unit_behind(cells) <= _OF_MINUTES and unit_behind(cells):
        return False
    headings = [folded(name) for name in names]
    timed = any({*units_of(name)} & {"min", "h"} for name in names)
    sign = unit_behind(cells) - _TIME
    told = [name for name, plain in zip(names, headings, strict=True) if MONEY.search(name) or _names_wages(plain)]
    cents = [cell for cell in cells if _CENTS.fullmatch(cell)]
    if timed and not sign:
        return False
    if told or sign:
        why = f"the heading {told[0]!r} says so" if told else f"{sorted(sign)[0]} stands with the numbers"
        counts = draft.ask("labour", f"Does {names[0]!r} count money, minutes or hours?", "money", why, _COUNTED)
    elif any(map(in_hours, names)) and all(_few_hours(cell) for cell in cells):
        return False  # the heading says hours, and nobody works longer on one part
    elif cells and len(cents) > 0.5 * len(cells) and not any(":" in cell for cell in cells):
        asks = f"Does {names[0]!r} count money, minutes or hours? It has numbers like {cents[0]!r}."
        counts = draft.ask("labour", asks, None, "nothing in the file says it", _COUNTED)
    elif (
        priced and cells and all(heading in BARE_WORK for heading in headings) and not any(":" in one for one in cells)
    ):
        asks = f"Does {names[0]!r} count money, minutes or hours? It has numbers like {', '.join(cells[:_SHOWN])}."
        why = "its heading does not say it, and the parts beside it have prices"
        counts = draft.ask("labour", asks, None, why, _COUNTED)
    else:
        return False
    if counts not in ("minutes", "hours"):
        rate = None if draft.labour_rate is None else f"{draft.labour_rate:g}"
        why = "it is labour_rate of the settings" if rate else "labour_rate of the settings, if no other rate is meant"
        asks = f"How much is an hour of the work in {names[0]!r}?"
        given = draft.ask("labour_rate", asks, rate, why) if counts == "money" else None
        number = None if given is None else _rate_of(given)
        # Without a rate the mapping is refused, so that no amount passes for minutes.
        draft.put("labour", "money")
        if number is not None:
            draft.put("labour_rate", number, f"{names[0]!r} is money; at {number:g} an hour it is turned into minutes")
    elif counts == "hours":
        draft.put("labour", counts, "as answered")
    return counts is not None


def _names_wages(heading: str) -> bool:
    return any(f" {phrase} " in f" {heading} " for phrase in WAGES)


def _few_hours(cell: str) -> bool:
    """Say whether a number may be hours of one piece of work."""
    try:
        return float(cell.replace(",", ".")) <= _LONGEST_WORK
    except ValueError:
        return ":" in cell


def _rate_of(text: str) -> float | None:
    """Return the number of an answer, a comma for its point or not; None where it is none above 0."""
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        return None
    return number if 0 < number <= _MOST_AN_HOUR else None


_TIME = {"min", "mins", "minutes", "minuten", "minuti", "minutos", "minuty", "std", "h", "km", "mi", "miles"}
_CENTS = re.compile(r"\d[\d., ']*[.,]\d\d")
_COUNTED = ("minutes", "hours", "money")
_LONGEST_WORK = 24.0
_SHOWN = 3
_MOST_AN_HOUR = 10_000
