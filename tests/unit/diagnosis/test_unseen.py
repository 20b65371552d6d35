"""What an erase or an unread module hides: hand-worked chances, and the row of a car that proves nothing yet."""

from dataclasses import replace
from itertools import product
from math import exp, log, prod

import polars as pl
import pytest

from analysis.diagnosis import DiagnosisModel, fit, list_cars
from analysis.diagnosis import appraise as before_buying
from analysis.diagnosis.appraise import appraise
from analysis.diagnosis.decision.appraisal import mean_cost
from analysis.diagnosis.decision.repair_model import RECHECK, chance_of
from analysis.diagnosis.inputs.frames import FIRST_CODES, RETURN_DISTANCES, STOCK_ERASES
from analysis.diagnosis.unproven import further
from analysis.diagnosis.unseen import PastCars, _beside, chance_of_several, unseen
from tests.support.diagnosis_dealer import COSTS, Dealer

SENSOR = "ABS:C0031"


def shop(outcome: str = "cleared") -> Dealer:
    """A dealer who has cleared one code with its part, and one car in stock that shows nothing."""
    dealer = Dealer()
    dealer.code(SENSOR, "wheel speed sensor")
    dealer.part("wheel speed sensor", 2000, 30.0)
    for _ in range(6):
        dealer.job({SENSOR: "cleared"}, parts=("wheel speed sensor",))
    dealer.job({SENSOR: outcome}, parts=("wheel speed sensor",), vehicle="clean", day=40)
    dealer.car("clean", [], read=("ABS",))
    return dealer


def model(
    dealer: Dealer,
    km: float | None,
    *,
    own: bool = False,
    tells: bool = True,
    past: tuple[tuple, ...] = (),
    read: tuple[str, ...] = ("P0", "P1", "P2", "P3"),
) -> DiagnosisModel:
    """The model with a distance since the erase; four past cars, one of them with the code when it came in.

    All four have the one module; at some it was read when they came in.
    """
    first = [(f"P{k}", "corvane", "line", None, True, SENSOR if k == 0 else "") for k in range(4)]
    frames = replace(
        dealer.frames(),
        first_codes=pl.DataFrame([*first, *past], schema=FIRST_CODES_ORDER, orient="row"),
        first_modules=pl.DataFrame([(car, "ABS") for car in read], schema=MODULES, orient="row"),
        car_modules=pl.DataFrame([(f"P{k}", "ABS") for k in range(4)], schema=MODULES, orient="row"),
        stock_erases=pl.DataFrame([("clean", km, own, tells, None)], schema=STOCK_ERASES, orient="row"),
        return_distances=pl.DataFrame([("", 20.0), (SENSOR, 10.0)], schema=RETURN_DISTANCES, orient="row"),
    )
    return fit(frames, dealer.findings().families, COSTS)


MODULES = dict.fromkeys(("vehicle", "module"), pl.String)
FIRST_CODES_ORDER = {name: FIRST_CODES[name] for name in ("vehicle", "make", "line", "erased_km", "tells", "code")}


def passed(made: DiagnosisModel) -> float:
    """The chance that an erase alone ends what the one past car showed."""
    return next(car.passed for _, car in PastCars(made)._cars if car.codes)


@pytest.mark.parametrize("km", [3.0, 10 * log(2), 40.0])
def test_what_hides_is_what_came_in_as_far_as_it_would_not_have_shown(km) -> None:
    # By hand: of four cars as likely as each other one has a code that is missing with exp(-km / 10) if it lasts.
    made = model(shop(), km)
    stays = passed(made)
    missing = (1 - stays) * exp(-km / 10)
    found = unseen(made, PastCars(made), "clean")
    assert found.chance == pytest.approx(missing / (3 + stays + missing))
    # Nine of ten show within 20 * log(10) = 46.05 km of a mean of 20.
    assert found.more_km == pytest.approx(max(20 * log(10) - km, 0))


def test_long_after_an_erase_and_without_one_nothing_hides() -> None:
    for km in (5000.0, None):
        made = model(shop(), km)
        assert unseen(made, PastCars(made), "clean").chance == pytest.approx(0, abs=1e-9)


def test_a_car_that_does_not_tell_was_erased_as_often_as_those_that_do() -> None:
    # Five past cars tell, one was erased 10 km before it came in: exp(-1) of the causes of the code are missing then.
    made = model(shop(), None, tells=False, past=(("E", "corvane", "line", 10.0, True, ""),))
    stays = passed(made)
    missing = (1 - stays) * exp(-1) / 5
    assert unseen(made, PastCars(made), "clean").chance == pytest.approx(missing / (3 + stays + missing))


def test_a_module_that_was_not_read_may_hide_what_it_had_on_others() -> None:
    dealer = shop()
    dealer.rows["open_modules"] = []
    made = model(dealer, None)
    stays = passed(made)
    found = unseen(made, PastCars(made), "clean")
    assert found.unread == ("ABS",)
    assert found.chance == pytest.approx((1 - stays) / 4)


def test_a_fault_counts_as_often_as_the_module_was_missed_on_cars_that_have_it() -> None:
    # By hand: two of four first looks read the module, one of them showed the code: one of two cars has it.
    dealer = shop()
    dealer.rows["open_modules"] = []
    made = model(dealer, None, read=("P0", "P1"))
    assert unseen(made, PastCars(made), "clean").chance == pytest.approx(2 * (1 - passed(made)) / 4)


def test_a_car_that_shows_a_fault_hides_another_as_often_as_cars_have_several() -> None:
    dealer = shop()
    dealer.rows["open_modules"] = []
    made = model(dealer, None)
    past = PastCars(made)
    sound, faulty = (unseen(made, past, "clean", chance).chance for chance in (0.0, 1.0))
    # By hand: what sits in the module that was not read is unseen for certain; and a car that shows something all the
    # same has two faults twice as often as cars have.
    assert sound == pytest.approx((1 - passed(made)) / 4)
    assert faulty == pytest.approx(2 * past.several / (1 + past.several)) != pytest.approx(sound)
    # Where it is not certain that what shows is a fault, it is one of these two by its chance.
    assert unseen(made, past, "clean", 0.25).chance == pytest.approx(0.75 * sound + 0.25 * faulty)


@pytest.mark.parametrize(("several", "silent"), [(0.15, 0.6), (0.3, 0.1), (0.15, 1e-9)])
def test_which_of_two_faults_shows_counted_car_by_car(several: float, silent: float) -> None:
    # Every car with one fault or two, each of which shows or does not; those that show none are another matter.
    shares = {
        shown: (several if len(shown) == 2 else 1 - several) * prod(1 - silent if yes else silent for yes in shown)
        for shown in ((True,), (False,), *product((True, False), repeat=2))
    }
    seen = {shown: share for shown, share in shares.items() if any(shown)}
    hides = sum(share for shown, share in seen.items() if not all(shown))
    assert _beside(several, silent) == pytest.approx(hides / sum(seen.values()))


def test_a_car_that_shows_a_fault_was_seldom_erased_a_moment_ago() -> None:
    made = model(shop(), None, tells=False, past=(("E", "corvane", "line", 10.0, True, ""),))
    past = PastCars(made)
    faulty = unseen(made, past, "clean", 1.0).chance
    # By hand: one car of five was erased, 10 km ago; then exp(-1) of the causes of the code are missing, and what
    # shows, which usually takes 20 km, does so with 1 - exp(-1/2).
    shows = (1 - exp(-1 / 2)) / 5
    hides = past.several * shows / (shows + 4 / 5) * exp(-1)
    assert faulty == pytest.approx(2 * hides / (1 + hides))


def test_what_was_kept_of_past_cars_says_the_same_and_none_is_diagnosed_again(monkeypatch) -> None:
    dealer = shop()
    dealer.rows["open_modules"] = []
    made = model(dealer, 5.0, past=(("E", "corvane", "line", None, True, SENSOR), ("F", "", "", None, False, "")))
    fresh, kept = PastCars(made), PastCars(made).table()
    assert kept["shown"].to_list() == [[], [], [SENSOR]]
    told = unseen(made, fresh, "clean")
    monkeypatch.setattr(DiagnosisModel, "weigh", None)
    again = unseen(made, PastCars(made, kept), "clean")
    assert (again.chance, again.unread) == (told.chance, told.unread)
    assert told.chance > 0
    assert again.costs.equals(told.costs)


def test_what_is_stored_beside_an_active_code_costs_as_often_as_it_came_back() -> None:
    dealer = shop()
    made = model(dealer, None)
    past = PastCars(made)
    [(nothing, gone), *found] = past.stored("corvane", (SENSOR,)).rows()
    # By hand: no job tells, so one in ten is back.
    assert (nothing, gone) == (0.0, pytest.approx(0.9))
    assert sum(share for _, share in found) == pytest.approx(0.1)
    assert past.stored("corvane", ()).rows() == [(0.0, 1.0)]


def test_an_appraisal_counts_the_drive_and_what_may_come_of_it() -> None:
    made = model(shop(), 3.0)
    found = appraise(made, "clean")
    drive = 20 / 60 * 6000
    assert mean_cost(found.costs) == pytest.approx(drive + mean_cost(found.unseen.costs))
    assert mean_cost(found.unseen.costs) > 0
    # Ten thousand kilometres later there is nothing left to find.
    assert appraise(model(shop(), 10_000.0), "clean").costs.rows() == [(0.0, 1.0)]


def row(made: DiagnosisModel) -> dict:
    rows = list_cars(made).rows.filter(pl.col("vehicle") == "clean")
    assert rows["action"].to_list() in ([], ["recheck", "specialist"]), "where a code is back, the car is handed over"
    return rows.row(0, named=True) if rows.height else {}


def test_a_car_that_the_dealer_has_just_erased_is_driven_on_before_there_is_nothing_to_do() -> None:
    dealer = shop("unproven")
    found = row(model(dealer, 12.0, own=True))
    assert (found["action"], found["clears"], found["rank"]) == ("recheck", SENSOR, 1)
    # 46.05 km show nine of ten; 34.05 are left, in steps of five.
    told = "Not proven yet: codes were erased (2026-04-11, replace wheel speed sensor) 12 km ago. "
    assert found["check_first"] == told + "Drive 35 km more and scan again."
    # By hand: six of six jobs cleared, so seven to one at odds of one; the last job tells lik_gone to lik_still.
    gone, still = dealer.frames().outcomes.filter(pl.col("vehicle") == "clean").select("lik_gone", "lik_still").row(0)
    assert found["chance"] == pytest.approx(7 * gone / (7 * gone + still))
    assert found["expected_cost"] == pytest.approx(2000 + (1 - found["chance"]) * 30000)


def test_once_it_is_proven_and_far_behind_the_erase_there_is_no_row() -> None:
    assert row(model(shop("cleared"), 12.0, own=True)) == {}
    assert row(model(shop("unproven"), 400.0, own=True)) == {}


def test_a_car_bought_with_erased_codes_is_driven_on_too() -> None:
    made = model(shop(), 3.0)
    found = row(made)
    assert (found["action"], found["clears"]) == ("recheck", "")
    assert found["chance"] == pytest.approx(1 - unseen(made, PastCars(made), "clean").chance)


def test_a_distance_to_drive_is_told_in_steps_of_five() -> None:
    assert [further(km, 46.0) for km in (0.0, 1.0, 41.0, 45.9)] == [50.0, 45.0, 5.0, 5.0]


def test_the_list_and_the_appraisal_say_one_cost_and_count_codes_that_nothing_explains() -> None:
    dealer = shop()
    dealer.code("HVAC:B1242@corvane", "flap motor 3")
    dealer.car("seen", [SENSOR], read=("ABS", "HVAC"))
    dealer.car("more", [SENSOR, "HVAC:B1242@corvane"], read=("ABS", "HVAC"))
    made = model(dealer, None)
    first = list_cars(made).rows.filter(pl.col("rank") == 1)
    listed = dict(first.select("vehicle", "expected_cost").iter_rows())
    for vehicle in ("seen", "more"):
        found = appraise(made, vehicle)
        assert found.mean == pytest.approx(listed[vehicle])
        assert mean_cost(found.costs) == pytest.approx(found.mean, rel=0.02)
    # Nothing known explains the flap motor's code: it is for the specialist, and so it costs.
    assert listed["more"] > listed["seen"] + 1000


def test_a_code_that_comes_back_without_a_fault_says_nothing_of_a_second_one(monkeypatch) -> None:
    # Nothing known sets the flap motor's code: it may come back of something that is no fault.
    dealer = shop()
    dealer.code("HVAC:B1242@corvane", "flap motor 3")
    dealer.car("seen", ["HVAC:B1242@corvane"], read=("ABS", "HVAC"))
    made, told = model(dealer, None), list[float]()
    monkeypatch.setattr(before_buying, "unseen", lambda *given: told.append(given[3]) or unseen(*given))
    found = appraise(made, "seen").diagnosis
    assert found is not None
    assert told == [pytest.approx(1 - found.posterior.weights.sizes()[0, 0])]
    assert told[0] < 1 - chance_of(found.repair, RECHECK)


def test_how_many_faults_a_car_has_is_told_by_work_that_cleared_what_earlier_work_had_left():
    shop = Dealer()
    for code in ("ECM:P0001", "ABS:C0031"):
        shop.code(code)
    # Worked by hand: of .74 + .13 + .03 cars with a fault .16 have several, worth twenty cars.
    prior = 20 * 0.16 / 0.9
    assert chance_of_several(shop.frames()) == pytest.approx(prior / 20)
    for number in range(8):
        two = number < 3
        ends = {"ECM:P0001": "cleared"} | ({"ABS:C0031": "returned"} if two else {})
        shop.job(ends, parts=("coil",), vehicle=f"car {number}", day=1)
        if two:
            shop.job({"ABS:C0031": "cleared"}, parts=("sensor",), vehicle=f"car {number}", day=5)
    # Tried twice, the same code all along: one fault.
    shop.job({"ECM:P0001": "returned"}, parts=("plug",), vehicle="one", day=1)
    shop.job({"ECM:P0001": "cleared"}, parts=("coil",), vehicle="one", day=5)
    # An erase alone shows nothing.
    shop.job({"ECM:P0001": "cleared", "ABS:C0031": "returned"}, vehicle="erased", day=1)
    assert chance_of_several(shop.frames()) == pytest.approx((prior + 3) / (20 + 9))
    # Nine pieces of work more that nobody looked at after: 13 of 22 are proven.
    for number in range(9):
        shop.job({"ECM:P0001": "unread"}, parts=("coil",), vehicle=f"more {number}", day=1)
    assert chance_of_several(shop.frames()) == pytest.approx((prior + 3) / (20 + 9 * 13 / 22))
