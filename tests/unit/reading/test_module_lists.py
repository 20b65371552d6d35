"""Not known is not gone: whose list of codes a damaged row leaves incomplete, and how a code's cell comes apart."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.read_table import read_table

COLUMNS = "vehicle,scanned_at,odometer,module,code,status,text"
FIRST, SECOND = "2026-03-01T09:00", "2026-03-02T09:00"
# Two modules of one scan, and a later scan.
GOOD = f"A1,{FIRST},,ECM,P0301,,\nA1,{FIRST},,ABS,,,\nA1,{SECOND},,ECM,,,\n"
BOTH = {("ECM", "01"), ("ABS", "01")}


@pytest.fixture
def read(tmp_path):
    def of(text, header=COLUMNS, name="scans.csv"):
        path = tmp_path / name
        path.write_text(f"{header}\n{text}" if header else text, encoding="utf-8")
        return read_table(path, LAYOUTS["scans"], ZoneInfo("Europe/Berlin"))

    return of


def incomplete(reading):
    """Return module and day of every list that is not whole."""
    flawed = reading.rows.filter(complete="false")
    return {(module.upper(), at[8:10]) for module, at in flawed.select("module", "scanned_at").iter_rows()}


@pytest.mark.parametrize(
    ("row", "lists"),
    [
        (f"A1,{FIRST},,ECM,P0302,zz,", {("ECM", "01")}),
        (f"A1,{FIRST},far,ECM,P0302,,", {("ECM", "01")}),
        (f"A1,{FIRST},,Ecm ,PO302,,", {("ECM", "01")}),
        (f"A1,{FIRST},,ECM,P0302,,a,b", {("ECM", "01")}),
        (f"A1,{FIRST},,ECM", {("ECM", "01")}),
        (f'A1,{FIRST},,ECM,P0302,,"open', {("ECM", "01")}),
        # The module cannot be told: every list of the scan.
        (f"A1,{FIRST},,,P0302,,", BOTH),
        (f"A1,{FIRST},,E,C,M,P0302,,", BOTH),
        # The time cannot be told: this module in every scan of the car.
        ("A1,01/03/26,,ABS,P0302,,", {("ABS", "01")}),
        ("A1,01/03/26,,ECM,P0302,,", {("ECM", "01"), ("ECM", "02")}),
        # Nothing can be told: the scans beside the row.
        ("P0302", {("ECM", "02")}),
    ],
)
def test_a_refused_row_or_code_leaves_its_modules_list_incomplete(read, row, lists):
    assert incomplete(read(GOOD)) == set()
    assert incomplete(read(GOOD + row + "\n")) == lists


def test_a_car_that_is_known_by_its_vehicle_number_is_found_by_it(read):
    header, vin = "vehicle,vin,scanned_at,module,code,status", "ZZZCV1ALD00000001"
    reading = read(f",{vin},{FIRST},ECM,P0301,\n,{vin},{FIRST},ABS,,\n,{vin},{FIRST},ABS,P0302,zz\n", header)
    assert incomplete(reading) == {("ABS", "01")}


def test_the_same_rows_are_whole_once_the_file_is_mended(read):
    bad, good = f"A1,{FIRST},,ECM,P0302,zz,\n", f"A1,{FIRST},,ECM,P0302,,\n"
    assert incomplete(read(GOOD + bad)) == {("ECM", "01")}
    assert incomplete(read(GOOD + good)) == set()


@pytest.mark.parametrize(
    ("cell", "code", "text"),
    [
        ("P0301 - Misfire cylinder 1", "P0301", "Misfire cylinder 1"),
        ("P0301: Misfire, 12 V low", "P0301", "Misfire, 12 V low"),
        ("P0301 (Misfire)", "P0301", "Misfire"),
        ("P0301-1F Misfire", "P0301-1F", "Misfire"),
        ("00532 - Supply voltage", "00532", "Supply voltage"),
        ("SPN 110 FMI 3 - coolant", "SPN 110 FMI 3", "coolant"),
        ("P0301 - 00", "P0301 - 00", None),
        ("P0301 and P0302 misfire", "P0301 and P0302 misfire", None),
    ],
)
def test_the_wording_behind_a_code_is_told_apart_from_it(read, cell, code, text):
    reading = read(f'A1,{FIRST},,ECM,"{cell}",,\n')
    assert reading.rows.select("code", "text").rows() == [(code, text)]
    assert incomplete(reading) == (set() if " and " not in cell else {("ECM", "01")})


def test_a_column_of_its_own_beats_the_wording_in_the_codes_cell(read):
    reading = read(f"A1,{FIRST},,ECM,P0301 - misfire,,rough idle\n")
    assert reading.rows.select("code", "text").rows() == [("P0301", "rough idle")]


def test_what_was_asked_is_kept_in_one_spelling_and_all_of_it_is_blank(read):
    header = "vehicle,scanned_at,module,asked,code"
    cells = ["Pending; stored", "all", "", "history;permanent;pending;stored;active", "stored;"]
    reading = read("".join(f"A1,{FIRST},M{place},{cell},\n" for place, cell in enumerate(cells)), header)
    assert reading.rows["asked"].to_list() == ["stored;pending", None, None, None, "stored"]
    refused = read(f"A1,{FIRST},ECM,everything,\n", header).rejects.row(0)
    assert refused[:3] == (2, "asked", "everything")


def test_a_stray_quotation_mark_swallows_no_row(read):
    text = f'A1,{FIRST},,ECM,P0301,,"x\nA1,{FIRST},,ECM,P0302,,y\nA1,{FIRST},,ECM,P0303,,z"\n'
    reading = read(text)
    assert reading.rows["code"].to_list() == ["P0302", "P0303"]
    assert reading.rejects.row(0)[0::3] == (
        2,
        "a quotation mark is opened and closed some lines later, behind what looks like a row",
    )
    assert incomplete(reading) == {("ECM", "01")}
    assert read(f'A1,{FIRST},,ECM,P0301,,"two\nlines, both"\n').rows["text"].to_list() == ["two\nlines, both"]


def test_words_in_place_of_a_vehicle_number_are_named_and_leave_it_blank(read):
    header = "vehicle,vin,scanned_at,module,code"
    rows = "".join(f"A1,{vin},{FIRST},ECM,\n" for vin in ("UNKNOWN", "0" * 17, "N/A", "unknown"))
    reading = read(rows + f",UNKNOWN,{FIRST},ECM,\n", header)
    assert reading.rows["vin"].to_list() == [None] * 4
    assert "vin 'UNKNOWN' is no vehicle number and was taken as blank (2 rows)" in reading.notes
    assert reading.rejects.row(0) == (6, "vehicle", "", "blank; vehicle or vin must be filled")


@pytest.mark.parametrize("time", ["2026-03-01T23:59:60", "2026-03-01T24:00", "1989-12-31T09:00", "2026-03-01T09:60"])
def test_a_time_that_no_clock_shows_is_refused_with_its_place(read, time):
    reading = read(f"A1,{time},,ECM,P0301,,\n")
    assert reading.rows.is_empty()
    assert reading.rejects.row(0)[:3] == (2, "scanned_at", time)


def test_a_time_with_an_offset_keeps_the_moment_beside_the_local_time(read):
    reading = read(f"A1,2026-03-01T09:00-05:00,,ECM,,,\nA1,{FIRST},,ECM,,,\n")
    assert reading.rows.select("scanned_at", "scanned_at_utc").rows() == [
        ("2026-03-01 15:00:00", "2026-03-01 14:00:00"),
        ("2026-03-01 09:00:00", None),
    ]
