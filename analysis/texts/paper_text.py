"""The week on one sheet of paper."""

from __future__ import annotations

from analysis.texts import names
from analysis.texts.words import counted, large

CARS = "Cars, the quickest first"
ORDERS = "Parts to order"
STAKE = "Money at stake"
CARS_HEADS = ("☐", large(names.CAR), large(names.DO), "Min", "Part", "Chance", "▲", "Bay", "Done")
FROM_NOBODY = "supplier not known"
ONCE_CHECKED = "only once the check says so"
NO_ORDERS = "Nothing to order."


def title(week: str, day: str) -> str:
    """Head the sheet."""
    return f"Week {week} on one sheet, as of {day}"


def more(cars: int) -> str:
    """Say how many cars are not on the sheet."""
    return f"{counted(cars, 'more car is', 'more cars are')} in the report."


def times(cars: int) -> str:
    """Say how many of a part to order."""
    return f"{cars}\N{MULTIPLICATION SIGN}"


def stake(cars: int, asking: str, parts: str, hours: str, saving: str) -> str:
    """Say what is at stake.

    Args:
        cars: Cars on the sheet.
        asking: What is asked for them; blank where it is not known.
        parts: What the parts cost.
        hours: What the work takes.
        saving: What the list should save against handing all of them over.
    """
    asked = f", offered for {asking} together" if asking else ""
    return (
        f"{counted(cars, 'car', 'cars')}{asked}. First lines: parts for {parts}, {hours} of own work. Followed to "
        f"the end, the lists should cost {saving} less than handing all of them over, on average."
    )
