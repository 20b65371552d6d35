"""The desk's page of jobs: what was done to a car, ticked and typed."""

from __future__ import annotations

from analysis.texts.words import counted

LEAD = "What was done to a car: tick what the report proposed, add what else was done, and say how it ended."
CAR = "Car: stock number, plate or VIN"
SHOW = "Show this car"
CARS = "Cars with open codes"
NO_CARS = "No car has an open code as far as the last run knows; type the stock number of the car above."
OPEN = "Open codes"
NONE_OPEN = "None that the last run knows of."
LOOKED_PAST = "left alone"
PROPOSED = "Proposed by the report"
NONE_PROPOSED = "The last run's report proposes nothing for this car."
ADDED = "Other work"
ADDED_WHY = (
    "Begin to type a part: those you know are offered, with price and minutes from your price book or last time."
)
ACTION = "What"
PART = "Part"
POSITION = "Where on the car"
SUPPLIER = "Supplier"
COST = "Price of the part"
MINUTES = "Minutes"
AS_LAST = "As last time"
MEANT = "Is one of these meant?"
KEEP = "no, it is called"
WHEN = "Done on"
ODOMETER = "Odometer"
NUMBER = "Job number, blank for a free one"
NOTE = "Note"
ENDED = "How it ended"
ERASED = "Codes erased"
ROAD_TEST = "Road test driven"
SCANNED = "Scanned afterwards"
RECORD = "Record every control unit (module) before you erase, and keep the scans of before and after."
NEW = "Yes, this car or part is a new one"
WRITE = "Log the job"
NO_CAR = "Say which car it was. Nothing was written."
ROAD_NOTE = "road test driven"
NO_ROAD_NOTE = "no road test yet"
SCAN_AGAIN = "No scan afterwards: drive it and scan it again, or nobody will know what this work cleared."
DROP_SCAN = (
    "You ticked that it was scanned afterwards: the job's file cannot hold a scan. Drop that scan on the page Files, "
    "or nobody will know what this work cleared."
)
AHEAD = "Done on: that day is ahead of today. Give the day the work was done."
NO_WORK = "No piece of work was given, not even an erase."
NOTHING_WRITTEN = "Nothing was written."
WAITING = "Logged, and not read by a run yet"
TAKE_BACK = "Take it back"
TAKEN_BACK_WHY = "taken back on the desk before any run had read it"
NOT_WAITING = "That job does not wait any more: a run has read it, or it was taken back. Nothing was changed."
FIELDS = {
    "done_at": WHEN,
    "odometer": ODOMETER,
    "part_cost": COST,
    "labour_minutes": MINUTES,
    "action": ACTION,
    "part": PART,
    "position": POSITION,
    "supplier": SUPPLIER,
}
ACTIONS = {
    "replace": "replaced",
    "repair": "repaired",
    "clean": "cleaned",
    "adjust": "adjusted",
    "software": "software",
    "inspect": "inspected",
    "erase": "erased",
}


def no_such_car(vehicle: str, like: str) -> str:
    """Say that nothing names a car so far, and what is near it."""
    return f"{vehicle} is in no stock list and no scan so far{f'; {like}' if like else ''}."


def codes(number: int) -> str:
    """Say how many codes are open."""
    return counted(number, "open code", "open codes")


def written(vehicle: str, file: str) -> str:
    """Say that a job was logged."""
    return f"The job on {vehicle} is written down as {file}; the next week takes it in."


def seen(day: str, status: str) -> str:
    """Say when a code was last seen, and as what."""
    return f"seen {day}, {status}" if status else f"seen {day}"


def unknown_part(part: str) -> str:
    """Ask about a part that nobody knows."""
    return f"No part is called {part!r} so far. Choose the one that is meant, or keep it as a new one."


def from_book(cost: str) -> str:
    """Say what the price book says."""
    return f"{cost} in the price book"


def as_of(week: str) -> str:
    """Say which run the codes and proposals are from."""
    return f"As of the last run, week {week}."


def plainly(why: str) -> str:
    """Return why the terminal's form would refuse something, in the words of the page."""
    told = why.replace("Give --new to mean it.", f'Tick "{NEW}" below to mean it.')
    return told.replace("give another --job", "give another job number").replace(NOTHING_WRITTEN, "").strip()


def of_field(column: str, why: str, part: str = "") -> str:
    """Say what is wrong with a field, and of which part where there may be several."""
    name = FIELDS.get(column, column) + (f" ({part})" if part and column != "part" else "")
    told = why.removeprefix(f"{column}: ").replace("a number with a decimal point", "a number")
    return f"{name}: {told}"


def did(action: str, part: str) -> str:
    """Return a piece of work in two words, for instance "replaced boost hose"."""
    return f"{ACTIONS.get(action, action)} {part}".strip()


def taken_back(file: str) -> str:
    """Say that a logged job was taken back."""
    return f"The job {file} is taken back; no run reads it. Its file is kept in the folder 'rejected'."
