"""Odd exports that a person would call plain: read right with the proposals alone, or asked about."""

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from analysis.vocabulary.modules import ModuleIndex
from pipelines.errors import InputFileError
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.draft_mapping import draft_mapping
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.recognise import read_file, read_mapped
from pipelines.storage.sql_models import reference_table

INDEX = ModuleIndex.from_rows(reference_table("modules").iter_rows(named=True))
ONE, TWO = "XX7A5FB49EY390031", "XX7FHGJNM65771900"


def drafted(path: Path) -> Draft:
    return draft_mapping(path, lambda text: INDEX.canonical(text)[1])


def rows(folder: Path, name: str, text: str, *columns: str) -> list[tuple]:
    """Draft a mapping, take every proposal, and return some columns of what it reads; no row may be refused."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    draft = drafted(path)
    assert [asked.key for asked in draft.open] == []
    (folder / "draft.toml").write_text(draft.toml(), encoding="utf-8")
    reading = read_mapped(path, load_mapping(folder / "draft.toml"), ZoneInfo("UTC"))
    assert reading.rejects.rows() == []
    return reading.rows.select(columns).rows()


def asked(folder: Path, name: str, text: str) -> list[str]:
    (folder / name).write_text(text, encoding="utf-8")
    return [question.key for question in drafted(folder / name).open]


HEAD = "VIN;Date;Module;Code;Status\n"
PAIR = f"{ONE};2026-09-01;Engine;P0301;stored\n{TWO};2026-09-21;ABS;C0045;active\n"


def test_a_makers_numbers_in_printed_text_are_codes_where_they_stand_as_codes_do(tmp_path):
    text = (
        f"VIN: {ONE}\nDate: 2026-09-21\nKm: 12345\n\nEngine:\n  P0301-08 Misfire (active)\n  17844 Ignition (stored)\n"
    )
    found = rows(tmp_path, "a.txt", f"{text}ABS:\n  C0045 Wheel (active)\n  12 lines\n", "module", "code", "status")
    assert found == [("ECM", "P0301-08", "active"), ("ECM", "17844", "confirmed"), ("ABS", "C0045", "active")] or (
        found == [("Engine", "P0301-08", "active"), ("Engine", "17844", "confirmed"), ("ABS", "C0045", "active")]
    )


def test_a_car_without_any_code_and_without_a_module_counts_as_read(tmp_path):
    # Each unit of the earlier scan was clean; of a car without an earlier one nobody knows which were read.
    clean = f"{TWO};2026-09-23;;no faults;\n{ONE};2026-08-30;;no faults;\n"
    found = rows(tmp_path, "a.csv", HEAD + PAIR + clean, "vin", "module", "code")
    assert found[2:] == [(TWO, "ABS", None), (ONE, "whole car clean", None)]


def test_names_of_cars_are_no_numbers_of_cars(tmp_path):
    text = "Car;VIN;Date;Module;Code\n"
    text += f"Kestrin Quill;{ONE};2026-09-01;Engine;P0301\nKestrin Quill;{TWO};2026-09-21;ABS;C0045\n"
    assert rows(tmp_path, "a.csv", text, "vehicle", "vin") == [(None, ONE), (None, TWO)]
    text = text.replace("Kestrin Quill;", "K-204;", 1).replace("Kestrin Quill;", "K-205;", 1)
    assert rows(tmp_path, "b.csv", text, "vehicle", "vin") == [("K-204", ONE), ("K-205", TWO)]


def test_a_year_in_front_of_a_name_is_no_number_of_a_car(tmp_path):
    text = f"Vehicle: 2019 Tavaro Sorrel\nVIN: {ONE}\nDate: 2026-09-21\nEngine:\n  P0301 Misfire\n"
    assert rows(tmp_path, "a.txt", text, "vehicle", "vin") == [(None, ONE)]


def test_a_vehicle_number_in_two_columns_or_among_words_is_one(tmp_path):
    text = f"VIN (1-9);VIN (10-17);Date;Module;Code\n{ONE[:9]};{ONE[9:]};2026-09-21;Engine;P0301\n"
    text += f"{TWO[:9]};{TWO[9:]};2026-09-22;ABS;C0045\n"
    assert rows(tmp_path, "a.csv", text, "vin") == [(ONE,), (TWO,)]
    text = (
        f"Car / VIN;Date;Module;Code\nTavaro Vex ({ONE});2026-09-21;Engine;P0301\nOlmedo ({TWO});2026-09-22;ABS;C0045\n"
    )
    assert rows(tmp_path, "b.csv", text, "vin") == [(ONE,), (TWO,)]


def test_two_hex_digits_beside_codes_and_never_beside_numbers_are_failure_types(tmp_path):
    text = f"VIN;Date;Module;Code;Zus.\n{ONE};2026-09-21;Engine;P0301;08\n{ONE};2026-09-21;Engine;17844;\n"
    assert rows(tmp_path, "a.csv", text, "code", "failure_type") == [("P0301", "08"), ("17844", None)]


@pytest.mark.parametrize(
    ("heading", "read"),
    [("Compteur (km)", "66316"), ("odo_km", "66316"), ("km seit Löschen", None), ("Service (km)", None)],
)
def test_a_unit_in_the_heading_tells_an_odometer_and_no_other_distance(tmp_path, heading, read):
    text = f"VIN;Date;{heading};Module;Code\n{ONE};2026-09-21;66316;Engine;P0301\n{TWO};2026-09-22;66316;ABS;C0045\n"
    assert {cell for (cell,) in rows(tmp_path, "a.csv", text, "odometer")} == {read}


def test_each_code_of_a_cell_or_line_keeps_its_own_state(tmp_path):
    text = (
        f"VIN;Date;Engine;ABS\n{ONE};2026-09-21;P0301 (active)|17844 (stored);ok\n{TWO};2026-09-22;ok;C0045 (pending)\n"
    )
    read = [("ECM", "P0301", "active"), ("ECM", "17844", "confirmed"), ("ABS", None, None), ("ECM", None, None)]
    found = rows(tmp_path, "a.csv", text, "module", "code", "status")
    assert [(INDEX.canonical(module)[0], *rest) for module, *rest in found] == [*read, ("ABS", "C0045", "pending")]
    lines = "> Engine: P0301 active; 17844 stored\n> ABS: no faults\n> Airbag: B0012 pending; B1325 stored\n"
    text = f"VIN {ONE}\nDate 2026-09-21\n{lines}"
    found = rows(tmp_path, "a.txt", text, "module", "code", "status")
    assert [(INDEX.canonical(module)[0], *rest) for module, *rest in found] == [
        *read[:3],
        ("SRS", "B0012", "pending"),
        ("SRS", "B1325", "confirmed"),
    ]


def test_pages_that_repeat_the_headings_and_sums_below_them_are_no_rows(tmp_path):
    row = f"{ONE};27.09.2026;Engine;P0301;stored;x\n{TWO};21.09.2026;ABS;C0045;active;y\n"
    head = "VIN;Datum;Modul;Code;Status;Text\n"
    text = f"{head}{row}Zwischensumme;;;2;;\n\nSeite 1;;;;;\n{head}{row.replace('P0301', 'P0302')}Zusammen;;;4;;\n"
    assert len(rows(tmp_path, "a.csv", text, "code")) == 4


def test_a_time_of_day_behind_a_word_is_read_or_asked_about(tmp_path):
    text = f"Scansione del 27 agosto 2026 ore 11.28\nVIN {ONE}\nMotore:\n  P0301 attivo\n"
    assert rows(tmp_path, "a.txt", text, "scanned_at") == [("2026-08-27 11:28:00",)]
    assert "text.time" in asked(tmp_path, "b.txt", text.replace("ore", "verso"))


def test_a_line_of_words_right_above_codes_that_is_no_known_module_is_asked_about(tmp_path):
    text = f"VIN: {ONE}\nDate: 2026-09-21\nEngine\nP0301 Misfire\nSonnendach\nB1005 Motor\nABS\nC0045 Wheel\n"
    assert "text.strangers" in asked(tmp_path, "a.txt", text)


def test_states_in_words_that_nobody_knows_are_asked_about(tmp_path):
    row = "{vin};2026-09-{day};Engine;P03{day};{word}\n"
    text = "VIN;Date;Module;Code;Merkmal\n" + "".join(
        row.format(vin=ONE, day=10 + at, word=("blau", "rot")[at % 2]) for at in range(8)
    )
    assert "columns.status" in asked(tmp_path, "a.csv", f"{text}{ONE};2026-09-20;ABS;;\n")


def test_czech_letters_are_known_from_their_bytes(tmp_path):
    path = tmp_path / "a.csv"
    text = f"VIN;Datum čtení;Řídicí jednotka;Chybový kód\n{ONE};27.09.2026;Převodovka;P0741\n"
    path.write_bytes(text.encode("cp1250"))
    assert 'encoding = "cp1250"' in drafted(path).toml()


def test_a_table_of_scans_with_our_columns_alone_may_tell_that_nothing_was_stored(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("vehicle,scanned_at,module\nA1,2026-09-21,ECM\n", encoding="utf-8")
    assert read_file(path, LAYOUTS["scans"], ZoneInfo("UTC"), []).rows.height == 1


def test_a_table_of_scans_without_a_column_for_codes_is_refused_in_words(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("vehicle,scanned_at,module,trouble\nA1,2026-09-21,ECM,17844\n", encoding="utf-8")
    with pytest.raises(InputFileError, match="looks like scans; the header lacks code or module_state"):
        read_file(path, LAYOUTS["scans"], ZoneInfo("UTC"), [])
    mapping = tmp_path / "m.toml"
    mapping.write_text(
        'serves = ["*.csv"]\nformat = "table"\n[columns]\nvehicle = "a"\nscanned_at = "b"\nmodule = "c"\n'
    )
    path.write_text("a,b,c\nA1,2026-09-21,ECM\n", encoding="utf-8")
    with pytest.raises(InputFileError, match="says of no column that it is code, so every module would count as read"):
        read_file(path, LAYOUTS["scans"], ZoneInfo("UTC"), [load_mapping(mapping)])
    assert "columns.code" in asked(
        tmp_path, "b.csv", f"VIN;Date;Module\n{ONE};2026-09-21;Engine\n{TWO};2026-09-22;ABS\n"
    )


def test_a_column_of_names_is_no_number_of_cars_where_another_column_has_numbers(tmp_path):
    path = tmp_path / "a.csv"
    rows = [f"HT-29{at};Corvane Alder;2026-09-2{at};Engine;P030{at}" for at in range(1, 6)]
    path.write_text("\n".join(["Stk #;Vehicle;Scanned;Module;DTC", *rows]), encoding="utf-8")
    assert 'vehicle = "Stk #"' in drafted(path).toml()


def test_a_row_with_several_modules_gives_each_code_its_own(tmp_path):
    text = (
        "Nr.;Ausgelesen;Steuergerät 1;Code 1;Steuergerät 2;Code 2\n"
        "A-52;14.11.2026;Motor;P0420;Getriebe;P0741\nA-54;16.10.2026;ABS;C0035;Karosserie;U0121\n"
    )
    assert rows(tmp_path, "a.csv", text, "vehicle", "module", "code") == [
        ("A-52", "ECM", "P0420"),
        ("A-52", "TCM", "P0741"),
        ("A-54", "ABS", "C0035"),
        ("A-54", "BCM", "U0121"),
    ]
