"""What drafts once took in silence for something else: read right with the proposals alone, or asked about."""

import pytest

from tests.unit.reading.test_plain_proposals import ONE, TWO, asked, drafted, rows

BOOK = (
    "Part;Price;Fitting time\nAlder Supplies;;\nIgnition coil;34.90;20\nThermostat;42.10;80\n"
    "Brook & Sons;;\nWheel sensor;27.35;40\nCatalyst;899.00;110\n"
)


def test_a_name_alone_above_parts_is_their_supplier(tmp_path):
    assert rows(tmp_path, "book.csv", BOOK, "part", "part_cost", "supplier") == [
        ("Ignition coil", "34.9", "Alder Supplies"),
        ("Thermostat", "42.1", "Alder Supplies"),
        ("Wheel sensor", "27.35", "Brook & Sons"),
        ("Catalyst", "899", "Brook & Sons"),
    ]
    assert "rows.alone" in [question.key for question in drafted(tmp_path / "book.csv").questions]


def test_a_name_alone_above_parts_that_have_a_supplier_is_a_heading(tmp_path):
    text = (
        "Part;Price;Supplier\nEngine;;\nIgnition coil;34.90;Alder\nThermostat;42.10;Brook\n"
        "Brakes;;\nWheel sensor;27.35;Alder\nBrake disc;60.00;Brook\n"
    )
    assert rows(tmp_path, "book.csv", text, "part", "supplier") == [
        ("Ignition coil", "Alder"),
        ("Thermostat", "Brook"),
        ("Wheel sensor", "Alder"),
        ("Brake disc", "Brook"),
    ]


def test_a_part_without_a_price_among_others_stays_a_part(tmp_path):
    text = "Part;Price;Fitting time\nIgnition coil;34.90;20\nWiper blade;;\nThermostat;42.10;80\n"
    assert [part for (part,) in rows(tmp_path, "book.csv", text, "part")] == [
        "Ignition coil",
        "Wiper blade",
        "Thermostat",
    ]


def test_a_list_of_plain_values_is_one_text_of_its_car(tmp_path):
    text = (
        '{"cars": [{"id": "K-11", "make": "Corvane", "model": "Alder", "firstYear": 2017, "bought": "2026-06-13",'
        ' "extras": ["tow bar", "lowered springs"]},'
        ' {"id": "K-12", "make": "Corvane", "model": "Brook", "firstYear": 2015,'
        ' "bought": "2026-06-17", "extras": []}]}'
    )
    assert rows(tmp_path, "yard.json", text, "vehicle", "model_year", "modifications") == [
        ("K-11", "2017", "tow bar;lowered springs"),
        ("K-12", "2015", None),
    ]


@pytest.mark.parametrize("sign", ["N°", "Nº", "№", "#"])
def test_the_sign_of_numbers_names_the_stock_number_beside_a_plate(tmp_path, sign):
    text = (
        f"{sign};Immat.;Marque;Modèle;Mise en circulation;Acheté le\n"
        "K-11;QX 41 RT;Corvane;Alder;2017;13/06/2026\nK-12;QX 88 MN;Corvane;Brook;2015;17/06/2026\n"
    )
    assert rows(tmp_path, "parc.csv", text, "vehicle", "model_year") == [("K-11", "2017"), ("K-12", "2015")]


@pytest.mark.parametrize(
    "words",
    ["geen antwoord", "antwoordt niet", "keine Verbindung", "aucune réponse", "nessuna risposta", "inget svar",
     "brak odpowiedzi", "sin comunicación"],
)  # fmt: skip
def test_a_module_that_did_not_answer_is_silent_in_many_languages(tmp_path, words):
    text = (
        "VIN;Date;Module;Code;Description\n"
        f"{ONE};2026-09-21;Engine;P0301;Misfire\n{ONE};2026-09-21;BCM;;{words}\n{TWO};2026-09-22;ABS;C0045;Sensor\n"
    )
    assert ("BCM", "silent", None) in rows(tmp_path, "a.csv", text, "module", "module_state", "code")


REPORT = (
    f"VIN: {ONE}\nDate: 2026-09-21\nEngine: 1 fault(s)\n  P0301 Misfire (active)\nABS: no faults\n"
    f"Habitacle (BCM): {{}}\nVIN: {TWO}\n"
    f"Date: 2026-09-22\nEngine: 1 fault(s)\n  P0420 Catalyst (stored)\nAirbag: no faults\n"
)


def test_headings_with_counts_and_clean_modules_in_words_are_both_read(tmp_path):
    assert rows(tmp_path, "a.txt", REPORT.format("no answer"), "module", "module_state", "code") == [
        ("Engine", None, "P0301"),
        ("ABS", None, None),
        ("BCM", "silent", None),
        ("Engine", None, "P0420"),
        ("Airbag", None, None),
    ]


def test_more_wordings_of_clean_modules_than_a_pattern_takes_are_asked_about(tmp_path):
    lines = "".join(f"ABS: no faults {word}\n" for word in "abcdefghijklmnopqrstuvwxyz")
    assert "text.modules" in asked(tmp_path, "a.txt", f"VIN: {ONE}\nDate: 2026-09-21\nEngine:\nP0301 Misfire\n{lines}")


def test_a_row_that_says_erased_itself_is_one_row(tmp_path):
    text = (
        "Car;Job;Date;Action;Part;Codes erased\nK-11;J-1;2026-08-13;replaced;Thermostat;yes\n"
        "K-12;J-2;2026-08-14;only erased;;yes\nK-13;J-3;2026-08-15;cleaned;EGR valve;no\n"
    )
    assert rows(tmp_path, "jobs.csv", text, "vehicle", "action", "part") == [
        ("K-11", "replace", "Thermostat"),
        ("K-11", "erase", None),
        ("K-12", "erase", None),
        ("K-13", "clean", "EGR valve"),
    ]


def test_a_code_in_brackets_behind_its_text_leaves_the_text(tmp_path):
    text = (
        "VIN;Date;Module;Fault\n"
        f"{ONE};2026-09-21;Engine;Misfire, cylinder 1 [P0301]\n{TWO};2026-09-22;ABS;Wheel sensor: open [C0031]\n"
    )
    assert rows(tmp_path, "a.csv", text, "code", "text") == [
        ("P0301", "Misfire, cylinder 1"),
        ("C0031", "Wheel sensor: open"),
    ]


@pytest.mark.parametrize("heading", ["Erstzulassung", "Unbekannt"])
def test_a_column_of_years_is_the_model_year(tmp_path, heading):
    text = (
        f"Bestandsnr;Marke;Modell;{heading};Ankauf\nK-11;Corvane;Alder;2017;13.06.2026\n"
        "K-12;Corvane;Brook;2015;17.06.2026\nK-13;Corvane;Alder;2019;19.06.2026\n"
    )
    assert rows(tmp_path, "yard.csv", text, "vehicle", "model_year") == [
        ("K-11", "2017"),
        ("K-12", "2015"),
        ("K-13", "2019"),
    ]


@pytest.mark.parametrize(("one", "two"), [("03/2017", "11/2015"), ("21.03.2017", "05.11.2015")])
def test_the_year_of_the_first_registration_is_taken_out_of_its_date(tmp_path, one, two):
    text = (
        f"Codice;Marca;Modello;Prima immatricolazione;Acquisto\nK-11;Corvane;Alder;{one};13/06/2026\n"
        f"K-12;Corvane;Brook;{two};17/06/2026\n"
    )
    assert rows(tmp_path, "lista.csv", text, "vehicle", "model_year", "bought_on") == [
        ("K-11", "2017", "2026-06-13"),
        ("K-12", "2015", "2026-06-17"),
    ]


def test_a_second_row_of_names_that_programs_write_is_no_row(tmp_path):
    text = (
        "Vehicle;Date;Module;Code;Status\nk_veh;k_date;k_ecu;k_dtc;k_st\n"
        "K-11;2026-09-21;Engine;P0301;active\nK-12;2026-09-22;ABS;C0045;stored\n"
    )
    assert rows(tmp_path, "a.csv", text, "vehicle", "code", "status") == [
        ("K-11", "P0301", "active"),
        ("K-12", "C0045", "confirmed"),
    ]


def test_letters_for_work_that_the_file_explains_and_hours_with_minutes_are_read(tmp_path):
    text = (
        "act: R = replaced, F = fixed (repair), C = cleaned\n\ncar;order;day;act;part;net;h:mm\n"
        "K-11;J-1;2026-08-13;R;Ignition coil;34,90;0:35\nK-12;J-2;2026-08-14;F;Wiring;;1:15\n"
        "K-13;J-3;2026-08-15;C;EGR valve;;0:40\n"
    )
    assert rows(tmp_path, "jobs.csv", text, "vehicle", "action", "part_cost", "labour_minutes") == [
        ("K-11", "replace", "34.9", "35"),
        ("K-12", "repair", None, "75"),
        ("K-13", "clean", None, "40"),
    ]


def test_amounts_under_a_strange_heading_are_asked_about(tmp_path):
    text = (
        "Car;Job;Date;Action;Part;Wert\nK-11;J-1;2026-08-13;replaced;Ignition coil;34.90\n"
        "K-12;J-2;2026-08-14;replaced;Thermostat;42.10\n"
    )
    assert asked(tmp_path, "jobs.csv", text) == ["columns.part_cost"]
