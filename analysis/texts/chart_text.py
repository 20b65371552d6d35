"""Titles, legends, tooltips and descriptions of the charts."""

from __future__ import annotations

from analysis.texts import names
from analysis.texts.words import counted

CARS = "cars"
CODE, WITH = "code", "with"
FAMILY = names.FAMILY
PART = "part"
ACTION = "what"
CHANCE = "chance"
LEAST, MOST = "at least", "at most"
VISITS = "visits"

COST_CHANCE = "Chance that it clears the codes"
CHEAP, DEARER = "cheap", "dearer"

MAP_CARS = "Cars that showed both, from"
MAP_BOTH = "cars with both"
MAP_ODDS = "times the odds"
MAP_VERDICT = "verdict"
MAP_ROLES = "On the diagonal"
MAP_ROLE = "role"

WORDING = "says"
JOBS = "jobs"
NO_PART = "no job with one part alone yet"
NONE_CLEARED = "no part has cleared it yet; see the table"
PARTS_RATE = "Share of jobs after which the whole group was gone"
PARTS_OWN = "jobs with this part alone"
PARTS_ERASE = "erasing alone"
PARTS_CLEARED = "cleared"

TREND_CARS = "Cars that first showed it in the week"
TREND_WEEK = "week from"

TRUST_GIVEN = "Chance that the list gave"
TRUST_KEPT = "Share whose codes stayed away"
TRUST_CHANCE = "chance given"
TRUST_AWAY = "stayed away"

_SAME = "The table below holds the same numbers"


def cost_axis(currency: str) -> str:
    """Title the axis of costs."""
    return f"Total cost of the first step ({currency})"


def cost(currency: str) -> str:
    """Name a cost in a tooltip."""
    return f"cost ({currency})"


def costs_described(cars: int) -> str:
    """Describe cost against chance to those who do not see it."""
    return (
        f"Cost against chance of the first step on {counted(cars, 'car', 'cars')}. The list above holds the same "
        "numbers, and choosing a car there does the same as choosing its mark here."
    )


def map_described(codes: int, families: int) -> str:
    """Describe the map to those who do not see it."""
    return (
        f"Map of {counted(codes, 'code', 'codes')} in {counted(families, 'group', 'groups')}: "
        f"a square where two codes meet is darker (in dark mode lighter), "
        f"the more cars showed both. {_SAME}."
    )


def parts_counted(sign: str) -> str:
    """Return the pattern of a count beside a line: the sign of its mark, and two numbers to fill in."""
    return f"{sign} {{}} of {{}}"


def more_codes(codes: int) -> str:
    """Say how many codes of a family are not drawn."""
    return f"and {codes} more"


def clusters_described(families: int, lines: int) -> str:
    """Describe the families and what parts cleared of them to those who do not see it."""
    return (
        f"{counted(families, 'group', 'groups')} of codes, and beside them what {counted(lines, 'part', 'parts')} "
        f"fitted alone cleared, each share with its interval and beside erasing alone. {_SAME}."
    )


def trend_described(families: int) -> str:
    """Describe the families over the weeks to those who do not see them."""
    return f"New cars by week of {counted(families, 'group', 'groups')}, a disc a week, larger with more cars. {_SAME}."


def trust_described(visits: int, steps: int) -> str:
    """Describe the reliability chart to those who do not see it."""
    judged, drawn = counted(visits, "past visit", "past visits"), counted(steps, "step", "steps")
    return f"Promised chance against what happened on {judged}, in {drawn}. {_SAME}."
