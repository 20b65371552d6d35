"""A drawn report of 25 invented cars, as the batch hands it to the page: every table, and the run's record."""

from __future__ import annotations

import random
import re
from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta
from itertools import combinations, pairwise
from typing import Any

import polars as pl

from analysis import mining
from analysis.texts.action_text import check_words
from analysis.texts.notes import unknown_module
from pipelines.report import outgoing
from pipelines.report.outgoing_tables import TABLES

Row = dict[str, object]
MODELS = (
    ("Corvane", "Alder"), ("Corvane", "Birch"), ("Aldane", "Wherry"), ("Aldane", "Coracle"),
    ("Brillon", "Six"), ("Tesmar", "Linnet"), ("Tesmar", "Heron"), ("Oskany", "Duo"),
)  # fmt: skip
# part, position, action, cost and labour in cents, chance, past jobs, how many cleared, what to mind, first check
WORKS = {
    "wheel speed sensor": ("front left", "replace", 3100, 2625, 0.84, 14, 12, "Stands under the car, wheel off.",
                           "Compare the four wheel speeds at walking pace; the faulty one drops out."),
    "wheel speed ring": ("front left", "replace", 1800, 6750, 0.31, 4, 2, "Stands under the car, wheel off.",
                         "Look for a cracked or rusty ring through the sensor hole."),
    "battery": ("", "replace", 11200, 1500, 0.71, 22, 17, "",
                check_words(10, "Rest voltage under 12.2 V after a night, or under 9.6 V while cranking.")),
    "boost hose": ("", "replace", 4200, 3000, 0.66, 9, 7, "Engine cold.", "Smoke or soapy water along the hose."),
    "boost pressure solenoid": ("", "replace", 4800, 1875, 0.24, 3, 1, "", "Drive it with a test lamp; listen."),
    "brake pedal switch": ("", "replace", 1450, 1125, 0.9, 11, 10, "Brake lamps must work before it moves.",
                           "Watch both switch signals while the pedal is pressed."),
    "door loom": ("driver", "repair", 2400, 5250, 0.58, 5, 3, "", "Bend the rubber boot and watch the window switch."),
    "thermostat": ("", "replace", 4300, 5625, 0.77, 8, 7, "No cap off while hot.", "Upper hose warm early?"),
    "ignition coil": ("cylinder 2", "replace", 3400, 1500, 0.62, 0, 0, "", "Swap it with cylinder 3; the code moves."),
    "ABS module": ("", "replace", 33000, 10500, 0.4, 2, 1, "Brake work: trained hands, bleed, check the pedal.",
                   "Supply and earth first."),
}  # fmt: skip
# family: root, knock-on codes, codes that are either, parts most likely first
FAMILIES = {
    "ABS:C0031": ("ABS:C0031", "ESC:C0561 TCM:U0415 IPC:U0415 EPS:U0415", "",
                  ("wheel speed sensor", "wheel speed ring", "ABS module")),
    "ECM:P0562": ("ECM:P0562", "BCM:U3003 ACM:U3003 HVAC:B1317@corvane", "RADIO:U3003", ("battery",)),
    "ECM:P0299": ("ECM:P0299", "TCM:U0401", "ECM:P0236", ("boost hose", "boost pressure solenoid")),
    "ECM:P0571": ("ECM:P0571", "ESC:C0040 TCM:P0703", "", ("brake pedal switch",)),
    "DDM:B2211@tesmar": (None, "", "DDM:B2211@tesmar BCM:U0199 DDM:B1048@tesmar", ("door loom",)),
    "ECM:P0128": ("ECM:P0128", "HVAC:B10AF@aldane", "", ("thermostat",)),
    "ECM:P0302": ("ECM:P0302", "ECM:P0300", "ECM:P0352", ("ignition coil",)),
}  # fmt: skip
TEXTS = {
    "ABS:C0031": "Wheel speed sensor front left", "TCM:U0415": "Invalid data from the brake module",
    "ECM:P0562": "System voltage low", "ECM:P0299": "Boost pressure too low", "ECM:P0571": "Brake switch A circuit",
    "DDM:B2211@tesmar": "Window switch line open", "ECM:P0128": "Coolant below thermostat temperature",
    "ECM:P0302": "Misfire in cylinder 2",
}  # fmt: skip
LISTS = {name: [code for code in [root, *knock.split(), *either.split()] if code]
         for name, (root, knock, either, _) in FAMILIES.items()}  # fmt: skip


def sample(cars: int = 25) -> tuple[dict[str, pl.DataFrame], Row]:
    """Draw the tables and the run's record.

    Args:
        cars: Cars in stock.
    """
    rng = random.Random(7)
    shortlist: list[Row] = []
    open_codes: list[Row] = []
    for number in range(cars):
        listed, present = _car(rng, f"K-{1004 + number * 7}")
        shortlist += listed
        open_codes += present
    tables = {
        "shortlist": shortlist,
        "families": list(_families(rng)),
        "rules": (rules := list(_rules(rng))),
        "verdict_weeks": [
            {"antecedent": rule["antecedent"], "consequent": rule["consequent"], "since": "2026-W40"}
            for rule in rules
            if rule["verdict"] == "confirmed"
        ],
        "part_results": list(_part_results()),
        "outcomes": list(_outcomes(rng)),
        "open_codes": open_codes,
        "family_cars": list(_family_cars(rng)),
        "family_changes": list(_family_changes()),
        "car_changes": [
            {"vehicle": "K-1004", "change": "new", "first_try": "replace battery"},
            {
                "vehicle": "K-1011",
                "change": "other try",
                "first_try": "record, erase, drive, scan again",
                "first_try_before": "replace boost hose",
            },
            {"vehicle": "K-0998", "change": "off", "first_try_before": "replace wheel speed sensor, front left"},
        ],
        "worse_parts": [
            {
                "part": "boost hose",
                "supplier": "Nordteile",
                "returned": 6,
                "jobs": 8,
                "others_returned": 1,
                "others": 9,
                "q_value": 0.0312,
                "warning": "boost hose from Nordteile: codes returned after 6 of 8 jobs.",
            },
        ],
        "backtest": [
            {
                "n": 61,
                "top1": 38 / 61,
                "top3": 47 / 61,
                "cost_vs_named": 0.8123,
                "cost_vs_fitted": 1.0456,
                "judged": 54,
                "brier": 0.1637,
                "cuts": 6,
                "reserve": 0.031,
            },
        ],
        "reliability": list(_reliability()),
        "standing": [
            {
                "make": "Corvane",
                "codes": "RADIO:B1125",
                "cars": 7,
                "erases_survived": 19,
                "kind": "standing",
                "state": "proposed",
                "reason": "there through every erase, on many cars of the make",
            },
            {
                "vehicle": "K-1018",
                "make": "Aldane",
                "codes": "BCM:U3003;HVAC:B10AF@aldane",
                "cars": 1,
                "erases_survived": 4,
                "kind": "standing",
                "state": "accepted",
                "reason": "coding, left as it is",
            },
            {
                "make": "Tesmar",
                "codes": "ECM:P0562",
                "cars": 3,
                "erases_survived": 0,
                "kind": "passing",
                "state": "declared",
                "reason": "low battery in the yard",
            },
        ],
        "ledger": list(_ledger()),
        "rejects": [
            _reject("scans/2026-w47.csv", 18, "scanned_at", "23/11/26", "expected a date like 2026-11-23"),
            _reject("scans/2026-w47.csv", 44, "scanned_at", "24/11/26", "expected a date like 2026-11-23"),
            _reject("repairs/october.csv", 7, "action", "swap", "expected one of replace, repair, clean, adjust"),
            _reject("scans/lift.csv", None, None, "", "the header lacks scanned_at. The file was not loaded."),
        ],
    }
    ready = {name: prepared(name, rows) for name, rows in tables.items()}
    ready["family_weeks"] = outgoing.prepare("family_weeks", mining.family_weeks(ready["family_cars"]))
    ready |= _story(rng, ready["open_codes"])
    ready |= _known_of_cars(ready["shortlist"])
    ready["codes"] = pl.DataFrame(
        list(TEXTS.items()),
        schema={"code": pl.String, "text": pl.String}, orient="row",
    )  # fmt: skip
    return ready, _run()


def empty(cars: int = 12) -> tuple[dict[str, pl.DataFrame], Row]:
    """A young dealer: open codes, no repairs, no family."""
    tables, run = sample(cars)
    cleared = {name: table.clear() for name, table in tables.items()}
    run = {name: value for name, value in run.items() if name != "before"}
    unchecked = prepared("backtest", [{"n": 0, "judged": 0, "cuts": 0}])
    codes = tables["open_codes"].with_columns(family=pl.lit(None, pl.String))
    return cleared | {"open_codes": codes, "backtest": unchecked}, run


def prepared(name: str, rows: Iterable[Mapping[str, object]]) -> pl.DataFrame:
    """Fill the columns that the rows leave out with nothing, and prepare the table."""
    blank = dict.fromkeys(column.name for column in TABLES[name].columns)
    return outgoing.prepare(name, pl.DataFrame([blank | dict(row) for row in rows], infer_schema_length=None))


def _reject(file: str, row: int | None, column: str | None, value: str, why: str) -> Row:
    return {"file": file, "row": row, "column": column, "value": value, "why": why}


def _car(rng: random.Random, vehicle: str) -> tuple[list[Row], list[Row]]:
    make, model = rng.choice(MODELS)
    names = sorted(rng.sample(list(FAMILIES), rng.choice([1, 1, 1, 2])))
    # A root is nearly always there; each knock-on is left by chance.
    codes = {code: name for name in names for code in LISTS[name] if code == LISTS[name][0] or rng.random() < 0.75}
    seen = date(2026, 11, 2) + timedelta(days=rng.randrange(14))
    present: list[Row] = [
        {"vehicle": vehicle, "module": code.split(":")[0], "code": code, "first_seen": seen - timedelta(days=30),
         "last_seen": seen, "status": rng.choice(["active", "confirmed", "history"]), "family": name}
        for code, name in codes.items()
    ]  # fmt: skip
    if rng.random() < 0.3:
        present.append(present[0] | {"module": "RADIO", "code": "RADIO:B1125", "family": None,
                                     "background": "modification: aftermarket head unit"})  # fmt: skip
    car = {"vehicle": vehicle, "make": make, "model": model}
    works = [(part, name) for name in names for part in FAMILIES[name][3]]
    works.sort(key=lambda work: -WORKS[work[0]][4] / (WORKS[work[0]][2] + WORKS[work[0]][3]))
    steps = [_fix(rng, part, [code for code in codes if codes[code] == name], list(codes)) for part, name in works]
    if rng.random() < 0.2:
        steps.insert(0, _bare("recheck", round(rng.uniform(0.2, 0.5), 2), list(codes), 0))
    if rng.random() < 0.1:
        steps = []
    steps.append(_bare("specialist", 1.0, list(codes), 30000))
    for here, after in reversed(list(pairwise(steps))):
        here["expected_cost"] = here["total_cost"] + (1 - here["chance"]) * after["expected_cost"]  # type: ignore[operator]
    return [car | step | {"rank": rank} for rank, step in enumerate(steps, 1)], present


def _fix(rng: random.Random, part: str, clears: list[str], codes: list[str]) -> Row:
    position, action, cost, labour, chance, jobs, cleared, caution, check = WORKS[part]
    drawn = min(0.97, max(0.03, chance + rng.gauss(0, 0.06)))
    wide = 0.28 if jobs < 6 else 0.14
    return {
        "part": part, "position": position, "action": action, "chance": drawn,
        "chance_low": max(0.0, drawn - wide), "chance_high": min(1.0, drawn + wide * 0.8), "part_cost": cost,
        "labour_cost": labour, "total_cost": cost + labour,
        "clears": ";".join(clears), "leaves": ";".join(code for code in codes if code not in clears), "jobs": jobs,
        "jobs_cleared": cleared, "basis": "repairs" if jobs else "code", "cheap": cost + labour <= 6000,
        "inspection": "lamp" if "ABS:C0031" in clears else "none", "caution": caution, "check_first": check,
        "or_else": "spark plug set" if part == "ignition coil" else None,
    }  # fmt: skip


def _bare(action: str, chance: float, codes: list[str], cost: int) -> Row:
    return {
        "action": action, "chance": chance, "chance_low": chance, "chance_high": chance, "total_cost": cost,
        "expected_cost": cost, "clears": ";".join(codes), "jobs": 0, "jobs_cleared": 0, "basis": "code",
        "cheap": action == "recheck", "inspection": "none",
        "check_first": "Record all modules, erase, drive 40 km, scan again." if action == "recheck" else None,
    }  # fmt: skip


def _families(rng: random.Random) -> Iterable[Row]:
    for name, (root, knock, _, parts) in FAMILIES.items():
        jobs, cleared = WORKS[parts[0]][5:7]
        best: Row = {"best_part": parts[0], "best_part_rate": cleared / max(jobs, 1)}
        best |= {"best_part_low": 0.4, "best_part_high": 0.95}
        yield {
            "family": name, "size": len(LISTS[name]), "vehicles": rng.randrange(8, 46), "codes": ";".join(LISTS[name]),
            "root": root, "knock_on": knock.replace(" ", ";"), "strength": rng.uniform(0.3, 0.9),
            "q_value": rng.uniform(1e-9, 0.02), "jobs": jobs, "erase_rate": rng.choice([0.125, 0.125, None]),
            **(best if jobs else {}),
        }  # fmt: skip


def _rules(rng: random.Random) -> Iterable[Row]:
    for codes in LISTS.values():
        for first, second in combinations(codes, 2):
            yield {
                "antecedent": first, "consequent": second, "vehicles": rng.randrange(4, 38), "support": 0.08,
                "confidence": rng.uniform(0.4, 0.95), "lift": rng.uniform(3, 12), "odds_ratio": rng.uniform(5, 80),
                "odds_low": 3.1, "odds_high": rng.choice([120.0, float("inf")]), "p_value": 1e-9, "q_value": 1e-8,
                "verdict": rng.choice(["confirmed", "confirmed", "likely"]),
            }  # fmt: skip


def _part_results() -> Iterable[Row]:
    for name, (*_, parts) in FAMILIES.items():
        for part in parts:
            jobs, cleared = WORKS[part][5:7]
            if jobs:
                rate = cleared / jobs
                yield {
                    "part": part, "family": name, "jobs": jobs, "cleared": cleared, "rate": rate,
                    "rate_low": max(0.0, rate - 0.8 / jobs**0.5), "rate_high": min(1.0, rate + 0.5 / jobs**0.5),
                    "erase_jobs": 8 if jobs > 4 else 0, "erase_cleared": 1 if jobs > 4 else 0,
                    "erase_rate": 0.125 if jobs > 4 else None, "returned": jobs - cleared,
                    "median_days_to_return": 6.0, "suppliers": f"Nordteile {cleared}/{jobs}",
                }  # fmt: skip


def _family_cars(rng: random.Random) -> Iterable[Row]:
    for name in FAMILIES:
        for number in sorted(rng.sample(range(300), rng.randrange(8, 30))):
            seen = date(2025, 7, 7) + timedelta(days=rng.randrange(480))
            yield {"family": name, "vehicle": f"S-{number}", "line": "corvane alder", "first_seen": seen,
                   "last_seen": seen + timedelta(days=rng.randrange(20))}  # fmt: skip


def _family_changes() -> Iterable[Row]:
    kinds = ["growing", "new", "fading", *["steady"] * (len(FAMILIES) - 3)]
    for name, kind in zip(FAMILIES, kinds, strict=True):
        before = None if kind == "new" else name
        counts = {"growing": (12, 9), "new": (5, 0), "fading": (7, 8), "steady": (6, 6)}[kind]
        came = {"growing": "S-1;S-2;S-3", "new": "S-4"}.get(kind)
        yield {"family": name, "before": before, "change": kind, "vehicles": counts[0], "vehicles_before": counts[1],
               "came": came, "left": "S-9" if kind == "fading" else None}  # fmt: skip
    yield {"before": "ECM:P0441", "change": "vanished", "vehicles": 0, "vehicles_before": 4, "left": "S-5"}


def _reliability() -> Iterable[Row]:
    for tenth, predicted, held, visits in ((3, 0.27, 1, 4), (5, 0.463, 6, 9), (7, 0.66, 8, 14), (9, 0.871, 23, 27)):
        observed = held / visits
        yield {"tenth": tenth, "predicted": predicted, "observed": observed, "low": observed * 0.7,
               "high": min(1.0, observed + 0.13), "n": visits}  # fmt: skip


def _story(rng: random.Random, open_codes: pl.DataFrame) -> dict[str, pl.DataFrame]:
    """Three scans a car with a job behind the first: not every scan shows every code or reads every module."""
    seen: set[tuple[object, ...]] = set()
    read: set[tuple[object, ...]] = set()
    work: list[tuple[object, ...]] = []
    for vehicle, module, code in open_codes.select("vehicle", "module", "code").iter_rows():
        for day in (1, 9, 17):
            at = datetime(2026, 11, day, 9, 30)
            if day == 17 or rng.random() < 0.8:
                read.add((vehicle, at, module))
                if day == 17 or rng.random() < 0.7:
                    seen.add((vehicle, at, module, code))
    for vehicle in open_codes["vehicle"].unique(maintain_order=True):
        work.append((vehicle, datetime(2026, 11, 3, 16), f"J{vehicle}", True, "replace", "battery", ""))
        work.append((vehicle, datetime(2026, 11, 12, 8), f"E{vehicle}", True, None, None, None))
    places = ("vehicle", "scanned_at", "module", "code")
    works = ("vehicle", "done_at", "job", "erased", "action", "part", "position")
    return {
        "seen": pl.DataFrame(sorted(seen), schema=list(places), orient="row"),
        "read": pl.DataFrame(sorted(read), schema=list(places[:3]), orient="row"),
        "work": pl.DataFrame(work, schema=list(works), orient="row"),
    }


def _known_of_cars(shortlist: pl.DataFrame) -> dict[str, pl.DataFrame]:
    """Mileage, price and number of all cars but one of which nothing is known, and who supplies most parts."""
    cars = [
        {"vehicle": vehicle, "vin": f"ZZZ{place:014d}", "plate": f"ZZ {place}", "model_year": "2015",
         "asking_cents": 500_000 + 70_000 * place,
         "odometer": 90_000.4 + 1_000 * place}
        for place, vehicle in enumerate(sorted(set(shortlist["vehicle"])))
    ]  # fmt: skip
    cars[-1] |= {"asking_cents": None, "odometer": None, "model_year": None, "plate": None}
    schema = {"vehicle": pl.String, "vin": pl.String, "plate": pl.String, "model_year": pl.String,
              "asking_cents": pl.Int64, "odometer": pl.Float64}  # fmt: skip
    supplied = [
        (part, "Nordteile" if place % 3 else "Hafenlager") for place, part in enumerate(WORKS) if part != "battery"
    ]
    return {
        "cars": pl.DataFrame(cars, schema=schema),
        "part_suppliers": pl.DataFrame(supplied, schema=["part", "supplier"], orient="row"),
    }


def _ledger() -> Iterable[Row]:
    """Eight jobs in two months: five followed the list, of which three worked, one came back and one is not proven."""
    lines = (
        ("2026-10-01", "S-11", "replace boost hose", True, 0.8, "worked", 4200, 3000, "Nordteile"),
        ("2026-10-01", "S-12", "replace battery", True, 0.7, "came back", 11200, 1500, "Hafenlager"),
        ("2026-10-01", "S-13", "replace thermostat", False, 0.6, None, None, None, None),
        ("2026-10-01", "S-14", "replace ignition coil", True, 0.5, "worked", 3400, 1500, "Nordteile"),
        ("2026-11-01", "S-15", "replace wheel speed sensor, front left", True, 0.9, "worked", 3100, 2625, "Nordteile"),
        ("2026-11-01", "S-16", "replace purge valve", True, 0.9, "not proven", 3600, None, None),
        ("2026-11-01", "S-17", "replace fuel cap", False, 0.4, None, None, None, None),
        ("2026-11-01", "S-18", "replace fuel cap", False, 0.4, None, None, None, None),
    )
    names = ("month", "vehicle", "first_try", "followed", "chance", "outcome", "part_cost", "labour_cost", "supplier")
    for line in lines:
        row = dict(zip(names, line, strict=True))
        yield row | {
            "month": date.fromisoformat(str(row["month"])),
            "job": f"J{row['vehicle']}",
            "list_week": "2026-W40",
        }


def _outcomes(rng: random.Random) -> Iterable[Row]:
    for number in range(90):
        code = rng.choice(sorted({code for codes in LISTS.values() for code in codes}))
        yield {
            "vehicle": f"S-{number}", "job": f"J{number}", "module": code.split(":")[0], "code": code,
            "outcome": rng.choices(["cleared", "returned", "unproven", "unread"], [6, 2, 2, 1])[0], "km_proven": 92.0,
        }  # fmt: skip


def _run() -> Row:
    refused = "the header lacks scanned_at; it has time, code. The file was not loaded."
    return {
        "week": "2026-W48",
        "as_of": "2026-11-23",
        "before": "2026-W47",
        "counts": {"vehicles": 260, "scans": 811, "jobs": 402, "rows_read": 12044, "rows_refused": 3, "files_read": 9},
        "files": [
            {"name": "lift.csv", "layout": "scans", "rows_read": 0, "rows_loaded": 0, "rows_refused": 0,
             "rows_repeated": 0, "refused": refused, "notes": ""},
        ],
        "settings": {"currency": "EUR", "cheap_limit": 60.0, "road_test_km": 40.0, "country": "DE", "labour_rate": 45.0,
                     "specialist_cost": 300.0},
        "warnings": [
            "K-1011: no set of known parts explains HVAC:B10AF@aldane; look at it by hand",
            unknown_module("Lift platform", 7, "LIFT"),
        ],
    }  # fmt: skip


def own_minutes(row: Mapping[str, Any]) -> float | None:
    """Return a line's own time by a way of its own: check as told, labour at the settings' 45, 20 a drive."""
    if row["labour_cost"] is None:
        return None
    told = re.match(r"Checking first is cheaper: about (\d+) minutes?;", row["check_first"] or "")
    drive = 20 if row["action"] in ("replace", "repair") else 0
    return (int(told[1]) if told else 0) + round(row["labour_cost"] / 45 * 60) + drive
