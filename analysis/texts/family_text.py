"""The families of codes on the page, and what each part cleared."""

from __future__ import annotations

from analysis.texts import chart_text
from analysis.texts.words import counted

FAMILIES = "Knock-on families"
FAMILIES_WHY = (
    "Codes that come together more often than chance and the mix of models explain. Mend the root, and the knock-on "
    "codes should go with it."
)
MAP_HINT = "Choose a square or a sign on the diagonal to keep to its family: cars, charts and tables follow."
MAP_TABLE = "Table of pairs of codes"
MAP_CAPTION = "Pairs of codes on the map"
MAP_HEADS = (
    chart_text.CODE,
    chart_text.WITH,
    chart_text.MAP_BOTH,
    chart_text.MAP_ODDS,
    chart_text.LEAST,
    chart_text.MOST,
    chart_text.MAP_VERDICT,
)
TREND = "New cars over the weeks"
TREND_TABLE = "Table of families by week"
TREND_CAPTION = "Cars that first showed the family in the week"
TREND_HEADS = (chart_text.FAMILY, chart_text.TREND_WEEK, chart_text.CARS)
NO_FAMILIES = (
    "No family yet: no two codes come together often enough to say more than chance would. It takes more scanned cars."
)

ROOT = "Root"
UNDETERMINED = "undetermined: the evidence is level or disagrees"
BEST_PART = "Best part"
NO_JOB = "no known job yet"
ERASING = "Erasing alone"
NOT_TRIED = "not tried yet"
KNOCK_ON_AND_OTHERS = "Knock-on and other codes"
ITS_CODES = "Its codes"
KNOCK_ON = "Knock-on"
WITH_THEM = "With them"
WHICH_CARS = "Which cars"
CARS_HEADS = ("car", "line", "from", "to")
SHOW_CARS = "Show its cars"

PARTS = "What each part cleared"
PARTS_WHY = (
    "Only jobs with that one part, and only where a later scan proves the outcome. Worth its money is a bar that lies "
    "to the right of the diamond; the counts behind dot and diamond stand at the right."
)
PARTS_TABLE = "Table of clear rates"
PARTS_CAPTION = "Clear rates of parts and of erasing alone"
PARTS_HEADS = ("part", "family", "cleared", "jobs", "rate", "interval", "erasing alone", "came back", "suppliers")
SUPPLIERS = "By supplier, where a part came from more than one"
SUPPLIERS_TABLE = "Table of suppliers"
SUPPLIERS_CAPTION = "The same jobs, split by who delivered the part"
SUPPLIERS_HEADS = ("part", "family", "supplier", "cleared", "jobs")
RECURRED = "Cleared, and back much later"
RECURRED_TABLE = "Table of codes that came back much later"
RECURRED_CAPTION = (
    "Proven gone after the job, and back farther on than an old fault stays away: counted as cleared, the later code "
    "as a new fault"
)
RECURRED_HEADS = ("vehicle", "job", "part", "code", "how long")
NO_PARTS = "No job with a single part has a known outcome yet. Scan before and after each job, and this fills."


def held(quiet: str, back: str) -> str:
    """Say how far a code was seen to stay away, and after what it was back."""
    return f"held {quiet}, back after {back}"


def days(number: float) -> str:
    """Say a number of days."""
    return counted(round(number), "day", "days")


def mapped(families: int, of: int) -> str:
    """Say how many families the map holds."""
    return f"The map holds {families} of {of} families; the list below holds all."


def size(cars: int, codes: int) -> str:
    """Say on how many cars a family showed, and how many codes it has."""
    return f"{counted(cars, 'car', 'cars')}, {counted(codes, 'code', 'codes')}"


def best_part(part: str, rate: str, jobs: int) -> str:
    """Say how often the best part cleared the family."""
    return f"{part}: cleared {rate} of {counted(jobs, 'known job', 'known jobs')}"


def stayed_away(rate: str) -> str:
    """Say how often the family stayed away after an erase alone."""
    return f"stayed away in {rate}"


def of_erases(stayed: int, erases: int) -> str:
    """Say of how many erases that rate is."""
    return f"({of(stayed, erases)} {'known erase' if erases == 1 else 'known erases'})"


def of(part: int, whole: int) -> str:
    """Return "3 of 8"."""
    return f"{part} of {whole:,}"


def cars_of(family: str) -> str:
    """Name the table of a family's cars for those who do not see it."""
    return f"Cars of {family}"


def cars_caption(shown: int, cars: int) -> str:
    """Caption the table of a family's cars."""
    told = "Cars that showed two of its codes together"
    return f"{told}, the latest {shown} of {cars:,}; family_cars.csv holds all" if cars > shown else told


def most_jobs(lines: int, of: int, two: bool) -> str:
    """Say which lines the chart of clear rates shows.

    Args:
        lines: How many it shows.
        of: How many there are.
        two: Each of them rests on two jobs or more.
    """
    least = ", two at least" if two else ""
    shown = "The line" if lines == 1 else f"The {lines} lines"
    return f"{shown} with the most jobs{least}; part_results.csv holds all {of:,}."
