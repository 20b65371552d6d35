"""A stock number is one car however it is capitalised, as long as the stock list does not say otherwise."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from pipelines.ingest.normalise import normalise_spellings
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.recognise import read_mapped
from pipelines.storage.file_loader import Arrival, LoadedFile, load_files
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


def by_mapping(folder, name: str, text: str, mapping: str):
    """Read a file of the stock list by a mapping, as the week does."""
    (folder / name).write_text(text, encoding="utf-8")
    (folder / "m.toml").write_text(f'serves = ["*.csv"]\nformat = "table"\n{mapping}', encoding="utf-8")
    return read_mapped(folder / name, load_mapping(folder / "m.toml"), ZoneInfo("UTC"))


PLATED = """table = "stock"
columns = {vehicle = "No", plate = "Reg", make = "Make", model = "Model"}
"""


def test_a_plate_of_the_stock_list_is_another_name_of_its_car(tmp_path):
    scans = [{**SCAN, "vehicle": name} for name in ("LT44RKM", "lt44-rkm", " LT 44 RKM", "LT44RKP", "K-204")]
    scans = [{**scan, "code": f"P030{at}"} for at, scan in enumerate(scans)]
    repairs = [{"vehicle": "Lt44 Rkm", "job": "1", "done_at": "2026-10-02", "action": "erase"}]
    place = workspace(tmp_path / "w", scans=scans, repairs=repairs)
    listed = by_mapping(tmp_path, "s.csv", "No,Reg,Make,Model\nK-204,LT 44 RKM,Corvane,Alder\n", PLATED)
    assert listed.rejects.is_empty()
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
        load_files(warehouse, [Arrival(LoadedFile("s.csv", "stock", "0", "2026-W48"), listed.rows, listed.rejects)])
        notes = normalise_spellings(warehouse)
        named = dict(warehouse.query("select spelling, vehicle from spelling.vehicles").iter_rows())
    assert {spelling.strip(): vehicle for spelling, vehicle in named.items()} == {
        **dict.fromkeys(("LT44RKM", "lt44-rkm", "LT 44 RKM", "Lt44 Rkm", "K-204"), "K-204"),
        "LT44RKP": "LT44RKP",
    }
    assert [note for note in notes if "plates stand in place of a stock number" in note]


def test_a_plate_of_two_cars_names_none_and_a_listed_number_is_never_another_cars_plate(tmp_path):
    text = "No,Reg,Make,Model\nK-204,AB 12 CDE,Corvane,Alder\nK-205,ab12cde,Corvane,Alder\n"
    text += "K204X,K2-05X,Corvane,Alder\n"
    listed = by_mapping(tmp_path, "s.csv", f"{text}K205X,-,Corvane,Alder\n", PLATED)
    place = workspace(tmp_path / "w", scans=[{**SCAN, "vehicle": "AB12CDE"}, {**SCAN, "vehicle": "k205x"}])
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
        load_files(warehouse, [Arrival(LoadedFile("s.csv", "stock", "0", "2026-W48"), listed.rows, listed.rejects)])
        notes = normalise_spellings(warehouse)
        named = dict(warehouse.query("select spelling, vehicle from spelling.vehicles").iter_rows())
    assert (named["AB12CDE"], named["k205x"]) == ("AB12CDE", "K205X")
    [said] = [note for note in notes if "it names none of them" in note]
    assert "'AB 12 CDE' for K-204 and K-205" in said


def test_a_vehicle_number_of_two_cars_is_none_of_them(tmp_path):
    vin = "Z907EA7T2N772KRK1"
    stock = [{"vehicle": name, "vin": vin, "make": "Corvane", "model": "Alder"} for name in ("L101", "L102")]
    repairs = [{"vehicle": vin, "job": "1", "done_at": "2026-11-02", "action": "erase"}]
    frames = built(tmp_path, ("jobs",), stock=stock, repairs=repairs)
    assert frames["jobs"]["vehicle"].to_list() == [vin]


def test_a_number_of_no_stock_list_is_the_car_that_has_the_vehicle_number_of_its_scans(tmp_path):
    vin, other, third = "YARDX000000000001", "YARDX000000000002", "YARDX000000000003"
    stock = [
        {"vehicle": car, "make": "Corvane", "model": "Alder", "vin": number}
        for car, number in (("K-1", vin), ("K-2", other), ("K-3", third), ("K-4", third))
    ]
    scans = [
        {**SCAN, "vehicle": car, "vin": number, "code": code}
        for car, number, code in (
            ("GA 7", vin.lower(), "P0301"), ("GA 7", None, "P0302"),  # one vehicle number, once left blank
            ("Key 3", vin, "P0303"), ("Key 3", other, "P0304"),  # a tag that two cars have borne
            ("K-2", vin, "P0305"),  # a number of the stock list stays that car's
            ("Twin", third, "P0306"),  # the stock list has it twice
        )
    ]  # fmt: skip
    repairs = [{"vehicle": "ga 7", "job": "1", "done_at": "2026-10-02", "action": "erase"}]
    place = workspace(tmp_path, scans=scans, repairs=repairs, stock=stock)
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
        notes = normalise_spellings(warehouse)
        named = dict(warehouse.query("select spelling, vehicle from spelling.vehicles").iter_rows())
    assert {name: named[name] for name in ("GA 7", "ga 7", "Key 3", "K-2", "Twin")} == {
        "GA 7": "K-1", "ga 7": "K-1", "Key 3": "Key 3", "K-2": "K-2", "Twin": "Twin",
    }  # fmt: skip
    assert [note for note in notes if "numbers of scans stand in no stock list, like 'ga 7' for K-1" in note]


def test_a_car_that_a_repair_alone_names_is_not_counted_in_stock(tmp_path):
    stock = [
        {"vehicle": "K-1", "make": "Corvane", "model": "Alder"},
        {"vehicle": "K-2", "make": "Corvane", "model": "Alder", "sold_on": "2026-01-05"},
    ]
    scans = [{**SCAN, "vehicle": "K-1"}, {**SCAN, "vehicle": "K-9"}]
    repairs = [
        {"vehicle": car, "job": "1", "done_at": "2026-10-02", "action": "erase"} for car in ("K-1", "K-2", "K-l", "OLD")
    ]
    frames = built(tmp_path, ("run_counts",), stock=stock, scans=scans, repairs=repairs)
    assert dict(frames["run_counts"].select("name", "number").rows())["stock_cars"] == 2  # K-1, and K-9 on the yard


def test_a_repair_of_no_known_car_is_said_and_puts_none_into_stock(tmp_path):
    stock = [
        {"vehicle": "NX FG 131", "make": "Corvane", "model": "Alder"},
        {"vehicle": "NX HH 547", "make": "Corvane", "model": "Alder"},
    ]
    scans = [{**SCAN, "vehicle": "NX FG 131"}]
    repairs = [
        {"vehicle": "NX FG 134", "job": "1", "done_at": "2026-11-02", "action": "erase"},
        {"vehicle": "Q 77 ZZ", "job": "2", "done_at": "2026-11-02", "action": "erase"},
        {"vehicle": "nx hh 547", "job": "3", "done_at": "2026-11-02", "action": "erase"},
    ]
    found = [note for note in notes_of(tmp_path / "a", stock=stock, scans=scans, repairs=repairs) if "no such" in note]
    assert len(found) == 1
    assert found[0].startswith("repairs of NX FG 134: ")
    assert found[0].endswith("did you mean NX FG 131?")
    frames = built(tmp_path / "b", ("waiting", "stock"), stock=stock, scans=scans, repairs=repairs)
    assert sorted(frames["waiting"]["vehicle"]) == ["NX HH 547"]
    assert sorted(frames["stock"]["vehicle"]) == ["NX FG 131", "NX HH 547"]
