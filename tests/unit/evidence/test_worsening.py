"""Parts and suppliers that got worse are named, wobbling ones are not."""

import pytest

from analysis.evidence.worsening import more_returns_p, worse_parts
from tests.support.diagnosis_dealer import Dealer

A = "ABS:C0031"


def test_p_value_is_fishers():
    # R. A. Fisher, The Design of Experiments (1935), chapter II: three of four cups right, (16 + 1) / 70.
    assert more_returns_p(3, 4, 1, 4) == pytest.approx(17 / 70)


def test_a_part_whose_codes_return_lately_is_named():
    dealer = Dealer()
    for outcome in ["cleared"] * 6 + ["returned"] * 6:
        dealer.job({A: outcome}, parts=("switch",))
    (note,) = worse_parts(dealer.past())["warning"]
    assert note.startswith("switch: codes returned after 6 of the latest 6 jobs, against 0 of the 6 before.")


def test_a_part_that_always_was_so_is_not_named():
    dealer = Dealer()
    for outcome in ["cleared", "returned"] * 6:
        dealer.job({A: outcome}, parts=("switch",))
    assert worse_parts(dealer.past()).is_empty()


def test_a_supplier_worse_than_the_others_is_named():
    dealer = Dealer()
    for _ in range(5):
        dealer.job({A: "returned"}, parts=(("switch", "", "Sund"),))
        dealer.job({A: "cleared"}, parts=(("switch", "", "Norr"),))
    told = "switch from Sund: codes returned after 5 of 5 jobs, against 0 of 5 with parts from elsewhere."
    (row,) = worse_parts(dealer.past()).rows()
    # Five returns of ten all on one side of five: 1 in choose(10, 5) = 252; of three comparisons it is the smallest.
    assert row == ("switch", "Sund", 5, 5, 0, 5, pytest.approx(3 / 252), told)


def test_another_fault_of_the_car_is_not_held_against_the_part():
    dealer = Dealer()
    for supplier, other in (("Sund", "returned"), ("Norr", "cleared")):
        for _ in range(5):
            dealer.job({A: "cleared", "ECM:P0456": "returned"}, parts=(("switch", "", supplier),))
            dealer.job({"ECM:P0128": other}, parts=(("thermostat", "", supplier),))
    (note,) = worse_parts(dealer.past())["warning"]
    assert note.startswith("thermostat from Sund")


def test_among_many_parts_one_lucky_difference_is_no_alarm():
    dealer = Dealer()
    for supplier, outcome in (("Sund", "returned"), ("Norr", "cleared")):
        for _ in range(4):
            dealer.job({A: outcome}, parts=(("switch", "", supplier),))
    for number in range(30):
        for supplier in ("Sund", "Norr"):
            for outcome in ("cleared", "returned", "cleared", "returned"):
                dealer.job({A: outcome}, parts=((f"part {number}", "", supplier),))
    assert worse_parts(dealer.past()).is_empty()


def test_three_jobs_are_too_few_to_judge():
    dealer = Dealer()
    for _ in range(3):
        dealer.job({A: "returned"}, parts=(("switch", "", "Sund"),))
        dealer.job({A: "cleared"}, parts=(("switch", "", "Norr"),))
    assert worse_parts(dealer.past()).is_empty()
