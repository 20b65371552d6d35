"""The scan of a car before it is bought: read as on the page of files, asked about at once, make and model known."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from pipelines.desk.car_to_buy import told_of
from pipelines.desk.look import look, read_whole
from pipelines.desk.unread import unread_in
from tests.support.desk_visitor import TODAY, Visitor

STOCK = [
    {"vehicle": "S-1", "vin": None, "make": "Corvane", "model": "Alder"},
    {"vehicle": "S-2", "vin": None, "make": "Corvane", "model": "Alder Estate"},
    {"vehicle": "S-3", "vin": None, "make": "Tesmar", "model": "Heron"},
]
AUCTION = b"Auction check\nCorvane alder estate 2016\nP0301   misfire   stored\nC0031   wheel speed   stored\n"
TABLE = b"Car;Date;Module;Code\nS-3;20.11.2026;Engine;P0301\nS-9;20.11.2026;Engine;P0420\n"


@pytest.fixture
def visitor(tmp_path: Path) -> Visitor:
    guest = Visitor(tmp_path / "dealer")
    assert guest.post("/begin").status_code == 303
    return guest


def dropped(visitor: Visitor, name: str, content: bytes) -> str:
    mark: str = visitor.drop(name, content, "/buying/upload").json()["mark"]
    return mark


def test_a_text_that_nobody_knows_is_asked_about_at_once_and_needs_neither_car_nor_day(visitor: Visitor):
    mark = dropped(visitor, "auction.txt", AUCTION)
    page = visitor.get("/buying").text
    assert "The scan is not read yet" in page
    assert re.findall(r'<div class="asked must">.*?name="answer:([\w.]+)"', page, re.DOTALL) == ["text.module"]
    visitor.post(f"/buying/{mark}/answer", **{"answer:text.module": "-"})
    page = visitor.get("/buying").text
    assert "Work it out" in page
    assert "Take this in" not in page
    seen = look(visitor.desk.workspace, visitor.desk.scans.get(mark), TODAY)
    rows = read_whole(visitor.desk.workspace, seen).rows.select("vehicle", "scanned_at", "module", "code").rows()
    day = f"{TODAY} 00:00:00"
    assert rows == [("this car", day, "ECM", "P0301"), ("this car", day, "ABS", "C0031")]
    assert visitor.desk.tray.files() == []


def test_make_and_model_are_those_of_the_stock_list_or_stand_in_the_file(visitor: Visitor):
    mark = dropped(visitor, "auction.txt", AUCTION)
    visitor.post(f"/buying/{mark}/answer", **{"answer:text.module": "-"})
    seen = look(visitor.desk.workspace, visitor.desk.scans.get(mark), TODAY)
    reading = read_whole(visitor.desk.workspace, seen)
    assert told_of(seen.file.path, reading, STOCK) == ("Corvane", "Alder Estate")
    assert told_of(seen.file.path, reading, STOCK[2:]) == ("", "")
    mark = dropped(visitor, "table.csv", TABLE)
    seen = look(visitor.desk.workspace, visitor.desk.scans.get(mark), TODAY)
    assert told_of(seen.file.path, read_whole(visitor.desk.workspace, seen), STOCK) == ("Tesmar", "Heron")


def test_of_a_file_of_several_cars_one_is_chosen(visitor: Visitor):
    dropped(visitor, "table.csv", TABLE)
    page = visitor.get("/buying").text
    assert re.findall(r'<select name="car">(.*?)</select>', page) == ["<option>S-3</option><option>S-9</option>"]


def test_a_stock_list_is_said_to_be_one_before_anything_is_worked_out(visitor: Visitor):
    mark = dropped(visitor, "cars.csv", b"Stock no.;Manufacturer;Model line\nS-104;Corvane;Alder\nS-117;Tesmar;Heron\n")
    page = visitor.get("/buying").text
    assert "This was taken for your stock list, and a scan is wanted." in page
    assert "Work it out" not in page
    answer = visitor.post("/buying", mark=mark)
    assert answer.status_code == 400


MISPRINTED = (
    b"Auction check\nDate: 20.11.2026 10:22\n[Engine]\nP0301 - Cylinder 1 misfire - active\n[ABS]\nno faults\n"
    b"[Airbag]\nB0O12 ; squib\nB1317H - lamp - stored\nend of print-out\n"
)
REFUSED = (
    b"vehicle,scanned_at,module,code\nS-9,2026-11-20T09:00,Engine,P0301\nS-9,2026-11-20T09:00,Engine,P03O1\n"
    b"S-9,soon,ABS,C0035\nS-9,2026-11-20T09:00,SRS,\nS-9,2026-11-20T09:00,BCM,?\n"
)


@pytest.mark.parametrize(
    ("name", "content", "read", "codes", "lines"),
    [
        ("check.txt", MISPRINTED, 1, 3, [(8, "B0O12 ; squib"), (9, "B1317H - lamp - stored")]),
        ("scan.csv", REFUSED, 1, 3, [(3, "P03O1"), (4, "soon")]),
    ],
)
def test_no_bid_is_made_on_a_scan_that_was_not_read_whole(
    visitor: Visitor, name: str, content: bytes, read: int, codes: int, lines: list[tuple[int, str]]
):
    mark = dropped(visitor, name, content)
    seen = look(visitor.desk.workspace, visitor.desk.scans.get(mark), TODAY)
    unread = unread_in(seen, read_whole(visitor.desk.workspace, seen))
    assert (unread.read, unread.codes) == (read, codes)
    assert [(line.row, line.value) for line in unread.lines] == lines
    page = visitor.get("/buying").text
    told = f"{read} of {codes} texts that look like a code were read, so no bid is worked out yet"
    assert told in page
    assert all(value in page for _, value in lines)
    assert '<article class="card stop"' in page
    answer = visitor.post("/buying", mark=mark, make="Corvane", asking="1000", worth="3000")
    assert answer.status_code == 400
    assert told in answer.text
    assert "Highest sensible bid" not in answer.text
    agreed = visitor.post("/buying", mark=mark, make="Corvane", asking="1000", worth="3000", agree="1")
    assert agreed.status_code == 200
    result = agreed.text.partition("Highest sensible bid")
    assert "these lines of the scan were not read" in result[0]
    assert all(value in result[0].partition("these lines of the scan")[2] for _, value in lines)


def test_each_cost_stands_once_beside_the_share_it_is_enough_for_and_the_bid_rests_on_one(visitor: Visitor):
    mark = dropped(visitor, "scan.csv", REFUSED.replace(b"P03O1", b"P0302").replace(b"soon", b"2026-11-20T09:00"))
    page = visitor.post("/buying", mark=mark, make="Corvane", asking="2900", worth="3000").text
    costs = re.findall(r'<tr><th scope="row">(\d+)%</th><td class="n">€([\d,]+)', page)
    assert len({cost for _, cost in costs}) == len(costs) >= 1
    assert "of such cars cost at most</td>" not in page, "the terminal's table says it a second time"
    share, cost = next(one for one in costs if int(one[0]) >= 90)
    assert f"clearing it costs no more than that in {share}% of such cases" in page
    bid = re.findall(r'<p class="big">€([\d,]+)', page)[0]
    assert int(bid.replace(",", "")) == 3000 - int(cost.replace(",", ""))
