"""What units and words of compounds tell: hours, mil, prices, modules in brackets, values that are blank."""

import pytest

from tests.unit.reading.test_plain_proposals import asked, rows
from tests.unit.reading.test_times_and_tongues import jobs


def test_hours_in_dutch_are_hours(tmp_path):
    text = jobs("Arbeidstijd (uur)", "1,6", "0,5", "1").replace("22.50", "22,50")
    assert rows(tmp_path, "jobs.csv", text, "labour_minutes") == [("96",), ("30",), ("60",)]


def test_parts_of_a_unit_below_a_day_may_be_hours_and_are_asked_about(tmp_path):
    assert asked(tmp_path, "jobs.csv", jobs("Czas", "1,6", "0,5", "1")) == ["labour"]


def test_minutes_behind_each_number_are_no_money(tmp_path):
    text = "".join(f"Part: {part}\nPrice: 22.50 EUR\nLabour: 24 min\n\n" for part in ("Coil", "Battery", "Thermostat"))
    assert rows(tmp_path, "parts.txt", text, "part", "labour_minutes")[0] == ("Coil", "24")


def test_scandinavian_miles_in_a_text_are_turned_into_km(tmp_path):
    text = "".join(
        f"Fordon: K-{at}\nDatum: 2026-09-{at} 09:15\nMätarställning: 137{at} mil\n\n"
        "Motor:\n   P0301 (aktiv) x\nABS: inga felkoder\n\n"
        for at in (13, 14)
    )
    found = rows(tmp_path, "a.txt", text, "vehicle", "odometer", "odometer_unit")
    assert found[0] == ("K-13", "137130", "km")


@pytest.mark.parametrize("heading", ["Angebotspreis", "Inseratpreis", "Hauspreis"])
def test_the_last_part_of_a_compound_names_its_column(tmp_path, heading):
    text = f"Bestand;Hersteller;Modell;Ankaufspreis;{heading}\nK-11;Corvane;Alder;7.450 €;8.450 €\n"
    text += "K-12;Corvane;Brook;8.100 €;9.100 €\n"
    assert rows(tmp_path, "a.csv", text, "vehicle", "asking_price") == [("K-11", "8450"), ("K-12", "9100")]


def test_a_price_that_no_heading_tells_is_asked_about(tmp_path):
    text = "Part;Minutes;Group A\nCoil;20;34.90\nThermostat;75;22.50\nBattery;25;78.50\n"
    assert asked(tmp_path, "book.csv", text) == ["columns.part_cost"]


def test_what_a_dealer_pays_is_the_cost_of_a_part_beside_what_he_takes(tmp_path):
    text = "Część;Cena zakupu;Cena sprzedaży;Minuty\nCewka;34,90;47,12;30\nTermostat;22,50;31,00;75\n"
    assert rows(tmp_path, "book.csv", text, "part", "part_cost") == [("Cewka", "34.9"), ("Termostat", "22.5")]


def test_a_blank_value_of_a_pair_does_not_take_the_next_pair(tmp_path):
    text = (
        '2026-03-13 job=4113 car=K-11 action=replace part="Coil" cost=34.9 min=30\n'
        '2026-03-14 job=4114 car=K-12 action=clean part="Throttle body" cost= min=60\n'
    )
    found = rows(tmp_path, "jobs.log", text, "job", "part_cost", "labour_minutes")
    assert found == [("4113", "34.9", "30"), ("4114", None, "60")]


def test_modules_in_brackets_behind_codes_and_lists_of_others_are_read(tmp_path):
    text = "".join(
        f"## {car} / {day} Sep 2026 9:15 AM / 81,220 mi\n- P0301 (Engine): Misfire, active\n"
        "- C0045 (ABS): Wheel, history\n"
        "- no faults: Airbag, Climate control\n- no answer: Power steering\n\n"
        for car, day in (("K-11", 13), ("K-12", 14))
    )
    found = rows(tmp_path, "a.md", text, "vehicle", "code", "status", "module_state")
    assert found[:5] == [
        ("K-11", "P0301", "active", None),
        ("K-11", "C0045", "history", None),
        ("K-11", None, None, None),
        ("K-11", None, None, None),
        ("K-11", None, None, "silent"),
    ]


def test_dots_lead_from_a_name_to_its_value_in_cards(tmp_path):
    text = "".join(
        f"Nr wewnętrzny ....... K-{at}\nMarka ............... Corvane\nModel ............... Alder\n"
        f"Rok produkcji ....... 20{at}\nCena ................ 8 {at}0 zł\n\n"
        for at in (14, 15, 16)
    )
    assert rows(tmp_path, "a.txt", text, "vehicle", "model_year")[0] == ("K-14", "2014")


def test_words_between_the_words_of_a_part_stay_in_its_name(tmp_path):
    text = "".join(
        f"Ordem: {4100 + at}\nViatura: K-{at}\nData: {at}/03/2026\nTrabalhos:\n"
        "  - Sensor de roda substituído (34,90 €) 30 min\n  - Bateria ajustada 15 min\n\n"
        for at in (13, 14)
    )
    found = rows(tmp_path, "a.txt", text, "job", "action", "part", "part_cost", "labour_minutes")
    assert found[:2] == [("4113", "replace", "Sensor de roda", "34.9", "30"), ("4113", "adjust", "Bateria", None, "15")]


@pytest.mark.parametrize("word", ["no_response", "not-responding", "noAnswer"])
def test_words_of_programs_for_no_answer_are_known(tmp_path, word):
    text = f"Car;Date;Unit;Code;State\nK-11;2026-09-13;ABS;C0045;active\nK-11;2026-09-13;Airbag;;{word}\n"
    assert rows(tmp_path, "a.csv", text, "code", "module_state") == [("C0045", None), (None, "silent")]
