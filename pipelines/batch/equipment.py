"""What the dealer says is fitted to a car: its codes are left alone from the next weekly run on.

Equipment that the shipped table knows brings its codes along; of anything else the dealer names them.  Codes of
brakes, steering, restraint and high voltage are never among those that are named: their warning has to be gone
whatever sets it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.diagnosis.decision.safety import Adviser, OpenCode
from pipelines.errors import BatchError
from pipelines.ingest.own_words import EQUIPMENT, read_own, say_equipment
from pipelines.settings import load_settings
from pipelines.storage.sql_models import reference_table
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace

_OPEN = """
select open.code, open.module, coalesce(codes.text, '') as text, coalesce(open.background, '') as reason
from marts.open_codes as open left join marts.codes as codes using (code)
where open.vehicle = $vehicle order by all
"""


@dataclass(frozen=True)
class Fitted:
    """What a car was said to have.

    Attributes:
        vehicle: Stock number.
        has: What it has.
        codes: The codes that were said to come of it; none: those that are known to.
    """

    vehicle: str
    has: str
    codes: tuple[str, ...] = ()


@dataclass(frozen=True)
class CarCode:
    """An open code of a car.

    Attributes:
        code: Its key.
        text: What it says; may be blank.
        reason: Why it is left alone already; blank where it is not.
        may_go: It may be left alone by the dealer's word.
    """

    code: str
    text: str
    reason: str
    may_go: bool


def known_equipment(has: str) -> bool:
    """Say whether codes are known to come of something."""
    return any(keyword in has.lower() for keyword in reference_table("modifications")["keyword"])


def said(workspace: Workspace) -> list[Fitted]:
    """Return what cars were said to have, by car."""
    rows, _ = read_own(workspace.root / EQUIPMENT)
    found = (Fitted(row["vehicle"], row["has"], tuple(filter(None, row["codes"].split(";")))) for row in rows)
    return sorted(found, key=lambda one: (one.vehicle, one.has))


def codes_of(workspace: Workspace, warehouse: Warehouse, vehicle: str) -> list[CarCode]:
    """Return the open codes of a car, as far as the last run knows."""
    if not warehouse.columns("marts.open_codes"):
        return []
    country = load_settings(workspace.settings_file).country
    cautions, first_checks, inspection = map(reference_table, ("cautions", "first_checks", "inspection"))
    adviser = Adviser(cautions, first_checks, inspection, country)
    rows = warehouse.query(_OPEN, {"vehicle": vehicle}).iter_rows()
    return [CarCode(code, text, why, not adviser.grave(OpenCode(module, code))) for code, module, text, why in rows]


def declare(workspace: Workspace, vehicle: str, has: str, ticked: Sequence[str], there: Sequence[CarCode]) -> None:
    """Write down what a car has.

    Args:
        workspace: Where the dealer's own words stand.
        vehicle: Stock number.
        has: What it has.
        ticked: The codes that come of it; needed where none are known to.
        there: The open codes of the car.

    Raises:
        BatchError: A code is not open on the car, or may not be left alone; or none is told and none is known.
    """
    wrong = [code for code in ticked if code not in {one.code for one in there if one.may_go}]
    if wrong:
        raise BatchError(
            f"{vehicle}: {', '.join(wrong)} cannot be left alone on this car: it is not open on it, or it is of "
            "brakes, steering, airbags or high voltage, whose warning has to go. Nothing was changed."
        )
    if not ticked and not known_equipment(has):
        raise BatchError(
            f"{vehicle}: nothing tells which codes come of {has!r}; expected the codes beside it. Nothing was changed."
        )
    say_equipment(workspace.root, vehicle, has, ticked)
