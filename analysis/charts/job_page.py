"""A car's job sheet: its codes as found, the tries in order, the boxes to tick for each.

The same sheet goes out as a page for the printer, from here, and as PDF.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import jinja2
import polars as pl

from analysis.charts import wording
from analysis.charts.car_rows import time_of
from analysis.charts.page import sheet_environment
from analysis.charts.tickets import stored_only, warnings_by_part
from analysis.texts import action_text, names
from analysis.texts import job_sheet_text as say
from analysis.texts.action_text import (
    NO_ROAD,
    alike,
    as_checked,
    at_step,
    check_how,
    check_minutes,
    is_not_proven,
    is_once_again,
    later_title,
    left_head,
    of_car,
    once_more,
    parts_of_time,
    to_do,
    work,
)
from analysis.texts.formatter import Formatter
from analysis.texts.notes import of_cars
from analysis.texts.paper_text import material
from analysis.texts.words import percent, span, whole

FIXES = ("replace", "repair")
BLANK_LINES = 4
SAME_IN_EVERY_LINE = ("vehicle", "odometer_unit")


@dataclass(frozen=True)
class Try:
    """One thing to try.

    Attributes:
        title: What to do, in words.
        facts: Chance and cost in one line; empty text where nothing is known.
        caution: What to mind, or empty text.
        warnings: What is known of the part, where its codes come back more often than they should.
        boxes: What to tick, in order.
        clears: The codes that should be gone after it.
        then: When to stop, and where to go on with what is still there, a sentence each; none where there is nothing to
            wait for.
        before: For which codes a later line is, what an earlier line told already, and why the first comes first.
    """

    title: str
    facts: str
    caution: str
    warnings: list[str]
    boxes: list[str]
    clears: list[wording.Code]
    then: list[str]
    before: list[str]


@dataclass(frozen=True)
class Job:
    """One car's sheet.

    Attributes:
        vehicle: Stock number.
        car: Make and model, or empty text.
        scanned: Day of the latest scan; empty text where it is not known.
        codes: Code, status and reason to look past it, as found at the latest scan; those that wait for a proof too.
        tries: The things to try, all of them: whoever is sent to a step finds it on the sheet.
        left: Codes that may be left alone, in words; empty text where there are none.
        known: What is known of the car, each with its label: plate, mileage, VIN, year, minutes of the first line.
        unit: Unit of its mileage.
        fetch: Parts to fetch, in words; those of later tries say so.
        mind: What its open codes ask for whatever is done, and where to drive it; empty text where nothing.
        stored: Codes stored only that no try speaks of, in words; empty text where there are none.
        why: Why it is handed over at once, a sentence each.
    """

    vehicle: str
    car: str
    scanned: str
    codes: list[tuple[wording.Code, str, str]]
    tries: list[Try]
    left: str
    known: list[tuple[str, str]]
    unit: str
    fetch: list[str]
    mind: str
    stored: str
    why: list[str]

    @property
    def own(self) -> bool:
        """Some code is a maker's own."""
        return any("@" in code.key for code, _, _ in self.codes)

    @property
    def blanks(self) -> list[str]:
        """What is written at the head by hand."""
        return say.head_blanks(self.unit, any(label == say.PLATE for label, _ in self.known))


@dataclass(frozen=True)
class Repairs:
    """What the repairs file takes.

    Attributes:
        columns: Names of its columns, in order.
        actions: The words that its column of what was done takes.
    """

    columns: Sequence[str]
    actions: Sequence[str]

    @property
    def to_fill(self) -> list[str]:
        """The columns that are written by hand: not those that are the same in every line of a car."""
        return [column for column in self.columns if column not in SAME_IN_EVERY_LINE]


def jobs(tables: Mapping[str, pl.DataFrame], settings: Mapping[str, Any], notes: Sequence[str] = ()) -> list[Job]:
    """Make a sheet for every car on the list.

    Args:
        tables: shortlist and open_codes as they go out, "codes" (code, text), worse_parts, "cars" (vehicle, vin,
            plate, model_year, odometer), "part_suppliers" (part, supplier) and "read" (vehicle, scanned_at) where
            they are known.
        settings: currency, odometer_unit, date_style, labour_rate and road_test_km, where they are known.
        notes: The notes of the run.

    Returns:
        One a car, by vehicle.
    """
    texts = wording.texts(tables.get("codes"))
    warned = warnings_by_part(tables.get("worse_parts"))
    open_codes = tables["open_codes"].sort("vehicle", "code").partition_by("vehicle", as_dict=True)
    cars = {row["vehicle"]: row for row in tables["cars"].to_dicts()} if "cars" in tables else {}
    from_whom = (
        dict(tables["part_suppliers"].select("part", "supplier").iter_rows()) if "part_suppliers" in tables else {}
    )
    formatter = Formatter.of(settings)
    scanned = (
        dict(tables["read"].group_by("vehicle").agg(pl.col("scanned_at").max()).iter_rows()) if "read" in tables else {}
    )
    made = []
    rows = tables["shortlist"].sort("vehicle", "rank").partition_by("vehicle", as_dict=True, maintain_order=True)
    why = of_cars(notes, (str(vehicle) for (vehicle,) in rows))
    for (vehicle,), listed in rows.items():
        found = open_codes.get((vehicle,), tables["open_codes"].clear())
        codes = [
            (wording.Code(code, texts.get(code, "")), status or "", reason or "")
            for code, status, reason in found.select("code", "status", "background").iter_rows()
        ]
        lines = listed.to_dicts()
        if is_not_proven(lines[0]["check_first"]):
            codes += [(code, say.GONE, "") for code in wording.codes(lines[0]["clears"], texts)]
        shown = [row for row in lines if row["action"] != "leave"] or lines
        plans = [_plan(shown, place, texts) for place in range(len(shown))]
        tries = [_try(row, warned.get(row["part"], []), settings, plan) for row, plan in zip(shown, plans, strict=True)]
        first = listed.row(0, named=True)
        car = " ".join(part for part in (first["make"], first["model"]) if part)
        known = _known(cars.get(vehicle, {}), first, settings)
        fetch = _fetch(shown, from_whom, formatter)
        stored = [_worded(code) for code in wording.codes(";".join(stored_only(found, lines)), texts)]
        made.append(
            Job(
                vehicle=str(vehicle), car=car, codes=codes,
                scanned=formatter.day(scanned[vehicle]) if vehicle in scanned else "",
                tries=tries, left=_left(lines[len(shown) :], texts),
                known=known, unit=_unit(settings), fetch=fetch, mind=of_car(first["caution"]), stored=", ".join(stored),
                why=why.get(str(vehicle), []) if first["action"] == "specialist" else [],
            )
        )  # fmt: skip
    return made


def _unit(settings: Mapping[str, Any]) -> str:
    return str(settings.get("odometer_unit", "km"))


def _known(car: Mapping[str, Any], first: Mapping[str, Any], settings: Mapping[str, Any]) -> list[tuple[str, str]]:
    odometer, time = car.get("odometer"), time_of(first, settings.get("labour_rate"))
    told = [
        (say.PLATE, car.get("plate") or ""),
        (say.KNOWN_MILEAGE, Formatter.of(settings).distance(odometer) if odometer is not None else ""),
        (say.KNOWN_VIN, car.get("vin") or ""),
        (say.KNOWN_YEAR, car.get("model_year") or ""),
        (say.ALL_MINUTES, whole(time.all) if time is not None else ""),
    ]
    return [(label, text) for label, text in told if text]


def _fetch(rows: list[dict[str, Any]], from_whom: Mapping[str, str], formatter: Formatter) -> list[str]:
    told: list[str] = []
    for row in rows:
        if row["action"] in FIXES and row["part"] and (row["action"] == "replace" or row["part_cost"]):
            part = ", ".join(one for one in (row["part"], row["position"]) if one)
            part = part if row["action"] == "replace" else material(part)
            price = formatter.money(row["part_cost"]) if row["part_cost"] is not None else ""
            line = say.fetch(part, from_whom.get(row["part"], ""), price)
            told.append(say.only_if(line) if row["rank"] > 1 or wording.check(row["check_first"]).pays else line)
    return list(dict.fromkeys(told))


@dataclass(frozen=True)
class _Plan:
    """What a line hangs together with.

    Attributes:
        clears: The codes it should clear.
        before: What to say before its steps.
        then: When to stop, and where to go on.
        where_sound: The line to go on with where the part is found sound, where there is one.
        seen_at: The earlier line whose check tells this one too.
        also: Later lines whose parts its own check tells of.
    """

    clears: list[wording.Code]
    before: list[str]
    then: list[str]
    where_sound: list[tuple[int, str]]
    seen_at: int | None
    also: list[int]


def _plan(lines: list[dict[str, Any]], place: int, texts: Mapping[str, str]) -> _Plan:
    row, later = lines[place], lines[place + 1 :]
    again = wording.repeats(lines)
    before = []
    if place and row["action"] not in ("specialist", "leave"):
        only = _only(lines, place) if is_once_again(row["check_first"]) else ""
        before.append(say.only_where([_worded(code) for code in wording.codes(row["clears"], texts)], only))
    first = again[place].part
    if first is not None:
        before.append(once_more(first))
    elif not place and wording.likelier(lines):
        before.append(wording.likelier(lines))
    if wording.thin(row, lines):
        before.append(wording.thin(row, lines))
    also = [one["rank"] for one, told in zip(lines, again, strict=True) if told.check == row["rank"]]
    return _Plan(
        clears=wording.codes(row["clears"], texts),
        before=before,
        then=_then(lines, place, texts),
        where_sound=_ways(lines, place, (one for one in later if one["rank"] not in also), sound=True),
        seen_at=again[place].check,
        also=also,
    )


def _ways(
    lines: list[dict[str, Any]], place: int, later: Iterable[dict[str, Any]], *, sound: bool
) -> list[tuple[int, str]]:
    """Return which of some later lines comes next after a line; where that hangs on an earlier one, each with when.

    A line that works again on a part is only for a car on which that was done, one that fits it without the check
    only for a car on which the check found it sound.

    Args:
        lines: All lines of the car.
        place: Where the line stands.
        later: The lines that may come next, in order.
        sound: Its part was found sound, and nothing was done; else its work was done.
    """
    told = []
    for one in later:
        again, only = is_once_again(one["check_first"]), _only(lines, lines.index(one))
        if only and _same(one, lines[place]):
            if again == sound:
                continue
            only = ""
        told.append((int(one["rank"]), only))
        if not only:
            break
    return told


def _only(lines: list[dict[str, Any]], place: int) -> str:
    """Return when a line is for a car that its part was worked on, or found sound, before; blank for any other."""
    row = lines[place]
    first = next((one for one in lines[:place] if row["part"] and _same(one, row)), None)
    if first is None or not first["check_first"]:
        return ""
    if not is_once_again(row["check_first"]):
        return say.was_sound(first["rank"])
    return say.was_done(first["rank"], replaced=first["action"] == "replace")


def _same(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    return (one["part"], one["position"]) == (other["part"], other["position"])


def _then(lines: list[dict[str, Any]], place: int, texts: Mapping[str, str]) -> list[str]:
    """Say when to stop after a line, and with which line to go on for each code that may still be there."""
    if lines[place]["action"] in ("specialist", "leave"):
        return []
    found: dict[tuple[tuple[int, str], ...], list[str]] = {}
    for key in sorted({key for one in lines for key in _keys(one["clears"])}):
        later = (one for one in lines[place + 1 :] if key in _keys(one["clears"]))
        found.setdefault(tuple(_ways(lines, place, later, sound=False)), []).append(key)
    told = [say.NOTHING_LEFT]
    for ways, keys in sorted(found.items(), key=lambda item: (not item[0], item[0])):
        named = [_worded(code) for code in wording.codes(";".join(keys), texts)] if len(found) > 1 else []
        told.append(say.go_on(named, ways))
    return told


def _keys(joined: str | None) -> list[str]:
    return [key for key in (joined or "").split(";") if key]


def _worded(code: wording.Code) -> str:
    return f"{code.words} ({code.key})" if code.words else code.key


def _try(row: dict[str, Any], warnings: list[str], settings: Mapping[str, Any], plan: _Plan) -> Try:
    formatter = Formatter.of(settings)
    return Try(
        title=later_title(row),
        facts=_facts(row, formatter, settings.get("labour_rate"), plan.seen_at),
        caution=at_step(row),
        warnings=warnings,
        boxes=_boxes(row, formatter.distance(float(settings.get("road_test_km", 40))), plan),
        clears=plan.clears,
        then=plan.then,
        before=plan.before,
    )


def _left(rows: Sequence[Mapping[str, Any]], texts: Mapping[str, str]) -> str:
    """Say which codes may be left alone, of the rows that leave codes."""
    codes = [_worded(code) for row in rows for code in wording.codes(row["leaves"], texts)]
    stays = "".join(row["check_first"] or "" for row in rows)
    return f"{left_head(stays)}: {', '.join(codes)}. {stays}".strip() if codes else ""


def _boxes(row: dict[str, Any], drive: str, plan: _Plan) -> list[str]:
    if row["action"] == "specialist":
        return [say.HANDED_OVER]
    if row["action"] == "leave":
        return []
    if is_not_proven(row["check_first"]):
        return [say.waited(to_do(row))]
    boxes = []
    if row["action"] in FIXES:
        check, fitted = wording.check(row["check_first"]), work(row["action"], row["part"], row["position"])
        if plan.seen_at is not None:
            boxes.append(as_checked(plan.seen_at))
        elif check.how:
            boxes.append(say.checked(check_how(row["check_first"]), check_minutes(row["check_first"])))
        sound = say.found_sound(plan.where_sound, plan.also)
        boxes += [sound, say.found_faulty(fitted)] if check.how else [fitted]
    return [*boxes, say.ERASED, say.driven(drive, NO_ROAD in of_car(row["caution"])), say.SCANNED]


def _facts(row: dict[str, Any], formatter: Formatter, labour_rate: float | None, seen_at: int | None) -> str:
    told = [say.left_alone(row["leaves"]), *filter(None, [row["check_first"]])] if row["action"] == "leave" else []
    time = time_of(row, labour_rate, checked=seen_at is None)
    if row["chance"] is not None and row["action"] not in ("specialist", "leave"):
        told.append(say.chance(percent(row["chance"]), span(row["chance_low"], row["chance_high"])))
    if row["total_cost"] is not None:
        told.append(say.cost(formatter.money(row["total_cost"])))
    if time is not None:
        told.append(
            say.minutes(whole(time.all), parts_of_time(*(whole(one) for one in (time.check, time.work, time.drive))))
        )
    if row["or_else"]:
        told.append(alike(row["or_else"]))
    return ", ".join(told)


def job_page(job: Job, run: Mapping[str, Any], repairs: Repairs, environment: jinja2.Environment | None = None) -> str:
    """Return a job sheet as HTML.

    Args:
        job: The car's sheet.
        run: week, as_of and settings, as the report's page takes them.
        repairs: What the repairs file takes: the table to fill has its columns but those that are the same in every
            line.
        environment: The templates' environment for these settings, where many sheets share it.

    Returns:
        A page that fetches nothing and runs nothing; the same input gives the same text.
    """
    settings: Mapping[str, Any] = run.get("settings", {})
    template = (environment or sheet_environment({}, settings)).get_template("job.html.j2")
    return template.render(run=run, **_for_each(repairs), **_for_one(job, repairs))


def all_jobs_page(
    sheets: Sequence[Job], cars: int, run: Mapping[str, Any], repairs: Repairs, environment: jinja2.Environment
) -> str:
    """Return many job sheets as one page of HTML, to print at once: each begins on paper of its own.

    Args:
        sheets: The cars' sheets, in the order in which they are printed.
        cars: How many cars the list has.
        run: As ``job_page`` takes it.
        repairs: As ``job_page`` takes it.
        environment: The templates' environment for these settings.
    """
    template = environment.get_template("jobs.html.j2")
    each = [_for_one(job, repairs) for job in sheets]
    return template.render(run=run, sheets=each, cars=cars, **_for_each(repairs))


def _for_one(job: Job, repairs: Repairs) -> dict[str, Any]:
    return {"job": job, "typed": say.typed_back(job.vehicle, job.unit, repairs.to_fill)}


def _for_each(repairs: Repairs) -> dict[str, Any]:
    return {
        "columns": repairs.to_fill,
        "actions": repairs.actions,
        "lines": BLANK_LINES,
        "sheet_text": say,
        "action_text": action_text,
        "repairs": names.REPAIRS,
    }
