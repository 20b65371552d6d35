"""Two ways on the same visits: published tables, an independent library, and counting tosses."""

from math import comb

import numpy as np
import pytest
from statsmodels.stats.contingency_tables import mcnemar

from analysis.statistics.mcnemar import mcnemar_corrected, mcnemar_exact, paired_difference, words


def test_the_two_media_of_armitage_and_berry() -> None:
    # Armitage and Berry, Statistical Methods in Medical Research, two culture media on 50 specimens: both 20, one
    # alone 12, the other alone 2, neither 16: 5.7857 with the correction, exact p .0129.
    assert mcnemar_corrected(12, 2) == pytest.approx(5.7857, abs=5e-5)
    assert mcnemar_exact(12, 2) == pytest.approx(0.0129, abs=5e-5)
    assert mcnemar_exact(12, 2) == pytest.approx(2 * sum(comb(14, k) for k in range(3)) / 2**14)


@pytest.mark.parametrize(("one", "other"), [(12, 2), (2, 12), (0, 1), (7, 7), (30, 11), (0, 0)])
def test_the_same_as_statsmodels(one: int, other: int) -> None:
    table = [[20, one], [other, 16]]
    assert mcnemar_exact(one, other) == pytest.approx(mcnemar(table, exact=True).pvalue)
    if one + other and one != other:
        corrected = mcnemar(table, exact=False, correction=True).statistic
        assert mcnemar_corrected(one, other) == pytest.approx(corrected)


def test_coin_tosses_are_called_uneven_no_more_often_than_promised() -> None:
    # Every way in which 20 tosses can fall, each with its own chance.
    rejected = sum(comb(20, k) for k in range(21) if mcnemar_exact(k, 20 - k) < 0.05) / 2**20
    assert 0.0 < rejected <= 0.05


def test_no_visit_that_tells_them_apart_says_nothing() -> None:
    assert (mcnemar_exact(0, 0), mcnemar_corrected(0, 0)) == (1.0, 0.0)
    assert paired_difference(0, 0, 0, 0) == (0.0, -1.0, 1.0)
    # One visit more on one side is what the correction takes away.
    assert (mcnemar_corrected(4, 3), mcnemar_corrected(4, 4)) == (0.0, 0.0)


def test_the_interval_of_the_difference_covers_what_is_true() -> None:
    # Drawn from a known table; the promise is 95 %.
    rng = np.random.default_rng(20261125)
    shares = np.array([0.5, 0.25, 0.1, 0.15])
    drawn = rng.multinomial(60, shares, size=2000)
    held = [low <= 0.15 <= high for _, low, high in (paired_difference(*map(int, row)) for row in drawn)]
    assert np.mean(held) == pytest.approx(0.95, abs=0.015)


def test_the_interval_turns_round_with_the_two_ways() -> None:
    gap, low, high = paired_difference(20, 12, 2, 16)
    assert (gap, -gap) == pytest.approx((0.2, paired_difference(20, 2, 12, 16)[0]))
    assert (-high, -low) == pytest.approx(paired_difference(20, 2, 12, 16)[1:])
    assert low < 0.2 < high


def test_ways_that_always_agree_differ_by_nothing_and_lean_on_one_side_where_a_margin_is_empty() -> None:
    gap, low, high = paired_difference(30, 0, 0, 20)
    assert gap == 0
    assert low == pytest.approx(-high)
    assert 0 < high < 0.1
    assert paired_difference(10, 0, 0, 0)[0] == 0
    assert paired_difference(0, 10, 0, 0)[0] == 1


def test_it_says_which_is_better_or_that_nobody_knows() -> None:
    assert words("the list", "what the codes name", 12, 2) == (
        "the list is right more often than what the codes name: the first alone was right on 12 visits, the second "
        "alone on 2. How this is reckoned: chance alone would split them at least so unevenly 13 times in 1,000 "
        "(McNemar's exact test, p 0.013)."
    )
    assert words("the list", "what the codes name", 2, 12).startswith("what the codes name is right more often")
    assert words("the list", "what the codes name", 1, 2) == (
        "the list and what the codes name cannot be told apart yet: the first alone was right on 1 visit, the second "
        "alone on 2. How this is reckoned: chance alone would split them at least so unevenly 100 times in 100 "
        "(McNemar's exact test, p 1)."
    )


def test_a_count_below_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match=r"^counts of visits must be 0 or more; got -1, 3$"):
        mcnemar_exact(-1, 3)
    with pytest.raises(ValueError, match=r"^counts of visits must be 0 or more; got 1, 3, 2, -4$"):
        paired_difference(2, 1, 3, -4)
