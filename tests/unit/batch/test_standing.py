"""The dealer's answers: agreeing writes background rows, refusing is remembered, and either can be taken back."""

from __future__ import annotations

import csv
from datetime import date, datetime
from pathlib import Path

import polars as pl
import pytest

from pipelines.batch.standing import accept, chosen, questions, refuse, refused_groups, take_back
from pipelines.batch.week_tables import _hardly_read
from pipelines.commands.cli import main
from pipelines.errors import BatchError
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace
from tests.support.small_dealer import build, load, workspace
from tests.support.stored_runs import keep_run

NOW = datetime(2026, 11, 24, 9, 15)
SCHEMA = {
    **dict.fromkeys(("vehicle", "make", "codes"), pl.String),
    **dict.fromkeys(("cars", "erases_survived"), pl.Int64),
    **dict.fromkeys(("kind", "state", "reason"), pl.String),
}
GROUPS = [
    ("", "Corvane", "BCM:B1137@corvane;RADIO:B1125@corvane", 7, 19, "standing", "proposed", "there again"),
    ("K-1", "Aldane", "HVAC:B10AF@aldane", 1, 4, "standing", "proposed", "there again"),
    ("", "Tesmar", "ECM:P0562", 3, 0, "passing", "declared", "low battery in the yard"),
]
SCANS = [
    {"vehicle": "K-1", "scanned_at": "2026-11-20T09:00", "module": "HVAC", "code": "B10AF"},
    {"vehicle": "K-2", "scanned_at": "2026-11-20T09:00", "module": "RADIO", "code": "B1125"},
    {"vehicle": "K-2", "scanned_at": "2026-11-20T09:00", "module": "BCM", "code": "B1137"},
]
STOCK = [{"vehicle": "K-1", "make": "Aldane", "model": "Fir"}, {"vehicle": "K-2", "make": "Corvane", "model": "Elm"}]


@pytest.fixture
def dealer(tmp_path: Path) -> Workspace:
    place = workspace(tmp_path, scans=SCANS, stock=STOCK)
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
    keep_run(place, "2026-W48", date(2026, 11, 23), standing=pl.DataFrame(GROUPS, schema=SCHEMA, orient="row"))
    return place


def states(place: Workspace) -> list[tuple[str, bool]]:
    return [(one.state, one.waiting) for one in questions(place)]


def looked_past(place: Workspace) -> list[tuple[str, str]]:
    """Take the inbox in and tell which codes of which cars are masked."""
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
        opened = build(warehouse)["open_codes"]
    return sorted(opened.filter(pl.col("background").is_not_null()).select("vehicle", "code").rows())


@pytest.mark.slow
def test_agreeing_writes_rows_that_the_next_run_looks_past(dealer):
    path = accept(dealer, chosen(questions(dealer), [1, 2], "proposed"), NOW)
    with path.open(encoding="utf-8", newline="") as handle:
        rows = [tuple(row.values()) for row in csv.DictReader(handle)]
    why = "agreed on 2026-11-24 09:15: no fault sets them, they come back after every erase and repair"
    assert rows == [
        ("", "Corvane", "BCM", "B1137", why, ""),
        ("", "Corvane", "RADIO", "B1125", why, ""),
        ("K-1", "", "HVAC", "B10AF", why, ""),
    ]
    assert states(dealer) == [("accepted", True), ("accepted", True), ("declared", False)]
    assert looked_past(dealer) == [
        ("K-1", "HVAC:B10AF@aldane"),
        ("K-2", "BCM:B1137@corvane"),
        ("K-2", "RADIO:B1125@corvane"),
    ]


def test_an_answer_that_still_waits_is_taken_back_without_a_trace(dealer):
    path = accept(dealer, chosen(questions(dealer), [1], "proposed"), NOW)
    assert take_back(dealer, chosen(questions(dealer), [1], "accepted"), NOW) == [path]
    assert not path.exists()
    assert states(dealer)[0] == ("proposed", False)


@pytest.mark.slow
def test_what_was_taken_in_is_taken_back_by_a_later_row_and_can_be_agreed_to_again(dealer):
    accept(dealer, chosen(questions(dealer), [2], "proposed"), NOW)
    assert looked_past(dealer) == [("K-1", "HVAC:B10AF@aldane")]
    accepted = pl.DataFrame([(*GROUPS[1][:6], "accepted", "agreed on then")], schema=SCHEMA, orient="row")
    keep_run(dealer, "2026-W49", date(2026, 11, 30), standing=accepted)
    take_back(dealer, chosen(questions(dealer), [1], "accepted"), datetime(2026, 12, 1, 8))
    assert states(dealer) == [("proposed", True)]
    assert looked_past(dealer) == []
    accept(dealer, chosen(questions(dealer), [1], "accepted", "proposed"), datetime(2026, 12, 2, 8))
    assert looked_past(dealer) == [("K-1", "HVAC:B10AF@aldane")]


def test_a_refusal_is_remembered_beside_the_settings_and_taken_back(dealer):
    refuse(dealer, chosen(questions(dealer), [2], "proposed"), NOW)
    assert [state for state, _ in states(dealer)] == ["proposed", "refused", "declared"]
    assert refused_groups(dealer).select("vehicle", "make", "codes").rows() == [("K-1", "Aldane", "HVAC:B10AF@aldane")]
    # The database can go: the refusal stands; a run that asks no more shows it behind its questions.
    keep_run(dealer, "2026-W49", date(2026, 11, 30), standing=pl.DataFrame(GROUPS[2:], schema=SCHEMA, orient="row"))
    last = questions(dealer)[-1]
    assert (last.number, last.state, last.codes) == (2, "refused", ("HVAC:B10AF@aldane",))
    take_back(dealer, [last], NOW)
    assert refused_groups(dealer).is_empty()


@pytest.mark.parametrize(
    ("number", "message"),
    [
        (3, "number 3 is declared, expected proposed: it stands in a background file of yours or in the stock list"),
        (9, "there is no number 9; the list has 3. Nothing was changed."),
    ],
)
def test_only_what_can_be_answered_is(dealer, number, message):
    with pytest.raises(BatchError, match=message.replace(".", r"\.")):
        chosen(questions(dealer), [number], "proposed")
    assert not list((dealer.inbox / "background").glob("standing-*"))


def test_the_command_lists_answers_and_says_what_comes_next(dealer, capsys):
    assert main(["standing", str(dealer.root)]) == 0
    shown = capsys.readouterr().out
    assert "  1  proposed: BCM:B1137@corvane and RADIO:B1125@corvane on Corvane: 7 cars" in shown
    assert main(["standing", str(dealer.root), "--accept", "1", "--refuse", "2"]) == 0
    assert "Next: run 'knockon weekly" in capsys.readouterr().out
    assert [state for state, _ in states(dealer)] == ["accepted", "refused", "declared"]
    assert main(["standing", str(dealer.root), "--accept", "2"]) == 1
    assert "number 2 is refused, expected proposed. Nothing was changed." in capsys.readouterr().err
    (dealer.root / "standing_refused.csv").write_text("vehicle;make\n", encoding="utf-8")
    assert main(["standing", str(dealer.root)]) == 1
    assert "the header lacks vehicle, make, codes, reason; it has vehicle;make" in capsys.readouterr().err


def test_a_car_of_which_one_module_was_read_is_to_be_scanned_whole_first():
    read = [("K-1", "ECM"), *((car, module) for car in ("K-2", "K-3", "K-4") for module in ("ECM", "ABS", "BCM"))]
    modules = pl.DataFrame(read, schema=["vehicle", "module"], orient="row")
    told = "Only one module was read of K-1 (ECM), of most cars 3: scan every module first."
    assert list(_hardly_read(modules)) == [told]
    # Where most cars have one or two, one is what the tool reads.
    assert list(_hardly_read(modules.filter(pl.col("module") != "BCM"))) == []
