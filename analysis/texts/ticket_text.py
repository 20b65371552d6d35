"""The cars of the page: what to try first, a ticket a car, each with its story."""

from __future__ import annotations

from analysis.texts import action_text, names
from analysis.texts.words import counted, large

NOTHING = "There is nothing to try this week."

FILTERS = "Choose cars"
FIND = "Find"
FIND_HINT = "stock number, part, code"
MAKE = "Make"
FAMILY = large(names.FAMILY)
ALL = "all"
ANY = "any"
SHOW_ALL = "Show all"
NOBODY = "No car fits what you chose."
SHOW_MORE = "Show more"

COSTS = "Cost against chance"
COSTS_HINT = "Upper left is where a little money is likely to do."
COSTS_PICK = "Choose a mark to see its cars."

ONLY_THIS = "Only this car"
JOB_SHEET = "Job sheet:"
SHEET_PAGE = "page"
SHEET_PDF = "PDF"
CHANCE = "Chance"
COST = "Cost"
TIME = "Own time"
NO_CHANCE = "chance not known"
NO_PRICE = "price not known"
FLAT = "your price for handing over, as set"
MIND = "Caution:"
WATCH = "Watch"
CHECK = "Check first"
HOW = "How"
CLEARS_EACH = "Clears"
ONLY_IF = "Only if one of these is still there"
GONE = "Gone since the erase, not proven yet"
LAMP_FAILS = "These codes can light a lamp that is an item of the periodic inspection."
LAMP_NOTED = "These codes can light a lamp that the periodic inspection notes."
LOOKED_PAST = f"{large(names.LEFT_ALONE)}:"
STORED_ONLY = "Stored only, erase and look again:"
WHY_HANDED = "Why not try a part"

STORY = "Its story, scan by scan"


def limit_line(limit: str) -> str:
    """Say what the dashed line is."""
    return (
        f"The dashed line is your limit for cheap, {limit}; cheap says what it costs, not that it is work for everyone."
    )


def parts_of_cost(part: str, labour: str) -> str:
    """Split a cost into part and labour."""
    return f"part\N{NO-BREAK SPACE}{part}, labour\N{NO-BREAK SPACE}{labour}"


def minutes(number: str) -> str:
    """Return a number of minutes."""
    return f"{number}\N{NO-BREAK SPACE}min"


def alike(parts: str) -> str:
    """Name the parts, ``;``-separated, that the evidence cannot tell from this one."""
    return f"{large(action_text.alike(parts))}."


def clears(codes: int) -> str:
    """Head the codes that it should clear."""
    return f"{CLEARS_EACH} {codes}"


def leaves(codes: int) -> str:
    """Head the codes that it is not known to clear: some go with the erase, some with what is done next."""
    return f"May stay: {codes}"


def open_codes(codes: int) -> str:
    """Head the open codes of a car that is looked at again or handed over."""
    return f"Open codes: {codes}"


def scanned(day: str) -> str:
    """Say when the car was scanned last."""
    return f"Last scan {day}."


def later(tries: int, cost: str) -> str:
    """Head the rows behind the first."""
    return (
        f"If that does not do it: {tries} more. To the end it costs {cost} on average, over cars that the first step "
        "mends and cars that it does not"
    )


def earlier_visits(visits: int) -> str:
    """Say how many visits are not shown."""
    return f"{counted(visits, 'earlier visit is', 'earlier visits are')} not shown."
