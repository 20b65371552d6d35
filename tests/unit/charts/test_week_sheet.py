"""The week on one sheet: who comes first, what is ordered from whom, and the sums, from rows by hand."""

from __future__ import annotations

from datetime import datetime

import polars as pl

from analysis.charts.car_rows import Time, car_rows, minutes_of, time_of, without_ages
from analysis.charts.tickets import tickets
from analysis.charts.week_sheet import MOST_CARS, WeekSheet, week_sheet
from tests.support.sample_report import prepared

USUAL: dict[str, object] = {"rank": 1, "action": "replace", "part": "hose", "part_cost": 4000, "labour_cost": 3000,
                            "total_cost": 7000, "chance": 0.8, "expected_cost": 9000, "clears": "E:1"}  # fmt: skip
SETTINGS = {"labour_rate": 45.0, "specialist_cost": 300.0}


def sheet_of(*lines: dict[str, object]) -> WeekSheet:
    """The sheet of these first lines."""
    listed = prepared("shortlist", [USUAL | line for line in lines])
    made = tickets(listed, prepared("open_codes", OPEN))
    rows = car_rows(made, {"open_codes": prepared("open_codes", OPEN), "cars": CARS}, SETTINGS, {})
    suppliers = pl.DataFrame({"part": ["hose"], "supplier": ["Depot"]})
    return week_sheet(rows, suppliers)


OPEN = [{"vehicle": "slow", "module": "E", "code": "E:1"}]
CARS = pl.DataFrame({"vehicle": ["slow", "quick"], "asking_cents": [500_000, None]})


def test_cars_stand_by_time_and_what_is_handed_over_or_left_stands_last():
    sheet = sheet_of(
        {"vehicle": "slow", "labour_cost": 9000}, {"vehicle": "quick", "labour_cost": 750},
        {"vehicle": "unknown", "labour_cost": None},
        {"vehicle": "leave", "action": "leave", "part": None, "total_cost": 0},
        {"vehicle": "hand over", "action": "specialist", "part": None, "labour_cost": None, "part_cost": None},
    )  # fmt: skip
    assert [row.ticket.vehicle for row in sheet.rows] == ["quick", "slow", "unknown", "hand over", "leave"]
    # 7.50 and 90 at 45 an hour are 10 and 120 minutes, and 20 for the test drive; the line that is left stands with its
    # 30, 40 minutes.
    assert [row.minutes for row in sheet.rows] == [30, 140, None, None, 40]
    assert sheet.asking == 5000.0


CHECK = "Checking first is cheaper: about 5 minutes; buy it only once it is proven faulty."


def test_parts_are_ordered_by_supplier_and_a_repair_takes_its_material():
    sheet = sheet_of(
        {"vehicle": "A"}, {"vehicle": "B"}, {"vehicle": "C", "part": "coil", "position": "cylinder 2"},
        {"vehicle": "D", "action": "repair", "part": "loom"},
        {"vehicle": "quick", "part": "cap", "part_cost": 1200, "check_first": CHECK},
        {"vehicle": "E", "check_first": CHECK},
    )  # fmt: skip
    assert [
        (supplier, [(line.part, line.cost, list(line.cars), line.checked) for line in lines])
        for supplier, lines in sheet.orders
    ] == [
        ("Depot", [("hose", 40.0, ["A", "B"], False), ("hose", 40.0, ["E"], True)]),
        (
            "",
            [
                ("cap", 12.0, ["quick"], True),
                ("coil, cylinder 2", 40.0, ["C"], False),
                ("material for loom", 40.0, ["D"], False),
            ],
        ),
    ]
    # Bought now, and maybe after the check: the sums of these lines, and nothing beside them.
    lines = [line for _, listed in sheet.orders for line in listed]
    assert sheet.sums.now == 40 * 4 == sum(line.cost * len(line.cars) for line in lines if not line.checked)
    assert sheet.sums.maybe == 12 + 40 == sum(line.cost * len(line.cars) for line in lines if line.checked)


def test_a_scan_older_than_a_week_says_how_old_it_is_from_the_day_of_the_list():
    listed, opened = prepared("shortlist", [USUAL | {"vehicle": "slow"}]), prepared("open_codes", OPEN)
    for day, age in ((16, None), (15, 8), (1, 22)):
        read = pl.DataFrame(
            {"vehicle": ["slow"] * 2, "scanned_at": [datetime(2026, 9, 1), datetime(2026, 11, day, 23)]}
        )
        tables = {"open_codes": opened, "read": read}
        [row] = car_rows(tickets(listed, opened), tables, SETTINGS, {}, as_of="2026-11-23")
        assert row.age == age
        [row] = car_rows(tickets(listed, opened), tables, SETTINGS, {})
        assert row.age is None, "the day of the list is not known"


def test_old_scans_are_told_once_where_most_are_old():
    listed = prepared("shortlist", [USUAL | {"vehicle": name} for name in ("a", "b", "c")])
    opened = prepared("open_codes", OPEN)
    for days, told in (((1, 1, 16), (2, 3, 22, 22)), ((1, 16, 16), None)):
        read = pl.DataFrame({"vehicle": ["a", "b", "c"], "scanned_at": [datetime(2026, 11, day) for day in days]})
        tables = {"open_codes": opened, "read": read}
        rows, once = without_ages(car_rows(tickets(listed, opened), tables, SETTINGS, {}, as_of="2026-11-23"))
        assert once == told
        assert {row.ticket.vehicle: row.age for row in rows}["a"] == (None if told else 22)


def test_a_part_can_be_ordered_from_the_paper_alone():
    line: dict[str, object] = {"position": "front left", "clears": "E:1@brillon;E:2"}
    listed = prepared("shortlist", [
        USUAL | line | {"vehicle": "slow", "make": "Aldane", "model": "Wherry"}, USUAL | line | {"vehicle": "quick"},
    ])  # fmt: skip
    cars = CARS.with_columns(
        plate=pl.Series(["ZZ 12", None]), vin=pl.Series(["ZZZ1", None]), model_year=pl.Series(["2019", None])
    )
    opened = prepared("open_codes", OPEN)
    rows = car_rows(tickets(listed, opened), {"open_codes": opened, "cars": cars}, SETTINGS, {})
    [(_, [ordered])] = week_sheet(rows, None, cars).orders
    assert ordered.part == "hose, front left"
    # Of a car without a make, the maker of its own codes is named.
    assert ordered.cars == {"slow": "ZZ 12, Aldane Wherry 2019, VIN ZZZ1", "quick": "brillon, VIN not known"}


def test_the_four_sums_of_money_add_up():
    sheet = sheet_of(
        {"vehicle": "A"}, {"vehicle": "B", "expected_cost": 12_345},
        {"vehicle": "hand over", "action": "specialist", "part": None, "total_cost": 30_000, "expected_cost": 30_000},
        {"vehicle": "leave", "action": "leave", "part": None, "total_cost": 0, "expected_cost": 0},
        {"vehicle": "unknown", "expected_cost": None},
    )  # fmt: skip
    # First tries: 70, 70, 300, 0, 70. To the end: 90, 123.45, 300 and nothing; handing over these three: 3 x 300.
    sums = sheet.sums
    assert (sums.first, sums.to_end, sums.handing) == (510.0, 513.45, 900.0)
    assert sums.saving == 900 - 513 == round(sums.handing) - round(sums.to_end)


def test_a_long_list_is_cut_and_the_rest_counted():
    sheet = sheet_of(*({"vehicle": f"v{place:03d}"} for place in range(MOST_CARS + 3)))
    assert (len(sheet.rows), sheet.more) == (MOST_CARS, 3)


def test_own_time_is_check_work_and_test_drive_and_a_drive_alone_is_not_counted_twice():
    row = {"action": "replace", "labour_cost": 22.5, "check_first": CHECK}
    assert time_of(row, 45.0) == Time(check=5, work=30, drive=20)
    assert time_of(row, 45.0, checked=False) == Time(check=0, work=30, drive=20)
    assert time_of(row | {"check_first": "Look at it."}, 45.0) == Time(check=0, work=30, drive=20)
    assert time_of(row | {"action": "recheck", "labour_cost": 15, "check_first": ""}, 45.0) == Time(0, 0, 20)
    assert time_of(row | {"labour_cost": None}, 45.0) is None
    [one] = sheet_of({"vehicle": "A", "labour_cost": 2250, "check_first": CHECK}).rows
    assert one.minutes == 55


def test_minutes_want_a_labour_cost_and_a_rate():
    assert minutes_of({"labour_cost": 22.5}, 45.0) == 30
    assert (
        minutes_of({"labour_cost": None}, 45.0)
        is minutes_of({"labour_cost": 5.0}, 0)
        is minutes_of({"labour_cost": 5.0}, None)
        is None
    )


def test_what_is_ordered_now_stands_apart_from_what_waits_for_a_check():
    sheet = sheet_of(
        {"vehicle": "A"}, {"vehicle": "B", "check_first": CHECK}, {"vehicle": "C", "part": "coil", "check_first": CHECK}
    )  # fmt: skip
    assert [(supplier, [line.part for line in lines]) for supplier, lines in sheet.now] == [("Depot", ["hose"])]
    assert [(supplier, [line.part for line in lines]) for supplier, lines in sheet.maybe] == [
        ("Depot", ["hose"]), ("", ["coil"]),
    ]  # fmt: skip


def test_a_first_try_without_own_jobs_is_a_hint_only_where_it_rests_on_codes_that_come_together():
    told = [("pattern", 0), ("pattern", None), ("code", 0), ("repairs", 3)]
    lines = [{"vehicle": f"{at}", "basis": basis, "jobs": jobs} for at, (basis, jobs) in enumerate(told)]
    hints = {row.ticket.vehicle: row.hint for row in sheet_of(*lines).rows}
    assert hints == {"0": True, "1": True, "2": False, "3": False}
