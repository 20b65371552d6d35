"""Jobs: a car with its open codes in words, the work that its sheet proposed to tick, other work to add, how it ended.

What becomes of it is the file in the inbox that ``log`` writes, by the same function; until a run reads it, it can be
taken back.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar
from urllib.parse import urlencode

from starlette.responses import RedirectResponse, Response

from analysis.texts import desk_job_text as say
from analysis.texts.action_text import work
from pipelines.desk.desk import Desk
from pipelines.desk.forms import Form
from pipelines.desk.question import Asked
from pipelines.desk.render import page
from pipelines.errors import BatchError, BusyError, near

if TYPE_CHECKING:
    from pipelines.report.job_entry import Known
    from pipelines.settings import Settings

T = TypeVar("T")
RECHECK = "recheck"
_DONE = ("replace", "repair")
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
        kind: ``part`` for work with a part, ``recheck``, or ``told`` for what the sheet says and nobody ticks.
    """

    mark: str
    cells: dict[str, str] = field(default_factory=dict)
    ticked: bool = False
    words: str = ""
    book: str = ""
    caution: str = ""
    offers: list[str] = field(default_factory=list)
    last: bool = False
    kind: str = "part"


@dataclass(frozen=True)
class Wrong:
    """A form that was not taken: what was typed, all that is wrong with it, the parts that may be meant, new or not."""

    form: Form
    why: list[str]
    offered: Mapping[str, list[str]]
    asks_new: bool = False


def show(desk: Desk, asked: Asked) -> Response:
    """Show the cars, or one car with the form for its job; where it was not taken, with what is wrong with it."""
    from pipelines.report.job_entry import ACTIONS

    kept = desk.kept(asked.query.get("kept", ""))
    wrong = kept if isinstance(kept, Wrong) else Wrong(Form([]), [], {})
    vehicle, form = asked.query.get("vehicle", "").strip(), wrong.form
    with desk.turn():
        known = _known(desk, vehicle)
    vehicle = known.car_meant(vehicle)
    facts = _facts(desk, vehicle)
    blank = dict.fromkeys(("action", "part", *_TOLD), "")
    rows = facts.rows + [Row(f"a{place}", dict(blank)) for place in range(max(_BLANK_ROWS, _added(form)))]
    for row in rows:
        _fill(row, form, known, wrong.offered)
    return page(
        desk, "jobs", 400 if wrong.why else 200, vehicle=vehicle, known=known, cars=facts.cars, codes=facts.codes,
        rows=rows, parts=facts.parts, week=facts.week, waiting=waiting_jobs(desk.workspace.inbox),
        actions=[action for action in ACTIONS if action != "erase"], why=wrong.why, given=form, asks_new=wrong.asks_new,
        today=form["done_at"] or desk.today().isoformat(), latest=desk.today().isoformat(),
        unit=desk.settings.odometer_unit, stranger=_stranger(vehicle, known),
    )  # fmt: skip


def _stranger(vehicle: str, known: Known) -> str:
    """Say that nothing names a car, and what is near it; blank where it is known or nothing is."""
    if not vehicle or not known.vehicles or vehicle in known.vehicles:
        return ""
    return say.no_such_car(vehicle, near(vehicle, [*known.vehicles, *known.names]))


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


@dataclass
class Facts:
    """What the last run says: cars with open codes, this car's codes, the work that its sheet proposes, the parts."""

    cars: list[dict[str, Any]] = field(default_factory=list)
    codes: list[dict[str, str]] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    parts: list[Any] = field(default_factory=list)
    week: str = ""


def _facts(desk: Desk, vehicle: str) -> Facts:
    """Return what the report of the last run says; where no run is kept, what was built of the rows."""
    from pipelines.storage.model_store import ModelStore

    if not desk.workspace.database.exists():
        return Facts()
    with desk.looking() as warehouse:
        if not warehouse.columns("marts.open_codes"):
            return Facts()
        run = ModelStore(warehouse).latest()
        tables = run.tables if run else {}
        built = tables.get("open_codes")
        open_codes = warehouse.fetch("marts.open_codes") if built is None else built
        stock = warehouse.fetch("marts.stock")
        texts = dict(warehouse.fetch("marts.codes").select("code", "text").iter_rows())
        prices = {row["part"]: row for row in warehouse.fetch("marts.parts").to_dicts()}
    formatter = desk.settings.formatter
    counted = dict(open_codes.group_by("vehicle").len().iter_rows())
    named = {row["vehicle"]: " ".join(filter(None, (row["make"], row["model"]))) for row in stock.to_dicts()}
    listed = tables["shortlist"].sort("rank").to_dicts() if "shortlist" in tables else []
    first = {row["vehicle"]: work(row["action"], row["part"], row["position"]) for row in reversed(listed)}
    cars = [
        {"vehicle": car, "car": named.get(car, ""), "codes": counted[car], "do": first.get(car, "")}
        for car in sorted(counted)
    ]
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
    mine = [row for row in listed if row["vehicle"] == vehicle]
    rows = [_sheet_row(place, row, prices, formatter) for place, row in enumerate(mine)]
    return Facts(cars[:_CARS_SHOWN], codes, rows, parts, run.week if run else "")


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
    kind = "part" if row["action"] in _DONE else RECHECK if row["action"] == RECHECK else "told"
    return Row(f"p{place}", cells, words=what, book=told, caution=row["caution"] or "", kind=kind)


def _units(cents: int | None) -> str:
    return "" if cents is None else f"{cents / 100:.2f}".removesuffix(".00")


def _plain(number: float | None) -> str:
    return "" if number is None else f"{number:g}"


def log(desk: Desk, asked: Asked) -> Response:
    """Write the job into the inbox, as ``log`` does; all that is wrong with it is said beside what was typed."""
    from pipelines.report import job_entry

    form, settings, why = asked.form, desk.settings, Complaints()
    offered: dict[str, list[str]] = {}
    vehicle, today = form["vehicle"], desk.today().isoformat()
    with desk.turn():
        known = job_entry.known_names(desk.workspace, vehicle)
        vehicle = known.car_meant(vehicle)
        if not vehicle:
            why.add(say.NO_CAR)
        elif not form["new"]:
            why.of(lambda: job_entry.check_vehicle(vehicle, known))
        about = {"vehicle": vehicle, "job": form["job"]}
        about["done_at"] = why.spelled("done_at", form["done_at"], settings)
        about["odometer"] = why.odometer(form["odometer"], known, settings)
        about["done_at"] = about["done_at"] or today
        if about["done_at"][: len(today)] > today:
            why.add(say.AHEAD)
        rows = _rows(form, known, settings, offered, why)
        if not rows:
            why.add(say.NO_WORK)
        if not why.said:
            told = {name: text for name, text in about.items() if text}
            with desk.workspace.lock():
                path = why.of(lambda: job_entry.write_job(desk.workspace, settings, told, rows, known))
                written = f"{path.parent.name}/{path.name}" if path else ""
    if why.said:
        asks_new = bool(offered or form["new"] or _stranger(vehicle, known))
        mark = desk.keep(Wrong(form, [*why.said, say.NOTHING_WRITTEN], offered, asks_new))
        return RedirectResponse(f"/jobs?{urlencode({'vehicle': vehicle, 'kept': mark})}", 303)
    desk.tell(say.written(vehicle, written))
    desk.tell(say.DROP_SCAN if form["scanned"] else say.SCAN_AGAIN, good=False)
    return RedirectResponse("/jobs", 303)


class Complaints:
    """All that is wrong with a form, each said once, in plain words."""

    def __init__(self) -> None:
        """Begin with nothing."""
        self.said: list[str] = []

    def add(self, why: str) -> None:
        """Say one thing more."""
        if why not in self.said:
            self.said.append(why)

    def of(self, what: Callable[[], T]) -> T | None:
        """Call something; what it refuses is said."""
        try:
            return what()
        except BusyError:
            raise
        except BatchError as error:
            self.add(say.plainly(str(error)))
            return None

    def spelled(self, column: str, text: str, settings: Settings, of: str = "") -> str:
        """Return a cell in the layout's spelling, blank where it is refused."""
        from pipelines.report.job_entry import spelled

        return self._cell(column, lambda: spelled(column, text, settings), of)

    def odometer(self, text: str, known: Known, settings: Settings) -> str:
        """Return an odometer in the layout's spelling, by how far the car had run; blank where it is refused."""
        from pipelines.report.job_entry import spelled_odometer

        return self._cell("odometer", lambda: spelled_odometer(text, known, settings))

    def _cell(self, column: str, read: Callable[[], str], of: str = "") -> str:
        try:
            return read()
        except BatchError as error:
            self.add(say.of_field(column, str(error), of))
            return ""


def _rows(
    form: Form, known: Known, settings: Settings, offered: dict[str, list[str]], why: Complaints
) -> list[dict[str, str]]:
    """Return the pieces of work that were ticked or added, each cell in the layout's spelling.

    What is not what its column asks for, and a part that is not known and was not said to be meant, is said in ``why``.
    """
    from analysis.vocabulary.parts import part_key
    from pipelines.report.job_entry import offers

    made = []
    ticked = [mark for mark in form.under("tick") if form[f"tick{mark}"]]
    marks = [mark for mark in ticked if form[f"action{mark}"] != RECHECK]
    marks += [f"a{mark}" for mark, part in form.under("parta").items() if part or form[f"actiona{mark}"] == "software"]
    for mark in marks[:_MOST_ROWS]:
        row = {column: form[f"{column}{mark}"] for column in ("action", "part", *_TOLD)}
        row["part"] = form[f"meant{mark}"] or row["part"]
        near = offers(row["part"], known.parts)
        same = [name for name in near if part_key(name) == part_key(row["part"])]
        row["part"] = same[0] if same else row["part"]
        if row["part"] and known.parts and not same and not form[f"meant{mark}"] and not form["new"]:
            offered[mark] = near or [row["part"]]
            why.add(say.unknown_part(row["part"]))
        if form[f"last{mark}"]:
            last = known.last.get(row["part"], {})
            row |= {column: last[column] for column in last if not row.get(column)}
        part = row["part"]
        made.append({column: why.spelled(column, text, settings, part) for column, text in row.items() if text})
    if form["erased"] or len(marks) < len(ticked):
        made.append({"action": "erase", "note": say.ROAD_NOTE if form["road_test"] else say.NO_ROAD_NOTE})
    if form["note"] and made:
        made[0]["note"] = "; ".join(filter(None, (form["note"], made[0].get("note"))))
    return made


def take_back(desk: Desk, asked: Asked) -> Response:
    """Take a job back that is logged and not read yet: its file goes where refused ones are kept."""
    from pipelines.reading.layouts import LAYOUTS
    from pipelines.storage.file_archive import content_hash, set_aside

    with desk.turn(), desk.workspace.lock():
        folder = desk.workspace.inbox / "repairs"
        if asked.form["file"] not in {job["file"] for job in waiting_jobs(desk.workspace.inbox)}:
            raise BatchError(say.NOT_WAITING)
        path = folder / asked.form["file"]
        set_aside(desk.workspace, LAYOUTS["repairs"], path, content_hash(path), say.TAKEN_BACK_WHY)
    desk.tell(say.taken_back(asked.form["file"]))
    return RedirectResponse("/jobs", 303)


def waiting_jobs(inbox: Path) -> list[dict[str, str]]:
    """Return the logged jobs that no run has read yet.

    Args:
        inbox: The inbox.

    Returns:
        file, vehicle, day and what was done of each, by the file's name.
    """
    found = []
    for path in sorted((inbox / "repairs").glob("job-*.csv")):
        try:
            with path.open(encoding="utf-8", newline="") as handle:
                rows = list(csv.DictReader(handle))
        except (OSError, ValueError, csv.Error):
            continue
        if not rows:
            continue
        done = [say.did(row.get("action") or "", row.get("part") or "") for row in rows]
        first = {"vehicle": rows[0].get("vehicle") or "", "day": (rows[0].get("done_at") or "")[:10]}
        found.append({"file": path.name, **first, "did": ", ".join(done)})
    return found
