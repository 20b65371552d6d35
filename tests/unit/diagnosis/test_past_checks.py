"""What past checks said, whether they were right, and what the list makes of it: every case worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.diagnosis.decision.operations import work_of
from analysis.diagnosis.evaluation.holdout import known_before
from analysis.diagnosis.inputs.past_checks import CheckCounts, check_errors, past_checks
from tests.support.diagnosis_dealer import COSTS, START, Dealer
from tests.support.small_dealer import Rows, built
from tests.unit.diagnosis.test_operations import misfiring, part

CODE = "ECM:P0302"
COIL, PLUG = "ignition coil", "spark plug"
BAD = {COIL: 0.05}


def counted(shop: Dealer, bad: dict[str, float] = BAD) -> dict[str, CheckCounts]:
    return past_checks(shop.frames(), bad)


def jobs(shop: Dealer, vehicle: str, *told: tuple[int, str, str]) -> None:
    """Jobs of one car, each a day, the part, and what became of the code."""
    for day, name, outcome in told:
        shop.job({CODE: outcome}, parts=(name,) if name else (), vehicle=vehicle, day=day)


@pytest.mark.parametrize(
    ("after", "expected"),
    [
        pytest.param([(3, COIL, "cleared")], CheckCounts(found=1), id="called faulty, and was"),
        pytest.param([(3, COIL, "recurred")], CheckCounts(found=1), id="gone, and back later as a new fault"),
        # At even odds before: the check errs one time in twenty, and so does a new part.
        pytest.param([(3, COIL, "returned")], CheckCounts(found=0.5, alarms=0.5), id="called faulty, to no avail"),
        pytest.param([(3, PLUG, "cleared")], CheckCounts(passed=1), id="called good, and was"),
        pytest.param([(3, PLUG, "returned"), (5, COIL, "cleared")], CheckCounts(missed=1), id="called good, was not"),
        pytest.param(
            [(3, PLUG, "returned"), (5, "injector", "cleared")], CheckCounts(passed=1), id="the third one was it"
        ),
        pytest.param([(3, "", "returned"), (4, COIL, "cleared")], CheckCounts(found=1), id="an erase says nothing"),
        pytest.param([(3, COIL, "unread")], None, id="nobody looked"),
        pytest.param([(3, PLUG, "unproven"), (5, COIL, "cleared")], None, id="the other part may have been it"),
        pytest.param([(90, COIL, "cleared")], None, id="too long after"),
        pytest.param([], None, id="nothing was done"),
    ],
)
def test_a_check_is_judged_by_what_was_fitted_next(after: list[tuple[int, str, str]], expected: CheckCounts | None):
    shop = Dealer()
    shop.code(CODE)
    jobs(shop, "car", (0, "battery", "returned"), *after)
    shop.check(COIL, "car", "looked", day=2)
    assert counted(shop) == ({COIL: expected} if expected else {})


def test_two_parts_at_once_do_not_tell_and_a_check_in_the_job_itself_does():
    shop = Dealer()
    shop.code(CODE)
    both = shop.job({CODE: "cleared"}, parts=(COIL, PLUG), vehicle="both", day=3)
    alone = shop.job({CODE: "cleared"}, parts=(COIL,), vehicle="alone", day=3)
    shop.check(COIL, "both", f"J{both}", day=3)
    shop.check(COIL, "alone", f"J{alone}", day=3)
    assert counted(shop) == {COIL: CheckCounts(found=1)}


def test_a_place_that_is_named_has_to_be_the_same():
    shop = Dealer()
    shop.code(CODE)
    for vehicle, place in (("same", "cylinder 2"), ("other", "cylinder 3"), ("untold", "")):
        shop.job({CODE: "cleared"}, parts=((COIL, "cylinder 2", None),), vehicle=vehicle, day=3)
        shop.check(COIL, vehicle, "looked", day=2, position=place)
    assert counted(shop) == {COIL: CheckCounts(found=2, passed=1)}


def test_shares_are_the_means_of_beta_posteriors_with_the_price_book_as_prior():
    coil, plug, lamp = part(COIL), part(PLUG), part("lamp")
    coil = replace(coil, check_misses=0.2, check_false_alarms=0.1)
    counts = {COIL: CheckCounts(found=6, missed=4, alarms=1, passed=9), PLUG: CheckCounts(found=10)}
    misses, alarms = check_errors([coil, plug, lamp], counts)
    # Worth 20 checks: (20 * .2 + 4) / 30 and (20 * .1 + 1) / 30; (20 * .05) / 30; nothing known of the last.
    assert misses == pytest.approx([8 / 30, 1 / 30, 0.05])
    assert alarms == pytest.approx([3 / 30, 0.05, 0.05])
    work = work_of([coil, plug, lamp], COSTS, counts)
    assert (work.misses.tolist(), work.false_alarms.tolist()) == (misses, alarms)


def test_a_check_that_often_cried_wolf_goes_before_no_part_any_more():
    def dealer(checked: bool) -> Dealer:
        shop = misfiring(check=30.0)
        shop.code("ECM:P0500", "vehicle speed")
        # Another fault altogether: each time coil or plug was called faulty, and it was not.
        for number in range(60):
            for name in (COIL, PLUG):
                vehicle = f"{name} {number}"
                shop.job({"ECM:P0500": "returned"}, parts=(name,), vehicle=vehicle, day=30)
                if checked:
                    shop.check(name, vehicle, "looked", day=29)
        return shop

    before, after = dealer(checked=False), dealer(checked=True)
    assert past_checks(after.frames(), {}) == {COIL: CheckCounts(alarms=60), PLUG: CheckCounts(alarms=60)}
    first = [shop.list().rows.filter(vehicle="car", rank=1)["check_first"][0] for shop in (before, after)]
    assert [told.startswith("Checking first is cheaper") for told in first] == [True, False]


def test_the_past_is_checked_with_the_checks_of_its_time():
    shop = Dealer()
    shop.code(CODE)
    jobs(shop, "car", (0, "battery", "returned"), (3, COIL, "cleared"))
    shop.check(COIL, "car", "looked", day=2)
    frames = shop.frames()
    assert known_before(frames, START, 99).job_checks.height == 0
    assert known_before(frames.__class__(**vars(frames)), START.replace(month=12), 99).job_checks.height == 1


def test_a_row_of_the_repairs_that_inspects_a_part_is_a_check(tmp_path):
    stock: Rows = [{"vehicle": "A1", "make": "Corvane", "model": "Alder"}]
    row = {"vehicle": "A1", "job": "J1", "done_at": "2026-03-02T10:00"}
    repairs: Rows = [
        row | {"action": "inspect", "part": "ignition coil", "position": "cylinder 2"},
        row | {"action": "inspect", "part": "ignition coil", "position": "cylinder 2"},
        row | {"action": "inspect"},
        row | {"action": "replace", "part": "spark plug"},
    ]
    found = built(tmp_path, ("job_checks",), stock=stock, repairs=repairs)["job_checks"]
    assert found.select("vehicle", "job", "part", "position").rows() == [("A1", "J1", "ignition coil", "cylinder 2")]
