"""What is fitted to a car and sets codes by itself: said on the page of codes to leave alone, taken out there again."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from starlette.responses import RedirectResponse, Response

from analysis.texts import desk_own_text as say
from pipelines.desk.desk import Desk
from pipelines.desk.question import Asked
from pipelines.errors import BatchError

if TYPE_CHECKING:
    from pipelines.batch.equipment import CarCode


def shown(desk: Desk, typed: str) -> dict[str, Any]:
    """Return what the page shows: what cars were said to have, and the open codes of one car.

    Args:
        desk: The open desk.
        typed: The car's stock number, plate or vehicle number; blank for none.
    """
    from pipelines.batch.equipment import said
    from pipelines.report.job_entry import known_names

    with desk.turn():
        known = known_names(desk.workspace, typed)
    vehicle = known.car_meant(typed) if typed else ""
    return {
        "said": said(desk.workspace),
        "vehicle": vehicle,
        "vehicles": [*known.vehicles, *known.names],
        "codes": _codes(desk, vehicle) if vehicle else [],
    }


def _codes(desk: Desk, vehicle: str) -> list[CarCode]:
    from pipelines.batch.equipment import codes_of

    if not desk.workspace.database.exists():
        return []
    with desk.looking() as warehouse:
        return codes_of(desk.workspace, warehouse, vehicle)


def declare(desk: Desk, asked: Asked) -> Response:
    """Take the dealer's word on what a car has.

    Raises:
        BatchError: The car, or what it has, is not told; a code cannot be left alone.
    """
    from pipelines.batch import equipment
    from pipelines.report.job_entry import check_vehicle, known_names

    has = asked.form["has"] or asked.form["own"]
    with desk.turn():
        known = known_names(desk.workspace, asked.form["vehicle"])
        vehicle = known.car_meant(asked.form["vehicle"])
        if not vehicle or not has:
            raise BatchError(say.NO_EQUIPMENT)
        check_vehicle(vehicle, known)
        there = _codes(desk, vehicle)
        ticked = asked.form.all("code")
        if not ticked and not equipment.known_equipment(has):
            raise BatchError(say.NO_CODES_TICKED)
        with desk.workspace.lock():
            equipment.declare(desk.workspace, vehicle, has, ticked, there)
    desk.tell(say.fitted_now(vehicle, has))
    return RedirectResponse(f"/standing?{urlencode({'vehicle': vehicle})}#fitted", 303)


def take_out(desk: Desk, asked: Asked) -> Response:
    """Take out what a car was said to have.

    Raises:
        BatchError: That was not said.
    """
    from pipelines.batch.equipment import said
    from pipelines.ingest.own_words import take_equipment

    vehicle, has = asked.form["vehicle"], asked.form["has"]
    with desk.turn(), desk.workspace.lock():
        if (vehicle, has) not in {(one.vehicle, one.has) for one in said(desk.workspace)}:
            raise BatchError(say.NOT_FITTED)
        take_equipment(desk.workspace.root, vehicle, has)
    desk.tell(say.unfitted(vehicle, has))
    return RedirectResponse("/standing#fitted", 303)
