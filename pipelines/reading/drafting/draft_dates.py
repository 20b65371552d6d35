"""Draft how the dates of a table are written, and which column has the time of day where it stands apart."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from pipelines.reading.drafting.date_guesses import CLOCK, CLOCK_OF_OTHER_MARKS, NO_DAY, DateGuess, date_guess
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.draft_values import ask_form, put_forms
from pipelines.reading.drafting.entries import Around
from pipelines.reading.drafting.guessing import Source
from pipelines.reading.drafting.words import TIME_HEADINGS
from pipelines.reading.layouts import LAYOUTS

_ISO = re.compile(r"%Y-%m-%d(?:[ T]%H:%M(?::%S)?(?:\.%f)?(?:%z)?)?")


_DIGITS_OF_A_CLOCK = re.compile(r"[0-2]\d[0-5]\d(?:[0-5]\d)?")


def dated_columns(table: str) -> tuple[str, ...]:
    """Return the columns of a table that hold days or moments."""
    return tuple(column.name for column in LAYOUTS[table].columns if column.kind in ("datetime", "date", "day or time"))


_DATED = {name for table in LAYOUTS for name in dated_columns(table)}


def draft_date(
    draft: Draft, chosen: Mapping[str, list[str]], sources: Mapping[str, Source], around: Around
) -> str | None:
    """Draft the form of dates; return the column with the time of day where it stands apart."""
    names = [name for column, found in chosen.items() if column in _DATED for name in found[:1]]
    cells = [cell for name in names for cell in sources[name].cells if not NO_DAY.fullmatch(cell)]
    cells += [cell for column, told in around.cells.items() if column in _DATED for cell in told]
    if not cells:
        return None
    guess = date_guess(cells, serial=True) if around.form is None else DateGuess(around.form, example=cells[0])
    taken = {name for found in chosen.values() for name in found}
    clock = next((name for name, source in sources.items() if name not in taken and _is_clock(source)), None)
    form = ask_form(draft, guess, cells)
    if form is None:
        return None
    if clock is None or guess.timed or "scanned_at" not in chosen:
        clock = None
    elif not re.search("%[HI]", form):  # an answer may name the time of the other column too
        form += _clock_form(sources[clock].filled)
    if not _ISO.fullmatch(form):
        put_forms(draft, form)
    if "scanned_at" in chosen and clock is None and not guess.timed:
        left = [one for name, one in sources.items() if name not in taken and one.filled]
        lost = next((one.name for one in left if _called_time(one)), None)
        if lost is not None:
            shown = sources[lost].filled[0]
            why = f"nothing else tells the time of day, and cells like {shown!r} have no form that is known here"
            draft.ask_leave("columns.time", f"{lost!r} may hold the time of day; may it be left out?", why)
        draft.reasons.append("date_formats: no time of day was found; scans of one day and car count as one")
    return clock


def _is_clock(source: Source) -> bool:
    if _called_time(source) and source.filled and all(map(CLOCK_OF_OTHER_MARKS.fullmatch, source.filled)):
        return len({*map(_mark_of_clock, source.filled)}) == 1
    if _called_time(source) and source.filled and all(map(_DIGITS_OF_A_CLOCK.fullmatch, source.filled)):
        return len({*map(len, source.filled)}) == 1
    return (
        bool(source.filled)
        and all(map(CLOCK.fullmatch, source.filled))
        and (_called_time(source) or len(source.filled) > 1)
    )


def _called_time(source: Source) -> bool:
    return any(heading.split("|")[0] in TIME_HEADINGS for heading in source.headings[:1])


def _mark_of_clock(cell: str) -> tuple[str, int]:
    marks = re.findall(r"[.h:]", cell)
    return (marks[0] if marks else "", len(marks))


def _clock_form(cells: Sequence[str]) -> str:
    if all(map(CLOCK_OF_OTHER_MARKS.fullmatch, cells)):
        mark, count = _mark_of_clock(cells[0])
        return f" %H{mark}%M" + (f"{mark}%S" if count > 1 else "")
    if not any(":" in cell for cell in cells):
        return " %H%M%S" if len(cells[0]) == len("235959") else " %H%M"
    half = any(re.search(r"[AaPp]\.? ?[Mm]", cell) for cell in cells)
    seconds = any(cell.count(":") > 1 for cell in cells)
    space = any(re.search(r"\d [AaPp]", cell) for cell in cells)
    return (" %I:%M" if half else " %H:%M") + (":%S" if seconds else "") + ((" %p" if space else "%p") if half else "")
