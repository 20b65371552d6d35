"""The week on one sheet of paper."""

from __future__ import annotations

from analysis.texts import names
from analysis.texts.words import counted, large

ORDERS = "Parts to order"
STAKE = "Money at stake"
CARS_HEADS = (
    *("☐", large(names.CAR), large(names.DO), "Min", "Part", "Labour", "Cost", "Chance", "▲", "Scan of", "Bay", "Done"),
)
MARK = (
    "▲: the first step itself is work with a caution; read every car's job sheet before starting. Min: own time for "
    "check, work, erasing and scans; any trips count as the test drive. Cost: part and work."
)
FROM_NOBODY = "supplier not known"
NOW = "To order now"
MAYBE = "To order only once the check says so"
NO_ORDERS = "Nothing to order."


def title(week: str, day: str) -> str:
    """Head the sheet."""
    return f"Week {week} on one sheet, as of {day}"


def cars(shown: int, more: int) -> str:
    """Head the cars: the whole list, or the first of it."""
    if more:
        left = counted(more, "more is", "more are")
        return f"The first {shown} cars of the list, in its order; {left} in the report"
    return f"The whole list, {counted(shown, 'car', 'cars')}, in its order"


def material(part: str) -> str:
    """Name what a repair takes."""
    return f"material for {part}"


def bought(now: str, maybe: str) -> str:
    """Say what the parts cost that are bought now, and what those may that wait for a check; it may be blank."""
    return BOUGHT.format(now=now, maybe=maybe) if maybe else now


def which_car(plate: str, named: str, vin: str) -> str:
    """Say which car a part is for, so that it can be ordered from the paper alone.

    Args:
        plate: Number plate; may be blank.
        named: Make, model and year, as far as they are known; may be blank.
        vin: Vehicle identification number; may be blank.
    """
    return ", ".join(one for one in (plate, named, f"VIN {vin}" if vin else NO_VIN) if one)


NO_VIN = "VIN not known"
TIMES = "{n}\N{MULTIPLICATION SIGN}"
BOUGHT = "{now} now, {maybe} maybe, after the check"
EACH = "each"
CHOSEN = "Only what is chosen on the screen: {shown} of {cars}"
STAKES = (
    "{cars}, asking price {asking} together. First steps {first}, {hours} of own time with {drives} test drives beside "
    "it. Until all of them are done it should come to about {end}; a specialist for all of them would cost {handing}, "
    "which is {saving} more."
)
"""What is at stake; what stands in braces is filled in, by the page's script too where cars are chosen."""


def times(cars: int) -> str:
    """Say how many of a part to order."""
    return TIMES.format(n=cars)


def stake(cars: int, asking: str, first: str, work: tuple[str, int], sums: tuple[str, str, str]) -> str:
    """Say what is at stake.

    Args:
        cars: Cars on the sheet.
        asking: What is asked for them, as far as it is known.
        first: What the first steps cost.
        work: What the work takes, and how many test drives come with it.
        sums: What the lists should cost until all is done, what a specialist for all of them costs, and how much more.
    """
    named = dict(zip(("end", "handing", "saving"), sums, strict=True))
    hours, drives = work
    return STAKES.format(
        cars=counted(cars, "car", "cars"), asking=asking, first=first, hours=hours, drives=drives, **named
    )
