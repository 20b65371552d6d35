"""What was once taken in silence for something else, and the everyday words of exports; common practice, no source."""

import zipfile
from zoneinfo import ZoneInfo

import pytest

from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.draft_mapping import draft_mapping
from pipelines.reading.drafting.names import ask_time_of_names
from pipelines.reading.mapping.free_work import work_within
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.recognise import read_mapped
from tests.unit.reading.test_plain_proposals import INDEX, asked, drafted, rows

SCAN = "Car;Date;Module;Code;{}\n"


@pytest.mark.parametrize(
    ("heading", "yes", "no"),
    [("respuesta", "sí", "no"), ("Antwort", "ja", "nein"), ("répond", "oui", "non"), ("odpowiedź", "tak", "brak"),
     ("reachable", "true", "timeout"), ("antwoord", "ok", "geen contact")],
)  # fmt: skip
def test_a_column_that_says_who_answered_is_read_in_many_languages(tmp_path, heading, yes, no):
    text = SCAN.format(heading) + (
        f"K-11;2026-09-21;Engine;P0301;{yes}\nK-11;2026-09-21;ABS;;{no}\nK-12;2026-09-22;ABS;C0045;{yes}\n"
    )
    found = rows(tmp_path, "a.csv", text, "module", "module_state", "code")
    assert [("silent" if state == "silent" else "read", code) for _, state, code in found] == [
        ("read", "P0301"),
        ("silent", None),
        ("read", "C0045"),
    ]


def test_a_word_about_answers_that_nobody_knows_is_asked_about(tmp_path):
    text = SCAN.format("Answer") + "K-11;2026-09-21;Engine;P0301;yes\nK-11;2026-09-21;ABS;;perhaps\n"
    assert asked(tmp_path, "a.csv", text) == ["values.module_state.perhaps"]


def test_attributes_of_xml_tell_failure_types_and_answers(tmp_path):
    text = (
        '<scans><scan car="K-11" date="2026-04-22"><unit name="ABS" answered="no"></unit>'
        '<unit name="Airbag" answered="yes"><fault code="B0028" tipo="1A" state="active"/></unit></scan></scans>'
    )
    assert rows(tmp_path, "a.xml", text, "module", "module_state", "code", "failure_type") == [
        ("ABS", "silent", None, None),
        ("Airbag", None, "B0028", "1A"),
    ]


NULLS = (
    '{"car": "K-11", "date": "2026-09-21", "faults": {"ABS": null, "Engine": ["P0301"], "Body": []}}\n'
    '{"car": "K-12", "date": "2026-09-22", "faults": {"ABS": ["C0045"], "Engine": []}}\n'
)


def test_null_beside_empty_lists_is_no_answer(tmp_path):
    found = rows(tmp_path, "a.jsonl", NULLS, "vehicle", "module", "module_state", "code")
    assert found == [
        ("K-11", "ABS", "silent", None),
        ("K-11", "Engine", None, "P0301"),
        ("K-11", "Body", None, None),
        ("K-12", "ABS", None, "C0045"),
        ("K-12", "Engine", None, None),
    ]
    assert "codes.null" in [question.key for question in drafted(tmp_path / "a.jsonl").questions]


def test_null_where_no_list_is_empty_is_asked_about(tmp_path):
    text = NULLS.replace(', "Body": []', "").replace(', "Engine": []', "")
    assert asked(tmp_path, "a.jsonl", text) == ["codes.null"]


def test_null_in_a_list_of_modules_is_no_answer_too(tmp_path):
    text = (
        '{"scans": [{"car": "K-11", "date": "2026-09-21", "units": [{"name": "ABS", "faults": null},'
        ' {"name": "Body", "faults": []}, {"name": "Engine", "faults": [{"code": "P0301"}]}]}]}'
    )
    found = rows(tmp_path, "a.json", text, "module", "module_state", "code")
    assert found == [("ABS", "silent", None), ("Body", None, None), ("Engine", None, "P0301")]


def test_a_plate_is_no_stock_number_where_another_column_numbers_the_cars(tmp_path):
    text = (
        "<cars><car><znak>W210</znak><rejestracja>MA 947 PC</rejestracja><marka>Corvane</marka><model>Alder</model>"
        "<cena>9290</cena></car><car><znak>W213</znak><rejestracja>MB 534 HU</rejestracja><marka>Corvane</marka>"
        "<model>Brook</model><cena>8600</cena></car></cars>"
    )
    assert rows(tmp_path, "a.xml", text, "vehicle", "plate") == [("W210", "MA 947 PC"), ("W213", "MB 534 HU")]


@pytest.mark.parametrize(
    "heading", ["Rif.", "N° de parc", "numer", "Nr auta", "Codice veicolo", "Número interno", "Voertuignr."]
)
def test_stock_numbers_have_many_names(tmp_path, heading):
    text = f"{heading};Marca;Modello;Anno;Prezzo\nK-11;Corvane;Alder;2017;8450\nK-12;Corvane;Brook;2015;7200\n"
    assert rows(tmp_path, "a.csv", text, "vehicle", "make") == [("K-11", "Corvane"), ("K-12", "Corvane")]


MODULES = "Module,Code,State\nABS,C0045,active\nEngine,,no codes\n"


@pytest.mark.parametrize(
    ("first", "second", "when"),
    [("K-11_2026-05-09_0954", "K-12_2026-05-19_1431", "09:54:00"),
     ("K-11_20260509_0954", "K-12_20260519_1431", "09:54:00"),
     ("K-11 09.05.2026 09h54", "K-12 19.05.2026 14h31", "09:54:00"),
     ("2026-05-09-0954_K-11", "2026-05-19-1431_K-12", "09:54:00"),
     ("K-11_2026_05_09_095412", "K-12_2026_05_19_143100", "09:54:12")],
)  # fmt: skip
def test_names_of_files_tell_the_time_of_day_too(tmp_path, first, second, when):
    path = tmp_path / "a.zip"
    with zipfile.ZipFile(path, "w") as packed:
        for name in (first, second):
            packed.writestr(f"{name}.csv", MODULES)
    draft = drafted(path)
    assert [question.key for question in draft.open] == []
    (tmp_path / "m.toml").write_text(draft.toml(), encoding="utf-8")
    reading = read_mapped(path, load_mapping(tmp_path / "m.toml"), ZoneInfo("UTC"))
    assert reading.rows.select("vehicle", "scanned_at").rows()[0] == ("K-11", f"2026-05-09 {when}")


def test_a_time_in_a_files_name_that_nothing_reads_is_asked_about():
    day = r"(?<scanned_at>[0-9]+-May-2026)"
    draft = Draft()
    ask_time_of_names(draft, ["9-May-2026 at 0954 K-11.csv", "19-May-2026 at 1454 K-12.csv"], day)
    assert not draft.open  # a word stands between
    ask_time_of_names(draft, ["9-May-2026 0954 K-11.csv", "19-May-2026 K-12.csv"], day)
    assert not draft.open  # one name has none
    ask_time_of_names(draft, ["9-May-2026 0954 K-11.csv", "19-May-2026 1454 K-12.csv"], day)
    assert [question.key for question in draft.open] == ["names.time"]


@pytest.mark.parametrize(
    ("word", "means"),
    [("sporadico", "confirmed"), ("sporadyczny", "confirmed"), ("intermittente", "confirmed"),
     ("af en toe", "confirmed"),
     ("esporádico", "confirmed"), ("obecnie aktywny", None), ("presente", "active"), ("momenteel aanwezig", "active"),
     ("in sospeso", "pending"), ("pendiente", "pending"), ("zapamiętany", "confirmed"), ("en mémoire", "confirmed")],
)  # fmt: skip
def test_states_in_everyday_words(tmp_path, word, means):
    text = SCAN.format("Status") + f"K-11;2026-09-21;Engine;P0301;{word}\nK-12;2026-09-22;ABS;C0045;active\n"
    if means is None:
        assert asked(tmp_path, "a.csv", text) == [f"values.status.{word}"]
    else:
        assert rows(tmp_path, "a.csv", text, "status") == [(means,), ("active",)]


@pytest.mark.parametrize(
    ("word", "means"),
    [("limpiar", "clean"), ("sustituir", "replace"), ("ajustar", "adjust"), ("borrar averías", "erase"),
     ("nettoyer", "clean"), ("pulire", "clean"), ("afstellen", "adjust"), ("wymienić", "replace"),
     ("remplacer", "replace"),
     ("foutcodes wissen", "erase"), ("cancellare gli errori", "erase"), ("effacer les défauts", "erase"),
     ("skasować błędy", "erase"), ("Fehlerspeicher löschen", "erase"), ("repareren", "repair"),
     ("verificare", "inspect")],
)  # fmt: skip
def test_work_in_everyday_words(tmp_path, word, means):
    text = (
        "Job;Date;Car;Work;Part;Cost\n"
        f"4101;2026-02-19;K-11;{word};{'' if means == 'erase' else 'thermostat'};\n"
        "4102;2026-02-20;K-12;replaced;coil;38.90\n"
    )
    assert rows(tmp_path, "jobs.csv", text, "action") == [(means,), ("replace",)]


def test_a_regulator_that_was_put_in_new_is_a_part():
    assert work_within("Regler ersetzt") == ("replace", "Regler")


@pytest.mark.parametrize("words", ["niet gelezen", "nicht gelesen", "non letto", "nie odczytano", "not scanned"])
def test_a_module_that_was_not_read_tells_nothing(tmp_path, words):
    wide = f"Car;Date;Engine;ABS;Airbag\nK-11;2026-09-21;P0301;{words};OK\nK-12;2026-09-22;OK;C0045;{words}\n"
    found = rows(tmp_path, "a.csv", wide, "vehicle", "module", "code")
    assert found == [
        ("K-11", "Engine", "P0301"),
        ("K-11", "Airbag", None),
        ("K-12", "Engine", None),
        ("K-12", "ABS", "C0045"),
    ]
    long = SCAN.format("Status") + (
        f"K-11;2026-09-21;Engine;P0301;active\nK-11;2026-09-21;ABS;{words};\nK-12;2026-09-22;ABS;C0045;active\n"
    )
    assert rows(tmp_path, "b.csv", long, "module", "code") == [("Engine", "P0301"), ("ABS", "C0045")]


def test_a_word_in_place_of_a_code_that_nobody_knows_is_asked_about(tmp_path):
    text = SCAN.format("Status") + (
        "K-11;2026-09-21;Engine;P0301;active\nK-11;2026-09-21;ABS;whatever;\nK-12;2026-09-22;ABS;C0045;active\n"
    )
    assert asked(tmp_path, "a.csv", text) == ["codes.whatever"]


@pytest.mark.parametrize(
    ("when", "read"),
    [("8 marca 2026, godz. 12:35", "2026-03-08 12:35:00"), ("19-jun-26 05:56 p. m.", "2026-06-19 17:56:00"),
     ("5 de mayo de 2026", "2026-05-05 00:00:00"), ("3 października 2026 o 9:05", "2026-10-03 09:05:00"),
     ("13 września 2026", "2026-09-13 00:00:00"), ("27 março 2026", "2026-03-27 00:00:00")],
)  # fmt: skip
def test_days_with_names_of_months_and_words_before_the_time(tmp_path, when, read):
    text = f"Car;Date;Module;Code\nK-11;{when};Engine;P0301\nK-12;{when};ABS;C0045\n"
    assert rows(tmp_path, "a.csv", text, "scanned_at") == [(read,), (read,)]


def test_a_clock_with_points_in_its_half_of_the_day_stands_in_its_own_column(tmp_path):
    text = "Car;Date;Hora;Module;Code\nK-11;19-jun-26;05:56 p. m.;Engine;P0301\nK-12;20-jun-26;09:29 a. m.;ABS;C0045\n"
    assert rows(tmp_path, "a.csv", text, "scanned_at") == [("2026-06-19 17:56:00",), ("2026-06-20 09:29:00",)]


def test_an_answer_that_names_the_time_of_the_other_column_is_not_doubled(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("Car,Date,Time,Module,Code\nK-11,03/04/2026,11:26,Engine,P0301\n", encoding="utf-8")
    draft = draft_mapping(path, lambda text: INDEX.canonical(text)[1], {"date_formats": "%m/%d/%Y %H:%M"})
    (tmp_path / "m.toml").write_text(draft.toml(), encoding="utf-8")
    reading = read_mapped(path, load_mapping(tmp_path / "m.toml"), ZoneInfo("UTC"))
    assert reading.rows["scanned_at"].to_list() == ["2026-03-04 11:26:00"]


def test_codes_in_backticks_are_codes(tmp_path):
    text = (
        "# Scans\n\n| Car | Read | Module | Codes |\n|---|---|---|---|\n"
        "| K-11 | 05 Jun 2026 12:51 | **Body** | `B1325` / `B1300` |\n|  |  | Engine | — |\n"
        "| K-12 | 07 Jun 2026 13:13 | ABS | `C0045` |\n"
    )
    assert rows(tmp_path, "a.md", text, "vehicle", "module", "code") == [
        ("K-11", "Body", "B1325"),
        ("K-11", "Body", "B1300"),
        ("K-11", "Engine", None),
        ("K-12", "ABS", "C0045"),
    ]


PAGE = (
    "Alder Street Yard                    Faults                   Page {}\n\n"
    "Car    Date      Time         km  Unit              Code   Status       Text\n"
    "-----------------------------------------------------------------------------\n"
)
LINES = (
    "K-11   20.02.26  13:07   113.518  Engine            P0301  active       Misfire found\n"
    "K-11   20.02.26  13:07   113.518  Transmission      P0717  stored       No signal\n"
)


def test_titles_of_pages_part_no_columns(tmp_path):
    text = "\n".join(PAGE.format(page) + LINES.replace("113.5", f"113.{page}") for page in (1, 2, 3))
    found = rows(tmp_path, "a.prn", text, "vehicle", "odometer", "code", "text")
    assert found[::2] == [("K-11", f"113{page}18", "P0301", "Misfire found") for page in (1, 2, 3)]
    assert found[1::2] == [("K-11", f"113{page}18", "P0717", "No signal") for page in (1, 2, 3)]


MAIL = (
    "From: A <a@alder.example>\nTo: B <b@alder.example>\nSubject: Wagen\nMIME-Version: 1.0\n"
    "Content-Type: text/plain; charset=utf-8\nContent-Transfer-Encoding: 8bit\n\nHallo,\n\nhier sind sie:\n\n"
    "- K-11 (14.5.2026, 103.054 km) - Motor: P0301, P0171 und P0562; Bremsen: keine Antwort; Airbag: i.O.\n"
    "- K-12 (17.05.26, 114.723 km) - Bremsen: C0045\n- K-13 (17. Mai 2026, 80.306 km) - Airbag: B0028; Motor: i.O.\n\n"
    "Der Rest kommt morgen.\n"
)


def test_a_list_of_cars_in_a_mail_with_days_in_several_forms(tmp_path):
    found = rows(tmp_path, "a.eml", MAIL, "vehicle", "scanned_at", "odometer", "module", "module_state", "code")
    one, two, three = "2026-05-14 00:00:00", "2026-05-17 00:00:00", "2026-05-17 00:00:00"
    assert found == [
        ("K-11", one, "103054", "ECM", None, "P0301"),
        ("K-11", one, "103054", "ECM", None, "P0171"),
        ("K-11", one, "103054", "ECM", None, "P0562"),
        ("K-11", one, "103054", "ABS", "silent", None),
        ("K-11", one, "103054", "Airbag", None, None),
        ("K-12", two, "114723", "ABS", None, "C0045"),
        ("K-13", three, "80306", "Airbag", None, "B0028"),
        ("K-13", three, "80306", "ECM", None, None),
    ]


def test_jobs_in_free_words_in_a_page_with_headings(tmp_path):
    text = (
        "<html><body><table><tr><th>Bon</th><th>Datum</th><th>Auto</th><th>Stand</th><th>Gedaan</th></tr>"
        "<tr><td>4106</td><td>23 februari 2026</td><td>K-11</td><td>159.235 km</td>"
        "<td>accu vervangen, foutcodes gewist</td></tr>"
        "<tr><td>4109</td><td>9 maart 2026</td><td>K-12</td><td>143.048 km</td>"
        "<td>stuurhoeksensor gerepareerd en deurslot vervangen</td></tr>"
        "<tr><td>4110</td><td>14 maart 2026</td><td>K-13</td><td>97.273 km</td><td>bobine schoongemaakt</td></tr>"
        "</table></body></html>"
    )
    assert rows(tmp_path, "jobs.html", text, "vehicle", "job", "action", "part") == [
        ("K-11", "4106", "replace", "accu"),
        ("K-11", "4106", "erase", None),
        ("K-12", "4109", "repair", "stuurhoeksensor"),
        ("K-12", "4109", "replace", "deurslot"),
        ("K-13", "4110", "clean", "bobine"),
    ]


LOG = (
    "2026-04-06 07:36:01 INFO  session start car=K-11 odo=180232km\n"
    "2026-04-06 07:36:05 INFO  car=K-11 module=SRS codes=none\n"
    "2026-04-06 07:36:11 INFO  car=K-11 module=ECM codes=P0301:active,P0171:pending\n"
    "2026-04-06 07:36:15 WARN  car=K-11 module=ABS timeout, no reply\n"
    "2026-04-06 07:36:41 INFO  session end car=K-11\n"
    "2026-04-06 09:49:42 INFO  session start car=K-12 odo=102593km\n"
    "2026-04-06 09:49:46 INFO  car=K-12 module=BCM codes=B1325:stored\n"
    "2026-04-06 09:50:22 INFO  session end car=K-12\n"
)
TOLD = [
    ("K-11", "2026-04-06 07:36:01", "180232", "SRS", None, None, None),
    ("K-11", "2026-04-06 07:36:01", "180232", "ECM", None, "P0301", "active"),
    ("K-11", "2026-04-06 07:36:01", "180232", "ECM", None, "P0171", "pending"),
    ("K-11", "2026-04-06 07:36:01", "180232", "ABS", "silent", None, None),
    ("K-12", "2026-04-06 09:49:42", "102593", "BCM", None, "B1325", "confirmed"),
]
COLUMNS = ("vehicle", "scanned_at", "odometer", "module", "module_state", "code", "status")


def test_lines_of_a_log_belong_to_the_session_that_a_line_above_begins(tmp_path):
    assert rows(tmp_path, "a.log", LOG, *COLUMNS) == TOLD
    # The car may stand in the first line of each session alone.
    once = (
        LOG.replace("INFO  car=K-11 ", "INFO  ")
        .replace("INFO  car=K-12 ", "INFO  ")
        .replace("WARN  car=K-11 ", "WARN  ")
    )
    assert rows(tmp_path, "b.log", once, *COLUMNS) == TOLD


def test_sessions_that_stand_among_each_other_are_asked_about(tmp_path):
    lines = LOG.splitlines()
    mixed = "\n".join([*lines[:2], lines[5], *lines[2:5], *lines[6:]])
    assert asked(tmp_path, "a.log", mixed) != []


ACROSS = "Module;Code;Text;{} 24.05.2026;{} 26.05.2026\nEngine;P0102;Signal low;x;\nABS;C0045;Wheel;x;x\n"


@pytest.mark.parametrize(("one", "two"), [("K-11", "K-12"), ("W240", "W234"), ("MA 947 PC", "MB 534 HU")])
def test_a_column_a_scan_names_car_and_day(tmp_path, one, two):
    assert rows(tmp_path, "a.csv", ACROSS.format(one, two), "vehicle", "scanned_at", "module", "code", "status") == [
        (one, "2026-05-24 00:00:00", "Engine", "P0102", None),
        (one, "2026-05-24 00:00:00", "ABS", "C0045", None),
        (two, "2026-05-26 00:00:00", "ABS", "C0045", None),
    ]


CARDS = (
    "JOB 4118   K-11   21 Mar 2026   157,331 km\n  - repaired battery: 20 min\n  - erased fault codes\n\n"
    "JOB 4122   K-12   4 Apr 2026   159,730 km\n"
    "  - replaced wheel speed sensor, front left: EUR 31.50, 25 min\n  - replaced thermostat: EUR 27.40, 75 min\n"
)
JOBS = ("job", "vehicle", "done_at", "odometer", "action", "part", "position", "part_cost", "labour_minutes")


def test_printed_job_cards_are_jobs(tmp_path):
    assert rows(tmp_path, "jobs.txt", CARDS, *JOBS) == [
        ("4118", "K-11", "2026-03-21", "157331", "repair", "battery", None, None, "20"),
        ("4118", "K-11", "2026-03-21", "157331", "erase", None, None, None, None),
        ("4122", "K-12", "2026-04-04", "159730", "replace", "wheel speed sensor", "front left", "31.5", "25"),
        ("4122", "K-12", "2026-04-04", "159730", "replace", "thermostat", None, "27.4", "75"),
    ]


def test_job_cards_with_a_name_a_line_are_jobs(tmp_path):
    text = (
        "Auftrag 4118\nWagen: K-11\nDatum: 21.03.2026\nKm-Stand: 157.331 km\n * Batterie ersetzt (20 min)\n"
        " * Fehler gelöscht\n----\nAuftrag 4122\nWagen: K-12\nDatum: 04.04.2026\nKm-Stand: 159.730 km\n"
        " * Zündspule ersetzt, 38,90 EUR, 25 min\n"
    )
    found = rows(tmp_path, "jobs.txt", text, "job", "vehicle", "done_at", "odometer", "action", "part", "part_cost")
    assert found == [
        ("4118", "K-11", "2026-03-21", "157331", "replace", "Batterie", None),
        ("4118", "K-11", "2026-03-21", "157331", "erase", None, None),
        ("4122", "K-12", "2026-04-04", "159730", "replace", "Zündspule", "38.9"),
    ]


CARS = (
    "Voorraad per 1 oktober 2026\n\n* K-11: Corvane Alder (2018), kenteken MA 947 PC, vraagprijs € 9.290,-\n"
    "* K-12: Corvane Brook (2016), kenteken MB 534 HU, vraagprijs € 8.600,-\n"
    "* K-13: Taldera Senda (2012), kenteken RB 361 VU, vraagprijs € 3.700,-\n\nTotaal 3 auto's\n"
)


def test_a_list_of_cars_in_words_is_stock(tmp_path):
    found = rows(tmp_path, "cars.txt", CARS, "vehicle", "plate", "make", "model", "model_year", "asking_price")
    assert found == [
        ("K-11", "MA 947 PC", "Corvane", "Alder", "2018", "9290"),
        ("K-12", "MB 534 HU", "Corvane", "Brook", "2016", "8600"),
        ("K-13", "RB 361 VU", "Taldera", "Senda", "2012", "3700"),
    ]


def test_words_that_differ_from_car_to_car_are_asked_about(tmp_path):
    text = CARS.replace("(2018),", "(2018), verlaagd,").replace("(2016),", "(2016), trekhaak,")
    assert asked(tmp_path, "cars.txt", text.replace("(2012),", "(2012), nieuw,")) == ["lines.left"]


def test_a_car_in_the_list_that_stands_otherwise_is_refused(tmp_path):
    path = tmp_path / "cars.txt"
    path.write_text(CARS, encoding="utf-8")
    (tmp_path / "m.toml").write_text(drafted(path).toml(), encoding="utf-8")
    path.write_text(CARS.replace("K-12: Corvane Brook", "K-12 sold, Brook"), encoding="utf-8")
    reading = read_mapped(path, load_mapping(tmp_path / "m.toml"), ZoneInfo("UTC"))
    assert reading.rows["vehicle"].to_list() == ["K-11", "K-13"]
    assert reading.rejects["row"].to_list() == [4]


EVENTS = (
    '{"ev":"begin","run":17,"car":"K-11","odo":180232,"at":"2026-04-06T07:36:01"}\n'
    '{"ev":"begin","run":18,"car":"K-12","odo":102593,"at":"2026-04-06T09:36:01"}\n'
    '{"ev":"unit","run":17,"name":"ECM","codes":["P0301"]}\n'
    '{"ev":"unit","run":18,"name":"BCM","codes":["B1325"]}\n'
    '{"ev":"unit","run":17,"name":"ABS","codes":[]}\n'
)


def test_lines_of_one_scan_have_the_car_that_one_of_them_tells(tmp_path):
    found = rows(tmp_path, "a.jsonl", EVENTS, "vehicle", "scanned_at", "odometer", "module", "code")
    assert found == [
        ("K-11", "2026-04-06 07:36:01", "180232", "ECM", "P0301"),
        ("K-12", "2026-04-06 09:36:01", "102593", "BCM", "B1325"),
        ("K-11", "2026-04-06 07:36:01", "180232", "ABS", None),
    ]
    assert "session" in [question.key for question in drafted(tmp_path / "a.jsonl").questions]


PLAIN_LOG = (
    "[2026-04-06T07:36:01] #17 connect K-11 180232 km\n[2026-04-06T07:36:05] #17 SRS ok\n"
    "[2026-04-06T07:36:11] #17 ECM P0301 active\n[2026-04-06T07:36:15] #17 ABS no answer\n"
    "[2026-04-06T07:37:01] #17 disconnect\n[2026-04-06T09:49:42] #18 connect K-12 102593 km\n"
    "[2026-04-06T09:49:46] #18 BCM B1325 stored\n[2026-04-06T09:50:22] #18 disconnect\n"
)


def test_a_log_without_names_keeps_its_clean_and_its_silent_modules(tmp_path):
    found = rows(tmp_path, "a.log", PLAIN_LOG, "vehicle", "scanned_at", "module", "module_state", "code", "status")
    assert found == [
        ("K-11", "2026-04-06 07:36:01", "SRS", None, None, None),
        ("K-11", "2026-04-06 07:36:01", "ECM", None, "P0301", "active"),
        ("K-11", "2026-04-06 07:36:01", "ABS", "silent", None, None),
        ("K-12", "2026-04-06 09:49:42", "BCM", None, "B1325", "confirmed"),
    ]


def test_a_session_among_the_lines_of_another_is_asked_about(tmp_path):
    lines = PLAIN_LOG.splitlines()
    mixed = "\n".join([*lines[:2], lines[5], *lines[2:5], *lines[6:]])
    assert "text.sessions" in asked(tmp_path, "a.log", mixed)


def test_a_state_by_yes_or_no_is_none_where_there_is_no_code(tmp_path):
    text = SCAN.format("Active now?") + "K-11;2026-09-21;Engine;P0301;Y\nK-11;2026-09-21;ABS;no faults;\n"
    text += "K-12;2026-09-22;Body;B1325;N\n"
    found = rows(tmp_path, "a.csv", text, "module", "code", "status")
    assert found == [("Engine", "P0301", "active"), ("ABS", None, None), ("Body", "B1325", "history")]


def test_a_list_of_jobs_in_words_is_work(tmp_path):
    text = (
        "Lavori di marzo 2026\n\n4106 - 23/02/2026 - K-11 - 159.235 km - batteria sostituita, errori cancellati\n"
        "4108 - 03/03/2026 - K-12 - 179.750 km - sensore giri ruota sostituito\n"
        "4109 - 09/03/2026 - K-13 - 143.048 km - serratura riparata\n"
    )
    assert rows(tmp_path, "jobs.txt", text, "job", "vehicle", "done_at", "odometer", "action", "part") == [
        ("4106", "K-11", "2026-02-23", "159235", "replace", "batteria"),
        ("4106", "K-11", "2026-02-23", "159235", "erase", None),
        ("4108", "K-12", "2026-03-03", "179750", "replace", "sensore giri ruota"),
        ("4109", "K-13", "2026-03-09", "143048", "repair", "serratura"),
    ]


def test_a_legend_may_say_that_a_module_gave_no_answer(tmp_path):
    text = (
        "K-11|2026-04-06T07:36|ECM|P0301|A\nK-11|2026-04-06T07:36|ABS|-|T\nK-12|2026-04-27T17:06|BCM|B1325|S\n"
        "K-12|2026-04-27T17:06|SRS|-|N\nA = active, S = stored, T = timeout, N = no codes\n"
    )
    assert rows(tmp_path, "a.txt", text, "module", "module_state", "code", "status") == [
        ("ECM", None, "P0301", "active"),
        ("ABS", "silent", None, None),
        ("BCM", None, "B1325", "confirmed"),
        ("SRS", None, None, None),
    ]


def test_types_of_failures_stand_beside_crosses_for_states(tmp_path):
    text = SCAN.format("Tipo;Memorizzato;Attivo") + (
        "K-11;2026-04-06;Motore;P0301;00;X;X\nK-11;2026-04-06;Motore;P0171;00;X;\n"
        "K-12;2026-04-27;Carrozzeria;B1325;13;X;\n"
    )
    assert rows(tmp_path, "a.csv", text, "code", "failure_type", "status") == [
        ("P0301", "00", "active"),
        ("P0171", "00", "confirmed"),
        ("B1325", "13", "confirmed"),
    ]


def test_a_yes_or_no_of_json_says_the_state(tmp_path):
    text = (
        '[{"car": "K-11", "date": "2026-04-06", "units": ['
        '{"name": "Engine", "codes": [{"dtc": "P0301", "present": true}]},'
        ' {"name": "ABS", "codes": []}]}, {"car": "K-12", "date": "2026-04-27",'
        ' "units": [{"name": "Body", "codes": [{"dtc": "B1325", "present": false}]}]}]'
    )
    assert rows(tmp_path, "a.json", text, "module", "code", "status") == [
        ("Engine", "P0301", "active"),
        ("ABS", None, None),
        ("Body", "B1325", "history"),
    ]


def test_words_for_nothing_beside_a_code_are_asked_about(tmp_path):
    text = SCAN.format("Status") + "K-11;2026-04-06;Engine;P0301;OK\nK-12;2026-04-27;ABS;C0045;active\n"
    assert asked(tmp_path, "a.csv", text) == ["values.status.OK"]


def test_a_column_that_says_that_cars_are_sold_is_asked_about(tmp_path):
    text = "Stock,Make,Model,Bought,Price,Remark\n" + (
        "K-11,Corvane,Alder,14.01.2026,9290,for sale\nK-12,Corvane,Brook,19.01.2026,8600,sold 13.10.2026\n"
    )
    assert asked(tmp_path, "cars.csv", text) == ["columns.sold"]


def test_a_column_with_a_number_for_each_visit_is_its_job(tmp_path):
    text = "xyz;datum;auto;onderdeel;handeling\n4106;23-02-2026;K-11;accu;vervangen\n"
    text += "4107;24-02-2026;K-12;bobine;vervangen\n"
    assert rows(tmp_path, "jobs.csv", text, "job", "vehicle") == [("4106", "K-11"), ("4107", "K-12")]


def test_numbered_lines_of_modules_without_codes(tmp_path):
    text = (
        "Car No K-11 / Odometer 111991 mi / Date 06 Apr 2026 / Time 7:36 AM\n\n"
        "No.  System              Code     Condition\n"
        "1    Engine              P0301    Current\n2    ABS                 ------   Not responding\n"
        "3    Airbag              ------   Passed\n\n"
        "Car No K-12 / Odometer 63748 mi / Date 27 Apr 2026 / Time 5:06 PM\n\n"
        "No.  System              Code     Condition\n"
        "1    Body                B1325    History\n"
    )
    assert rows(tmp_path, "a.txt", text, "vehicle", "module", "module_state", "code") == [
        ("K-11", "Engine", None, "P0301"),
        ("K-11", "ABS", "silent", None),
        ("K-11", "Airbag", None, None),
        ("K-12", "Body", None, "B1325"),
    ]


def test_a_table_of_cars_is_no_list_in_words(tmp_path):
    text = "Stock,Type,Plate,First reg,Bought,Price\n" + (
        "K-11,Corvane Alder 1.6,MA 947 PC,03/2018,14.01.2026,9290\n"
        "K-12,Corvane Brook 2.0,MB 534 HU,11/2018,19.01.2026,8600\n"
        "K-13,Taldera Senda 1.2,TE 984 PC,05/2017,22.01.2026,2900\n"
    )
    assert rows(tmp_path, "cars.csv", text, "vehicle", "plate", "bought_on")[0] == ("K-11", "MA 947 PC", "2026-01-14")


def test_what_the_dealer_paid_is_no_asking_price(tmp_path):
    text = "N°;Marque;Modèle;Année;Achat Date;Achat Prix;Vente Date;Vente Prix\n" + (
        "K-11;Corvane;Alder;2018;14/01/2026;7000;;9290\nK-12;Corvane;Brook;2018;19/01/2026;6500;13/10/2026;8600\n"
    )
    found = rows(tmp_path, "parc.csv", text, "vehicle", "bought_on", "sold_on", "asking_price")
    assert found == [("K-11", "2026-01-14", None, "9290"), ("K-12", "2026-01-19", "2026-10-13", "8600")]


def test_a_column_that_is_named_as_ours_and_holds_something_else_is_asked_about(tmp_path):
    text = "Stocknummer;Merk;Model;Verkocht;Vraagprijs\nK-11;Corvane;Alder;nee;9290\nK-12;Corvane;Brook;ja;8600\n"
    assert asked(tmp_path, "cars.csv", text) == ["columns.sold_on.cells"]


def test_work_in_hours_with_seconds_as_workbooks_have_them(tmp_path):
    text = "Commessa;Data;Auto;Lavoro;Ricambio;Ore\n4106;23/02/2026;K-11;sostituzione;batteria;00:20:00\n"
    text += "4107;24/02/2026;K-12;pulizia;debimetro;1:15:00\n"
    assert rows(tmp_path, "jobs.csv", text, "labour_minutes") == [("20",), ("75",)]


def test_a_dash_for_cents_tells_the_decimal_mark_and_make_stands_before_model(tmp_path):
    text = "Stocknummer;Merk / model;Bouwjaar;Vraagprijs\nK-11;Corvane / Alder;2018;€ 9.290,-\n"
    text += "K-12;Corvane / Brook;2018;€ 8.600,-\n"
    assert rows(tmp_path, "cars.csv", text, "make", "model", "asking_price") == [
        ("Corvane", "Alder", "9290"),
        ("Corvane", "Brook", "8600"),
    ]


def test_notes_with_marks_are_scans(tmp_path):
    text = (
        "## K-11, 6 April 2026 07:36, 180,232 km\n\n- **Engine**: `P0301` (active), `P0171` (stored)\n"
        "- **ABS**: no answer\n- **Airbag**: ok\n\n"
        "## K-12, 27 April 2026 17:06, 102,593 km\n\n- **Body**: `B1325` (stored)\n"
    )
    assert rows(tmp_path, "a.md", text, "vehicle", "module", "module_state", "code", "status") == [
        ("K-11", "Engine", None, "P0301", "active"),
        ("K-11", "Engine", None, "P0171", "confirmed"),
        ("K-11", "ABS", "silent", None, None),
        ("K-11", "Airbag", None, None, None),
        ("K-12", "Body", None, "B1325", "confirmed"),
    ]


def test_rows_of_one_scan_have_the_car_that_one_of_them_tells(tmp_path):
    text = (
        "run;event;time;car;odo;module;code;state\n17;start;2026-04-06 07:36:01;K-11;180232;;;\n"
        "18;start;2026-04-06 07:36:02;K-12;102593;;;\n17;read;2026-04-06 07:36:05;;;ECM;P0301;active\n"
        "18;read;2026-04-06 07:36:06;;;BCM;B1325;stored\n17;read;2026-04-06 07:36:09;;;ABS;none;\n"
    )
    found = rows(tmp_path, "a.csv", text, "vehicle", "scanned_at", "module", "code")
    assert found == [
        ("K-11", "2026-04-06 07:36:01", "ECM", "P0301"),
        ("K-12", "2026-04-06 07:36:02", "BCM", "B1325"),
        ("K-11", "2026-04-06 07:36:01", "ABS", None),
    ]
    bare = "\n".join(line.partition(";")[2] for line in text.splitlines())
    assert asked(tmp_path, "b.csv", bare) == ["session"]


def test_pairs_of_sessions_and_a_name_for_what_went_wrong(tmp_path):
    text = (
        "ts=2026-04-06T07:36:01Z msg=begin run=17 vehicle=K-11 mileage=180232km\n"
        "ts=2026-04-06T07:36:05Z run=17 ecu=ECM dtc=P0301 status=active\n"
        'ts=2026-04-06T07:36:09Z run=17 ecu=ABS error="no response"\n'
        "ts=2026-04-27T17:06:01Z msg=begin run=18 vehicle=K-12 mileage=102593km\n"
        "ts=2026-04-27T17:06:05Z run=18 ecu=BCM dtc=B1325 status=stored\n"
    )
    found = rows(tmp_path, "a.log", text, "vehicle", "odometer", "module", "module_state", "code", "status")
    assert found == [
        ("K-11", "180232", "ECM", None, "P0301", "active"),
        ("K-11", "180232", "ABS", "silent", None, None),
        ("K-12", "102593", "BCM", None, "B1325", "confirmed"),
    ]
