"""What only the dealer can tell: whether two names are one part, what a control unit is, what is fitted to a car."""

from __future__ import annotations

from analysis.texts.words import counted, enumerated

PARTS = "One part under two names?"
PARTS_WHY = (
    "These names are spelled nearly alike. As two parts each stands in the lists by itself, and what one of them "
    "cleared does not count for the other. Nothing is put together before you say so; it is asked once."
)
YES = "Yes, one part"
NO = "No, two parts"
UNITS = "What is this control unit?"
UNITS_WHY = (
    "No list knows these names. Left so, each counts as a unit of its own, and what is known of brakes, engine or "
    "airbag is not used for its codes."
)
UNIT = "It is"
CHOOSE = "please choose"
OWN = "none of these: a unit of its own"
OWN_NAME = "in your words"
KEEP = "Keep this"
NO_PAIR = "That is not asked any more; load the page again. Nothing was changed."
NO_UNIT = "Choose what it is, then keep it. Nothing was changed."


def pair(name: str, name_jobs: int, part: str, part_jobs: int) -> str:
    """Ask whether two names are one part."""
    return f"{name!r} ({_jobs(name_jobs)}) and {part!r} ({_jobs(part_jobs)}): the same part?"


def _jobs(number: int) -> str:
    return counted(number, "job", "jobs") if number else "price book"


def one_part(name: str, part: str) -> str:
    """Say that two names are one part."""
    return f"{name!r} counts as {part!r} from the next week on. Kept in part_names.csv."


def two_parts(name: str, part: str) -> str:
    """Say that two names are two parts."""
    return f"{name!r} and {part!r} stay two parts, and it is not asked again. Kept in part_names.csv."


def unit_asked(spelling: str, rows: int) -> str:
    """Name a control unit that is not known."""
    return f"{spelling} ({counted(rows, 'row', 'rows')})"


def unit_said(spelling: str) -> str:
    """Say that it is known now what a control unit is."""
    return f"What {spelling!r} is, is kept in modules.csv; the next week goes by it."


EQUIPMENT_TITLE = "Is something fitted to a car that sets codes by itself?"
EQUIPMENT_WHY = (
    "Another radio, a tow bar, other lamps: nobody finds a fault behind their codes. Say what a car has, and these "
    "codes are left alone on it from the next week on; they stay on the sheet with the reason."
)
EQUIPMENT_CAR = "Car: stock number or plate"
EQUIPMENT_HAS = "It has"
EQUIPMENT_OWN = "something else, in your words"
EQUIPMENT_CODES = "Codes that come of it"
EQUIPMENT_CODES_WHY = (
    "What is in the list above brings its codes along. For something else, tick the codes. Codes of brakes, "
    "steering, airbags and high voltage cannot be ticked: their warning has to go, whatever sets it."
)
EQUIPMENT_SHOW = "Show its codes"
EQUIPMENT_KEEP = "Leave its codes alone"
EQUIPMENT_SAID = "What you said that cars have"
EQUIPMENT_BACK = "Not any more"
NO_EQUIPMENT = "Say which car and what it has. Nothing was changed."
NO_CODES_TICKED = "Tick the codes that come of it: of what you wrote nothing tells which they are. Nothing was changed."
NOT_FITTED = "That was taken out already. Nothing was changed."
EQUIPMENT = {
    "aftermarket radio": "another radio or head unit",
    "amplifier": "an added amplifier or other speakers",
    "tow bar": "a tow bar",
    "bike rack": "a bike rack",
    "bull bar": "a bull bar",
    "led bulbs": "LED lamps in place of bulbs",
    "xenon": "xenon lamps that were added",
    "lowered": "lower springs",
    "coilovers": "other springs and dampers that are set by hand",
    "lift kit": "a raised body",
    "winter wheels": "wheels without pressure sensors",
    "aftermarket alarm": "an added alarm",
    "remote start": "an added remote start",
    "dash camera": "an added camera",
    "tracker": "an added tracker",
    "seat swap": "other seats",
    "parking heater": "an added parking heater",
    "telematics removed": "no emergency call unit any more",
}
"""What may be fitted, as a stock list would declare it, and in words."""


def fitted(vehicle: str, has: str, codes: list[str]) -> str:
    """Say what a car has, and which codes come of it where that was said."""
    of = f": {enumerated(codes)}" if codes else ""
    return f"{vehicle} has {EQUIPMENT.get(has, has)}{of}"


def fitted_now(vehicle: str, has: str) -> str:
    """Say that it is known now what a car has."""
    return f"{vehicle} has {EQUIPMENT.get(has, has)}; the next week leaves its codes alone. Kept in equipment.csv."


def unfitted(vehicle: str, has: str) -> str:
    """Say that a car has something no more."""
    return f"{vehicle}: {EQUIPMENT.get(has, has)} is taken out; the next week works on these codes again."
