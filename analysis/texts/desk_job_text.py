"""The desk's page of jobs: what was done to a car, ticked and typed."""

from __future__ import annotations

from analysis.texts.words import counted

LEAD = "What was done to a car: tick what the sheet proposed, add what else was done, and say how it ended."
CAR = "Car"
SHOW = "Show this car"
CARS = "Cars with open codes"
NO_CARS = "No car has an open code as far as the last week knows; type the stock number of the car above."
OPEN = "Open codes"
NONE_OPEN = "None that the last week knows of."
LOOKED_PAST = "looked past"
PROPOSED = "Proposed by the sheet"
NONE_PROPOSED = "The last week proposes no work on this car."
ADDED = "Other work"
ADDED_WHY = (
    "Begin to type a part: those you know are offered, with price and minutes from your price book or last time."
)
ACTION = "What"
PART = "Part"
POSITION = "Where on the car"
SUPPLIER = "Supplier"
COST = "Price"
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
RECORD = "Record every module before you erase, and keep the scans of before and after."
NEW = "Yes, this car or part is a new one"
WRITE = "Log the job"
NO_CAR = "Say which car it was. Nothing was written."
ROAD_NOTE = "road test driven"
NO_ROAD_NOTE = "no road test yet"
SCAN_AGAIN = "No scan afterwards: drive it and scan it again, or nobody will know what this work cleared."
ACTIONS = {
    "replace": "replaced",
    "repair": "repaired",
    "clean": "cleaned",
    "adjust": "adjusted",
    "software": "software",
    "inspect": "inspected",
    "erase": "erased",
}


def codes(number: int) -> str:
    """Say how many codes are open."""
    return counted(number, "open code", "open codes")


def written(vehicle: str, file: str) -> str:
    """Say that a job was logged."""
    return f"The job on {vehicle} is in the inbox as {file}; the next week takes it in."


def seen(day: str, status: str) -> str:
    """Say when a code was last seen, and as what."""
    return f"seen {day}, {status}" if status else f"seen {day}"


def unknown_part(part: str) -> str:
    """Ask about a part that nobody knows."""
    return f"No part is called {part!r} so far. Choose the one that is meant, or keep it as a new one."


def from_book(cost: str) -> str:
    """Say what the price book says."""
    return f"{cost} in the price book"
