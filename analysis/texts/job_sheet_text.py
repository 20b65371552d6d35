"""The job sheet that goes to the car, on the page for the printer and as PDF."""

from __future__ import annotations

from analysis.texts.action_text import LICENSED
from analysis.texts.words import listed, small

FOUND = "Codes as found"
NO_CODES = "None is open."
BEFORE = "Before anything else"
RECORD = "Recorded: every module is scanned and the scan is kept, before anything is erased."
CARE = f"{LICENSED} A chance says what to try, not what state the car is in."
TRIES = "What to try, in order"
FETCH = "Parts to fetch"
NO_FETCH = "No part."
NOTES = "What was found and measured"
DONE = "What was done: a line for each action, an erase too"
SIGNED = ("Mechanic", "Day", "Signature")
HEAD_BLANKS = ("Plate", "Mileage today", "Bay")
KNOWN_MILEAGE, KNOWN_VIN, KNOWN_YEAR, ALL_MINUTES = "Mileage known", "VIN", "Year", "Minutes, first line"
FILL = "Lines to fill"
NO_MAKE = "Make and model not known"

HANDED_OVER = "Handed over, with the recorded scans and what was found"
ERASED = "Codes erased"
SCANNED = "Scanned again, every module"


def title(vehicle: str) -> str:
    """Return the title of a car's sheet."""
    return f"Job sheet {vehicle}"


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
    return f"looked past: {reason}"


def checked(how: str, pays: bool) -> str:
    """Return the box of the check.

    Args:
        how: How to prove the part faulty.
        pays: The check is cheaper than fitting the part.
    """
    return f"Checked first, it is cheaper: {small(how)}" if pays else f"Checked first: {how}"


def left_alone(codes: str) -> str:
    """Name the codes, ``;``-separated, that are left alone."""
    return f"stay as they are: {listed(codes)}"


def fitted_if_faulty(work: str) -> str:
    """Return the box of a part that is fitted only where the check finds it faulty."""
    return f"Found sound: fit nothing, go on with the next. Found faulty: {small(work)}"


def driven(distance: str) -> str:
    """Return the box of the drive."""
    return f"Driven at least {distance}"


def gone_then(codes: list[str]) -> str:
    """Say when to stop."""
    return f"Gone then: {', '.join(codes)}. Stop there; else go on."


def fetch(part: str, supplier: str, price: str) -> str:
    """Name a part to fetch; supplier and price may be blank."""
    return ", ".join(one for one in (part, price, supplier) if one)


def only_if(part: str) -> str:
    """Say that a part is wanted only where the step before it did not do."""
    return f"only if it comes to that: {part}"


def typed_back(vehicle: str, unit: str) -> str:
    """Say what stands in every line of the repairs file without being asked for here."""
    return (
        "To type back: the small words are the columns of the repairs file; "
        f"vehicle {vehicle} and odometer_unit {unit} in each line."
    )


def minutes(number: str) -> str:
    """Return the minutes that a step takes."""
    return f"{number} minutes"


def chance(share: str, span: str) -> str:
    """Return a chance with its interval, which may be blank."""
    return f"chance {share} ({span})" if span else f"chance {share}"


def cost(money: str) -> str:
    """Return what it costs."""
    return f"cost {money}"


def more(tries: int) -> str:
    """Say how many tries more there are."""
    return f"{tries} more in the report."
