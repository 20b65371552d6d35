"""The job sheet that goes to the car, on the page for the printer and as PDF."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.texts.action_text import LICENSED
from analysis.texts.names import LEFT_ALONE, REPAIRS
from analysis.texts.words import counted, enumerated, large, listed, small, taking

BACK = "Back to the list"
FOUND = "Codes as found"
GONE = "not there at the last scan, not proven gone yet"
NO_CODES = "None is open."
OWN = "A make behind a code (@make): the maker's own code."
BEFORE = "Before anything else"
STORED_ONLY = "Stored only, erase and look again after the drive:"
RECORD = "Recorded: every module is scanned and the scan is kept, before anything is erased."
CARE = f"{LICENSED} A chance says what to try, not what state the car is in."
TRIES = "What to try, in order"
FETCH = "Parts to fetch"
NO_FETCH = "No part."
NOTES = "What was found and measured"
DONE = "What was done: a line for each action, an erase too"
SIGNED = ("Mechanic", "Day", "Signature")
PLATE = "Plate"
KNOWN_MILEAGE, KNOWN_VIN, KNOWN_YEAR, ALL_MINUTES = "Mileage known", "VIN", "Year", "Minutes, first step"
FILL = "Lines to fill"
NO_MAKE = "Make and model not known"

BOX = "\N{BALLOT BOX}"
HANDED_OVER = "Handed over, with the recorded scans and what was found"
ERASED = "Codes erased"
SCANNED = "Scanned again, every module"


def title(vehicle: str) -> str:
    """Return the title of a car's sheet."""
    return f"Job sheet {vehicle}"


def page_of(vehicle: str, page: int) -> str:
    """Mark a further page of a car's sheet."""
    return f"{title(vehicle)}, page {page}"


def page_title(vehicle: str, week: str) -> str:
    """Return the title of a car's sheet in a browser."""
    return f"{title(vehicle)}, week {week}"


def as_of(week: str, day: str) -> str:
    """Say which week the sheet is of."""
    return f"Job sheet, week {week}, as of {day}"


def car_and_week(car: str, week: str, day: str) -> str:
    """Return the line below the stock number on paper; the car may be blank."""
    return f"{car or NO_MAKE}; job sheet of week {week}, {day}"


def looked_past(reason: str) -> str:
    """Say why a code is looked past."""
    return f"{LEFT_ALONE}: {reason}"


def found_at(day: str) -> str:
    """Head the codes, with the day of the scan; it may be blank."""
    when = f", scan of {day}" if day else ""
    return f"{FOUND}{when} (tick off what is gone)"


def head_blanks(unit: str, plate: bool) -> list[str]:
    """Return the labels to write behind before the work begins.

    Args:
        unit: Unit of the mileage.
        plate: The number plate is known, and stands with what is known.
    """
    return [*([] if plate else [PLATE]), f"Mileage at the start, {unit}", "Bay"]


def end_blanks(unit: str) -> list[str]:
    """Return what is written and ticked off once the work is done."""
    return [f"Mileage at the end, {unit}", f"{BOX} {SCANNED}, scan kept"]


def done_words(actions: Sequence[str]) -> str:
    """Name the words that may be written under what was done: those that the repairs file takes."""
    return f"{large(REPAIRS['action'])}, one of these words: {', '.join(actions)}."


def waited(title: str) -> str:
    """Return the box of a car that is only driven on and scanned."""
    return f"{title}, every module"


def checked(how: str, minutes: float) -> str:
    """Return the box of the check.

    Args:
        how: How to prove the part faulty; may be blank where the check comes first.
        minutes: What the check takes where it comes first, being cheaper than fitting the part; else 0.
    """
    head = f"Checked, about {taking(minutes)}, buy only if faulty" if minutes else "Checked"
    return f"{head}: {how}" if how else head


def left_alone(codes: str) -> str:
    """Name the codes, ``;``-separated, that are left alone."""
    return f"stay as they are: {listed(codes)}"


Ways = Sequence[tuple[int, str]]
"""The lines of which one is to go on with, the first whose condition holds; a blank condition always does."""


def was_done(line: int, *, replaced: bool) -> str:
    """Return the condition that an earlier line was not found sound, and its work done."""
    return f"if step {line} was {'fitted' if replaced else 'repaired'}"


def was_sound(line: int) -> str:
    """Return the condition that an earlier line was found sound, and nothing done."""
    return f"if step {line} was found sound"


def _on(ways: Ways) -> str:
    return ", else ".join(f"to step {line}{' ' if only else ''}{only}" for line, only in ways)


def found_sound(ways: Ways, also: Sequence[int] = ()) -> str:
    """Return the box of a part that the check finds sound.

    Args:
        ways: The line to go on with, where there is one.
        also: Lines whose parts the same check tells of.
    """
    if also:
        lines = enumerated([str(line) for line in also])
        on = f"; if none is, {_on(ways)}" if ways else ""
        return f"Found sound: fit nothing, go to the step of what the check found faulty ({lines}){on}"
    return f"Found sound: fit nothing, go {_on(ways)}" if ways else "Found sound: fit nothing"


def found_faulty(work: str) -> str:
    """Return the box of a part that the check finds faulty."""
    return f"Found faulty: {small(work)}"


def driven(distance: str, ruled: bool) -> str:
    """Return the box of the drive; ``ruled`` where a rule above says where."""
    return f"Driven at least {distance}{', where the rule above allows it' if ruled else ', any trips count'}"


def only_where(codes: list[str], only: str = "") -> str:
    """Say for which codes a later line is, and on what condition; that may be blank."""
    return f"Only if still there{f', and {only}' if only else ''}: {', '.join(codes)}."


NOTHING_LEFT = "None of the codes to clear is left: stop."


def go_on(codes: list[str], ways: Ways) -> str:
    """Say where to go while some codes are still there; no codes stand for any of them.

    Args:
        codes: Which, in words.
        ways: The line that is for them; empty where none of the sheet is.
    """
    told = f"Still there, {', '.join(codes)}" if codes else "One is still there"
    if not ways:
        return f"{told}: {_NOTE_IT}."
    return f"{told}: go {_on(ways)}{f', else {_NOTE_IT}' if ways[-1][1] else ''}."


_NOTE_IT = "note it, the next list tells"


def fetch(part: str, supplier: str, price: str) -> str:
    """Name a part to fetch; supplier and price may be blank."""
    return ", ".join(one for one in (part, price, supplier) if one)


def only_if(part: str) -> str:
    """Say that a part is wanted only where the step before it did not do."""
    return f"only if it comes to that: {part}"


def typed_back(vehicle: str, unit: str, columns: Sequence[str]) -> str:
    """Say how the lines are typed into the repairs file.

    Args:
        vehicle: Stock number, the same in each line.
        unit: Unit of the mileage, the same in each line.
        columns: The file's names of the columns above, in order.
    """
    return (
        "For the office: each line above becomes a row of the repairs file, so that the next report can tell whether "
        f"it worked. Its columns in this order: {', '.join(columns)}; in each row vehicle {vehicle} and "
        f"odometer_unit {unit}."
    )


def minutes(number: str, parts: str) -> str:
    """Return the minutes that a step takes, and of what they are."""
    return f"{number} minutes ({parts})"


def chance(share: str, span: str) -> str:
    """Return a chance with its interval, which may be blank."""
    return f"chance {share} ({span})" if span else f"chance {share}"


def cost(money: str) -> str:
    """Return what it costs."""
    return f"cost {money}"


def all_title(week: str) -> str:
    """Name the page with the sheets of all cars."""
    return f"All job sheets, week {week}"


def together(shown: int, cars: int) -> str:
    """Say that the sheets of all cars stand here to be printed, or those of the first of them."""
    which = f"the first {shown:,} of {cars:,} cars" if shown < cars else counted(cars, "car", "cars")
    return (
        f"The job sheets of {which}, in the order of the list. Print this page: each car begins on a sheet of its own."
    )
