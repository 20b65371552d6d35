"""Intervals of shares against the published tables, and at the ends where formulas break."""

from math import asin, pi, sqrt

import numpy as np
import pytest
from scipy.stats import beta, binom, binomtest

from analysis.statistics.intervals import jeffreys, newcombe_difference, wilson


@pytest.mark.parametrize(
    ("k", "n", "score"),
    [
        (81, 263, (0.2553, 0.3662)),
        (15, 148, (0.0624, 0.1605)),
        (0, 20, (0.0, 0.1611)),
        (1, 29, (0.0061, 0.1718)),
    ],
)
def test_wilson_matches_newcombe(k, n, score):
    # R. G. Newcombe, Statistics in Medicine 17 (1998), 857-872, table I.
    assert wilson(k, n) == pytest.approx(score, abs=5e-5)


@pytest.mark.parametrize(
    ("counts", "expected"),
    [
        ((56, 70, 48, 80), (0.0524, 0.3339)),
        ((9, 10, 3, 10), (0.1705, 0.8090)),
        ((6, 7, 2, 7), (0.0582, 0.8062)),
        ((5, 56, 0, 29), (-0.0381, 0.1926)),
        ((0, 10, 0, 20), (-0.1611, 0.2775)),
        ((10, 10, 0, 20), (0.6791, 1.0)),
    ],
)
def test_difference_matches_newcombe_method_ten(counts, expected):
    # R. G. Newcombe, Statistics in Medicine 17 (1998), 873-890, table II, method 10.
    assert newcombe_difference(*counts) == pytest.approx(expected, abs=5e-5)


def test_the_closed_score_interval_is_that_of_the_library():
    for n in (1, 2, 17, 400):
        for k in range(0, n + 1, max(n // 8, 1)):
            assert wilson(k, n, 0.9) == pytest.approx(tuple(binomtest(k, n).proportion_ci(0.9, method="wilson")))


def test_one_job_that_did_not_clear_leaves_what_the_closed_form_says():
    # The Beta of 1/2 and 3/2 has the distribution function 2 / pi (arcsin sqrt(x) + sqrt(x (1 - x))).
    low, high = jeffreys(0, 1, 0.9)
    assert low == 0.0
    assert 2 / pi * (asin(sqrt(high)) + sqrt(high * (1 - high))) == pytest.approx(0.95)


@pytest.mark.parametrize("jobs", [1, 2, 3, 5, 8, 20])
def test_nine_intervals_of_ten_hold_the_rate_however_few_jobs_there_are(jobs):
    # Rates as parts have them, most near 1; the exact interval holds .95 to .997 of them.
    rates, weight = (np.arange(2000) + 0.5) / 2000, beta.pdf((np.arange(2000) + 0.5) / 2000, 6, 1.5)
    ends = np.array([jeffreys(k, jobs, 0.9) for k in range(jobs + 1)])
    held = (ends[:, :1] <= rates) & (rates <= ends[:, 1:])
    share = (held * binom.pmf(np.arange(jobs + 1)[:, None], jobs, rates)).sum(axis=0)
    assert 0.88 < np.average(share, weights=weight) < 0.935


@pytest.mark.parametrize("interval", [wilson, jeffreys])
def test_nothing_known_is_everything_possible_and_ends_stay_inside(interval):
    assert interval(0, 0) == (0.0, 1.0)
    assert interval(0, 3)[0] == 0.0
    assert interval(3, 3)[1] == 1.0
    low, high = interval(2, 3, 0.9)
    assert 0 < low < 2 / 3 < high < 1
    assert interval(2, 3, 0.99)[0] < low


def test_an_empty_group_leaves_the_difference_open():
    assert newcombe_difference(0, 0, 3, 4) == (-1.0, 1.0)
    assert newcombe_difference(3, 4, 0, 0) == (-1.0, 1.0)


@pytest.mark.parametrize("interval", [wilson, jeffreys])
def test_impossible_counts_are_refused(interval):
    with pytest.raises(ValueError, match=r"k must lie in 0\.\.3 \(the known answers\); got 4"):
        interval(4, 3)
    with pytest.raises(ValueError, match=r"confidence must lie strictly between 0 and 1; got 1\.0"):
        interval(1, 3, 1.0)
