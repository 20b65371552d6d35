"""Files: drop them, see what each is taken for and what was read of it, answer, take in, take back."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from starlette.responses import RedirectResponse, Response

from analysis.texts import desk_file_text as say
from pipelines.desk import figures_page
from pipelines.desk.desk import Desk
from pipelines.desk.file_answers import chosen
from pipelines.desk.file_card import card_of
from pipelines.desk.own_names import open_names
from pipelines.desk.question import Asked
from pipelines.desk.render import page, piece
from pipelines.desk.taking_in import known, taken
from pipelines.desk.tray_groups import grouped, left_behind
from pipelines.errors import BatchError
from pipelines.settings import Settings

if TYPE_CHECKING:
    from pipelines.desk.file_card import Before
    from pipelines.desk.strangers import Stranger
    from pipelines.desk.tray import Waiting
    from pipelines.desk.two_numbers import TwoNumbers

_STRANGERS_SHOWN = 20


def show(desk: Desk, _asked: Asked) -> Response:
    """Show the files on the tray and those that were taken in; before there is a workspace, offer to make one."""
    if not desk.begun:
        there = desk.folder.is_dir() and any(desk.folder.iterdir())
        return page(desk, "begin", used=there, figures=figures_page.shown(Settings()))
    files = desk.tray.files()
    busy, loaded = "", []
    lost: list[Stranger] = []
    before: Before = {}
    if desk.workspace.database.exists():
        try:
            loaded, before, lost = taken(desk), known(desk), _lost(desk)
        except BatchError as error:
            busy = str(error)
    cards = [card_of(desk.workspace, file, before, files=files) for file in files]
    inbox = sorted(path.name for path in desk.workspace.inbox.glob("*/*") if path.is_file())
    return page(
        desk,
        "files",
        cards=cards,
        groups=grouped(desk.workspace, cards),
        names=open_names(desk, files),
        lost=lost[:_STRANGERS_SHOWN],
        lost_all=len(lost),
        taken=loaded,
        busy=busy,
        inbox=inbox,
        **_counted(cards),
        **_of_all(desk, files),
    )


def _counted(cards: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Return how many files are ready, were taken in before, want an answer first, and are stopped by one."""
    ready = [one for one in cards if one["ready"] and not one["before"]]
    waiting = [one for one in cards if not one["ready"] and not one["stopped"]]
    return {
        "ready": len(ready),
        "as_what": [say.as_what(one["file"].name, one["table"]) for one in ready],
        "known": sum(one["ready"] and bool(one["before"]) for one in cards),
        "waiting": len(waiting),
        "stopped": sum(bool(one["stopped"]) for one in cards),
        "left": left_behind(waiting),
        "first_open": next((f"f{one['file'].mark}" for one in cards if not one["ready"]), ""),
    }


def _of_all(desk: Desk, files: Sequence[Waiting]) -> dict[str, Any]:
    """Return what is said and asked of all files on the tray together."""
    strange = _on_tray(desk, files)
    unknown = [one for one in strange if not one.same]
    return {
        "unknown": unknown[:_STRANGERS_SHOWN],
        "unknown_all": len(unknown),
        "placed": sum(bool(one.vehicle) for one in unknown),
        "same": [one for one in strange if one.same][:_STRANGERS_SHOWN],
        "mixed": _mixed(desk, files)[:_STRANGERS_SHOWN],
        "misspelt": _misspelt(desk, files)[:_STRANGERS_SHOWN],
    }


def _on_tray(desk: Desk, files: Sequence[Waiting]) -> list[Stranger]:
    if not files:
        return []
    from pipelines.desk.strangers import on_tray

    return on_tray(desk, files)


def _misspelt(desk: Desk, files: Sequence[Waiting]) -> list[tuple[str, str, list[str]]]:
    if not files:
        return []
    from pipelines.desk.strangers import misspelt

    return misspelt(desk, files)


def _mixed(desk: Desk, files: Sequence[Waiting]) -> list[TwoNumbers]:
    if not files:
        return []
    from pipelines.desk.two_numbers import on_tray

    return on_tray(desk, files)


def _lost(desk: Desk) -> list[Stranger]:
    from pipelines.desk.strangers import taken_in

    return taken_in(desk)


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
    one = card_of(desk.workspace, file, known(desk), files=desk.tray.files())
    return piece(desk, "card", one=one)


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
