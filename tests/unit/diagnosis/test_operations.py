"""Checks before buying, covers that come off once, and work that nobody has looked at since, on the list."""

import math
from dataclasses import replace
from datetime import timedelta

import numpy as np
import polars as pl
import pytest

from analysis.diagnosis.decision.appraisal import costs_to_clear, mean_cost
from analysis.diagnosis.decision.expected_cost import costs_to_the_end, handing_over
from analysis.diagnosis.decision.operations import opening_of, work_of
from analysis.diagnosis.decision.repair_model import NOWHERE, RECHECK, Step
from analysis.diagnosis.engine import CarDiagnosis, DiagnosisModel, fit
from analysis.diagnosis.inference.observations import cars_in_stock
from analysis.diagnosis.inputs.candidates import Candidate
from analysis.diagnosis.inputs.text_matching import read_wording
from analysis.diagnosis.shortlist import list_cars
from tests.support.diagnosis_dealer import COSTS, START, Dealer

MISFIRE, SENSOR, SPEED = "ECM:P0302", "ABS:C0031", "ECM:P0500"


def part(name: str, position: str = "", **more) -> Candidate:
    """A candidate at 20.00 and half an hour."""
    told = {"check_minutes": None, "opening": "", "opening_minutes": None} | more
    return Candidate(
        part=name,
        position=position,
        wordings=(read_wording(name),),
        part_cents=2000,
        labour_minutes=30.0,
        check_minutes=told["check_minutes"],
        action="replace",
        opening=told["opening"],
        opening_minutes=told["opening_minutes"],
    )


def model(shop: Dealer) -> DiagnosisModel:
    findings = shop.findings()
    return fit(shop.frames(), findings.families, COSTS)


def weighed(shop: Dealer) -> CarDiagnosis:
    """The first car in stock on the model."""
    made = model(shop)
    return made.diagnose(made.cars()[0])


def rows(shop: Dealer, vehicle: str = "car") -> list[dict]:
    return shop.list().rows.filter(pl.col("vehicle") == vehicle).sort("rank").rows(named=True)


def test_times_become_cents_of_labour_and_what_is_not_known_is_never_checked() -> None:
    # 60.00 an hour: ten minutes are 10.00.
    work = work_of([part("coil", check_minutes=10.0), part("plug")], COSTS)
    assert work.check.tolist() == [1000.0, float("inf")]
    assert work.opening.tolist() == [NOWHERE, NOWHERE]
    assert work.misses.tolist() == work.false_alarms.tolist() == [0.05, 0.05]


def test_parts_share_an_opening_by_its_words_and_their_corner_of_the_car() -> None:
    cover = {"opening": "Engine Cover", "opening_minutes": 20.0}
    wheel = {"opening": "wheel", "opening_minutes": 6.0}
    parts = [
        part("ignition coil", "cylinder 2", **cover), part("ignition coil", "cylinder 3", **cover),
        part("spark plug set", opening="engine cover", opening_minutes=30.0), part("injector", opening="engine cover"),
        part("wheel speed sensor", "front left", **wheel), part("wheel speed sensor", "front right", **wheel),
        part("brake pads", "left front", **wheel), part("seat loom", opening_minutes=12.0), part("battery"),
    ]  # fmt: skip
    work = work_of(parts, COSTS)
    coil, other_coil, plugs, injector, left, right, pads, loom, battery = work.opening.tolist()
    assert coil == other_coil == plugs == injector
    assert left == pads != right
    assert battery == NOWHERE
    # The longest time that any of them names; an opening without a name of its own is the part's alone.
    assert work.openings.tolist() == [3000, 3000, 3000, 3000, 600, 600, 600, 1200, 0]
    assert opening_of(parts[7]) == ("seat loom", "")
    assert len({coil, left, right, loom}) == 4


def misfiring(**more) -> Dealer:
    """Coil or plugs of the second cylinder: six repairs speak for the plugs, four for the coil."""
    shop = Dealer()
    shop.code(MISFIRE, "misfire cylinder 2", "ignition coil or spark plug")
    cents, minutes = more.pop("cents", None), more.pop("minutes", None)
    shop.part("ignition coil", cents or 9000, 30.0 if minutes is None else minutes, **more)
    shop.part("spark plug", cents or 4000, 60.0 if minutes is None else minutes, **more)
    for k in range(6):
        shop.job({MISFIRE: "cleared"}, parts=(("spark plug", "cylinder 2", None),))
        if k < 4:
            shop.job({MISFIRE: "cleared"}, parts=(("ignition coil", "cylinder 2", None),))
    # An erase alone never ended it: it has a cause.
    for _ in range(12):
        shop.job({MISFIRE: "returned"})
    shop.car("car", [MISFIRE])
    return shop


def test_a_car_is_listed_among_others_as_it_is_alone() -> None:
    shop = misfiring()
    for vehicle, status in (("blank", ""), ("active", "active"), ("stored", "confirmed"), ("woken", "pending")):
        shop.car(vehicle, [MISFIRE], status=status)
    made = model(shop)
    whole = list_cars(made).rows
    assert whole["vehicle"].n_unique() == 5
    for car in made.cars():
        assert whole.filter(vehicle=car.vehicle).equals(list_cars(made, car.vehicle).rows), car.vehicle
    chances = {vehicle: whole.filter(vehicle=vehicle)["chance"][0] for vehicle in ("blank", "active", "woken")}
    assert chances["blank"] != chances["active"] == chances["woken"]


def test_a_list_says_first_that_checking_is_cheaper_and_counts_the_check() -> None:
    plain, cheap, dear = misfiring(), misfiring(check=2.0), misfiring(check=300.0)
    assert rows(dear) == rows(plain)
    straight, checking = rows(plain)[0], rows(cheap)[0]
    start = "Checking first is cheaper: about 2 minutes; buy it only once it is proven faulty."
    assert checking["check_first"].startswith(start)
    assert straight["check_first"] == checking["check_first"].removeprefix(start).strip()
    # What it costs to fit is what it was.
    for column in ("part", "part_cost", "labour_cost", "total_cost", "clears"):
        assert checking[column] == straight[column]
    assert checking["expected_cost"] < straight["expected_cost"]
    # The check misses one of twenty of them.
    assert checking["chance"] < straight["chance"]


def test_the_expected_cost_counts_the_check_and_the_fitting_only_where_it_is_at_fault() -> None:
    shop = misfiring(check=2.0)
    found = weighed(shop)
    first = found.steps[0]
    assert first.check == 200.0
    faulty = float(found.posterior.weights.faulty()[0][first.part])
    alone = costs_to_the_end(found.repair, [first])[0]
    left = costs_to_the_end(replace(found.repair, cost=0 * found.repair.cost), [replace(first, cost=0.0, check=0.0)])[0]
    # It misses one of twenty and takes one of twenty good ones for faulty.
    assert alone == pytest.approx(200 + (0.95 * faulty + 0.05 * (1 - faulty)) * first.cost + left)


def test_what_is_behind_one_cover_is_counted_once_where_it_is_done_in_one_go() -> None:
    # 40 minutes at 60.00 an hour: not worth fitting both where one is likely to do.
    bare, covered = rows(misfiring()), rows(misfiring(opening="intake", opening_minutes=40.0))
    assert [row["part"] for row in covered] == [row["part"] for row in bare] == ["spark plug", "ignition coil", ""]
    for k in (0, 1):
        assert covered[k]["labour_cost"] == bare[k]["labour_cost"] + 4000
        assert covered[k]["total_cost"] == bare[k]["total_cost"] + 4000
    # Three hours, and parts at 10.00: whoever has the cover off fits both.
    shop = misfiring(cents=1000, minutes=0.0, opening="intake", opening_minutes=180.0)
    first, second, _ = rows(shop)
    assert (first["total_cost"], second["total_cost"]) == (19000.0, 1000.0)
    assert second["check_first"].startswith(f"In one go with the {first['part']} cylinder 2, behind the same cover: ")
    found = weighed(shop)
    left = handing_over(found.repair, found.repair.after(found.steps))
    assert first["expected_cost"] == pytest.approx(20000 + left)
    said = f"car: intake comes off first, 180 minutes counted with {first['part']} cylinder 2, and is not counted again"
    assert any(note.startswith(said) for note in shop.list().notes)


def test_the_note_of_a_car_handed_over_counts_the_cover() -> None:
    shop = Dealer()
    shop.code(SENSOR, "wheel speed sensor")
    shop.part("wheel speed sensor", 20000, 0.0, opening="hub", opening_minutes=240.0)
    shop.car("car", [SENSOR])
    listed = shop.list()
    assert listed.rows["action"].to_list() == ["specialist"]
    # 200.00 for the part and four hours at 60.00.
    assert any("trying the wheel speed sensor first costs €440 and" in note for note in listed.notes)


@pytest.mark.parametrize("more", [{}, {"check": 2.0}, {"opening": "intake", "opening_minutes": 40.0, "check": 2.0}])
def test_the_drawn_costs_average_to_the_expected_cost(more) -> None:
    found = weighed(misfiring(**more))
    drawn = mean_cost(costs_to_clear(found.repair, found.steps, draws=100_000))
    assert drawn == pytest.approx(costs_to_the_end(found.repair, found.steps)[0], rel=0.02)


def test_the_drawn_costs_know_of_a_part_that_was_renewed() -> None:
    # The part is at fault for certain and its new one bad in one of ten: that is how often the codes come back.
    found = weighed(misfiring())
    repair = replace(found.repair, renewed=(found.steps[0].part,))
    steps = [Step(part=RECHECK, chance=0.5, cost=1000.0)]
    drawn = mean_cost(costs_to_clear(repair, steps, draws=100_000))
    assert drawn == pytest.approx(costs_to_the_end(repair, steps)[0], rel=0.02)
    assert drawn < costs_to_the_end(found.repair, steps)[0]


def wheels(outcome: str, codes: tuple[str, ...] = (SENSOR,), **more) -> Dealer:
    """The sensor was renewed on the car a week ago; the outcome of its code is given."""
    shop = Dealer()
    shop.code(SENSOR, "wheel speed sensor")
    shop.code(SPEED, "vehicle speed signal")
    shop.part("wheel speed sensor", 9000, 60.0)
    for _ in range(6):
        shop.job({SENSOR: "cleared", SPEED: "cleared"}, parts=("wheel speed sensor",))
    shop.job(dict.fromkeys(codes, outcome), parts=("wheel speed sensor",), vehicle="car", **more)
    shop.car("car", [SENSOR])
    return shop


@pytest.mark.parametrize("outcome", ["unread", "unproven"])
def test_where_no_scan_tells_of_the_last_work_the_list_rechecks_before_it_buys(outcome) -> None:
    shop = wheels(outcome)
    first = rows(shop)[0]
    assert (first["action"], first["clears"]) == ("recheck", SENSOR)
    assert first["chance"] > 0.8
    assert "car: no scan tells yet whether the last work cured it (wheel speed sensor renewed)." in shop.list().notes


def test_a_code_that_came_back_is_not_taken_for_cured() -> None:
    assert rows(wheels("returned"))[0]["action"] != "recheck"
    assert not any("no scan tells yet" in note for note in wheels("returned").list().notes)


def test_what_came_back_once_will_come_back_again_without_a_part() -> None:
    # The car in which the code returned after a job, and one in which nothing was tried: no erase clears the former.
    tried, fresh = weighed(wheels("returned")), weighed(wheels("returned", codes=(SPEED,)))
    assert tried.posterior.case.leak_recurrence == pytest.approx([1.0])
    assert fresh.posterior.case.leak_recurrence < 1
    nothing = int(np.flatnonzero(~tried.repair.sets.any(axis=1))[0])
    assert tried.repair.stays_away[nothing].max() == pytest.approx(0.0)
    # An active code passes less often than not.
    assert 0.1 < fresh.repair.stays_away[nothing].min() < 0.2
    # Its cause without a part is the lasting kind only: as rare as a leak times the chance that it lasts.
    assert tried.posterior.case.leak[0] < 0.01


def renewed(shop: Dealer) -> list[set[str]]:
    made = model(shop)
    cars = cars_in_stock(made.frames, made.candidates, made.parameters)
    return [{made.candidates[i].part for i in car.renewed} for car in cars]


def test_only_work_since_the_open_codes_were_read_counts() -> None:
    assert renewed(wheels("unread")) == [{"wheel speed sensor"}]
    # A code that is open and was not there before the work has been read since.
    assert renewed(wheels("unread", codes=(SPEED,))) == [set()]
    # Work behind which nothing was read before passes the question on to the work before it.
    later = wheels("unread")
    later.part("hub", 3000, 60.0)
    later.job({}, parts=("hub",), vehicle="car")
    assert renewed(later) == [{"hub", "wheel speed sensor"}]
    # Other cars' work is nothing to this one.
    later.job({SENSOR: "returned"}, parts=("hub",), vehicle="old1")
    assert renewed(later) == [{"hub", "wheel speed sensor"}]


def test_the_latest_work_is_the_one_done_last_whatever_its_number() -> None:
    shop = wheels("unread")
    jobs = shop.rows["jobs"]
    first = jobs[0]
    jobs[0] = (first[0], "car", *first[2:5], START + timedelta(days=900), *first[6:])
    outcomes = [(*row[:6], "returned", None, 2.0, 20.0) if row[0] == 1 else row for row in shop.rows["outcomes"]]
    shop.rows["outcomes"] = outcomes
    assert renewed(shop) == [set()]


def test_the_reasons_tell_of_work_that_nobody_has_looked_at() -> None:
    shop = wheels("unread")
    # Both may be at fault: what was renewed a week ago is told against as far as its new one is trusted.
    shop.part("vehicle speed sender", 1000, 10.0)
    shop.code("ECM:P0501", "vehicle speed sender")
    shop.rows["stock"], shop.rows["open_codes"], shop.rows["open_modules"] = [], [], []
    shop.job({SENSOR: "unread", "ECM:P0501": "unread"}, parts=("wheel speed sensor",), vehicle="other")
    shop.car("other", [SENSOR, "ECM:P0501"])
    made = model(shop)
    car = made.cars()[0]
    row = {"vehicle": "other", "rank": 1, "part": "wheel speed sensor", "position": "", "clears": SENSOR}
    found = made.explain("other", pl.DataFrame([row]))
    told = found.weights_of_evidence.filter(pl.col("state") == "renewed, no scan since")
    # By hand: it is at fault still where it was, and the new one does not cure it: p * bad against 1 - p * bad.
    part = next(iter(car.renewed))
    posterior = made.diagnose(car).posterior
    was = float(posterior.weights.faulty()[0, posterior.parts.index(part)])
    still = was * made.parameters.bad_today[part]
    moved = math.log(still / (1 - still)) - math.log(was / (1 - was))
    assert told.select("part", "code", "log_ratio").rows() == [("wheel speed sensor", "", pytest.approx(moved))]
    assert found.log_odds["posterior"].item() == pytest.approx(math.log(still / (1 - still)))
