"""Lists of repairs on the tray: what hangs on an answer is asked, and what is left out is counted where it is said."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from pipelines.reading.layouts import LAYOUTS
from pipelines.storage.warehouse import Warehouse
from tests.support.desk_visitor import Visitor

BOOK = (
    "Day;Plate;Work done\n02.03.2026;LN 412 KA;replaced Battery 70Ah\n03.03.2026;LN 733 PB;only erased\n"
    "04.03.2026;LN 733 PB;new gear selector switch\n05.03.2026;LN 918 VD;washed it\n06.03.2026;LN 412 KA;polish\n"
    "07.03.2026;LN 412 KA;a look\n08.03.2026;LN 918 VD;to the tyre man\n"
)


@pytest.fixture
def visitor(tmp_path: Path) -> Visitor:
    guest = Visitor(tmp_path / "dealer")
    assert guest.post("/begin").status_code == 303
    return guest


def answered(visitor: Visitor, **given: str) -> str:
    [file] = visitor.desk.tray.files()
    visitor.post(f"/files/{file.mark}/answer", **{f"answer:{key}": value for key, value in given.items()})
    return str(visitor.get("/").text)


def rows(visitor: Visitor, sql: str) -> list[tuple[Any, ...]]:
    with Warehouse(visitor.desk.workspace.database) as warehouse:
        return warehouse.query(sql).rows()


def test_whether_codes_were_erased_is_asked_before_a_list_is_ready(visitor: Visitor):
    visitor.drop("work.csv", BOOK.encode())
    page = visitor.get("/").text
    assert "Were the codes erased after each of the repairs too?" in page
    assert "much hangs on this" in page
    assert "1 file needs an answer first." in page
    page = answered(visitor, **{"erased.after": "each job"})
    visitor.post("/files/take")
    told = rows(visitor, "select row, action from raw.repairs order by row, nth")
    assert told == [(2, "replace"), (2, "erase"), (3, "erase"), (4, "replace"), (4, "erase")]


def test_lines_that_are_left_out_are_counted_on_card_and_button(visitor: Visitor):
    visitor.drop("work.csv", BOOK.encode())
    page = answered(visitor, **{"erased.after": "not told"})
    assert "3 of 7 rows can be taken, 4 are refused." in page
    assert "Take in 3 of 7 rows" in page
    assert 'class="card ready"' not in page  # more is refused than taken
    visitor.post("/files/take")
    assert rows(visitor, "select count(*), min(why) like '%left out%' from raw.rejects") == [(4, True)]


def offered(page: str) -> list[list[str]]:
    """What each column that is not used can be used as."""
    found = re.findall(r'<select id="m[^>]*name="more_column"[^>]*>(.*?)</select>', page, re.DOTALL)
    return [re.findall(r'value="(\w+)"', one) for one in found]


def test_an_unused_column_can_be_any_column_and_stays_so_after_an_answer(visitor: Visitor):
    book = "Day;Plate;Action;Part;Left;Right\n02.03.2026;LN 412 KA;replaced;coil;7;9\n"
    book += "03.03.2026;LN 733 PB;replaced;fan;8;6\n"
    visitor.drop("work.csv", book.encode())
    names = [column.name for column in LAYOUTS["repairs"].mappable]
    assert offered(visitor.get("/").text) == [names, names]
    [file] = visitor.desk.tray.files()
    visitor.post(f"/files/{file.mark}/answer", more_column="part_cost", more_source="Left")
    assert offered(visitor.get("/").text) == [names]
    visitor.post(f"/files/{file.mark}/answer", more_column="part_cost", more_source="Right")  # in its place
    assert visitor.desk.tray.get(file.mark).answers["columns.part_cost"] == "Right"
    assert offered(visitor.get("/").text) == [names]


def test_one_more_column_of_codes_stands_beside_the_others(visitor: Visitor):
    text = "Car;Date;Unit;Fault code;Remark\nA1;2026-03-01;ECM;P0301;x\nA1;2026-03-14;ABS;C0035;U0100\n"
    visitor.drop("scans.csv", text.encode())
    [file] = visitor.desk.tray.files()
    visitor.post(f"/files/{file.mark}/answer", more_column="code", more_source="Remark")
    assert visitor.desk.tray.get(file.mark).answers["columns.code"] == '["Fault code", "Remark"]'


def test_a_repair_of_a_car_that_is_one_letter_off_a_known_one_is_said(visitor: Visitor):
    visitor.drop("yard.csv", b"Stock no.;Reg;Make;Model\nN117;LN 412 KB;Corvane;Alder\nN118;LN 733 PB;Tesmar;Heron\n")
    visitor.drop("work.csv", BOOK.encode())
    page = visitor.get("/").text
    assert "LN 412 KA (work.csv): there is no such car; did you mean LN 412 KB?" in page
    assert "LN 733 PB (work.csv)" not in page
    assert "LN 918 VD (work.csv)" not in page  # like none


def test_a_column_that_a_question_is_about_is_offered_nowhere_else(visitor: Visitor):
    # "Money for part" holds the word for a part, and its cells are amounts.
    book = "Day;Plate;Action;Item;Outlay on part\n02.03.2026;LN 412 KA;replaced;coil;7,50\n"
    visitor.drop("work.csv", (book + "03.03.2026;LN 733 PB;replaced;fan;8,20\n").encode())
    page = visitor.get("/").text
    assert "part_cost" in page or "price of the part" in page
    assert "Use it as part" not in page


def test_the_main_button_says_which_files_wait_for_an_answer(visitor: Visitor):
    visitor.drop("work.csv", BOOK.encode())
    visitor.drop("scans.csv", b"vehicle,scanned_at,module,code\nLN 412 KA,2026-11-20T09:00,ABS,C0031\n")
    page = visitor.get("/").text
    assert "Take in 1 of 2 files and run the week" in page
    assert "not in it: work.csv (repairs done)." in page
    assert "Without your repairs nobody learns which part cleared what" in page
    assert "Take in 1 of 2 files and run the week" in visitor.get("/week").text
    [work] = [file for file in visitor.desk.tray.files() if file.name == "work.csv"]
    visitor.post(f"/files/{work.mark}/answer", **{"answer:erased.after": "each job"})
    page = visitor.get("/").text
    assert "Take in 2 files and run the week" in page
    assert "not in it" not in page


def test_files_of_one_form_lie_together_on_the_tray(visitor: Visitor):
    for day in (20, 21, 22):
        row = f"LN {day} KA,2026-11-{day}T09:00,ABS,C0031\n"
        visitor.drop(f"{day}.csv", f"vehicle,scanned_at,module,code\n{row}".encode())
    visitor.drop("work.csv", BOOK.encode())
    page = visitor.get("/").text
    [folded] = re.findall(r'<details class="folded">(.*?</article>\s*)</details>', page, re.DOTALL)
    assert "<summary>3 files of one form, all ready: scans of cars, 3 rows (20.csv, 21.csv and 22.csv)<" in folded
    assert folded.count("<article") == 3
    assert page.count("<article") == 4


def test_a_file_that_waits_for_its_first_answer_is_not_told_that_an_answer_does_not_fit(visitor: Visitor):
    book = "Teil;EK;AW\nZundspule;38,50;20\nBatterie;89,00;15\n"
    visitor.drop("prices.csv", book.encode())
    page = visitor.get("/").text
    assert "How many units of" in page
    assert "What is asked below decides how it is read." in page
    assert "does not fit" not in page
