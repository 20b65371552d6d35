"""Learning from past jobs: priors without any, the planted links with many."""

import math
from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from scipy.stats import betabinom

from analysis.diagnosis.learning.fit import fit_parameters, m_step, single_pass_counts, with_common_links
from analysis.diagnosis.model.priors import TOLD
from tests.support.diagnosis_dealer import Dealer
from tests.support.diagnosis_play import prepared
from tests.support.diagnosis_world import fleet, plant
from tests.support.golden_numbers import believed

A, B = "ABS:C0031", "ECM:P0500"


def test_zero_visits_give_the_priors():
    frames, _, _ = fleet(plant(3), 4, visits=0, stock=1)
    visits, prior, _ = prepared(frames)
    parameters = fit_parameters(visits, prior)
    assert parameters.link == pytest.approx(prior.link)
    assert parameters.leak_recurrence == pytest.approx(0.30)
    assert parameters.leak == pytest.approx(np.full(len(parameters.leak), 0.01))
    # Of the cars that show a code one in ten has no faulty part; without a fault only so many show one at all.
    shows = 1 - math.exp(-0.01 * len(parameters.leak))
    without, one, two, three = parameters.numbers
    assert without * shows / (without * shows + one + two + three) == pytest.approx(0.10)
    assert [one / three, two / three] == pytest.approx([74 / 3, 13 / 3])


def test_cars_without_a_fault_come_as_often_as_the_sample_says():
    # Independent route: draw cars with the believed parameters, keep those that show a code, count.
    frames, _, _ = fleet(plant(3), 4, visits=0, stock=1)
    parameters = fit_parameters(*prepared(frames)[:2])
    rng = np.random.default_rng(5)
    faulty = rng.random(200_000) >= parameters.numbers[0]
    leaked = rng.poisson(parameters.leak.sum(), size=200_000) > 0
    seen = faulty | leaked
    assert (~faulty[seen]).mean() == pytest.approx(0.10, abs=0.002)


def test_weights_of_sizes_bring_the_sizes_as_often_as_said():
    frames, _, _ = fleet(plant(3), 4, visits=40, stock=1)
    parameters = fit_parameters(*prepared(frames)[:2])
    odds = parameters.fault[0] / (1 - parameters.fault[0])
    pairs = sum(odds[i] * odds[j] for i in range(len(odds)) for j in range(i))
    weight = np.exp(parameters.sizes[0])
    assert weight[0] == pytest.approx(parameters.numbers[0])
    assert weight[1] * odds.sum() == pytest.approx(parameters.numbers[1])
    assert weight[2] * pairs == pytest.approx(parameters.numbers[2])


def test_order_of_visits_changes_nothing():
    frames, _, _ = fleet(plant(3), 4, visits=60, stock=1)
    visits, prior, _ = prepared(frames)
    order = np.random.default_rng(0).permutation(len(visits.jobs))
    entries = np.concatenate([np.arange(visits.first[v], visits.first[v + 1]) for v in order])
    mixed = replace(
        visits,
        jobs=[visits.jobs[v] for v in order],
        first=np.concatenate([[0], np.cumsum(np.diff(visits.first)[order])]),
        **{name: getattr(visits, name)[order] for name in ("makes", "asked", "fitted")},
        **{name: getattr(visits, name)[entries] for name in ("code", "lik_cleared", "lik_recurred", "known")},
    )
    one, other = fit_parameters(visits, prior), fit_parameters(mixed, prior)
    assert other.link == pytest.approx(one.link, abs=1e-12)
    assert other.fault == pytest.approx(one.fault, abs=1e-12)


def laid_out(visits):
    """Whether each visit has each code, and whether its presence or absence is known: over all codes."""
    there = np.zeros((len(visits.jobs), len(visits.module_of)), dtype=bool)
    there[np.repeat(np.arange(len(visits.jobs)), np.diff(visits.first)), visits.code] = True
    read = visits.asked[:, visits.module_of] & visits.possible[visits.makes]
    read[visits.untold] = False
    return there, read | there


@pytest.mark.parametrize("run", [4096, 7])
def test_sums_over_what_was_read_are_those_of_visits_laid_out_over_all_codes(monkeypatch, run):
    monkeypatch.setattr("analysis.diagnosis.inputs.looks.RUN", run)
    frames, _, _ = fleet(plant(3), 4, visits=60, stock=1)
    visits, _, _ = prepared(frames)
    rng = np.random.default_rng(1)
    # Modules that were not read though one of their codes was there, and codes that nothing is told of.
    visits = replace(
        visits,
        asked=visits.asked & (rng.random(visits.asked.shape) < 0.8),
        possible=rng.random(visits.possible.shape) < 0.9,
        untold=tuple(rng.integers(0, most, 40) for most in (len(visits.jobs), len(visits.module_of))),
    )
    there, read = laid_out(visits)
    assert (there & ~visits.asked[:, visits.module_of]).any()
    table, weights = rng.normal(size=(5, there.shape[1])), rng.random((len(visits.jobs), 3))
    assert sorted(v for look in visits.looks for v in look.visits) == list(range(len(visits.jobs)))
    assert max(len(look.visits) for look in visits.looks) <= run
    for look in visits.looks:
        mine = look.visits
        assert look.there.toarray().astype(bool).tolist() == there[mine].tolist()
        assert look.over_read(table) == pytest.approx(read[mine] @ table.T, abs=1e-12)
        assert look.over_absent(table) == pytest.approx((read & ~there)[mine] @ table.T, abs=1e-12)
        assert look.read(weights[mine]) == pytest.approx(weights[mine].T @ read[mine], abs=1e-12)
    assert visits.reads.tolist() == read.sum(axis=0).tolist()


def test_visits_looked_at_in_short_runs_teach_the_same(monkeypatch):
    frames, _, _ = fleet(plant(3), 4, visits=60, stock=1)
    visits, prior, _ = prepared(frames)
    whole = fit_parameters(visits, prior)
    monkeypatch.setattr("analysis.diagnosis.inputs.looks.RUN", 7)
    again = fit_parameters(replace(visits), prior)
    for name in ("link_yes", "link_no", "fault_yes", "leak", "leak_recurrence", "numbers", "bad"):
        assert getattr(again, name) == pytest.approx(getattr(whole, name), rel=1e-9)


def wheel_dealer() -> Dealer:
    """A dealer with one part and two codes, and no job yet."""
    dealer = Dealer()
    dealer.code(A, "wheel speed sensor")
    dealer.code(B, "vehicle speed")
    dealer.part("wheel speed sensor")
    return dealer


def test_the_one_pass_count_by_hand():
    dealer = wheel_dealer()
    for _ in range(3):
        dealer.job({A: "cleared", B: "cleared"}, parts=("wheel speed sensor",), km=1e6)
    dealer.job({A: "cleared"}, parts=("wheel speed sensor",), read=("ECM",), km=1e6)
    dealer.job({A: "returned"}, parts=("wheel speed sensor",), read=("ECM",))
    visits, prior, _ = prepared(dealer.frames())
    counts = single_pass_counts(visits, prior)
    # Four credited jobs: A stayed away after all four, B after the three that had it, of four that read its module.
    # One scan in a thousand is misread.
    sure = 0.999
    assert counts.set_by[0] == pytest.approx([4 * sure, 3 * sure])
    assert counts.chances[0] == pytest.approx([4 * sure, 3 * sure + 1])
    assert counts.faults[0, 0] == pytest.approx(4.0)
    assert counts.visits[0, 0] == pytest.approx(3 + 2 * sure)
    link = m_step(counts, prior, visits.make_names).link[0]
    assert link[0] == pytest.approx((0.8 * 4 + 4 * sure) / (4 + 4 * sure))
    # All that is known of links that no words tell is this one: a belief of .02 worth 100 looks, and four looks.
    usual = (0.02 * 100 + 3 * sure) / (100 + 3 * sure + 1)
    assert link[1] == pytest.approx((usual * 1 + 3 * sure) / (1 + 3 * sure + 1))


def test_links_that_no_words_tell_are_as_common_as_all_parts_together_show():
    link = np.array([[0.8, 0.05, 0.02, 0.002], [0.02, 0.05, 0.002, 0.8]])
    none = np.zeros(link.shape)
    prior = replace(believed(2, 4), link=link, untold=np.array([[TOLD, 0, 1, 2], [1, 0, 2, TOLD]]))
    set_by, chances = none.copy(), none + 50.0
    set_by[0, 1] = 3.0
    told = with_common_links(prior, set_by, chances).link
    # A belief worth a hundred looks, and fifty looks at each of two links of the kind.
    assert told[:, 1] == pytest.approx((0.05 * 100 + 3) / 200)
    assert told[[0, 1], [2, 0]] == pytest.approx(0.02 * 100 / 200)
    assert told[[0, 1], [3, 2]] == pytest.approx(0.002 * 100 / 200)
    assert told[[0, 1], [0, 3]].tolist() == [0.8, 0.8]


def test_an_unread_module_says_nothing():
    dealer = wheel_dealer()
    dealer.job({A: "cleared"}, parts=("wheel speed sensor",))
    visits, _, _ = prepared(dealer.frames())
    assert laid_out(visits)[1].tolist() == [[True, False]]
    assert visits.reads.tolist() == [1.0, 0.0]
    dealer.job({A: "unread"}, parts=("wheel speed sensor",))
    again, _, _ = prepared(dealer.frames())
    assert (again.lik_cleared[1, 0], again.lik_recurred[1, 0], again.known[1, 0]) == (1.0, 1.0, 0.0)


def test_a_code_that_nobody_looked_for_leans_on_all_codes():
    # By hand: all codes, 30 in 1,000 looks and a belief of .01 worth 1,000: .02; the read code, so many looks
    # more at .02 as make 30 in 1,000 likeliest: 100, the least allowed, by scipy's beta-binomial.
    visits, prior, _ = prepared(wheel_dealer().frames())
    counts = replace(single_pass_counts(visits, prior), leaked=np.array([30.0, 0.0]), reads=np.array([1000.0, 0.0]))
    leak = m_step(counts, prior, visits.make_names).leak
    strengths = np.array([100, 200, 400])
    like = betabinom.pmf(30, 1000, 0.02 * strengths, 0.98 * strengths) / np.sqrt(strengths)
    assert strengths[like.argmax()] == 100
    assert leak == pytest.approx([(30 + 100 * 0.02) / 1100, 0.02])


@pytest.mark.slow
def test_planted_links_are_found_again():
    truth = plant(5)
    frames, _, _ = fleet(truth, 6, visits=600, stock=1)
    visits, prior, candidates = prepared(frames)
    parameters = fit_parameters(visits, prior)
    index = [int(candidate.part[6:]) for candidate in candidates]
    seen = parameters.fault_yes[-1] > np.quantile(parameters.fault_yes[-1], 0.5)
    true, found = truth.link[index][seen], parameters.link[seen]
    strong = true > 0.3
    assert np.corrcoef(true.ravel(), found.ravel())[0, 1] > 0.8
    assert np.abs(found - true)[strong].mean() < np.abs(prior.link[seen] - true)[strong].mean() / 2


def test_learning_reads_the_one_number_of_each_outcome():
    dealer = wheel_dealer()
    for outcome in ("unproven", "cleared", "returned"):
        dealer.job({A: outcome}, parts=("wheel speed sensor",), km=7.0)
    frames = dealer.frames()
    likelihoods = {"lik_gone": [1.0, 0.25, 0.125], "lik_still": [0.75, 1.0, 1.0]}
    visits, _, _ = prepared(replace(frames, outcomes=frames.outcomes.with_columns(**{
        name: pl.Series(values) for name, values in likelihoods.items()
    })))  # fmt: skip
    assert visits.lik_cleared[:, 0].tolist() == [1.0, 0.25, 0.125]
    assert visits.lik_recurred[:, 0].tolist() == [0.75, 1.0, 1.0]
    assert visits.known[:, 0].tolist() == [0.25, 0.75, 0.875]
