"""Taking files in and back: those of the tray that are ready, those that were taken in, what was refused of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from starlette.responses import RedirectResponse, Response

from analysis.texts import desk_file_text as say
from analysis.texts.desk_plain_text import file_name, row_in, sheets_of
from pipelines.desk.desk import Desk
from pipelines.desk.file_card import HASH_SHOWN
from pipelines.desk.question import Asked
from pipelines.desk.render import page
from pipelines.desk.tray import MARK
from pipelines.errors import BatchError
from pipelines.settings import Settings
from pipelines.workspace import week_name

if TYPE_CHECKING:
    from pipelines.desk.file_card import Before
    from pipelines.desk.look import Look
    from pipelines.desk.tray import Waiting
    from pipelines.ingest.intake import Intake
    from pipelines.storage.undo import Taken

_TAKEN_SHOWN = 40
_REFUSED_SHOWN = 500


def taken(desk: Desk) -> list[dict[str, Any]]:
    """Return the files that were taken in, the latest first, each with its week and its rows."""
    from pipelines.storage.undo import refused_counts, taken_in

    with desk.looking() as warehouse:
        files = taken_in(warehouse)
        refused = refused_counts(warehouse)
    return [
        {
            "name": file_name(file.name),
            "mark": file.sha256[:HASH_SHOWN],
            "week": file.week,
            "rows": file.rows_loaded,
            "refused": refused.get(file.file_id, 0),
        }
        for file in reversed(files[-_TAKEN_SHOWN:])
    ]


def known(desk: Desk) -> Before:
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
    marks = [file["mark"] for file in taken(desk)] if desk.workspace.database.exists() else []
    if mark not in marks:
        raise BatchError(say.NOT_TAKEN)
    with desk.changing() as warehouse:
        done = undone(desk.workspace, settings, warehouse, mark)
    for file in done.files:
        desk.tell(say.undone(file_name(file.name), done.removed))
    for note in done.notes:
        desk.tell(note, good=False)
    return RedirectResponse("/", 303)
