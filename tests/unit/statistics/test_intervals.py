"""Intervals of shares against the published tables, and at the ends where formulas break."""

import pytest
from scipy.stats import binom, binomtest

from analysis.statistics.intervals import clopper_pearson, newcombe_difference, wilson


@pytest.mark.parametrize(
    ("k", "n", "score", "exact"),
    [
        (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
        (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
        (0, 20, (0.0, 0.1611), (0.0, 0.1684)),
        (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
    ],
)
def test_wilson_and_clopper_pearson_match_newcombe(k, n, score, exact):
    # R. G. Newcombe, Statistics in Medicine 17 (1998), 857-872, table I.
    assert wilson(k, n) == pytest.approx(score, abs=5e-5)
    assert clopper_pearson(k, n) == pytest.approx(exact, abs=5e-5)


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


def test_exact_interval_with_no_yes_has_the_closed_form():
    # With 0 of n the upper limit u solves (1 - u)**n = 0.025.
    assert clopper_pearson(0, 5) == pytest.approx((0.0, 1 - 0.025 ** (1 / 5)))


def test_exact_limits_are_where_the_binomial_tail_is_half_the_error():
    low, high = clopper_pearson(4, 11, 0.9)
    assert binom.sf(3, 11, low) == pytest.approx(0.05)
    assert binom.cdf(4, 11, high) == pytest.approx(0.05)


@pytest.mark.parametrize("interval", [wilson, clopper_pearson])
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


@pytest.mark.parametrize("interval", [wilson, clopper_pearson])
def test_impossible_counts_are_refused(interval):
    with pytest.raises(ValueError, match=r"k must lie in 0\.\.3 \(the known answers\); got 4"):
        interval(4, 3)
    with pytest.raises(ValueError, match=r"confidence must lie strictly between 0 and 1; got 1\.0"):
        interval(1, 3, 1.0)
