"""Files: drop them, see what each is taken for and what was read of it, answer, take in, take back."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from hashlib import sha256
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from starlette.responses import RedirectResponse, Response

from analysis.texts import desk_file_text as say
from analysis.texts.desk_plain_text import file_name, row_in, sheets_of
from pipelines.desk import figures_page
from pipelines.desk.desk import Desk
from pipelines.desk.question import Asked
from pipelines.desk.render import page, piece
from pipelines.desk.tray import MARK
from pipelines.errors import BatchError
from pipelines.settings import Settings
from pipelines.workspace import Workspace, week_name

if TYPE_CHECKING:
    from datetime import date

    from pipelines.desk.look import Look
    from pipelines.desk.strangers import Stranger
    from pipelines.desk.tray import Tray, Waiting
    from pipelines.desk.two_numbers import TwoNumbers
    from pipelines.ingest.intake import Intake
    from pipelines.reading.drafting.draft import Question
    from pipelines.storage.undo import Taken

    Before = Mapping[tuple[str, str], Taken]
    """What was taken in, by the mark that the tray has of it and the table it went to."""

_TAKEN_SHOWN = 40
_REJECTS_SHOWN = 8
_REFUSED_SHOWN = 500
_HASH_SHOWN = 16
"""So many digits of its hash name a file that was taken in: to take it back, and to read what was refused of it."""
_STRANGERS_SHOWN = 20
_DATES = "date_formats"
_DRAFT = "mappings/draft.toml"
_UNIT = "text.module"
_CHOSEN = ("columns.", "text.")
"""What is chosen, never typed: its answers are columns and lines of the file, or that there is none."""


def show(desk: Desk, _asked: Asked) -> Response:
    """Show the files on the tray and those that were taken in; before there is a workspace, offer to make one."""
    if not desk.begun:
        there = desk.folder.is_dir() and any(desk.folder.iterdir())
        return page(desk, "begin", used=there, figures=figures_page.shown(Settings()))
    files = desk.tray.files()
    busy, taken = "", []
    lost: list[Stranger] = []
    before: Before = {}
    if desk.workspace.database.exists():
        try:
            taken, before, lost = _taken(desk), _known(desk), _lost(desk)
        except BatchError as error:
            busy = str(error)
    cards = [card_of(desk.workspace, file, before, files=files) for file in files]
    strange = _on_tray(desk, files) if files else []
    unknown = [one for one in strange if not one.same]
    inbox = sorted(path.name for path in desk.workspace.inbox.glob("*/*") if path.is_file())
    return page(
        desk,
        "files",
        cards=cards,
        unknown=unknown[:_STRANGERS_SHOWN],
        unknown_all=len(unknown),
        placed=sum(bool(one.vehicle) for one in unknown),
        same=[one for one in strange if one.same][:_STRANGERS_SHOWN],
        mixed=_mixed(desk, files)[:_STRANGERS_SHOWN],
        lost=lost[:_STRANGERS_SHOWN],
        lost_all=len(lost),
        ready=sum(one["ready"] and not one["before"] for one in cards),
        as_what=[say.as_what(one["file"].name, one["table"]) for one in cards if one["ready"] and not one["before"]],
        known=sum(one["ready"] and bool(one["before"]) for one in cards),
        waiting=sum(not one["ready"] and not one["stopped"] for one in cards),
        stopped=sum(bool(one["stopped"]) for one in cards),
        first_open=next((f"f{one['file'].mark}" for one in cards if not one["ready"]), ""),
        taken=taken,
        busy=busy,
        inbox=inbox,
    )


def _on_tray(desk: Desk, files: Sequence[Waiting]) -> list[Stranger]:
    from pipelines.desk.strangers import on_tray

    return on_tray(desk, files)


def _mixed(desk: Desk, files: Sequence[Waiting]) -> list[TwoNumbers]:
    if not files:
        return []
    from pipelines.desk.two_numbers import on_tray

    return on_tray(desk, files)


def _lost(desk: Desk) -> list[Stranger]:
    from pipelines.desk.strangers import taken_in

    return taken_in(desk)


def _taken(desk: Desk) -> list[dict[str, Any]]:
    from pipelines.storage.undo import refused_counts, taken_in

    with desk.looking() as warehouse:
        files = taken_in(warehouse)
        refused = refused_counts(warehouse)
    return [
        {
            "name": file_name(file.name),
            "mark": file.sha256[:_HASH_SHOWN],
            "week": file.week,
            "rows": file.rows_loaded,
            "refused": refused.get(file.file_id, 0),
        }
        for file in reversed(files[-_TAKEN_SHOWN:])
    ]


def refused(desk: Desk, asked: Asked) -> Response:
    """Show what was refused of a file that was taken in, and why."""
    from pipelines.storage.undo import refused_in

    if not desk.workspace.database.exists():
        raise BatchError(say.NOT_TAKEN)
    with desk.looking() as warehouse:
        found = refused_in(warehouse, asked.path["mark"])
    if found is None:
        raise BatchError(say.NOT_TAKEN)
    name, notes, rows = found
    sheets = sheets_of(notes)
    rejects = [(row_in("" if at is None else at, sheets), *cells) for at, *cells in rows[:_REFUSED_SHOWN]]
    more = max(len(rows) - _REFUSED_SHOWN, 0)
    return page(desk, "refused", called=file_name(name), rejects=rejects, more=more)


def _known(desk: Desk) -> Before:
    """Return all files that were taken in."""
    from pipelines.storage.undo import taken_in

    if not desk.workspace.database.exists():
        return {}
    try:
        with desk.looking() as warehouse:
            return _by_mark(taken_in(warehouse))
    except BatchError:  # a run holds it: said when the files are taken in
        return {}


def _by_mark(files: Sequence[Taken]) -> Before:
    return {(file.sha256[:MARK], file.layout): file for file in files}


def begin(desk: Desk, asked: Asked) -> Response:
    """Make the workspace, as ``init`` does."""
    from pipelines.report.new_workspace import init_workspace

    if not desk.begun:
        init_workspace(desk.folder)
        figures_page.save(desk, asked.form)
        desk.on_begun()
        desk.tell(say.MADE)
    return RedirectResponse("/", 303)


def card(desk: Desk, asked: Asked) -> Response:
    """Show one file on the tray."""
    return _piece(desk, desk.tray.get(asked.path["mark"]))


def _piece(desk: Desk, file: Waiting) -> Response:
    one = card_of(desk.workspace, file, _known(desk), files=desk.tray.files())
    return piece(desk, "card", one=one)


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
        "undo": was.sha256[:_HASH_SHOWN] if was else "",
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
        "refused": _why_table(seen) or found.refused,
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
    return sha256(json.dumps(told).encode()).hexdigest()[:_HASH_SHOWN]


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
    taken = [name for answer in taken for name in _named_in(answer)]
    sources = [name for name in next((one.choices for one in asked), ()) if not name.startswith("=")]
    return {"unasked": names if sources else [], "sources": [name for name in sources if name not in taken]}


def _named_in(answer: str) -> list[str]:
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
    dates = asked.key == _DATES and chosen and not asked.choices
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
        "like": say.DATE_LIKE if asked.key == _DATES else "",
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


def answer(desk: Desk, asked: Asked) -> Response:
    """Take what was answered about a file; the rows are shown as they are read by it."""
    with desk.turn():
        was = desk.tray.get(asked.path["mark"])
        file = chosen(desk.workspace, desk.tray, asked)
        _alike_told(desk, was, file)
    if asked.part == "card":
        return _piece(desk, file)
    return RedirectResponse(f"/#f{file.mark}", 303)


def _alike_told(desk: Desk, was: Waiting, now: Waiting) -> None:
    from pipelines.desk.alike import spread

    spread(desk.workspace, desk.tray, was, now)


def arrived(desk: Desk, file: Waiting) -> None:
    """Take what was answered of files of the same form for one that was just dropped."""
    from pipelines.desk import alike

    with desk.turn(), suppress(BatchError):  # what cannot be read is said where the file is shown
        alike.arrived(desk.workspace, desk.tray, file)


def chosen(workspace: Workspace, tray: Tray, asked: Asked, bought: date | None = None) -> Waiting:
    """Write down what was answered about a file of a tray, and return the file with it.

    Raises:
        BatchError: It is not there any more, or the answer is none of the answers.
    """
    from pipelines.reading.layouts import LAYOUTS

    file = tray.get(asked.path["mark"])
    table, ask = asked.form["table"], asked.form["ask"]
    if table and table not in LAYOUTS:
        raise BatchError(say.NO_TABLE)
    if ask == "yes":  # question by question, with what was answered before
        told = replace(file, asked=True)
    elif ask:
        told = replace(file, asked=False, table=None, answers={}, before={}, taken={})
    elif table:  # what was answered of another table does not count for this one, and is there when that one is again
        was = str(card_of(workspace, file, bought=bought)["table"])
        before = {**file.before, was: file.answers} if was else file.before
        told = replace(file, table=table, answers=before.get(table, {}), before=before, taken={})
    else:
        answers = _answers(card_of(workspace, file, bought=bought), file, asked)
        taken = {key: mark for key, mark in file.taken.items() if answers.get(key) == file.answers.get(key)}
        told = replace(file, answers=answers, taken=taken)
        called = next((name for name in asked.form.all("file_name") if name and name != file.name), None)
        if called is not None:
            told = tray.rename(told, called)
    tray.say(told)
    return told


def _answers(left: dict[str, Any], file: Waiting, asked: Asked) -> dict[str, str]:
    """Return what was answered so far: what differs from a proposal, and what was answered before."""
    questions: Sequence[dict[str, Any]] = left["questions"]
    known, answers = {one["key"]: one for one in questions}, dict(file.answers)
    more, source = asked.form["more_column"], asked.form["more_source"]
    if more and source:
        if more not in left["unasked"] or source not in left["sources"]:
            raise BatchError(say.NO_ANSWER)
        answers[f"columns.{more}"] = _beside(more, source, known)
    for key, value in asked.form.under("answer:").items():
        if key not in known and not value:
            continue  # asked a moment ago, and not any more
        if key not in known:
            raise BatchError(say.OLD_QUESTION)
        one = known[key]
        if one["choices"] and value and value not in (*one["choices"], one["nothing"]):
            raise BatchError(say.NO_ANSWER)
        # A page that was left and come back to sends what it showed then: that is no answer.
        was = asked.form.under("was:").get(key, "" if one["answered"] else one["chosen"])
        if value and value != was:
            answers[key] = say.form_told(value) if key == _DATES else value
    return answers


def _beside(more: str, source: str, known: Mapping[str, dict[str, Any]]) -> str:
    """Return the answer that one more column holds something: a code beside the codes, else in place of another."""
    was = str(known.get("columns.code", {}).get("chosen") or "") if more == "code" else ""
    return json.dumps([*_named_in(was), source], ensure_ascii=False) if was.strip("-") else source


def call(desk: Desk, asked: Asked) -> Response:
    """Call scanned cars that no stock list knows as the row of the stock list that holds their number does."""
    wanted = asked.form.all("number")
    with desk.turn():
        files = desk.tray.files()
        placed = [one for one in _on_tray(desk, files) if one.vehicle and not one.same and one.number in wanted]
        if not placed:
            raise BatchError(say.NO_STRANGER)
        for file in files:
            cars = {one.number: one.vehicle for one in placed if file.name in one.files}
            if cars:
                desk.tray.say(replace(file, cars={**file.cars, **cars}))
    for one in placed:
        desk.tell(say.called(one.number, one.vehicle))
    return RedirectResponse("/", 303)


def drop(desk: Desk, asked: Asked) -> Response:
    """Take a file off the tray; the dealer has it still where it came from."""
    with desk.turn():
        file = desk.tray.get(asked.path["mark"])
        desk.tray.drop(file)
    desk.tell(say.dropped(file.name))
    return RedirectResponse("/", 303)


def take(desk: Desk, asked: Asked) -> Response:
    """Take in the files that are ready: into the inbox, and from there into the database, as ``weekly`` does."""
    from pipelines.desk.look import look
    from pipelines.ingest.intake import take_in
    from pipelines.storage.undo import taken_in

    wanted = asked.form.all("mark")
    settings = desk.settings
    seen = [look(desk.workspace, file) for file in desk.tray.files() if not wanted or file.mark in wanted]
    ready = [one for one in seen if one.ready]
    if not ready:
        raise BatchError(say.NONE_READY)
    # A new mapping may take the place of the one that reads another file: each is read before the next is written.
    plain = [one for one in ready if one.draft is None]
    with desk.changing() as warehouse:
        before = _by_mark(taken_in(warehouse))
        # What lies there with other answers than it was taken in by stays: the loader would pass it over.
        stays = [one for one in ready if _answered(one.file) and (one.file.mark, one.found.table) in before]
        ready, plain = ([one for one in some if one not in stays] for some in (ready, plain))
        for one in stays:
            desk.tell(say.not_again(one.file.name), good=False)
        week = week_name(desk.today(), settings.week_starts)
        for some in filter(None, [plain, *([one] for one in ready if one.draft is not None)]):
            # One that is not there any more was taken in a moment ago.
            moved = [_into_inbox(desk, settings, one) for one in some if one.file.path.is_file()]
            if any(moved):
                _tell(desk, take_in(desk.workspace, settings, warehouse, week, lambda _: None))
    return RedirectResponse("/", 303)


def _answered(file: Waiting) -> bool:
    """Say whether anything was said of how a file on the tray is read."""
    return bool(file.table or file.asked or file.answers or file.cars)


def _into_inbox(desk: Desk, settings: Settings, one: Look) -> bool:
    """Move a file from the tray to its folder of the inbox, its mapping before it, where it is read there as here."""
    from pipelines.ingest.mapping_draft import text_of
    from pipelines.ingest.mapping_kept import free, keep_mapping
    from pipelines.reading.file_check import check_file

    if one.draft is not None:
        kept = keep_mapping(desk.workspace.root, one.file.path, text_of(one.file.path, one.draft))
        found = check_file(one.file.path, settings, one.found.table)
        if found.refused is not None or found.rows_taken != one.found.rows_taken:
            kept.take_back()
            why = (found.refused or "").replace(str(one.file.path), one.file.name)
            desk.tell(say.not_as_shown(one.file.name, why), good=False)
            return False
    folder = desk.workspace.inbox / (one.found.table or "scans")
    folder.mkdir(parents=True, exist_ok=True)
    one.file.path.replace(free(folder, one.file.path.name))
    desk.tray.drop(one.file)
    return True


def _tell(desk: Desk, done: Intake) -> None:
    for file in done.loaded:
        desk.tell(say.taken(file_name(file.name), file.rows_loaded, file.rows_refused, file.rows_repeated))
    for name in done.skipped:
        desk.tell(say.skipped(file_name(name)))
    for refused in done.refused:
        desk.tell(refused.refused or refused.name, good=False)
    for sentence in [*done.busy, *done.notes]:
        desk.tell(sentence, good=False)


def undo(desk: Desk, asked: Asked) -> Response:
    """Take a file back, as ``undo`` does."""
    from pipelines.storage.undo import undo as undone

    settings, mark = desk.settings, asked.form["mark"]
    known = [file["mark"] for file in _taken(desk)] if desk.workspace.database.exists() else []
    if mark not in known:
        raise BatchError(say.NOT_TAKEN)
    with desk.changing() as warehouse:
        done = undone(desk.workspace, settings, warehouse, mark)
    for file in done.files:
        desk.tell(say.undone(file_name(file.name), done.removed))
    for note in done.notes:
        desk.tell(note, good=False)
    return RedirectResponse("/", 303)
