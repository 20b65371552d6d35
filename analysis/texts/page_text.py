"""The frame of the report's page: its head, what changed, what was set aside, the notes of the run."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.texts import list_text, names, paper_text
from analysis.texts.action_text import LICENSED
from analysis.texts.words import counted, enumerated, large, listed, small

SKIP = "Go to the cars"
NO_CARS = "No car on the list this week."
NO_CARS_WHY = (
    "Either no car in stock has an open code, or nothing is known yet that could be tried. New scans change that."
)
TOO_FEW_VISITS = "Too few past visits to say how often such a first step was right."
NO_VISITS = "No past repair can check this list yet."
NAV = "Parts of this sheet"
NAV_WORDS = (
    ("list", "Cars"),
    ("clusters", "What parts clear"),
    ("changed", "Changed"),
    ("standing", "Leave alone"),
    ("trust", "Trust"),
    ("ledger", "Promised"),
    ("aside", names.NOT_COUNTED),
    ("notes", "Notes"),
)
"""Sections of the page by the mark that they carry, each with its short name."""
CHANGED = "What changed"
ASIDE = names.NOT_COUNTED
NOTES = "Notes of the run"

CARE = "Before you start:"
CARE_SHORT = (
    "record every module before erasing; brakes, airbags, steering, fuel, high voltage, raised cars: licensed practice "
    "only."
)
CARES = (
    "Record every module before erasing anything. Keep the scan from before and the one from after.",
    LICENSED,
    "A chance here comes from your own scans and repairs. It says what to try, not what state the car is in.",
)

SCROLLS = "Chart, scrolls sideways"
RECKONED = names.WORKED_OUT

CHANGED_CARS = "Cars on the list"
NONE_MOVED = "None moved."
CHANGED_FAMILIES = "Groups of codes"
STEADY = "steady"
NOTHING_CHANGED = "Nothing changed on the list or in the groups of codes."
SHOW_CHANGES = "Which cars and groups"
NO_EARLIER = (
    "There is no earlier report to compare with. From the next week on, this says which cars are new, which left, and "
    "which groups of codes grow."
)

ASIDE_WHY = "What could not be used, and why. Nothing here was counted as good or bad."
FILE_REFUSED = "File not read"
REFUSED = "Could not be read"
REFUSED_WHY = "These values did not read as their column asks; the rest of each file was used."
UNREAD = "Not read again"
UNREAD_WHY = (
    "The module did not answer after the job, or was not read before a later one, so nothing is known of its code. "
    "That is not the same as clear."
)
UNPROVEN = "Not proven yet"
UNPROVEN_WHY = "Not seen to act again, but too little was driven, or read whole, to tell. It counts neither way."
PAST = large(names.LEFT_ALONE)
PAST_WHY = "These codes are explained without a fault. They stay on the sheet and are not counted."
REFUSED_HEADS = ("times", "file", "column", "why")
MODULE_HEADS = ("times", "module", "code")
PAST_HEADS = ("vehicle", "code", "reason")

NO_NOTES = "Nothing to note."
RUN_COUNTS = "What went in and out"
RUN_COUNTS_CAPTION = "Counts of the run"
NAME_MODULES = (
    "Put them into modules.csv in your workspace: behind the first comma what the unit is. Where it is only another "
    "spelling of a known one, write that one's name first and this spelling behind the second comma."
)
MODULES_HEADING = "module,name,also_called"
SCRIPT_WORDS = {
    "show_more": "Show {more} more of {left}",
    "cars_shown": "{shown} of {cars}",
    "cars": "cars",
    "kinds": {"family": names.FAMILY, "part": "part", "code": "code", "car": "car"},
    "chosen": "cars, chosen: {what}",
    "followed": "Chosen: {what}. {cars} on this week's list; {families} shown in full, the others faint. "
    "Choose it again to show all.",
    "one_car": "1 car",
    "many_cars": "{n} cars",
    "one_family": "1 group",
    "many_families": "{n} groups",
    "picture_of": "Chosen: {what}",
    "here": list_text.HERE,
    "times": paper_text.TIMES,
    "bought": paper_text.BOUGHT,
    "only_chosen": paper_text.CHOSEN,
    "stakes": paper_text.STAKES,
    "save_heads": list_text.SAVE_HEADS,
    "hours": "{hours}\N{NO-BREAK SPACE}h {minutes}\N{NO-BREAK SPACE}min",
    "story_of": "Story of {car}",
    "story_signs": "● the scan showed it, ○ read and not there, blank: not read. {earlier}",
    "story_code": "code",
    "story_marks": {"s": "there", "g": "gone", "u": "not read", "w": "work"},
    "not_drawn": "The chart could not be drawn; the table below holds the same.",
}
"""What the page's script writes itself; what stands in braces is filled in there."""


def title(week: str) -> str:
    """Return the page's title."""
    return f"What to try first, week {week}"


def as_of(week: str, day: str) -> str:
    """Say which week the page is of."""
    return f"Week {week}, as of {day}"


_NAMED = 3


def two_numbers(vehicles: Sequence[str]) -> str:
    """Say that stock numbers stand with two vehicle numbers, so that the codes of another car may be among theirs."""
    more = len(vehicles) - _NAMED
    named = enumerated([*vehicles] if more < 1 else [*vehicles[:_NAMED], f"{more} more"])
    stand = "stands" if len(vehicles) == 1 else "stand"
    return f"{named} {stand} with two vehicle numbers (VIN): whose codes are they?"


def to_look_at(cars: int) -> str:
    """Say how many cars are on the list."""
    return f"{counted(cars, 'car', 'cars')} to look at."


def cheap_ones(cars: int, cheap: int, limit: str) -> str:
    """Say on how many of the cars the first thing to try is cheap; the limit may be blank."""
    most = f" (up to {limit})" if limit else ""
    if cars == 1:
        return f"Its first step is {'cheap' if cheap else 'not cheap'}{most}."
    if not cheap:
        return f"On none is the first step cheap{most}."
    return f"{'On' if cheap < cars else 'On all'} {cheap} the first step is cheap{most}."


def handed_over(vehicles: Sequence[str]) -> str:
    """Name the cars that the first step hands over, or say how many they are."""
    return f"Hand over: {enumerated(vehicles) if len(vehicles) <= _NAMED else counted(len(vehicles), 'car', 'cars')}"


def of_cars(shown: int, cars: int) -> str:
    """Say how many cars of all are shown."""
    return f"{shown:,} of {cars:,}"


def named_first(share: str) -> str:
    """Say how often the list was right."""
    return f"How sure: of past visits that one part ended, it was named first in {share}."


def against(week: str) -> str:
    """Say which report this one is compared with."""
    return f"Against the report of week {week}."


def moved(new: int, other: int, off: int, families: int) -> str:
    """Sum up what changed on the list and in the families."""
    told = [
        words
        for size, words in (
            (new, new_cars(new)),
            (other, other_tries(other)),
            (off, off_list(off)),
            (families, f"{counted(families, 'group', 'groups')} changed"),
        )
        if size
    ]
    return f"{enumerated(told)}." if told else NOTHING_CHANGED


def new_cars(cars: int) -> str:
    """Head the cars that are new on the list."""
    return f"{cars} new"


def other_tries(cars: int) -> str:
    """Head the cars whose first step is another one now."""
    return f"{cars} with another first step"


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
    return counted(families, "group", "groups")


def refused(layout: str, name: str, why: str) -> str:
    """Say which file was refused, and why."""
    return f"{layout}/{name}: {why}"


def all_in(what: str, table: str) -> str:
    """Caption a table that shows the first rows of what is set aside."""
    return f"{what}; all of them are in {table}.csv"


def aside_summary(heaps: Sequence[tuple[str, int]]) -> str:
    """Say in one sentence what was set aside: the title of each heap, and how many there are in it."""
    told = [f"{size:,} {small(title)}" for title, size in heaps if size]
    return f"{enumerated(told)}." if told else "Nothing."


def more_in(rows: int, table: str) -> str:
    """Say how many rows more there are."""
    return f"{rows} more in {table}.csv."


def more_notes(notes: int) -> str:
    """Say how many notes more there are."""
    return counted(notes, "more note", "more notes")


def unknown_modules(modules: int) -> str:
    """Head the control units whose names the list of modules does not know."""
    return f"{counted(modules, 'control unit has', 'control units have')} a name that is not known yet"
