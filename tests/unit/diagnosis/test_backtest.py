"""Past visits put before the list: from earlier visits only, counted by hand, with published intervals."""

import math
from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest
from polars.testing import assert_frame_equal
from scipy.stats import binomtest

from analysis.diagnosis.decision.expected_cost import costs_to_the_end
from analysis.diagnosis.decision.repair_model import RepairModel, Step, plain_work
from analysis.diagnosis.engine import CarDiagnosis
from analysis.diagnosis.evaluation.backtest import _spent, backtest
from analysis.diagnosis.evaluation.holdout import (
    attempts,
    known_before,
    promise_kept,
    promise_log_ratio,
    visits_to_check,
)
from analysis.diagnosis.evaluation.metrics import reliability, trust
from analysis.diagnosis.inference.calibration import UNKNOWN_CAUSE_SHARE
from analysis.statistics.mcnemar import words
from tests.support.diagnosis_dealer import COSTS, START, Dealer

BATTERY, SENSOR = "ECM:P0562", "ABS:C0031"


def shop(visits: int = 24) -> Dealer:
    """A voltage code that a wiring repair alone clears, and a sensor code that the sensor clears, in turns."""
    dealer = Dealer()
    dealer.code(BATTERY, "System voltage low")
    dealer.code(SENSOR, "Wheel speed sensor")
    dealer.part("earth strap", 1000, 30.0)
    dealer.part("wheel speed sensor", 5000, 30.0)
    for k in range(visits):
        code, part = ((BATTERY, "earth strap"), (SENSOR, "wheel speed sensor"))[k % 2]
        dealer.job({code: "cleared"}, (part,), read=("ECM", "ABS"))
    return dealer


def predictions(**table: list) -> pl.DataFrame:
    return pl.DataFrame(table, schema={"chance": pl.Float64, "held": pl.Boolean, "place": pl.Int64})


def test_the_interval_of_a_tenth_is_that_of_90_of_100_as_another_library_reckons_it() -> None:
    told = predictions(chance=[0.25] * 263, held=[True] * 81 + [False] * 182, place=[1] * 263)
    row = reliability(told).row(0, named=True)
    assert (row["tenth"], row["n"]) == (3, 263)
    assert row["predicted"] == pytest.approx(0.25)
    assert row["observed"] == pytest.approx(81 / 263)
    reference = binomtest(81, 263).proportion_ci(0.9, method="wilson")
    assert (row["low"], row["high"]) == pytest.approx(tuple(reference))


def test_only_a_promise_with_a_known_end_is_put_to_the_test() -> None:
    told = predictions(
        chance=[1.0, 0.0, None, 0.55, 0.58], held=[True, False, True, None, False], place=[1, 1, 2, 1, 2]
    )
    assert reliability(told).select("tenth", "observed", "n").rows() == [(1, 0.0, 1), (6, 0.0, 1), (10, 1.0, 1)]


def test_what_repairs_teach_is_named_first_from_the_next_cut_on() -> None:
    found = backtest(shop().frames(), COSTS, cuts=4)
    early, late = found.predictions.head(6), found.predictions.tail(18)
    # Nothing names the strap: before the first cut it is no suspect, and the car goes to the specialist.
    assert early.filter(pl.col("job_id") % 2 == 1)["place"].to_list() == [None] * 3
    assert early.filter(pl.col("job_id") % 2 == 0)["place"].to_list() == [1] * 3
    assert late["place"].to_list() == [1] * 18
    summary = found.summary.row(0, named=True)
    assert (summary["n"], summary["cuts"]) == (24, 4)
    assert summary["top1"] == pytest.approx(21 / 24)


def test_costs_are_counted_until_the_right_part_or_the_specialist() -> None:
    # Labour is 60.00 an hour: the strap 10 + 30 = 40.00, the sensor 50 + 30 = 80.00, the specialist 300.00.
    found = backtest(shop().frames(), COSTS, cuts=4)
    cost = found.predictions.sort("job_id").select("cost", "cost_named", "cost_fitted")
    # No code names the strap and nobody fitted it before: the list rechecks first, 20 minutes of driving.
    assert cost.row(0) == (32000.0, 30000.0, 30000.0)
    assert cost.row(1) == (8000.0, 8000.0, 30000.0)  # the text names the sensor, nobody fitted it before
    assert cost.row(22) == (4000.0, 30000.0, 4000.0)  # learned, and fitted most
    hits = found.predictions.sort("job_id").select("named_first", "fitted_first")
    assert [hits.row(k) for k in (0, 1, 22)] == [(False, False), (True, False), (False, True)]
    names = ("cost_named", "cost_fitted")
    for name in names:
        ratio = cost["cost"].sum() / cost[name].sum()
        assert found.summary[name.replace("cost_", "cost_vs_")].item() == pytest.approx(ratio)


@pytest.mark.parametrize("check", [None, 20.0])
def test_what_the_past_is_charged_is_on_average_what_the_plan_says(check: float | None) -> None:
    # One part is at fault and every new one works: what each of them would have cost, by how likely each is.
    work = replace(
        plain_work(3), check=np.full(3, check or np.inf), misses=np.full(3, 0.1), false_alarms=np.full(3, 0.2)
    )
    chance = np.array([0.5, 0.3, 0.2])
    repair = RepairModel(
        sets=np.eye(3, dtype=bool), chance=chance, link=np.ones((3, 1)), leak=np.zeros(1),
        clears=np.ones((3, 1), dtype=bool), scope=np.ones(1, dtype=bool), cost=np.array([60.0, 40.0, 900.0]),
        specialist=300.0, leak_recurrence=0.0, bad=np.zeros(3), work=work,
    )  # fmt: skip
    steps = [Step(part=part, chance=0.0, cost=float(repair.cost[part]), check=check) for part in (0, 1)]
    posterior = SimpleNamespace(parts=[7, 8, 9])
    diagnosis = CarDiagnosis(posterior=posterior, repair=repair, steps=steps, tied={})  # type: ignore[arg-type]
    spent = [_spent(diagnosis, truth) for truth in posterior.parts]
    assert chance @ spent == pytest.approx(costs_to_the_end(repair, steps)[0])


def test_brier_is_the_mean_square_of_promise_less_outcome() -> None:
    # G. W. Brier, "Verification of forecasts expressed in terms of probability" (1950), for one event of two.
    dealer = shop(12)
    for k in range(6):
        dealer.job({SENSOR: "returned" if k % 2 else "cleared"}, ("wheel speed sensor",))
    found = backtest(dealer.frames(), COSTS, cuts=3)
    told = [(chance, held) for chance, held, place in found.predictions.select("chance", "held", "place").iter_rows()
            if place == 1 and held is not None]  # fmt: skip
    assert {held for _, held in told} == {True, False}
    assert found.summary["judged"].item() == len(told)
    assert found.summary["brier"].item() == pytest.approx(sum((p - h) ** 2 for p, h in told) / len(told))
    assert found.summary["n"].item() == 15, "three visits came back"


def test_later_visits_say_nothing_about_earlier_ones() -> None:
    frames = shop().frames()
    cut = 12
    turned = pl.when(pl.col("job_id") > cut).then(pl.lit("returned")).otherwise("outcome").alias("outcome")
    other = replace(
        frames,
        outcomes=frames.outcomes.with_columns(turned),
        job_parts=frames.job_parts.with_columns(
            pl.when(pl.col("job_id") > cut).then(pl.lit("wheel speed sensor")).otherwise("part").alias("part")
        ),
    )
    now, then = backtest(frames, COSTS, cuts=4).predictions, backtest(other, COSTS, cuts=4).predictions
    assert_frame_equal(now.filter(pl.col("job_id") <= cut), then.filter(pl.col("job_id") <= cut))
    assert not now.equals(then), "the later ones do differ"


def test_the_order_of_rows_changes_nothing() -> None:
    frames = shop().frames()
    turned = {
        name: getattr(frames, name).reverse() for name in ("jobs", "job_parts", "job_modules", "outcomes", "parts")
    }
    one, other = backtest(frames, COSTS), backtest(replace(frames, **turned), COSTS)
    assert_frame_equal(one.predictions, other.predictions)
    assert_frame_equal(one.summary, other.summary)


def test_a_line_of_parts_that_cannot_be_told_apart_is_one_place() -> None:
    dealer = Dealer()
    dealer.code("ABS:C0031", "Wheel speed sensor")
    dealer.part("wheel speed sensor", 5000, 30.0, "front sensor")
    for place in ("left", "right"):
        dealer.job({"ABS:C0031": "cleared"}, (("wheel speed sensor", place, None),))
    for place in ("left", "right", "left", "right"):
        dealer.job({"ABS:C0031": "cleared"}, (("wheel speed sensor", place, None),))
    told = backtest(dealer.frames(), COSTS, cuts=3).predictions.tail(4)
    assert told["place"].to_list() == [1, 1, 1, 1]
    # 80.00 a side: one first, the other after it.
    assert sorted(told["cost"].to_list()) == [8000.0, 8000.0, 16000.0, 16000.0]


def test_only_single_parts_with_a_known_outcome_are_checked() -> None:
    dealer = shop(1)
    dealer.job({SENSOR: "cleared"}, ("wheel speed sensor", "earth strap"))
    dealer.job({SENSOR: "unread"}, ("wheel speed sensor",))
    dealer.job({SENSOR: "cleared"}, ())
    dealer.job({SENSOR: "cleared"}, ("wheel speed sensor",), background="declared")
    dealer.job({SENSOR: "returned", BATTERY: "cleared"}, ("wheel speed sensor",))
    dealer.job({SENSOR: "unproven"}, ("wheel speed sensor",))
    visits = visits_to_check(dealer.frames())
    assert [(visit.job_id, visit.cured) for visit in visits] == [(1, True), (6, False), (7, False)]
    assert visits[1].ends == {SENSOR: "returned", BATTERY: "cleared"}
    assert visits[1].part == ("wheel speed sensor", "")


def test_what_a_car_got_in_vain_is_known_at_its_next_visit() -> None:
    dealer = shop(0)
    dealer.job({BATTERY: "returned", SENSOR: "cleared"}, ("wheel speed sensor",), vehicle="V1")
    dealer.job({SENSOR: "cleared"}, ("wheel speed sensor",), vehicle="V1")
    dealer.job({BATTERY: "cleared"}, ("earth strap",), vehicle="V1")
    dealer.job({BATTERY: "cleared"}, ("earth strap",), vehicle="V2")
    failed = [visit.failed for visit in visits_to_check(dealer.frames())]
    assert failed == [frozenset(), frozenset(), {("wheel speed sensor", "")}, frozenset()]


def told(*jobs: tuple, part: str = "wheel speed sensor", codes: tuple = (SENSOR,)) -> tuple[bool | None, float]:
    """Whether a promise made before the first of some jobs on a car was kept, and how well that is known."""
    dealer = shop(0)
    for ends, fitted, *day in jobs:
        dealer.job(ends, fitted, vehicle="V1", **({"day": day[0]} if day else {}))
    visits = visits_to_check(dealer.frames())
    mine = (part, ""), set(codes), attempts(visits)[visits[0].job_id]
    return promise_kept(*mine), promise_log_ratio(*mine)


def test_a_promise_is_judged_by_the_end_of_its_fault() -> None:
    strap, sensor = ("earth strap",), ("wheel speed sensor",)
    most = math.log(1000)
    assert told(({SENSOR: "cleared"}, sensor)) == (True, pytest.approx(most, rel=0.1))
    assert told(({SENSOR: "returned"}, sensor)) == (False, pytest.approx(-most, rel=0.1))
    # The workshop fitted something else, and that was it, or it came again and got the part.
    assert told(({SENSOR: "cleared"}, strap)) == (False, pytest.approx(-most, rel=0.1))
    assert told(({SENSOR: "returned"}, strap), ({SENSOR: "cleared"}, sensor)) == (True, pytest.approx(most, rel=0.1))
    assert told(({SENSOR: "returned"}, strap), ({SENSOR: "returned"}, sensor))[0] is False
    assert told(({SENSOR: "returned"}, strap)) == (None, 0.0)
    kept, ratio = told(({SENSOR: "unproven"}, sensor))
    assert kept is None
    assert 0 < ratio < math.log(9)


def test_a_promise_of_two_codes_is_kept_where_what_was_left_of_them_went() -> None:
    strap, sensor, both = ("earth strap",), ("wheel speed sensor",), (SENSOR, BATTERY)
    assert told(({SENSOR: "returned", BATTERY: "cleared"}, sensor), codes=both)[0] is False
    assert told(({SENSOR: "returned", BATTERY: "cleared"}, strap), ({SENSOR: "cleared"}, sensor), codes=both)[0] is True
    assert told(({SENSOR: "cleared", BATTERY: "returned"}, strap), codes=both)[0] is None


def test_what_comes_later_of_another_fault_tells_nothing() -> None:
    strap, sensor = ("earth strap",), ("wheel speed sensor",)
    assert told(({SENSOR: "returned"}, strap), ({SENSOR: "cleared"}, sensor, 400))[0] is None
    assert told(({SENSOR: "returned"}, strap), ({BATTERY: "cleared"}, sensor))[0] is None
    # Two parts at once in between may have been it.
    between = ({SENSOR: "cleared"}, ("earth strap", "wheel speed sensor"))
    assert told(({SENSOR: "returned"}, strap), between, ({SENSOR: "cleared"}, sensor))[0] is None


def test_a_promise_counts_whether_or_not_the_workshop_agreed_with_it() -> None:
    dealer = shop(24)
    for _ in range(3):
        dealer.job({SENSOR: "cleared"}, ("earth strap",))
    last = backtest(dealer.frames(), COSTS, cuts=4).predictions.tail(3)
    assert last["place"].to_list() == [None] * 3
    assert last["held"].to_list() == [False] * 3
    assert (last["chance"] > 0.5).all()


def test_before_a_moment_only_earlier_jobs_and_their_names_are_known() -> None:
    frames = shop(4).frames()
    named = frames.parts.with_columns(pl.lit("repairs").alias("price_source"), pl.lit("front").alias("positions"))
    earlier = known_before(replace(frames, parts=named), START + timedelta(days=2), 10)
    assert earlier.jobs["job_id"].to_list() == [1]
    for name in ("job_parts", "job_modules", "outcomes"):
        assert set(getattr(earlier, name)["job_id"]) == {1}
    assert earlier.parts.select("part", "positions").rows() == [("earth strap", None)]
    assert known_before(frames, START + timedelta(days=9), 2).jobs["job_id"].to_list() == [3, 4]


def test_how_far_to_trust_the_list_is_one_plain_sentence() -> None:
    def row(n: int, one: float, three: float) -> pl.DataFrame:
        return pl.DataFrame({"n": [n], "top1": [one], "top3": [three]})

    # 81 of 263 as above: 26 % to 37 %.
    assert trust(row(263, 81 / 263, 200 / 263)) == (
        "Of 263 past visits that one part cleared, the list would have named it first in 81 and among the first three "
        "in 200, each time from earlier visits only: expect its first step to be right 26% to 37% of the time."
    )
    assert trust(row(29, 1.0, 1.0)).endswith("; under 30 visits that is too few to tell how far to trust it.")


def test_the_list_is_held_against_the_plain_rules_on_the_same_visits() -> None:
    found = backtest(shop().frames(), COSTS, cuts=4)
    mine = (found.predictions["place"] == 1).fill_null(False)
    counts = [
        ((mine & ~found.predictions[rule]).sum(), (~mine & found.predictions[rule]).sum())
        for rule in ("named_first", "fitted_first")
    ]
    assert found.notes[1:3] == [
        "First choice on past visits: " + words("the list", "what the codes name", *counts[0]),
        "First choice on past visits: " + words("the list", "what was fitted most", *counts[1]),
    ]
    assert counts[0][0] > counts[0][1], "the strap, which no code names, was learned"


def test_without_visits_there_is_nothing_to_check() -> None:
    found = backtest(shop(0).frames(), COSTS)
    assert found.notes == [
        "No past visit can check the list yet: that takes jobs with one part whose outcome is proven.",
        "No list is complete: where the first answer for a car has one chance in two, its chances are lowered by "
        "20.0% to leave room for other causes and for faults that have passed, more than later, when enough chances "
        "given on past visits can be held beside what became of them; surer answers are lowered less.",
    ]
    assert (found.reliability.height, found.predictions.height) == (0, 0)
    assert found.summary.row(0) == (0, None, None, 0, None, None, None, 0, UNKNOWN_CAUSE_SHARE)
