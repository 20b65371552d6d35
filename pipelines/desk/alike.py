"""Files on the tray that are of one form: what was answered of one of them is taken for the others.

Of one form are tables with the same headings and printed texts whose scans begin with the same lines.  Only what is
asked of the other file too is taken, and only where nothing in that file says otherwise; what belongs to one file
alone, its car and its day, is never taken.  Each file keeps which of its answers came from which other one, so that its
owner sees it, and an answer of its own goes before.
"""

from __future__ import annotations

import ast
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from pipelines.desk.look import Look, look, state_of
from pipelines.desk.tray import MOST_FILES, Tray, Waiting
from pipelines.errors import BatchError
from pipelines.reading.drafting.draft import CONSTANT, NOTHING, Draft, Question
from pipelines.reading.drafting.pointed import CAR, DAY, alike_line, form_of
from pipelines.workspace import Workspace

_DATES = "date_formats"
_COLUMN = "columns."
_TABLE = "table"
_TYPED = ("labour_rate", "values.")
"""Of what is typed, what holds for the other file too; a car, a day or a control unit is one file's own."""
_NOT_USED = "# not used: "


@dataclass(frozen=True)
class _Form:
    """What a file is of, before anything was answered.

    Attributes:
        shape: What files of one form have in common; None: nothing by which others could be known.
        names: The headings.
        dates: The form of its dates, where they can be read in one way only.
    """

    shape: tuple[object, ...] | None
    names: frozenset[str] = frozenset()
    dates: str = ""


def spread(workspace: Workspace, tray: Tray, was: Waiting, now: Waiting) -> list[Waiting]:
    """Take what was just answered of a file for those of its form, write it down, and return them.

    Args:
        workspace: The workspace.
        tray: The tray.
        was: The file before it was answered.
        now: The same file as it is answered now; answers that it lost are lost for those that had them of it.
    """
    changed = []
    for file in tray.files():
        if file.mark == now.mark or (was.answers, was.table) == (now.answers, now.table):
            continue
        kept = _without(file, now.mark, was.answers.keys() - now.answers.keys())
        told = _with_answers(workspace, _with_table(kept, was, now), now) if _alike(workspace, file, now) else kept
        if told != file:
            tray.say(told)
            changed.append(told)
    return changed


def arrived(workspace: Workspace, tray: Tray, file: Waiting) -> Waiting:
    """Take what was answered of the files of its form for one that was just dropped, and return it.

    Where nothing but the dates of one of the two says how they are written, they are read alike.
    """
    if file.answers or file.asked or file.table:
        return file
    others = [one for one in tray.files() if one.mark != file.mark and _alike(workspace, one, file)]
    told = file
    for other in others:
        said = other.table and _TABLE not in other.taken
        told = _with_answers(workspace, _with_table(told, file, other) if said else told, other)
    told = _with_dates(workspace, told, others)
    if told != file:
        tray.say(told)
    for other in others:
        dated = _with_dates(workspace, other, [file])
        if dated != other:
            tray.say(dated)
    return told


def _with_table(file: Waiting, was: Waiting, now: Waiting) -> Waiting:
    """Return a file said to hold what another one of its form was just said to, where it has no answers of its own."""
    free = file.table is None or file.taken.get(_TABLE) == now.mark
    if now.table in (was.table, None) or not free or file.answers.keys() - file.taken.keys():
        return file
    return replace(file, table=now.table, answers={}, taken={_TABLE: now.mark})


def _without(file: Waiting, source: str, keys: Iterable[str]) -> Waiting:
    """Return a file without the answers to some questions that were taken of another one."""
    gone = {key for key in keys if file.taken.get(key) == source}
    return replace(
        file,
        answers={key: value for key, value in file.answers.items() if key not in gone},
        taken={key: mark for key, mark in file.taken.items() if key not in gone},
    )


def _with_answers(workspace: Workspace, file: Waiting, source: Waiting) -> Waiting:
    """Return a file with what was answered of another one of its form, as far as it is asked of this one too."""
    theirs = {asked.key: asked for asked in look(workspace, source).questions}
    names = _form(workspace, file).names
    # An answer may raise the next question.
    for _ in range(len(source.answers) + 1):
        asked_here = {asked.key: asked for asked in look(workspace, file).questions}
        new = {}
        for key, answer in source.answers.items():
            own = key in file.answers and file.taken.get(key) != source.mark
            fitting = _fitting(key, answer, asked_here.get(key), theirs.get(key), names)
            if fitting and not own and file.answers.get(key) != fitting:
                new[key] = fitting
        if not new:
            break
        file = _taking(file, new, source)
    return file


def _with_dates(workspace: Workspace, file: Waiting, others: Iterable[Waiting]) -> Waiting:
    """Return a file whose dates can be read in two ways, read as those of another one that can be read in one."""
    if _DATES in file.answers:
        return file
    asked = next((one for one in look(workspace, file).questions if one.key == _DATES), None)
    forms = {_form(workspace, other).dates: other for other in others if _form(workspace, other).dates}
    # Files of one form that are dated in two ways say nothing of a third.
    if asked is None or asked.proposal is not None or len(forms) != 1 or not forms.keys() & {*asked.choices}:
        return file
    [(form, other)] = forms.items()
    return _taking(file, {_DATES: form}, other)


def _taking(file: Waiting, answers: Mapping[str, str], source: Waiting) -> Waiting:
    return replace(
        file, answers={**file.answers, **answers}, taken={**file.taken, **dict.fromkeys(answers, source.mark)}
    )


def _fitting(
    key: str, answer: str, asked: Question | None, theirs: Question | None, names: frozenset[str]
) -> str | None:
    """Return an answer as this file would have it; None where it does not hold for it."""
    if asked is None:  # a column that nobody asked for was said to hold something
        return answer if key.startswith(_COLUMN) and answer in names else None
    if theirs is None or (asked.proposal is not None and asked.proposal != theirs.proposal):
        return None
    if asked.leaves:  # leave is given to lose one thing, not another
        return answer if asked.asks == theirs.asks else None
    if key in (CAR, DAY):
        return alike_line(key, answer, asked.choices)
    if answer in asked.choices or answer == NOTHING:
        return answer
    dates = key == _DATES and asked.choices == theirs.choices
    typed = not asked.choices and key.startswith(_TYPED)
    return answer if dates or typed else None


def shape_of(workspace: Workspace, file: Waiting) -> tuple[object, ...] | None:
    """Return what a file has in common with others of its form; None where none could be known by it."""
    return _form(workspace, file).shape


def _alike(workspace: Workspace, file: Waiting, other: Waiting) -> bool:
    shape = _form(workspace, file).shape
    return shape is not None and shape == _form(workspace, other).shape


def _form(workspace: Workspace, file: Waiting) -> _Form:
    fresh = _fresh(file)
    try:
        return _form_of(workspace, fresh.mark, state_of(workspace, fresh), fresh.asked)
    except BatchError:
        return _Form(None)


@lru_cache(2 * MOST_FILES)
def _form_of(workspace: Workspace, mark: str, _state: object, asked: bool) -> _Form:
    file = Tray(workspace).get(mark)
    seen = look(workspace, replace(_fresh(file), asked=asked))
    if seen.draft is None:
        return _Form(None)
    names = frozenset(_headings(seen, seen.draft))
    shape = (file.path.suffix, seen.draft.table, _way(seen.draft), names)
    dates = next((one for one in seen.questions if one.key == _DATES and not one.choices), None)
    return _Form(shape if names else None, names, dates.proposal or "" if dates else "")


def _fresh(file: Waiting) -> Waiting:
    """Return a file as if nothing had been said of it."""
    return replace(file, table=None, answers={}, taken={}, before={}, cars={})


def _way(draft: Draft) -> str:
    return next((line for line in draft.tables[""] if line.startswith("format = ")), "")


def _headings(seen: Look, draft: Draft) -> list[str]:
    """Return the headings of a table, or how the lines look with which the scans of a text begin."""
    if "text" in draft.tables:
        pointed = [
            f"{asked.key} {form_of(asked.key, line)}"
            for asked in seen.questions
            if asked.key in (CAR, DAY)
            for line in asked.choices
        ]
        lines = "\n".join(draft.tables["text"]).split("\n")
        return [line.strip() for line in lines if "(?<vehicle>" in line or "(?<scanned_at>" in line] + pointed
    lines = draft.tables.get("columns", [])
    unused = [str(ast.literal_eval(line[len(_NOT_USED) :])) for line in lines if line.startswith(_NOT_USED)]
    chosen = [one for asked in seen.questions if asked.key.startswith(_COLUMN) for one in asked.choices]
    return [*unused, *(name for name in chosen if not name.startswith((CONSTANT, "[")))]
