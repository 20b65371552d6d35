"""Jobs: a car with its open codes in words, the work that its sheet proposed to tick, other work to add, how it ended.

What becomes of it is the file in the inbox that ``log`` writes, by the same function.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from starlette.responses import RedirectResponse, Response

from analysis.texts import desk_job_text as say
from analysis.texts.action_text import work
from pipelines.desk.desk import Desk
from pipelines.desk.forms import Form
from pipelines.desk.question import Asked
from pipelines.desk.render import page
from pipelines.errors import BatchError, known_as

if TYPE_CHECKING:
    from pipelines.report.job_entry import Known
    from pipelines.settings import Settings
    from pipelines.storage.warehouse import Warehouse

_BLANK_ROWS = 2
_MOST_ROWS = 40
_CARS_SHOWN = 60
_TOLD = ("position", "supplier", "part_cost", "labour_minutes")


@dataclass
class Row:
    """One piece of work on the form.

    Attributes:
        mark: What its fields' names end with.
        cells: What stands in them, by column.
        ticked: It was done.
        words: What the sheet proposes; blank for work that is added.
        book: What the price book says of it.
        caution: What to mind at this work.
        offers: Known parts that may be meant.
        last: It is to be told as last time.
    """

    mark: str
    cells: dict[str, str] = field(default_factory=dict)
    ticked: bool = False
    words: str = ""
    book: str = ""
    caution: str = ""
    offers: list[str] = field(default_factory=list)
    last: bool = False


def show(desk: Desk, asked: Asked) -> Response:
    """Show the cars, or one car with the form for its job."""
    return _page(desk, asked.query.get("vehicle", "").strip(), Form([]))


def _page(
    desk: Desk, vehicle: str, form: Form, why: str = "", offered: Mapping[str, list[str]] | None = None
) -> Response:
    from pipelines.report.job_entry import ACTIONS

    with desk.turn():
        known = _known(desk, vehicle)
    vehicle = known_as(vehicle, known.vehicles)
    cars, codes, rows, parts = _facts(desk, vehicle)
    blank = dict.fromkeys(("action", "part", *_TOLD), "")
    rows = rows + [Row(f"a{place}", dict(blank)) for place in range(max(_BLANK_ROWS, _added(form)))]
    for row in rows:
        _fill(row, form, known, offered or {})
    return page(
        desk, "jobs", 400 if why else 200, vehicle=vehicle, known=known, cars=cars, codes=codes, rows=rows, parts=parts,
        actions=[action for action in ACTIONS if action != "erase"], why=why, given=form,
        today=form["done_at"] or desk.today().isoformat(), unit=desk.settings.odometer_unit,
    )  # fmt: skip


def _known(desk: Desk, vehicle: str) -> Known:
    from pipelines.report.job_entry import known_names

    return known_names(desk.workspace, vehicle)


def _added(form: Form) -> int:
    return min(sum(bool(value) for key, value in form.under("parta").items()) + 2, _MOST_ROWS)


def _fill(row: Row, form: Form, known: Known, offered: Mapping[str, list[str]]) -> None:
    """Put what was typed back into a row."""
    if not form["vehicle"]:
        return
    for column in ("action", "part", *_TOLD):
        row.cells[column] = form[f"{column}{row.mark}"]
    row.ticked, row.last = bool(form[f"tick{row.mark}"]), bool(form[f"last{row.mark}"])
    row.offers = offered.get(row.mark, [])


def _facts(desk: Desk, vehicle: str) -> tuple[list[dict[str, Any]], list[dict[str, str]], list[Row], list[Any]]:
    """Return the cars with open codes, this car's codes, the work that its sheet proposes, and the parts."""
    if not desk.workspace.database.exists():
        return [], [], [], []
    with desk.looking() as warehouse:
        if not warehouse.columns("marts.open_codes"):
            return [], [], [], []
        stock, open_codes = warehouse.fetch("marts.stock"), warehouse.fetch("marts.open_codes")
        texts = dict(warehouse.fetch("marts.codes").select("code", "text").iter_rows())
        prices = {row["part"]: row for row in warehouse.fetch("marts.parts").to_dicts()}
        proposed = _proposed(warehouse, vehicle)
    formatter = desk.settings.formatter
    counted = dict(open_codes.group_by("vehicle").len().iter_rows())
    named = {row["vehicle"]: " ".join(filter(None, (row["make"], row["model"]))) for row in stock.to_dicts()}
    cars = [{"vehicle": car, "car": named.get(car, ""), "codes": counted[car]} for car in sorted(counted)]
    codes = [
        {
            "code": row["code"],
            "text": texts.get(row["code"]) or "",
            "seen": say.seen(formatter.day(row["last_seen"]), row["status"]),
            "why": f"{say.LOOKED_PAST}: {row['background']}" if row["background"] else "",
        }
        for row in open_codes.sort("code").to_dicts()
        if row["vehicle"] == vehicle
    ]
    parts = [
        {"part": part, "cost": _units(row["part_cents"]), "minutes": _plain(row["labour_minutes"])}
        for part, row in sorted(prices.items())
    ]
    return cars[:_CARS_SHOWN], codes, [_sheet_row(place, row, prices, formatter) for place, row in proposed], parts


def _proposed(warehouse: Warehouse, vehicle: str) -> list[tuple[int, dict[str, Any]]]:
    from pipelines.storage.model_store import ModelStore

    run = ModelStore(warehouse).latest()
    if run is None or "shortlist" not in run.tables:
        return []
    rows = run.tables["shortlist"].sort("rank").to_dicts()
    mine = [row for row in rows if row["vehicle"] == vehicle and row["action"] in ("replace", "repair")]
    return list(enumerate(mine))


def _sheet_row(place: int, row: dict[str, Any], prices: Mapping[str, dict[str, Any]], formatter: Any) -> Row:
    book = prices.get(row["part"] or "", {})
    cents, minutes = book.get("part_cents"), book.get("labour_minutes")
    cells = {
        "action": row["action"],
        "part": row["part"] or "",
        "position": row["position"] or "",
        "supplier": "",
        "part_cost": _units(cents),
        "labour_minutes": _plain(minutes),
    }
    told = (
        say.from_book(formatter.money(cents / 100))
        if cents is not None and book.get("price_source") == "price book"
        else ""
    )
    what = work(row["action"], row["part"], row["position"])
    return Row(f"p{place}", cells, words=what, book=told, caution=row["caution"] or "")


def _units(cents: int | None) -> str:
    return "" if cents is None else f"{cents / 100:.2f}".removesuffix(".00")


def _plain(number: float | None) -> str:
    return "" if number is None else f"{number:g}"


def log(desk: Desk, asked: Asked) -> Response:
    """Write the job into the inbox, as ``log`` does; what is wrong with it is said beside what was typed."""
    from pipelines.report import job_entry

    form = asked.form
    offered: dict[str, list[str]] = {}
    vehicle, settings = form["vehicle"], desk.settings
    try:
        if not vehicle:
            raise BatchError(say.NO_CAR)
        with desk.turn():
            known = job_entry.known_names(desk.workspace, vehicle)
            vehicle = known_as(vehicle, known.vehicles)
            if not form["new"]:
                job_entry.check_vehicle(vehicle, known)
            about = {"vehicle": vehicle, "job": form["job"]}
            for column in ("done_at", "odometer"):
                about[column] = job_entry.spelled(column, form[column], settings)
            about["done_at"] = about["done_at"] or desk.today().isoformat()
            rows = _rows(form, known, settings, offered)
            with desk.workspace.lock():
                told = {name: text for name, text in about.items() if text}
                path = job_entry.write_job(desk.workspace, settings, told, rows, known)
    except BatchError as error:
        return _page(desk, vehicle, form, str(error), offered)
    desk.tell(say.written(vehicle, f"{path.parent.name}/{path.name}"))
    if not form["scanned"]:
        desk.tell(say.SCAN_AGAIN, good=False)
    return RedirectResponse("/jobs", 303)


def _rows(form: Form, known: Known, settings: Settings, offered: dict[str, list[str]]) -> list[dict[str, str]]:
    """Return the pieces of work that were ticked or added, each cell in the layout's spelling.

    Raises:
        BatchError: A cell is not what its column asks for, or a part is not known and was not said to be meant.
    """
    from analysis.vocabulary.parts import part_key
    from pipelines.report.job_entry import offers, spelled

    made = []
    marks = [mark for mark in form.under("tick") if form[f"tick{mark}"]]
    marks += [f"a{mark}" for mark, part in form.under("parta").items() if part or form[f"actiona{mark}"] == "software"]
    unknown = []
    for mark in marks[:_MOST_ROWS]:
        row = {column: form[f"{column}{mark}"] for column in ("action", "part", *_TOLD)}
        row["part"] = form[f"meant{mark}"] or row["part"]
        near = offers(row["part"], known.parts)
        same = [name for name in near if part_key(name) == part_key(row["part"])]
        row["part"] = same[0] if same else row["part"]
        if row["part"] and known.parts and not same and not form[f"meant{mark}"] and not form["new"]:
            offered[mark] = near or [row["part"]]
            unknown.append(row["part"])
        if form[f"last{mark}"]:
            last = known.last.get(row["part"], {})
            row |= {column: last[column] for column in last if not row.get(column)}
        made.append({column: spelled(column, text, settings) for column, text in row.items() if text})
    if unknown:
        raise BatchError(" ".join(map(say.unknown_part, unknown)))
    driven = say.ROAD_NOTE if form["road_test"] else say.NO_ROAD_NOTE
    if form["erased"]:
        made.append({"action": "erase", "note": driven})
    if form["note"] and made:
        made[0]["note"] = "; ".join(filter(None, (form["note"], made[0].get("note"))))
    return made
