"""A stock number is one car however it is capitalised, as long as the stock list does not say otherwise."""

from __future__ import annotations

from pipelines.ingest.normalise import normalise_spellings
from pipelines.storage.warehouse import Warehouse
from tests.support.small_dealer import built, load, workspace

SCAN = {"scanned_at": "2026-11-01T09:00", "module": "ECM", "code": "P0301"}


def test_scans_of_one_car_under_two_spellings_are_its_own(tmp_path):
    stock = [{"vehicle": "L-2191", "make": "Corvane", "model": "Alder"}]
    scans = [{**SCAN, "vehicle": "l-2191"}, {**SCAN, "vehicle": " L-2191 ", "code": "P0302"}]
    repairs = [{"vehicle": "L-2191", "job": "1", "done_at": "2026-10-02", "action": "erase"}]
    frames = built(tmp_path, ("open_codes", "warnings"), stock=stock, scans=scans, repairs=repairs)
    assert sorted(frames["open_codes"].select("vehicle", "code").rows()) == [
        ("L-2191", "ECM:P0301"),
        ("L-2191", "ECM:P0302"),
    ]
    assert not [detail for detail in frames["warnings"]["detail"] if "the stock list does not know" in detail]


def notes_of(folder, **tables) -> list[str]:
    place = workspace(folder, **tables)
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
        return normalise_spellings(warehouse)


def test_it_is_said(tmp_path):
    found = notes_of(
        tmp_path,
        stock=[{"vehicle": "L-2191", "make": "Corvane", "model": "Alder"}],
        scans=[{**SCAN, "vehicle": "l-2191"}],
    )
    assert "stock number 'l-2191' is taken for L-2191: only capitals or spaces differ" in found


def test_two_spellings_in_the_stock_list_stay_two_cars(tmp_path):
    stock = [
        {"vehicle": "a1", "make": "Corvane", "model": "Alder"},
        {"vehicle": "A1", "make": "Ostrel", "model": "Birch"},
    ]
    frames = built(tmp_path / "built", ("open_codes",), stock=stock, scans=[{**SCAN, "vehicle": "a1"}])
    assert frames["open_codes"]["vehicle"].to_list() == ["a1"]
    [said] = [note for note in notes_of(tmp_path / "said", stock=stock) if "stock list has" in note]
    assert "'a1', 'A1'" in said


def test_a_repair_that_names_its_car_by_the_vehicle_number_is_that_cars(tmp_path):
    vin = "Z907EA7T2N772KRK1"
    stock = [{"vehicle": "L101", "vin": vin, "make": "Corvane", "model": "Alder"}]
    repairs = [{"vehicle": vin.lower(), "job": "1", "done_at": "2026-11-02", "action": "erase"}]
    scans = [{**SCAN, "vehicle": "L101"}]
    frames = built(tmp_path / "built", ("jobs", "warnings"), stock=stock, scans=scans, repairs=repairs)
    assert frames["jobs"]["vehicle"].to_list() == ["L101"]
    assert not [detail for detail in frames["warnings"]["detail"] if "the stock list does not know" in detail]


def test_a_vehicle_number_of_two_cars_is_none_of_them(tmp_path):
    vin = "Z907EA7T2N772KRK1"
    stock = [{"vehicle": name, "vin": vin, "make": "Corvane", "model": "Alder"} for name in ("L101", "L102")]
    repairs = [{"vehicle": vin, "job": "1", "done_at": "2026-11-02", "action": "erase"}]
    frames = built(tmp_path, ("jobs",), stock=stock, repairs=repairs)
    assert frames["jobs"]["vehicle"].to_list() == [vin]
