import csv
import os
import re
import subprocess
import sys
from collections import Counter, defaultdict
from datetime import date, datetime, timedelta
from itertools import pairwise
from math import exp, prod, sqrt
from pathlib import Path
from random import Random
from zoneinfo import ZoneInfo

import pytest

from fixtures.dealer.cars import MODELS, Car, check_digit, draw_car
from fixtures.dealer.drawing import CARS, END, draw
from fixtures.dealer.exports import KM_PER_MILE
from fixtures.dealer.fault_table import FAULTS
from fixtures.dealer.faults import links_for
from fixtures.dealer.life import Entry, begin, draw_episode
from fixtures.dealer.makers import MAKES, code_of, key_of
from fixtures.dealer.parts import PARTS, SUPPLIERS, UPKEEP
from fixtures.dealer.wording import CODE_WORDS, MODULE_WORDS
from fixtures.dealer.workshop import possible

FIXTURES = Path(__file__).resolve().parents[1] / "fixtures"
DEMO, TRUTH = FIXTURES / "demo", FIXTURES / "demo_truth"

# The columns of the exchange layouts, in their order there.
LAYOUTS = {
    "scans": "vehicle,vin,scanned_at,odometer,odometer_unit,module,module_state,code,failure_type,status,occurrences,"
    "first_odometer,text,km_since_erase,warmups_since_erase,monitors_ready",
    "stock": "vehicle,vin,make,model,model_year,engine,fuel,gearbox,bought_on,sold_on,asking_price,modifications",
    "repairs": "vehicle,job,done_at,odometer,odometer_unit,action,part,position,supplier,part_cost,labour_minutes,note",
    "parts": "part,also_called,part_cost,labour_minutes,check_minutes,supplier",
    "background": "vehicle,make,module,code,reason,until",
}


def rows(path):
    files = sorted(path.glob("*.csv")) if path.is_dir() else [path]
    return [row for file in files for row in csv.DictReader(file.open(encoding="utf-8", newline=""))]


def inbox(table):
    return rows(DEMO / "inbox" / table)


@pytest.fixture(scope="module")
def stock():
    """The last stock row of each vehicle, as a later file replaces an earlier one."""
    return {row["vehicle"]: row for row in inbox("stock")}


@pytest.fixture(scope="module")
def scans(stock):
    """The readable scan rows with the stock number filled in and the time as local time."""
    by_vin = {row["vin"]: row["vehicle"] for row in stock.values()}
    return [
        row | {"vehicle": row["vehicle"] or by_vin[row["vin"]], "at": local(row["scanned_at"])}
        for row in inbox("scans")
        if not spoilt(row)
    ]


def spoilt(row):
    return (
        not re.fullmatch(r"\d{4}-\d\d-\d\dT[\d:+]+", row["scanned_at"])
        or not re.fullmatch(r"[\d.]+", row["odometer"])
        or not row["module"]
        or row["code"] == "PO301"
    )


def local(text):
    at = datetime.fromisoformat(text)
    return at.astimezone(ZoneInfo("Europe/Berlin")).replace(tzinfo=None) if at.tzinfo else at


def km(row):
    return float(row["odometer"]) * (KM_PER_MILE if row["odometer_unit"] == "mi" else 1)


def bare(code):
    """The code without failure type: five characters of a standard-shaped code, any other as it stands."""
    text = code.upper()
    return text[:5] if text[:1] in set("PBCU") else text


def car_of(model_name, **changes):
    """A car with every module of its model, drawn and then changed."""
    model = next(model for model in MODELS if model.name == model_name)
    return Car(**({**vars(draw_car(1, Random(1), (model,)))} | changes))


def within(count, n, chance, errors=4.0):
    """Whether ``count`` of ``n`` lies within ``errors`` binomial standard errors of ``chance``."""
    return abs(count - n * chance) <= errors * sqrt(n * chance * (1 - chance)) + 1e-9


# ---------------------------------------------------------------- the committed files


def test_drawing_again_gives_the_committed_bytes(tmp_path):
    out = tmp_path / "demo"
    command = [sys.executable, str(FIXTURES / "draw_demo.py"), "--out", str(out)]
    told = subprocess.run(
        command, check=True, capture_output=True, text=True, env=os.environ | {"PYTHONHASHSEED": "12345"}
    )
    assert told.stdout == f"{CARS} cars in {out}; the truth is in {out}_truth\n"
    for drawn, kept in ((out, DEMO), (tmp_path / "demo_truth", TRUTH)):
        files = {path.relative_to(kept): path.read_bytes() for path in kept.rglob("*") if path.is_file()}
        assert {path.relative_to(drawn): path.read_bytes() for path in drawn.rglob("*") if path.is_file()} == files


def test_another_seed_draws_another_dealer_of_the_wanted_size():
    one, other = draw(40, 12, seed=1), draw(40, 12, seed=2)
    assert len(one) == len(other) == 40
    assert [story.life.km for story in one] != [story.life.km for story in other]
    assert min(story.bought_on for story in one) >= END - timedelta(days=round(12 * 30.4))


def test_a_dealer_too_small_for_every_kind_of_car_is_refused():
    with pytest.raises(ValueError, match="at least 20 cars and 6 months; got 19 cars and 18 months"):
        draw(19)


@pytest.mark.parametrize("table", LAYOUTS)
def test_headers_are_the_exchange_layouts(table):
    files = sorted((DEMO / "inbox" / table).glob("*.csv"))
    assert files
    for file in files:
        assert file.read_text(encoding="utf-8").splitlines()[0] == LAYOUTS[table]


def test_one_scan_file_a_month_and_all_of_it_small():
    months = [path.stem.removeprefix("scans-") for path in sorted((DEMO / "inbox" / "scans").iterdir())]
    assert len(months) == 19  # 21 May 2025 to 20 November 2026 touches nineteen months
    assert (months[0], months[-1]) == ("2025-05", "2026-11")
    assert sum(path.stat().st_size for path in DEMO.rglob("*") if path.is_file()) < 3_000_000
    for month in months:
        taken = [row["scanned_at"] for row in rows(DEMO / "inbox" / "scans" / f"scans-{month}.csv") if not spoilt(row)]
        assert {at[:7] for at in taken} == {month}


def test_a_few_rows_are_spoilt_and_no_more():
    bad = [row for row in inbox("scans") if spoilt(row)]
    wrong = Counter(value for row in bad for value in (row["scanned_at"], row["code"], row["odometer"], row["module"]))
    assert len(bad) == 4
    assert wrong["23/11/26"] == wrong["PO301"] == wrong["84 5OO"] == wrong[""] == 1
    actions = Counter(row["action"] for row in inbox("repairs"))
    assert actions.pop("swap") == 1
    assert set(actions) <= {"replace", "repair", "clean", "adjust", "software", "inspect", "erase"}


# ---------------------------------------------------------------- cars


@pytest.mark.parametrize(
    ("vin", "digit"),
    # Printed with the rule, 49 CFR 565: examples of the regulation and of the record format.
    [("1G4AH59H45G118341", "4"), ("1M8GDM9AXKP042788", "X"), ("1J9RP1A36A1644345", "6"), ("1" * 17, "1")],
)
def test_check_digit_matches_published_numbers(vin, digit):
    assert check_digit(vin) == vin[8] == digit


def test_vins_are_well_formed_and_right_where_the_region_checks(stock):
    vins = [row["vin"] for row in stock.values()]
    assert len(set(vins)) == CARS
    assert all(re.fullmatch("[A-HJ-NPR-Z0-9]{17}", vin) for vin in vins)
    checked = [vin for vin in vins if vin[0] in "12345L"]
    assert len(checked) > 10
    assert all(check_digit(vin) == vin[8] for vin in checked)
    assert all(vin[8] == "Z" for vin in set(vins) - set(checked))


def test_makes_and_models_are_the_invented_ones(stock):
    lines = Counter(f"{row['make']} {row['model']}" for row in stock.values())
    assert set(lines) == {
        "Corvane Alder", "Corvane Birch", "Aldane Pilot", "Aldane Courier",
        "Brillon Six", "Tesmar Linnet", "Tesmar Heron", "Oskany Duo",
    }  # fmt: skip
    assert min(lines.values()) >= 10


def test_stock_and_sold_cars(stock):
    unsold = {vehicle for vehicle, row in stock.items() if not row["sold_on"]}
    faulty = {row["vehicle"] for row in rows(TRUTH / "stock_faults.csv")}
    assert len(stock) == CARS
    assert len(faulty) == 25
    assert faulty < unsold
    assert len(unsold - faulty) == 6
    assert all(row["bought_on"] < row["sold_on"] <= END.isoformat() for row in stock.values() if row["sold_on"])


def test_the_cars_without_a_fault_show_nothing_or_background_only(stock, scans):
    faulty = {row["vehicle"] for row in rows(TRUTH / "stock_faults.csv")}
    last = {}
    for row in scans:
        last.setdefault(row["vehicle"], {}).setdefault(row["at"], set()).add(bare(row["code"]))
    looked_past = {code_of(name, "corvane") for name in ("{trailer}", "{zone}", "{sun}")} | {"U0184"}
    without = [v for v, row in stock.items() if not row["sold_on"] and v not in faulty]
    shown = {vehicle: last[vehicle][max(last[vehicle])] - {""} for vehicle in without}
    assert all(codes <= looked_past for codes in shown.values())
    assert sum(bool(codes) for codes in shown.values()) == 4
    assert all(bool(codes) == bool(stock[vehicle]["modifications"]) for vehicle, codes in shown.items())


# ---------------------------------------------------------------- scans and jobs


def test_every_scan_row_is_of_a_car_in_the_stock_list_by_then(stock, scans):
    assert all(row["vehicle"] in stock for row in scans)
    assert all(row["at"].date() >= date.fromisoformat(stock[row["vehicle"]]["bought_on"]) for row in scans)
    assert all(row["at"].date() <= END for row in scans)
    assert {row["vehicle"] for row in scans} == set(stock)


def test_odometers_never_run_back(scans):
    readings = {(row["vehicle"], row["at"], km(row)) for row in scans}
    for row in inbox("repairs"):
        if "T" in row["done_at"]:
            readings.add((row["vehicle"], datetime.fromisoformat(row["done_at"]), km(row)))
    by_car = defaultdict(list)
    for vehicle, at, distance in sorted(readings):
        by_car[vehicle].append((at, distance))
    assert len(by_car) == CARS
    for series in by_car.values():
        times = [at for at, _ in series]
        assert len(set(times)) == len(times)  # no scan at the minute of a job, no odometer twice in one scan
        # A tenth of a mile is the coarsest reading.
        assert all(later >= earlier - 0.17 for (_, earlier), (_, later) in pairwise(series))


def test_a_module_row_is_blank_or_its_codes_are_distinct(scans):
    modules = defaultdict(list)
    for row in scans:
        modules[row["vehicle"], row["at"], row["module"]].append(row)
    assert any(len(group) > 1 for group in modules.values())
    for group in modules.values():
        codes = [bare(row["code"]) for row in group]
        assert len(set(codes)) == len(codes)
        assert len(codes) == 1 or "" not in codes
        assert all(row["code"] == "" for row in group if row["module_state"] == "silent")


def test_both_programs_habits_are_there(scans):
    codes = [row["code"] for row in scans if row["code"]]
    status = {row["status"] for row in scans if row["code"]}
    assert {"2F", "AF", "08", "50", "active", "history", "pending", "confirmed"} <= status
    assert any(re.fullmatch("[pbcu][0-9a-f]{4}", code) for code in codes)
    for glue in "-: ":
        assert any(re.fullmatch(f"[PBCU][0-9A-F]{{4}}{glue}[0-9A-F]{{2}}", code) for code in codes)
    assert {"ECM", "Engine", "0x7E8", "ABS", "Brakes", "central electronics"} <= {row["module"] for row in scans}
    assert any(row["failure_type"] for row in scans)
    assert any(row["module_state"] == "silent" for row in scans)
    assert {row["odometer_unit"] for row in scans} == {"km", "mi"}
    assert any(row["monitors_ready"] == "false" for row in scans)
    assert {"00532", "2A87", "1E05"} & {bare(code) for code in codes} == {"00532", "2A87", "1E05"}


def test_a_job_that_notes_only_its_day_follows_that_days_scan_and_no_later_one(scans):
    days = defaultdict(set)
    for row in scans:
        days[row["vehicle"], row["at"].date()].add(row["at"])
    whole = {
        (row["vehicle"], date.fromisoformat(row["done_at"])) for row in inbox("repairs") if "T" not in row["done_at"]
    }
    assert len(whole) > 30
    assert all(len(days[place]) == 1 for place in whole)


def test_job_rows_follow_the_price_book():
    spellings = {name: part.name for part in PARTS.values() for name in (part.name, *part.also_called)}
    assert len(spellings) == sum(1 + len(part.also_called) for part in PARTS.values())  # no synonym means two parts
    used = Counter()
    for row in inbox("repairs"):
        if row["part"]:
            part = PARTS[spellings[row["part"]]]
            assert row["action"] in (part.action, "swap")
            assert float(row["part_cost"]) == pytest.approx(part.cost, rel=0.09)
            used[row["part"] == part.name] += 1
    assert used[False] > 60  # the log does not always spell as the price book does
    assert {row["part"] for row in inbox("parts")} == set(PARTS)


# ---------------------------------------------------------------- the truth


def test_truth_lies_outside_the_folder_that_is_worked_on():
    assert not [path for path in DEMO.rglob("*") if "truth" in path.name]
    assert sorted(path.name for path in TRUTH.iterdir()) == ["families.csv", "stock_faults.csv", "visits.csv"]


def test_codes_of_a_stock_cars_faults_were_seen_in_its_scans(stock, scans):
    seen = defaultdict(set)
    for row in scans:
        seen[row["vehicle"]].add(bare(row["code"]))
    families = {(row["fault"], row["code"]) for row in rows(TRUTH / "families.csv")}
    for row in rows(TRUTH / "stock_faults.csv"):
        codes = row["codes"].split(";")
        assert {(row["fault"], code) for code in codes} <= families
        assert {code.split(":")[1].split("@")[0] for code in codes} <= seen[row["vehicle"]]
        assert row["part"] in PARTS


def test_visits_of_the_truth_are_the_jobs_of_the_log():
    told = {(row["vehicle"], row["job"]) for row in inbox("repairs")} - {
        (row["vehicle"], row["job"]) for row in inbox("repairs") if row["action"] == "swap"
    }
    assert {(row["vehicle"], row["job"]) for row in rows(TRUTH / "visits.csv")} == told


def test_a_cured_fault_had_its_part_fitted_at_that_visit():
    spellings = {name: part.name for part in PARTS.values() for name in (part.name, *part.also_called)}
    fitted = {(row["job"], spellings[row["part"]], row["position"]) for row in inbox("repairs") if row["part"]}
    cured = [row for row in rows(TRUTH / "visits.csv") if row["cured"] == "true"]
    assert len(cured) > 200
    assert all((row["job"], row["part"], row["position"]) in fitted for row in cured)


def test_planted_families_count_no_more_than_there_are():
    for row in rows(TRUTH / "families.csv"):
        assert 0 <= int(row["vehicles"]) <= int(row["carriers"]) <= CARS
        assert 0 < float(row["chance"]) < 1


# ---------------------------------------------------------------- the world behind it


def test_about_thirty_faults_each_with_a_code_of_its_own_and_a_price():
    assert 28 <= len(FAULTS) <= 36
    assert len({fault.key for fault in FAULTS}) == len(FAULTS)
    assert all(any(link.own for link in fault.links) for fault in FAULTS)
    assert {fault.part for fault in FAULTS} | set(UPKEEP) == set(PARTS)
    assert sum(len({link.module for link in fault.links}) > 1 for fault in FAULTS) >= 15
    assert sum(len(fault.links) == 1 for fault in FAULTS) >= 3
    owners = Counter((link.module, link.code) for fault in FAULTS for link in fault.links)
    assert sum(count > 1 for count in owners.values()) >= 15  # codes that two faults can leave
    assert FAULTS[0].part == "battery"


def test_every_code_and_module_has_a_wording():
    used = {(link.module, code_of(link.code, make)) for fault in FAULTS for link in fault.links for make in MAKES}
    assert {code for _, code in used} <= set(CODE_WORDS)
    assert {module for model in MODELS for module in model.modules} == set(MODULE_WORDS)


@pytest.mark.parametrize(
    ("code", "key"),
    # Who controls which range: SAE J2012 (P0, P2, C0, B0, U0 and U3 by the standard; P1, B1, C1, U1 by the maker).
    [
        ("P0301", "ECM:P0301"), ("P2463", "ECM:P2463"), ("U3003", "ECM:U3003"), ("U0401", "ECM:U0401"),
        ("P1247", "ECM:P1247@corvane"), ("B1341", "ECM:B1341@corvane"), ("U1A0E", "ECM:U1A0E@corvane"),
        ("00532", "ECM:00532@corvane"), ("2A87", "ECM:2A87@corvane"), ("1E05", "ECM:1E05@corvane"),
    ],
)  # fmt: skip
def test_keys_carry_the_make_only_where_the_maker_controls_the_code(code, key):
    assert key_of("ECM", code, "corvane") == key


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.key)
def test_codes_of_a_fault_appear_as_often_as_planted(fault):
    rng, n = Random(5), 2000
    model = max(MODELS, key=lambda model: sum(link.module in model.modules for link in fault.links))
    car = car_of(model.name)
    drawn = Counter(link for _ in range(n) for link in draw_episode(fault, car, rng).codes)
    links = links_for(fault, car.make, car.modules)
    assert links
    assert all(within(drawn[link], n, link.chance) for link in links)


def test_two_faults_combine_as_a_noisy_or():
    # Pearl's noisy-OR: the code stays away only where every cause fails to leave it.
    rng, n, car = Random(6), 3000, car_of("Pilot")
    pair = [fault for fault in FAULTS if fault.part in ("battery", "alternator")]
    place = ("ECM", "P0562")
    chances = [link.chance for fault in pair for link in fault.links if (link.module, link.code) == place]
    hits = sum(
        any((link.module, link.code) == place for fault in pair for link in draw_episode(fault, car, rng).codes)
        for _ in range(n)
    )
    assert len(chances) == 2
    assert within(hits, n, 1 - prod(1 - chance for chance in chances))


@pytest.mark.parametrize("distance", [5.0, 20.0])
def test_erased_codes_return_after_an_exponential_distance_and_stale_ones_do_not(distance):
    rng, n = Random(7), 1500
    fault = next(fault for fault in FAULTS if fault.part == "thermostat")
    back = stored = stale_back = 0
    for _ in range(n):
        life = begin(car_of("Linnet"), date(2026, 1, 5), [fault], (), rng)
        life.memory["ABS", "C0020"] = Entry("ABS", "C0020", "", 0.0, 1, "")
        life.erase()
        assert not life.memory
        life.drive(distance)
        codes = life.episodes[0].codes
        stored += len(codes)
        back += sum((link.module, link.code) in life.memory for link in codes)
        stale_back += ("ABS", "C0020") in life.memory
    assert within(back, stored, 1 - exp(-distance / fault.return_km))
    assert stale_back < 0.005 * n


def test_a_fixed_fault_brings_nothing_back_and_a_modification_does():
    rng = Random(8)
    life = begin(car_of("Alder"), date(2026, 1, 5), [FAULTS[0]], ("tow bar",), rng)
    life.episodes[0].fixed = True
    life.erase()
    life.drive(90.0)
    assert {("BCM", code_of("{trailer}", "corvane")), ("PAM", code_of("{zone}", "corvane"))} <= set(life.memory)
    assert not {(link.module, link.code) for link in life.episodes[0].codes} & set(life.memory)


def test_faults_fit_the_car():
    keys = {name: {fault.part for fault in possible(car_of(name))[0]} for name in ("Linnet", "Heron", "Pilot")}
    assert "boost hose" in keys["Pilot"] & keys["Heron"] - keys["Linnet"]
    assert "EGR valve" in keys["Heron"] - keys["Pilot"]
    assert "spark plug set" in keys["Linnet"] - keys["Heron"]


def test_the_workshops_habits_are_as_frequent_as_planted():
    spellings = {name: part.name for part in PARTS.values() for name in (part.name, *part.also_called)}
    count = Counter()
    for visit in (visit for story in draw(1000, seed=11) for visit in story.visits):
        names = [(spellings[action.part], action.position) for action in visit.actions if action.part]
        fitted = [f"{part} {position}".strip() for part, position in names if part not in UPKEEP]
        count["job"] += bool(fitted)
        count["erase only"] += not fitted
        count["erased"] += bool(fitted) and any(action.action == "erase" for action in visit.actions)
        count["several"] += len(fitted) > 1
        count["whole day"] += visit.whole_day
        if len(fitted) == 1 and visit.present:
            count["single"] += 1
            right = fitted[0] in visit.present
            count["right"] += right
            count["bad part"] += right and fitted[0] not in visit.cured
    assert count["job"] > 1000
    assert within(count["erased"], count["job"], 0.92)
    assert within(count["whole day"], count["job"], 0.18)
    # A second part where the car has two faults and a guess at one: together near fifteen in a hundred.
    assert within(count["several"], count["job"], 0.15)
    # One guess in twelve is wrong where another part could explain the codes, which it not always can.
    assert 0.05 < 1 - count["right"] / count["single"] < 0.1
    assert within(count["bad part"], count["right"], sum(share * bad for _, share, bad in SUPPLIERS))
    assert sum(share * bad for _, share, bad in SUPPLIERS) == pytest.approx(0.04)
    assert 0.12 < count["erase only"] / (count["job"] + count["erase only"]) < 0.25
