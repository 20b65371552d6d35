"""Which rows are the same ones: several of one row of a file, times in another zone, numbers with leading zeros."""

from __future__ import annotations

import pytest

from pipelines.reading.file_check import check_file
from pipelines.settings import load_settings
from pipelines.storage.warehouse import Warehouse
from tests.studies.check_equals_weekly import checked_workspace, differences
from tests.support.hostile_files import MAPPING, hostile_file
from tests.support.small_dealer import build, built, load, workspace, write

SCAN = {"vehicle": "A1", "scanned_at": "2026-03-01T09:00", "module": "ECM", "code": "P0301"}
JOB = {"vehicle": "A1", "job": "J1", "done_at": "2026-03-02T10:00", "odometer": 50000}
WORK = [{**JOB, "action": "replace", "part": "coil"}, {**JOB, "action": "erase"}]


@pytest.mark.slow
def test_a_mapping_that_makes_several_rows_of_one_is_loaded_as_check_says(tmp_path):
    place = workspace(tmp_path)
    (place.root / "mappings").mkdir(exist_ok=True)
    (place.root / "mappings" / "wide.toml").write_text(MAPPING)
    path = place.inbox / "scans" / "wide.tsv"
    path.write_text("car\twhen\tmotor\tbrakes\nA1\t2026-03-01T09:00\tP0301/P0302/P0301\tnone\n")
    taken = check_file(path, load_settings(place.settings_file)).rows_taken
    with Warehouse(place.database) as warehouse:
        [file] = load(place, warehouse).loaded
        frames = build(warehouse)
        rows = warehouse.query("select row, nth, module, code from raw.scans order by all").rows()
    assert (file.rows_loaded, taken) == (4, 4)
    assert rows == [(2, 1, "ECM", "P0301"), (2, 2, "ECM", "P0302"), (2, 3, "ECM", "P0301"), (2, 4, "ABS", None)]
    assert frames["open_codes"]["code"].to_list() == ["ECM:P0301", "ECM:P0302"]


def test_a_changed_time_zone_loads_nothing_twice_and_says_what_it_moves(tmp_path):
    rows = [{**SCAN, "scanned_at": "2026-03-01T23:30+00:00"}, {**SCAN, "code": "P0302"}]
    place = workspace(tmp_path, scans=rows, repairs=[{**WORK[0], "done_at": "2026-03-02T10:00Z"}])
    with Warehouse(place.database) as warehouse:
        assert load(place, warehouse).notes == []
        place.settings_file.write_text('time_zone = "Europe/Berlin"\n')
        write(place.inbox / "scans" / "again.csv", [*rows, {**SCAN, "code": "P0303"}])
        write(place.inbox / "repairs" / "again.csv", [{**WORK[0], "done_at": "2026-03-02T12:00+02:00"}])
        done = load(place, warehouse)
        assert {file.name: (file.rows_loaded, file.rows_repeated) for file in done.loaded} == {
            "repairs/again.csv": (0, 1),
            "scans/again.csv": (1, 2),
        }
        assert done.notes == [
            "time_zone was changed from UTC to Europe/Berlin: 1 rows of scans and 1 rows of repairs, whose times were "
            "written with an offset, are now shown in Europe/Berlin; times without an offset stay as they are written. "
            "Nothing was loaded twice"
        ]
        assert warehouse.query("select distinct scanned_at from raw.scans order by all")["scanned_at"].to_list() == [
            "2026-03-01 09:00:00",
            "2026-03-02 00:30:00",
        ]
        assert load(place, warehouse).notes == []


@pytest.mark.slow
def test_a_mended_file_makes_the_list_whole_again(tmp_path):
    late = {**SCAN, "scanned_at": "2026-03-09T09:00", "odometer": 51000}
    place = workspace(
        tmp_path,
        scans=[{**SCAN, "odometer": 50000}, {**late, "code": "P0420"}, {**late, "code": "P0302", "status": "zz"}],
        repairs=WORK,
    )
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
        assert build(warehouse)["outcomes"]["outcome"].to_list() == ["unproven"]
        write(place.inbox / "scans" / "mended.csv", [{**late, "code": "P0420"}, {**late, "code": "P0302"}])
        load(place, warehouse)
        assert build(warehouse)["outcomes"]["outcome"].to_list() == ["cleared"]


TABLES = [
    ({"status": "pending"}, {"asked": "stored"}, "unproven"),
    ({"status": "pending"}, {"asked": "pending"}, "cleared"),
    ({"status": "pending"}, {"asked": "stored;pending"}, "cleared"),
    ({"status": "permanent"}, {"asked": "stored"}, "unproven"),
    ({"status": "history"}, {"asked": "active"}, "unproven"),
    ({"status": "active"}, {"asked": "active"}, "cleared"),
    ({"status": "confirmed"}, {"asked": "stored"}, "cleared"),
    ({"status": "2F"}, {}, "cleared"),
]
LOGS = [
    ("7E8 47 01 03 01", "7E8 43 00", "unproven"),
    ("7E8 4A 01 03 01", "7E8 43 00", "unproven"),
    ("DM2 SA 0 00 FF 9D 00 07 01", "DM1 SA 0 00 FF 00 00 00 00 FF FF", "unproven"),
    ("7E8 59 02 FF 03 01 00 08", "7E0 19 02 01\n7E8 59 02 FF", "unproven"),
    ("7E8 59 02 FF 03 01 00 08", "7E8 43 01 03 02\n7E8 47 02 03", "unproven"),
    ("7E8 59 02 FF 03 01 00 08", "7E8 59 02 FF", "cleared"),
    ("7E8 43 01 03 01", "7E8 43 00", "cleared"),
    ("7E8 47 01 03 01", "7E8 43 00\n7E8 47 00", "cleared"),
]


@pytest.fixture(scope="module")
def outcomes(tmp_path_factory) -> dict[str, list[str]]:
    """What became of the codes before the one job of each car: T0, T1 ... read from tables, L0, L1 ... from logs."""
    scans = []
    for n, (before, after, _) in enumerate(TABLES):
        scans.append({**SCAN, "vehicle": f"T{n}", "odometer": 50000, **before})
        late = {"scanned_at": "2026-03-09T09:00", "odometer": 51000, "code": ""}
        scans.append({**SCAN, "vehicle": f"T{n}", **late, **after})
    cars = [f"{kind}{n}" for kind, cases in (("T", TABLES), ("L", LOGS)) for n in range(len(cases))]
    work = [{**row, "vehicle": car, "job": car} for car in cars for row in WORK]
    place = workspace(tmp_path_factory.mktemp("lists"), scans=scans, repairs=work)
    for n, (before, after, _) in enumerate(LOGS):
        head = f"vehicle: L{n}\nscanned_at: {{}}\nodometer: {{}}\nlink: can\n"
        text = head.format("2026-03-01T09:00", 50000) + before + "\n" + head.format("2026-03-09T09:00", 51000) + after
        (place.inbox / "scans" / f"{n}.hex").write_text(text)
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
        found = build(warehouse, marts=("outcomes",))["outcomes"]
    return {car: found.filter(vehicle=car)["outcome"].to_list() for car in cars}


@pytest.mark.parametrize("n", range(len(TABLES)), ids=lambda n: str(TABLES[n]))
def test_a_list_that_could_not_have_named_a_code_does_not_clear_it(outcomes, n):
    assert outcomes[f"T{n}"] == [TABLES[n][2]]


@pytest.mark.parametrize("n", range(len(LOGS)), ids=lambda n: "-".join(LOGS[n]))
def test_a_log_clears_only_what_its_lists_could_have_named(outcomes, n):
    assert outcomes[f"L{n}"] == [LOGS[n][2]]


def test_a_makers_number_with_and_without_its_zeros_is_one_code_and_shows_them(tmp_path):
    late = {**SCAN, "scanned_at": "2026-03-09T09:00", "odometer": 51000}
    frames = built(
        tmp_path, scans=[{**SCAN, "code": "05123", "odometer": 50000}, {**late, "code": "5123"}], repairs=WORK
    )
    assert frames["outcomes"].select("code", "outcome").rows() == [("ECM:05123@unknown", "returned")]


def test_a_scan_ahead_of_the_report_is_set_aside_with_a_note_until_its_day(tmp_path):
    # The report's day is 23 November 2026; the day behind it is within grace.
    times = ("2026-11-24T23:59", "2026-11-25T00:00", "2027-11-23T09:00")
    frames = built(tmp_path, scans=[{**SCAN, "scanned_at": at, "code": f"P030{n}"} for n, at in enumerate(times, 1)])
    assert frames["open_codes"]["code"].to_list() == ["ECM:P0301"]
    aside = frames["warnings"].filter(kind="left out").sort("at")["detail"].to_list()
    assert aside == [
        f"scans/scans.csv row {row} has a scan of A1 on {day}, more than a day ahead of this report: left out until "
        "that day. If the date is wrong, mend the file"
        for row, day in ((3, "2026-11-25"), (4, "2027-11-23"))
    ]


@pytest.mark.slow
def test_what_check_takes_of_hostile_files_the_week_loads(tmp_path):
    place, found = checked_workspace(tmp_path, range(300))
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
        build(warehouse)
        assert differences(warehouse, found) == []
    taken = sum(check.rows_taken for check in found.values())
    refused = sum(check.rows_read - check.rows_taken for check in found.values())
    assert taken > 400 < refused  # the files hold both, or the comparison would mean little


def test_a_hostile_file_is_drawn_by_its_number():
    assert hostile_file(7) == hostile_file(7) != hostile_file(8)
