"""Numbers of what to do, in which order, and what it costs.

Pinned to six digits: every constant of the model, changed by half, changes one of them.
Where the arithmetic of an expected value can be written down it stands beside it, with the constants as plain numbers
and not by name.  Values that only the program can work out are marked "recorded".
"""

from dataclasses import replace

import numpy as np
import pytest

from analysis.diagnosis import DiagnosisModel, list_cars
from analysis.diagnosis.decision import order_of_work
from analysis.diagnosis.decision.appraisal import costs_to_clear
from analysis.diagnosis.decision.operations import drive_cents
from analysis.diagnosis.decision.repair_model import LEFT, RECHECK, RepairModel, Step, chance_of, plain_work
from analysis.diagnosis.evaluation import backtest as past
from tests.support.diagnosis_dealer import COSTS, Dealer, golden
from tests.support.golden_numbers import exactly


@pytest.fixture(scope="module")
def model() -> DiagnosisModel:
    return golden().model()


# What to do.


def test_work_in_cents() -> None:
    assert drive_cents(COSTS) == 20 / 60 * 6000
    shop = Dealer()
    shop.code("ABS:C0031", "wheel speed sensor")
    shop.part("wheel speed sensor", None, None)
    assert shop.model().assumed == 0.25 * 30000


def test_the_golden_list(model) -> None:
    # Recorded.
    rows = list_cars(model).rows
    assert rows.select("vehicle", "action", "part").rows() == [
        ("active", "replace", "wheel speed sensor"),
        ("active", "replace", "wheel speed sensor"),
        ("active", "replace", "brake pressure sensor"),
        ("active", "specialist", ""),
        ("again", "replace", "battery"),
        ("again", "specialist", ""),
        ("stored", "recheck", ""),
        ("stored", "replace", "brake pressure sensor"),
        ("stored", "specialist", ""),
    ]
    assert rows["chance"].to_list() == exactly(
        [0.9056532766, 0.6253276637, 0.5062128213, 1.0, 0.3474431478, 1.0, 0.7317872628, 0.7274610605, 1.0]
    )
    assert rows.filter(action="replace").vstack(rows.filter(action="recheck"))["chance_low"].to_list() == pytest.approx(
        [0.680220, 0.311088, 0.014924, 0.032427, 0.214453, 0.219065], abs=1e-6
    )
    assert rows["expected_cost"].to_list() == exactly(
        [
            *(9679.1689641246, 17797.8514112240, 30000.0, 30000.0, 29076.7055670924, 30000.0),
            *(8727.8429063760, 24199.3996473604, 30000.0),
        ]
    )


def two_parts(first: float, second: float, leak: float = 0.0) -> RepairModel:
    """A car with one fault at most, at the first part, the second, or neither."""
    sets = np.array([[False, False], [True, False], [False, True]])
    return RepairModel(
        sets=sets, chance=np.array([1 - first - second, first, second]), link=np.ones((2, 1)),
        leak=np.array([leak]), clears=np.ones((2, 1), dtype=bool), scope=np.ones(1, dtype=bool),
        cost=np.array([3000.0, 4000.0]), specialist=30000.0, leak_recurrence=1.0, bad=np.zeros(2), recheck=100.0,
    )  # fmt: skip


def test_a_part_with_less_than_one_chance_in_a_hundred_gets_no_line() -> None:
    may = np.ones(2, dtype=bool)
    lists = [order_of_work.plan(two_parts(0.9, second, leak=0.5), may, 1.0) for second in (0.008, 0.012)]
    # A cent a try: only the chance can rule the second part out.
    cheap = [replace(two_parts(0.9, second, leak=0.5), cost=np.ones(2)) for second in (0.008, 0.012)]
    assert [[step.part for step in steps] for steps in lists] == [[0], [0]]
    assert [[step.part for step in order_of_work.plan(car, may, 1.0)] for car in cheap] == [[0], [0, 1]]


def test_how_many_states_of_the_work_are_compared(monkeypatch) -> None:
    seen, real = [], order_of_work.lattice
    monkeypatch.setattr(order_of_work, "lattice", lambda sizes, moves: seen.append(sizes) or real(sizes, moves))
    car = two_parts(0.5, 0.3)
    many = replace(
        car, sets=np.eye(14, dtype=bool), chance=np.full(14, 1 / 14), link=np.ones((14, 1)), bad=np.zeros(14),
        clears=np.ones((14, 1), dtype=bool), cost=np.full(14, 3000.0),
    )  # fmt: skip
    order_of_work.plan(many, np.ones(14, dtype=bool), 1.0)
    # 4,096 of them, which is twelve of the fourteen parts.
    assert seen == [(2,) * 12] * 2
    # Seven parts that may be checked are 2,187 states, eight would be 6,561: two of them in one way alone.  Where a
    # check can miss a fault, what was checked may come once more: six are 4,096, seven would be 16,384.
    sure = replace(many, work=replace(plain_work(14), check=np.full(14, 10.0)))
    errs = replace(sure, work=replace(sure.work, misses=np.full(14, 0.1)))
    for checked, parts, sizes in (
        (sure, 7, (3,) * 7), (sure, 8, (3,) * 6 + (2, 2)), (errs, 6, (4,) * 6), (errs, 7, (4,) * 5 + (2, 2)),
    ):  # fmt: skip
        few = replace(checked, cost=np.where(np.arange(14) < parts, 3000.0 + np.arange(14), 40000.0))
        order_of_work.plan(few, np.ones(14, dtype=bool), 1.0)
        assert sorted(seen[-1], reverse=True) == list(sizes)


def test_a_check_errs_in_one_of_twenty_and_a_first_line_has_one_chance_in_four() -> None:
    shop = Dealer()
    shop.code("ABS:C0031", "wheel speed sensor")
    shop.part("wheel speed sensor", check=5.0)
    shop.part("hub", check=5.0, misses=0.2, alarms=0.0)
    work = shop.model().work
    assert work.misses.tolist() == [0.2, 0.05]
    assert work.false_alarms.tolist() == [0.0, 0.05]
    assert COSTS.least_chance == 0.25


def rechecked(settled: float) -> bool:
    """Whether a car that erasing alone settles with this chance is rechecked first."""
    shop = Dealer()
    shop.code("ABS:C0031", "wheel speed sensor")
    shop.part("wheel speed sensor", 15000, 30.0)
    shop.car("car", ["ABS:C0031"], status="")
    made = shop.model(calibration=0.0)
    # With a leak that never comes back and a part that always sets its code, settled is the chance of no fault.
    known = replace(made.parameters, leak_recurrence=np.array([1e-9]), leak=np.array([1e-6]))
    numbers = np.array([settled / 1e-6, (1 - settled) / 0.8, 1e-9, 1e-9])
    made = replace(made, parameters=replace(known, numbers=numbers / numbers.sum()))
    found = made.diagnose(made.cars()[0])
    assert chance_of(found.repair, RECHECK) == pytest.approx(settled, abs=0.01)
    return bool(found.steps) and found.steps[0].part == RECHECK


def test_a_recheck_comes_first_from_one_chance_in_ten() -> None:
    assert [rechecked(settled) for settled in (0.06, 0.14)] == [False, True]


def test_parts_within_five_in_a_hundred_cannot_be_told_apart() -> None:
    shop = Dealer()
    shop.code("ECM:P0100", "no signal", "gaugea / gaugeb")
    shop.part("gaugea")
    shop.part("gaugeb")
    shop.car("car", ["ECM:P0100"])
    made = shop.model(calibration=0.0)
    for apart, tied in ((0.04, True), (0.06, False)):
        yes = made.parameters.fault_yes.copy()
        yes[:, 1] *= 1 - apart
        known = replace(made.parameters, fault_yes=yes, fault_no=1000.0 - yes)
        known = replace(known, numbers=np.array([1e-9, 1.0, 1e-9, 1e-9]))
        found = replace(made, parameters=known).diagnose(made.cars()[0])
        chance = found.posterior.weights.faulty()[0]
        assert chance[1] / chance[0] == pytest.approx(1 - apart, abs=0.004)
        assert bool(found.tied.get(0)) is tied


def test_the_draws_of_an_appraisal() -> None:
    # Recorded: how many of the twenty thousand drawn cars cost what.
    costs = costs_to_clear(two_parts(0.5, 0.3, leak=0.2), [Step(part=0, chance=0.5, cost=3000.0)])
    drawn = (costs["share"] * 20_000).to_list()
    assert drawn == pytest.approx([round(count) for count in drawn], abs=1e-6)
    assert [round(count) for count in drawn] == [8024, 11976]


def test_every_way_in_which_three_parts_can_still_be_at_fault() -> None:
    assert LEFT.tolist() == [
        [0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0], [0, 0, 1], [1, 0, 1], [0, 1, 1], [1, 1, 1],
    ]  # fmt: skip


def test_how_much_of_the_past_is_looked_at(monkeypatch) -> None:
    shop = Dealer()
    shop.code("ABS:C0031", "wheel speed sensor")
    shop.part("wheel speed sensor", 5000, 30.0)
    for _ in range(650):
        shop.job({"ABS:C0031": "cleared"}, ("wheel speed sensor",))
    most, real = set(), past.known_before

    def recorded(frames, start, latest):
        most.add(latest)
        return real(frames, start, 20)

    monkeypatch.setattr(past, "known_before", recorded)
    found = past.backtest(shop.frames(), COSTS)
    assert found.predictions.height == 600
    assert found.summary["cuts"].item() == 6
    assert most == {1500}
