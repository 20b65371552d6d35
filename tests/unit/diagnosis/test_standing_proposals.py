"""What is proposed to look past: what came back on car after car, never what a part cleared that was not tried."""

import polars as pl
import pytest

from analysis.diagnosis.standing_causes import standing_causes
from tests.support.diagnosis_dealer import Dealer
from tests.unit.diagnosis.test_standing_causes import (
    BATTERY,
    BLOWER,
    LAMP,
    MODULES,
    PARTS,
    TRAILER,
    WHEEL,
    shop,
    towing,
    work,
)

NO_BACKGROUND = dict.fromkeys(("vehicle", "make_key", "code", "reason"), pl.String) | {"cars": pl.Int64}


def proposals(dealer: Dealer, refused: list[tuple[str, str, str]] | None = None) -> list[dict[str, object]]:
    no = pl.DataFrame(refused or [], schema=dict.fromkeys(("vehicle", "make", "codes"), pl.String), orient="row")
    table = standing_causes(dealer.model(calibration=0.0), pl.DataFrame(schema=NO_BACKGROUND), no)
    return table.to_dicts()


def test_a_group_that_came_back_on_several_cars_is_asked_about_with_what_speaks_for_it():
    dealer = towing(4)
    dealer.job({TRAILER: "returned", LAMP: "returned"}, (), vehicle="erased", read=MODULES)
    [row] = proposals(dealer)
    # Four repairs, an erase alone, and two cars in stock; the parts of the jobs are those that ``work`` takes in turn.
    assert row == {
        "vehicle": "",
        "make": "corvane",
        "codes": f"{TRAILER};{LAMP}",
        "cars": 7,
        "erases_survived": 5,
        "kind": "standing",
        "state": "proposed",
        "reason": "there again after 1 erase alone and 4 repairs; gone after 0 of 5; tried meanwhile: "
        "wheel speed sensor (2), battery (1), blower motor (1)",
    }


@pytest.mark.parametrize(
    ("refused", "codes"),
    [
        ([("", "Corvane", f"{TRAILER};{LAMP}")], []),
        ([("", "corvane", TRAILER)], [LAMP]),
        ([("", "brunmar", f"{TRAILER};{LAMP}")], [f"{TRAILER};{LAMP}"]),
        ([("only", "corvane", f"{TRAILER};{LAMP}")], [f"{TRAILER};{LAMP}"]),
    ],
    ids=["all", "one code", "another make", "one car of the make"],
)
def test_what_was_refused_is_not_asked_again(refused, codes):
    assert [row["codes"] for row in proposals(towing(5), refused)] == codes


def test_what_a_part_cleared_elsewhere_is_asked_only_of_a_car_that_got_the_part():
    dealer = shop()
    for number in range(30):
        work(dealer, number, {LAMP: "returned"}, vehicle=f"lamp{number}")
    for _ in range(4):
        dealer.job({LAMP: "cleared"}, (PARTS[BLOWER],), read=MODULES)
    for day in (40, 60, 80):
        dealer.job({LAMP: "returned"}, (PARTS[BLOWER],), vehicle="lamp0", day=day, read=MODULES)
    # The blower cleared it on four cars and was tried in vain on every third of the thirty.
    blown = {f"lamp{number}" for number in range(2, 30, 3)} | {"lamp0"}
    asked = proposals(dealer)
    assert {row["vehicle"] for row in asked} <= blown
    assert "lamp0" in {row["vehicle"] for row in asked}


def test_codes_of_brakes_are_never_asked_about():
    dealer = shop()
    dealer.code("ABS:C1510", "ride height not plausible")
    for number in range(8):
        work(dealer, number, {"ABS:C1510": "returned", LAMP: "returned"})
    assert [row["codes"] for row in proposals(dealer)] == [LAMP]


def test_what_erases_alone_ended_is_asked_as_passing_and_what_a_part_ends_is_not():
    dealer = shop()
    for number in range(5):
        dealer.job({TRAILER: "cleared", LAMP: "cleared"}, (), vehicle=f"flat{number}", read=MODULES)
        dealer.job({BATTERY: "cleared"}, (), vehicle=f"low{number}", read=MODULES)
    told = {row["codes"]: (row["kind"], row["cars"], row["reason"]) for row in proposals(dealer)}
    # The battery cleared its code on four cars: it is not asked about.
    assert told == {
        f"{TRAILER};{LAMP}": (
            "passing", 5, "stayed away after 5 of 5 erases alone; no part is known for them",
        )
    }  # fmt: skip


def test_a_fault_that_parts_clear_is_not_asked_about():
    dealer = shop()
    for number in range(6):
        dealer.job({WHEEL: "cleared"}, (PARTS[WHEEL],), vehicle=f"wheel{number}", read=MODULES)
        dealer.job({WHEEL: "returned"}, (PARTS[BATTERY],), vehicle=f"other{number}", read=MODULES)
    assert proposals(dealer) == []


def test_what_is_looked_past_already_is_told_with_who_said_so():
    dealer = towing(0)
    for number in range(3):
        dealer.job(
            {WHEEL: "cleared", LAMP: "returned"}, (PARTS[WHEEL],), vehicle=f"a{number}", background="lamps, known"
        )
    rows = [
        ("", "corvane", LAMP, "lamps, known", 3),
        ("only", "", TRAILER, "agreed on 2026-11-20 09:00: an erase ends them", 1),
        ("only", "", LAMP, "agreed on 2026-11-20 09:00: an erase ends them", 1),
    ]
    table = standing_causes(dealer.model(), pl.DataFrame(rows, schema=NO_BACKGROUND, orient="row"))
    shown = (
        table.filter(pl.col("state") != "proposed").select("vehicle", "make", "codes", "kind", "state", "cars").rows()
    )
    assert shown == [
        ("only", "corvane", f"{TRAILER};{LAMP}", "passing", "accepted", 1),
        ("", "corvane", LAMP, "standing", "declared", 3),
    ]
