"""The first screen: one row a car, what is chosen of them, and their totals."""

from __future__ import annotations

from analysis.texts import names
from analysis.texts.words import counted, large

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
CAPTION = "One row a car. A heading sorts, a car opens its ticket below its row; the arrow keys go from car to car."


def key(limit: str, minutes: int) -> str:
    """Say how the list is ordered and what its signs mean.

    Args:
        limit: What is called cheap costs no more; may be blank.
        minutes: Own time that counts for erasing and the scans before and after the test drive.
    """
    most = f"Green: up to {limit}. " if limit else ""
    return (
        f"In each group most chance for the money comes first. {most}Bar: where the chance lies, 9 times in 10. "
        f"Min: own time, {minutes} of it for erasing and scans."
    )


def groups(limit: str) -> list[tuple[str, str]]:
    """Return what is to be done next with the cars of a group, and what that means, in the order of the list.

    Args:
        limit: What is called cheap costs no more; may be blank.
    """
    return [
        ("Cheap try first", f"a part or a repair up to {limit}" if limit else "a part or a repair for little money"),
        ("Dearer try", f"a part or a repair above {limit}" if limit else "a part or a repair for more money"),
        ("Try, price not known", "a part or a repair; a price book, or prices in the repairs, say what it costs"),
        ("Drive and scan again", "nothing to fit yet: find out first what comes back"),
        ("Hand over", "nothing is known that pays to try here"),
        ("Nothing to do", "if you agree: no fault seems to set these codes"),
    ]


NEXT = "Next"
NONE_SCANNED = "No scan of any car in stock was read yet: drop scans, and the list stands here."
NO_JOB_YET = "no own job yet"
HOW_TO_READ = "How to read a row"
READING = (
    "Cost: part and work of this first step. Min: check, work, erasing and scans; any trips count as the test drive, "
    "so their time is not in it. Erasing and scans are a cost only where they are all there is to do.",
    "What it clears: “its code” is a car with one open code, “all 3 codes” is every open code, “3 of 7 codes” leaves "
    "four that may stay; the first one's words stand behind. Codes left alone for a reason and codes only stored are "
    "not counted.",
    "Chance: it begins with what jobs with the part did on all cars (13 of 14 is 93%) and moves with what this car's "
    "own scans and jobs tell, so it may read 97% beside 13 of 14.",
    "▲: this first step itself is work with a caution. No ▲ says nothing of the car: what its open codes ask for "
    "stands on its ticket and job sheet.",
    "No own job yet: nothing of yours shows yet that this part clears such codes. Codes that come up together "
    "point at it, and it is the cheapest way on: prove it faulty before you buy.",
    "Scan 12 d ago: the last scan is more than a week old; scan again before buying a part.",
)


def scans_old(old: int, of: int, youngest: int, oldest: int) -> str:
    """Say of a list most of whose scans are more than a week old that they are, once for all of it."""
    which = "scans are" if old == of > 1 else "the scan is" if of == 1 else f"{old} of {of} scans are"
    days = f"{youngest} to {oldest}" if youngest < oldest else f"{oldest}"
    return f"{which} {days} days old, scan again;"


def scan_old(days: int) -> str:
    """Say how old the last scan is."""
    return f"scan {days}\N{NO-BREAK SPACE}d ago"


def labour(rate: str) -> str:
    """Say what the labour in the costs is; checks and drives are own time without a price.

    Args:
        rate: Money an hour, written out; may be blank.
    """
    return f"{T_LABOUR} at {rate} an hour" if rate else T_LABOUR


def worked(drive: str) -> str:
    """Say how to know whether a step worked."""
    return (
        f"Did it work? Erase, drive {drive} or more (any trips count), scan every module: its codes must be gone, and "
        "stay gone."
    )


STILL_GONE = "Scan every module then: its codes must still be gone. Nothing is erased again."
"""How to know whether codes that were erased before are proven gone."""


FED_BACK = "Put that scan and a line of the repair into the inbox: the next report tells what came of it under"


MINDED = "This step is work with a caution"
ASKING = "asking"
SORT = "Sort by"
MINUTES_SIGN = "\N{NO-BREAK SPACE}min"
TOTALS = "Totals of what is shown"
T_CARS = "cars"
T_NOW = "parts to order now"
T_MAYBE = "maybe, after the check"
T_LABOUR = "labour of the work"
T_TIME = "of own time"
T_DRIVES = "test drives beside it"
T_FIRST = f"{names.FIRST_STEP}s"
T_END = "until all are done, about"
T_HANDING = "a specialist for all"
T_SAVING = "saved against a specialist, about"
TODAY = "Fits into today:"
HOURS = "Hours"
MONEY = "Parts + labour"
SKILL = "no work marked ▲"
TODAY_HINT = (
    "Cars are taken in the recommended order, however the rows are sorted, as long as the hours and the money for "
    "parts and labour last. The hours hold checks, erasing and scans; any trips count as test drives."
)
HERE = "{part} is step {line} here"
SAVE_HEADS = (
    *("car", "make", "model", "do this", "chance", "at least", "at most", "cost", "part", "labour", "minutes"),
    *("asking price", "cheap", "what it clears", "mind", "check first"),
)
"""Headings of the saved rows, and of the first sheet of the workbook."""
SAVE_SHARES = ("chance", "at least", "at most")
SAVE_MONEY = ("cost", "part", "labour", "asking price")
SAVE_NUMBERS = (*SAVE_SHARES, *SAVE_MONEY, "minutes")


def first_ones(shown: int, cars: int) -> str:
    """Say that the page holds the first cars of the list only, and where the others stand."""
    return (
        f"The first {shown:,} of {cars:,} cars stand here, and what is added up is theirs. All of them are in "
        "shortlist.xlsx and shortlist.csv, each with a sheet of its own in jobsheets."
    )


def unpriced(cars: int, of: int) -> str:
    """Say that cars are in no sum of money because nothing tells what their first step costs."""
    whom = "any of these cars" if cars == of > 1 else counted(cars, "car", "cars")
    return f"No price is known for {whom}: the sums of money above leave {'them' if cars > 1 else 'it'} out."


def not_listed(cars: int) -> str:
    """Say how many cars in stock ask for nothing, and lead to why."""
    return f"{counted(cars, 'car is', 'cars are')} not listed: why"


def off_list(cars: int) -> str:
    """Head the cars in stock that are not on the list."""
    return f"{counted(cars, 'car in stock is', 'cars in stock are')} not on this list: why"


OFF_PAST = "all its open codes are left alone"
OFF_WAITING = "codes were erased and no scan came after; drive it and scan again"
OFF_CLEAN = "no code was open at its last scan"
OFF_UNREAD = "no scan of it has been read"
OFF_OTHER = "nothing is known that could be tried; see the notes"

PRINT_OR_SAVE = "Print or save"
PRINT_WEEK = "Print the week's sheet"
PRINT_SHEETS = "All job sheets, to print"
PRINT_ALL = "Print the report"
SAVE_LIST = "Save these rows (CSV)"


def clears(first: str, codes: int, left: int) -> str:
    """Say in words what a try should clear.

    Args:
        first: Wording of the first code, or its key.
        codes: How many codes it clears.
        left: How many open codes it leaves.
    """
    told = some_of(codes, left) if left else f"all {codes} codes" if codes > 1 else "its code"
    return f"{told}: {first}"


def some_of(codes: int, left: int) -> str:
    """Say how many of a car's open codes are cleared, where others are left."""
    return f"{codes} of {codes + left} codes"


def gone(first: str, codes: int) -> str:
    """Say which codes are gone since an erase and not proven; the wording of the first, or its key."""
    return f"{counted(codes, 'code', 'codes')} gone, not proven: {first}"


def hours(minutes: float) -> str:
    """Return minutes as "3 h 05 min"."""
    whole, rest = divmod(round(minutes), 60)
    return f"{whole}\N{NO-BREAK SPACE}h {rest:02d}\N{NO-BREAK SPACE}min"
