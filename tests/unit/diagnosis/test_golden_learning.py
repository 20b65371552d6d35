"""Numbers of what texts, counts and past jobs teach.

Pinned to six digits: every constant of the model, changed by half, changes one of them.
Where the arithmetic of an expected value can be written down it stands beside it, with the constants as plain numbers
and not by name.  Values that only the program can work out are marked "recorded".
"""

import math
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from analysis.diagnosis import DiagnosisModel
from analysis.diagnosis.inputs.episodes import RETURNED, UNSEEN, End, Fault
from analysis.diagnosis.learning.e_step import Counts, Share, choose_suspects, leave_one_out
from analysis.diagnosis.learning.fit import fit_parameters, m_step
from analysis.diagnosis.model.noisy_or import Cases, weigh_sets
from tests.support.diagnosis_dealer import START, golden
from tests.support.diagnosis_play import prepared
from tests.support.golden_numbers import believed, counted, exactly, many_parts

BATTERY, PRESSURE, SENSOR = 0, 1, 2
"""The parts of the golden dealer in order."""


@pytest.fixture(scope="module")
def model() -> DiagnosisModel:
    return golden().model()


# What texts say.


def test_first_beliefs(model) -> None:
    # Named by the text .80; a network code that points at the part's module .20; the part's module .05; else .02, of
    # which a tenth where the code's text names another part.
    assert model.prior.link == exactly(
        np.array(
            [
                [0.002, 0.002, 0.02, 0.05, 0.80, 0.02],
                [0.05, 0.80, 0.05, 0.02, 0.002, 0.20],
                [0.80, 0.05, 0.05, 0.02, 0.002, 0.20],
            ]
        )
    )
    # Where a code names another part, four visits' worth of doubt; one where it is of the part's own module.
    assert model.prior.visits == exactly(
        np.array([[4, 4, 1, 1, 4, 1], [1, 4, 1, 1, 4, 2], [4, 1, 1, 1, 4, 2]], dtype=float)
    )


# What counts say: m_step by hand.


def test_links_and_what_they_are_worth() -> None:
    found = counted(set_by=np.array([[3.0, 0.0]]), chances=np.array([[4.0, 1.0]]))
    assert found.link == exactly(np.array([[(0.4 * 2 + 3) / (2 + 4), 0.4 * 2 / (2 + 1)]]))
    # Two visits' worth of text count .3 each, learned ones 1.75 each.
    assert found.effective_sample_size == exactly(np.array([[2 * 0.3 + 4 * 1.75, 2 * 0.3 + 1.75]]))


def test_faults_by_make() -> None:
    found = counted(faults=np.array([[3.0], [1.0]]), visits=np.array([[10.0], [18.0]]))
    everyone = (0.05 * 12 + 4) / (12 + 28)

    def like(s: float) -> float:
        """The beta-binomial likelihood of 3 of 10 and 1 of 18, by rising products."""
        total = 1.0
        for yes, of in ((3, 10), (1, 18)):
            total *= math.prod((everyone * s + i) / (s + i) for i in range(yes))
            total *= math.prod(((1 - everyone) * s + i) / (s + yes + i) for i in range(of - yes))
        return total

    strengths, first = (1.0, 2.0, 5.0, 10.0, 20.0, 40.0), (0.01, 0.01, 0.02, 0.02, 0.04, 0.90)
    usual = first
    for _ in range(10):
        weights = [u * like(s) for u, s in zip(usual, strengths, strict=True)]
        weights = [weight / sum(weights) for weight in weights]
        usual = tuple((20 * u + weight) / 21 for u, weight in zip(first, weights, strict=True))
    by_make = [
        sum(w * (s * everyone + yes) / (s + of) for w, s in zip(weights, strengths, strict=True))
        for yes, of in ((3, 10), (1, 18))
    ]
    assert found.fault[:, 0] == exactly(np.array([*by_make, everyone]))


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
        np.array([0.8853839530285, 0.0134953007213, 0.1369579577752, 0.0099068117615, 0.0015845366803, 0.4570745873034])
    )
    assert found.fault == exactly(
        np.array(
            [
                [0.1253852043590, 0.0819775467066, 0.1953818210616],
                [0.0839552133532, 0.1039153012934, 0.3218121942743],
                [0.0950166911592, 0.0871609154392, 0.2187550972960],
            ]
        )
    )
    assert found.leak_recurrence == exactly(
        np.array([0.2720021879522, 0.2937082456045, 0.1088570070539, 0.7736200356708, 0.5295864161971, 0.2969007837795])
    )
    assert found.leak == exactly(
        np.array([0.0132597611939, 0.0130828433151, 0.0215271440106, 0.0217071242065, 0.0153501326782, 0.0125842462441])
    )
    assert found.numbers == exactly(np.array([0.6247684864115, 0.3141022242218, 0.0516200235096, 0.0095092658571]))
    assert found.bad == exactly(np.array([0.1192230152058, 0.0725766997700, 0.0633760894068]))


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
