"""Enter a job from the terminal: what was done to a car, written as a file for the inbox.

Each piece of work is one row of the repairs layout, asked for or given in words.  An
answer is checked as it is given, dates and numbers may be written as the dealer writes
them, and a car or part that nobody knows is asked about.
The layout's own checks judge the rows before anything is written, and a file
that is there is never written over.
"""

from __future__ import annotations

import csv
import difflib
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

import polars as pl

from analysis.vocabulary.parts import part_key
from pipelines.errors import BatchError, UnansweredError, known_as, near, plain_name
from pipelines.file_names import sheet_names
from pipelines.reading.checks import check_cells
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.tabular.dialect import in_our_spelling
from pipelines.settings import Settings
from pipelines.storage.session import reading
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace

_LAYOUT = LAYOUTS["repairs"]
COLUMNS = [column.name for column in _LAYOUT.columns]
ACTIONS = next(column.values for column in _LAYOUT.columns if column.name == "action")
# What can be told of one piece of work; the other columns are the same for the whole job.
WORK = ("action", "part", "position", "supplier", "part_cost", "labour_minutes", "note")
_ASKED_OF_PARTS = ("position", "supplier", "part_cost", "labour_minutes")
_PARTS = """
select part as name from raw.parts where part is not null
union select part from raw.repairs where part is not null order by 1
"""
_SUPPLIERS = "select distinct supplier as name from raw.repairs where supplier is not null order by 1"
_JOBS = "select distinct job as name from raw.repairs where vehicle = $vehicle order by 1"
_VEHICLES = """
select vehicle as name from raw.stock where vehicle is not null
union select vehicle from raw.scans where vehicle is not null order by 1
"""
_NAMES = "select distinct vehicle, vin, plate from raw.stock where vehicle is not null order by all"
_POSITIONS = "select distinct position as name from raw.repairs where position is not null order by 1"
_LAST = """
select part, max_by(supplier, done_at) as supplier, max_by(part_cost, done_at) as part_cost,
    max_by(labour_minutes, done_at) as labour_minutes
from raw.repairs where part is not null group by part order by part
"""
_CAR = "select max_by(make, row) as make, max_by(model, row) as model from raw.stock where vehicle = $vehicle"
_RUN = "select max(odometer) as odometer from marts.stock_details where vehicle = $vehicle"
_OPEN = "select module || ':' || code as name from marts.open_codes where vehicle = $vehicle order by 1"
MOST_OFFERED = 8
_LIKENESS = 0.7
_NUMBERS = ("part_cost", "labour_minutes", "odometer")
_MINUTES = re.compile(r"(?i)\bmin(ute)?s?\b\.?")
_TWO_WAYS = re.compile(r"\d{1,3}[.,]\d{3}")
_GAPS = re.compile(r"(?<=\d)[\s'\u2019](?=\d{3}(?!\d))")
AS_LAST = "="
"""The answer that means: as last time."""

Row = dict[str, str]


@dataclass(frozen=True)
class Known:
    """What earlier runs know.

    Attributes:
        parts: Names of parts.
        suppliers: Names of suppliers.
        jobs: Jobs of the car.
        vehicles: All stock numbers.
        positions: Places on a car that repairs name.
        last: Part to what was told of it last: supplier, part_cost, labour_minutes.
        car: Make and model of the car; blank where the stock list does not know it.
        open: Its open codes at the last weekly run, ``module:code``.
        stock: The stock numbers of the stock lists.
        run: How far it had run when that was told last, in km; None where nothing tells.
        names: Plate or vehicle number to the one car that has it in the stock lists.
    """

    parts: list[str] = field(default_factory=list)
    suppliers: list[str] = field(default_factory=list)
    jobs: list[str] = field(default_factory=list)
    vehicles: list[str] = field(default_factory=list)
    positions: list[str] = field(default_factory=list, compare=False)
    last: dict[str, Row] = field(default_factory=dict, compare=False)
    car: str = field(default="", compare=False)
    open: list[str] = field(default_factory=list, compare=False)
    stock: list[str] = field(default_factory=list, compare=False)
    names: dict[str, str] = field(default_factory=dict, compare=False)
    run: float | None = field(default=None, compare=False)

    def car_meant(self, typed: str) -> str:
        """Return the car that a stock number, plate or vehicle number means, as the week takes it; else the word."""
        listed = known_as(typed, self.stock)
        key = plain_name(typed)
        if listed in self.stock or not key:
            return listed
        named = (vehicle for name, vehicle in self.names.items() if plain_name(name) == key)
        return next(named, known_as(typed, self.vehicles))


def known_names(workspace: Workspace, vehicle: str) -> Known:
    """Read what earlier weekly runs know.

    Args:
        workspace: The dealer's folder.
        vehicle: The car.

    Returns:
        Sorted names; all empty before the first weekly run.

    Raises:
        WorkspaceError: Another run is using the workspace or its database.
    """
    if not workspace.database.exists():
        return Known()
    with reading(workspace) as warehouse:
        queries = (_PARTS, _SUPPLIERS, _VEHICLES, _POSITIONS)
        parts, suppliers, vehicles, positions = (warehouse.query(query)["name"].to_list() for query in queries)
        stock, names = _other_names(warehouse)
        vehicle = Known(vehicles=vehicles, stock=stock, names=names).car_meant(vehicle)
        jobs = warehouse.query(_JOBS, {"vehicle": vehicle})["name"].to_list()
        last = {row.pop("part"): row for row in warehouse.query(_LAST).to_dicts()}
        car = warehouse.query(_CAR, {"vehicle": vehicle}).row(0)
        run = warehouse.query(_RUN, {"vehicle": vehicle}).item() if warehouse.columns("marts.stock_details") else None
        built = bool(warehouse.columns("marts.open_codes"))
        codes = warehouse.query(_OPEN, {"vehicle": vehicle})["name"].to_list() if built else []
    told = {part: {name: cell for name, cell in row.items() if cell} for part, row in last.items()}
    name = " ".join(word for word in car if word)
    return Known(parts, suppliers, jobs, vehicles, positions, told, name, codes, stock, names, run)


def _other_names(warehouse: Warehouse) -> tuple[list[str], dict[str, str]]:
    """Return the stock numbers, and each plate and vehicle number that one car alone has."""
    cars: dict[str, set[str]] = {}
    spelled_as: dict[str, str] = {}
    # A database of before there were plates is looked at as it is.
    rows = warehouse.query(_NAMES).rows() if "plate" in warehouse.columns("raw.stock") else []
    for vehicle, *others in rows:
        for name in others:
            if name and (key := plain_name(name)):
                cars.setdefault(key, set()).add(vehicle)
                spelled_as.setdefault(key, name)
    named = {spelled_as[key]: next(iter(found)) for key, found in cars.items() if len(found) == 1}
    return list(dict.fromkeys(vehicle for vehicle, *_ in rows)), named


def spelled(column: str, text: str, settings: Settings) -> str:
    """Bring an answer into the layout's spelling: dates and decimals may be written as the dealer writes them.

    Args:
        column: A column of the repairs.
        text: What was typed.
        settings: For the time zone, and how dates and numbers are written where an answer cannot tell.

    Returns:
        The cell; blank where nothing was typed.

    Raises:
        BatchError: It is not what the column asks for, or a day that may be a month.
    """
    if not text.strip():
        return ""
    typed = (
        _number_alone(column, text, settings) if column in ("part_cost", "labour_minutes", "odometer") else text.strip()
    )
    frame = pl.DataFrame({"row": [1], column: [typed]}, schema={"row": pl.Int64, column: pl.String})
    try:
        told, _ = in_our_spelling(Path(column), frame, _LAYOUT, settings.habits, ";")
    except UnansweredError as error:
        meant = "2026-11-23" if column == "done_at" else "1250 or 1250.50"
        raise BatchError(f"{text.strip()!r} can be meant in two ways; write it like {meant}.") from error
    _, rejects, _ = check_cells(told, _LAYOUT, settings.zone)
    wrong = rejects.filter(pl.col("column") == column)
    if wrong.height and told[column][0]:
        raise BatchError(f"{column}: {wrong['why'][0]}, found {text.strip()!r}.")
    return str(told[column][0])


def spelled_odometer(text: str, known: Known, settings: Settings) -> str:
    """Bring an odometer into the layout's spelling: 119.672 of a car that had run 119660 before is 119672.

    Args:
        text: What was typed.
        known: How far the car had run.
        settings: As for ``spelled``; the unit of what was typed.

    Raises:
        BatchError: As ``spelled`` raises it, for instance where how far the car had run does not decide either.
    """
    bare = text.strip()
    if known.run is not None and _TWO_WAYS.fullmatch(bare):
        last = settings.formatter.driven(known.run)
        whole = re.sub(r"[.,]", "", bare)
        if float(bare.replace(",", ".")) < last - 1 <= float(whole):
            return spelled("odometer", whole, settings)
    return spelled("odometer", text, settings)


def _number_alone(column: str, text: str, settings: Settings) -> str:
    """Return an amount without its currency or unit and without the gaps between its thousands: "€ 4 200" is "4200"."""
    bare = text
    if column == "part_cost":
        for own in (settings.formatter.money_pattern.format(amount=""), settings.currency):
            bare = bare.replace(own.strip(), "")
    elif column == "labour_minutes":
        bare = _MINUTES.sub("", bare)
    return _GAPS.sub("", bare.strip())


def as_known(rows: Sequence[Row], known: Known) -> list[Row]:
    """Spell parts as they are known.

    Raises:
        BatchError: A part is not known, while others are; the message names those that are near it.
    """
    made = []
    for row in rows:
        part = row.get("part", "")
        same = [name for name in known.parts if part_key(name) == part_key(part)]
        if part and known.parts and not same:
            like = ", ".join(offers(part, known.parts))
            hint = f"; near it: {like}" if like else ""
            raise BatchError(
                f"part: {part!r} is no part that is known{hint}. Give --new to mean it. Nothing was written."
            )
        made.append(row | ({"part": same[0]} if same else {}))
    return made


def check_vehicle(vehicle: str, known: Known) -> None:
    """Refuse a car that is in no stock list and no scan, while others are.

    Raises:
        BatchError: It is; the message names those that are near it.
    """
    if known.vehicles and vehicle not in known.vehicles:
        like = near(vehicle, [*known.vehicles, *known.names])
        raise BatchError(
            f"{vehicle} is in no stock list and no scan so far{f'; {like}' if like else ''}. Give --new to mean it. "
            "Nothing was written."
        )


def offers(typed: str, names: Iterable[str]) -> list[str]:
    """Return the known names that what was typed may mean.

    Args:
        typed: What was typed; spelling marks and capitals do not count.
        names: The known names.

    Returns:
        The name itself where it is known; else at most ``MOST_OFFERED``: those that begin with it, then those that
        hold it, each by name, then those spelled much like it.
    """
    key = part_key(typed)
    if not key:
        return []
    keys = {name: part_key(name) for name in sorted(set(names))}
    same = [name for name in keys if keys[name] == key]
    begins = [name for name in keys if keys[name].startswith(key)]
    holds = [name for name in keys if key in keys[name] and name not in begins]
    spellings = {spelling: name for name, spelling in keys.items()}
    close = [spellings[found] for found in difflib.get_close_matches(key, spellings, MOST_OFFERED, _LIKENESS)]
    alike = [name for name in close if name not in begins and name not in holds]
    return same[:1] or (begins + holds + alike)[:MOST_OFFERED]


def told_work(words: Sequence[str]) -> list[Row]:
    """Read pieces of work given in words.

    Args:
        words: Each an action, then ``; column=value`` for what else is known of it, for instance
            "replace; part=boost hose; part_cost=42.50".

    Returns:
        One row a piece of work, the columns of ``WORK``.

    Raises:
        BatchError: A word is no column of a piece of work.
    """
    rows = []
    for told in words:
        action, *rest = (word.strip() for word in told.split(";"))
        row = {"action": action}
        for word in filter(None, rest):
            column, found, value = (piece.strip() for piece in word.partition("="))
            if not found or column not in WORK:
                raise BatchError(
                    f"--did {told!r}: expected column=value with one of {', '.join(WORK[1:])}, found {word!r}. "
                    "Nothing was written."
                )
            row[column] = value
        rows.append(row)
    return rows


def ask_checked(
    column: str,
    question: str,
    ask: Callable[[str, Sequence[str]], str],
    say: Callable[[str], None],
    settings: Settings,
) -> str:
    """Ask until the answer is what a column of the repairs asks for; nothing is what it may be too."""
    while True:
        typed = ask(question, ())
        try:
            return spelled(column, typed, settings)
        except BatchError as error:
            say(str(error))


def ask_work(
    ask: Callable[[str, Sequence[str]], str],
    say: Callable[[str], None],
    known: Known,
    settings: Settings = Settings(),  # noqa: B008 - frozen
) -> list[Row]:
    """Ask for the pieces of work, one after the other; each answer is checked as it is given.

    Args:
        ask: Puts a question, with the names that can be completed, and returns the answer; empty for nothing.
        say: Shows a line.
        known: Names of parts, places and suppliers to offer, and what was told of a part last time.
        settings: How dates and numbers are written.

    Returns:
        One row a piece of work; an empty answer to the first question ends the list.
    """
    rows: list[Row] = []
    while True:
        action = ask(f"Action ({', '.join(ACTIONS)}; nothing more: Enter)", ACTIONS).strip().lower()
        if not action:
            return rows
        if action not in ACTIONS:
            say(f"{action!r} is none of them.")
            continue
        row = {"action": action}
        if action != "erase":
            row["part"] = _chosen("Part", known.parts, ask, say)
        if row.get("part"):
            last = known.last.get(row["part"], {})
            for column in _ASKED_OF_PARTS:
                row[column] = _told_of(column, known, last.get(column, ""), ask, say, settings=settings)
        row["note"] = ask("Note", ())
        rows.append({column: value.strip() for column, value in row.items() if value.strip()})


def _told_of(
    column: str,
    known: Known,
    last: str,
    ask: Callable[[str, Sequence[str]], str],
    say: Callable[[str], None],
    *,
    settings: Settings,
) -> str:
    question = column.replace("_", " ").capitalize() + (f" ({AS_LAST} as last time: {last})" if last else "")

    def answer(question: str, names: Sequence[str]) -> str:
        typed = ask(question, names)
        return last if last and typed.strip() == AS_LAST else typed

    if column in ("supplier", "position"):
        return _chosen(question, known.suppliers if column == "supplier" else known.positions, answer, say)
    return ask_checked(column, question, answer, say, settings)


def _chosen(
    question: str, names: list[str], ask: Callable[[str, Sequence[str]], str], say: Callable[[str], None]
) -> str:
    """Ask for a name; where it is not a known one, offer those it may mean."""
    typed = ask(question, names).strip()
    found = offers(typed, names)
    if not found:
        if typed and names and question == "Part":
            say(f"No part is called {typed!r} so far; it is taken as a new one.")
        return typed
    if part_key(found[0]) == part_key(typed):
        return found[0]
    for place, name in enumerate(found, 1):
        say(f"  {place} {name}")
    answer = ask(f"Number of the one that is meant; Enter keeps {typed!r}", ()).strip()
    return found[int(answer) - 1] if answer.isdecimal() and 1 <= int(answer) <= len(found) else typed


def write_job(
    workspace: Workspace, settings: Settings, about: Mapping[str, str], rows: Sequence[Row], known: Known
) -> Path:
    """Check a job and write it into ``inbox/repairs``.

    Args:
        workspace: The dealer's folder.
        settings: Its settings.
        about: vehicle, done_at and, where known, job, odometer and odometer_unit; a job without a number gets
            the day and the first number that is free.
        rows: The pieces of work.
        known: The car's known jobs.

    Returns:
        The new file.

    Raises:
        BatchError: There is no piece of work, or a cell is not what the layout asks for; nothing is written.
    """
    if not rows:
        raise BatchError("No piece of work was given, not even an erase. Nothing was written.")
    folder = workspace.inbox / "repairs"
    name = sheet_names([about["vehicle"]])[about["vehicle"]]
    given = about.get("job")
    job = given or _free_job(folder, name, about["done_at"], known)
    whole = [{**about, "job": job, **row} for row in rows]
    _check(whole, settings)
    path = folder / f"{_file_name(name, job)}.csv"
    folder.mkdir(parents=True, exist_ok=True)
    try:
        with path.open("x", encoding="utf-8", newline="") as handle:
            writer = csv.DictWriter(handle, COLUMNS, restval="")
            writer.writeheader()
            writer.writerows(whole)
    except FileExistsError as error:
        raise BatchError(f"{path} is there already; give another --job. Nothing was written.") from error
    return path


def _free_job(folder: Path, name: str, done_at: str, known: Known) -> str:
    day = done_at[:10] or date.min.isoformat()
    number = 1
    while f"{day}-{number}" in known.jobs or (folder / f"{_file_name(name, f'{day}-{number}')}.csv").exists():
        number += 1
    return f"{day}-{number}"


def _file_name(name: str, job: str) -> str:
    return f"job-{name}-{sheet_names([job])[job]}"


def _check(rows: Sequence[Row], settings: Settings) -> None:
    cells = {name: [row.get(name) or None for row in rows] for name in COLUMNS}
    frame = pl.DataFrame(cells, schema=dict.fromkeys(COLUMNS, pl.String)).with_row_index("row", offset=1)
    _, rejects, _ = check_cells(frame.with_columns(pl.col("row").cast(pl.Int64)), _LAYOUT, settings.zone)
    wrong = [
        f"piece of work {row}, {column}: {why}" + (f", found {value!r}" if value else "")
        for row, column, value, why in rejects.sort("row", "column").iter_rows()
    ]
    if wrong:
        raise BatchError("; ".join(wrong) + ". Nothing was written.")
