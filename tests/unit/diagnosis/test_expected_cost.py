"""What following a list costs: published decisions about tests, and costs counted by hand."""

from dataclasses import replace

import numpy as np
import pytest

from analysis.diagnosis.decision.expected_cost import charges, costs_to_the_end, handing_over, in_one_go
from analysis.diagnosis.decision.repair_model import NOWHERE, RepairModel, Step, found_faulty, plain_work


def car(bad: float = 0.0, leak: float = 0.0) -> RepairModel:
    """One of two parts is at fault, .6 or .4; either sets the only code."""
    return RepairModel(
        sets=np.eye(2, dtype=bool), chance=np.array([0.6, 0.4]), link=np.ones((2, 1)), leak=np.full(1, leak),
        clears=np.ones((2, 1), dtype=bool), scope=np.ones(1, dtype=bool), cost=np.array([100.0, 80.0]),
        specialist=300.0, leak_recurrence=0.3, bad=np.full(2, bad),
    )  # fmt: skip


def test_a_check_finds_a_part_at_fault_as_often_as_it_is() -> None:
    repair = car()
    assert float(repair.chance @ found_faulty(repair, 0, repair.untouched)) == pytest.approx(0.6)
    assert float(repair.chance @ found_faulty(repair, 1, repair.after([0]))) == pytest.approx(0.4)
    assert float(repair.chance @ found_faulty(repair, 0, repair.after([0]))) == pytest.approx(0.0)
    # Its new one is bad in one of ten: checked again, that is how often it is found.
    flawed = car(bad=0.1)
    assert float(flawed.chance @ found_faulty(flawed, 0, flawed.after([0]))) == pytest.approx(0.06)


def test_a_step_that_checks_first_spends_the_check_always_and_the_part_where_it_is_found() -> None:
    step = Step(part=0, chance=0.6, cost=100.0, check=20.0, opening=15.0)
    (often, at_once), (found, then) = charges(car(), [step], car().untouched)
    assert (float(car().chance @ often), at_once) == pytest.approx((1.0, 35.0))
    assert (float(car().chance @ found), then) == pytest.approx((0.6, 100.0))
    [(often, at_once)] = charges(car(), [replace(step, check=None)], car().untouched)
    assert (float(car().chance @ often), at_once) == pytest.approx((1.0, 115.0))
    # A check that misses one of ten and cries wolf in one of four: .6 * .9 + .4 * .25 are fitted.
    errs = replace(car(), work=replace(plain_work(2), misses=np.array([0.1, 0.0]), false_alarms=np.array([0.25, 0.0])))
    _, (said, _) = charges(errs, [step], errs.untouched)
    assert float(errs.chance @ said) == pytest.approx(0.64)


def test_costs_from_each_step_on_are_those_of_the_cars_that_reach_it() -> None:
    # By hand: 20 + .6 * 100 + .4 * (80 + .1 * 300) with bad second parts in one of ten; the first ones all work.
    repair = replace(car(), bad=np.array([0.0, 0.1]))
    steps = [Step(part=0, chance=0.6, cost=100.0, check=20.0), Step(part=1, chance=0.9, cost=80.0)]
    assert costs_to_the_end(repair, steps) == pytest.approx([20 + 60 + 0.4 * 110, 110, 300])
    assert handing_over(repair, repair.after([0, 1])) == pytest.approx(0.04 * 300)


def test_the_work_of_some_parts_keeps_their_openings() -> None:
    doors = np.array([1, NOWHERE, 0])
    work = replace(plain_work(3), opening=doors, opening_cost=np.array([5.0, 7.0]))
    assert work.openings.tolist() == [7.0, 0.0, 5.0]
    assert work.only([2, 1]).openings.tolist() == [5.0, 0.0]


def test_what_goes_along_is_in_one_go_with_the_step_before_it() -> None:
    a, b, c = (Step(part=part, chance=0.5, cost=1.0, along=part == 1) for part in range(3))
    assert list(in_one_go([a, b, c])) == [([a, b], []), ([c], [a, b])]
    assert list(in_one_go([])) == []
