"""The page of files: what is dropped is shown as it would be read, asked about, taken in and taken back."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from analysis.texts.desk_file_text import date_form, form_told
from pipelines.desk.tray import Tray, safe_name, shown
from pipelines.errors import BatchError
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import load_mappings
from pipelines.reading.recognise import read_file
from pipelines.settings import Settings
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace
from tests.support.desk_visitor import Visitor, tree

EXPORTS = Path(__file__).parents[3] / "fixtures" / "exports"
SCANS = b"vehicle,scanned_at,module,code\nK-1,2026-11-20T09:00,ABS,C0031\nK-1,soon,ABS,C0035\n"
CARS = b"Stock no.;Manufacturer;Model line;Ticket\nS-104;Corvane;Alder;7.900,00\nS-117;Tesmar;Heron;5.400,00\n"
BOOK = (
    b"Car;Order no.;Date;Work;Part;Minutes\nS-104;J-1;18.11.2026;replaced;ignition coil;25\n"
    b"S-104;J-1;18.11.2026;codes erased;;5\n"
)
UNDECIDED = b"vehicle;scanned_at;module;code\nK-1;03/04/2026 09:00;ABS;C0031\nK-2;05/06/2026 10:00;ABS;\n"


@pytest.fixture
def visitor(tmp_path: Path) -> Visitor:
    """A visitor of a folder that is not there yet, who makes the workspace."""
    guest = Visitor(tmp_path / "dealer")
    assert guest.post("/begin").status_code == 303
    return guest


def rows(visitor: Visitor, table: str) -> list[dict[str, Any]]:
    with Warehouse(visitor.desk.workspace.database) as warehouse:
        return warehouse.query(f"select * from raw.{table} order by file_id, row").to_dicts()


def one_mark(visitor: Visitor) -> str:
    [file] = visitor.desk.tray.files()
    return file.mark


def table_of(text: str) -> list[list[str]]:
    """The cells of the first rows that a card shows."""
    body = re.findall(r'<table class="rows stack">.*?<tbody>(.*?)</tbody>', text, re.DOTALL)[0]
    return [re.findall(r"<td[^>]*>(.*?)</td>", row) for row in re.findall(r"<tr>(.*?)</tr>", body)]


def test_the_first_visit_makes_nothing_before_it_is_asked(tmp_path: Path):
    guest = Visitor(tmp_path / "dealer")
    answer = guest.get("/")
    assert "Make the folder ready" in answer.text
    assert str(tmp_path / "dealer") in answer.text
    assert guest.get("/week").headers["location"] == "/"
    assert not (tmp_path / "dealer").exists()
    guest.post("/begin")
    assert (tmp_path / "dealer" / "inbox" / "scans").is_dir()
    assert "Drop files here" in guest.get("/").text


def test_a_dropped_file_is_shown_as_check_reads_it_and_loaded_only_when_taken_in(visitor: Visitor):
    assert visitor.drop("november.csv", SCANS).status_code == 200
    before = tree(visitor.desk.folder)
    page = visitor.get("/").text
    assert "Taken for scans of cars" in page
    assert "1 of 2 rows can be taken, 1 are refused." in page
    assert table_of(page) == [["2", "K-1", "2026-11-20 09:00:00", "ABS", "C0031"]]
    assert "soon" in page
    assert tree(visitor.desk.folder) == before
    assert not visitor.desk.workspace.database.exists()
    assert visitor.post("/files/take").status_code == 303
    page = visitor.get("/").text
    assert "scans/november.csv is taken in: 1 row, 1 refused." in page
    assert [row["code"] for row in rows(visitor, "scans")] == ["C0031"]
    assert visitor.desk.tray.files() == []
    assert [path.name for path in visitor.desk.workspace.inbox.rglob("*.csv")] == []


def test_what_was_taken_in_is_taken_back(visitor: Visitor):
    visitor.drop("november.csv", SCANS)
    visitor.post("/files/take")
    mark = re.findall(r'action="/files/undo">.*?name="mark" value="([0-9a-f]+)"', visitor.get("/").text)[0]
    assert visitor.post("/files/undo", mark=mark).status_code == 303
    assert "scans/november.csv is taken back, 1 row." in visitor.get("/").text
    assert rows(visitor, "scans") == []
    assert [path.name for path in visitor.desk.workspace.rejected.rglob("november*.csv")]


def test_what_was_refused_of_a_file_can_be_read_after_it_was_taken_in(visitor: Visitor):
    visitor.drop("november.csv", SCANS)
    visitor.drop("whole.csv", SCANS.replace(b"soon", b"2026-11-21T09:00"))
    visitor.post("/files/take")
    links = re.findall(r'href="(/files/[0-9a-f]{16}/refused)"[^>]*>([^<]*)<', visitor.get("/").text)
    assert [words for _, words in links] == ["1 refused: see why"]
    page = visitor.get(links[0][0]).text
    assert "Refused, and why: scans/november.csv" in page
    [[row, column, found, _]] = [
        re.findall(r"<td[^>]*>(.*?)</td>", one) for one in re.findall(r"<tr>(<td.*?)</tr>", page)
    ]
    assert (row, column, found) == ("3", "when it was scanned", "soon")
    assert visitor.get("/files/0123456789abcdef/refused").status_code == 400


def test_a_file_dropped_twice_lies_on_the_tray_once_and_counts_once(visitor: Visitor):
    marks = {visitor.drop("a.csv", SCANS).json()["mark"] for _ in range(2)}
    assert marks == {one_mark(visitor)}
    visitor.post("/files/take")
    assert "was taken in before" not in visitor.get("/").text.partition("Taken in</h2>")[0]
    visitor.drop("b.csv", SCANS)
    page = visitor.get("/").text
    assert "This file was taken in before, in week 2026-W48 as scans/a.csv: scans of cars, 1 row, by the" in page
    assert '<article class="card stop"' in page
    visitor.post("/files/take")
    assert "scans/b.csv was taken in before; nothing is counted twice." in visitor.get("/").text
    assert len(rows(visitor, "scans")) == 1


def test_a_file_that_was_taken_in_by_another_answer_stays_until_it_is_taken_back(visitor: Visitor):
    visitor.drop("days.csv", UNDECIDED)
    visitor.post(f"/files/{one_mark(visitor)}/answer", **{"answer:date_formats": "%d/%m/%Y %H:%M"})
    visitor.post("/files/take")
    first = [row["scanned_at"] for row in rows(visitor, "scans")]
    visitor.drop("days.csv", UNDECIDED)
    mark = one_mark(visitor)
    visitor.post(f"/files/{mark}/answer", ask="yes")
    visitor.post(f"/files/{mark}/answer", **{"answer:date_formats": "%m/%d/%Y %H:%M"})
    card = visitor.get(f"/files/{mark}").text
    assert "This file was taken in before" in card
    assert 'action="/files/take"' not in card
    visitor.post("/files/take", mark=mark)
    assert "nothing of what you answered now was taken in" in visitor.get("/").text
    assert [row["scanned_at"] for row in rows(visitor, "scans")] == first
    back = re.findall(r'action="/files/undo".*?name="mark" value="([0-9a-f]+)"', card)
    assert visitor.post("/files/undo", mark=back[0]).status_code == 303
    visitor.post("/files/take", mark=mark)
    assert [row["scanned_at"][:10] for row in rows(visitor, "scans")] == ["2026-03-04", "2026-05-06"]


@pytest.mark.parametrize(
    "name",
    [
        "semicolons.csv",
        *(pytest.param(name, marks=pytest.mark.slow)
          for name in ("workbook.xlsx", "wide.tsv", "nested.json")),
    ],
)  # fmt: skip
def test_an_odd_export_is_read_by_a_drafted_mapping_that_the_week_finds_again(visitor: Visitor, name: str):
    visitor.drop(name, (EXPORTS / name).read_bytes())
    page = visitor.get("/").text
    assert "How it is read, and why" in page
    assert "5 of 5 texts that look like a code were read" in page
    shown_rows = len(table_of(page))
    visitor.post("/files/take")
    assert len(rows(visitor, "scans")) == shown_rows == 10
    # By the mapping that was kept, the week reads the next file of that kind as this one was read.
    again = Workspace.open(visitor.desk.folder)
    reading = read_file(EXPORTS / name, LAYOUTS["scans"], Settings().zone, load_mappings(again.root))
    assert reading.rows.height == 10
    visitor.drop(name, (EXPORTS / name).read_bytes())
    assert "How it is read, and why" not in visitor.get("/").text


def test_a_repair_list_is_not_taken_for_a_price_book_because_it_names_parts(visitor: Visitor):
    visitor.drop("book.csv", BOOK)
    assert "Taken for repairs done" in visitor.get("/").text
    visitor.post("/files/take")
    assert [(row["action"], row["part"]) for row in rows(visitor, "repairs")] == [
        ("replace", "ignition coil"),
        ("erase", None),
    ]


def test_an_answer_is_seen_at_once_in_the_rows(visitor: Visitor):
    visitor.drop("cars.csv", CARS)
    mark = one_mark(visitor)
    page = visitor.get(f"/files/{mark}").text
    assert table_of(page)[0] == ["2", "S-104", "Corvane", "Alder"]
    answered = visitor.client.post(
        f"/files/{mark}/answer",
        data={"token": visitor.desk.keys.token, "more_column": "asking_price", "more_source": "Ticket"},
        headers={"Origin": "http://127.0.0.1:8123", "X-Desk-Part": "card"},
    )
    assert answered.status_code == 200
    assert table_of(answered.text)[0] == ["2", "S-104", "Corvane", "Alder", "7900"]
    swapped = {"answer:columns.make": "Model line", "answer:columns.model": "Manufacturer"}
    visitor.post(f"/files/{mark}/answer", **swapped)
    assert table_of(visitor.get("/").text)[0] == ["2", "S-104", "Alder", "Corvane", "7900"]
    visitor.post(f"/files/{mark}/answer", ask="no")
    assert table_of(visitor.get("/").text)[0] == ["2", "S-104", "Corvane", "Alder"]


def test_what_nothing_in_the_file_can_decide_is_asked_and_not_taken_in_before(visitor: Visitor):
    visitor.drop("dates.csv", UNDECIDED)
    page = visitor.get("/").text
    assert "1 question has to be answered first." in page
    assert "day/month/year hour:minute" in page
    assert visitor.post("/files/take").status_code == 400
    [key] = set(re.findall(r'name="(answer:date_formats)"', page))
    visitor.post(f"/files/{one_mark(visitor)}/answer", **{key: "%d/%m/%Y %H:%M"})
    assert table_of(visitor.get("/").text)[0][:3] == ["2", "K-1", "2026-04-03 09:00:00"]
    visitor.post("/files/take")
    assert [row["scanned_at"] for row in rows(visitor, "scans")] == ["2026-04-03 09:00:00", "2026-06-05 10:00:00"]


def test_the_table_can_be_said(visitor: Visitor):
    visitor.drop("parts.csv", b"part,part_cost\nboost hose,42.50\n")
    mark = one_mark(visitor)
    assert "Taken for a price book" in visitor.get("/").text
    visitor.post(f"/files/{mark}/answer", table="repairs")
    assert "It cannot be taken in yet." in visitor.get("/").text


def test_what_each_file_is_taken_for_stands_above_the_button_that_takes_them_in(visitor: Visitor):
    visitor.drop("repairs.csv", b"part,part_cost\nboost hose,42.50\n")
    visitor.drop("november.csv", SCANS)
    visitor.drop("dates.csv", UNDECIDED)
    above = visitor.get("/").text.partition('id="take-run"')[0]
    assert re.findall(r"<li>(.*?)</li>", above) == ["november.csv as scans of cars", "repairs.csv as a price book"]


def test_a_file_is_left_out(visitor: Visitor):
    visitor.drop("november.csv", SCANS)
    visitor.post(f"/files/{one_mark(visitor)}/drop")
    assert "november.csv is left out; nothing of it was loaded." in visitor.get("/").text
    assert visitor.desk.tray.files() == []


@pytest.mark.slow
def test_the_last_answer_for_a_file_of_the_same_kind_takes_the_place_of_the_one_before(visitor: Visitor):
    visitor.drop("cars.csv", CARS)
    swapped = {"answer:columns.make": "Model line", "answer:columns.model": "Manufacturer"}
    visitor.post(f"/files/{one_mark(visitor)}/answer", **swapped)
    visitor.post("/files/take")
    mark = re.findall(r'action="/files/undo">.*?name="mark" value="([0-9a-f]+)"', visitor.get("/").text)[0]
    visitor.post("/files/undo", mark=mark)
    visitor.drop("cars.csv", CARS + b"S-118;Tesmar;Heron;4.400,00\n")
    assert table_of(visitor.get("/").text)[0] == ["2", "S-104", "Alder", "Corvane"]
    visitor.post(f"/files/{one_mark(visitor)}/answer", ask="yes")
    assert table_of(visitor.get("/").text)[0] == ["2", "S-104", "Corvane", "Alder"]
    visitor.post("/files/take")
    assert visitor.desk.tray.files() == []
    assert next((row["make"], row["model"]) for row in rows(visitor, "stock")) == ("Corvane", "Alder")
    folder = visitor.desk.folder / "mappings"
    assert sorted(path.name for path in folder.iterdir()) == ["cars.toml", "cars.toml.bak"]
    # Another export of that kind says the same: nothing is written again.
    visitor.drop("more.csv", CARS + b"S-119;Tesmar;Heron;4.400,00\n")
    visitor.post(f"/files/{one_mark(visitor)}/answer", ask="yes")
    visitor.post("/files/take")
    assert sorted(path.name for path in folder.iterdir()) == ["cars.toml", "cars.toml.bak"]


def test_files_of_two_kinds_with_one_heading_more_are_each_read_by_their_own_mapping(visitor: Visitor):
    book = b"Car no;Day;Odometer km;Unit;Fault codes\nK-1;18.11.2026;50100;ABS;C0031\nK-2;19.11.2026;60100;ABS;C0035\n"
    less = b"Car no;Day;Unit;Fault codes\nK-1;20.11.2026;ABS;C0031\nK-2;21.11.2026;ABS;C0035\n"
    visitor.drop("a.csv", book)
    visitor.drop("b.csv", less)
    visitor.post("/files/take")
    assert len(rows(visitor, "scans")) == 4
    visitor.drop("c.csv", book.replace(b"2026", b"2027"))
    visitor.post("/files/take")
    assert [row["odometer"] for row in rows(visitor, "scans") if row["scanned_at"].startswith("2027")] == [
        "50100",
        "60100",
    ]


VISITS = (
    b"Date,VIN,Work done,Part,Price\n08.08.2026,Z907EA7T2N772KRK1,Replaced ignition coil,ignition coil,45\n"
    b"18.08.2026,Z9LCWBU71425J0GCJ,Cleaned valve,valve,\n"
)


def test_a_list_of_days_and_cars_by_vehicle_number_is_repairs_and_each_verb_is_read(visitor: Visitor):
    visitor.drop("visits.csv", VISITS)
    page = visitor.get("/").text
    assert "Taken for repairs done" in page
    assert "a job a car and day: VIN and Date" in page
    assert "Were the codes erased after each of these jobs?" in page
    visitor.post(f"/files/{one_mark(visitor)}/answer", **{"answer:erased.after": "not told"})
    visitor.post("/files/take")
    assert [(row["vehicle"], row["job"], row["action"]) for row in rows(visitor, "repairs")] == [
        ("Z907EA7T2N772KRK1", "Z907EA7T2N772KRK1 08.08.2026", "replace"),
        ("Z9LCWBU71425J0GCJ", "Z9LCWBU71425J0GCJ 18.08.2026", "clean"),
    ]


def test_a_part_is_told_from_the_verb_behind_it(visitor: Visitor):
    text = "Datum;Fahrzeug;Auftrag;Arbeit\n"
    text += "18.08.2026;K-1;7;Z\u00fcndspule ersetzt\n19.08.2026;K-1;8;Fehler gel\u00f6scht\n"
    visitor.drop("arbeit.csv", text.encode())
    visitor.post(f"/files/{one_mark(visitor)}/answer", **{"answer:erased.after": "each job"})
    visitor.post("/files/take")
    assert [(row["action"], row["part"]) for row in rows(visitor, "repairs")][:1] == [("replace", "Z\u00fcndspule")]


def test_days_and_cars_beside_parts_are_asked_about_and_never_a_price_book_unasked(visitor: Visitor):
    visitor.drop(
        "odd.csv", VISITS.replace(b"Work done", b"Told").replace(b"Replaced", b"Did").replace(b"Cleaned", b"To")
    )
    page = visitor.get("/").text
    assert "Taken for a price book" not in page
    assert visitor.post("/files/take").status_code == 400


NO_UNIT = (
    b"Fahrgestellnummer;Modell;Datum;Fehler 1;Fehler 2\nZ907EA7T2N772KRK1;Alder;15.08.2026;P0300;C0035\n"
    b"Z9LCWBU71425J0GCJ;Heron;19.08.2026;U0100;B0001\nZ9LCWBU71425J0GCJ;Heron;26.08.2026;;\n"
)


def test_a_scan_list_without_control_units_lets_each_code_tell_and_says_so(visitor: Visitor):
    visitor.drop("list.csv", NO_UNIT)
    mark = one_mark(visitor)
    assert "my file does not say" in visitor.get("/").text
    models = visitor.post(f"/files/{mark}/answer", **{"answer:columns.module": "Modell"})
    assert "That is none of the answers." in models.text
    visitor.post(f"/files/{mark}/answer", **{"answer:columns.module": "-"})
    assert "The file names no control unit" in visitor.get("/").text
    visitor.post("/files/take")
    found = [(row["module"], row["code"]) for row in rows(visitor, "scans")]
    assert found == [("ECM", "P0300"), ("ABS", "C0035"), ("ECM", "U0100"), ("BCM", "B0001"), ("ECM", None)]
    # The same list with control units is read by them, not by the mapping that was answered for those without.
    units = NO_UNIT.replace(b";Datum", b";Steuerger\xc3\xa4t;Datum").replace(b"Alder;", b"Alder;Airbag;")
    visitor.drop("units.csv", units.replace(b"Heron;", b"Heron;Airbag;"))
    [row, *_] = table_of(visitor.get("/").text)
    assert "Airbag" in row or "SRS" in row


def test_foreign_text_in_a_file_stays_text(visitor: Visitor):
    nasty = b"vehicle,scanned_at,module,code,text\n<script>alert(1)</script>,2026-11-20T09:00,ABS,C0031,<img src=x>\n"
    visitor.drop("<b>x.csv", nasty)
    page = visitor.get("/").text
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "<script>alert" not in page
    assert "<img src=x>" not in page
    assert "<b>x.csv" not in page
    visitor.post("/files/take")
    assert "<b>x" not in visitor.get("/").text


def test_while_another_program_holds_the_folder_the_visitor_is_told_to_wait(visitor: Visitor):
    visitor.drop("november.csv", SCANS)
    with visitor.desk.workspace.lock():
        before = tree(visitor.desk.folder)
        answer = visitor.post("/files/take")
        assert tree(visitor.desk.folder) == before
    assert answer.status_code == 409
    assert "wait until it ends" in answer.text
    assert visitor.post("/files/take").status_code == 303


def test_the_tray_outlives_the_desk(visitor: Visitor):
    visitor.drop("cars.csv", CARS)
    visitor.post(f"/files/{one_mark(visitor)}/answer", more_column="asking_price", more_source="Ticket")
    later = Visitor(visitor.desk.folder)
    assert table_of(later.get("/").text)[0] == ["2", "S-104", "Corvane", "Alder", "7900"]


def test_what_is_not_whole_is_not_on_the_tray(visitor: Visitor):
    visitor.drop("november.csv", SCANS)
    folder = visitor.desk.tray.folder / one_mark(visitor)
    (folder / "about.json").unlink()
    assert visitor.desk.tray.files() == []
    with pytest.raises(BatchError, match=r"^That file is not on the tray any more\. Nothing was changed\.$"):
        visitor.desk.tray.get(folder.name)
    visitor.drop("november.csv", SCANS)
    assert one_mark(visitor) == folder.name


def test_a_full_tray_takes_no_more(visitor: Visitor, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("pipelines.desk.tray.MOST_FILES", 1)
    visitor.drop("november.csv", SCANS)
    answer = visitor.drop("cars.csv", CARS)
    assert answer.json()["why"] == "There are 1 files here already; take them in first. Nothing was kept."


@pytest.mark.parametrize(
    ("name", "safe"),
    [
        ("november.csv", "november.csv"),
        ("NOVEMBER.CSV", "NOVEMBER.csv"),
        ("list", "list"),
        ("a.b.c.tsv", "a_b_c.tsv"),
        ("x.py.exe.", "x_py_exe_"),
    ],
)
def test_a_name_keeps_what_people_know_it_by(name: str, safe: str):
    assert safe_name(name) == safe


@pytest.mark.parametrize("name", ["con.csv", "é t é.csv", "..csv", "a" * 300 + ".csv", "-rf.csv", "<b>.csv", "a.b/c"])
def test_no_name_makes_a_path_or_a_device(name: str):
    made = safe_name(name)
    assert re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]{0,100}", made)
    assert not re.match(r"(?i)con(\.|$)", made)
    assert len(shown(name)) <= 120


def test_the_scans_of_cars_to_buy_have_a_tray_of_their_own(visitor: Visitor):
    visitor.drop("scan.csv", SCANS, "/buying/upload")
    assert visitor.desk.tray.files() == []
    assert [file.name for file in Tray(visitor.desk.workspace, "buying").files()] == ["scan.csv"]


PRINTED = b"Yard check\nP0301   misfire   stored\nC0031   wheel speed   stored\n"


def test_a_file_that_tells_no_car_is_called_by_it_and_read_then(visitor: Visitor):
    visitor.drop("check.txt", PRINTED)
    mark = one_mark(visitor)
    assert "It is not clear yet where a scan begins: which car it was, and when." in visitor.get("/").text
    visitor.post(f"/files/{mark}/answer", file_name="S-104 check 2026-11-20")
    # What the page before sends of a question that is answered by now, left blank, changes nothing.
    assert visitor.post(f"/files/{mark}/answer", **{"answer:text.scan.vehicle": ""}).status_code == 303
    visitor.post(f"/files/{mark}/answer", **{"answer:text.module": "-"})
    page = visitor.get("/").text
    assert table_of(page)[0] == ["2", "S-104", "2026-11-20 00:00:00", "ECM", "P0301", "confirmed", "misfire"]
    [file] = visitor.desk.tray.files()
    assert (file.name, file.path.suffix) == ("S-104 check 2026-11-20.txt", ".txt")


def test_a_file_dropped_again_under_another_name_has_the_new_one(visitor: Visitor):
    visitor.drop("check.txt", PRINTED)
    mark = one_mark(visitor)
    visitor.post(f"/files/{mark}/answer", **{"answer:text.module": "-"})
    visitor.drop("S-104 2026-11-20.txt", PRINTED)
    [file] = visitor.desk.tray.files()
    assert (file.mark, file.name, dict(file.answers)) == (mark, "S-104 2026-11-20.txt", {"text.module": "-"})


def test_what_a_file_holds_is_changed_in_one_step_and_no_answer_of_before_counts(visitor: Visitor):
    visitor.drop("list.csv", b"Which;Day;Part\nblue 1;12.11.2026;coil\nred 2;13.11.2026;sensor\n")
    mark = one_mark(visitor)
    page = visitor.get("/").text
    assert "Say above what it holds." in page
    assert '<option value="" selected>please choose</option>' in page
    visitor.post(f"/files/{mark}/answer", table="repairs")
    assert 'name="answer:columns.vehicle"' in visitor.get("/").text
    visitor.post(f"/files/{mark}/answer", **{"answer:columns.part": "Which"})
    visitor.post(f"/files/{mark}/answer", table="parts")
    assert [row[1] for row in table_of(visitor.get("/").text)] == ["coil", "sensor"]


def test_what_has_to_be_answered_stands_first_and_is_never_typed_where_it_can_be_chosen(visitor: Visitor):
    visitor.drop("check.txt", b"Stock no.: S-104\nTested: 20.11.2026\n" + PRINTED)
    page = visitor.get("/").text
    first = re.findall(r'name="answer:([\w.]+)"', page)[0]
    assert first == "text.module"
    assert '<option value="-">my file does not say</option>' in page
    assert not re.search(r'<input[^>]*name="answer:text\.', page)
    assert "draft:" not in page


@pytest.mark.parametrize("form", ["%d.%m.%Y %H:%M", "%Y-%m-%dT%H:%M:%S", "%m/%d/%Y"])
def test_a_form_of_dates_may_be_said_in_words(form: str):
    assert form_told(date_form(form)) == form_told(form) == form


def test_a_run_while_files_wait_says_so_and_takes_them_in_where_it_is_wished(visitor: Visitor):
    visitor.drop("november.csv", SCANS)
    page = visitor.get("/week").text
    assert "1 file is still on the tray, and a run reads none of it: november.csv" in page
    assert "Take in 1 file and run the week" in page
    assert "<li>november.csv as scans of cars</li>" in page
    visitor.desk.run.start = lambda *_: None  # type: ignore[method-assign]  # the run itself has tests of its own
    visitor.post("/week/run", take="1")
    assert visitor.desk.tray.files() == []
    assert [row["code"] for row in rows(visitor, "scans")] == ["C0031"]
    assert "still on the tray" not in visitor.get("/week").text


def test_a_printed_text_without_any_code_is_said_to_be_none_that_is_read(visitor: Visitor):
    visitor.drop("notes.txt", b"18.11.2026 S-201 new ignition coil 38.50\n19.11.2026 S-205 new oxygen sensor 61.00\n")
    page = visitor.get("/").text
    assert "No fault code stands in it." in page
    assert "question has to be answered" not in page


def test_while_it_is_not_said_what_a_file_holds_nothing_else_is_asked(visitor: Visitor):
    visitor.drop("prices.csv", b"Item;Price;Since\ncoil;38,50;01.10.2026\nsensor;61,00;02.10.2026\n")
    page = visitor.get("/").text
    assert "1 question has to be answered first." in page
    assert 'name="answer:' not in page
    visitor.post(f"/files/{one_mark(visitor)}/answer", table="parts")
    assert 'name="answer:columns.part"' in visitor.get("/").text


def test_what_was_answered_stays_when_a_page_that_was_left_sends_what_it_showed_then(visitor: Visitor):
    visitor.drop("cars.csv", CARS)
    mark = one_mark(visitor)
    page = visitor.get("/").text
    shown = dict(re.findall(r'name="(was:[\w.]+)" value="([^"]*)"', page))
    assert shown["was:columns.make"] == "Manufacturer"
    visitor.post(f"/files/{mark}/answer", **{"answer:columns.make": "Model line"})
    # The browser's Back shows the page of before: all its fields are sent with the one that is changed on it.
    stale = {name.replace("was:", "answer:"): value for name, value in shown.items()}
    visitor.post(f"/files/{mark}/answer", **shown, **{**stale, "answer:columns.model": "Manufacturer"})
    assert table_of(visitor.get("/").text)[0] == ["2", "S-104", "Alder", "Corvane"]


def test_whoever_says_another_table_and_goes_back_finds_his_answers(visitor: Visitor):
    visitor.drop("cars.csv", CARS)
    mark = one_mark(visitor)
    visitor.post(f"/files/{mark}/answer", more_column="asking_price", more_source="Ticket")
    visitor.post(f"/files/{mark}/answer", table="parts")
    visitor.post(f"/files/{mark}/answer", table="stock")
    assert table_of(visitor.get("/").text)[0] == ["2", "S-104", "Corvane", "Alder", "7900"]
    visitor.post(f"/files/{mark}/answer", ask="yes")
    assert table_of(visitor.get("/").text)[0] == ["2", "S-104", "Corvane", "Alder", "7900"]


def test_two_files_of_one_name_are_told_apart_and_the_same_content_is_said_to_be_there_once(visitor: Visitor):
    visitor.drop("cars.csv", CARS)
    visitor.drop("cars.csv", CARS.replace(b"S-104", b"S-204"))
    page = visitor.get("/").text
    told = re.findall(r"(\d) of 2 files of this name, dropped at \d\d:\d\d:\d\d, (\d+) bytes", page)
    assert sorted(told) == [("1", str(len(CARS))), ("2", str(len(CARS)))]
    assert "already" not in page
    visitor.drop("cars.csv", CARS)
    assert "cars.csv lies on the tray already, with the same content; it is there once." in visitor.get("/").text
    visitor.drop("more.csv", CARS)
    page = visitor.get("/").text
    assert "more.csv holds the same as cars.csv, which lies on the tray already" in page
    assert "of 2 files of this name" not in page


def test_a_column_that_is_not_used_is_named_on_the_card_with_what_it_looks_like(visitor: Visitor):
    visitor.drop("cars.csv", b"Stock no.;Plate;Number of the plate;Manufacturer;Model line;Price tag asking\n"
                 b"S-104;LT 44 RKM;1;Corvane;Alder;x1\nS-117;BX 12 KKL;2;Tesmar;Heron;x2\n")  # fmt: skip
    page = visitor.get("/").text
    assert "Not used of this file:" in page
    assert "left out, not in" not in page
    mark = one_mark(visitor)
    assert "&#39;Price tag asking&#39; looks like asking price" in page
    offered = re.findall(r'name="more_source" value="([^"]+)"><button[^>]*name="more_column" value="(\w+)"', page)
    assert offered == [("Price tag asking", "asking_price")]
    visitor.post(f"/files/{mark}/drop")
    book = b"Date;Car;Order no.;Work;Part;Old faults wiped then\n"
    book += b"18.11.2026;S-104;J-1;replaced;ignition coil;yes\n19.11.2026;S-117;J-2;replaced;sensor;no\n"
    visitor.drop("book.csv", book)
    like = "&#39;Old faults wiped then&#39; looks like whether the codes were erased at that visit"
    assert like in visitor.get("/").text


YARD = (
    b"Yard list;;;\nStock no.;Key tag;Make;Model\nA-1041;K 44 R;Corvane;Alder\nA-1042;Q-77;Tesmar;Heron\n"
    b"A-1043;R 12;Corvane;Alder\n"
)
BY_PLATE = (
    b"vehicle,scanned_at,module,code\nK 44 R,2026-11-20T09:00,ABS,C0031\nq77,2026-11-20T09:00,ABS,C0035\n"
    b"A-1043,2026-11-20T09:00,ABS,C0035\nZ-99,2026-11-20T09:00,ABS,C0035\n"
)


def test_a_scanned_car_with_the_vehicle_number_of_a_stock_row_is_said_to_be_that_car(visitor: Visitor):
    vin = "YARDX000000000001"
    visitor.drop("stock.csv", f"vehicle,vin,make,model\nK-1,{vin},Corvane,Alder\nK-2,,Corvane,Alder\n".encode())
    head = "vehicle,vin,scanned_at,module,code\n"
    scan = f"{head}GA 7,{vin.lower()},2026-11-20T09:00,ABS,C0031\nGA 8,YARDX00000000000Z,2026-11-20T09:00,ABS,C0031\n"
    visitor.drop("scan.csv", scan.encode())
    page = visitor.get("/").text
    assert "GA 7 (scan.csv) is taken for K-1: it has the same vehicle number (VIN) in the stock list." in page
    strange = page.partition("Scanned cars that no stock list knows")[2].partition("</section>")[0]
    assert "GA 8 (scan.csv)" in strange
    assert "GA 7" not in strange
    visitor.post("/files/take")
    lost = visitor.get("/").text.partition("Taken in, and in no stock list:")[2]
    assert "GA 8 (" in lost
    assert "GA 7 (" not in lost


@pytest.mark.slow
def test_scanned_cars_that_no_stock_list_knows_are_said_and_called_as_the_stock_list_has_them(visitor: Visitor):
    visitor.drop("scan.csv", BY_PLATE)
    assert "no stock list knows" not in visitor.get("/").text, "there is no stock list to know them"
    visitor.drop("yard.csv", YARD)
    page = visitor.get("/").text
    assert "K 44 R (scan.csv): stands in the column &#39;Key tag&#39; of yard.csv, in the row of A-1041." in page
    assert "q77 (scan.csv): stands in the column &#39;Key tag&#39; of yard.csv, in the row of A-1042." in page
    assert "Z-99 (scan.csv): its number stands in no stock list" in page
    assert "A-1043 (scan.csv)" not in page
    assert visitor.post("/files/cars", number="Z-99").status_code == 400
    visitor.post("/files/cars", number="K 44 R")
    page = visitor.get("/").text
    assert "K 44 R is read as A-1041." in page
    assert "K 44 R (scan.csv)" not in page
    visitor.post("/files/take")
    cars = [row["vehicle"] for row in rows(visitor, "scans")]
    assert cars == ["A-1041", "q77", "A-1043", "Z-99"]
    taken = visitor.get("/").text.partition("Taken in, and in no stock list:")[2]
    assert (
        "q77 (scans/scan.csv): stands in the column &#39;Key tag&#39; of stock/yard.csv, in the row of A-1042." in taken
    )
    assert "Z-99 (scans/scan.csv): its number stands in no stock list" in taken
    assert "A-1041 (" not in taken
    # The next export of that kind says so of itself, and is asked about what it has anew.
    visitor.drop("next.csv", BY_PLATE.replace(b"-20T", b"-27T").replace(b"q77", b"Q-77"))
    page = visitor.get("/").text.partition("Taken in</h2>")[0]
    assert "K 44 R (next.csv)" not in page
    assert "Q-77 (next.csv): stands in the column &#39;Key tag&#39; of stock/yard.csv, in the row of A-1042." in page
    visitor.post("/files/cars", number="Q-77")
    visitor.post("/files/take")
    assert [row["vehicle"] for row in rows(visitor, "scans")][4:] == ["A-1041", "A-1042", "A-1043", "Z-99"]


VINS = ("ZZZCV1ALD00000001", "ZZZCV1ALD00000002")
LISTED = f"vehicle,make,model,vin\nS-1,Corvane,Alder,{VINS[0]}\nS-2,Corvane,Alder,{VINS[1]}\n".encode()


def test_a_stock_number_scanned_with_another_cars_vehicle_number_is_said_first(visitor: Visitor):
    scans = "vehicle,vin,scanned_at,module,code\nS-1,{},2026-11-20T09:00,ABS,C0031\n"
    visitor.drop("stock.csv", LISTED)
    visitor.drop("right.csv", scans.format(VINS[0].lower()).encode())
    assert "One stock number, two cars?" not in visitor.get("/").text
    visitor.drop("wrong.csv", scans.format(VINS[1]).encode())
    page = visitor.get("/").text
    told = f"S-1 stands with {VINS[0]} in the stock list, and with {VINS[1]} in wrong.csv, which is the one of S-2."
    assert told in page
    assert page.index(told) < page.index('<article class="card')
    # The stock list counts as well where it was taken in before.
    visitor.post("/files/take", mark=next(file.mark for file in visitor.desk.tray.files() if file.name == "stock.csv"))
    assert told in visitor.get("/").text


def test_two_files_that_give_one_stock_number_two_vehicle_numbers_are_said(visitor: Visitor):
    scans = "vehicle,vin,scanned_at,module,code\nS-9,{},2026-11-20T09:00,ABS,C0031\n"
    for name, vin in zip(("a.csv", "b.csv"), VINS, strict=True):
        visitor.drop(name, scans.format(vin).encode())
    assert f"S-9 stands with {VINS[0]} in a.csv and {VINS[1]} in b.csv." in visitor.get("/").text
