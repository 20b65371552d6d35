"""The frame of the report's page: its head, what changed, what was set aside, the notes of the run."""

from __future__ import annotations

from analysis.texts.action_text import LICENSED, RECHECK
from analysis.texts.words import counted, listed, small

SKIP = "Go to what to try first"
NO_CARS = "No car on the list this week."
NO_CARS_WHY = (
    "Either no car in stock has an open code, or nothing is known yet that could be tried. New scans change that."
)
TOO_FEW_VISITS = "Too few past visits to say how often such a first try was right."
NO_VISITS = "No past repair can check this list yet."
DEARER = "dearer first try"
RECHECKS = f"{small(RECHECK)} first"
HANDED_OVER = "better handed over"

NAV = "Parts of this sheet"
CHANGED = "What changed"
ASIDE = "Set aside"
NOTES = "Notes of the run"

CARE = "Before you start"
CARES = (
    "Record every module before erasing anything. Keep the scan from before and the one from after.",
    LICENSED,
    "A chance here comes from your own scans and repairs. It says what to try, not what state the car is in.",
)

SCROLLS = "Chart, scrolls sideways"
SAME_AS_TABLE = "The same as a table"

CHANGED_CARS = "Cars on the list"
NONE_MOVED = "None moved."
CHANGED_FAMILIES = "Families"
STEADY = "steady"
NOTHING_CHANGED = "Nothing changed on the list or in the families."
NO_EARLIER = (
    "There is no earlier report to compare with. From the next week on, this says which cars are new, which left, and "
    "which families grow."
)

ASIDE_WHY = "What could not be used, and why. Nothing here was counted as good or bad."
FILE_REFUSED = "File refused"
SHOW_ASIDE = "Show them"
NONE = "None."
REFUSED = "Refused"
REFUSED_WHY = "These values did not read as their column asks; the rest of each file was used."
UNREAD = "Unread"
UNREAD_WHY = "The module did not answer after the job, so nothing is known of its code. That is not the same as clear."
UNPROVEN = "Unproven"
UNPROVEN_WHY = "Not seen to act again, but too little was driven, or read whole, to tell. It counts neither way."
PAST = "Looked past"
PAST_WHY = "These codes are explained without a fault. They stay on the sheet and out of the reckoning."
REFUSED_HEADS = ("times", "file", "column", "why")
MODULE_HEADS = ("times", "module", "code")
PAST_HEADS = ("vehicle", "code", "reason")

NO_NOTES = "Nothing to note."
RUN_COUNTS = "What went in and out"
RUN_COUNTS_CAPTION = "Counts of the run"
SCRIPT_WORDS = {
    "show_more": "Show {more} more of {left}",
    "cars_shown": "{shown} of {cars} cars",
    "not_drawn": "The chart could not be drawn; the table below holds the same.",
}
"""What the page's script writes itself; what stands in braces is filled in there."""


def title(week: str) -> str:
    """Return the page's title."""
    return f"What to try first, week {week}"


def as_of(week: str, day: str) -> str:
    """Say which week the page is of."""
    return f"Week {week}, as of {day}"


def to_look_at(cars: int) -> str:
    """Say how many cars are on the list."""
    return f"{counted(cars, 'car', 'cars')} to look at."


def cheap_ones(cars: int, cheap: int) -> str:
    """Say on how many of the cars the first thing to try is cheap."""
    if cars == 1:
        return f"Its first try is {'cheap' if cheap else 'not cheap'}."
    if not cheap:
        return "On none is the first thing to try cheap."
    return f"{'On' if cheap < cars else 'On all'} {cheap} the first thing to try is cheap."


def named_first(share: str) -> str:
    """Say how often the list was right."""
    return f"On past visits the part that worked was named first in {share}."


def cheap_first(limit: str) -> str:
    """Return the label of the cheap ones; the limit may be blank."""
    return f"cheap first try, up to {limit}" if limit else "cheap first try"


def against(week: str) -> str:
    """Say which report this one is compared with."""
    return f"Against the report of week {week}."


def new_cars(cars: int) -> str:
    """Head the cars that are new on the list."""
    return f"{cars} new"


def other_tries(cars: int) -> str:
    """Head the cars whose first try is another one now."""
    return f"{cars} with another first try"


def other_try(now: str, before: str) -> str:
    """Say what to try first now, and what it was before."""
    return f"{now} (before: {before})"


def off_list(cars: int) -> str:
    """Head the cars that left the list."""
    return f"{cars} off the list"


def family_moved(change: str, now: int, before: int) -> str:
    """Say how many cars show a family now, and how many did before."""
    if change == "vanished":
        return f"{counted(before, 'car', 'cars')} before"
    cars = counted(now, "car", "cars")
    return cars if change == "new" else f"{cars}, {before} before"


def came(vehicles: str) -> str:
    """Name the cars that show a family now and did not before, ``;``-separated."""
    return f"; came: {listed(vehicles)}"


def steady(families: int) -> str:
    """Say how many families stayed as they were."""
    return counted(families, "family", "families")


def refused(layout: str, name: str, why: str) -> str:
    """Say which file was refused, and why."""
    return f"{layout}/{name}: {why}"


def all_in(what: str, table: str) -> str:
    """Caption a table that shows the first rows of what is set aside."""
    return f"{what}; all of them are in {table}.csv"


def more_in(rows: int, table: str) -> str:
    """Say how many rows more there are."""
    return f"{rows} more in {table}.csv."


def more_notes(notes: int) -> str:
    """Say how many notes more there are."""
    return counted(notes, "more note", "more notes")
