"""Exports seen for the first time: read right with the proposals alone, or asked about with what it means."""

import json
from pathlib import Path
from zoneinfo import ZoneInfo

from pipelines.ingest.mapping_draft import draft_by, draft_of
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.recognise import read_mapped
from pipelines.settings import Settings
from tests.unit.reading.test_plain_proposals import ONE, TWO, asked, rows


def test_the_day_of_a_scan_counts_and_not_the_day_the_file_was_made(tmp_path):
    # 1772442000 is 2026-03-02 09:00 in UTC, 1773307800 is 2026-03-12 09:30; the file was made later.
    scan = {"startTime": 1772442000, "units": [{"ecu": "Engine", "dtcs": [{"code": "P0201", "status": "active"}]}]}
    later = {"startTime": 1773307800, "units": [{"ecu": "ABS", "dtcs": [{"code": "C0044", "status": "stored"}]}]}
    text = json.dumps({"date": 1780000000, "vehicles": [{"stock": "R-310", "visits": [scan, later]}]})
    found = rows(tmp_path, "a.json", text, "vehicle", "scanned_at", "code")
    assert found == [("R-310", "2026-03-02 09:00:00", "P0201"), ("R-310", "2026-03-12 09:30:00", "C0044")]


def test_a_day_of_the_whole_file_is_asked_about_where_no_scan_has_one(tmp_path):
    units = [{"ecu": "Engine", "dtcs": [{"code": "P0201", "status": "active"}]}]
    cars = [{"stock": "R-310", "units": units}, {"stock": "R-311", "units": units}]
    text = json.dumps({"exported": "2026-03-12", "vehicles": cars})
    assert "columns.scanned_at" in asked(tmp_path, "a.json", text)


BLOCK = "Kenteken: RT-512-K\nDatum: 3 maart 2026\nTijd: {clock}\nKm-stand: 51.204\nModule: {module}\n"


def test_a_time_of_day_with_a_point_and_a_word_behind_it_is_read(tmp_path):
    text = BLOCK.format(clock="8.05 uur", module="Motor")
    text += "Foutcode: P0201\nOmschrijving: Verstuiver 1\nStatus: actueel\n\n"
    text += text.replace("8.05", "16.40").replace("P0201", "P0202")
    found = rows(tmp_path, "a.txt", text, "scanned_at", "code")
    assert found == [("2026-03-03 08:05:00", "P0201"), ("2026-03-03 16:40:00", "P0202")]


def test_words_below_a_module_without_a_code_say_of_the_module_and_below_a_code_of_the_code(tmp_path):
    text = BLOCK.format(clock="08:05", module="Motor")
    text += "Foutcode: U0121\nOmschrijving: Geen communicatie met ABS\nStatus: actueel\n\n"
    text += BLOCK.format(clock="08:05", module="Airbag") + "Foutcode:\nOmschrijving: geeft geen antwoord\n"
    found = rows(tmp_path, "a.txt", text, "module", "code", "status", "module_state")
    assert found == [("ECM", "U0121", "active", None), ("Airbag", None, None, "silent")]


def test_a_letter_behind_each_code_is_asked_about_and_then_its_state(tmp_path):
    text = "Car,Date,Module,Faults\nR-310,2026-03-02,Engine,P0201 (K)\nR-310,2026-03-02,ABS,C0044 (T) / C0045 (K)\n"
    text += "R-311,2026-03-04,Engine,P0203 (T)\nR-311,2026-03-04,ABS,no faults\n"
    assert asked(tmp_path, "a.csv", text) == ["values.status.K", "values.status.T"]
    legend = "K = current; T = stored,,,\n" + text
    found = rows(tmp_path, "b.csv", legend, "code", "status")
    assert found[:3] == [("P0201", "active"), ("C0044", "confirmed"), ("C0045", "active")]


BOOK = "Part,Price,Labour (h)\n{first},,\nTie rod end,31.20,0.5\nDrop link,14.90,0.4\n{second},,\nHorn,18.00,0.3\n"


def test_headings_of_groups_in_a_price_book_and_its_footnote_are_no_parts(tmp_path):
    text = BOOK.format(first="Steering", second="Electrics") + "\n** ex VAT,,\n"
    found = rows(tmp_path, "a.csv", text, "part", "supplier", "part_cost")
    assert [(part, cost) for part, _, cost in found] == [("Tie rod end", "31.2"), ("Drop link", "14.9"), ("Horn", "18")]
    assert {supplier for _, supplier, _ in found} == {None}


MILEAGE = "Car,Date,Mileage,Module,Code\nR-310,2026-03-02,41230,Engine,P0201\nR-311,2026-03-04,80211,ABS,C0044\n"


def test_a_mileage_without_a_unit_is_asked_about_unless_the_settings_say_it(tmp_path: Path):
    assert asked(tmp_path, "a.csv", MILEAGE) == ["constants.odometer_unit"]
    draft = draft_of(tmp_path / "a.csv", {}, None, "mi")
    assert draft.open == []
    assert 'odometer_unit = "mi"' in draft.toml()
    # Where cars count miles, km in the settings may be a default that nobody looked at.
    assert draft_by(tmp_path / "a.csv", {}, Settings(currency="EUR")).open == []
    assert [one.key for one in draft_by(tmp_path / "a.csv", {}, Settings(currency="GBP")).open] == [
        "constants.odometer_unit"
    ]
    assert asked(tmp_path, "b.csv", MILEAGE.replace("Mileage", "Mileage km")) == []


def test_a_heading_of_two_names_and_a_unit_that_is_a_car_name_the_car(tmp_path):
    text = (
        "Plate/Stock no,Read on,Control unit,Trouble code\nR-310,2026-03-02,Engine,P0201\nR-311,2026-03-04,ABS,C0044\n"
    )
    assert rows(tmp_path, "a.csv", text, "vehicle", "code") == [("R-310", "P0201"), ("R-311", "C0044")]
    spanish = "Unidad,Fecha,Módulo,Código\n40312,2026-03-02,Motor,P0201\n40313,2026-03-04,ABS,C0044\n"
    assert rows(tmp_path, "b.csv", spanish, "vehicle", "code") == [("40312", "P0201"), ("40313", "C0044")]
    address = "VIN,Date,Unit,Code\n{one},2026-03-02,0x1A,P0201\n{two},2026-03-04,2B,C0044\n"
    found = rows(tmp_path, "c.csv", address.format(one=ONE, two=TWO), "vehicle", "vin", "module")
    assert found == [(None, ONE, "0x1A"), (None, TWO, "2B")]


def test_a_legend_below_a_table_is_no_row_of_it(tmp_path):
    text = "N° VO;Date de lecture;Moteur;ABS\nR12/26;02/03/2026;P0201;RAS\nR13/26;23/03/2026;RAS;C0044\n\n"
    text += "RAS = rien à signaler ; XX = non lu\n"
    found = rows(tmp_path, "a.csv", text, "vehicle", "scanned_at", "code")
    assert found == [
        ("R12/26", "2026-03-02 00:00:00", "P0201"),
        ("R12/26", "2026-03-02 00:00:00", None),
        ("R13/26", "2026-03-23 00:00:00", None),
        ("R13/26", "2026-03-23 00:00:00", "C0044"),
    ]


def test_days_and_times_written_together_and_short_states_are_read(tmp_path):
    text = "CAR     DATE     TIME  UNIT  CODE   ST\n------  -------  ----  ----  -----  ---\n"
    text += "R-310   02MAR26  0805  ECM   P0201  ACT\nR-310   02MAR26  0805  ABS   C0044  STO\n"
    text += "R-311   23APR26  1640  ABS   C0045  PEN\n"
    found = rows(tmp_path, "a.txt", text, "scanned_at", "code", "status")
    assert found == [
        ("2026-03-02 08:05:00", "P0201", "active"),
        ("2026-03-02 08:05:00", "C0044", "confirmed"),
        ("2026-04-23 16:40:00", "C0045", "pending"),
    ]


ORDERS = "RO#\tClosed\tUnit\tOp\tPart description\tPart $\tHrs\n"


def test_orders_that_tell_the_car_once_and_work_in_parts_of_hours_are_read(tmp_path):
    text = f"{ORDERS}71\t03/23/26\tR-310\tREPLACED\tHORN\t$18.20\t0.25\n\t\t\tINSPECTION\tN/A\t\t1.50\n"
    text += "72\t03/24/26\tR-311\tCLEANED\tDRAIN\t\t0.75\n\t\t\tREPAIRED\tDOOR SEAL\t\t0.50\n"
    found = rows(tmp_path, "a.txt", text, "job", "vehicle", "done_at", "action", "part", "labour_minutes")
    assert found == [
        ("71", "R-310", "2026-03-23", "replace", "HORN", "15"),
        ("71", "R-310", "2026-03-23", "inspect", None, "90"),
        ("72", "R-311", "2026-03-24", "clean", "DRAIN", "45"),
        ("72", "R-311", "2026-03-24", "repair", "DOOR SEAL", "30"),
    ]


def test_years_of_two_digits_and_days_that_fall_into_few_years_are_read(tmp_path):
    text = "Kenteken;Merk;Type;BJR;Inkoop\n"
    text += "".join(
        f"R-31{n};Kestrin;Quill;{10 + n};{day:02}-0{n + 1}-2{5 + n % 2}\n" for n, day in enumerate(range(2, 29, 3))
    )
    found = rows(tmp_path, "a.csv", text, "vehicle", "model_year", "bought_on")
    assert found[0] == ("R-310", "2010", "2025-01-02")
    assert found[-1] == ("R-318", "2018", "2025-09-26")


def test_make_and_model_with_a_slash_between_are_told_apart(tmp_path):
    text = "Stock no,Make / Model,Year\nR-310,Kestrin / Quill,2017\nR-311,Tavaro / Sorrel GT,2019\n"
    found = rows(tmp_path, "a.csv", text, "make", "model")
    assert found == [("Kestrin", "Quill"), ("Tavaro", "Sorrel GT")]


def test_a_column_of_whole_codes_counts_and_the_short_ones_beside_it_are_no_codes_more(tmp_path):
    text = "Car;Date;Module;Code;FTB;Full code;State\nR-310;2026-03-02;Engine;P0201;1C;P0201-1C;active\n"
    text += "R-310;2026-03-02;ABS;C0044;29;C0044-29;stored\nR-311;2026-03-04;Engine;;;;no faults\n"
    found = rows(tmp_path, "a.csv", text, "code", "status")
    assert found == [("P0201-1C", "active"), ("C0044-29", "confirmed"), (None, None)]


def test_a_line_of_another_kind_is_no_car_without_faults(tmp_path):
    lines = [
        {"kind": "unit", "car": "R-310", "at": "2026-03-02T08:05", "ecu": "Engine", "code": "P0201", "state": "active"},
        {"kind": "unit", "car": "R-310", "at": "2026-03-02T08:05", "ecu": "ABS", "code": None, "state": None},
        {"kind": "bye", "car": "R-310", "at": "2026-03-02T08:09"},
    ]
    (tmp_path / "a.jsonl").write_text("\n".join(map(json.dumps, lines)), encoding="utf-8")
    draft = draft_of(tmp_path / "a.jsonl", {})
    assert draft.open == []
    (tmp_path / "m.toml").write_text(draft.toml(), encoding="utf-8")
    reading = read_mapped(tmp_path / "a.jsonl", load_mapping(tmp_path / "m.toml"), ZoneInfo("UTC"))
    assert reading.rows["module"].to_list() == ["Engine", "ABS"]
    assert reading.rejects["row"].to_list() == [3]


def test_a_printed_list_of_another_table_is_known_before_anything_is_asked_of_modules(tmp_path):
    stock = "Our cars\n" + "".join(
        f"Stock no: R-31{n}\nMake: Kestrin\nModel: Quill\nYear: 201{n}\nPrice: 9{n}00 EUR\n\n" for n in range(4)
    )
    jobs = "".join(f"Job {n}\nCar .... R-31{n}\n  * Horn replaced - part 1{n},20 EUR - 0:30 h\n\n" for n in range(4))
    priced = (("horn", 18), ("seal", 9), ("hose", 31))
    prices = "".join(f"{part} ........ {cost} €  0:3{cost % 10}\n" for part, cost in priced)
    for name, text, table in (("a.txt", stock, "stock"), ("b.txt", jobs, "repairs"), ("c.txt", prices, "parts")):
        (tmp_path / name).write_text(text, encoding="utf-8")
        draft = draft_of(tmp_path / name, {})
        assert [question.proposal for question in draft.questions if question.key == "table"] == [table]
        assert not any(question.key in ("text.module", "text.scan") for question in draft.open)


def test_the_wording_below_a_code_behind_a_mark_is_no_module(tmp_path):
    text = "Car: R-310\nChecked: 2026-03-02\n\nEngine ......... 2 faults\n   > P0201, active\n     Injector one\n"
    text += "   > P0202, stored\n     Injector two\nAirbag ......... OK\nABS ......... 1 fault\n"
    text += "   > C0044, active\n     A/C pressure\n"
    found = rows(tmp_path, "a.txt", text, "module", "code", "status", "text")
    assert [one[1:] for one in found] == [
        ("P0201", "active", "Injector one"),
        ("P0202", "confirmed", "Injector two"),
        (None, None, None),
        ("C0044", "active", "A/C pressure"),
    ]


def _card(number: int, model: str, year: int, *more: tuple[str, str]) -> str:
    told = [("Ref:", f"R-31{number}"), ("Make:", "Kestrin"), ("Model:", model), ("Year:", str(year)), *more]
    return "<table>" + "".join(f"<tr><td>{name}</td><td>{value}</td></tr>" for name, value in told) + "</table>"


def test_a_page_with_a_card_a_car_is_a_stock_list(tmp_path):
    cards = [_card(n, "Quill GT", 2015 + n, ("Price:", f"{n + 4},900 EUR")) for n in range(3)]
    page = f"<html><body><h1>On the yard</h1>{'<h2>A car</h2>'.join(cards)}</body></html>"
    found = rows(tmp_path, "a.html", page, "vehicle", "model", "model_year", "asking_price")
    assert found == [(f"R-31{n}", "Quill GT", str(2015 + n), f"{n + 4}900") for n in range(3)]
    short = page.replace("</body>", _card(9, "Sorrel", 2011) + "</body>")
    assert asked(tmp_path, "b.html", short) == ["tables"]


def test_three_columns_of_bytes_are_a_code_with_its_failure_type(tmp_path):
    # SAE J2012: C1 0A 1C is U010A with failure type 1C; 02 01 is P0201.
    text = "car|time|ecu|d1|d2|d3|sb\nR-310|20260302080500|0x7E8|02|01|1C|2F\n"
    text += "R-310|20260302080500|0x728|C1|0A|1C|08\nR-311|20260323164000|0x748||||\n"
    text += "R-311|20260323164000|0x7E8|02|02|13|09\n"
    found = rows(tmp_path, "a.psv", text, "vehicle", "code")
    assert found == [("R-310", "P0201-1C"), ("R-310", "U010A-1C"), ("R-311", None), ("R-311", "P0202-13")]
    days = "Car,d1,d2,d3,Module,Code\nR-310,02,03,26,Engine,P0201\nR-311,23,03,26,ABS,C0044\n"
    (tmp_path / "b.csv").write_text(days, encoding="utf-8")
    assert '"d1"' not in draft_of(tmp_path / "b.csv", {}).toml().split("# not used")[0]


def test_a_sentence_below_a_table_is_no_row_of_it(tmp_path):
    text = "Car,Date,Module,Code\nR-310,2026-03-02,Engine,P0201\nR-311,2026-03-23,ABS,C0044\n,,,\n"
    text += "Printed for the yard and of no other use.,,,\n"
    assert rows(tmp_path, "a.csv", text, "vehicle", "code") == [("R-310", "P0201"), ("R-311", "C0044")]


def test_days_with_dashes_that_may_be_months_are_asked_about(tmp_path):
    days = [f"0{n}-{n + 2:02}-25" for n in range(1, 10)]
    text = "Car,Date,Module,Code\n" + "".join(f"R-31{n},{day},Engine,P0201\n" for n, day in enumerate(days))
    assert asked(tmp_path, "a.csv", text) == ["date_formats"]
