"""Odometers, times and numbers that can hardly be right: each case on a few rows, with its place and its words."""

from __future__ import annotations

from datetime import date

import pytest

from pipelines.batch.weekly import run_week
from tests.support.small_dealer import AS_OF, Rows, built, workspace

VIN, OTHER = "ZZZCV1ALD00000001", "ZZZCV1ALD00000002"
STOCK: Rows = [{"vehicle": "A1", "make": "Corvane", "model": "Alder"}]


def scan(at: str, odometer: object = "", **more: object) -> dict[str, object]:
    return {"vehicle": "A1", "scanned_at": at, "module": "ECM", "odometer": odometer, **more}


def job(at: str, odometer: object = "") -> dict[str, object]:
    return {"vehicle": "A1", "job": "J1", "done_at": at, "odometer": odometer, "action": "erase"}


def warned(tmp_path, scans: Rows, repairs: Rows = (), stock: Rows = STOCK) -> list[tuple]:  # type: ignore[assignment]
    tables = {"scans": scans, "stock": stock} | ({"repairs": repairs} if repairs else {})
    return built(tmp_path, ("warnings",), **tables)["warnings"].rows()


def test_an_odometer_that_runs_back_is_named_with_both_places(tmp_path):
    scans = [scan("2026-03-01T09:00", 50000), scan("2026-03-05T09:00", 49990)]
    assert warned(tmp_path, scans, [job("2026-03-03T09:00", 50010)]) == [
        (
            "odometer runs back",
            "A1",
            "2026-03-05 09:00:00",
            "A1: scans/scans.csv row 3 has 49990 km after 50010 km in repairs/repairs.csv row 2; "
            "one of them is wrong, or the cluster was changed",
        )
    ]


@pytest.mark.parametrize(
    ("scans", "repairs"),
    [
        pytest.param([scan("2026-03-01T09:00", 50000), scan("2026-03-05T09:00", 49999)], [], id="one km is rounding"),
        pytest.param(
            [scan("2026-03-01T09:00", 31068.6, odometer_unit="mi"), scan("2026-03-05T09:00", 50000)], [], id="miles"
        ),
        pytest.param([scan("2026-03-02T09:00", 49990)], [job("2026-03-02", 50000)], id="a job known by its day only"),
        pytest.param([scan("2026-03-01T09:00", 50000), scan("2026-03-05T09:00")], [], id="no odometer"),
        pytest.param([scan("2026-01-01T09:00", 50000), scan("2026-11-05T09:00", 80467)], [], id="driven in ten months"),
        pytest.param([scan("2026-11-23T23:59", 50000)], [job("2026-11-23")], id="the day of the report"),
        pytest.param([scan("2026-03-01T09:00", vin=VIN)], [], id="a vehicle number that the stock list lacks"),
    ],
)
def test_what_may_well_be_right_is_not_warned_of(tmp_path, scans, repairs):
    assert warned(tmp_path, scans, repairs) == []


@pytest.mark.parametrize(
    ("first", "second", "later"), [(50000, 80467, "2026-04-01T09:00"), (80467, 50000, "2026-11-01T09:00")]
)
def test_a_jump_as_from_km_to_miles_is_called_that_and_not_a_runback(tmp_path, first, second, later):
    # 50000 miles are 80467.2 km by the definition of the mile, 1.609344 km.
    [(kind, vehicle, at, detail)] = warned(tmp_path, [scan("2026-03-01T09:00", first), scan(later, second)])
    assert (kind, vehicle, at) == ("km and miles", "A1", later.replace("T", " ") + ":00")
    assert detail == (
        f"A1: scans/scans.csv row 3 has {second} km after {first} km in scans/scans.csv row 2, "
        "which is as far apart as km and miles; one of them may lack its odometer_unit"
    )


def test_scans_and_jobs_of_tomorrow_are_named(tmp_path):
    assert warned(tmp_path, [scan("2026-11-24T00:00")], [job("2027-01-05")]) == [
        (
            "in the future",
            "A1",
            "2026-11-24 00:00:00",
            "A1: scans/scans.csv row 2 has a scan on 2026-11-24, after the day of this report",
        ),
        (
            "in the future",
            "A1",
            "2027-01-05 00:00:00",
            "A1: repairs/repairs.csv row 2 has a job on 2027-01-05, after the day of this report",
        ),
    ]


def test_one_stock_number_with_two_vehicle_numbers(tmp_path):
    stock = [{**STOCK[0], "vin": OTHER}, {**STOCK[0], "vin": VIN}]
    scans = [scan("2026-03-01T09:00", vin=VIN), scan("2026-03-02T09:00", vin="ZZZCV1ALD00000003")]
    assert warned(tmp_path, scans, stock=stock) == [
        (
            "two vehicle numbers",
            "A1",
            "",
            f"A1 stands with {VIN} (scans/scans.csv row 2) and ZZZCV1ALD00000003 (scans/scans.csv row 3); "
            "one stock number means one car",
        )
    ]


@pytest.mark.slow
def test_a_stock_number_with_another_cars_number_is_said_on_the_first_screen(tmp_path):
    scans = [scan("2026-03-01T09:00", vin=VIN), scan("2026-11-20T09:00", vin=OTHER, code="P0301")]
    place = workspace(tmp_path, stock=STOCK, scans=scans)
    run_week(place, AS_OF)
    page = (place.reports / "2026-W48" / "index.html").read_text(encoding="utf-8")
    lead = page.partition('<p class="lead">')[2].partition("</p>")[0]
    assert '<a href="#notes">A1 stands with two vehicle numbers (VIN): whose codes are they?</a>' in lead
    first = page.partition('id="notes-h">')[2].partition("</li>")[0]
    assert "one stock number means one car" in first


def test_one_vehicle_number_under_two_stock_numbers(tmp_path):
    stock = [{**STOCK[0], "vin": VIN}, {"vehicle": "A2", "vin": VIN, "make": "Corvane", "model": "Alder"}]
    assert warned(tmp_path, [scan("2026-03-01T09:00")], stock=stock) == [
        (
            "two stock numbers",
            "A1",
            "",
            f"{VIN} stands under A1 (stock/stock.csv row 2) and A2 (stock/stock.csv row 3); "
            "their scans and jobs are not put together",
        )
    ]


def test_the_run_notes_the_first_twenty_and_counts_the_rest_and_keeps_the_data(tmp_path):
    scans = [scan("2026-12-01T09:00", code="P0301")] + [
        {"vehicle": f"B{number:02}", "scanned_at": "2026-12-01T09:00", "module": "ECM"} for number in range(24)
    ]
    report = run_week(workspace(tmp_path, stock=STOCK, scans=scans), date(2026, 11, 23))
    warnings = [note for note in report.notes if "ahead of this report" in note]
    assert len(warnings) == 20
    assert warnings[:2] == [
        f"scans/scans.csv row {row} has a scan of {car} on 2026-12-01, more than a day ahead of this report: left out "
        "until that day. If the date is wrong, mend the file"
        for row, car in ((2, "A1"), (3, "B00"))
    ]
    assert "and 5 more warnings of these kinds" in report.notes
    assert report.counts["rows_loaded"] == 26


def test_scans_that_name_unknown_vehicle_numbers_alone_are_told_of(tmp_path):
    scans = [scan(f"2026-03-0{day}T09:00", vehicle="", vin=vin) for day, vin in ((1, VIN), (2, OTHER), (3, OTHER))]
    assert warned(tmp_path, scans) == [
        (
            "vehicle number not in the stock list",
            "",
            "",
            f"3 rows of scans in scans/scans.csv name the car by its vehicle number alone, and the stock list does not "
            f"know it ({VIN} and 1 more): they count as soon as it does. Put a list with the columns vehicle and vin "
            "into inbox/stock",
        )
    ]
    known = [{**STOCK[0], "vin": VIN}, {"vehicle": "A2", "vin": OTHER, "make": "Corvane", "model": "Alder"}]
    assert warned(tmp_path / "known", scans, stock=known) == []
