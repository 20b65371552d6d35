"""The desk's page of files: what each was taken for, what was read of it, and what it still has to be told."""

from __future__ import annotations

from collections.abc import Iterable

from analysis.texts.words import counted, enumerated

MADE = "The folder is ready. Drop your first files below."
LEAD = (
    "Drop what your programs export: scans, the stock list, repairs, a price book. Tables, workbooks, printed text, "
    "PDF, raw answers: any of them. Nothing is loaded before you say so."
)
DROP = "Drop files here"
CHOOSE = "or choose them"
SENDING = "Reading"
FAILED = "could not be read"
WAITING = "On the tray"
NOTHING_WAITING = "No file waits. What you drop is shown here first."
TAKE_ONE = "Take this in"
DROP_ONE = "Leave it out"
HOLDS = {
    "scans": "scans of cars",
    "stock": "your stock list",
    "repairs": "repairs done",
    "parts": "a price book",
    "background": "codes to leave alone",
}
TAKEN_FOR = "Taken for"
TAKEN_IN_AS = "Taken in are:"
AS = "It holds"
AS_NOTHING = "please choose"
NO_CODES = (
    "No fault code stands in it. Of a printed text scans alone are read; cars, repairs and prices are read as tables: "
    "a line each, the same columns in every line."
)
WHICH_TABLE = "Say above what it holds."
REFUSED = "It cannot be taken in yet."
ANSWER_FIRST = "What is asked below decides how it is read."
ROWS = "The first rows, as they were read"
REFUSED_ROWS = "Refused, and why"
NONE_REFUSED = "Nothing of this file was refused."
REJECT_HEADS = ("row", "column", "found", "why")
WHOLE_ROW = "the whole row"
BLANK = "blank"
QUESTIONS = "How it is read, and why"
QUESTIONS_WHY = "Each line is a guess with its reason. Change what is wrong: the rows below show at once what it does."
NOTHING = "none of them"
LEFT_OUT = "leave it out"
AS_IT_IS = "read it as it stands"
STOPPED = (
    "You said no, so nothing of this file is taken in. Export it in another form, a table for instance, and drop that; "
    "or leave the file out; or answer otherwise."
)
_MOST_NAMES = 3
ANOTHER_FILE = "another file"
DATE_LIKE = "for instance day.month.year hour:minute"
CAR_IN_NAME = "No line tells the car: write it into the file's name"
DAY_IN_NAME = "No line tells the date: write it into the file's name"
FILE_NAME = "or say it in the file's name"
UNIT_ASKED = "Which lines name the control unit (module) that the codes below them are of?"
NO_MODULE = "my file does not say"
MODULE_BY_CODE = (
    "The file names no control unit, so the letter of each code does: P the engine's (ECM), C the brakes' (ABS), B the "
    "body's (BCM), U counts for the engine's. A scan without a code tells of the engine's alone."
)
MUST = "Please answer: nothing in the file can decide this."
HANGS = "Please answer: much hangs on this."
MORE = "Is something left out?"
MORE_SOURCE = "A column of the file"
MORE_COLUMN = "what it holds"
MORE_WHY = "Choose a column of your file that is not read yet, and what it holds."
MIXED = "One stock number, two cars?"
MIXED_WHY = (
    "These stock numbers stand with two vehicle numbers (VIN), so one of them is another car. Taken in so, the codes "
    "of both count for the one. Mend the file and drop it again, or leave it out."
)
MISSPELT = "Repairs of a car that is not there?"
MISSPELT_WHY = (
    "No stock list and no scan has these numbers. Taken in so, the repair teaches nothing, for no scan goes with it. "
    "Where it is a slip, mend the file and drop it again."
)
STRANGERS = "Scanned cars that no stock list knows"
STRANGERS_WHY = (
    "Make and model of such a car are not known, and nothing joins its scans to its repairs. Where the stock list has "
    "the number in another column, say that they are one car."
)
STRANGERS_TAKEN = "Taken in, and in no stock list:"
STRANGERS_MEND = (
    "Take the file of its scans back below and drop it again: you are asked then. Or write the car into the stock list."
)
CALL_ALL = "Yes, all of them are"
CALL = "Yes, it is"
NO_STRANGER = "No stock list holds that number any more. Nothing was changed."
UNUSED = "Not used of this file:"
LEFT_SO = "nothing: leave it out"
ERASED_LIKE = "whether the codes were erased at that visit"
PLATE_LIKE = "number plates"
USE_AS = "Use it as"
ANSWER = "Show the rows so"
ASK = "It is read wrong: ask me line by line"
ASK_NO = "Forget my answers"
THE_DRAFT = "what is read"
NO_TABLE = "That is nothing that a file can hold. Nothing was changed."
OLD_QUESTION = "That is not asked of this file any more; load the page again. Nothing was changed."
NO_ANSWER = "That is none of the answers. Nothing was changed."
WITHOUT_REPAIRS = "Without your repairs nobody learns which part cleared what: answer that one first."
NONE_READY = "No file on the tray can be taken in yet; each says what is missing. Nothing was loaded."
INBOX = "Taken in with the next files or the next week:"
TAKEN = "Taken in"
NONE_TAKEN = "Nothing was taken in yet."
TAKEN_HEADS = ("file", "week", "rows", "")
UNDO = "Take back"
UNDO_WHY = "What is taken back is as if it had never been there, once the week is run again. The file itself is kept."
NOT_TAKEN = "That file was not taken in, or was taken back already. Nothing was changed."
FIRST_OPEN = "Go to the first question"
SURE_UNDO = "Yes, take it back"


_MARKS = {"%d": "day", "%m": "month", "%Y": "year", "%y": "year", "%H": "hour", "%I": "hour", "%M": "minute"}
_MARKS |= {"%S": "second", "%p": "AM or PM", "%b": "month's name", "%B": "month's name", "%f": "part of a second"}


def date_form(form: str) -> str:
    """Return how a date is written, for people: ``%d.%m.%Y`` is "day.month.year"."""
    for mark, word in _MARKS.items():
        form = form.replace(mark, word)
    return form


def answer_words(key: str, choice: str) -> str:
    """Return an answer for people: a form of dates in words, a list of columns without its marks."""
    if (key, choice) in _CHOICES:
        return _CHOICES[key, choice]
    if choice.startswith('["'):
        names = choice[2:-2].split('", "')
        together = " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else names[0]
        return f"a job a car and day: {together}" if key == "columns.job" else together
    if choice.startswith("="):
        return EVERY_ROW.get(choice[1:], f"{choice[1:]}, in every row")
    if "[]" in choice:
        return " › ".join(piece for piece in choice.replace("[]", "").split(".") if piece)
    return date_form(choice) if "%" in choice else choice


_CHOICES = {
    ("format", "table"): "as a table: a line each, columns between marks",
    ("format", "fixed"): "as a table: columns of a fixed width",
    ("format", "lines"): "line by line, each line one row",
    ("format", "text"): "as printed text",
    ("format", "html"): "by the tables of the page",
    ("format", "pdf"): "as printed text",
    ("sheet", "*"): "every sheet with these columns",
}
"""Answers that are names of the program's own."""
EVERY_ROW = {
    "replace": "no column: in every row the part was replaced",
    "repair": "no column: in every row the part was repaired",
    "inspect": "no column: in every row it was only looked at",
}


def form_told(told: str) -> str:
    """Return the form of dates that somebody wrote in words: ``day.month.year`` is "%d.%m.%Y"."""
    words = {word: mark for mark, word in _MARKS.items() if mark not in ("%y", "%I", "%B")}
    for word in sorted(words, key=len, reverse=True):
        told = told.replace(word, words[word])
    return told


def turned(form: str) -> str:
    """Return the same form with day and month in each other's place."""
    return form.replace("%d", "%?").replace("%m", "%d").replace("%?", "%m")


def take_all(ready: int, waiting: int = 0) -> str:
    """Say what the button does."""
    if not ready:
        return "Nothing can be taken in yet"
    return (
        f"Take in {ready:,} of {ready + waiting:,} files" if waiting else f"Take in {counted(ready, 'file', 'files')}"
    )


def left_behind(files: Iterable[tuple[str, str]]) -> str:
    """Say which files a run would go without.

    Args:
        files: The name of each, and the table that it is taken for; blank where that is not known.
    """
    told = list(files)
    named = [f"{name} ({HOLDS[table]})" if table else name for name, table in told]
    said = f"Still waiting for your answer, and not in it: {_few(named)}."
    return f"{said} {WITHOUT_REPAIRS}" if any(table == "repairs" for _, table in told) else said


def folded(names: list[str], table: str, rows: int) -> str:
    """Say what lies folded up: files of one form, all ready."""
    holds = f"{HOLDS.get(table, AS_NOTHING)}, {counted(rows, 'row', 'rows')}"
    return f"{len(names):,} files of one form, all ready: {holds} ({_few(names)})"


def same_form(names: list[str]) -> str:
    """Say what lies folded up behind a file that waits for an answer: others of its form."""
    more = "1 more file" if len(names) == 1 else f"{len(names):,} more files"
    return f"{more} of the same form, answered along with the one above: {_few(names)}"


def as_what(name: str, table: str) -> str:
    """Say what a file is taken for, for instance "repairs.csv as a price book"."""
    return f"{name} as {HOLDS.get(table, AS_NOTHING)}"


def to_do(ready: int, waiting: int, known: int, stopped: int = 0) -> str:
    """Say how many files are ready, want an answer first, were taken in before, or are stopped by an answer."""
    told = []
    if ready:
        told.append(f"{counted(ready, 'file is', 'files are')} ready, and read as shown below")
    if waiting:
        told.append(f"{counted(waiting, 'file needs', 'files need')} an answer first")
    if stopped:
        told.append(f"{counted(stopped, 'file is', 'files are')} left as {'it is' if stopped == 1 else 'they are'}")
    if known:
        told.append(f"{counted(known, 'file was', 'files were')} taken in before and can be left out")
    return "; ".join(told) + "."


def counts(read: int, kept: int) -> str:
    """Say how many rows were read and would be taken."""
    if read == kept:
        return f"All {counted(read, 'row', 'rows')} can be taken." if read != 1 else "Its 1 row can be taken."
    return f"{kept:,} of {counted(read, 'row', 'rows')} can be taken, {read - kept:,} are refused."


def take_one(read: int, kept: int) -> str:
    """Say what the button of one file does."""
    return TAKE_ONE if read == kept else f"Take in {kept:,} of {counted(read, 'row', 'rows')}"


def twin(place: int, many: int, when: str, size: int) -> str:
    """Say which one of several files of one name this is."""
    return f"{place} of {many} files of this name, dropped at {when}, {size:,} bytes"


def again(name: str, before: str) -> str:
    """Say that a file was dropped a second time."""
    if name == before:
        return f"{name} lies on the tray already, with the same content; it is there once."
    return f"{name} holds the same as {before}, which lies on the tray already; it is there once, as {name}."


def stranger(number: str, files: tuple[str, ...], vehicle: str, heading: str, stock: str) -> str:
    """Say that no stock list knows a car, and which row of one holds its number."""
    told = f"{number} ({', '.join(files[:3])}{' and more' if len(files) > 3 else ''})"
    if not vehicle:
        return f"{told}: its number stands in no stock list"
    place = f"in the column {heading!r}" if heading else "in another column"
    return f"{told}: stands {place} of {stock}, in the row of {vehicle}. Is it {vehicle}?"


def two_numbers(vehicle: str, listed: str, others: Iterable[tuple[str, tuple[str, ...], str]]) -> str:
    """Say with which vehicle numbers a stock number stands, where, and whose they are."""
    told = [
        f"{vin} in {_few(files)}{f', which is the one of {owner}' if owner else ''}" for vin, files, owner in others
    ]
    said = f"{listed} in the stock list, and with " if listed else ""
    return f"{vehicle} stands with {said}{enumerated(told)}."


def misspelt(number: str, name: str, near: list[str]) -> str:
    """Say that a car of a list of repairs is none that is known, and which ones are one letter off."""
    return f"{number} ({name}): there is no such car; did you mean {' or '.join(near)}?"


def same_car(number: str, files: tuple[str, ...], vehicle: str) -> str:
    """Say that a car of no stock list is one of the stock list, by its vehicle number."""
    told = f"{', '.join(files[:3])}{' and more' if len(files) > 3 else ''}"
    return f"{number} ({told}) is taken for {vehicle}: it has the same vehicle number (VIN) in the stock list."


def called(number: str, vehicle: str) -> str:
    """Say that a car is called otherwise."""
    return f"{number} is read as {vehicle}."


def as_of(name: str) -> str:
    """Say that an answer is the one of another file."""
    return f"As for {name}."


def answered_as(names: Iterable[str]) -> str:
    """Say that a file was answered for as others of its form were."""
    return f"Of the same form as {_few(names)}, so it is read alike. If this file is otherwise, change it here alone."


def also_for(names: Iterable[str]) -> str:
    """Say for which other files the answers to one count too."""
    return f"Read alike: {_few(names)}. Each can be changed by itself."


def _few(names: Iterable[str]) -> str:
    """Return names in a row, the first few of many."""
    told = [*dict.fromkeys(names)]
    more = len(told) - _MOST_NAMES
    return enumerated(told if more < 1 else [*told[:_MOST_NAMES], f"{more} more"])


def unused(name: str, like: str) -> str:
    """Name a column that is not used, and what it would be good for where it looks like that."""
    return f"{name!r} looks like {like}" if like else repr(name)


def refused_of(cells: int) -> str:
    """Say how many rows or cells of a file were refused: where they can be read."""
    return f"{cells:,} refused: see why"


def more(rows: int) -> str:
    """Say how many more there are."""
    return f"and {rows:,} more"


def to_answer(questions: int) -> str:
    """Say how many questions are open."""
    return f"{counted(questions, 'question has', 'questions have')} to be answered first."


def taken(name: str, loaded: int, refused: int, repeated: int) -> str:
    """Say what was taken in of one file."""
    parts = [f"{name} is taken in: {counted(loaded, 'row', 'rows')}"]
    parts += [f"{refused:,} refused"] if refused else []
    parts += [f"{repeated:,} known already"] if repeated else []
    return ", ".join(parts) + "."


def before(name: str, holds: str, week: str, rows: int) -> str:
    """Say when and as what a file was taken in before, and how it is read otherwise."""
    return (
        f"This file was taken in before, in week {week} as {name}: {holds}, {counted(rows, 'row', 'rows')}, by the "
        "answers of then; nothing is counted twice. You can leave it out. To have it read otherwise, take it back "
        "first, then take it in as it is shown here."
    )


def not_again(name: str) -> str:
    """Say that a file was taken in before, so that what was answered now does not count yet."""
    return (
        f"{name} was taken in before by other answers, and these count: nothing of what you answered now was taken in. "
        "It stays below; take back what was taken in first, then take it in again."
    )


def skipped(name: str) -> str:
    """Say that a file was known."""
    return f"{name} was taken in before; nothing is counted twice."


def undone(name: str, rows: int) -> str:
    """Say that a file was taken back."""
    return f"{name} is taken back, {counted(rows, 'row', 'rows')}. Run the week to see the report without it."


def dropped(name: str) -> str:
    """Say that a file was left out."""
    return f"{name} is left out; nothing of it was loaded."


def not_as_shown(name: str, why: str) -> str:
    """Say that a file would be read in another way than it was shown, so that it was not taken in."""
    return f"{name} stays on the tray: taken in, it would be read in another way than it was shown. {why}".rstrip()
