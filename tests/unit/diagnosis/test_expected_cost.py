"""What following a list costs: published decisions about tests, and costs counted by hand."""

from dataclasses import replace

import numpy as np
import pytest

from analysis.diagnosis.decision.expected_cost import (
    charges,
    cheapest_beginning,
    check_that_pays,
    costs_to_the_end,
    handing_over,
    mean_charge,
    value_of_test,
)
from analysis.diagnosis.decision.repair_model import NOWHERE, RECHECK, RepairModel, Step, found_faulty, plain_work


def test_the_used_car_of_pearl_whose_test_is_worth_nothing() -> None:
    # Pearl, Probabilistic Reasoning in Intelligent Systems (1988), the used-car buyer: the car is good with .7, bought
    # for 1500 and worth 2000, a bad one needs 700 of repairs; a good one passes the test with .8, a bad one with .35.
    # It is bought whatever the test says, so the test is worth nothing.
    assert value_of_test(0.7, right=0.8, wrong=0.35, gain=500, loss=200) == pytest.approx(0.0, abs=1e-9)
    passed, failed = 0.7 * 0.8 * 500 - 0.3 * 0.35 * 200, 0.7 * 0.2 * 500 - 0.3 * 0.65 * 200
    assert min(passed, failed) > 0


def test_the_umbrella_of_a_perfect_and_of_a_blind_forecast() -> None:
    # By hand: true with .3, acting brings 100 or costs 50: .3 * 100 - .7 * 50 = -5, so without a test nothing is
    # done.  A perfect test brings .3 * 100; one that says yes as often either way brings nothing.
    assert value_of_test(0.3, 1.0, 0.0, 100, 50) == pytest.approx(30.0)
    assert value_of_test(0.3, 0.6, 0.6, 100, 50) == pytest.approx(0.0, abs=1e-12)
    # One that finds four of five and cries wolf in one of ten: .24 * 100 - .07 * 50.
    assert value_of_test(0.3, 0.8, 0.1, 100, 50) == pytest.approx(20.5)
    # Where acting pays anyhow, a perfect test saves what acting in vain costs.
    assert value_of_test(0.8, 1.0, 0.0, 100, 50) == pytest.approx(0.2 * 50)


@pytest.mark.parametrize("seed", range(5))
def test_a_test_never_harms_and_a_perfect_one_is_worth_most(seed: int) -> None:
    # Howard 1966: information is worth 0 or more, and no more than perfect information.
    rng = np.random.default_rng(seed)
    chance, right, wrong = rng.random(3)
    gain, loss = rng.uniform(-50, 200), rng.uniform(0, 200)
    assert 0 <= value_of_test(chance, right, wrong, gain, loss) <= value_of_test(chance, 1, 0, gain, loss) + 1e-9


def car(bad: float = 0.0, leak: float = 0.0) -> RepairModel:
    """One of two parts is at fault, .6 or .4; either sets the only code."""
    return RepairModel(
        sets=np.eye(2, dtype=bool), chance=np.array([0.6, 0.4]), link=np.ones((2, 1)), leak=np.full(1, leak),
        clears=np.ones((2, 1), dtype=bool), scope=np.ones(1, dtype=bool), cost=np.array([100.0, 80.0]),
        specialist=300.0, leak_recurrence=0.3, bad=np.full(2, bad),
    )  # fmt: skip


def checked(repair: RepairModel, *check: float) -> RepairModel:
    return replace(repair, work=replace(plain_work(2), check=np.array(check)))


def test_a_check_finds_a_part_at_fault_as_often_as_it_is() -> None:
    repair = car()
    assert float(repair.chance @ found_faulty(repair, 0, [])) == pytest.approx(0.6)
    assert float(repair.chance @ found_faulty(repair, 1, [0])) == pytest.approx(0.4)
    assert float(repair.chance @ found_faulty(repair, 0, [0])) == pytest.approx(0.0)
    # Its new one is bad in one of ten: checked again, that is how often it is found.
    assert float(car(bad=0.1).chance @ found_faulty(car(bad=0.1), 0, [0])) == pytest.approx(0.06)


def test_a_check_pays_while_it_costs_less_than_fitting_in_vain() -> None:
    # By hand: 40 of 100 cars would get the first part in vain, at 100 each: the check may cost 40.
    assert check_that_pays(checked(car(), 39.9, np.inf), 0, []) == 39.9
    assert check_that_pays(checked(car(), 40.0, np.inf), 0, []) is None
    assert check_that_pays(checked(car(), np.inf, np.inf), 0, []) is None
    # At 290 the part saves 10 where it is at fault, 6 on average: not even 7 for knowing is worth it.
    dear = replace(checked(car(), 5.9, np.inf), cost=np.array([290.0, 80.0]))
    assert check_that_pays(dear, 0, []) == 5.9
    assert check_that_pays(replace(dear, work=checked(car(), 7.0, np.inf).work), 0, []) is None
    # Once the first part is done the second is certain: there is nothing to check.
    assert check_that_pays(checked(car(), 39.9, 0.1), 1, [0]) is None


def test_a_step_that_checks_first_spends_the_check_always_and_the_part_where_it_is_found() -> None:
    step = Step(part=0, chance=0.6, cost=100.0, check=20.0, opening=15.0)
    (often, at_once), (found, then) = charges(car(), step, [])
    assert (float(car().chance @ often), at_once) == pytest.approx((1.0, 35.0))
    assert (float(car().chance @ found), then) == pytest.approx((0.6, 100.0))
    assert mean_charge(car(), step, []) == pytest.approx(35 + 0.6 * 100)
    assert mean_charge(car(), replace(step, check=None), []) == pytest.approx(115.0)


def test_costs_from_each_step_on_are_those_of_the_cars_that_reach_it() -> None:
    # By hand: 20 + .6 * 100 + .4 * (80 + .1 * 300) with bad second parts in one of ten; the first ones all work.
    repair = replace(car(), bad=np.array([0.0, 0.1]))
    steps = [Step(part=0, chance=0.6, cost=100.0, check=20.0), Step(part=1, chance=0.9, cost=80.0)]
    assert costs_to_the_end(repair, steps) == pytest.approx([20 + 60 + 0.4 * 110, 110, 300])
    assert handing_over(repair, [0, 1]) == pytest.approx(0.04 * 300)


def test_the_beginning_ends_where_going_on_costs_more_and_a_recheck_stays() -> None:
    repair = replace(car(), cost=np.array([100.0, 350.0]))
    steps = [Step(part=0, chance=0.6, cost=100.0), Step(part=1, chance=1.0, cost=350.0)]
    assert cheapest_beginning(repair, steps) == (pytest.approx(100 + 0.4 * 300), steps[:1])
    dear = [Step(part=RECHECK, chance=0.0, cost=900.0), *steps]
    assert cheapest_beginning(repair, dear)[1] == dear[:2]


def test_the_work_of_some_parts_keeps_their_openings() -> None:
    doors = np.array([1, NOWHERE, 0])
    work = replace(plain_work(3), opening=doors, opening_cost=np.array([5.0, 7.0]))
    assert work.openings.tolist() == [7.0, 0.0, 5.0]
    assert work.only([2, 1]).openings.tolist() == [5.0, 0.0]
