"""What following a list costs on cars whose faults are known, and what the plain ways would list: worked by hand."""

import csv
from dataclasses import replace
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from tests.studies import process_study
from tests.studies.worlds import (
    KINDS,
    POLICIES,
    CarTruth,
    FaultTruth,
    PriceBook,
    Step,
    draw_dealer,
    facts_of,
    inbox_of,
    knowing,
    knowing_cost,
    lists_of,
    play,
    play_car,
    price_book,
)
from tests.studies.worlds.faults import BY_NAME
from tests.studies.worlds.policies import Facts, OpenCode, Visit, code_book, most_fitted, nearest_cases

SEEN = [name for name in KINDS if not name.startswith("held_out")]


@pytest.mark.parametrize("kind", SEEN)
def test_who_knows_the_faults_pays_exactly_for_them(kind: str):
    dealer = draw_dealer(KINDS[kind], 0, seed=8, judged=120)
    costs = price_book(dealer.world)
    played = play({vehicle: knowing(car, costs) for vehicle, car in dealer.truth.items()}, dealer.truth, costs)
    for vehicle, car in dealer.truth.items():
        assert played[vehicle].cost == pytest.approx(knowing_cost(car, costs)), car


def test_no_plain_way_is_cheaper_than_knowing_and_what_codes_name_beats_handing_over():
    dealer = draw_dealer(KINDS["clean"], 200, seed=9)
    costs = price_book(dealer.world)
    facts = facts_of(inbox_of(dealer), costs)
    best = sum(knowing_cost(car, costs) for car in dealer.truth.values())
    spent = {}
    for name, policy in POLICIES.items():
        spent[name] = sum(p.cost for p in play(lists_of(policy, facts, dealer.truth), dealer.truth, costs).values())
        assert best < spent[name], name
    assert spent["code_book"] < 0.8 * costs.specialist * len(dealer.truth)
    assert spent["nearest"] < costs.specialist * len(dealer.truth)


COSTS = PriceBook(
    parts={"wheel speed sensor": 30.0, "battery": 100.0}, minutes={"wheel speed sensor": 40.0, "battery": 20.0}
)
"""By hand: a sensor is 30 + 40 / 60 * 45 = 60, a battery 100 + 15 = 115, a recheck 20 / 60 * 45 = 15."""


def truth(
    shown: dict[str, str], *faults: tuple[str, str, str], alone: tuple[str, ...] = (), dead: bool = False
) -> CarTruth:
    made = tuple(
        FaultTruth(name=name, kind="part" if part else "unknown", part=part, place=place, codes=frozenset(), dead=dead)
        for name, part, place in faults
    )
    causes = {code: frozenset([by]) for code, by in shown.items()}
    return CarTruth(vehicle="W1", make="Halvet", shown=causes, alone=frozenset(alone), faults=made)


SENSOR = truth({"ABS:C0034": "s", "ECM:P0500": "s"}, ("s", "wheel speed sensor", "front right"))
FIT = Step(action="replace", part="wheel speed sensor", place="front right", chance=0.8, basis="repairs")
WRONG = Step(action="replace", part="wheel speed sensor", place="rear left", chance=0.3, basis="code")
BATTERY = Step(action="replace", part="battery")
HAND_OVER = Step(action="specialist")


@pytest.mark.parametrize(
    ("steps", "car", "cost"),
    [
        ([FIT, HAND_OVER], SENSOR, 60.0),
        ([WRONG, FIT, BATTERY], SENSOR, 120.0),
        ([BATTERY], SENSOR, 415.0),
        ([], SENSOR, 300.0),
        # Without a place: front left, then front right.
        ([replace(FIT, place="")], SENSOR, 120.0),
        # What cannot be told from the battery is tried in a row of its own, or not at all.
        ([replace(BATTERY, or_else=(("wheel speed sensor", "front right"),)), FIT], SENSOR, 175.0),
        ([replace(BATTERY, or_else=(("wheel speed sensor", "front right"),))], SENSOR, 415.0),
        # The recheck tells nothing new on a fault, and costs its drive.
        ([Step(action="recheck"), FIT], SENSOR, 75.0),
        # A row for codes that are gone is skipped: the battery is not bought.
        ([Step(action="recheck"), replace(BATTERY, clears=frozenset(["BCM:U3003"])), FIT],
         truth({"ABS:C0034": "s", "BCM:U3003": "low voltage"}, ("s", "wheel speed sensor", "front right")), 75.0),
        # The first new part is bad: the second one ends it, or the specialist.
        ([FIT, FIT], replace(SENSOR, faults=(replace(SENSOR.faults[0], dead=True),)), 120.0),
        ([FIT], replace(SENSOR, faults=(replace(SENSOR.faults[0], dead=True),)), 360.0),
        # Nobody finds the cause.
        ([FIT, HAND_OVER], truth({"ABS:C0034": "u"}, ("u", "", "")), 360.0),
        # Two faults, one of them listed.
        ([FIT], truth({"ABS:C0034": "s", "BCM:U3003": "b"}, ("s", "wheel speed sensor", "front right"),
                      ("b", "battery", "")), 360.0),
        # Equipment only: leaving costs nothing, a part for it is paid for nothing.
        ([Step(action="leave")], truth({"RADIO:B1200@halvet": "equipment"}, alone=("RADIO:B1200@halvet",)), 0.0),
        ([BATTERY], truth({"RADIO:B1200@halvet": "equipment"}, alone=("RADIO:B1200@halvet",)), 115.0),
        ([BATTERY, HAND_OVER], truth({"RADIO:B1200@halvet": "equipment"}, alone=("RADIO:B1200@halvet",)), 415.0),
        # A fault and equipment: done without the equipment's codes.
        ([FIT, BATTERY], truth({"ABS:C0034": "s", "RADIO:B1200@halvet": "e"},
                               ("s", "wheel speed sensor", "front right"), alone=("RADIO:B1200@halvet",)), 60.0),
        # Passing only: one erase ends it, whether the list says so or not.
        ([Step(action="recheck"), BATTERY, HAND_OVER], truth({"BCM:U3003": "low voltage"}), 15.0),
        ([Step(action="leave")], truth({"BCM:U3003": "low voltage"}), 15.0),
    ],
)  # fmt: skip
def test_following_a_list_costs_what_it_costs_by_hand(steps: list[Step], car: CarTruth, cost: float):
    assert play_car(steps, car, COSTS).cost == pytest.approx(cost)


@pytest.mark.parametrize(("luck", "cost"), [(0.9, 8 + 8 + 60), (0.0, 8 + 60 + 8 + 300)])
def test_a_check_is_paid_each_time_and_only_what_it_finds_is_bought(luck: float, cost: float):
    # By hand: a check costs 8; one that never errs passes the wrong part over, one that always errs
    # has it bought, misses the right one and leaves the car to the specialist.
    costs = replace(COSTS, checks=dict.fromkeys(COSTS.parts, 8 / COSTS.labour_rate * 60))
    rng: Any = SimpleNamespace(random=lambda: luck)
    steps = [replace(step, check=True) for step in (WRONG, FIT)]
    assert play_car(steps, SENSOR, costs, rng).cost == pytest.approx(cost)
    assert play_car(steps, SENSOR, costs).cost == play_car([WRONG, FIT], SENSOR, costs).cost


def test_forecasts_are_counted_for_the_rows_that_were_reached():
    played = play_car([WRONG, FIT, replace(BATTERY, chance=0.1)], SENSOR, COSTS)
    assert [(p.chance, p.kept, p.basis) for p in played.forecasts] == [(0.3, False, "code"), (0.8, True, "repairs")]
    assert (played.first_right, played.handed_over) == (False, False)
    assert play_car([FIT], SENSOR, COSTS).first_right


def test_the_truth_says_what_each_fix_clears():
    """A code that two faults set goes with neither alone; a passing one with either."""
    car = truth(
        {"ABS:C0034": "s", "ECM:P0562": "b", "BCM:U3003": "low voltage", "RADIO:B1200@halvet": "e"},
        ("s", "wheel speed sensor", "front right"),
        ("b", "battery", ""),
        alone=("RADIO:B1200@halvet",),
    )
    car = replace(car, shown=car.shown | {"ABS:C0564": frozenset({"s", "b"})})
    sensor, battery = car.faults
    assert car.cleared_by(sensor) == {"ABS:C0034", "BCM:U3003"}
    assert car.cleared_by(battery) == {"ECM:P0562", "BCM:U3003"}
    assert car.needed == {"ABS:C0034", "ECM:P0562", "ABS:C0564"}


def code(key: str, text: str = "", now: bool = True) -> OpenCode:
    return OpenCode(code=key, text=text, now=now)


def test_the_code_book_names_part_and_place():
    """P0302 is a misfire of cylinder 2 and P0352 an ignition coil's driver: by the table of standard codes."""
    prices = PriceBook(parts=dict.fromkeys(BY_NAME, 10.0), minutes=dict.fromkeys(BY_NAME, 10.0))
    facts = Facts(last={}, visits=[], costs=prices)
    votes = code_book(facts, [code("ECM:P0302"), code("ECM:P0352")])
    assert votes.most_common(1)[0][0] == ("ignition coil", "cylinder 2")
    assert set(code_book(facts, [code("PAM:B1210@halvet", "PARK SENSOR REAR LEFT, NO SIGNAL")])) == {
        ("parking sensor", "rear left")
    }
    assert set(code_book(facts, [code("ECM:P0380")])) == {("glow plug relay", "")}
    assert not code_book(facts, [code("PAM:B1210@halvet")])


def test_most_fitted_and_nearest_cases_count_past_visits():
    coil, plug = ("ignition coil", "cylinder 1"), ("spark plugs", "")
    seen = [
        Visit(before=frozenset({"a", "b"}), fitted=frozenset({coil}), gone=True),
        Visit(before=frozenset({"a", "c"}), fitted=frozenset({plug}), gone=False),
        Visit(before=frozenset({"a", "c"}), fitted=frozenset({plug}), gone=None),
    ]
    facts = Facts(last={}, visits=seen, costs=COSTS)
    assert most_fitted(facts, [code("a")]).most_common(1) == [(plug, 2)]
    assert nearest_cases(facts, [code("a")]) == {coil: 0.5}


def test_a_list_begins_with_a_recheck_where_nothing_fails_now():
    facts = Facts(last={"V1": [code("ECM:P0302", now=False)], "V2": [code("ECM:P0302")]}, visits=[], costs=COSTS)
    lists = lists_of(most_fitted, facts, ["V1", "V2"])
    assert [[step.action for step in lists[v]] for v in ("V1", "V2")] == [["recheck", "specialist"], ["specialist"]]


def test_the_study_reads_the_shortlist_back_and_plays_it():
    """A batch that knows the truth costs what knowing costs, on every car."""

    def knows(folder: Path, as_of: date) -> None:
        dealer = draw_dealer(KINDS["full"], 20, 3)
        costs = price_book(dealer.world)
        report = folder / "reports" / f"{as_of:%G-W%V}"
        report.mkdir(parents=True)
        with (report / "shortlist.csv").open("w", encoding="utf-8", newline="") as file:
            names = ["vehicle", "rank", "action", "part", "position", "or_else", "clears", "chance", "basis"]
            writer = csv.DictWriter(file, names, restval="")
            writer.writeheader()
            for vehicle, car in dealer.truth.items():
                for rank, step in enumerate(knowing(car, costs), start=1):
                    cells = {"vehicle": vehicle, "rank": rank, "action": step.action, "part": step.part}
                    writer.writerow(cells | {"position": step.place, "chance": 0.9, "basis": "repairs"})

    outcome = process_study.run_seed("full", 20, 3, week=knows)
    assert outcome.cost("list") == pytest.approx(outcome.cost("knowing"))
    assert outcome.cost("code_book") > outcome.cost("knowing")
    lines = process_study.report([outcome, outcome])
    assert "list / knowing: 1.000 (standard error 0.000)" in lines


def test_a_ratio_of_sums_has_its_linearised_error():
    """By hand: 30 / 20; rests 10 - 15 = -5 and 20 - 15 = 5 over two dealers: sqrt(2 * 50) / 20."""
    assert process_study.ratio([10.0, 20.0], [10.0, 10.0]) == pytest.approx((1.5, 0.5))


@pytest.mark.parametrize(
    ("steps", "car", "reached"),
    [
        # The recheck clears it, so nobody comes to the specialist's row behind.
        ([Step(action="recheck"), HAND_OVER], truth({"BCM:U3003": "low voltage"}), False),
        ([Step(action="recheck"), HAND_OVER], truth({"RADIO:B1200@halvet": "e"}, alone=("RADIO:B1200@halvet",)), True),
        ([Step(action="recheck"), BATTERY], truth({"RADIO:B1200@halvet": "e"}, alone=("RADIO:B1200@halvet",)), True),
        ([Step(action="leave")], truth({"RADIO:B1200@halvet": "e"}, alone=("RADIO:B1200@halvet",)), False),
        ([Step(action="recheck"), HAND_OVER], SENSOR, False),
    ],
)
def test_what_is_come_to_on_a_car_without_a_fault(steps: list[Step], car: CarTruth, reached: bool):
    assert play_car(steps, car, COSTS).works_on_sound is reached


def test_what_it_costs_not_to_be_told_of_equipment_is_counted_on_the_same_cars():
    """By hand: one of two cars with a part right as told, both with everything declared: half a car less."""
    radio = truth({"RADIO:B1200@halvet": "e"}, alone=("RADIO:B1200@halvet",))
    right, wrong = play_car([FIT], SENSOR, COSTS), play_car([WRONG, FIT], SENSOR, COSTS)
    sound = play_car([HAND_OVER], radio, COSTS)
    told, declared = (
        process_study.Outcome(seed=1, played={"list": {"a": right, "b": other, "c": last}})
        for other, last in ((wrong, sound), (right, play_car([Step(action="leave")], radio, COSTS)))
    )
    lines = "\n".join(process_study.both_lines([told], [declared]))
    assert "as told less everything declared: -0.500" in lines
    assert "as told: first part right 1 of 2" in lines
    assert "everything declared: first part right 2 of 2" in lines
    assert "first line 1 of 1 = 1.000 (standard error 0.000), come to 1 of 1" in lines
    assert "as told / everything declared: 4.000" in lines
