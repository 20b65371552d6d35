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
