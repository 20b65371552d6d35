"""Exploring: the families and clear rates of the report over the whole history, by make, model, time and supplier."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from starlette.responses import PlainTextResponse, Response

from analysis.texts import desk_text
from analysis.texts import desk_week_text as say
from analysis.texts.words import listed
from pipelines.desk.desk import Desk
from pipelines.desk.question import Asked
from pipelines.desk.render import page
from pipelines.errors import BatchError

if TYPE_CHECKING:
    from pipelines.batch.history import Choice, History

_FAMILIES_SHOWN, _PARTS_SHOWN = 100, 300
_NAMES = ("make", "line", "supplier")


def show(desk: Desk, asked: Asked) -> Response:
    """Show the families and what each part cleared in the choice."""
    found, choice = _history(desk, asked)
    if found is None:
        return page(desk, "explore", found=None)
    from analysis.charts import wording

    texts = wording.texts(found.codes)
    families = found.families.sort("vehicles", "family", descending=[True, False]).head(_FAMILIES_SHOWN).to_dicts()
    for row in families:
        row["named"] = [(code, texts.get(code, "")) for code in (row["codes"] or "").split(";")]
    parts = found.part_results.sort("rate_low", "jobs", "part", descending=[True, True, False], nulls_last=True)
    chosen = {name: getattr(choice, name) for name in _NAMES}
    query = {**chosen, "since": asked.query.get("since", ""), "until": asked.query.get("until", "")}
    return page(
        desk, "explore", found=found, families=families, parts=parts.head(_PARTS_SHOWN).to_dicts(), chosen=query,
        listed=listed,
    )  # fmt: skip


def _history(desk: Desk, asked: Asked) -> tuple[History | None, Choice]:
    from pipelines.batch.history import Choice, history

    choice = Choice(
        **{name: asked.query.get(name, "") for name in _NAMES},
        since=_day(asked.query.get("since", "")),
        until=_day(asked.query.get("until", "")),
    )
    if not desk.workspace.database.exists():
        return None, choice
    with desk.looking() as warehouse:
        found = history(warehouse, choice)
    if found is not None:
        offered = {"make": found.makes, "line": found.lines, "supplier": found.suppliers}
        if any(getattr(choice, name) and getattr(choice, name) not in offered[name] for name in _NAMES):
            raise BatchError(say.NO_CHOICE)
    return found, choice


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError as error:
        raise BatchError(say.NO_CHOICE) from error


def families(desk: Desk, asked: Asked) -> Response:
    """Send the families as a table."""
    return _table(desk, asked, "families")


def parts(desk: Desk, asked: Asked) -> Response:
    """Send what each part cleared as a table."""
    return _table(desk, asked, "part_results")


def _table(desk: Desk, asked: Asked, name: str) -> Response:
    from pipelines.report.publish import csv_bytes

    found, _ = _history(desk, asked)
    if found is None:
        return PlainTextResponse(desk_text.NOT_THERE, 404)
    content = csv_bytes(name, getattr(found, name), csv_prefix=desk.settings.csv_prefix)
    return _saved(content, "text/csv; charset=utf-8", f"{name}.csv")


def picture(desk: Desk, asked: Asked) -> Response:
    """Send the families and their parts as a picture."""
    from analysis.charts import wording
    from analysis.charts.cluster_chart import cluster_chart
    from analysis.charts.pictures import svg

    found, _ = _history(desk, asked)
    texts = {} if found is None else wording.texts(found.codes)
    drawn: Any = None if found is None else cluster_chart(found.part_results, found.families, texts)
    if drawn is None:
        return PlainTextResponse(desk_text.NOT_THERE, 404)
    if asked.query.get("save"):
        return _saved(svg(drawn), "image/svg+xml", "clusters.svg")
    return Response(svg(drawn), media_type="image/svg+xml")


def _saved(content: bytes, kind: str, name: str) -> Response:
    return Response(content, media_type=kind, headers={"content-disposition": f'attachment; filename="{name}"'})
