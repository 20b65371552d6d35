"""Nothing lost, nothing twice: files come in whole, once, and a bad one stops no other."""

import random

import pytest

from pipelines.errors import ModelError
from pipelines.storage.sql_models import parse_model
from pipelines.storage.warehouse import Warehouse
from tests.support.small_dealer import Rows, build, load, workspace, write

SCAN = {"vehicle": "A1", "scanned_at": "2026-03-01T09:00", "module": "ECM", "code": "P0301"}


def rows_of(warehouse: Warehouse, table: str) -> int:
    return warehouse.fetch(table).height


def thousand_rows_three_bad() -> Rows:
    rows: Rows = [{**SCAN, "vehicle": f"A{number}"} for number in range(1000)]
    rows[10] = {**SCAN, "scanned_at": "23/11/26"}
    rows[500] = {**SCAN, "odometer": "about 5"}
    rows[999] = {**SCAN, "module": ""}
    return rows


def test_a_folder_of_good_and_bad_files_yields_every_good_row(tmp_path):
    place = workspace(tmp_path, scans=thousand_rows_three_bad())
    scans = place.inbox / "scans"
    write(scans / "good.csv", [{**SCAN, "vehicle": "B1"}])
    (scans / "binary.csv").write_bytes(bytes(range(256)) * 40)
    (scans / "header.csv").write_text("vehicle,when,module,code\nA1,2026-03-01T09:00,ECM,P0301\n")
    (scans / "wide.csv").write_bytes("vehicle,scanned_at,module,code\nA1,2026-03-01T09:00,ECM,\n".encode("utf-16"))
    (scans / "cut.csv").write_text("vehicle,scanned_at,module,code\nC1,2026-03-01T09:00,ECM,\nC2,2026-03-01T09:0")
    with Warehouse(place.database) as warehouse:
        done = load(place, warehouse)
        frames = build(warehouse)
    assert {file.name: file.rows_loaded for file in done.loaded} == {
        "scans/cut.csv": 1,
        "scans/good.csv": 1,
        "scans/scans.csv": 997,
        "scans/wide.csv": 1,
    }
    refused = {file.name: file.refused for file in done.refused}
    assert sorted(refused) == ["scans/binary.csv", "scans/header.csv"]
    assert "scanned_at" in refused["scans/header.csv"]
    assert (place.rejected / "scans" / "header.csv.why.txt").read_text() == refused["scans/header.csv"] + "\n"
    places = frames["rejects"].filter(file="scans/scans.csv").select("row", "column", "value").rows()
    assert places == [(12, "scanned_at", "23/11/26"), (502, "odometer", "about 5"), (1001, "module", "")]
    assert frames["rejects"].filter(file="scans/cut.csv")["row"].to_list() == [3]
    assert sorted(path.name for path in scans.iterdir()) == []


def test_the_same_bytes_again_change_nothing(tmp_path):
    place = workspace(tmp_path, scans=[SCAN])
    content = (place.inbox / "scans" / "scans.csv").read_bytes()
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
        (place.inbox / "scans" / "other-name.csv").write_bytes(content)
        done = load(place, warehouse)
        assert done.skipped == ["scans/other-name.csv"]
        assert rows_of(warehouse, "raw.scans") == 1
        assert rows_of(warehouse, "raw.files") == 1


def test_a_changed_file_under_the_same_name_adds_its_new_rows_only(tmp_path):
    place = workspace(tmp_path, scans=[SCAN])
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
        write(place.inbox / "scans" / "scans.csv", [SCAN, {**SCAN, "code": "P0302"}])
        [file] = load(place, warehouse).loaded
        assert (file.rows_read, file.rows_loaded, file.rows_repeated) == (2, 1, 1)
        assert rows_of(warehouse, "raw.scans") == 2


def test_two_equal_rows_of_one_job_are_two_and_stay_two(tmp_path):
    coil = {"vehicle": "A1", "job": "J1", "done_at": "2026-03-02", "action": "replace", "part": "ignition coil"}
    place = workspace(tmp_path, repairs=[coil, coil])
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
        write(place.inbox / "repairs" / "again.csv", [coil, coil, {**coil, "job": "J2"}])
        [file] = load(place, warehouse).loaded
        assert (file.rows_loaded, file.rows_repeated) == (1, 2)


def test_a_stock_row_that_goes_back_to_what_it_was_is_the_latest_again(tmp_path):
    rows = [{"vehicle": "A1", "make": "Corvane", "model": model} for model in ("Alder", "Birch", "Alder")]
    place = workspace(tmp_path)
    with Warehouse(place.database) as warehouse:
        for number, row in enumerate(rows):
            # A blank last column makes the third file's bytes new although it says what the first said.
            write(place.inbox / "stock" / f"{number}.csv", [{**row, **({"fuel": ""} if number == 2 else {})}])
            load(place, warehouse)
        assert build(warehouse, marts=("stock",))["stock"]["model"].to_list() == ["Alder"]


def test_a_refused_file_put_in_again_is_recorded_once(tmp_path):
    place = workspace(tmp_path)
    with Warehouse(place.database) as warehouse:
        for _ in range(2):
            (place.inbox / "scans" / "bad.csv").write_text("nothing,here\n1,2\n")
            assert len(load(place, warehouse).refused) == 1
        assert rows_of(warehouse, "raw.files") == 1
        assert rows_of(warehouse, "raw.rejects") == 1
        assert build(warehouse, marts=("rejects",))["rejects"].select("file", "row", "column").rows() == [
            ("scans/bad.csv", 0, "")
        ]


def test_a_link_out_of_the_inbox_is_not_followed(tmp_path):
    place = workspace(tmp_path / "dealer")
    outside = tmp_path / "outside.csv"
    write(outside, [SCAN])
    (place.inbox / "scans" / "link.csv").symlink_to(outside)
    with Warehouse(place.database) as warehouse:
        done = load(place, warehouse)
        assert rows_of(warehouse, "raw.scans") == 0
    assert done.refused[0].refused == (
        f"scans/link.csv: is a link to {outside}; expected a file of its own. It stays where it is, unread."
    )
    assert outside.exists()


def test_a_failure_half_way_leaves_neither_rows_nor_hash(tmp_path, monkeypatch):
    place = workspace(tmp_path, scans=[SCAN])
    with Warehouse(place.database) as warehouse:
        monkeypatch.setattr("pipelines.storage.file_loader._insert_rejects", lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            load(place, warehouse)
        assert rows_of(warehouse, "raw.scans") == 0
        assert rows_of(warehouse, "raw.files") == 0
    assert (place.inbox / "scans" / "scans.csv").exists()


def test_a_model_whose_grain_stands_twice_names_the_row(tmp_path):
    place = workspace(tmp_path, scans=[SCAN, {**SCAN, "code": "P0302"}])
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
        header = "-- One row per vehicle, it says.\n-- grain: vehicle\n-- reads: raw.scans\n"
        text = f"{header}-- columns:\n--   vehicle varchar: stock number\nselect vehicle from raw.scans"
        with pytest.raises(ModelError, match=r"marts\.wrong has 2 rows for vehicle 'A1'; expected one"):
            warehouse.build(parse_model("marts.wrong", text), {})


def test_files_in_the_wrong_folder_are_sorted_by_what_they_hold_or_left_and_said(tmp_path):
    place = workspace(tmp_path)
    write(place.inbox / "loose.csv", [SCAN])
    write(place.inbox / "scans" / "cars.csv", [{"vehicle": "A1", "make": "Corvane", "model": "Lista"}])
    (place.inbox / "odd.csv").write_text("name,other\n1,2\n")
    with Warehouse(place.database) as warehouse:
        done = load(place, warehouse)
        assert (rows_of(warehouse, "raw.scans"), rows_of(warehouse, "raw.stock")) == (1, 1)
    assert "loose.csv: lay in inbox/ itself; it holds scans, so it was read as that" in done.notes
    assert "scans/cars.csv: lay in inbox/scans; it holds stock, so it was read as that" in done.notes
    [left] = done.refused
    assert "odd.csv: found at this place, and what it holds cannot be told" in (left.refused or "")
    assert [path.name for path in place.inbox.glob("*.csv")] == ["odd.csv"]


def test_a_file_that_cannot_tell_how_it_is_meant_waits_in_the_inbox(tmp_path):
    place = workspace(tmp_path)
    write(place.inbox / "scans" / "days.csv", [{**SCAN, "scanned_at": "03/04/2026"}])
    with Warehouse(place.database) as warehouse:
        [message] = load(place, warehouse).busy
        assert message.startswith("scans/days.csv: found dates like '03/04/2026', every one with a day below 13")
        assert (place.inbox / "scans" / "days.csv").is_file()
        place.settings_file.write_text('date_order = "day first"\n')
        assert [file.rows_loaded for file in load(place, warehouse).loaded] == [1]


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, pytest.param(2, marks=pytest.mark.slow)])
def test_files_that_come_in_together_leave_what_they_leave_one_by_one(tmp_path, monkeypatch, seed):
    held = []
    for most in (500, 1):
        dice = random.Random(seed)
        place = workspace(tmp_path / str(most))
        for number in range(25):
            many = range(dice.randrange(1, 4))
            scans = [{**SCAN, "vehicle": f"A{dice.randrange(3)}", "code": f"P030{dice.randrange(3)}"} for _ in many]
            cars = [{"vehicle": f"A{dice.randrange(3)}", "make": "Corvane", "model": dice.choice("XY")} for _ in many]
            write(place.inbox / "scans" / f"{number:02}.csv", scans)
            write(place.inbox / "stock" / f"{number:02}.csv", cars)
        (place.inbox / "scans" / "10b.csv").write_text("nothing,here\n1,2\n")
        (place.inbox / "scans" / "11b.csv").write_text(
            "vehicle,scanned_at,module,code\nA1,soon,ECM,\nA1,2026-03-05,ECM,\n"
        )
        monkeypatch.setattr("pipelines.ingest.intake._MOST_FILES", most)
        with Warehouse(place.database) as warehouse:
            done = load(place, warehouse)
            tables = {name: warehouse.fetch(f"raw.{name}") for name in ("scans", "stock", "rejects", "files")}
        # A refused file stands behind those that it came with.
        good = tables["files"].filter(tables["files"]["refused"].is_null()).drop("file_id").rows()
        numbers = dict(zip(tables["files"]["file_id"], tables["files"]["name"], strict=True))
        rows = {
            name: sorted((numbers[row[0]], *map(str, row[1:])) for row in tables[name].iter_rows())
            for name in ("scans", "stock", "rejects")
        }
        held.append((sorted(map(str, good)), rows, sorted(done.skipped), [file.name for file in done.refused]))
        assert sum(file.rows_repeated for file in done.loaded) > 20
    assert held[0] == held[1]
