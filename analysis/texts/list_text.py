"""The first screen: one row a car, what is chosen of them, and their totals."""

from __future__ import annotations

from analysis.texts import names
from analysis.texts.words import large

LIST = "This week, car by car"
HEADS = (
    ("car", large(names.CAR)),
    ("do", large(names.DO)),
    ("chance", large(names.CHANCE)),
    ("cost", large(names.COST)),
    ("minutes", "Min"),
    ("asking", "Asking"),
    ("clears", large(names.CLEARS)),
    ("mind", large(names.MIND)),
)
"""Columns of the list: the name by which it is sorted, and its heading."""
CAPTION = (
    "One row a car: cheap tries on top, the surest for the money first. The bar shows how far a chance may be off "
    "(90 of 100 times it lies inside). A heading sorts, a car opens its ticket below its row; "
    "the arrow keys go from car to car."
)
MINDED = "There is something to mind"
MINUTES_SIGN = "\N{NO-BREAK SPACE}min"
TOTALS = "Totals of what is shown"
T_CARS = "cars"
T_PARTS = "parts to buy"
T_LABOUR = "labour"
T_TIME = "time"
T_SAVING = "less than handing all over, on average"
TODAY = "Only what I can do today"
HOURS = "Hours"
MONEY = "Money"
SKILL = "no work marked ▲"
TODAY_HINT = "Cars are taken from the top of the list as long as hours and money last."
PRINT_OR_SAVE = "Print or save"
PRINT_WEEK = "Print the week's sheet"
PRINT_ALL = "Print the report"
SAVE_LIST = "Save these rows (CSV)"


def clears(first: str, codes: int, left: int) -> str:
    """Say in words what a try should clear.

    Args:
        first: Wording of the first code, or its key.
        codes: How many codes it clears.
        left: How many open codes it leaves.
    """
    told = f"{codes} of {codes + left} codes" if left else f"all {codes} codes" if codes > 1 else "its one code"
    return f"{told}: {first}"


def hours(minutes: float) -> str:
    """Return minutes as "3 h 05 min"."""
    whole, rest = divmod(round(minutes), 60)
    return f"{whole}\N{NO-BREAK SPACE}h {rest:02d}\N{NO-BREAK SPACE}min"
