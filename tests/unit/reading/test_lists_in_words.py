"""Price books and jobs as lists in words, cards on a page, and days without their year."""

import pytest

from pipelines.reading.mapping.years import with_year
from tests.unit.reading.test_plain_proposals import asked, rows

PRICES = (
    "# Prices\n\n- Ignition coil (also: coil pack, coil): 34.90 EUR, 20 min, check 5 min\n"
    "- Thermostat: 22.50 EUR, 75 min\n- Earth strap: 9.80 EUR, 20 min, check 10 min\n- Alternator: 1,245.50 EUR\n"
)


def test_a_price_book_of_bullets_is_read(tmp_path):
    columns = ("part", "also_called", "part_cost", "labour_minutes", "check_minutes")
    assert rows(tmp_path, "prices.md", PRICES, *columns) == [
        ("Ignition coil", "coil pack, coil", "34.9", "20", "5"),
        ("Thermostat", None, "22.5", "75", None),
        ("Earth strap", None, "9.8", "20", "10"),
        ("Alternator", None, "1245.5", None, None),
    ]


def test_prices_behind_their_sign_and_hours_are_read(tmp_path):
    text = "Prijslijst\n\n* Bobine - € 34,90 - 0,5 uur\n* Thermostaat - € 22,50 - 1 uur 15 min\n"
    text += "* Dynamo - € 1245,50 - 45 min\n"
    found = rows(tmp_path, "prijzen.txt", text, "part", "part_cost", "labour_minutes")
    assert found == [("Bobine", "34.9", "30"), ("Thermostaat", "22.5", "75"), ("Dynamo", "1245.5", "45")]


CARDS = "".join(
    f"<h2>Corvane Alder</h2><ul><li>N.º interno: K-{at}</li><li>Marca: Corvane</li><li>Modelo: Alder</li>"
    f"<li>Ano: 201{at - 10}</li><li>Comprado em: 1{at - 10}/03/2026</li><li>Vendido em: -</li>"
    "<li>Preço: 8.450 €</li></ul>"
    for at in (14, 15, 16)
)


def test_cards_of_a_page_without_tables_are_read_name_by_name(tmp_path):
    found = rows(tmp_path, "stock.html", f"<html><body>{CARDS}</body></html>", "vehicle", "model_year", "asking_price")
    assert found == [("K-14", "2014", "8450"), ("K-15", "2015", "8450"), ("K-16", "2016", "8450")]


JOBS = (
    "# Werkplaats\n\n## K-11 - 19 maart 2026 - bon 4106 - 52.130 km\n\n- Dynamo vervangen, € 1245,50, 96 min\n"
    "- storingen gewist\n\n## K-12 - 5 mei 2026 - bon 4107 - 81.220 km\n\n- Thermostaat vervangen, € 22,50, 75 min\n"
)


def test_a_job_is_known_by_its_word_wherever_it_stands_in_a_heading(tmp_path):
    assert rows(tmp_path, "jobs.md", JOBS, "vehicle", "job", "action", "part", "part_cost") == [
        ("K-11", "4106", "replace", "Dynamo", "1245.5"),
        ("K-11", "4106", "erase", None, None),
        ("K-12", "4107", "replace", "Thermostaat", "22.5"),
    ]


def test_jobs_without_a_number_are_a_car_and_a_day_each(tmp_path):
    text = JOBS.replace("bon 4106 - ", "").replace("bon 4107 - ", "")
    found = rows(tmp_path, "jobs.md", text, "vehicle", "job", "part")
    assert [row[0] for row in found] == ["K-11", "K-11", "K-12"]
    assert found[0][1] == found[1][1] != found[2][1]


@pytest.mark.parametrize(
    ("text", "whole"),
    [
        ("7.2. K-11", "7.2.2026 K-11"),
        ("07. 02. 14:30", "07.02.2026 14:30"),
        ("12/05 09:15", "12/05/2026 09:15"),
        ("7 Feb: coil", "7 Feb 2026: coil"),
        ("Feb 7, K-11", "Feb 7, 2026, K-11"),
        ("7.2.2025 K-11", "7.2.2025 K-11"),
        ("7 February 2025", "7 February 2025"),
        ("20 mar 26", "20 mar 26"),
        ("version 1.2.3", "version 1.2.3"),
        ("12 coils", "12 coils"),
    ],
)
def test_a_year_is_put_behind_days_without_one(text, whole):
    assert with_year(text, 2026) == whole


NOTES = "7.2. K-11 81.220 km\n  ABS: C0045\n  Airbag: keine Fehler\n19.2. K-12 64.300 km\n  ABS: keine Fehler\n"


@pytest.mark.parametrize(("name", "title"), [("notes.txt", "Notizen 2026\n\n"), ("notes_2026.txt", "")])
def test_the_year_of_days_stands_in_the_title_or_in_the_name(tmp_path, name, title):
    found = rows(tmp_path, name, title + NOTES, "vehicle", "scanned_at", "code")
    assert found[0] == ("K-11", "2026-02-07", "C0045") or found[0] == ("K-11", "2026-02-07 00:00:00", "C0045")


@pytest.mark.parametrize(("name", "title"), [("notes.txt", ""), ("notes_2025.txt", "Notizen 2026\n\n")])
def test_a_year_that_nothing_or_not_all_tells_alike_is_asked(tmp_path, name, title):
    assert "year" in asked(tmp_path, name, title + NOTES)


def test_days_that_go_on_over_the_end_of_a_year_are_asked_about(tmp_path):
    text = NOTES.replace("7.2.", "17.12.", 1).replace("19.2.", "9.1.")
    assert "year" in asked(tmp_path, "notes_2026.txt", text)


STOCK = (
    "- K-11: Corvane Alder (2017), ingekocht 4 maart 2026, vraagprijs € 5.750\n"
    "- K-12: Corvane Brook (2015), ingekocht 9 maart 2026, verkocht 2 mei 2026, vraagprijs € 7.090\n"
    "- K-13: Taldera Senda (2012), ingekocht 14 april 2026, vraagprijs € 5.100\n"
)


def test_a_day_of_sale_that_only_some_cars_of_a_list_have_is_theirs(tmp_path):
    assert rows(tmp_path, "cars.md", STOCK, "vehicle", "model", "bought_on", "sold_on", "asking_price") == [
        ("K-11", "Alder", "2026-03-04", None, "5750"),
        ("K-12", "Brook", "2026-03-09", "2026-05-02", "7090"),
        ("K-13", "Senda", "2026-04-14", None, "5100"),
    ]


def test_the_heading_of_a_card_in_notes_is_the_car(tmp_path):
    text = "# Coches en venta\n\n" + "".join(
        f"## K-{at}\n\n- **Marca:** Corvane\n- **Modelo:** Alder\n- **Año:** 20{at}\n- **Precio:** 8.{at}0 €\n\n"
        for at in (14, 15, 16)
    )
    found = rows(tmp_path, "cars.md", text, "vehicle", "make", "model_year", "asking_price")
    assert found == [(f"K-{at}", "Corvane", f"20{at}", f"8{at}0") for at in (14, 15, 16)]


def test_words_behind_a_list_of_works_are_no_work(tmp_path):
    text = "Hi,\n\n" + "".join(
        f"Job {4100 + at} / K-{at} / {at}/03/2026 / 81{at}0 km\n  - replaced coil, 34.90 EUR, 30 min\n"
        "  - codes erased\n\n"
        for at in (13, 14, 15)
    )
    found = rows(tmp_path, "jobs.txt", f"{text}Cheers\nSam\n", "job", "action", "part", "labour_minutes")
    assert found[:2] == [("4113", "replace", "coil", "30"), ("4113", "erase", None, None)]
    assert len(found) == 6


def test_job_cards_with_an_accent_and_a_sign_for_number_are_read(tmp_path):
    text = "".join(
        f"Ordre de réparation n° {4100 + at}\nVéhicule : K-{at}\nDate : {at}/03/2026\nKilométrage : 81 {at}0 km\n"
        "  - Batterie : remplacé - 78,50 € - 24 min\n\n"
        for at in (13, 14, 15)
    )
    found = rows(tmp_path, "or.txt", text, "vehicle", "job", "done_at", "part", "part_cost")
    assert found[0] == ("K-13", "4113", "2026-03-13", "Batterie", "78.5")


def test_the_rows_of_tables_below_headings_of_jobs_keep_their_columns(tmp_path):
    table = "<table><tr><th>Arbeit</th><th>Teil</th><th>Preis</th><th>Minuten</th></tr>"
    row = "<tr><td>ersetzt</td><td>Batterie</td><td>78,50 €</td><td>24</td></tr>"
    more = "<tr><td>gereinigt</td><td>Drosselklappe</td><td></td><td>60</td></tr></table>"
    jobs = "".join(
        f"<h3>Auftrag {4100 + at} vom {at}.03.2026</h3><p>Fahrzeug K-{at}, 81.{at}0 km</p>{table}{row}{more}"
        for at in (13, 14)
    )
    found = rows(tmp_path, "jobs.html", f"<html><body>{jobs}</body></html>", "vehicle", "job", "part_cost", "done_at")
    assert found[::2] == [("K-13", "4113", "78.5", "2026-03-13"), ("K-14", "4114", "78.5", "2026-03-14")]
