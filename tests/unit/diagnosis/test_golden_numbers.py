"""Numbers pinned to six digits: every constant of the model, changed by half, changes one of them.

Where the arithmetic of an expected value can be written down it stands beside it, with the constants as plain numbers
and not by name.  Values that only the program can work out are marked "recorded".
"""

import math
from dataclasses import replace
from datetime import timedelta

import numpy as np
import polars as pl
import pytest

from analysis.diagnosis import DiagnosisModel, list_cars
from analysis.diagnosis.decision import policy
from analysis.diagnosis.decision.appraisal import costs_to_clear
from analysis.diagnosis.decision.operations import drive_cents
from analysis.diagnosis.decision.repair_model import LEFT, RECHECK, RepairModel, Step, chance_of, plain_work
from analysis.diagnosis.evaluation import backtest as past
from analysis.diagnosis.evaluation.metrics import trust
from analysis.diagnosis.inference.calibration import (
    SHARPNESSES,
    Calibration,
    Promises,
    learned_calibration,
    usual_calibration,
)
from analysis.diagnosis.inference.posterior import Car, infer
from analysis.diagnosis.inputs.episodes import RETURNED, UNSEEN, End, Fault
from analysis.diagnosis.learning.e_step import Counts, Share, choose_suspects, leave_one_out
from analysis.diagnosis.learning.fit import fit_parameters, m_step
from analysis.diagnosis.model.noisy_or import Cases, weigh_sets
from analysis.diagnosis.model.parameters import NoisyOrParameters
from analysis.diagnosis.model.priors import Prior
from tests.support.diagnosis_dealer import COSTS, START, Dealer, golden
from tests.support.diagnosis_play import prepared

BATTERY, PRESSURE, SENSOR = 0, 1, 2
"""The parts of the golden dealer in order."""


def exactly(expected):
    return pytest.approx(expected, rel=1e-6, abs=1e-12)


@pytest.fixture(scope="module")
def model() -> DiagnosisModel:
    return golden().model()


# What texts say.


def test_first_beliefs(model) -> None:
    # Named by the text .80; a network code that points at the part's module .20; the part's module .05; else .02.
    assert model.prior.link == exactly(
        np.array(
            [
                [0.02, 0.02, 0.02, 0.05, 0.80, 0.02],
                [0.05, 0.80, 0.05, 0.02, 0.02, 0.20],
                [0.80, 0.05, 0.05, 0.02, 0.02, 0.20],
            ]
        )
    )
    # Where a code names another part, four visits' worth of doubt; one where it is of the part's own module.
    assert model.prior.visits == exactly(
        np.array([[4, 4, 1, 1, 4, 1], [1, 4, 1, 1, 4, 2], [4, 1, 1, 1, 4, 2]], dtype=float)
    )


# What counts say: m_step by hand.


def believed(parts: int, codes: int) -> Prior:
    """Links of .4 worth two visits, each code a statement of its own."""
    none = np.zeros((parts, codes))
    return Prior(
        link=none + 0.4, visits=none + 2.0, named=none > 1, pattern=none > 1, alike=none + 1.0,
        standing=np.zeros(parts, dtype=bool), passing=np.zeros(parts, dtype=bool),
        part=np.arange(parts), place=np.full(parts, -1), elsewhere=none > 1,
        network=np.zeros(none.shape[1], dtype=bool),
        kin=np.zeros((0, 3)),
    )  # fmt: skip


def counted(**some: object) -> NoisyOrParameters:
    """One part, two codes, two makes; what is not given was never seen."""
    none, codes = np.zeros((1, 2)), np.zeros(2)
    blank = {
        "set_by": none, "chances": none, "faults": np.zeros((2, 1)), "visits": np.zeros((2, 1)), "leaked": codes,
        "stayed": codes, "reads": codes, "sizes": np.zeros(4), "renewed": np.zeros(1), "in_vain": np.zeros(1),
    }  # fmt: skip
    return m_step(Counts(**(blank | some)), believed(1, 2), ["brillon", "corvane"])


def test_links_and_what_they_are_worth() -> None:
    found = counted(set_by=np.array([[3.0, 0.0]]), chances=np.array([[4.0, 1.0]]))
    assert found.link == exactly(np.array([[(0.4 * 2 + 3) / (2 + 4), 0.4 * 2 / (2 + 1)]]))
    # Two visits' worth of text count .3 each, learned ones 1.75 each.
    assert found.effective_sample_size == exactly(np.array([[2 * 0.3 + 4 * 1.75, 2 * 0.3 + 1.75]]))


def test_faults_by_make() -> None:
    found = counted(faults=np.array([[3.0], [1.0]]), visits=np.array([[10.0], [18.0]]))
    everyone = (0.05 * 12 + 4) / (12 + 28)
    assert found.fault[:, 0] == exactly(
        np.array([(40 * everyone + 3) / (40 + 10), (40 * everyone + 1) / (40 + 18), everyone])
    )


def likeliest(strengths: tuple[float, ...], usual: float, counts: list[tuple[int, int]]) -> float:
    """The strength under which so many of so many are likeliest, by rising products."""

    def like(s: float) -> float:
        total = 1 / math.sqrt(s)
        for yes, of in counts:
            total *= math.prod((usual * s + i) / (s + i) for i in range(yes))
            total *= math.prod(((1 - usual) * s + i) / (s + yes + i) for i in range(of - yes))
        return total

    return max(strengths, key=like)


def test_leaks() -> None:
    found = counted(
        leaked=np.array([6.0, 0.0]), reads=np.array([200.0, 100.0]), stayed=np.array([3.0, 0.0])
    )  # fmt: skip
    usual = (0.01 * 1000 + 6) / (1000 + 300)
    s = likeliest((100, 200, 400), usual, [(6, 200), (0, 100)])
    assert found.leak_strength == s == 100
    assert found.leak == exactly(np.array([(s * usual + 6) / (s + 200), s * usual / (s + 100)]))
    usual = (0.30 * 20 + 3) / (20 + 6)
    s = likeliest((0.5, 1, 2, 4, 8, 16, 32), usual, [(3, 6)])
    assert s == 2
    assert found.leak_recurrence == exactly(np.array([(s * usual + 3) / (s + 6), usual]))
    # However often it was seen without a cause, a leak stays between one in a million and one in two.
    assert counted(leaked=np.array([1e9, 0.0]), reads=np.array([1e9, 1.0])).leak[0] == exactly(0.5)
    assert counted(reads=np.array([1e12, 1e12])).leak == exactly(np.array([1e-6, 1e-6]))


def test_how_many_parts_are_at_fault() -> None:
    found = counted(sizes=np.array([1.0, 5.0, 3.0, 1.0]), leaked=np.zeros(2))
    counts = np.array([0.10, 0.74, 0.13, 0.03]) * 20 + [1, 5, 3, 1]
    # Without a fault a car shows a code only by its two leaks of .01: 1 - exp(-.02), taken for .02 at least.
    counts[0] /= 0.02
    assert found.numbers == exactly(counts / counts.sum())


def test_new_parts_that_do_not_cure() -> None:
    # The beta-binomial likelihood of 3 in vain of 10 under a Beta of mean .06 for each strength, by rising products.
    def like(strength: float) -> float:
        a, b = 0.06 * strength, 0.94 * strength
        top = math.prod(a + i for i in range(3)) * math.prod(b + i for i in range(7))
        return top / math.prod(strength + i for i in range(10)) / math.sqrt(strength)

    strengths = (2.5, 5, 10, 20, 40, 80, 160, 320)
    weights = [like(s) for s in strengths]
    mean = sum(w * (0.06 * s + 3) / (s + 10) for w, s in zip(weights, strengths, strict=True)) / sum(weights)
    assert counted(renewed=np.array([10.0]), in_vain=np.array([3.0])).bad == exactly(np.array([mean]))


def test_new_parts_shrink_towards_those_of_all_parts() -> None:
    # Nothing is known of the first part, so it is what the others say with the belief worth 20 visits.
    none = np.zeros((2, 1))
    counts = Counts(
        set_by=none, chances=none, faults=np.zeros((1, 2)), visits=np.zeros((1, 1)), leaked=np.zeros(1),
        stayed=np.zeros(1), reads=np.zeros(1), sizes=np.zeros(4), renewed=np.array([0.0, 30.0]),
        in_vain=np.array([0.0, 9.0]),
    )  # fmt: skip
    assert m_step(counts, believed(2, 1), ["corvane"]).bad[0] == exactly((0.06 * 20 + 9) / (20 + 30))


# Learning.


def test_what_the_golden_dealer_learned(model) -> None:
    # Recorded: six rounds of expectation and maximisation, averaged with the single pass.
    found = model.parameters
    assert found.link[SENSOR] == exactly(
        np.array([0.8852820845395, 0.0125138053129, 0.1361658227510, 0.0100065466636, 0.0160041882196, 0.4574997949380])
    )
    assert found.fault == exactly(
        np.array(
            [
                [0.1137819479988, 0.0834612623108, 0.2057666586008],
                [0.0843093854005, 0.1018794016302, 0.2711581785143],
                [0.0927392700732, 0.0876332821605, 0.2160524194476],
            ]
        )
    )
    assert found.leak_recurrence == exactly(
        np.array([0.2674945858625, 0.2989844368128, 0.1095067019212, 0.7742333615023, 0.5621816907743, 0.2984748959142])
    )
    assert found.leak == exactly(
        np.array([0.0135375893277, 0.0130165283610, 0.0216090582979, 0.0217883187717, 0.0162316107491, 0.0126715101271])
    )
    assert found.numbers == exactly(np.array([0.6313862390670, 0.3094958877692, 0.0497413939992, 0.0093764791646]))
    assert found.bad == exactly(np.array([0.1117599780322, 0.0698981467990, 0.0614328628860]))


def test_learning_stops_after_six_rounds() -> None:
    visits, prior, _ = prepared(golden().frames())
    assert np.array_equal(fit_parameters(visits, prior).link, fit_parameters(visits, prior, rounds=6).link)
    assert not np.array_equal(fit_parameters(visits, prior).link, fit_parameters(visits, prior, rounds=9).link)


def left_out(taught: float, yes: float = 0.05) -> Cases:
    """One visit of one part and one code of which no text speaks, with what others taught of the link beside it."""
    one = np.ones((1, 1))
    cases = Cases(
        fault=one * 0.1, log_lik_absent=one * 0, link=np.full((1, 1, 1), 0.05), leak=one * 0.01, shown=one > 0,
        fitted=np.zeros((1, 1, 1), dtype=bool), lik_cleared=np.ones((1, 1, 1)), lik_recurred=np.ones((1, 1, 1)),
        leak_recurrence=0.3, bad=one * 0.05, sizes=np.zeros((1, 4)),
    )  # fmt: skip
    known = counted(set_by=np.zeros((1, 2)))
    known = replace(known, link_yes=one * yes, link_no=one * (1 + taught - yes), taught=one * taught)
    none = np.zeros((1, 1))
    first = np.zeros((1, 1), dtype=int)
    mine = Share(first, none, np.zeros((1, 1, 1)), none)
    return leave_one_out(cases, (first, first), known, mine, np.array([1.0]))


def test_a_faint_link_is_taken_for_none_after_two_visits() -> None:
    # Three visits of text and experience, .05 of them a yes: less than .10, after 2.5 visits with the fault.
    assert left_out(2.5).link[0, 0, 0] == 0.0
    assert left_out(1.5).link[0, 0, 0] == exactly(0.05 / 2.5)
    # Nothing is left of a count that was taken out: a millionth stands for it.
    assert left_out(1.5, yes=0.0).link[0, 0, 0] == exactly(1e-6 / 2.5)
    # And a link of more than .10 is none too few.
    assert left_out(2.5, yes=0.12 * 3.5).link[0, 0, 0] == exactly(0.12)


def many_parts() -> Dealer:
    """Fourteen parts that one code names, one of them fitted once."""
    shop = Dealer()
    names = [f"gauge{chr(97 + i)}" for i in range(14)]
    shop.code("ECM:P0100", "no signal", " / ".join(names))
    for name in names:
        shop.part(name)
    shop.job({"ECM:P0100": "cleared"}, (names[0],))
    shop.car("car", ["ECM:P0100"])
    return shop


def test_how_many_parts_are_weighed_together() -> None:
    shop = many_parts()
    visits, prior, _ = prepared(shop.frames())
    parameters = fit_parameters(visits, prior)
    assert [len(chosen) for chosen in choose_suspects(visits, parameters, np.zeros((1, 14)))] == [8]
    made = shop.model()
    assert len(made.diagnose(made.cars()[0]).posterior.parts) == 12


def test_a_likelihood_of_nothing_is_one_in_a_million_million() -> None:
    one = np.ones((1, 1))
    cases = Cases(
        fault=one * 0.1, log_lik_absent=one * 0, link=np.zeros((1, 1, 1)), leak=one * 0, shown=one > 0,
        fitted=np.zeros((1, 1, 1), dtype=bool), lik_cleared=np.ones((1, 1, 1)), lik_recurred=np.ones((1, 1, 1)),
        leak_recurrence=0.3, bad=one * 0.05, sizes=np.zeros((1, 4)),
    )  # fmt: skip
    assert weigh_sets(cases).like[0, 0, 0, 0] == pytest.approx(1e-12, rel=1e-6)


# Past jobs about one fault.


def test_what_was_seen_of_a_code() -> None:
    # One scan in a thousand is misread.
    assert End(lik_cleared=0.001, lik_recurred=1.0, known=0.999) == RETURNED
    assert End(lik_cleared=1.0, lik_recurred=1.0, known=0.0) == UNSEEN


@pytest.mark.parametrize(
    ("known", "days", "attempts", "same"),
    [
        (0.85, 300, 1, True),
        (0.95, 300, 1, False),  # proven gone as well as .90: another fault
        (0.50, 400, 1, False),  # after a year: another fault
        (0.50, 300, 2, True),
        (0.50, 300, 3, False),  # a fourth attempt begins anew
    ],
)
def test_which_jobs_are_about_one_fault(known, days, attempts, same) -> None:
    fault = Fault("corvane", "K-1", {0}, START)
    for _ in range(attempts):
        fault.begin({0: End(1.0, 1 - known, known)}, {0})
        fault.left = {0} if known < 0.9 else fault.left
        fault.add(len(fault.attempts), True, START)
    assert fault.goes_on({0: RETURNED}, START + timedelta(days=days), np.array([0])) is same


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
    # By hand, with leaks of which .3 last: awake with .8 while the cause is there, with .15 after it has passed.
    awake = seen(*alone([0.8], leak=0.05, awake=frozenset({0})))
    assert awake.case.leak == exactly(np.array([[0.05 * (0.3 * 0.8 + 0.7 * 0.15) / 0.8]]))
    assert awake.case.leak_recurrence == exactly(np.array([0.24 / 0.345]))
    other = seen(*alone([0.8, 0.8], leak=0.05, awake=frozenset({0})), calibration=0.5).weights
    both = seen(*alone([0.8, 0.8], leak=0.05, awake=frozenset({0, 1})), calibration=0.5).weights
    bare = [seen(*alone([0.8, 0.8], leak=0.05, awake=frozenset(awake))) for awake in ({0}, {0, 1})]
    mass = [0.5 * one.one_minus_max for one in bare]
    for weights, plain, moved, passed in zip((other, both), bare, mass, (0.5, 0.1), strict=True):
        assert weights.sizes()[0, 0] == exactly((1 - moved) * plain.weights.sizes()[0, 0] + moved * passed)


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
    assert found["active"].weights.faulty()[0] == exactly(np.array([0.0323360649859, 0.9910836978518, 0.0047055729637]))
    assert found["again"].weights.faulty()[0] == exactly(np.array([0.3558477504303, 0.1439738551124]))
    assert found["stored"].weights.faulty()[0] == exactly(np.array([0.1888753937892, 0.0401090959478]))
    assert [found[name].one_minus_max for name in sorted(found)] == exactly(
        [0.0065761986487, 0.4260384989451, 0.2056014356194]
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
        ("active", "specialist", ""),
        ("again", "specialist", ""),
        ("stored", "recheck", ""),
        ("stored", "replace", "brake pressure sensor"),
        ("stored", "specialist", ""),
    ]
    assert rows["chance"].to_list() == exactly(
        [0.9069795991574254, 1.0, 1.0, 0.7225306046875986, 0.735958953770695, 1.0]
    )
    assert rows.filter(action="replace").vstack(rows.filter(action="recheck"))["chance_low"].to_list() == pytest.approx(
        [0.682598, 0.224449, 0.210138], abs=1e-6
    )
    assert rows["expected_cost"].to_list() == exactly(
        [10790.612025277233, 30000.0, 30000.0, 8886.017856949657, 23932.660795193136, 30000.0]
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
    lists = [policy.plan(two_parts(0.9, second, leak=0.5), may, 1.0) for second in (0.008, 0.012)]
    # A cent a try: only the chance can rule the second part out.
    cheap = [replace(two_parts(0.9, second, leak=0.5), cost=np.ones(2)) for second in (0.008, 0.012)]
    assert [[step.part for step in steps] for steps in lists] == [[0], [0]]
    assert [[step.part for step in policy.plan(car, may, 1.0)] for car in cheap] == [[0], [0, 1]]


def test_how_many_states_of_the_work_are_compared(monkeypatch) -> None:
    seen, real = [], policy.lattice
    monkeypatch.setattr(policy, "lattice", lambda sizes, moves: seen.append(sizes) or real(sizes, moves))
    car = two_parts(0.5, 0.3)
    many = replace(
        car, sets=np.eye(14, dtype=bool), chance=np.full(14, 1 / 14), link=np.ones((14, 1)), bad=np.zeros(14),
        clears=np.ones((14, 1), dtype=bool), cost=np.full(14, 3000.0),
    )  # fmt: skip
    policy.plan(many, np.ones(14, dtype=bool), 1.0)
    # 4,096 of them, which is twelve of the fourteen parts.
    assert seen == [(2,) * 12] * 2
    # Seven parts that may be checked are 2,187 states, eight would be 6,561: two of them in one way alone.
    checked = replace(many, work=replace(plain_work(14), check=np.full(14, 10.0)))
    for parts, sizes in ((7, (3,) * 7), (8, (3,) * 6 + (2, 2))):
        few = replace(checked, cost=np.where(np.arange(14) < parts, 3000.0 + np.arange(14), 40000.0))
        policy.plan(few, np.ones(14, dtype=bool), 1.0)
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
