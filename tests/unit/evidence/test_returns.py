"""How long codes stay away after a bare erase, and after work on the car."""

from analysis.evidence.returns import return_curves
from tests.support.diagnosis_dealer import Dealer

A = "ABS:C0031"


def test_curves_are_kept_apart_by_what_was_done():
    dealer = Dealer()
    dealer.job({A: "returned"})
    dealer.job({A: "cleared"})
    dealer.job({A: "returned"}, parts=("x",))
    past = dealer.past()
    curves = return_curves(past.outcomes, past.jobs)
    assert curves.select("group", "km", "at_risk", "returned", "staying").rows() == [
        ("erased", 20.0, 2, 1, 0.5),
        ("repaired", 20.0, 1, 1, 0.0),
    ]
