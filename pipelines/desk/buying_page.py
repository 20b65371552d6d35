"""Before buying: a scan, make, model and price in; what clearing the car costs and the highest sensible bid out.

The reckoning is ``appraise``'s; here only the bid is set beside it: what the car is worth without these faults, less
what clearing them costs in nine of ten such cases.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from starlette.responses import RedirectResponse, Response

from analysis.texts import desk_week_text as say
from pipelines.desk.desk import Desk
from pipelines.desk.forms import Form
from pipelines.desk.question import Asked
from pipelines.desk.render import page
from pipelines.errors import BatchError, UnansweredError

if TYPE_CHECKING:
    from pipelines.batch.appraisal import Told
    from pipelines.settings import Settings

_SHARES = (0.1, 0.25, 0.5, 0.75, 0.9)


@dataclass(frozen=True)
class Worked:
    """What was typed, and what came of it: why nothing was worked out, or what the page shows."""

    form: Form
    why: str = ""
    shown: dict[str, Any] = field(default_factory=dict)


def show(desk: Desk, asked: Asked) -> Response:
    """Ask for the scan, then for what is known of the car; show what was worked out of it."""
    kept = desk.kept(asked.query.get("kept", ""))
    given = kept if isinstance(kept, Worked) else Worked(Form([]))
    blank: dict[str, Any] = {"sections": [], "spread": [], "bid": "", "left": ""}
    return page(
        desk, "buying", 400 if given.why else 200, files=desk.scans.files(), given=given.form, why=given.why,
        currency=desk.settings.currency, **(blank | given.shown),
    )  # fmt: skip


def drop(desk: Desk, _asked: Asked) -> Response:
    """Forget the scan."""
    with desk.turn():
        desk.scans.clear()
    return RedirectResponse("/buying", 303)


def appraise(desk: Desk, asked: Asked) -> Response:
    """Work out what clearing the car costs; nothing is loaded."""
    from pipelines.batch.appraisal import appraisal

    form = asked.form
    try:
        file = desk.scans.get(form["mark"])
        asking, worth = (_money(form[name], desk.settings) for name in ("asking", "worth"))
        limit = worth - asking if worth is not None and asking is not None and worth > asking else None
        with desk.turn():
            found = appraisal(desk.workspace, file.path, form["make"] or None, form["model"] or None, limit)
    except BatchError as error:
        worked = Worked(form, str(error).replace(str(desk.scans.folder), ""))
    else:
        worked = Worked(form, shown={"sections": found.sections, **_bids(desk, found, asking, worth)})
    return RedirectResponse(f"/buying?kept={desk.keep(worked)}", 303)


def _money(text: str, settings: Settings) -> float | None:
    """Read money by the same rule as the price of a job's part."""
    from pipelines.report.job_entry import spelled

    try:
        told = spelled("part_cost", text, settings)
    except BatchError as error:
        two_ways = isinstance(error.__cause__, UnansweredError)
        raise BatchError(f"{error} {say.NOT_WORKED_OUT}" if two_ways else say.NO_MONEY) from error
    return float(told) if told else None


def _bids(desk: Desk, found: Told, asking: float | None, worth: float | None) -> dict[str, Any]:
    """Return the spread of the costs, the highest sensible bid, and what is left at the asking price."""
    from analysis.diagnosis.decision.appraisal import quantile

    money: Callable[[float], str] = desk.settings.formatter.round_money
    costs = {share: quantile(found.costs, share) / 100 for share in _SHARES}
    most = max(costs.values()) or 1
    spread = [
        {"of": say.SHARES[share], "cost": money(cost), "part": round(cost / most, 3)} for share, cost in costs.items()
    ]
    bid = "" if worth is None else money(max(worth - costs[0.9], 0))
    left = "" if worth is None or asking is None else money(worth - asking - costs[0.5])
    return {"spread": spread, "bid": bid, "left": left}
