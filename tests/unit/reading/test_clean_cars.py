"""Rows that call a whole car clean: they count for the control units that the car's earlier scans in the file name."""

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from pipelines.ingest.mapping_draft import draft_of
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.mapping.whole_car import means_whole_car
from pipelines.reading.read_table import Reading
from pipelines.reading.recognise import read_mapped

HEADER = "Datum;Kennzeichen;Steuergerät;Fehlercode;Fehlertext;Status\n"
BEFORE = "05.05.2026;LN-620 SH;Motor;P0301;Aussetzer;aktiv\n05.05.2026;LN-620 SH;ABS/ESP;C0035;Sensor;aktiv\n"
OTHER = "05.05.2026;GA-803 DK;Getriebe;P0700;Störung;aktiv\n"
AFTER = "18.06.2026;LN-620 SH;Karosserie;B1325;Spannung;aktiv\n"


def read(folder: Path, text: str, name: str = "export.csv") -> Reading:
    (folder / name).write_text(text, encoding="utf-8")
    draft = draft_of(folder / name, {}, None)
    assert [asked.key for asked in draft.open] == []
    (folder / "drafted.toml").write_text(draft.toml(), encoding="utf-8")
    found = read_mapped(folder / name, load_mapping(folder / "drafted.toml"), ZoneInfo("UTC"))
    assert found.rejects.rows() == []
    return found


@pytest.mark.parametrize(
    "said", ["alle;;kein Fehler gespeichert;i.O.", "All modules;;no codes;", ";;whole car OK;", "-;keine;kein Fehler;"]
)
def test_a_clean_car_is_each_unit_of_its_earlier_scans_without_codes(tmp_path, said):
    found = read(tmp_path, HEADER + BEFORE + OTHER + f"08.05.2026;LN-620 SH;{said}\n" + AFTER)
    # Neither the other car's unit nor that of the later scan was told of.
    assert found.rows.filter(found.rows["row"] == 5).select("vehicle", "module", "code", "status").rows() == [
        ("LN-620 SH", "ECM", None, None),
        ("LN-620 SH", "ABS", None, None),
    ]
    assert [note for note in found.notes if "clean" in note] == [
        "row 5 says that every control unit is clean; taken for those that the car's earlier scans in this file name"
    ]


def test_a_clean_car_without_an_earlier_scan_keeps_its_row_and_no_unit_is_named_so(tmp_path):
    found = read(tmp_path, HEADER + "08.05.2026;LN-620 SH;alle;;kein Fehler gespeichert;i.O.\n" + OTHER + AFTER)
    assert found.rows["module"].to_list() == ["whole car clean", "TCM", "BCM"]
    (note,) = [note for note in found.notes if "clean" in note]
    assert "row 2 says" in note
    assert "put a row into the file for each unit that was read" in note


def test_a_line_of_a_print_out_calls_a_whole_car_clean(tmp_path):
    one = "Car: K-204\nDate: 1{day}.11.2026 09:14\nMileage: 84,211 km\n"
    text = one.format(day=2) + "Engine\n  P0301 Misfire active\nABS\n  C0035 Sensor active\n\n"
    found = read(tmp_path, text + one.format(day=5) + "All modules: no codes\n", "scan.txt")
    assert found.rows.select("module", "code").rows() == [
        ("Engine", "P0301"),
        ("ABS", "C0035"),
        ("Engine", None),
        ("ABS", None),
    ]


@pytest.mark.parametrize("name", ["Allradsteuerung", "All-wheel drive", "Alarm", "ABS", "Full hybrid", "Gesamtlenkung"])
def test_units_with_such_words_in_their_names_are_units(name):
    assert not means_whole_car(name)


def test_a_row_without_a_unit_that_says_nothing_calls_no_unit_clean(tmp_path):
    found = read(tmp_path, HEADER + BEFORE + "08.05.2026;LN-620 SH;;;;\n" + "09.05.2026;LN-620 SH;;;keine Fehler;\n")
    assert found.rows.select("row", "module").rows() == [
        (2, "ECM"),
        (3, "ABS"),
        (4, "whole car"),
        (5, "ECM"),
        (5, "ABS"),
    ]
