"""Numbers of the chances of one car, and how far they are to be trusted.

Pinned to six digits: every constant of the model, changed by half, changes one of them.
Where the arithmetic of an expected value can be written down it stands beside it, with the constants as plain numbers
and not by name.  Values that only the program can work out are marked "recorded".
"""

import math
from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from analysis.diagnosis import DiagnosisModel
from analysis.diagnosis.evaluation import backtest as past
from analysis.diagnosis.evaluation.metrics import trust
from analysis.diagnosis.inference.calibration import (
    SHARPNESSES,
    Calibration,
    Promises,
    learned_calibration,
    usual_calibration,
)
from analysis.diagnosis.inference.posterior import DROPS_OUT, Car, _missed_together, infer
from analysis.diagnosis.model.parameters import NoisyOrParameters
from tests.support.diagnosis_dealer import golden
from tests.support.golden_numbers import counted, exactly, many_parts


@pytest.fixture(scope="module")
def model() -> DiagnosisModel:
    return golden().model()


# One car.


def alone(link: list[float], leak: float = 0.01, **more: object) -> tuple[Car, NoisyOrParameters]:
    """One part and its codes, all of them open unless ``open_codes`` says otherwise."""
    codes = len(link)
    here = np.array([link])
    blank = counted()
    known = replace(
        blank,
        link_yes=here * 10,
        link_no=(1 - here) * 10,
        leak=np.full(codes, leak),
        taught=here * 0,
        learned=here * 0,
        leak_recurrence=np.full(codes, 0.3),
        leak_stayed=np.zeros(codes),
        alike=here * 0 + 1,
    )
    opened = more.pop("opened", list(range(codes)))
    stale = np.full(len(opened), more.pop("stored", False))
    absent = np.array([d not in opened for d in range(codes)])
    return Car(vehicle="V", make=0, codes=opened, absent=absent, stale=stale, failed=set(), **more), known


def seen(car: Car, known: NoisyOrParameters, calibration: float = 0.0):
    return infer(car, known, np.ones(1, dtype=bool), Calibration(calibration))


def test_a_stored_code_has_five_times_the_leak_and_at_most_one_in_two() -> None:
    assert seen(*alone([0.8], leak=0.03, stored=True)).case.leak == exactly(np.array([[5 * 0.03]]))
    assert seen(*alone([0.8], leak=0.3, stored=True)).case.leak == exactly(np.array([[0.5]]))
    assert seen(*alone([0.8], leak=0.03)).case.leak == exactly(np.array([[0.03]]))


def test_six_in_ten_of_stored_codes_have_passed_and_one_in_ten_comes_back() -> None:
    stored = seen(*alone([0.8], stored=True))
    assert stored.case.leak_recurrence == exactly(np.array([0.1]))
    one = seen(*alone([0.8], leak=0.05)).weights.faulty()[0, 0]
    assert stored.weights.faulty()[0, 0] == exactly(0.4 * one)


def test_an_active_code_seldom_has_passed() -> None:
    # By hand, with leaks of which .3 last: awake with .8 while the cause is there, with .05 after it has passed.
    awake = seen(*alone([0.8], leak=0.05, awake=frozenset({0})))
    assert awake.case.leak == exactly(np.array([[0.05 * (0.3 * 0.8 + 0.7 * 0.05) / 0.8]]))
    assert awake.case.leak_recurrence == exactly(np.array([0.24 / 0.275]))
    other = seen(*alone([0.8, 0.8], leak=0.05, awake=frozenset({0})), calibration=0.5).weights
    both = seen(*alone([0.8, 0.8], leak=0.05, awake=frozenset({0, 1})), calibration=0.5).weights
    bare = [seen(*alone([0.8, 0.8], leak=0.05, awake=frozenset(awake))) for awake in ({0}, {0, 1})]
    mass = [0.5 * one.one_minus_max for one in bare]
    for weights, plain, moved, passed in zip((other, both), bare, mass, (0.5, 0.1), strict=True):
        assert weights.sizes()[0, 0] == exactly((1 - moved) * plain.weights.sizes()[0, 0] + moved * passed)


def test_low_voltage_lets_a_module_drop_out_with_one_chance_in_twenty() -> None:
    car, _ = alone([0.8, 0.8, 0.8, 0.8], missed={0: "TCM", 1: "TCM", 3: "ABS"})
    # Two codes that miss one module do so together: each for the square root of it.
    told = _missed_together(car, DROPS_OUT, {"TCM", "ABS"})
    assert told == exactly(np.array([0.05**0.5, 0.05**0.5, 0.0, 0.05]))


def test_a_line_is_broken_with_one_chance_in_twenty_where_the_module_missed_holds_no_code() -> None:
    missed = {0: "TCM", 1: "TCM"}
    plain, known = alone([0.8, 0.8], missed=missed)
    before = seen(plain, known).case.link
    clean = seen(replace(plain, clean=frozenset({"TCM"})), known).case.link
    # The two codes are one statement of what no part is; the part itself sets them as before.
    assert clean[0, -1] == exactly(np.array([0.05**0.5, 0.05**0.5]))
    assert clean[0, :-1] == exactly(before[0, :-1])
    assert seen(replace(plain, clean=frozenset({"ABS"})), known).case.link == exactly(before)


def test_a_part_nobody_knows_sets_its_own_code_and_what_misses_its_module_as_any_part_does() -> None:
    more: dict[str, object] = {"missed": {1: "ABS", 2: "TCM"}, "strange": {0: "ABS"}}
    unknown = seen(*alone([0.08, 0.8, 0.8, 0.8], **more)).case.link[0, -1]
    assert unknown[:2] == exactly(np.array([0.8, 0.2]))
    assert (unknown[2:] < 0.1).all()
    # Where a suspect sets the code nobody needs to be thought of.
    assert (seen(*alone([0.12, 0.8, 0.8, 0.8], **more)).case.link[0, -1] < 0.1).all()


def test_a_link_speaks_from_one_in_ten() -> None:
    faint, plain = alone([0.8, 0.08, 0.12], opened=[0])
    posterior = seen(faint, plain)
    assert posterior.case.log_lik_absent[0, 0] == exactly(math.log(1 - 0.12))
    assert seen(*alone([0.08])).parts == []
    assert seen(*alone([0.12])).parts == [0]


def test_a_part_clears_what_it_set_with_even_chances() -> None:
    # At fault, it set a code of link c beside a leak of .15 with c / (1 - (1 - c) * .85): .4255 for .1, .7 for .26.
    posterior = seen(*alone([0.1, 0.26, 0.9], leak=0.15))
    shares = [c / (1 - (1 - c) * 0.85) for c in (0.1, 0.26, 0.9)]
    assert 0.25 < shares[0] < 0.5 < shares[1] < 0.75 < shares[2]
    assert posterior.clears.tolist() == [[False, True, True]]


def test_the_diagnoses_of_the_golden_dealer(model) -> None:
    # Recorded: a part named by two active codes, one fitted in vain and its code come back, and stored codes alone.
    found = {car.vehicle: model.diagnose(car).posterior for car in model.cars()}
    assert found["active"].weights.faulty()[0] == exactly(np.array([0.0306486719775, 0.9932297407442, 0.0064684088888]))
    assert found["again"].weights.faulty()[0] == exactly(np.array([0.4001626415954, 0.1648234301848]))
    assert found["stored"].weights.faulty()[0] == exactly(np.array([0.1795239447399, 0.0422025131301]))
    assert [found[name].one_minus_max for name in sorted(found)] == exactly(
        [0.0049912996010, 0.4898833588527, 0.1967084705072]
    )
    assert found["stored"].standing == exactly(np.array([0.0000000000000, 0.0000000000000]))
    assert found["again"].standing == exactly(np.array([0.0000000000000]))


def test_a_part_fitted_in_vain_is_at_fault_where_its_new_one_is_bad() -> None:
    # Against no fault the odds fall to .06 of what they were, as the sets of one part keep their weight.
    car, known = alone([0.8])
    one = seen(car, known).weights.faulty()[0, 0]
    other = seen(replace(car, failed={0}), known).weights.faulty()[0, 0]
    assert other / (1 - other) == exactly(0.06 * one / (1 - one))


# How far it is to be trusted.


def test_the_unknown_cause_mass() -> None:
    # Two fifths without a visit, half of that after sixty.
    assert [usual_calibration(jobs).share for jobs in (0, 60, 140)] == [0.4, 0.2, 0.12]


def test_the_unknown_cause_mass_learned() -> None:
    def first(n: int) -> Promises:
        table = np.ones((n, len(SHARPNESSES)))
        return Promises(
            chance=0.9 * table, one_minus_max=0.5 * table, if_unknown=np.full(n, 0.1),
            log_ratio=np.where(np.arange(n) < 30, 40.0, -40.0), fault=np.arange(n),
        )  # fmt: skip

    # Recorded: the posterior mean, to the four places that the share is defined to; no chance tells of sharpness here.
    assert learned_calibration(first(40), 60) == Calibration(0.2254, 1.0)
    assert learned_calibration(first(29), 60) == Calibration(0.2)
    assert learned_calibration(first(30), 60).share != 0.2


def test_from_thirty_visits_on_the_list_says_what_to_expect() -> None:
    few, enough = (trust(pl.DataFrame({"n": [n], "top1": [0.5], "top3": [0.5]})) for n in (29, 30))
    assert "expect" not in few
    assert "expect" in enough


def test_the_plain_rules_try_three_parts(model) -> None:
    assert len(past._most(model, np.array([3, 2, 1]))) == 3
    wide = many_parts().model()
    assert len(past._most(wide, np.arange(14) + 1)) == 3
