"""Look past these?: groups of codes that no fault seems to set, with their evidence, for the dealer to decide."""

from __future__ import annotations

from typing import Any

from starlette.responses import RedirectResponse, Response

from analysis.texts import desk_week_text as say
from analysis.texts.standing_text import question
from pipelines.desk.desk import Desk
from pipelines.desk.question import Asked
from pipelines.desk.render import page
from pipelines.errors import BatchError

ANSWERS = ("yes", "no", "later", "back")


def show(desk: Desk, _asked: Asked) -> Response:
    """Show the groups that the last run proposes, and those that were decided on."""
    return page(desk, "standing", groups=groups(desk))


def groups(desk: Desk) -> list[dict[str, Any]]:
    """Return the groups, those to decide on first."""
    from pipelines.storage.model_store import ModelStore

    if not desk.workspace.database.exists():
        return []
    with desk.looking() as warehouse:
        run = ModelStore(warehouse).latest()
    table = run.tables.get("standing") if run else None
    rows = [] if table is None else table.to_dicts()
    made = [
        {
            "mark": "|".join(str(row[name] or "") for name in ("vehicle", "make", "codes")),
            "state": row["state"],
            "told": question(
                row["codes"].split(";"), row["vehicle"] or row["make"] or "", row["cars"] or 0,
                row["erases_survived"] or 0, row["kind"],
            ),
            "reason": row["reason"] or "",
        }
        for row in rows
    ]  # fmt: skip
    return sorted(made, key=lambda one: (one["state"] != "proposed", one["mark"]))


def decide(desk: Desk, asked: Asked) -> Response:
    """Take the dealer's word on one group.

    Raises:
        BatchError: There is no such group or answer, or nothing here can write it down yet.
    """
    if asked.form["answer"] not in ANSWERS or asked.form["mark"] not in {one["mark"] for one in groups(desk)}:
        raise BatchError(say.NO_GROUP)
    if asked.form["answer"] == "later":
        desk.tell(say.DECIDED)
        return RedirectResponse("/standing", 303)
    raise BatchError(say.NOT_YET)
