"""How the invented dealer is drawn: faults, the codes they leave, and the workshop, as frequent as planted."""

from collections import Counter
from datetime import date
from math import exp, prod, sqrt
from random import Random

import pytest

from fixtures.dealer.cars import MODELS, Car, draw_car
from fixtures.dealer.drawing import draw
from fixtures.dealer.fault_table import FAULTS
from fixtures.dealer.faults import links_for
from fixtures.dealer.life import Entry, begin, draw_episode
from fixtures.dealer.makers import MAKES, code_of, key_of
from fixtures.dealer.parts import PARTS, SUPPLIERS, UPKEEP
from fixtures.dealer.wording import CODE_WORDS, MODULE_WORDS
from fixtures.dealer.workshop import possible


def car_of(model_name, **changes):
    """A car with every module of its model, drawn and then changed."""
    model = next(model for model in MODELS if model.name == model_name)
    return Car(**({**vars(draw_car(1, Random(1), (model,)))} | changes))


def within(count, n, chance, errors=4.0):
    """Whether ``count`` of ``n`` lies within ``errors`` binomial standard errors of ``chance``."""
    return abs(count - n * chance) <= errors * sqrt(n * chance * (1 - chance)) + 1e-9


def test_about_thirty_faults_each_with_a_code_of_its_own_and_a_price():
    assert 28 <= len(FAULTS) <= 36
    assert len({fault.key for fault in FAULTS}) == len(FAULTS)
    assert all(any(link.own for link in fault.links) for fault in FAULTS)
    assert {fault.part for fault in FAULTS} | set(UPKEEP) == set(PARTS)
    assert sum(len({link.module for link in fault.links}) > 1 for fault in FAULTS) >= 15
    assert sum(len(fault.links) == 1 for fault in FAULTS) >= 3
    owners = Counter((link.module, link.code) for fault in FAULTS for link in fault.links)
    assert sum(count > 1 for count in owners.values()) >= 15  # codes that two faults can leave
    assert FAULTS[0].part == "battery"


def test_every_code_and_module_has_a_wording():
    used = {(link.module, code_of(link.code, make)) for fault in FAULTS for link in fault.links for make in MAKES}
    assert {code for _, code in used} <= set(CODE_WORDS)
    assert {module for model in MODELS for module in model.modules} == set(MODULE_WORDS)


@pytest.mark.parametrize(
    ("code", "key"),
    # Who controls which range: SAE J2012 (P0, P2, C0, B0, U0 and U3 by the standard; P1, B1, C1, U1 by the maker).
    [
        ("P0301", "ECM:P0301"), ("P2463", "ECM:P2463"), ("U3003", "ECM:U3003"), ("U0401", "ECM:U0401"),
        ("P1247", "ECM:P1247@corvane"), ("B1341", "ECM:B1341@corvane"), ("U1A0E", "ECM:U1A0E@corvane"),
        ("00532", "ECM:00532@corvane"), ("2A87", "ECM:2A87@corvane"), ("1E05", "ECM:1E05@corvane"),
    ],
)  # fmt: skip
def test_keys_carry_the_make_only_where_the_maker_controls_the_code(code, key):
    assert key_of("ECM", code, "corvane") == key


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.key)
def test_codes_of_a_fault_appear_as_often_as_planted(fault):
    rng, n = Random(5), 2000
    model = max(MODELS, key=lambda model: sum(link.module in model.modules for link in fault.links))
    car = car_of(model.name)
    drawn = Counter(link for _ in range(n) for link in draw_episode(fault, car, rng).codes)
    links = links_for(fault, car.make, car.modules)
    assert links
    assert all(within(drawn[link], n, link.chance) for link in links)


def test_two_faults_combine_as_a_noisy_or():
    # Pearl's noisy-OR: the code stays away only where every cause fails to leave it.
    rng, n, car = Random(6), 3000, car_of("Wherry")
    pair = [fault for fault in FAULTS if fault.part in ("battery", "alternator")]
    place = ("ECM", "P0562")
    chances = [link.chance for fault in pair for link in fault.links if (link.module, link.code) == place]
    hits = sum(
        any((link.module, link.code) == place for fault in pair for link in draw_episode(fault, car, rng).codes)
        for _ in range(n)
    )
    assert len(chances) == 2
    assert within(hits, n, 1 - prod(1 - chance for chance in chances))


@pytest.mark.parametrize("distance", [5.0, 20.0])
def test_erased_codes_return_after_an_exponential_distance_and_stale_ones_do_not(distance):
    rng, n = Random(7), 1500
    fault = next(fault for fault in FAULTS if fault.part == "thermostat")
    back = stored = stale_back = 0
    for _ in range(n):
        life = begin(car_of("Linnet"), date(2026, 1, 5), [fault], (), rng)
        life.memory["ABS", "C0020"] = Entry("ABS", "C0020", "", 0.0, 1, "")
        life.erase()
        assert not life.memory
        life.drive(distance)
        codes = life.episodes[0].codes
        stored += len(codes)
        back += sum((link.module, link.code) in life.memory for link in codes)
        stale_back += ("ABS", "C0020") in life.memory
    assert within(back, stored, 1 - exp(-distance / fault.return_km))
    assert stale_back < 0.005 * n


def test_a_fixed_fault_brings_nothing_back_and_a_modification_does():
    rng = Random(8)
    life = begin(car_of("Alder"), date(2026, 1, 5), [FAULTS[0]], ("tow bar",), rng)
    life.episodes[0].fixed = True
    life.erase()
    life.drive(90.0)
    assert {("BCM", code_of("{trailer}", "corvane")), ("PAM", code_of("{zone}", "corvane"))} <= set(life.memory)
    assert not {(link.module, link.code) for link in life.episodes[0].codes} & set(life.memory)


def test_faults_fit_the_car():
    keys = {name: {fault.part for fault in possible(car_of(name))[0]} for name in ("Linnet", "Heron", "Wherry")}
    assert "boost hose" in keys["Wherry"] & keys["Heron"] - keys["Linnet"]
    assert "EGR valve" in keys["Heron"] - keys["Wherry"]
    assert "spark plug set" in keys["Linnet"] - keys["Heron"]


def test_the_workshops_habits_are_as_frequent_as_planted():
    spellings = {name: part.name for part in PARTS.values() for name in (part.name, *part.also_called)}
    count = Counter()
    for visit in (visit for story in draw(1000, seed=11) for visit in story.visits):
        names = [(spellings[action.part], action.position) for action in visit.actions if action.part]
        fitted = [f"{part} {position}".strip() for part, position in names if part not in UPKEEP]
        count["job"] += bool(fitted)
        count["erase only"] += not fitted
        count["erased"] += bool(fitted) and any(action.action == "erase" for action in visit.actions)
        count["several"] += len(fitted) > 1
        count["whole day"] += visit.whole_day
        if len(fitted) == 1 and visit.present:
            count["single"] += 1
            right = fitted[0] in visit.present
            count["right"] += right
            count["bad part"] += right and fitted[0] not in visit.cured
    assert count["job"] > 1000
    assert within(count["erased"], count["job"], 0.92)
    assert within(count["whole day"], count["job"], 0.18)
    # A second part where the car has two faults and a guess at one: together near fifteen in a hundred.
    assert within(count["several"], count["job"], 0.15)
    # One guess in twelve is wrong where another part could explain the codes, which it not always can.
    assert 0.05 < 1 - count["right"] / count["single"] < 0.1
    assert within(count["bad part"], count["right"], sum(share * bad for _, share, bad in SUPPLIERS))
    assert sum(share * bad for _, share, bad in SUPPLIERS) == pytest.approx(0.04)
    assert 0.12 < count["erase only"] / (count["job"] + count["erase only"]) < 0.25
