"""Files of one form on the tray: one answer counts for all of them, is said, and can be another for each."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from pipelines.desk.tray import Waiting
from tests.support.desk_visitor import Visitor

HEAD = b"Car;Seen;Unit;Fault\n"
UNDECIDED = HEAD + b"K-1;03/04/2026 09:00;ABS;C0031\nK-2;05/06/2026 10:00;ABS;C0035\n"
UNDECIDED_TOO = HEAD + b"K-3;07/08/2026 09:00;ABS;C0040\nK-2;05/07/2026 10:00;ABS;C0035\n"
DECIDED = HEAD + b"K-4;23/08/2026 09:00;ABS;C0040\n"
OTHER = b"Car;Seen;Unit;Fault;State\nK-3;07/08/2026 09:00;ABS;C0040;active\nK-3;07/09/2026 09:00;ABS;C0035;active\n"
DAY_FIRST, MONTH_FIRST = "%d/%m/%Y %H:%M", "%m/%d/%Y %H:%M"
PRINTED = """Yard print
Tag {car}
Date: 14.08.2026 09:00
Unit: Brakes
 C0031 wheel speed
"""


@pytest.fixture
def visitor(tmp_path: Path) -> Visitor:
    guest = Visitor(tmp_path / "dealer")
    guest.post("/begin")
    return guest


def on_tray(visitor: Visitor) -> dict[str, Waiting]:
    return {file.name: file for file in visitor.desk.tray.files()}


def answer(visitor: Visitor, name: str, form: str) -> None:
    mark = on_tray(visitor)[name].mark
    assert visitor.post(f"/files/{mark}/answer", **{"answer:date_formats": form}).status_code == 303


def card(visitor: Visitor, name: str) -> str:
    return str(visitor.get(f"/files/{on_tray(visitor)[name].mark}").text)


def test_an_answer_counts_for_the_files_of_the_same_headings_and_is_said(visitor: Visitor):
    for name, content in [("a.csv", UNDECIDED), ("b.csv", UNDECIDED_TOO), ("c.csv", OTHER)]:
        visitor.drop(name, content)
    assert "3 files need an answer first." in visitor.get("/").text
    answer(visitor, "a.csv", DAY_FIRST)
    page = visitor.get("/").text
    assert "2 files are ready, and read as shown below; 1 file needs an answer first." in page
    assert "Of the same form as a.csv, so it is read alike." in card(visitor, "b.csv")
    assert "As for a.csv." in card(visitor, "b.csv")
    assert "2026-08-07 09:00:00" in card(visitor, "b.csv")
    assert "Read alike: b.csv." in card(visitor, "a.csv")
    assert on_tray(visitor)["c.csv"].answers == {}


def test_each_file_can_be_answered_for_by_itself_afterwards(visitor: Visitor):
    visitor.drop("a.csv", UNDECIDED)
    visitor.drop("b.csv", UNDECIDED_TOO)
    answer(visitor, "a.csv", DAY_FIRST)
    answer(visitor, "b.csv", MONTH_FIRST)
    files = on_tray(visitor)
    assert files["a.csv"].answers == {"date_formats": DAY_FIRST}
    assert files["b.csv"].answers == {"date_formats": MONTH_FIRST}
    assert "it is read alike" not in card(visitor, "b.csv")
    # It has an answer of its own now: what is said of the first one changes it no more.
    answer(visitor, "a.csv", MONTH_FIRST)
    answer(visitor, "a.csv", DAY_FIRST)
    assert on_tray(visitor)["b.csv"].answers == {"date_formats": MONTH_FIRST}


def test_another_answer_is_followed_and_one_that_is_forgotten_is_forgotten_too(visitor: Visitor):
    visitor.drop("a.csv", UNDECIDED)
    visitor.drop("b.csv", UNDECIDED_TOO)
    answer(visitor, "a.csv", DAY_FIRST)
    answer(visitor, "a.csv", MONTH_FIRST)
    assert on_tray(visitor)["b.csv"].answers == {"date_formats": MONTH_FIRST}
    visitor.post(f"/files/{on_tray(visitor)['a.csv'].mark}/answer", ask="no")
    assert on_tray(visitor)["b.csv"].answers == {}
    assert on_tray(visitor)["b.csv"].taken == {}


def test_a_file_that_comes_later_is_read_as_was_answered_before(visitor: Visitor):
    visitor.drop("a.csv", UNDECIDED)
    answer(visitor, "a.csv", MONTH_FIRST)
    visitor.drop("b.csv", UNDECIDED_TOO)
    assert on_tray(visitor)["b.csv"].answers == {"date_formats": MONTH_FIRST}


@pytest.mark.parametrize("first", ["open", "told"])
def test_dates_that_can_be_read_in_one_way_only_tell_how_the_other_file_writes_them(visitor: Visitor, first: str):
    files = [("open.csv", UNDECIDED), ("told.csv", DECIDED)]
    for name, content in files if first == "open" else reversed(files):
        visitor.drop(name, content)
    assert on_tray(visitor)["open.csv"].answers == {"date_formats": DAY_FIRST}
    assert "As for told.csv." in card(visitor, "open.csv")
    assert "2026-04-03 09:00:00" in card(visitor, "open.csv")


def test_what_a_file_decides_by_itself_is_not_changed_by_an_answer_to_another(visitor: Visitor):
    visitor.drop("told.csv", DECIDED)
    visitor.drop("open.csv", UNDECIDED)
    answer(visitor, "open.csv", MONTH_FIRST)
    assert on_tray(visitor)["told.csv"].answers == {}
    assert "2026-08-23 09:00:00" in card(visitor, "told.csv")


def test_the_line_that_tells_the_car_is_pointed_at_once_and_tells_each_text_its_own(visitor: Visitor):
    for car in ("731", "732"):
        visitor.drop(f"{car}.txt", PRINTED.format(car=car).encode())
    asked = card(visitor, "731.txt")
    assert re.findall(r'<option value="(Tag 731)"', asked)
    visitor.post(f"/files/{on_tray(visitor)['731.txt'].mark}/answer", **{"answer:text.scan.vehicle": "Tag 731"})
    assert on_tray(visitor)["732.txt"].answers == {"text.scan.vehicle": "Tag 732"}
    assert re.findall(r"<td[^>]*>(732)</td>", card(visitor, "732.txt"))


def test_a_column_is_pointed_at_once_for_all_files_that_have_it(visitor: Visitor):
    odd = [content.replace(b"Car;", b"Wagon;") for content in (UNDECIDED, UNDECIDED_TOO, DECIDED)]
    for name, content in zip(("a.csv", "b.csv", "c.csv"), odd, strict=True):
        visitor.drop(name, content)
    visitor.post(f"/files/{on_tray(visitor)['b.csv'].mark}/answer", **{"answer:columns.vehicle": "Wagon"})
    assert "3 files are ready" in visitor.get("/").text
    assert "Of the same form as b.csv, so it is read alike." in card(visitor, "c.csv")
    assert "Of the same form as c.csv and b.csv, so it is read alike." in card(visitor, "a.csv")


def test_what_a_table_holds_is_said_once_for_those_of_its_headings(visitor: Visitor):
    for name in ("a.csv", "b.csv"):
        visitor.drop(name, UNDECIDED if name == "a.csv" else UNDECIDED_TOO)
    visitor.post(f"/files/{on_tray(visitor)['a.csv'].mark}/answer", table="repairs")
    assert on_tray(visitor)["b.csv"].table == "repairs"
    assert "Of the same form as a.csv, so it is read alike." in card(visitor, "b.csv")
    visitor.post(f"/files/{on_tray(visitor)['b.csv'].mark}/answer", table="scans")
    assert on_tray(visitor)["a.csv"].table == "repairs"
    assert on_tray(visitor)["b.csv"].taken == {}


def test_a_no_leaves_the_file_where_it_is_and_says_so(visitor: Visitor):
    slip = b"Car: K-1\nDate: 14.08.2026\nUnit: ABS\n C0031 wheel sensor\n  zone open left\n C0035 wheel sensor\n"
    slip += b"  zone shut right\n"
    visitor.drop("slip.txt", slip)
    mark = on_tray(visitor)["slip.txt"].mark
    told = {"answer:text.below": "no"}
    assert "no: then nothing of this file is taken in" in card(visitor, "slip.txt")
    visitor.post(f"/files/{mark}/answer", **told)
    page = visitor.get("/").text
    assert "1 file is left as it is." in page
    assert "You said no, so nothing of this file is taken in." in page
    assert 'action="/files/take"' not in page
    visitor.post(f"/files/{mark}/answer", **{"answer:text.below": "yes"})
    assert "1 file is ready" in visitor.get("/").text
