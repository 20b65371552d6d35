"""Cells, lines and trees that tell of several control units, and marks and words in place of codes."""

import pytest

from pipelines.reading.drafting.date_guesses import date_guess
from tests.unit.reading.test_plain_proposals import drafted, rows

TOLD = [
    ("K-11", "ECM", "P0301", None),
    ("K-11", "ECM", "P0420", None),
    ("K-11", "ABS", None, None),
    ("K-11", "SRS", None, "silent"),
    ("K-12", "ABS", "C0045", None),
    ("K-12", "ECM", None, None),
]
COLUMNS = ("vehicle", "module", "code", "module_state")


def in_names(found: list[tuple]) -> list[tuple]:
    names = {"Engine": "ECM", "Motor": "ECM", "Airbag": "SRS"}
    return [(car, names.get(module, module), code, state) for car, module, code, state in found]


@pytest.mark.parametrize("mark", [" | ", "; ", "\n"])
def test_all_units_of_a_scan_in_one_cell_are_rows_each(tmp_path, mark):
    first = mark.join(["Engine: P0301, P0420", "ABS: no faults", "Airbag: no answer"])
    second = mark.join(["ABS: C0045", "Engine: no faults"])
    text = f'Car,Date,km,Result\nK-11,2026-09-13,81220,"{first}"\nK-12,2026-09-14,64300,"{second}"\n'
    assert in_names(rows(tmp_path, "a.csv", text, *COLUMNS)) == TOLD


def test_a_line_a_scan_with_words_behind_a_blank_is_read(tmp_path):
    text = (
        "Uitlezingen\n\n13-09-2026 K-11 81220 km: Motor P0301/P0420; ABS geen fouten; Airbag geen antwoord\n"
        "14-09-2026 K-12 64300 km: ABS C0045; Motor geen fouten\n"
    )
    assert in_names(rows(tmp_path, "a.txt", text, *COLUMNS)) == TOLD


def test_branches_of_dashes_lead_to_units_and_codes(tmp_path):
    text = "".join(
        f"Vettura {car} letta il {day}/09/2026 alle 09:15 - km 81.220\n  |- Motore\n  |    |- P0301 Misfire [attivo]\n"
        "  |- ABS (nessun errore)\n"
        for car, day in (("K-11", 13), ("K-12", 14))
    )
    found = rows(tmp_path, "a.txt", text, "vehicle", "code")
    assert found == [("K-11", "P0301"), ("K-11", None), ("K-12", "P0301"), ("K-12", None)]


def test_the_caption_of_a_table_tells_its_scan(tmp_path):
    page = "".join(
        f"<table><caption>{car} &mdash; {day}/09/2026 09:15 &mdash; 81&nbsp;220 km</caption>"
        "<tr><th>Calculateur</th><th>Code</th><th>Statut</th></tr><tr><td>ABS</td><td>C0045</td><td>actif</td></tr>"
        "<tr><td>Airbag</td><td>—</td><td>aucun défaut</td></tr></table>"
        for car, day in (("K-11", 13), ("K-12", 14))
    )
    found = rows(tmp_path, "a.html", f"<html><body>{page}</body></html>", "vehicle", "code", "status")
    assert found == [
        ("K-11", "C0045", "active"),
        ("K-11", None, None),
        ("K-12", "C0045", "active"),
        ("K-12", None, None),
    ]


def test_a_word_for_a_code_in_front_of_it_and_states_in_brackets_are_read(tmp_path):
    text = "".join(
        f"[{day}/09/2026 09:15:0{at}] {line}\n"
        for day, car in ((13, "K-11"), (14, "K-12"))
        for at, line in enumerate(
            [f"Inicio sesión - vehículo {car} - 81220 km", "Motor: avería P0301 (activo)", "ABS: sin averías"]
        )
    )
    found = rows(tmp_path, "a.log", text, "vehicle", "code", "status")
    assert found == [
        ("K-11", "P0301", "active"),
        ("K-11", None, None),
        ("K-12", "P0301", "active"),
        ("K-12", None, None),
    ]


def test_codes_with_states_behind_a_dash_are_read(tmp_path):
    text = "K-11, 13 March 2026, 81,220 km\n* Gearbox - P0715 history; P0741 active\n* ABS - nothing\n"
    found = rows(tmp_path, "a.txt", text, "code", "status")
    assert found == [("P0715", "history"), ("P0741", "active"), (None, None)]


def test_a_mark_in_place_of_a_code_beside_words_is_a_blank(tmp_path):
    text = "Car;Date;Unit;Code;State\nK-11;2026-09-13;ABS;C0045;active\nK-11;2026-09-13;Airbag;?;no answer\n"
    text += "K-11;2026-09-13;Engine;-;o.B.\n"
    found = rows(tmp_path, "a.csv", text, "module", "code", "module_state")
    assert [row[1:] for row in found] == [("C0045", None), (None, "silent"), (None, None)]


def test_units_that_answer_by_a_yes_have_codes_or_none(tmp_path):
    text = "".join(
        f'{{"car": "K-11", "at": "2026-09-13", "ecu": "{ecu}", "ok": {ok}, "dtc": {dtc}}}\n'
        for ecu, ok, dtc in [("ECM", "true", '["P0301:active"]'), ("ABS", "true", "[]"), ("SRS", "false", "[]")]
    )
    found = rows(tmp_path, "a.jsonl", text, "module", "module_state")
    assert found == [("ECM", None), ("ABS", None), ("SRS", "silent")]


def test_a_row_of_units_below_the_names_is_no_row(tmp_path):
    text = "Stock,Read,Odo,ECU,DTC\n,(local),(mi),,\nK-11,2026-09-13 09:15,81220,ABS,C0045\n"
    text += "K-12,2026-09-14 09:15,64300,ABS,NONE\n"
    found = rows(tmp_path, "a.csv", text, "vehicle", "odometer_unit", "code")
    assert found == [("K-11", "mi", "C0045"), ("K-12", "mi", None)]


def test_words_for_a_car_in_stock_in_place_of_its_sale_are_no_day(tmp_path):
    text = "Stock no;Make;Model;Bought;Sold;Price\nK-11;Corvane;Alder;13.03.2026;in stock;8450\n"
    text += "K-12;Corvane;Brook;14.03.2026;20.05.2026;9100\n"
    assert rows(tmp_path, "a.csv", text, "vehicle", "sold_on") == [("K-11", None), ("K-12", "2026-05-20")]


@pytest.mark.parametrize(
    ("cell", "form"),
    [
        ("25 februari 2026 om 13:58 uur", "%d %b %Y om %H:%M uur"),
        ("25.02.2026 gegen 13:58 Uhr", "%d.%m.%Y gegen %H:%M Uhr"),
    ],
)
def test_words_around_a_time_of_day_are_of_its_form(cell, form):
    assert date_guess([cell]).form == form


def test_a_heading_whose_words_are_cut_off_at_a_point_is_known(tmp_path):
    text = "Lp.;Nr magazyn.;Marka;Model;Cena [zł]\n1;K-11;Corvane;Alder;8 450,00\n2;K-12;Corvane;Brook;9 100,00\n"
    assert rows(tmp_path, "a.csv", text, "vehicle", "asking_price") == [("K-11", "8450"), ("K-12", "9100")]


def test_paths_of_flat_json_are_known_by_each_of_their_names(tmp_path):
    text = '{"name": "Coil", "cost": {"value": 34.9}, "fit_minutes": 20}\n'
    text += '{"name": "Thermostat", "cost": {"value": 22.5}, "fit_minutes": 75}\n'
    assert rows(tmp_path, "book.jsonl", text, "part", "part_cost") == [("Coil", "34.9"), ("Thermostat", "22.5")]


def test_a_flag_named_for_the_memory_says_that_codes_were_erased(tmp_path):
    text = "Auftrag;Datum;Wagen;Arbeit;Teil;Fehlerspeicher geloescht\n4113;13.03.2026;K-11;ersetzt;Batterie;ja\n"
    text += "4114;14.03.2026;K-12;ersetzt;Batterie;nein\n"
    assert rows(tmp_path, "a.csv", text, "job", "action") == [
        ("4113", "replace"),
        ("4113", "erase"),
        ("4114", "replace"),
    ]
    assert "erased.column" in [question.key for question in drafted(tmp_path / "a.csv").questions]
