"""Printed lists and texts of other code pages and tongues; common practice, no source."""

import pytest

from pipelines.reading.source import encoding_of, read_any_text
from tests.unit.reading.test_plain_proposals import asked, rows

BOOK = (
    "PRICE BOOK\n\nIgnition coil ............ €     34,90    20 min\nThermostat ............... €     42,10    80 min\n"
    "Fuel pump ................ €  1.089,50   180 min\n"
)


def test_dots_and_the_sign_of_money_lead_from_a_part_to_its_price(tmp_path):
    assert rows(tmp_path, "book.txt", BOOK, "part", "part_cost", "labour_minutes") == [
        ("Ignition coil", "34.9", "20"),
        ("Thermostat", "42.1", "80"),
        ("Fuel pump", "1089.5", "180"),
    ]


BARS = "car|date|km|module|code|ind|text\n" + "".join(
    f"K-1{at}|2026-09-2{at}|{12000 + at}|{module}|{code}|{mark}|{text}\n"
    for at in range(5)
    for module, code, mark, text in (
        ("Engine", "P0301", "A", "Misfire"),
        ("Engine", "P0171", "M", "Mixture lean"),
        ("ABS", "", "-", ""),
        ("Airbags", "", "N", ""),
    )
)


def test_a_legend_may_explain_a_dash_beside_letters(tmp_path):
    legend = "\nind : A = active, M = history, - = no fault, N = no answer\n"
    found = rows(tmp_path, "bars.txt", BARS + legend, "module", "module_state", "code", "status")
    assert found[:4] == [
        ("Engine", None, "P0301", "active"),
        ("Engine", None, "P0171", "history"),
        ("ABS", None, None, None),
        ("SRS", "silent", None, None),
    ]


def test_marks_beside_codes_and_others_beside_blanks_are_asked_about(tmp_path):
    assert "columns.status" in asked(tmp_path, "bars.txt", BARS)


@pytest.mark.parametrize(
    ("text", "page"),
    [
        ("Auftrag geprüft, Glühkerze, Fehlerspeicher gelöscht, Größe", "cp850"),
        ("vérifié, remplacé, pièce, câble", "cp850"),
        ("revisión de código, año", "cp850"),
        ("świeca żarowa, złącze napinacza, część", "cp852"),
        ("Auftrag geprüft, Glühkerze, Größe – „neu“", "cp1252"),
        ("l’équipe vérifié à l’atelier", "cp1252"),
        ("świeca żarowa, złącze, część", "cp1250"),
    ],
)
def test_the_code_page_of_an_old_print_is_known_by_its_letters(tmp_path, text, page):
    path = tmp_path / "a.txt"
    path.write_bytes(text.encode(page))
    assert encoding_of(path.read_bytes()) == page
    assert read_any_text(path)[0] == text


UNITS = (
    "Jobs 2026\n{}\n\nOrder 2671   of 02.03.26   car 4114   74785 km\n"
    "   Pos Work        Part            Parts EUR   AW\n"
    "    10 replaced    Ignition coil       51,74    9\n    20 cleaned     Throttle body                4\n"
    "Order 2672   of 03.03.26   car 4115   64785 km\n"
    "   Pos Work        Part            Parts EUR   AW\n"
    "    10 replaced    Wheel sensor        27,30   12\n"
)


@pytest.mark.parametrize(("said", "minutes"), [("1 AW = 5 Minuten", 5), ("10 AW = 1 Stunde", 6), ("1 aw: 6 min", 6)])
def test_what_a_unit_of_work_is_a_print_may_say_itself(tmp_path, said, minutes):
    found = rows(tmp_path, "jobs.txt", UNITS.format(said), "job", "vehicle", "part", "labour_minutes")
    assert [(*told, float(work)) for *told, work in found] == [
        ("2671", "4114", "Ignition coil", 9.0 * minutes),
        ("2671", "4114", "Throttle body", 4.0 * minutes),
        ("2672", "4115", "Wheel sensor", 12.0 * minutes),
    ]


def test_what_a_unit_of_work_is_stays_a_question_where_nothing_says_it(tmp_path):
    assert asked(tmp_path, "jobs.txt", UNITS.format("all prices net")) == ["labour_rate"]


@pytest.mark.parametrize("clock", ["8u52", "08h52", "8:52"])
def test_a_clock_has_a_letter_between_hours_and_minutes(tmp_path, clock):
    text = f"Car: K-11\nDate: 13 March 2026, {clock}\nKm: 12345\n\nEngine\n  P0301 Misfire (active)\n"
    assert rows(tmp_path, "a.txt", text, "scanned_at", "code") == [("2026-03-13 08:52:00", "P0301")]


def test_the_last_row_of_each_job_is_no_title_of_a_page(tmp_path):
    text = "".join(
        f"Order 267{at}   of 02.03.26   car 4114   7478{at} km\n"
        "   Pos Work               Part            Place        Parts EUR   AW\n"
        "    10 replaced           Ignition coil                    51,74    9\n"
        "    20 codes erased                                                 1\n"
        for at in range(4)
    )
    found = rows(tmp_path, "jobs.txt", "1 AW = 5 min\n" + text, "job", "action", "position", "labour_minutes")
    assert found[:2] == [("2670", "replace", None, "45"), ("2670", "erase", None, "5")]
    assert len(found) == 8


def test_bare_numbers_at_the_start_of_titles_with_day_and_distance_are_cars(tmp_path):
    text = "# Log book\n\n> km = reading when scanned\n\n" + "".join(
        f"## 41{at}9 · 13 March 2026, 8u5{at} · 45.27{at} km\n\n- **Engine**: `P0301` (active), `P0171` (pending)\n"
        "- **Widget cluster**: no faults\n- **Airbags**: _no answer_\n- **ABS**: no faults\n\n"
        for at in range(3)
    )
    found = rows(tmp_path, "book.md", text, "vehicle", "scanned_at", "module", "module_state", "code", "status")
    assert found[:5] == [
        ("4109", "2026-03-13 08:50:00", "Engine", None, "P0301", "active"),
        ("4109", "2026-03-13 08:50:00", "Engine", None, "P0171", "pending"),
        ("4109", "2026-03-13 08:50:00", "Widget cluster", None, None, None),
        ("4109", "2026-03-13 08:50:00", "SRS", "silent", None, None),
        ("4109", "2026-03-13 08:50:00", "ABS", None, None, None),
    ]
    assert len(found) == 15


def test_numbers_that_count_the_scans_are_no_cars(tmp_path):
    text = "".join(
        f"## 100{at} · 13 March 2026, 8:5{at} · 45.27{at} km\n\nEngine\n  P0301 Misfire (active)\n" for at in range(3)
    )
    assert asked(tmp_path, "a.txt", text) == ["text.scan.vehicle"]


def test_modules_below_codes_with_wordings_are_asked_about_and_no_rest_of_a_wording(tmp_path):
    text = (
        "Car: K-11\nDate: 2026-09-21\n\nP0301 Misfire (active)\n    Engine\nC0034 Wheel sensor (pending)\n    ABS\n"
        "B0012 Resistance (history)\n    Airbags\n"
    )
    assert "text.modules" in asked(tmp_path, "a.txt", text)


def test_a_day_alone_at_the_start_of_a_title_is_no_car(tmp_path):
    text = "".join(f"2026 09 1{at} · 45270 km\nEngine\n  P0301 Misfire (active)\n" for at in range(2))
    assert "text.scan.vehicle" in asked(tmp_path, "a.txt", text)


ROLL = (
    "CAR          K-11\nDATE    02-MAR-26\nTIME        14:51\nODO      74785 KM\n----------------\n"
    "* ENGINE\n  P0301-98    ACTIVE\n    MISFIRE\n* ABS\n  C0034-15   PENDING\n    WHEEL SENSOR FRONT\n    RIGHT\n"
    "  U0140-00   PENDING\n    NO COMMUNICATION WITH\n    AIRBAGS\n* AIRBAGS\n  NO FAULT STORED\n"
)


def test_wordings_below_codes_may_have_several_lines(tmp_path):
    assert rows(tmp_path, "roll.txt", ROLL, "module", "module_state", "code", "status", "text") == [
        ("ENGINE", None, "P0301-98", "active", "MISFIRE"),
        ("ABS", None, "C0034-15", "pending", "WHEEL SENSOR FRONT RIGHT"),
        ("ABS", None, "U0140-00", "pending", "NO COMMUNICATION WITH AIRBAGS"),
        ("SRS", None, None, None, None),
    ]


PRINT = (
    "CAR  K-11    READ 04.04.2026 12:52\nKM  180.898\n\n"
    "  1 Engine .................... 1 faults\n     P0335  Crank sensor no     history       3x\n            signal\n"
    "  2 ABS ....................... no connection\n  3 Body electronics .......... 2 faults\n"
    "     U0140  No communication    active       14x\n            with engine\n"
    "     B1230  Tailgate switch     pending       2x\n  4 Airbags ................... ok\n"
)


def test_the_rest_of_a_wording_hangs_below_it_and_how_often_it_was_seen_stands_at_its_end(tmp_path):
    columns = ("module", "module_state", "code", "status", "occurrences", "text")
    assert rows(tmp_path, "print.txt", PRINT, *columns) == [
        ("Engine", None, "P0335", "history", "3", "Crank sensor no signal"),
        ("ABS", "silent", None, None, None, None),
        ("BCM", None, "U0140", "active", "14", "No communication with engine"),
        ("BCM", None, "B1230", "pending", "2", "Tailgate switch"),
        ("SRS", None, None, None, None, None),
    ]


LOG = (
    "19.03.2026 12:07:28,304 INFO  [S118] session opened, car K-11, odometer 128631 km\n"
    "19.03.2026 12:07:28,346 DEBUG [S118] adapter ready, 12.7 V\n"
    "19.03.2026 12:07:34,364 INFO  [S118] Engine: 0 faults\n19.03.2026 12:07:39,409 INFO  [S118] ABS: 2 faults\n"
    "19.03.2026 12:07:39,460 DTC   [S118] ABS: C0034/15 active (Wheel sensor front)\n"
    "19.03.2026 12:07:39,494 DTC   [S118] ABS: C0037/13 history (Wheel sensor rear)\n"
    "19.03.2026 12:07:45,494 WARN  [S118] Airbags: timeout, no answer\n"
    "19.03.2026 12:08:01,987 INFO  [S118] session closed\n"
)


def test_a_log_with_parts_of_seconds_and_wordings_in_brackets_behind_states(tmp_path):
    columns = ("vehicle", "scanned_at", "odometer", "module", "module_state", "code", "status", "text")
    found = rows(tmp_path, "bench.log", LOG, *columns)
    assert {row[:3] for row in found} == {("K-11", "2026-03-19 12:07:28", "128631")}
    assert [row[3:] for row in found] == [
        ("Engine", None, None, None, None),
        ("ABS", None, "C0034/15", "active", "Wheel sensor front"),
        ("ABS", None, "C0037/13", "history", "Wheel sensor rear"),
        ("SRS", "silent", None, None, None),
    ]


PAGE = "<html><body>" + "".join(
    f"<table><caption>Car 410{at} &ndash; Wednesday 25 March 2026 om 14:42 &ndash; 129.23{at} km</caption>"
    "<tr><th>Module</th><th>Outcome of it</th></tr><tr><td>Engine</td>"
    "<td><b>P0301</b> Misfire <i>(history)</i></td></tr>"
    "<tr><td>ABS</td><td>in orde</td></tr><tr><td>Airbags</td><td><b>B0012</b> Resistance <i>(pending)</i><br>"
    "<b>B0074</b> Open circuit <i>(active)</i></td></tr><tr><td>Aantal fouten</td><td>3</td></tr></table>"
    for at in range(2)
) + "</body></html>"  # fmt: skip


def test_a_page_of_modules_beside_cells_of_codes_with_wordings_and_states(tmp_path):
    columns = ("vehicle", "scanned_at", "odometer", "module", "code", "text", "status")
    found = rows(tmp_path, "page.html", PAGE, *columns)
    assert [row[3:] for row in found[:4]] == [
        ("Engine", "P0301", "Misfire", "history"),
        ("ABS", None, None, None),
        ("SRS", "B0012", "Resistance", "pending"),
        ("SRS", "B0074", "Open circuit", "active"),
    ]
    assert [row[:3] for row in found[::4]] == [
        ("4100", "2026-03-25 14:42:00", "129230"),
        ("4101", "2026-03-25 14:42:00", "129231"),
    ]


GROUPS = "STAMPA ERRORI\n\n" + "".join(
    f">> VETTURA 409{at}   Tarvik Mora\n"
    "Data        Ora           Km  Centralina           Codice  Stato        Num.\n"
    f"13/10/2026  14:58    158.58{at}  Motore               P0335   in attesa       8\n"
    "                              Freni ABS            C0037   storico        24\n"
    "                                                   C0034   attivo          4\n"
    "                              Airbag               --      muta\n"
    "                              Climatizzatore       --      nessuno\n   errori della vettura: 3\n\n"
    for at in range(3)
)


def test_groups_with_blanks_for_what_repeats_and_a_count_below_them(tmp_path):
    columns = ("vehicle", "scanned_at", "odometer", "module", "module_state", "code", "status")
    found = rows(tmp_path, "print.txt", GROUPS, *columns)
    assert {row[:3] for row in found[:5]} == {("4090", "2026-10-13 14:58:00", "158580")}
    assert [row[3:] for row in found[:5]] == [
        ("ECM", None, "P0335", "pending"),
        ("ABS", None, "C0037", "history"),
        ("ABS", None, "C0034", "active"),
        ("Airbag", "silent", None, None),
        ("HVAC", None, None, None),
    ]
    assert len(found) == 15


SHEETS = "\n\n".join(
    f"Sheet no.     {at} of 3                      Stock no.      410{at}\n\n"
    f"Checked       4 March 2026, 17:3{at}         Odometer       195,05{at} km\n\n\n"
    "System               Result       Codes stored\n\nEngine               Pass\n\n"
    "ABS                  Fault        C0034 Wheel sensor front (history)\n"
    "                                  C0037 Wheel sensor rear (pending)\n\nAirbags              No reply\n\n"
    "Signed: _______________\n"
    for at in range(1, 4)
)


def test_sheets_with_two_fields_a_row_and_codes_below_each_other(tmp_path):
    columns = ("vehicle", "scanned_at", "odometer", "module", "module_state", "code", "text", "status")
    found = rows(tmp_path, "sheets.txt", SHEETS, *columns)
    assert [row[:3] for row in found[::4]] == [
        (f"410{at}", f"2026-03-04 17:3{at}:00", f"19505{at}") for at in range(1, 4)
    ]
    assert [row[3:] for row in found[:4]] == [
        ("Engine", None, None, None, None),
        ("ABS", None, "C0034", "Wheel sensor front", "history"),
        ("ABS", None, "C0037", "Wheel sensor rear", "pending"),
        ("SRS", "silent", None, None, None),
    ]
