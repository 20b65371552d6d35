"""Print-outs that name a car by its plate, and vehicle numbers with a letter that none has (ISO 3779: I, O and Q)."""

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from analysis.vocabulary.vin import misread_vin
from pipelines.ingest.mapping_draft import draft_of
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.read_table import Reading
from pipelines.reading.recognise import read_mapped

GOOD, WRONG, MEANT = "WKSLG4F20J0110432", "SBNAL6G55FO177309", "SBNAL6G55F0177309"


def read(folder: Path, *cars: str) -> Reading:
    scans = [
        f"Date: 1{at}.11.2026 09:14\n{car}\nMileage: 84,21{at} km\n\nEngine\n  P0301 Misfire active\n\n"
        for at, car in enumerate(cars)
    ]
    (folder / "scan.txt").write_text("".join(scans), encoding="utf-8")
    draft = draft_of(folder / "scan.txt", {}, None)
    assert [asked.key for asked in draft.open] == []
    (folder / "drafted.toml").write_text(draft.toml(), encoding="utf-8")
    return read_mapped(folder / "scan.txt", load_mapping(folder / "drafted.toml"), ZoneInfo("UTC"))


@pytest.mark.parametrize("label", ["Reg. plate  :", "Reg. no.:", "Plate:", "Registration plate:"])
@pytest.mark.parametrize("plates", [("LN 412 KA", "HR 492 BM"), ("LN-733 PB", "GA-803 DK")])
def test_a_plate_names_the_car_of_a_print_out(tmp_path, label, plates):
    found = read(tmp_path, *(f"{label} {plate}\nVIN: {GOOD[:-1]}{at}" for at, plate in enumerate(plates)))
    assert found.rows["vehicle"].to_list() == [*plates]


def test_a_number_with_a_letter_o_gives_way_to_the_plate_beside_it(tmp_path):
    found = read(tmp_path, f"Reg. plate: LN 412 KA\nVIN: {GOOD}", f"Reg. plate: HR 492 BM\nVIN: {WRONG}")
    assert found.rejects.rows() == []
    assert found.rows.select("vehicle", "vin").rows() == [("LN 412 KA", GOOD), ("HR 492 BM", None)]
    (note,) = [note for note in found.notes if WRONG in note]
    assert "this VIN has a letter O, which no VIN has" in note
    assert MEANT in note
    assert "'HR 492 BM'" in note


def test_a_number_with_a_letter_o_alone_is_refused_with_what_may_be_meant(tmp_path):
    # Not a row of the car before it: its line is read although it is wrong.
    found = read(tmp_path, f"VIN: {GOOD}", f"VIN: {WRONG}")
    assert found.rows["vin"].to_list() == [GOOD]
    assert found.rejects.select("column", "value", "why").rows() == [
        ("vin", WRONG, f"this VIN has a letter O, which no VIN has; perhaps {MEANT} is meant")
    ]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (WRONG, ("O", MEANT)),
        ("wkslg4f2oj0110432", ("O", GOOD)),
        ("WKSLG4F20J0I10432", ("I", GOOD)),
        (GOOD, None),
        ("OIQ", None),
        ("UNKNOWN", None),
    ],
)
def test_letters_that_look_like_digits_are_told(text, told):
    assert misread_vin(text) == told
