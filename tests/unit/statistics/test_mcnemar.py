"""Two ways on the same visits: published tables, an independent library, and counting tosses."""

from math import comb

import pytest
from statsmodels.stats.contingency_tables import mcnemar

from analysis.statistics.mcnemar import mcnemar_exact, words


def test_the_two_media_of_armitage_and_berry() -> None:
    # Armitage and Berry, Statistical Methods in Medical Research, two culture media on 50 specimens: both 20, one
    # alone 12, the other alone 2, neither 16: exact p .0129.
    assert mcnemar_exact(12, 2) == pytest.approx(0.0129, abs=5e-5)
    assert mcnemar_exact(12, 2) == pytest.approx(2 * sum(comb(14, k) for k in range(3)) / 2**14)


@pytest.mark.parametrize(("one", "other"), [(12, 2), (2, 12), (0, 1), (7, 7), (30, 11), (0, 0)])
def test_the_same_as_statsmodels(one: int, other: int) -> None:
    table = [[20, one], [other, 16]]
    assert mcnemar_exact(one, other) == pytest.approx(mcnemar(table, exact=True).pvalue)


def test_coin_tosses_are_called_uneven_no_more_often_than_promised() -> None:
    # Every way in which 20 tosses can fall, each with its own chance.
    rejected = sum(comb(20, k) for k in range(21) if mcnemar_exact(k, 20 - k) < 0.05) / 2**20
    assert 0.0 < rejected <= 0.05


def test_no_visit_that_tells_them_apart_says_nothing() -> None:
    assert mcnemar_exact(0, 0) == 1.0


def test_it_says_which_is_better_or_that_nobody_knows() -> None:
    assert words("the list", "what the codes name", 12, 2) == (
        "the list is right more often than what the codes name: the list was right and what the codes name wrong on "
        "12 visits, the other way round on 2. How this is worked out: chance alone would split them at least so "
        "unevenly 13 times in 1,000 (McNemar's exact test, p 0.013)."
    )
    assert words("the list", "what the codes name", 2, 12).startswith("what the codes name is right more often")
    assert words("the list", "what the codes name", 1, 2) == (
        "it is too early to say which is right more often, the list or what the codes name: the list was right and "
        "what the codes name wrong on 1 visit, the other way round on 2. How this is worked out: chance alone would "
        "split them at least so unevenly 100 times in 100 (McNemar's exact test, p 1)."
    )


def test_a_count_below_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match=r"^counts of visits must be 0 or more; got -1, 3$"):
        mcnemar_exact(-1, 3)
