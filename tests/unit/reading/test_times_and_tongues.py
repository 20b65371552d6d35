"""Times of work with their own units, words of further languages, and answers of modules by their words."""

import pytest

from pipelines.reading.drafting.erase_words import only_erased
from pipelines.reading.mapping.durations import minutes_in
from tests.unit.reading.test_plain_proposals import asked, drafted, rows

JOBS = "Job;Date;Car;Work;Part;Cost;{heading}\n"


def jobs(heading: str, *cells: str) -> str:
    lines = (
        f"{4100 + at};2026-09-{at + 13};K-{at + 11};replaced;Thermostat;22.50;{cell}\n" for at, cell in enumerate(cells)
    )
    return JOBS.format(heading=heading) + "".join(lines)


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("1 h 15 min", 75),
        ("1h15", 75),
        ("2 h", 120),
        ("45 min", 45),
        ("45'", 45),
        ("1,5 Std.", 90),
        ("0.3 h", 18),
        ("1:20", 80),
        ("1 uur en 10 minuten", 70),
        ("1 h 5", 65),
        ("90", None),
        ("1 h 75", None),
        ("soon", None),
    ],
)
def test_a_time_is_read_by_its_own_units(text, minutes):
    assert minutes_in(text) == (None if minutes is None else pytest.approx(minutes))


def test_times_of_work_with_hours_and_minutes_are_minutes(tmp_path):
    text = jobs("Time", "1 h 15", "45 min", "2 h")
    assert rows(tmp_path, "jobs.csv", text, "labour_minutes") == [("75",), ("45",), ("120",)]


def test_a_bare_number_among_times_with_units_is_asked_about(tmp_path):
    assert asked(tmp_path, "jobs.csv", jobs("Time", "1 h 15", "45 min", "2")) == ["labour"]


def test_units_of_work_are_no_minutes_until_it_is_said_how_many_are_an_hour(tmp_path):
    text = jobs("AW", "12", "5", "9")
    assert asked(tmp_path, "jobs.csv", text) == ["labour_rate"]
    assert 'labour = "units"' in drafted(tmp_path / "jobs.csv").toml()


@pytest.mark.parametrize(
    "text",
    ["nada solo borrado", "nothing only wiped", "nur geloscht", "kein teil fehlerspeicher geloscht", "jen smazano"],
)
def test_words_for_nothing_but_an_erase(text):
    assert only_erased(text)


@pytest.mark.parametrize("text", ["coil codes erased", "nothing", "clear coat", ""])
def test_a_part_or_nothing_at_all_is_more_or_less_than_an_erase(text):
    assert not only_erased(text)


def test_nothing_but_an_erase_in_the_column_of_parts_is_an_erase_and_no_part(tmp_path):
    text = "Job;Date;Car;Part fitted;Cost\n4100;2026-09-13;K-11;Thermostat;22.50\n"
    text += "4101;2026-09-14;K-12;nothing, only wiped;\n"
    assert rows(tmp_path, "jobs.csv", text, "action", "part") == [("replace", "Thermostat"), ("erase", None)]


def test_a_dash_in_a_column_of_numbers_is_no_number(tmp_path):
    text = jobs("Minutes", "15", "-", "20").replace("22.50", "22,50", 2).replace("22.50", "-")
    found = rows(tmp_path, "jobs.csv", text, "part_cost", "labour_minutes")
    assert found == [("22.5", "15"), ("22.5", None), (None, "20")]


def test_a_word_for_no_answer_beside_null_in_json_is_silence(tmp_path):
    text = "".join(
        f'{{"car": "K-1{at}", "date": "2026-09-1{at}", "ecu": "{ecu}", "state": "{state}", "dtc": {dtc}}}\n'
        for at, ecu, state, dtc in [
            (1, "ECM", "ok", '"P0301"'),
            (1, "ABS", "timeout", "null"),
            (2, "ECM", "ok", "null"),
        ]
    )
    found = rows(tmp_path, "a.jsonl", text, "module", "code", "module_state")
    assert found == [("ECM", "P0301", None), ("ABS", None, "silent"), ("ECM", None, None)]


def test_a_yes_or_no_whether_a_unit_talks_is_its_answer(tmp_path):
    text = "Coche;Fecha;Unidad;Comunica;Código\nK-11;2026-09-13;ABS;si;C0045\nK-11;2026-09-13;Motor;no;\n"
    found = rows(tmp_path, "a.csv", text, "module", "code", "module_state")
    assert found == [("ABS", "C0045", None), ("ECM", None, "silent")]


@pytest.mark.parametrize("heading", ["kmtal", "cuentakm", "Tachokm", "Kilometertal"])
def test_a_word_for_kilometres_inside_another_names_the_odometer(tmp_path, heading):
    text = f"Car;Date;{heading};Module;Code\nK-11;2026-09-13;81220;ABS;C0045\nK-12;2026-09-14;64300;ABS;C0045\n"
    assert rows(tmp_path, "a.csv", text, "odometer", "odometer_unit") == [("81220", "km"), ("64300", "km")]


CZECH = (
    "Číslo vozu;Datum čtení;Stav km;Řídicí jednotka;Kód závady;Stav závady\n"
    "K-11;2026-09-13;81220;Převodovka;P0741;potvrzená\n"
    "K-11;2026-09-13;81220;ABS;bez závad;\nK-11;2026-09-13;81220;Klimatizace;neodpovídá;\n"
)
DANISH = (
    "Lagernr;Aflæst den;Kilometertal;Styreenhed;Fejlkode;Fejlstatus\n"
    "K-11;2026-09-13;81220;Gearkasse;P0741;bekræftet\n"
    "K-11;2026-09-13;81220;ABS;ingen fejl;\nK-11;2026-09-13;81220;Klimaanlæg;svarer ikke;\n"
)
PORTUGUESE = (
    "Viatura;Lido em;Quilómetros;Unidade;Avaria;Estado da avaria\n"
    "K-11;2026-09-13;81220;Caixa de velocidades;P0741;confirmada\n"
    "K-11;2026-09-13;81220;ABS;sem avarias;\nK-11;2026-09-13;81220;Ar condicionado;não responde;\n"
)


@pytest.mark.parametrize("text", [CZECH, DANISH, PORTUGUESE])
def test_further_languages_are_read_with_the_proposals_alone(tmp_path, text):
    found = rows(tmp_path, "a.csv", text, "vehicle", "odometer", "code", "status", "module_state")
    assert found == [
        ("K-11", "81220", "P0741", "confirmed", None),
        ("K-11", "81220", None, None, None),
        ("K-11", "81220", None, None, "silent"),
    ]


PRINTED = (
    "Stock no.: K-11\nDate: 13/09/2026 09:15\n\nEngine control     1 fault(s)\n    P0301  Misfire  - active\n"
    "ABS brakes         OK\nClimate control    ** no communication **\nDoor mirrors       OK\n\n"
)


def test_counts_and_words_behind_blanks_tell_of_modules(tmp_path):
    text = PRINTED + PRINTED.replace("K-11", "K-12").replace("P0301", "P0171")
    found = rows(tmp_path, "a.txt", text, "vehicle", "module", "code", "module_state")
    assert [row[1:] for row in found[:4]] == [
        ("Engine control", "P0301", None),
        ("ABS", None, None),
        ("Climate control", None, "silent"),
        ("Door mirrors", None, None),
    ]


def test_a_mail_that_begins_with_a_paragraph_is_a_page(tmp_path):
    page = (
        "<p>Hello,</p><p><b>K-11</b>, 13.09.2026 09:15, 81.220 km</p><table>"
        "<tr><th>Unit</th><th>Code</th><th>State</th></tr>"
        "<tr><td>ABS</td><td>C0045</td><td>active</td></tr><tr><td>Airbag</td><td colspan=2>no faults</td></tr></table>"
    )
    mail = f"From: a@w.example\nTo: b@w.example\nSubject: x\nMIME-Version: 1.0\nContent-Type: text/html\n\n{page}\n"
    assert rows(tmp_path, "a.eml", mail, "vehicle", "module", "code") == [
        ("K-11", "ABS", "C0045"),
        ("K-11", "Airbag", None),
    ]


def test_columns_that_list_silent_and_clean_modules(tmp_path):
    text = (
        "Car;Date;Faults found;Modules without faults;No answer\n"
        "K-11;2026-09-13;Engine P0301;ABS, Airbag;Gearbox\nK-12;2026-09-14;;Engine, ABS;\n"
    )
    found = rows(tmp_path, "a.csv", text, "vehicle", "module", "code", "module_state")
    assert sorted(found, key=str) == [
        ("K-11", "ABS", None, None),
        ("K-11", "Airbag", None, None),
        ("K-11", "Engine", "P0301", None),
        ("K-11", "Gearbox", None, "silent"),
        ("K-12", "ABS", None, None),
        ("K-12", "Engine", None, None),
    ]


def test_lists_of_clean_and_silent_modules_beside_faults_in_json(tmp_path):
    text = (
        '{"scans": [{"car": "K-11", "date": "2026-09-13", "faults": [{"module": "Engine", "code": "P0301"},'
        ' {"module": "Engine", "code": "P0420"}], "ok": ["ABS", "Airbag"], "noAnswer": ["Climate control"]},'
        ' {"car": "K-12", "date": "2026-09-14", "faults": [], "ok": ["Engine"], "noAnswer": []}]}'
    )
    found = rows(tmp_path, "a.json", text, "vehicle", "module", "code", "module_state")
    assert sorted(found, key=str) == [
        ("K-11", "ABS", None, None),
        ("K-11", "Airbag", None, None),
        ("K-11", "Climate control", None, "silent"),
        ("K-11", "Engine", "P0301", None),
        ("K-11", "Engine", "P0420", None),
        ("K-12", "Engine", None, None),
    ]
