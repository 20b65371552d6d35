"""Look past these?: groups of codes that no fault seems to set, with their evidence, for the dealer to decide.

What is answered is written by the functions of ``standing``: agreeing into the inbox, refusing beside the settings.
"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

from starlette.responses import RedirectResponse, Response

from analysis.texts import desk_week_text as say
from analysis.texts.standing_text import question
from pipelines.desk import equipment_page
from pipelines.desk.desk import Desk
from pipelines.desk.question import Asked
from pipelines.desk.render import page
from pipelines.errors import BatchError

if TYPE_CHECKING:
    from pipelines.batch.standing import Question

_ANSWERS = {"yes": ("proposed",), "no": ("proposed",), "later": ("proposed",), "back": ("accepted", "refused")}


def show(desk: Desk, asked: Asked) -> Response:
    """Show the groups that the last run proposes, and those that were decided on."""
    why, groups = "", []
    if desk.workspace.database.exists():
        try:
            groups = [_shown(one) for one in _questions(desk)]
        except BatchError as error:
            why = str(error)
    ordered = sorted(groups, key=lambda one: (one["state"] != "proposed", one["number"]))
    fitted = equipment_page.shown(desk, asked.query.get("vehicle", "").strip())
    return page(desk, "standing", groups=ordered, why=why, fitted=fitted)


def _questions(desk: Desk) -> list[Question]:
    from pipelines.batch.standing import questions

    with desk.turn():
        return questions(desk.workspace)


def _mark(one: Question) -> str:
    """Return what a group is known by, whatever its number is by now."""
    return "|".join((one.vehicle, one.make, ";".join(one.codes)))


def _shown(one: Question) -> dict[str, Any]:
    return {
        "number": one.number,
        "mark": _mark(one),
        "state": one.state,
        "told": question(list(one.codes), one.where, one.cars, one.erases_survived, one.kind),
        "reason": one.reason,
        "waiting": one.waiting,
        "back": one.state in _ANSWERS["back"],
    }


def decide(desk: Desk, asked: Asked) -> Response:
    """Take the dealer's word on one group.

    Raises:
        BatchError: There is no such group or answer, or it was decided on already.
    """
    from pipelines.batch import standing

    answer, mark = asked.form["answer"], asked.form["mark"]
    found = _questions(desk) if desk.workspace.database.exists() else []
    numbers = [one.number for one in found if _mark(one) == mark]
    if answer not in _ANSWERS or len(numbers) != 1:
        raise BatchError(say.NO_GROUP)
    which = standing.chosen(found, numbers, *_ANSWERS[answer])
    with desk.turn(), desk.workspace.lock():
        if answer == "yes":
            standing.accept(desk.workspace, which, datetime.now())
        elif answer == "no":
            standing.refuse(desk.workspace, which, datetime.now())
        elif answer == "back":
            standing.take_back(desk.workspace, which, datetime.now())
    desk.tell(say.PUT_OFF if answer == "later" else say.DECIDED)
    return RedirectResponse("/standing", 303)
