"""The week on one sheet of paper."""

from __future__ import annotations

from analysis.texts import names
from analysis.texts.words import counted, large

ORDERS = "Parts to order"
STAKE = "Money at stake"
CARS_HEADS = (*("☐", large(names.CAR), large(names.DO), "Min", "Part", "Labour", "Cost", "Chance", "▲", "Bay", "Done"),)
MARK = (
    "▲: read the caution on the car's job sheet before starting. Minutes and cost are without a check that goes before."
)
FROM_NOBODY = "supplier not known"
ONCE_CHECKED = "only once the check says so"
NO_ORDERS = "Nothing to order."


def title(week: str, day: str) -> str:
    """Head the sheet."""
    return f"Week {week} on one sheet, as of {day}"


def cars(shown: int, more: int) -> str:
    """Head the cars: the whole list, or the first of it."""
    if more:
        left = counted(more, "more is", "more are")
        return f"The first {shown} cars of the list, the quickest first; {left} in the report"
    return f"The whole list, {counted(shown, 'car', 'cars')}, the quickest first"


def material(part: str) -> str:
    """Name what a repair takes."""
    return f"material for {part}"


def bought(now: str, maybe: str) -> str:
    """Say what the parts cost that are bought now, and what those may that wait for a check; it may be blank."""
    return f"{now} now, {maybe} maybe, after the check" if maybe else now


def times(cars: int) -> str:
    """Say how many of a part to order."""
    return f"{cars}\N{MULTIPLICATION SIGN}"


def stake(cars: int, asking: str, first: str, hours: str, sums: tuple[str, str, str]) -> str:
    """Say what is at stake.

    Args:
        cars: Cars on the sheet.
        asking: What is asked for them; blank where it is not known.
        first: What the first tries cost.
        hours: What the work takes.
        sums: What the lists should cost to the end, what handing all of them over costs, and what that saves.
    """
    asked = f", asking price {asking} together" if asking else ""
    to_end, handing, saving = sums
    return (
        f"{counted(cars, 'car', 'cars')}{asked}. First tries {first}, {hours} of own work. To the end, on average, "
        f"{to_end}; handing all over {handing}; saved {saving}."
    )
