"""Before buying: a scan, make, model and price in; what clearing the car costs and the highest sensible bid out.

The reckoning is ``appraise``'s; here only the bid is set beside it: what the car is worth without these faults, less
what clearing them costs in nine of ten such cases.  Of a scan that was not read whole there is none, unless whoever
asks agrees to know nothing of the rest.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from starlette.responses import RedirectResponse, Response

from analysis.texts import desk_week_text as say
from analysis.texts.desk_file_text import HOLDS
from analysis.texts.notes import NO_LABOUR
from analysis.texts.words import percent
from pipelines.desk.car_to_buy import known_models, told_of
from pipelines.desk.desk import Desk
from pipelines.desk.file_answers import chosen
from pipelines.desk.file_card import card_of
from pipelines.desk.forms import Form
from pipelines.desk.money import typed_money
from pipelines.desk.question import Asked
from pipelines.desk.render import page, piece
from pipelines.errors import BatchError

if TYPE_CHECKING:
    from pipelines.batch.appraisal import Told
    from pipelines.desk.tray import Waiting
    from pipelines.reading.read_table import Reading
    from pipelines.settings import Settings

_WHOLE = re.compile(r"^\D*[1-9]\d{0,2}([.,])\d{3}(?:\1\d{3})*(?![.,]?\d)")
_THOUSANDS = re.compile(r"(?<=\d)[.,](?=\d{3}(?!\d))")
_SHARES = (0.1, 0.25, 0.5, 0.75, 0.9)


@dataclass(frozen=True)
class Worked:
    """What was typed, and what came of it: why nothing was worked out, or what the page shows."""

    form: Form
    why: str = ""
    shown: dict[str, Any] = field(default_factory=dict)


def show(desk: Desk, asked: Asked) -> Response:
    """Ask for the scan, say what it is taken for, ask for what is known of the car; show what was worked out of it."""
    kept = desk.kept(asked.query.get("kept", ""))
    given = kept if isinstance(kept, Worked) else Worked(Form([]))
    blank: dict[str, Any] = {"sections": [], "spread": [], "bid": "", "left": "", "unread": None, "lost": ()}
    file = next(reversed(desk.scans.files()), None)
    known = _known_of(desk, file) if file else {"one": None}
    return page(
        desk, "buying", 400 if given.why else 200, given=given.form, why=given.why,
        currency=desk.settings.currency, **(blank | known | given.shown),
    )  # fmt: skip


def _known_of(desk: Desk, file: Waiting) -> dict[str, Any]:
    """Return what the page shows of the scan: its card, the cars it is of, and make and model where they are known."""
    from pipelines.batch.appraisal import cars_in
    from pipelines.desk.look import look, read_whole
    from pipelines.desk.unread import unread_in

    with desk.turn():
        one = card_of(desk.workspace, file, bought=desk.today())
        seen = look(desk.workspace, file, desk.today())
        models = known_models(desk)
    fits = seen.ready and one["table"] == "scans"
    reading = read_whole(desk.workspace, seen) if fits else None
    unread = unread_in(seen, reading) if reading else None
    if unread is not None and unread.lines:
        one |= {"whole": False, "account": "", "rejects": []}
    cars = cars_in(reading) if reading else []
    make, model = told_of(file.path, reading, models) if reading else ("", "")
    return {
        "one": one,
        "fits": fits,
        "unread": unread,
        "cars": cars if len(cars) > 1 else [],
        "make": make,
        "model": model,
        "makes": sorted({row["make"] for row in models if row["make"]}),
        "models": sorted({row["model"] for row in models if row["model"]}),
    }


def drop(desk: Desk, _asked: Asked) -> Response:
    """Forget the scan."""
    with desk.turn():
        desk.scans.clear()
    return RedirectResponse("/buying", 303)


def answer(desk: Desk, asked: Asked) -> Response:
    """Take what was answered about the scan, as on the page of files."""
    with desk.turn():
        file = chosen(desk.workspace, desk.scans, asked, desk.today())
    if asked.part == "card":
        return piece(desk, "card", one=card_of(desk.workspace, file, bought=desk.today()))
    return RedirectResponse("/buying", 303)


def appraise(desk: Desk, asked: Asked) -> Response:
    """Work out what clearing the car costs; nothing is loaded."""
    from pipelines.batch.appraisal import appraisal
    from pipelines.desk.look import look, read_whole
    from pipelines.desk.unread import unread_in

    form = asked.form
    try:
        file = desk.scans.get(form["mark"])
        asking, worth = (_money(form[name], desk.settings) for name in ("asking", "worth"))
        limit = worth - asking if worth is not None and asking is not None and worth > asking else None
        with desk.turn():
            seen = look(desk.workspace, file, desk.today())
            if not seen.ready:
                raise BatchError(say.NOT_READ_YET)
            table = seen.found.table or "scans"
            if table != "scans":
                raise BatchError(say.no_scan(HOLDS[table]))
            whole = read_whole(desk.workspace, seen)
            unread = unread_in(seen, whole)
            if unread.lines and not form["agree"]:
                raise BatchError(say.not_whole(unread.read, unread.codes))
            reading = _of_car(whole, form["car"])
            make, model = form["make"] or None, form["model"] or None
            found = appraisal(desk.workspace, file.path, make, model, limit, read=reading)
    except BatchError as error:
        worked = Worked(form, str(error).replace(f"{desk.scans.folder / form['mark']}{os.sep}", ""))
    else:
        bids = _bids(desk, found, asking, worth)
        sections = [one for one in found.sections if one is not found.cost]
        worked = Worked(form, shown={"sections": sections, "lost": unread.lines, **bids})
    return RedirectResponse(f"/buying?kept={desk.keep(worked)}", 303)


def _of_car(reading: Reading, car: str) -> Reading:
    """Return the rows of one car of a file; of all where none was chosen."""
    import polars as pl

    if not car:
        return reading
    return replace(reading, rows=reading.rows.filter(pl.coalesce("vehicle", "vin") == car))


def _money(text: str, settings: Settings) -> float | None:
    """Read the price of a whole car: 4.000 and 4,000 are thousands."""
    whole = _THOUSANDS.sub("", text) if _WHOLE.match(text) else text
    return typed_money(whole, settings, say.NO_MONEY, say.NOT_WORKED_OUT)


def _bids(desk: Desk, found: Told, asking: float | None, worth: float | None) -> dict[str, Any]:
    """Return the spread of the costs, the highest sensible bid, and what is left at the asking price.

    Each total stands once, beside the share of such cars that it is enough for, and the bid rests on one of them.
    """
    from analysis.diagnosis.decision.appraisal import chance_above, quantile

    money: Callable[[float], str] = desk.settings.formatter.round_money
    costs = {share: quantile(found.costs, share) for share in _SHARES}
    enough = {cost: 1 - chance_above(found.costs, cost) for cost in costs.values()}
    most = max(costs.values()) or 1
    spread = [
        {"of": percent(share), "cost": money(cost / 100), "part": round(cost / most, 3)}
        for cost, share in enough.items()
    ]
    half, worst = costs[0.5] / 100, costs[0.9] / 100
    bears = None if worth is None else max(worth - worst, 0)
    capped = bears is not None and asking is not None and bears > asking
    lines = [line for section in found.sections for line in section.lines if line.startswith(NO_LABOUR)]
    return {
        "spread": spread,
        "about": found.cost,
        "bid": "" if bears is None else money(asking if capped and asking is not None else bears),
        "capped": say.at_most_asked(money(bears)) if capped and bears is not None else "",
        "no_labour": say.without_labour(lines[0]) if lines else "",
        "why_bid": say.why_bid(money(worst), enough[costs[0.9]]),
        "left": "" if worth is None or asking is None else money(worth - asking - half),
        "of_left": say.left_in(enough[costs[0.5]]),
    }
