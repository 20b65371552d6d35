"""Tables, workbooks and trees as workshops keep them: counts, groups of columns, heads between rows, names as keys."""

import json
from zoneinfo import ZoneInfo

import pytest

from pipelines.reading.drafting.doubts import doubts_of
from pipelines.reading.drafting.scan_lines import fields
from pipelines.reading.drafting.words import NO_CODES, SILENT, legend_in
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.recognise import read_mapped
from tests.unit.reading.test_plain_proposals import asked, drafted, rows
from tests.unit.reading.test_shapes_of_tables import book

VINS = ("XX7A5FB49EY390031", "XX7FHGJNM65771900")


@pytest.mark.parametrize(
    ("line", "is_date"), [("Kenteken 3-KLM-214", False), ("Printed 3-APR-26", True), ("vom 3-MÄR-2026", True)]
)
def test_a_plate_of_digits_and_letters_is_no_date(line, is_date):
    assert any(field.column == "scanned_at" for field in fields(line.replace("Printed", "Read"))) is is_date


@pytest.mark.parametrize("words", ["brak łączności", "ohne Antwort", "without reply", "senza risposta"])
def test_words_of_no_link_are_silence(words):
    assert SILENT.search(words)


@pytest.mark.parametrize("words", ["brak sygnału", "brak zasilania"])
def test_a_word_for_none_before_another_word_says_not_that_there_is_no_code(words):
    assert not NO_CODES.search(words)


@pytest.mark.parametrize("words", ["geen", "brak", "geen fouten", "brak usterek"])
def test_words_for_none_alone_or_before_faults_say_that_there_is_no_code(words):
    assert NO_CODES.search(words)


def test_a_column_that_says_fault_beside_codes_tells_which_units_were_silent(tmp_path):
    text = (
        "Car,Date,Module,Result,Code\nK-11,2026-09-13,ECM,Fault,P0301\nK-11,2026-09-13,ABS,no connection,\n"
        "K-11,2026-09-13,SRS,in order,\nK-12,2026-09-14,ECM,Fault,P0420\n"
    )
    found = rows(tmp_path, "a.csv", text.replace("in order", "OK"), "module", "code", "module_state")
    assert found == [("ECM", "P0301", None), ("ABS", None, "silent"), ("SRS", None, None), ("ECM", "P0420", None)]


def test_initials_beside_codes_are_no_states(tmp_path):
    lines = [f"K-{at},2026-09-1{at % 9},ECM,P030{at % 7},{'PvD' if at % 3 else 'ML'}" for at in range(10, 20)]
    text = "\n".join(["Car,Date,Module,Code,Initials", *lines, "K-20,2026-09-19,ABS,none,\n"])
    assert asked(tmp_path, "a.csv", text) == []
    assert asked(tmp_path, "b.csv", text.replace("Initials", "Mark")) == ["columns.status"]


def test_groups_of_columns_are_works_each_and_vehicle_numbers_name_the_cars(tmp_path):
    text = (
        "Commessa;Del;Telaio;Km;Lavoro 1;Ricambio 1;Costo 1;Lavoro 2;Ricambio 2;Costo 2\n"
        f"501;31/01/2026;{VINS[0]};40.194;pulito;Valvola;;sostituito;Sonda;8,40\n"
        f"502;28/02/2026;{VINS[1]};52.101;sostituito;Candela;9,50;controllato;Batteria;\n"
    )
    assert rows(tmp_path, "a.csv", text, "vehicle", "done_at", "action", "part", "part_cost") == [
        (VINS[0], "2026-01-31", "clean", "Valvola", None),
        (VINS[0], "2026-01-31", "replace", "Sonda", "8.4"),
        (VINS[1], "2026-02-28", "replace", "Candela", "9.5"),
        (VINS[1], "2026-02-28", "inspect", "Batteria", None),
    ]


def test_the_buying_price_is_what_a_part_costs_and_a_foot_that_explains_is_no_part(tmp_path):
    text = (
        "Teil;Lieferant;EK netto;VK brutto;Einbau min\nVentil;Kern;134,90;220,36;70\nSonde;Kern;46,20;75,47;35\n"
        ";;;;\nStand 11/2026, EK = Einkauf, VK = Verkauf;;;;\n"
    )
    assert rows(tmp_path, "a.csv", text, "part", "part_cost") == [("Ventil", "134.9"), ("Sonde", "46.2")]


@pytest.mark.parametrize(
    ("cost", "other"),
    [("EK", "VK"), ("Price excl. VAT", "Price incl. VAT"), ("Preis netto", "Preis brutto"), ("Inkoop", "Prijs")],
)
@pytest.mark.parametrize("swapped", [False, True])
def test_of_two_prices_the_one_that_the_dealer_pays_counts(tmp_path, cost, other, swapped):
    lines = [(cost, other), ("10,50", "20,90"), ("11,50", "22,95")]
    prices = [f"{two};{one}" if swapped else f"{one};{two}" for one, two in lines]
    text = f"Part;Supplier;{prices[0]}\nValve;Kern;{prices[1]}\nProbe;Kern;{prices[2]}\n"
    assert rows(tmp_path, "a.csv", text, "part_cost") == [("10.5",), ("11.5",)]


def test_the_number_of_a_purchase_is_no_price(tmp_path):
    text = "Job;Date;Car;Action;Part;Purchase order;Parts cost\n71;2026-09-01;K-11;replaced;Plug;4401;6.50\n"
    assert rows(tmp_path, "a.csv", f"{text}72;2026-09-02;K-12;replaced;Valve;4402;24.57\n", "part_cost") == [
        ("6.5",),
        ("24.57",),
    ]


def test_the_total_of_a_row_is_its_cost_where_number_and_price_make_it(tmp_path):
    head = "Werkbon;Datum;Kenteken;Handeling;Onderdeel;Aantal;Stukprijs;Totaal;Werkuren\n"
    text = f"{head}71;9/2/2026;K-11;vervangen;Bougie;4;6,50;26,00;1,25\n"
    text += "72;19/2/2026;K-12;vervangen;Klep;1;24,57;24,57;0,5\n"
    assert rows(tmp_path, "a.csv", text, "part_cost", "labour_minutes") == [("26", "75"), ("24.57", "30")]
    assert rows(tmp_path, "b.csv", text.replace("Totaal", "Marge"), "part_cost") == [("6.5",), ("24.57",)]


def test_labels_between_the_rows_of_small_tables_are_no_rows(tmp_path):
    head = "Lp.;Moduł;Kod;Stan;Opis\n"
    text = "".join(
        f"Samochód;{car};;;\nRejestracja;{plate};;;\nData badania;{day}.02.2026 11:11;;;\n{head}"
        "1;ECM;P0401;aktywny;Przepływ EGR\n2;TCM;P0776;aktywny;Zawór\n3;ABS;OK;;\n4;SRS;B0012;aktywny;Poduszka\n;;;;\n"
        for car, plate, day in (("5109", "3-KLM-214", 12), ("5112", "3-ABT-301", 13), ("5120", "3-FRA-117", 14))
    )
    found = rows(tmp_path, "a.csv", text, "vehicle", "scanned_at", "module", "code")
    assert len(found) == 12
    assert found[2] == ("5109", "2026-02-12 11:11:00", "ABS", None)


def test_a_legend_tells_marks_with_points_of_modules():
    assert legend_in(["ok = nessun errore; n.r. = non risponde; vuoto = non letta"]) == {
        "ok": "no_codes",
        "n.r.": "silent",
    }


def test_a_legend_below_a_turned_table_is_no_column(tmp_path):
    sheet = [
        ("Vettura n.", "5119", "5152", "5162"),
        ("Letta il", "2026-03-19 12:07", "2026-03-31 16:28", "2026-04-04 13:45"),
        ("Chilometri", "128631", "156046", "151541"),
        ("Motore", "P0301", "ok", "P0420"),
        ("ABS", "n.r.", "C0034", ""),
        ("",),
        ("ok = nessun errore; n.r. = non risponde",),
    ]
    path = tmp_path / "a.xlsx"
    path.write_bytes(book(("Letture", sheet)))
    draft = drafted(path)
    assert [one.key for one in draft.open] == []
    (tmp_path / "draft.toml").write_text(draft.toml(), encoding="utf-8")
    found = read_mapped(path, load_mapping(tmp_path / "draft.toml"), ZoneInfo("UTC")).rows
    assert found.select("vehicle", "code", "module_state").rows() == [
        ("5119", "P0301", None),
        ("5119", None, "silent"),
        ("5152", None, None),
        ("5152", "C0034", None),
        ("5162", "P0420", None),
    ]


def test_a_sheet_that_lists_the_sheets_is_read_over(tmp_path):
    cars = ("5101", "5107", "5113")
    index = [("Sheet", "Make", "Model", "Reg"), *((car, "Tarvik", "Mora", f"ABC {car}") for car in cars)]
    head = ("Date", "Module", "Code", "Km")
    sheets = [(car, [head, (f"2026-09-0{day}", "ECM", "P0301", 5000)]) for day, car in enumerate(cars, 1)]
    path = tmp_path / "a.xlsx"
    path.write_bytes(book(("Cars", index), *sheets))
    (tmp_path / "draft.toml").write_text(drafted(path).toml(), encoding="utf-8")
    mapping = load_mapping(tmp_path / "draft.toml")
    reading = read_mapped(path, mapping, ZoneInfo("UTC"))
    assert reading.rows["vehicle"].to_list() == [*cars]
    assert reading.account.unread == ("Cars",)
    assert doubts_of(path, mapping, reading) == []


def test_a_count_above_the_codes_and_a_byte_beside_them(tmp_path):
    def unit(name: str, *codes: tuple[str, str]) -> str:
        faults = "".join(f"<u><kod>{code}</kod><bajt>{byte}</bajt></u>" for code, byte in codes)
        return f"<m><nazwa>{name}</nazwa><liczba>{len(codes)}</liczba>{faults}</m>"

    scans = [
        (VINS[0], 1, unit("ECM", ("P0301", "2F"), ("P0420", "28")) + unit("ABS")),
        (VINS[1], 2, unit("ECM", ("P0301", "28")) + unit("ABS", ("C0034", "2F"))),
    ]
    text = "<s>{}</s>".format(
        "".join(f"<b><vin>{vin}</vin><czas>2026-09-0{day}T10:00</czas>{units}</b>" for vin, day, units in scans)
    )
    found = rows(tmp_path, "a.xml", f"<?xml version='1.0'?>{text}", "code", "status", "occurrences")
    assert found == [
        ("P0301", "2F", None),
        ("P0420", "28", None),
        (None, None, None),
        ("P0301", "28", None),
        ("C0034", "2F", None),
    ]


def test_a_list_of_all_that_were_read_calls_those_without_codes_clean(tmp_path):
    scan = {"car": "K-11", "time": "2026-09-13T10:00", "read": ["ECM", "ABS", "SRS"], "without_reply": ["BCM", "IPC"]}
    other = {"car": "K-12", "time": "2026-09-14T10:00", "read": ["ECM", "ABS"], "without_reply": []}
    lines = [
        scan | {"faults": [{"unit": "ECM", "code": "P0301"}, {"unit": "ABS", "code": "C0034"}]},
        other | {"faults": [{"unit": "ABS", "code": "C0034"}]},
    ]
    text = "\n".join(map(json.dumps, lines))
    found = rows(tmp_path, "a.jsonl", text, "vehicle", "module", "code", "module_state")
    assert sorted(found, key=str) == sorted(
        [
            ("K-11", "ECM", "P0301", None),
            ("K-11", "ABS", "C0034", None),
            ("K-11", "SRS", None, None),
            ("K-11", "BCM", None, "silent"),
            ("K-11", "IPC", None, "silent"),
            ("K-12", "ABS", "C0034", None),
            ("K-12", "ECM", None, None),
        ],
        key=str,
    )


def test_numbers_of_cars_and_addresses_of_units_as_names(tmp_path):
    tree = {
        "_about": "null: no answer",
        "_units": {"7E0": "Motor", "760": "ABS", "737": "Airbag"},
        "5093": {"2026-09-13 14:58": {"km": 158587, "units": {"7E0": {"P0335": "pending"}, "760": {}, "737": None}}},
        "5114": {"2026-09-14 16:48": {"km": 75174, "units": {"7E0": {}, "760": {"C0561": "active"}}}},
    }
    found = rows(tmp_path, "a.json", json.dumps(tree), "vehicle", "module", "code", "module_state")
    assert found == [
        ("5093", "ECM", "P0335", None),
        ("5093", "ABS", None, None),
        ("5093", "Airbag", None, "silent"),
        ("5114", "ECM", None, None),
        ("5114", "ABS", "C0561", None),
    ]


def test_plates_as_names(tmp_path):
    tree = {
        plate: {"2026-09-13 14:58": [{"unit": "ECM", "code": "P0335"}, {"unit": "ABS", "code": ""}]}
        for plate in ("3-KLM-214", "3-ABT-301")
    }
    found = rows(tmp_path, "a.json", json.dumps(tree), "vehicle", "module", "code")
    assert found[:3] == [("3-KLM-214", "ECM", "P0335"), ("3-KLM-214", "ABS", None), ("3-ABT-301", "ECM", "P0335")]


def test_numbers_of_jobs_as_names(tmp_path):
    work = {"le": "31/01/2026", "vehicule": {"immatriculation": "K-11", "km": 40194}}
    tree = {
        "ordres": {
            "701": work | {"lignes": [{"operation": "remplacé", "piece": "Vanne", "prix_ht": "8,40"}]},
            "703": work | {"lignes": [{"operation": "nettoyé", "piece": "Sonde"}]},
        }
    }
    found = rows(tmp_path, "a.json", json.dumps(tree), "job", "vehicle", "action", "part", "part_cost")
    assert found == [("701", "K-11", "replace", "Vanne", "8.4"), ("703", "K-11", "clean", "Sonde", None)]


@pytest.mark.parametrize("wraps", [1, 2])
def test_one_line_further_in_below_a_code_is_no_rest_of_its_wording(tmp_path, wraps):
    scans = [
        f"Car: K-1{at}   Date: 1{at}.09.2026   81.2{at}0 km\nECM\n  P0301 (active) Misfire of the\n"
        + ("      first cylinder\n" if at < wraps else "")
        for at in range(4)
    ]
    texts = rows(tmp_path, "a.txt", "\n".join(scans), "text")
    assert texts[0] == ("Misfire of the first cylinder" if wraps > 1 else "Misfire of the",)
