"""What only the dealer can tell is asked once on the desk, kept in the dealer's own words, and never done unasked."""

from __future__ import annotations

import html
from datetime import date
from pathlib import Path

import polars as pl
import pytest

from analysis.texts.desk_own_text import EQUIPMENT
from pipelines.batch.equipment import known_equipment
from pipelines.batch.weekly import run_week
from pipelines.ingest.own_words import own_words, say_equipment, say_module
from pipelines.storage.warehouse import Warehouse
from tests.support.desk_visitor import Visitor
from tests.support.small_dealer import build, load, workspace

LOG = (
    "vehicle,job,done_at,action,part\nA1,1,2026-11-02,replace,throttle body\nA1,2,2026-11-03,replace,Throtle body\n"
    "A2,3,2026-11-04,replace,clock spring\nA2,4,2026-11-05,replace,Clockspring\nA2,5,2026-11-05,erase,\n"
    "A1,6,2026-11-06,replace,throttle body\nA2,7,2026-11-06,replace,clock spring\n"
)
SCANS = (
    "vehicle,scanned_at,module,code,text\nA1,2026-11-01T09:00,Rear fuse box,B2277,output open\n"
    "A1,2026-11-01T09:00,radio,B1A01,speaker open\nA1,2026-11-01T09:00,ABS,C0035,wheel speed\n"
    "A1,2026-11-01T09:00,BCM,B1325,supply low\nA1,2026-11-08T09:00,Rear fuse box,,\n"
)


@pytest.fixture
def visitor(tmp_path: Path) -> Visitor:
    guest = Visitor(tmp_path / "dealer")
    assert guest.post("/begin").status_code == 303
    return guest


def page(visitor: Visitor, path: str = "/") -> str:
    return html.unescape(visitor.get(path).text)


def test_names_spelled_nearly_alike_are_asked_about_before_anything_is_taken_in(visitor: Visitor):
    visitor.drop("log.csv", LOG.encode())
    said = page(visitor)
    assert "'Throtle body' (1 job) and 'throttle body' (2 jobs): the same part?" in said
    assert "'Clockspring' (1 job) and 'clock spring' (2 jobs): the same part?" in said
    visitor.post("/files/take")
    assert page(visitor).count("the same part?") == 2, "what was taken in is asked about like what waits"


def test_each_answer_is_kept_and_not_asked_again(visitor: Visitor):
    visitor.drop("log.csv", LOG.encode())
    visitor.post("/files/parts", name="Throtle body", part="throttle body", answer="yes")
    visitor.post("/files/parts", name="Clockspring", part="clock spring", answer="no")
    assert "the same part?" not in page(visitor)
    kept = (visitor.desk.folder / "part_names.csv").read_text(encoding="utf-8")
    assert kept == "name,part,same\nThrotle body,throttle body,yes\nClockspring,clock spring,no\n"
    visitor.post("/files/take")
    own, notes = own_words(visitor.desk.folder)
    with Warehouse(visitor.desk.workspace.database) as warehouse:
        fitted = build(warehouse, marts=("job_parts",), own=own)["job_parts"]
    assert notes == []
    assert {*fitted["part"]} == {"Clockspring", "clock spring", "throttle body"}


@pytest.mark.parametrize("answer", ["", "perhaps"])
def test_no_answer_merges_nothing(visitor: Visitor, answer: str):
    visitor.drop("log.csv", LOG.encode())
    refused = visitor.send("/files/parts", name="Throtle body", part="throttle body", answer=answer)
    assert refused.status_code == 400
    assert not (visitor.desk.folder / "part_names.csv").exists()


def test_a_control_unit_that_no_list_knows_is_asked_about_with_plain_choices(visitor: Visitor):
    visitor.drop("scans.csv", SCANS.encode())
    said = page(visitor)
    assert "Rear fuse box (2 rows)" in said
    assert "Body control module (BCM)" in said
    assert "radio (1 row)" not in said, "what the list knows is not asked"
    assert visitor.send("/files/units", unit="Rear fuse box", module="", name="").status_code == 400
    assert visitor.send("/files/units", unit="Rear fuse box", module="NOPE", name="").status_code == 400
    visitor.post("/files/units", unit="Rear fuse box", module="BCM", name="")
    assert "Rear fuse box (2 rows)" not in page(visitor)
    kept = (visitor.desk.folder / "modules.csv").read_text(encoding="utf-8")
    assert kept == "module,name,also_called\nBCM,,Rear fuse box\n"


def test_a_control_unit_of_its_own_is_kept_in_the_dealers_words(visitor: Visitor):
    visitor.drop("scans.csv", SCANS.encode())
    visitor.post("/files/units", unit="Rear fuse box", module="own", name="fuses in the boot")
    kept = (visitor.desk.folder / "modules.csv").read_text(encoding="utf-8")
    assert kept == "module,name,also_called\nREAR FUSE BOX,fuses in the boot,\n"
    assert "What is this control unit?" not in page(visitor)


def test_two_spellings_of_one_module_stand_in_one_row(tmp_path: Path):
    say_module(tmp_path, "Koffer", "BCM")
    say_module(tmp_path, "Heck", "BCM")
    assert own_words(tmp_path)[0].modules == [{"module": "BCM", "name": "", "also_called": "Koffer;Heck"}]


def test_a_file_of_own_words_that_cannot_be_kept_whole_is_not_written_over(tmp_path: Path):
    mine = "name,part,same\nlamp,lamps,maybe\n"
    (tmp_path / "part_names.csv").write_text(mine, encoding="utf-8")
    guest = Visitor(tmp_path)
    guest.post("/begin")
    guest.drop("log.csv", LOG.encode())
    refused = guest.send("/files/parts", name="Throtle body", part="throttle body", answer="yes")
    assert "part_names.csv row 2: same is 'maybe', expected yes or no" in html.unescape(refused.text)
    assert (tmp_path / "part_names.csv").read_text(encoding="utf-8") == mine


def looked_past(folder: Path, **said: str) -> dict[str, str]:
    scans = pl.read_csv(SCANS.encode()).to_dicts()
    place = workspace(folder, scans=scans, stock=[{"vehicle": "A1", "make": "Orvell", "model": "Tern"}])
    if said:
        say_equipment(place.root, "a1", said["has"], said.get("codes", "").split(";") if said.get("codes") else ())
    own, _ = own_words(place.root)
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
        table = build(warehouse, marts=("open_codes",), own=own)["open_codes"]
    return {code: why for code, why in table.select("code", "background").iter_rows() if why}


def test_what_the_dealer_says_is_fitted_brings_its_codes_along(tmp_path: Path):
    assert looked_past(tmp_path / "1") == {}
    radio = looked_past(tmp_path / "2", has="aftermarket radio")
    assert radio == {"RADIO:B1A01@orvell": "modification: aftermarket radio"}
    lamp = looked_past(tmp_path / "3", has="a beacon", codes="BCM:B1325@orvell")
    assert lamp == {"BCM:B1325@orvell": "modification: a beacon"}


@pytest.mark.parametrize("has", EQUIPMENT)
def test_each_choice_of_equipment_is_one_whose_codes_are_known(has: str):
    assert known_equipment(has)


@pytest.mark.slow
def test_what_is_fitted_is_said_on_the_desk_and_taken_out_there(visitor: Visitor):
    visitor.drop("scans.csv", SCANS.encode())
    visitor.drop("cars.csv", b"vehicle,make,model\nA1,Orvell,Tern\n")
    visitor.post("/files/take")
    run_week(visitor.desk.workspace, date(2026, 11, 23))
    shown = page(visitor, "/standing?vehicle=a1")
    assert 'name="code" value="BCM:B1325@orvell"' in shown
    assert 'name="code" value="ABS:C0035"' not in shown, "the warning of the brakes has to go whatever sets it"
    for wrong in ({"has": "", "own": ""}, {"own": "a beacon"}, {"own": "a beacon", "code": "ABS:C0035"}):
        assert visitor.send("/standing/fitted", vehicle="A1", **wrong).status_code == 400
    assert not (visitor.desk.folder / "equipment.csv").exists()
    visitor.post("/standing/fitted", vehicle="a1", has="tow bar")
    visitor.post("/standing/fitted", vehicle="A1", own="a beacon", code="BCM:B1325@orvell")
    assert "A1 has a tow bar" in page(visitor, "/standing")
    run_week(visitor.desk.workspace, date(2026, 11, 30))
    assert "left alone: modification: a beacon" in page(visitor, "/jobs?vehicle=A1")
    visitor.post("/standing/fitted/out", vehicle="A1", has="a beacon")
    assert own_words(visitor.desk.folder)[0].equipment == [{"vehicle": "A1", "has": "tow bar", "codes": ""}]
