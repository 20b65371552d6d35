"""What a file tells and a draft cannot take is asked about; what stands around, beside or in front of it is read."""

import io
import json
import zipfile
from pathlib import Path

import pytest
import xlsxwriter

from pipelines.errors import BatchError
from pipelines.ingest.mapping_draft import check_decided, draft_by
from pipelines.reading.drafting.draft import NOTHING
from pipelines.settings import Settings
from tests.unit.reading.test_odd_exports import drafted, read, written

HEAD = "Vehicle,Date,Km,Module"


def asked(path: Path) -> list[str]:
    return [question.key for question in drafted(path).open]


def test_a_file_of_scans_without_a_column_of_whole_codes_is_asked_about(tmp_path):
    # Read without one, every module of it would count as read and clean.
    rows = f"{HEAD},Sign,Digits\nK1,2026-09-27 09:15,10,ECM,P-,0301\nK1,2026-09-27 09:15,10,ABS,C-,0035\n"
    assert asked(written(tmp_path, "split.csv", rows)) == ["columns.code"]


@pytest.mark.parametrize(
    ("heads", "cells", "keys"),
    [
        ("Zz", ("X", "O"), ["columns.status"]),
        ("St", ("A", "H"), ["values.status.A", "values.status.H"]),
        ("St", ("1", "4"), ["columns.status"]),
    ],
)
def test_marks_and_letters_beside_codes_are_asked_about(tmp_path, heads, cells, keys):
    rows = "".join(f"K1,2026-09-27 09:15,10,ECM,P030{n},{cells[n % 2]}\n" for n in range(8))
    assert asked(written(tmp_path, "scans.csv", f"{HEAD},Code,{heads}\n{rows}")) == keys


def test_a_time_of_day_in_no_known_form_is_asked_about_and_four_digits_are_one(tmp_path):
    text = "Vehicle,Date,Time,Module,Code\nK1,20260927,{},ECM,P0301\nK1,20260928,{},ECM,P0301\n"
    assert asked(written(tmp_path, "odd.csv", text.format("early", "late"))) == ["columns.time"]
    rows = read(written(tmp_path, "dump.csv", text.format("0915", "1640"))).rows
    assert rows["scanned_at"].to_list() == ["2026-09-27 09:15:00", "2026-09-28 16:40:00"]


def test_a_wording_is_known_by_the_code_beside_it(tmp_path):
    words = {"P0301": "Cylinder one misfires", "P0171": "Mixture too lean", "C0035": "Wheel speed sensor"}
    rows = "".join(f"K1,2026-09-27 09:15,10,ECM,{code},{text}\n" for code, text in words.items())
    assert read(written(tmp_path, "scans.csv", f"{HEAD},Code,Zzz\n{rows}")).rows["text"].to_list() == [*words.values()]


def test_another_file_of_a_zip_with_codes_under_other_headings_is_asked_about(tmp_path):
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w") as packed:
        packed.writestr("a.csv", f"{HEAD},Code\n" + "K1,2026-09-27 09:15,10,ECM,P0301\n" * 3)
        packed.writestr("b.csv", "Fahrzeug;Datum;Modul;Fehlercode\nK2;27.09.2026 09:15;ABS;C0035\n" * 1)
    assert asked(written(tmp_path, "two.zip", content.getvalue())) == ["files"]


def test_rows_beside_their_names_in_json_are_objects_with_those_names(tmp_path):
    whole = {
        "fields": ["vehicle", "date", "unit", "dtc"],
        "rows": [["K1", "2026-09-27 09:15", "ECM", "P0301"], ["K1", "2026-09-27 09:15", "ABS", None]],
    }
    rows = read(written(tmp_path, "rows.json", json.dumps(whole))).rows
    assert rows.select("module", "code").rows() == [("ECM", "P0301"), ("ABS", None)]


def test_named_fields_of_xml_are_elements_with_those_names(tmp_path):
    pairs = {"Vehicle": "K1", "Date": "2026-09-27 09:15", "Module": "ECM", "Code": "P0301"}
    fields = "".join(f'<field name="{name}">{value}</field>' for name, value in pairs.items())
    text = f"<report>{f'<record>{fields}</record>' * 2}</report>"
    assert read(written(tmp_path, "fields.xml", text)).rows["code"].to_list() == ["P0301", "P0301"]


@pytest.mark.parametrize("sign", ["> ", "│ ", "├── "])
def test_what_leads_to_a_line_is_no_part_of_it(tmp_path, sign):
    lines = ["Vehicle: K1", "Date: 2026-09-27 09:15", "Odometer: 10 km", "[01] Engine", "  P0301 Misfire"]
    text = "\n".join(sign + line for line in lines)
    assert read(written(tmp_path, "report.txt", text)).rows["code"].to_list() == ["P0301"]


def test_lines_between_columns_of_a_fixed_width_tell_the_scan_of_those_below(tmp_path):
    text = ""
    for car, code in (("K1", "P0301"), ("K2", "C0035")):
        text += f"Vehicle {car}, 27.09.2026 09:15, 66316 km\n"
        text += f"Module    Code    State     Meaning\nECM       {code}   active    Some words\n"
        text += "ABS       -       -         -\n"
    rows = read(written(tmp_path, "ruled.txt", text)).rows
    assert rows.select("vehicle", "module", "code", "status", "text").rows() == [
        ("K1", "ECM", "P0301", "active", "Some words"),
        ("K1", "ABS", None, None, None),
        ("K2", "ECM", "C0035", "active", "Some words"),
        ("K2", "ABS", None, None, None),
    ]


def test_a_heading_that_counts_no_codes_says_that_the_module_is_clean(tmp_path):
    text = "Fahrzeug-Nr.: K1\nDatum: 27.09.2026 09:15\nSteuergerät: Motor   Anzahl Fehler: 1\n  P0301 Zündaussetzer\n"
    text += "Steuergerät: Airbag   Anzahl Fehler: 0\n"
    rows = read(written(tmp_path, "protokoll.txt", text)).rows
    assert rows.select("module", "code").rows() == [("ECM", "P0301"), ("Airbag", None)]


def test_make_and_model_beside_the_car_may_change_and_a_point_parts_thousands_of_km(tmp_path):
    text = ""
    for car, name, km in (
        ("K1", "Corvane Lista", "66.316"),
        ("K2", "Dolmen Tarn", "101.002"),
        ("K3", "Quillon Seto", "9.480"),
    ):
        text += f"Vehicle: {car} {name}\nDate: 27.09.2026 09:15   Odometer: {km} km\n[01] Engine\n  P0301 Misfire\n\n"
    rows = read(written(tmp_path, "print.txt", text)).rows
    assert rows.select("vehicle", "scanned_at", "module", "odometer").rows() == [
        ("K1", "2026-09-27 09:15:00", "Engine", "66316"),
        ("K2", "2026-09-27 09:15:00", "Engine", "101002"),
        ("K3", "2026-09-27 09:15:00", "Engine", "9480"),
    ]


def test_a_second_sheet_is_read_as_the_first_and_one_that_is_not_is_named(tmp_path):
    content = io.BytesIO()
    book = xlsxwriter.Workbook(content, {"in_memory": True})
    for name, code in (("May", "P0301"), ("June", "P0171")):
        sheet = book.add_worksheet(name)
        sheet.write_row(0, 0, ("Vehicle", "Date", "Module", "Code"))
        sheet.write_row(1, 0, ("K1", "2026-09-27 09:15", "ECM", code))
    book.add_worksheet("Notes").write_row(0, 0, ("see", "P0420"))
    book.close()
    reading = read(written(tmp_path, "book.xlsx", content.getvalue()))
    assert reading.rows["code"].to_list() == ["P0301", "P0171"]
    assert "2 of 3 texts that look like a code were read" in reading.notes[-1]
    assert "3 sheets, 2 read (not Notes)" in reading.notes[-1]


def test_what_may_not_be_left_unread_keeps_the_file_from_being_read(tmp_path: Path):
    path = tmp_path / "slip.txt"
    path.write_text(
        "Car: K-1\nDate: 14.08.2026\nUnit: ABS\n C0031 wheel\n  zone open left\n C0035 wheel\n  zone shut\n"
    )
    granted = {"text.below": "yes", "text.strangers": "yes"}
    assert draft_by(path, granted, Settings()).open == []
    for refused in ("no", NOTHING):
        draft = draft_by(path, {**granted, "text.below": refused}, Settings())
        assert [asked.key for asked in draft.open] == ["text.below"] == [asked.key for asked in draft.stopped]
        with pytest.raises(BatchError, match=f"is read by the answer yes alone. Lines like.*text.below={refused}"):
            check_decided(path, Settings(), {**granted, "text.below": refused})


def test_a_table_with_one_heading_that_is_not_known_is_not_cut_into_fewer_columns(tmp_path: Path):
    # Read line by line, the state and the odometer would go into the wording, and nobody would be asked.
    rows = "".join(f"H30{n};2{n}/09/2026 09:15;Body;B1325;voltage low;active;7575{n}\n" for n in range(1, 7))
    path = written(tmp_path, "reads.csv", f"Fleet tag;Seen at;Box;DTC;Remark;Condition;Tacho\n{rows}")
    assert asked(path) == ["columns.vehicle"]
    taken = {line.split(" = ")[0] for line in drafted(path).tables["columns"] if not line.startswith("#")}
    assert {"odometer", "status"} <= taken


def test_work_that_is_written_as_a_clock_is_is_hours_and_minutes(tmp_path: Path):
    rows = "2026-10-15,K1,J1,replace,ignition coil,0:20\n2026-10-16,K2,J2,replace,battery,1:05\n"
    path = written(tmp_path, "workshop.csv", f"Date,Vehicle,Job,Action,Part,Time\n{rows}")
    assert asked(path) == []
    assert read(path).rows["labour_minutes"].to_list() == ["20", "65"]
