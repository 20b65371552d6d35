"""The page of codes to look past: each group with its evidence, and every answer written as the command writes it."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import polars as pl
import pytest

from pipelines.batch.standing import questions, refused_groups
from tests.support.desk_visitor import Visitor, tree
from tests.support.small_dealer import workspace
from tests.support.stored_runs import keep_run

GROUPS = pl.DataFrame(
    [
        ("", "Tesmar", "ECM:P0562", 3, 0, "passing", "declared", "low battery in the yard"),
        ("", "Corvane", "BCM:B1137@corvane;RADIO:B1125@corvane", 7, 19, "standing", "proposed", "no part was tried"),
        ("K-1", "Aldane", "HVAC:B10AF@aldane", 1, 4, "standing", "proposed", "<b>there again</b>"),
    ],
    schema={
        **dict.fromkeys(("vehicle", "make", "codes"), pl.String),
        **dict.fromkeys(("cars", "erases_survived"), pl.Int64),
        **dict.fromkeys(("kind", "state", "reason"), pl.String),
    },
    orient="row",
)
RADIO, HEATER = "|Corvane|BCM:B1137@corvane;RADIO:B1125@corvane", "K-1|Aldane|HVAC:B10AF@aldane"


@pytest.fixture
def visitor(tmp_path: Path) -> Visitor:
    """A visitor of a dealer whose last run asks about two groups."""
    place = workspace(tmp_path / "dealer")
    keep_run(place, "2026-W48", date(2026, 11, 23), standing=GROUPS)
    return Visitor(place.root)


def shown(visitor: Visitor) -> list[tuple[str, list[str]]]:
    """Each group's state and the answers that can be given."""
    cards = re.findall(r"<article.*?</article>", visitor.get("/standing").text, re.DOTALL)
    return [
        (re.findall(r"<span>(.*?)</span>", card)[0], re.findall(r'name="answer" value="(\w+)"', card)) for card in cards
    ]


OPEN = ("to decide", ["yes", "no", "later"])
DECLARED = ("in your background file", [])


def test_groups_stand_there_with_their_evidence_those_to_decide_first(visitor: Visitor):
    assert shown(visitor) == [OPEN, OPEN, DECLARED]
    page = visitor.get("/standing").text
    assert "on Corvane: 7 cars, there again after 19 erases and repairs." in page
    assert "&lt;b&gt;there again&lt;/b&gt;" in page


def test_yes_is_written_into_the_inbox_and_taken_back(visitor: Visitor):
    assert visitor.post("/standing", mark=RADIO, answer="yes").status_code == 303
    [path] = (visitor.desk.workspace.inbox / "background").glob("*.csv")
    assert len(path.read_text(encoding="utf-8").splitlines()) == 3
    assert ("left alone", ["back"]) in shown(visitor)
    assert [one.state for one in questions(visitor.desk.workspace)].count("accepted") == 1
    visitor.post("/standing", mark=RADIO, answer="back")
    assert shown(visitor) == [OPEN, OPEN, DECLARED]
    assert not path.exists()


def test_no_is_remembered_and_taken_back(visitor: Visitor):
    visitor.post("/standing", mark=HEATER, answer="no")
    assert refused_groups(visitor.desk.workspace)["codes"].to_list() == ["HVAC:B10AF@aldane"]
    assert ("they count, as you said", ["back"]) in shown(visitor)
    visitor.post("/standing", mark=HEATER, answer="back")
    assert refused_groups(visitor.desk.workspace).is_empty()
    assert shown(visitor) == [OPEN, OPEN, DECLARED]


def test_later_changes_nothing(visitor: Visitor):
    before = tree(visitor.desk.folder)
    assert visitor.post("/standing", mark=HEATER, answer="later").status_code == 303
    assert tree(visitor.desk.folder) == before
    assert "It stays here until you decide." in visitor.get("/standing").text


@pytest.mark.parametrize(
    ("mark", "answer"),
    [
        (RADIO, "back"),
        (RADIO, "perhaps"),
        (RADIO, ""),
        ("|Corvane|ABS:C0031", "yes"),
        ("|Tesmar|ECM:P0562", "back"),
        ("1", "yes"),
    ],
)
def test_what_cannot_be_answered_changes_nothing(visitor: Visitor, mark: str, answer: str):
    before = tree(visitor.desk.folder)
    assert visitor.post("/standing", mark=mark, answer=answer).status_code == 400
    assert tree(visitor.desk.folder) == before


def test_while_another_run_holds_the_folder_nothing_is_answered(visitor: Visitor):
    before = tree(visitor.desk.folder)
    with visitor.desk.workspace.lock():
        assert visitor.post("/standing", mark=RADIO, answer="yes").status_code == 409
    assert tree(visitor.desk.folder) == before
