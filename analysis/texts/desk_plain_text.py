"""The program's own terms in the words of the desk's reader; what a message quotes stays as it stands in the file."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from analysis.texts.desk_file_text import date_form

COLUMNS = {
    "scanned_at": "when it was scanned",
    "odometer_unit": "km or miles",
    "module": "control unit (module)",
    "module_state": "whether the control unit answered",
    "failure_type": "kind of failure",
    "done_at": "when it was done",
    "part_cost": "price of the part",
    "labour_minutes": "minutes",
    "asking_price": "asking price",
    "vehicle": "car (stock number)",
    "text": "wording",
    "vin": "vehicle number (VIN)",
    "plate": "number plate",
}
MEANT = {
    "vehicle": "stock number or number plate",
    "vin": "17 letters and digits",
    "scanned_at": "day and time of the scan",
    "odometer": "how far the car had run",
    "module": "the control unit that was read: engine, brakes, airbag",
    "asked": "what the control unit was asked for, where only a part",
    "code": "the fault codes; blank: read, and none stored",
    "failure_type": "the two signs behind a code, where they stand apart",
    "status": "active, pending, stored or the like",
    "done_at": "the day it was done",
    "part_cost": "what the part cost",
    "asking_price": "what you ask for the car",
    "modifications": "what was changed on the car",
}
"""What a column of ours holds, where our own tables say it in terms of the trade's standards."""
_ALWAYS = ("scanned_at", "odometer_unit", "module_state", "failure_type", "done_at", "part_cost", "labour_minutes")
_NAMES = re.compile(rf"\b({'|'.join((*_ALWAYS, 'asking_price'))})\b")
_QUOTED = re.compile(r"('[^']*'|\"[^\"]*\"|`[^`]*`)")
_NONE = re.compile(r" ?\(- for none(?: known)?\)|; - for none(?=\))")
_CHOICE = re.compile(r"^Which column is (\w+) \((?!.* may tell it\)\?$).*\)\?$", re.DOTALL)
_COLUMN = re.compile(r"^Which column is (\w+) \((.*)")
_DATE = re.compile(r"(?:%[A-Za-z][./:,T-]*)+(?: (?:%[A-Za-z][./:-]*)+)*")
_SENTENCES = (
    (
        re.compile(r"the content is binary; expected UTF-8 text\."),
        "it holds no text that can be read, and is no workbook, PDF or zip.",
    ),
    (re.compile(r",? or let '[^']*' draft a mapping"), ", or have it ask you line by line"),
    (
        re.compile(r"Give each a signature, or narrower file patterns\."),
        "Take the wrong one out of the folder mappings, or have it fit fewer files (signature, file patterns).",
    ),
    (re.compile(r"^read by mappings/(\S+?)\.toml"), r"Read as you answered before for \1"),
    (re.compile(r"\bmappings/(\S+?)\.toml\b"), r"what you answered for \1"),
    (re.compile(r"(?<!/ )\b([A-Z][A-Z0-9_]+):([PCBU][0-9A-Z]{4})(?:@\w+)?(?!\w)"), r"\2 (\1)"),
    (re.compile(r" \(corrections after Benjamini-Yekutieli and after Holm\)"), ""),
    (re.compile(r"\b2 hex digits\b"), "two signs from 0 to 9 and A to F"),
    (re.compile(r"\bhex digits?\b"), "signs from 0 to 9 and A to F"),
    (re.compile(r"^left out, not in (?:the layout of \w+|what is read|mappings/\S+?): "), "Not used: "),
    (re.compile(r"\b(\d+) lines fit no pattern\b"), r"\1 lines look like none that is read, and were left out"),
    (re.compile(r"\bno pattern takes (it|them)\b"), r"nothing here reads \1"),
    (re.compile(r"\bno pattern that is known here parts them\b"), "nothing here can tell which"),
    (re.compile(r"\bWhich pattern begins a scan\?"), "How does a scan begin?"),
    (re.compile(r"; give the pattern of headings\b"), ""),
    (re.compile(r" \(\* for every one that has the columns\)"), ""),
    (re.compile(r"\bas (\w+) it leaves open (\d+)"), r"read as \1, \2 more would have to be asked"),
    (re.compile(r"\b([Oo])ne mapping reads\b"), r"\1ne way of reading serves"),
    (re.compile(r"; unpack the others and map them by themselves"), "; unpack the others and drop them by themselves"),
    (re.compile(r"looks like a code and fits no pattern"), "looks like a code, but not like the lines that are read"),
)
_SHEETS = re.compile(r"^rows of the (?:\w+) '(.*)' are numbered from (\d+)1$")
_LONG_ROW = re.compile(r"\brow (\d{8,})\b")
_SHEET_ROWS = 10_000_000
_FILE_TAIL = re.compile(r"-[0-9a-f]{8}(?=\.[A-Za-z0-9]{1,8}\b)")
_NOT_YET = re.compile(
    r"^The draft cannot read the file yet: draft:\d+: ([\w.]+): (.*?)(?: Nothing was run\.)?$", re.DOTALL
)
_LACKS = re.compile(r"nothing in the mapping fills ([\w ,]+?)\.?$")
_WORDS = (
    (re.compile(r"\bbaskets\b"), "times between two jobs with a reading"),
    (re.compile(r"\bmasked\b"), "left alone"),
    (re.compile(r"\b[Aa] mapping\b"), "a way of reading"),
    (re.compile(r"\b[Tt]he mapping\b"), "the way of reading"),
    (re.compile(r"(?<![\w/.-])(?<!control unit \()modules\b(?![\w)/-]|\.\w)"), "control units (modules)"),
    (re.compile(r"(?<![\w/.-])(?<!control unit \()module\b(?![\w)/-]|\.\w)"), "control unit (module)"),
)


UNFIT = "One of the answers below does not fit"


def column(name: str) -> str:
    """Return what a column of ours holds, in words."""
    return COLUMNS.get(name, name.replace("_", " "))


def file_name(name: str) -> str:
    """Return a file's name without the sign that keeps it apart from others: ``yard-e5c1fd9e.csv`` is yard.csv."""
    return _FILE_TAIL.sub("", name)


def sheets_of(notes: Iterable[str]) -> dict[int, str]:
    """Return the name of each sheet whose rows some notes say to be numbered on, by its place; the first has 0."""
    found = (_SHEETS.match(note) for note in notes)
    return {int(one[2]) * 10 // _SHEET_ROWS: one[1] for one in found if one}


def row_in(number: int | str, sheets: Mapping[int, str]) -> str:
    """Return a row's number as its own sheet has it, with the sheet: 10000004 is "row 4 of '14 Aug'"."""
    if not str(number).isdecimal() or int(number) < _SHEET_ROWS:
        return str(number)
    place, row = divmod(int(number), _SHEET_ROWS)
    return f"row {row} of {sheets[place]!r}" if place in sheets else f"row {row} of sheet {place + 1}"


def plain(text: str) -> str:
    """Return a message in plain words, for instance "when it was scanned" for ``scanned_at``."""
    text = _NOT_YET.sub(_not_yet, text)
    for pattern, words in _SENTENCES:
        text = pattern.sub(words, text)
    text = _NONE.sub("", text)
    text = _CHOICE.sub(lambda found: _meant(found[1]) or found[0], text)
    text = _COLUMN.sub(_asked, text)
    text = _DATE.sub(lambda found: date_form(found[0]), text)
    text = _FILE_TAIL.sub("", _LONG_ROW.sub(lambda found: row_in(found[1], {}), text))
    pieces = _QUOTED.split(text)
    return "".join(piece if place % 2 else _words(piece) for place, piece in enumerate(pieces))


def _not_yet(found: re.Match[str]) -> str:
    """Say in words why a draft does not read its file yet: what it does not tell, or which answer does not fit."""
    lacks = _LACKS.match(found[2])
    if lacks:
        names = [column(name) for name in re.split(r" and | or |, ", lacks[1]) if name != "vin"]
        return f"It is not clear yet where it tells {' and '.join(names)}."
    if found[2].startswith("is missing"):
        return "It is not clear yet where a scan begins: which car it was, and when."
    return f"{UNFIT} ({found[1]}): {found[2]}"


def _meant(name: str) -> str:
    """Ask for a column by what it holds; blank where its own words will do."""
    return f"Which column is {column(name).partition(' (')[0]} ({MEANT[name]})?" if name in MEANT else ""


def _asked(found: re.Match[str]) -> str:
    name, _, meant = column(found[1]).partition(" (")
    told = "" if not meant or found[2].startswith(meant.removesuffix(")")) else f" ({meant}"
    return f"Which column is {name}{told} ({found[2]}"


def _words(piece: str) -> str:
    piece = _NAMES.sub(lambda found: column(found[1]), piece)
    for pattern, words in _WORDS:
        piece = pattern.sub(words, piece)
    return piece
