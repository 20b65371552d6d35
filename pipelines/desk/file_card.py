"""What the page shows of one file: what it is taken for, its rows as they were read, what it still has to be told."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import datetime
from hashlib import sha256
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from analysis.texts import desk_file_text as say
from analysis.texts.desk_plain_text import UNFIT, file_name, plain, row_in, sheets_of
from pipelines.workspace import Workspace

if TYPE_CHECKING:
    from datetime import date

    from pipelines.desk.look import Look
    from pipelines.desk.tray import Waiting
    from pipelines.reading.drafting.draft import Question
    from pipelines.storage.undo import Taken

    Before = Mapping[tuple[str, str], Taken]
    """What was taken in, by the mark that the tray has of it and the table it went to."""

HASH_SHOWN = 16
"""So many digits of its hash name a file that was taken in: to take it back, and to read what was refused of it."""
DATES = "date_formats"
_REJECTS_SHOWN = 8
_DRAFT = "mappings/draft.toml"
_UNIT = "text.module"
_CHOSEN = ("columns.", "text.")
"""What is chosen, never typed: its answers are columns and lines of the file, or that there is none."""


def card_of(
    workspace: Workspace,
    file: Waiting,
    before: Before = MappingProxyType({}),
    bought: date | None = None,
    files: Sequence[Waiting] = (),
) -> dict[str, Any]:
    """Return what the page shows of one file.

    Args:
        workspace: The workspace.
        file: The file.
        before: Those that were taken in.
        bought: The day, where it is the scan of a car before it is bought: nothing of it is taken in.
        files: All that lie on the tray with it.
    """
    from pipelines.desk.look import look
    from pipelines.desk.unused import LEFT_OUT, unused_in
    from pipelines.reading.account import NOT_ALL
    from pipelines.reading.layouts import LAYOUTS
    from pipelines.reading.mapping.mapping_file import BY_CODE

    seen = look(workspace, file, bought)
    found = seen.found
    rejects = found.rejects.head(_REJECTS_SHOWN)
    # The first note names the mapping; of a draft there is nothing to name.
    notes = [note.replace(_DRAFT, say.THE_DRAFT) for note in found.notes[1:]] if seen.draft else list(found.notes)
    if seen.draft is not None and f'module = "{BY_CODE}"' in seen.draft.tables.get("constants", ()):
        notes.append(say.MODULE_BY_CODE)
    unused = unused_in(seen)
    sheets = sheets_of(found.notes)
    was = before.get((file.mark, found.table or ""))
    return {
        "file": file,
        "twin": _twin(file, files),
        "unused": unused,
        "at": "/buying" if bought else "/files",
        "bought": bought is not None,
        "changeable": found.refused is None or seen.draft is not None,
        "ready": seen.ready,
        "whole": found.whole and not _mostly_refused(seen),
        "before": say.before(file_name(was.name), say.HOLDS[was.layout], was.week, was.rows_loaded) if was else "",
        "undo": was.sha256[:HASH_SHOWN] if was else "",
        "table": "" if _asks_table(seen) else _table(seen) if seen.draft else found.table or file.table or "",
        "tables": list(LAYOUTS),
        "words": say.HOLDS,
        "read": found.rows_read,
        "kept": found.rows_taken,
        "account": found.account,
        "notes": [
            note
            for note in notes
            if not sheets_of([note]) and not note.startswith((NOT_ALL, *([LEFT_OUT] if unused else [])))
        ],
        "refused": _why_table(seen) or _why_not_yet(seen),
        "rejects": [
            [row_in("" if at is None else at, sheets), *("" if cell is None else str(cell) for cell in cells)]
            for at, *cells in rejects.iter_rows()
        ],
        "more_rejects": max(found.rejects.height - _REJECTS_SHOWN, 0),
        "heads": seen.heads,
        "cells": [] if _asks_table(seen) else _by_sheet(seen, sheets),
        "drafted": seen.draft is not None,
        "questions": _questions(seen),
        "open": 0 if seen.codeless or not seen.draft else 1 if _asks_table(seen) else len(seen.undecided),
        "stopped": [one.key for one in seen.stopped],
        "as_of": _as_of(file, files),
        "also_for": [one.name for one in files if file.mark in one.taken.values()],
        "said": _said(file),
        **({"unasked": [], "sources": []} if _asks_table(seen) else _left(seen)),
    }


def _mostly_refused(seen: Look) -> bool:
    """Say whether more of a file would be refused than taken."""
    return 2 * seen.found.rows_taken < seen.found.rows_read


def _as_of(file: Waiting, files: Sequence[Waiting]) -> dict[str, str]:
    """Return the name of the file of which each answer was taken, by the key of its question."""
    names = {one.mark: one.name for one in files}
    return {key: names.get(mark, say.ANOTHER_FILE) for key, mark in file.taken.items()}


def _said(file: Waiting) -> str:
    """Return a mark of what was said of a file: a card that shows another one is old."""
    told = [file.name, file.table, file.asked, *map(sorted, (file.answers.items(), file.cars.items()))]
    return sha256(json.dumps(told).encode()).hexdigest()[:HASH_SHOWN]


def _by_sheet(seen: Look, sheets: Mapping[int, str]) -> list[list[str]]:
    """Return the first rows of a file, the number of each as its own sheet has it."""
    if seen.heads[:1] != ["row"]:
        return seen.cells
    return [[row_in(at, sheets), *cells] for at, *cells in seen.cells]


def _twin(file: Waiting, files: Sequence[Waiting]) -> str:
    """Say which one it is of several files of one name; blank where there is but one."""
    dropped = {one.mark: one.path.stat().st_mtime for one in files if one.name == file.name and one.path.is_file()}
    if len(dropped) < 2 or file.mark not in dropped:
        return ""
    place = sorted(dropped, key=lambda mark: (dropped[mark], mark)).index(file.mark) + 1
    when = datetime.fromtimestamp(dropped[file.mark]).astimezone()
    return say.twin(place, len(dropped), f"{when:%H:%M:%S}", file.path.stat().st_size)


def _table(seen: Look) -> str:
    """Return the table that a file's draft fills."""
    return seen.draft.table if seen.draft else seen.found.table or "scans"


def _left(seen: Look) -> dict[str, list[str]]:
    """Return the columns of the table, and the file's columns that are not used and may hold them."""
    from pipelines.reading.layouts import LAYOUTS

    asked = [one for one in seen.questions if one.key.startswith("columns.") and one.choices]
    names = [column.name for column in LAYOUTS[_table(seen)].mappable]
    given = seen.file.answers
    taken = [given.get(one.key, one.proposal or "") for one in asked]
    taken = [name for answer in taken for name in named_in(answer)]
    sources = [name for name in next((one.choices for one in asked), ()) if not name.startswith("=")]
    return {"unasked": names if sources else [], "sources": [name for name in sources if name not in taken]}


def named_in(answer: str) -> list[str]:
    """Return the columns of a file that an answer names: one, or a list as JSON has it."""
    return [str(name) for name in json.loads(answer)] if answer.startswith('["') else [answer]


def _asks_table(seen: Look) -> bool:
    """Say whether nothing in a file can decide which table it holds, and nobody has."""
    return seen.draft is not None and any(one.key == "table" for one in seen.draft.open)


def _why_table(seen: Look) -> str:
    """Return why it has to be asked which table a file holds, or that it holds none; blank where that is known."""
    if not _asks_table(seen):
        return say.NO_CODES if seen.codeless and not seen.ready else ""
    return next(f"{say.WHICH_TABLE} {one.why}." for one in seen.questions if one.key == "table")


def _why_not_yet(seen: Look) -> str | None:
    """Return why a file cannot be taken in; of one that only waits for its first answer, that."""
    why = seen.found.refused
    waits = why is not None and bool(seen.undecided) and not seen.file.answers
    return say.ANSWER_FIRST if waits and plain(why or "").startswith(UNFIT) else why


def _questions(seen: Look) -> list[dict[str, Any]]:
    """Return what is asked of a file, what nothing in it can decide first; which table it holds stands above them."""
    if _asks_table(seen) or seen.codeless:
        return []
    shown = [_question(seen, asked) for asked in seen.questions if asked.key != "table"]
    return sorted(shown, key=lambda one: not one["must"])


def _question(seen: Look, asked: Question) -> dict[str, Any]:
    from pipelines.reading.drafting.draft import NOTHING
    from pipelines.reading.drafting.pointed import CAR, DAY

    given = seen.file.answers.get(asked.key)
    chosen = given if given is not None else None if asked.hangs else asked.proposal
    choices = list(dict.fromkeys([*asked.choices, *([chosen] if chosen and chosen != NOTHING else [])]))
    dates = asked.key == DATES and chosen and not asked.choices
    if dates and chosen:
        choices = list(dict.fromkeys([chosen, say.turned(chosen)]))
    typed = not asked.choices and not dates and not asked.key.startswith(_CHOSEN)
    return {
        "key": asked.key,
        "words": {choice: asked.means.get(choice) or say.answer_words(asked.key, choice) for choice in choices},
        "none": _none(seen, asked),
        "asks": say.UNIT_ASKED if asked.key == _UNIT else _in_the_name(asked) or asked.asks,
        "why": asked.why,
        "chosen": chosen,
        "typed": typed,
        "like": say.DATE_LIKE if asked.key == DATES else "",
        "file_name": asked.key in (CAR, DAY, "columns.vehicle", "columns.scanned_at") and asked.proposal is None,
        "choices": [] if typed else choices,
        "nothing": NOTHING,
        "answered": given is not None,
        "must": asked.proposal is None or asked.hangs,
        "please": say.HANGS if asked.hangs else say.MUST,
        "stops": asked in seen.stopped,
    }


def _in_the_name(asked: Question) -> str:
    """Ask for a name of the file that tells what no line of it can; blank where a line may be chosen."""
    from pipelines.reading.drafting.pointed import CAR, DAY

    return "" if asked.choices else {CAR: say.CAR_IN_NAME, DAY: say.DAY_IN_NAME}.get(asked.key, "")


def _none(seen: Look, asked: Question) -> str | None:
    """Return how the answer that it is none of them is put; None: without it nothing can be read."""
    from pipelines.reading.drafting.pointed import CAR, DAY
    from pipelines.reading.layouts import LAYOUTS

    if asked.key in ("columns.module", _UNIT):
        return say.NO_MODULE
    if asked.key == "columns.twice":
        return say.AS_IT_IS
    if asked.leaves or asked.hangs:
        return None
    needed = {f"columns.{column.name}" for column in LAYOUTS[_table(seen)].columns if column.required}
    if asked.key in {*needed, CAR, DAY, "text.scan", "table", "decimal", "erased.column"}:
        return None
    return say.NOTHING if asked.choices else say.LEFT_OUT
