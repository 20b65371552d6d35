"""Tables that stand otherwise than a row of names above rows: each read by the proposals alone."""

import io
import json
import zipfile

import pytest
import xlsxwriter

from pipelines.errors import BatchError, InputFileError
from pipelines.ingest.mapping_draft import UNREAD, check_decided
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.recognise import read_mapped
from pipelines.settings import Settings
from tests.unit.reading.test_odd_exports import drafted, read, written

HEAD = "Vehicle,Date,Km,Module"
ONE, TWO = "XX7A5FB49EY390031", "XX7FHGJNM65771900"


def test_names_down_the_first_column_are_names(tmp_path):
    text = "Stock no,K-101,K-101,K-102\nDate,2026-09-01,2026-09-01,2026-09-21\nKm,5000,5000,77000\n"
    text += "Module,Engine,ABS,Engine\nCode,P0301,C0035,P0171\nStatus,active,stored,pending\n"
    rows = read(written(tmp_path, "turned.csv", text)).rows
    assert rows.select("row", "vehicle", "odometer", "code", "status").rows() == [
        (2, "K-101", "5000", "P0301", "active"),
        (3, "K-101", "5000", "C0035", "confirmed"),
        (4, "K-102", "77000", "P0171", "pending"),
    ]


def test_names_over_two_rows_are_joined_and_states_stand_beside_their_modules(tmp_path):
    text = ",,,Engine,,ABS,\nVehicle,Date,Km,Code,Status,Code,Status\n"
    text += "K-101,2026-09-01,5000,P0301,active,C0035,stored\nK-102,2026-09-21,77000,P0171,pending,,\n"
    rows = read(written(tmp_path, "two.csv", text)).rows
    assert rows.select("vehicle", "module", "code", "status").rows() == [
        ("K-101", "Engine", "P0301", "active"),
        ("K-101", "ABS", "C0035", "confirmed"),
        ("K-102", "Engine", "P0171", "pending"),
    ]


def test_two_columns_of_one_name_are_two_and_a_mapping_that_knows_one_refuses(tmp_path):
    text = f"{HEAD},Code,Status,Code,Status\nK-101,2026-09-01,5000,ECM,P0301,active,P0171,stored\n"
    text += "K-102,2026-09-21,77000,ABS,C0035,pending,,\n"
    path = written(tmp_path, "twin.csv", text)
    assert read(path).rows.select("vehicle", "code", "status").rows() == [
        ("K-101", "P0301", "active"),
        ("K-101", "P0171", "confirmed"),
        ("K-102", "C0035", "pending"),
    ]
    mapping = 'serves = ["*"]\nformat = "table"\n[columns]\nvehicle = "Vehicle"\nscanned_at = "Date"\n'
    (tmp_path / "one.toml").write_text(f'{mapping}module = "Module"\ncode = "Code"\n', encoding="utf-8")
    with pytest.raises(InputFileError, match="the header has code more than once; expected it once"):
        read_mapped(path, load_mapping(tmp_path / "one.toml"), Settings().zone)


def test_a_cross_below_a_state_says_it_and_the_state_that_says_most_counts(tmp_path):
    text = f"{HEAD},Code,Active,Stored\nK-101,2026-09-01,5000,ECM,P0301,x,x\nK-101,2026-09-01,5000,ECM,P0171,,x\n"
    rows = read(written(tmp_path, "crosses.csv", f"{text}K-101,2026-09-01,5000,ABS,,,\n")).rows
    assert rows["status"].to_list() == ["active", "confirmed", None]


def test_a_word_among_crosses_that_means_neither_refuses_its_row(tmp_path):
    text = f"{HEAD},Code,Active,Stored\nK-101,2026-09-01,5000,ECM,P0301,x,\nK-101,2026-09-01,5000,ECM,P0171,,x\n"
    draft = drafted(written(tmp_path, "crosses.csv", text))
    (tmp_path / "draft.toml").write_text(draft.toml(), encoding="utf-8")
    later = written(tmp_path, "later.csv", text.replace("P0171,,x", "P0171,?,x"))
    reading = read_mapped(later, load_mapping(tmp_path / "draft.toml"), Settings().zone)
    assert reading.rows["code"].to_list() == ["P0301"]
    assert reading.rejects.rows() == [(3, "status", "?", "expected one of x in Active")]


def test_one_column_of_crosses_is_asked_what_its_absence_means(tmp_path):
    text = f"{HEAD},Code,Active\nK-101,2026-09-01,5000,ECM,P0301,yes\nK-101,2026-09-01,5000,ECM,P0171,no\n"
    path = written(tmp_path, "flag.csv", text)
    # "No" in words says that the code is listed and not there now; a blank cell says nothing, and is asked about.
    assert "flags.otherwise" in [asked.key for asked in drafted(path).questions]
    assert read(path, {}).rows["status"].to_list() == ["active", "history"]
    assert read(path, {"flags.otherwise": "confirmed"}).rows["status"].to_list() == ["active", "confirmed"]
    path = written(tmp_path, "flag.csv", text.replace(",no", ","))
    assert [asked.key for asked in drafted(path).open] == ["flags.otherwise"]


def test_columns_named_by_codes_hold_their_states(tmp_path):
    text = "Vehicle,Date,Km,ABS C0035,ECM P0301\nK-101,2026-09-01,5000,active,\nK-102,2026-09-21,77000,,stored\n"
    rows = read(written(tmp_path, "cross.csv", text)).rows
    assert rows.select("vehicle", "module", "code", "status").rows() == [
        ("K-101", "ABS", "C0035", "active"),
        ("K-102", "ECM", "P0301", "confirmed"),
    ]


def test_a_code_in_two_columns_is_one(tmp_path):
    text = f"{HEAD},Letter,Digits\nK-101,2026-09-01,5000,ECM,P,0301\nK-101,2026-09-01,5000,ABS,C,0035\n"
    rows = read(written(tmp_path, "split.csv", text)).rows
    assert rows.select("module", "code").rows() == [("ECM", "P0301"), ("ABS", "C0035")]


def test_year_month_and_day_in_columns_of_their_own_are_one_moment(tmp_path):
    text = "Y,M,D,h,min,Car,Km,Module,Code\n2026,9,1,8,5,K-101,5000,ECM,P0301\n2026,9,21,14,30,K-102,77000,ABS,C0035\n"
    rows = read(written(tmp_path, "parts.csv", text)).rows
    assert rows["scanned_at"].to_list() == ["2026-09-01 08:05:00", "2026-09-21 14:30:00"]


def test_several_codes_of_a_cell_go_with_the_module_in_front_and_clean_modules_stand_apart(tmp_path):
    text = 'Car,Date,Km,Read and ok,Faults\nK-101,2026-09-01,5000,SRS BCM,"ECM P0301-08 P0171, ABS C0035"\n'
    text += 'K-102,2026-09-21,77000,ECM ABS SRS,"BCM B1317"\n'
    rows = read(written(tmp_path, "list.csv", text)).rows
    assert rows.select("vehicle", "module", "code").rows() == [
        ("K-101", "ECM", "P0301-08"),
        ("K-101", "ECM", "P0171"),
        ("K-101", "ABS", "C0035"),
        ("K-101", "SRS", None),
        ("K-101", "BCM", None),
        ("K-102", "BCM", "B1317"),
        ("K-102", "ECM", None),
        ("K-102", "ABS", None),
        ("K-102", "SRS", None),
    ]


def test_module_and_code_in_each_of_several_columns(tmp_path):
    text = "Car,Date,Km,Fault 1,Fault 2\nK-101,2026-09-01,5000,ECM:P0301,ABS:C0035\nK-102,2026-09-21,77000,SRS:B0001,\n"
    rows = read(written(tmp_path, "wide.csv", text)).rows
    assert rows.select("vehicle", "module", "code").rows() == [
        ("K-101", "ECM", "P0301"),
        ("K-101", "ABS", "C0035"),
        ("K-102", "SRS", "B0001"),
    ]


def test_letters_that_the_file_itself_explains_are_states(tmp_path):
    text = f"# state: A = active, S = stored\n{HEAD},Code,St\nK-101,2026-09-01,5000,ECM,P0301,A\n"
    rows = read(written(tmp_path, "dump.csv", f"{text}K-102,2026-09-21,77000,ABS,C0035,S\n")).rows
    assert rows["status"].to_list() == ["active", "confirmed"]


def test_words_that_say_no_fault_or_no_answer_beside_a_blank_code_are_no_wording(tmp_path):
    text = f"{HEAD},Code,Text\nK-101,2026-09-01,5000,ECM,P0301,Cylinder one misfires\n"
    text += "K-101,2026-09-01,5000,ABS,,no faults\nK-101,2026-09-01,5000,SRS,,no answer\n"
    rows = read(written(tmp_path, "words.csv", text)).rows
    assert rows.select("module", "module_state", "text").rows() == [
        ("ECM", None, "Cylinder one misfires"),
        ("ABS", None, None),
        ("SRS", "silent", None),
    ]


def test_a_stock_number_beside_a_plate_is_the_cars_number(tmp_path):
    text = f"Plate,#,VIN,Date,Module,Code\nLB-KV 412,H-1041,{ONE},2026-09-01,ECM,P0301\n"
    rows = read(written(tmp_path, "both.csv", f"{text}EX17 KLD,H-1045,{TWO},2026-09-21,ABS,C0035\n")).rows
    assert rows.select("vehicle", "vin").rows() == [("H-1041", ONE), ("H-1045", TWO)]


def test_a_plate_in_brackets_behind_make_and_model_is_the_cars_number(tmp_path):
    text = "Datum;Fahrzeug;Steuergerät;Fehler\n01.09.2026;Tavaro Vex (LB-KV 412);Motor;P0301\n"
    rows = read(written(tmp_path, "a.csv", f"{text}21.09.2026;Olmedo Rin (EX17 KLD);ABS;C0035\n")).rows
    assert rows["vehicle"].to_list() == ["LB-KV 412", "EX17 KLD"]


def book(*sheets: tuple[str, list[tuple]]) -> bytes:
    content = io.BytesIO()
    made = xlsxwriter.Workbook(content, {"in_memory": True})
    for name, rows in sheets:
        sheet = made.add_worksheet(name)
        for at, cells in enumerate(rows):
            sheet.write_row(at, 0, cells)
    made.close()
    return content.getvalue()


def test_cars_on_one_sheet_and_codes_on_another_are_tied_by_a_number(tmp_path):
    cars = [("No.", "Vehicle", "Date", "Km"), (1, "K-101", "2026-09-01", 5000), (2, "K-102", "2026-09-21", 77000)]
    codes = [("No.", "Module", "Code"), (1, "ECM", "P0301"), (2, "ABS", "C0035"), (2, "ECM", "P0171")]
    rows = read(written(tmp_path, "tied.xlsx", book(("Scans", cars), ("Codes", codes)))).rows
    assert rows.select("vehicle", "odometer", "code").rows() == [
        ("K-101", "5000", "P0301"),
        ("K-102", "77000", "C0035"),
        ("K-102", "77000", "P0171"),
    ]


def test_a_sheet_whose_odometer_is_in_the_other_unit_counts_in_it(tmp_path):
    sheets = [
        (name, [("Scanned", f"Odometer ({unit})", "Module", "Code"), ("2026-09-01 08:00", 5000, "ECM", "P0301")])
        for name, unit in (("K-101", "km"), ("K-102", "mi"))
    ]
    rows = read(written(tmp_path, "units.xlsx", book(*sheets))).rows
    assert rows.select("vehicle", "odometer", "odometer_unit").rows() == [
        ("K-101", "5000", "km"),
        ("K-102", "5000", "mi"),
    ]


def open_document(rows: list[tuple]) -> bytes:
    urn = "urn:oasis:names:tc:opendocument:xmlns"
    made = "".join(
        "<table:table-row>"
        + "".join(
            f'<table:table-cell office:value-type="string"><text:p>{cell}</text:p></table:table-cell>' for cell in cells
        )
        + '<table:table-cell table:number-columns-repeated="16000"/></table:table-row>'
        for cells in rows
    )
    content = (
        f'<office:document-content xmlns:office="{urn}:office:1.0" xmlns:table="{urn}:table:1.0" '
        f'xmlns:text="{urn}:text:1.0"><office:body><office:spreadsheet><table:table table:name="Scans">{made}'
        '<table:table-row table:number-rows-repeated="1048000"><table:table-cell/></table:table-row>'
        "</table:table></office:spreadsheet></office:body></office:document-content>"
    )
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as made_zip:
        made_zip.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        made_zip.writestr("content.xml", content)
    return packed.getvalue()


def test_an_open_spreadsheet_is_a_workbook_and_a_damaged_one_is_refused(tmp_path):
    # The element names are those of ISO/IEC 26300; a sheet ends with as many blank rows as it could have.
    rows = [("Vehicle", "Date", "Module", "Code"), ("K-101", "2026-09-01", "ECM", "P0301")]
    path = written(tmp_path, "scans.ods", open_document(rows))
    assert read(path).rows.select("vehicle", "code").rows() == [("K-101", "P0301")]
    path.write_bytes(path.read_bytes()[:-80])
    with pytest.raises(InputFileError, match="cannot be read as a spreadsheet"):
        drafted(path)


def test_pairs_along_a_line_are_cells(tmp_path):
    text = 'time="2026-09-01 08:05" car=K-101 km=5000 ecu=ECM dtc=P0301 state=active\n'
    text += 'time="2026-09-21 09:15" car=K-102 km=77000 ecu=ABS dtc=C0035 state=stored\n'
    rows = read(written(tmp_path, "scan.log", text)).rows
    assert rows.select("vehicle", "scanned_at", "code", "status").rows() == [
        ("K-101", "2026-09-01 08:05:00", "P0301", "active"),
        ("K-102", "2026-09-21 09:15:00", "C0035", "confirmed"),
    ]


def test_cards_of_names_and_values_are_a_stock_list(tmp_path):
    text = "Stock no.: H-1\nCar: 2017 Tavaro Vex 1.6 TD\nBought: 03 Jun 2026\nPrice: EUR 6,950\n\n"
    text += "Stock no.: H-2\nCar: 2015 Tavaro Rin 1.4\nBought: 17 Jul 2026\nSold: 16 Oct 2026\nPrice: EUR 5,490\n\n"
    text += "Stock no.: H-3\nCar: 2019 Lomera Siva 1.0\nBought: 09 Jun 2026\nPrice: EUR 11,900\n"
    rows = read(written(tmp_path, "cards.txt", text)).rows
    assert rows.select("vehicle", "make", "model", "model_year", "bought_on", "sold_on", "asking_price").rows() == [
        ("H-1", "Tavaro", "Vex", "2017", "2026-06-03", None, "6950"),
        ("H-2", "Tavaro", "Rin", "2015", "2026-07-17", "2026-10-16", "5490"),
        ("H-3", "Lomera", "Siva", "2019", "2026-06-09", None, "11900"),
    ]


def test_two_parts_of_a_visit_in_one_row_are_two_and_an_erase_is_a_third(tmp_path):
    text = "Job,Car,Date,Part 1,Action 1,Cost 1,Part 2,Action 2,Cost 2,Codes erased\n"
    text += "J1,K-101,2026-09-01,coil,replace,30,plugs,replace,20.5,yes\nJ2,K-102,2026-09-21,valve,clean,,,,,no\n"
    rows = read(written(tmp_path, "jobs.csv", text)).rows
    assert rows.select("job", "action", "part", "part_cost").rows() == [
        ("J1", "replace", "coil", "30"),
        ("J1", "replace", "plugs", "20.5"),
        ("J1", "erase", None, None),
        ("J2", "clean", "valve", None),
    ]


def test_what_was_done_part_and_place_in_one_cell(tmp_path):
    text = "Car,Job,Date,What was done,Price\nK-101,J1,2026-09-01,replaced coil (cyl. 1),€30.00\n"
    text += "K-101,J1,2026-09-01,erased codes,\nK-102,J2,2026-09-21,cleaned throttle body,\n"
    rows = read(written(tmp_path, "jobs.csv", text)).rows
    assert rows.select("action", "part", "position", "part_cost").rows() == [
        ("replace", "coil", "cyl. 1", "30"),
        ("erase", None, None, None),
        ("clean", "throttle body", None, None),
    ]


REPORT = """7.9.2026 - H-1046 Tavaro Kombi, 154872 km
- Motorsteuerung: P0128 und P0420
- ohne Fehler: ABS/ESP, Airbag

27.9.2026 - H-1044 Lomera Petrel, 187083 mi
- Getriebe: P0715
- ohne Fehler: Airbag
"""


def test_notes_with_a_list_of_clean_modules(tmp_path):
    rows = read(written(tmp_path, "notes.txt", REPORT)).rows
    assert rows.select("vehicle", "odometer_unit", "module", "code").rows() == [
        ("H-1046", "km", "ECM", "P0128"),
        ("H-1046", "km", "ECM", "P0420"),
        ("H-1046", "km", "ABS", None),
        ("H-1046", "km", "Airbag", None),
        ("H-1044", "mi", "TCM", "P0715"),
        ("H-1044", "mi", "Airbag", None),
    ]


def test_dots_lead_to_values_and_a_wording_stands_below_its_code(tmp_path):
    text = "Stock number ....... K-101\nDate ....... 01 October 2026\nOdometer ....... 211690 km\n\n"
    text += "FAULTS\n  Engine ........ P1342\n    Boost out of range\n    status ....... Current\n\n"
    text += "  Brakes ........ C0035\n    Wheel speed: open\n    status ....... Stored\n"
    rows = read(written(tmp_path, "readout.txt", text)).rows
    assert rows.select("vehicle", "module", "code", "text", "status").rows() == [
        ("K-101", "Engine", "P1342", "Boost out of range", "active"),
        ("K-101", "Brakes", "C0035", "Wheel speed: open", "confirmed"),
    ]


def test_headings_that_count_their_codes_say_that_there_are_none(tmp_path):
    text = (
        "Kfz: EX17 KLD\nDatum: 02.09.2026 11:17\n\nMotor (1)\n   P0128  Kühlmittel  - aktiv\nGetriebe (0)\nAirbag (0)\n"
    )
    rows = read(written(tmp_path, "druck.txt", text)).rows
    assert rows.select("vehicle", "module", "code", "status").rows() == [
        ("EX17 KLD", "ECM", "P0128", "active"),
        ("EX17 KLD", "TCM", None, None),
        ("EX17 KLD", "Airbag", None, None),
    ]


def test_a_line_that_may_begin_a_scan_and_fits_nothing_is_asked_about(tmp_path):
    text = "Car K-101 read 01.09.2026, 5000 km\n ECM: P0301\nK-102 again 21.09.2026, 77000 km\n ABS: C0035\n"
    assert "text.scan" in [asked.key for asked in drafted(written(tmp_path, "a.txt", text)).open]


def test_proposals_that_leave_codes_or_cars_unread_are_refused_with_the_count(tmp_path):
    text = f"{HEAD},Code,Remark\n" + "".join(
        f"K-10{n},2026-09-0{n + 1},5000,ECM,P030{n},{'see also C0035 of before' if n == 2 else 'seen'}\n"
        for n in range(5)
    )
    path = written(tmp_path, "scans.csv", text)
    assert drafted(path).open == []
    with pytest.raises(BatchError, match="would not read all of it: 5 of 6 texts that look like a code were read"):
        check_decided(path, Settings(), {})
    check_decided(path, Settings(), {UNREAD: "yes"})


def document(*paragraphs: str) -> bytes:
    urn = "http://schemas.openxmlformats.org/wordprocessingml/2006/main"
    body = "".join(f"<w:p><w:r><w:t>{text}</w:t></w:r></w:p>" for text in paragraphs)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as made:
        made.writestr("[Content_Types].xml", "<Types/>")
        made.writestr("word/document.xml", f'<w:document xmlns:w="{urn}"><w:body>{body}</w:body></w:document>')
    return packed.getvalue()


LINES = ("Vehicle: K-101", "Date: 01.09.2026 08:05", "Odometer: 5000 km", "Module: ECM", "P0301 - misfires - active")


def test_a_document_and_a_mail_are_read_as_what_they_print(tmp_path):
    # The element names are those of ECMA-376; the mail is one of RFC 5322.
    wanted = [("K-101", "5000", "ECM", "P0301", "active")]
    columns = ("vehicle", "odometer", "module", "code", "status")
    assert read(written(tmp_path, "report.docx", document(*LINES))).rows.select(columns).rows() == wanted
    mail = "From: Ina <ina@example.com>\nTo: yard@example.com\nSubject: scan\n\nHello,\n\n" + "\n".join(LINES)
    assert read(written(tmp_path, "scan.eml", f"{mail}\n\nIna")).rows.select(columns).rows() == wanted


def test_a_mail_with_nothing_but_a_file_and_an_old_workbook_say_what_to_do(tmp_path):
    mail = "From: a@example.com\nTo: b@example.com\nSubject: scan\nMIME-Version: 1.0\n"
    mail += 'Content-Type: multipart/mixed; boundary="x"\n\n--x\nContent-Type: text/plain\n\nsee below\n'
    mail += '--x\nContent-Type: text/csv\nContent-Disposition: attachment; filename="scans.csv"\n\na,b\n--x--\n'
    with pytest.raises(InputFileError, match=r"it is a mail, and scans\.csv hangs on it"):
        drafted(written(tmp_path, "scan.eml", mail))
    with pytest.raises(InputFileError, match="an office file of the old kind"):
        drafted(written(tmp_path, "scans.xls", b"\xd0\xcf\x11\xe0" + b"\0" * 600))


def test_work_below_lines_that_tell_its_job(tmp_path):
    text = ""
    jobs = (("A-1", "K-101", "13 Aug 2026", "Coil      "), ("A-2", "K-102", "18 Aug 2026", "Thermostat"))
    for job, car, day, part in jobs:
        text += f"Job {job}\nCar:       {car}  Tavaro Vex\nDate:      {day}\nOdometer:  131,262 km\n\n"
        text += f"Work      Part           EUR   Min\nreplace   {part}   48.50    35\n"
        text += "erase     fault memory\n\nRoad test: 45 km\n\n"
    rows = read(written(tmp_path, "jobs.txt", text), {"decimal": "."}).rows
    assert rows.select("job", "vehicle", "done_at", "odometer", "action", "part").rows() == [
        ("A-1", "K-101", "2026-08-13", "131262", "replace", "Coil"),
        ("A-1", "K-101", "2026-08-13", "131262", "erase", None),
        ("A-2", "K-102", "2026-08-18", "131262", "replace", "Thermostat"),
        ("A-2", "K-102", "2026-08-18", "131262", "erase", None),
    ]


def test_cars_and_moments_that_are_names_in_json(tmp_path):
    whole = {
        ONE: {
            "stock": "H-1041",
            "scans": {"2026-09-01 08:05": {"km": 5000, "codes": [{"ecu": "ECM", "dtc": "P0301"}]}},
        },
        TWO: {
            "stock": "H-1042",
            "scans": {"2026-09-21 09:15": {"km": 7000, "codes": [{"ecu": "ABS", "dtc": "C0035"}]}},
        },
    }
    rows = read(written(tmp_path, "cars.json", json.dumps(whole))).rows
    assert rows.select("vehicle", "vin", "scanned_at", "odometer", "module", "code").rows() == [
        ("H-1041", ONE, "2026-09-01 08:05:00", "5000", "ECM", "P0301"),
        ("H-1042", TWO, "2026-09-21 09:15:00", "7000", "ABS", "C0035"),
    ]


def test_hours_of_work_are_minutes_and_scandinavian_miles_are_ten_km(tmp_path):
    text = "Auftrag;Wagen;Datum;Arbeit;Teil;Std.\nA-1;K-101;13.08.2026;ersetzt;Ventil;0,58\n"
    rows = read(written(tmp_path, "jobs.csv", f"{text}A-2;K-102;14.09.2026;ersetzt;Pumpe;1,5\n")).rows
    assert rows["labour_minutes"].to_list() == ["34.8", "90"]
    text = "Regnr;Datum;Mätarställning (mil);Styrenhet;Felkod\nABC 123;2026-08-04;13124;Motor;P0455\n"
    rows = read(written(tmp_path, "fel.csv", f"{text}ABD 124;2026-08-06;9841;ABS;C0031\n")).rows
    assert rows.select("odometer", "odometer_unit").rows() == [("131240", "km"), ("98410", "km")]


def test_a_makers_own_numbers_below_a_heading_for_codes_are_codes(tmp_path):
    text = "Wagen;Datum;Steuergerät;Fehlernr.;Text\nK-101;04.08.2026;ABS;01314;Keine Kommunikation\n"
    rows = read(written(tmp_path, "own.csv", f"{text}K-102;16.08.2026;Airbag;00588;Zünder\n")).rows
    assert rows["code"].to_list() == ["01314", "00588"]


def test_the_time_beside_the_day_of_printing_is_no_time_of_the_scan(tmp_path):
    text = "Vehicle: K-101\nPrinted: 04 Aug 2026 09:20\nScanned: 04 Aug 2026 09:12\n\nEngine:\n  P0455 Leak (active)\n"
    assert read(written(tmp_path, "print.txt", text)).rows["scanned_at"].to_list() == ["2026-08-04 09:12:00"]


def test_several_things_done_in_one_cell_are_a_row_each_or_asked_about(tmp_path):
    text = 'Car,Job,Date,Work\nK-101,J1,2026-09-01,"coil replaced\ncodes erased"\nK-102,J2,2026-09-21,plugs replaced\n'
    path = written(tmp_path, "jobs.csv", text)
    assert read(path).rows.select("action", "part").rows() == [
        ("replace", "coil"),
        ("erase", None),
        ("replace", "plugs"),
    ]
    text = text.replace("codes erased", "customer waits")
    assert "values.action" in [asked.key for asked in drafted(written(tmp_path, "b.csv", text)).open]


def test_a_printed_text_without_headings_of_modules_is_read_by_the_letters_of_its_codes(tmp_path):
    text = "Car: K-101\nDate: 04.08.2026 09:12\nKm: 131240\nP0455 Large leak\nC0035 Wheel speed\n\n"
    text += "Car: K-102\nDate: 16.08.2026 14:05\nKm: 98410\nP0420 Catalyst\n"
    path = written(tmp_path, "plain.txt", text)
    assert [asked.key for asked in drafted(path).open] == ["text.module"]
    rows = read(path, {"text.module": "-"}).rows
    assert rows.select("vehicle", "module", "code").rows() == [
        ("K-101", "ECM", "P0455"),
        ("K-101", "ABS", "C0035"),
        ("K-102", "ECM", "P0420"),
    ]
