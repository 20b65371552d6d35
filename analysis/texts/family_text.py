"""The families of codes on the page, and what each part cleared."""

from __future__ import annotations

from analysis.texts import chart_text, names
from analysis.texts.words import counted

CLUSTERS = "Which codes one part clears"
CLUSTERS_WHY = (
    "Each box is a group: codes that keep turning up together on the same cars. Beside it stand the parts that were "
    "fitted alone on such cars, and the share of those jobs after which the whole group was gone; the share lies on "
    "the bar 90 of 100 times. Worth its money is a bar to the right of the diamond, which is what erasing alone did. "
    "A make behind a code (@make) says that it is that maker's own: elsewhere the same number means something else."
)
CHOOSE = "Choose a group, a part, a code or a car: the list, the charts and the tables follow"
SAVE = "Save what is chosen"
SAVE_TABLE = "As a table (CSV)"
SAVE_PNG = "As a picture (PNG)"
SAVE_SVG = "As a picture (SVG)"
SAVE_PAGE = "As a page to print"
CARDS = "Cards of the groups"
MAP = "Map of codes that come together"
CODE, CAR, PART = names.CODE, names.CAR, names.PART
RECKONED = (
    "Counted are jobs with that one part alone, and only where a later scan proves the outcome. The bar is the "
    "90 % interval of the share (Jeffreys; Brown, Cai and DasGupta 2001). Groups are communities of the graph of codes "
    "that come together more often than chance and the mix of models explain, within a model line (Louvain method, "
    "Blondel and others 2008), the pairs judged by exact tests and corrected for how many were looked at (Benjamini "
    "and Hochberg 1995)."
)
MAP_HINT = "Choose a square or a sign on the diagonal to keep to its group: cars, charts and tables follow."
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
TREND_TABLE = "Table of groups by week"
TREND_CAPTION = "Cars that first showed the group in the week"
TREND_HEADS = (chart_text.FAMILY, "cars that first showed it, by the week's first day")
NO_FAMILIES = (
    "No group yet: no two codes come together often enough to say more than chance would. It takes more scanned cars."
)

ROOT = "Leads"
UNDETERMINED = "not known which leads: the evidence is level or disagrees"
BEST_PART = "Best part"
NO_JOB = "no known job yet"
ERASING = "Erasing alone"
NOT_TRIED = "not tried yet"
KNOCK_ON = "Follow it"
WITH_THEM = "With them"
WHICH_CARS = "Which cars"
SHOW_CARS = "Show its cars"

PARTS_TABLE = "Table of clear rates"
PARTS_CAPTION = "Clear rates of parts and of erasing alone"
RECURRED = "Cleared, and back much later"
RECURRED_TABLE = "Table of codes that came back much later"
RECURRED_CAPTION = (
    "Proven gone after the job, and back farther on than an old fault stays away: counted as cleared, the later code "
    "as a new fault"
)
RECURRED_HEADS = ("vehicle", "job", "part", "code", "how long")
PARTS_HEADS = (
    names.PART,
    names.FAMILY,
    names.COLUMNS["cleared"],
    names.COLUMNS["jobs"],
    names.COLUMNS["rate"],
    "range",
    names.COLUMNS["erase_rate"],
    names.COLUMNS["returned"],
    names.COLUMNS["suppliers"],
)
NO_PARTS = (
    "No job with a single part has a known outcome yet. A repair without a recorded erase proves little, even between "
    "two scans: a code can go by itself, or stay stored. Scan every control unit before each job, write the erase into "
    "the repairs (a line of its own: erase), drive and scan again, and this fills."
)


def held(quiet: str, back: str) -> str:
    """Say how far a code was seen to stay away, and after what it was back."""
    return f"held {quiet}, back after {back}"


def days(number: float) -> str:
    """Say a number of days."""
    return counted(round(number), "day", "days")


def mapped(families: int, of: int) -> str:
    """Say how many families the map holds."""
    return f"The map holds {families} of {of} groups; the list below holds all."


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


def cars_caption(shown: int, cars: int) -> str:
    """Say what these cars are."""
    told = "Cars that showed two of its codes together, with the day they last did"
    return f"{told}; the latest {shown} of {cars:,}, family_cars.csv holds all." if cars > shown else f"{told}."


def best_lines(lines: int, of: int) -> str:
    """Say which lines the chart of clear rates and its table show."""
    shown = "The line" if lines == 1 else f"The {lines} lines"
    return (
        f"{shown} with the best proven share of each group, two jobs at least where there are any; "
        f"part_results.csv holds all {of:,}."
    )


def not_drawn(lines: int) -> str:
    """Say how many parts are not drawn, as they say next to nothing yet."""
    told = counted(
        lines, "part that cleared nothing in its few jobs says", "parts that cleared nothing in their few jobs say"
    )
    return f"Not drawn: {told} too little yet; the table holds all."


def drawn(families: int, of: int) -> str:
    """Say how many families are drawn."""
    return f"Drawn are the {families} most common of {of} groups; the cards below hold all."


def verdict(word: str, since: str | None) -> str:
    """Say how sure it is that two codes belong together.

    Args:
        word: confirmed or likely.
        since: The week of the report that confirmed it; blank where it is likely.
    """
    return f"{word} since {since}" if since else word
