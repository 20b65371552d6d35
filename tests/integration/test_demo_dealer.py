import csv
import os
import re
import subprocess
import sys
from collections import Counter, defaultdict
from datetime import date, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from fixtures.dealer.cars import check_digit
from fixtures.dealer.drawing import CARS, END, draw
from fixtures.dealer.exports import KM_PER_MILE
from fixtures.dealer.makers import code_of
from fixtures.dealer.parts import PARTS

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
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
        "Corvane Alder", "Corvane Birch", "Aldane Wherry", "Aldane Coracle",
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
