"""How soon codes return in two groups: a published trial, an independent library, and drawn fleets."""

import re

import numpy as np
import polars as pl
import pytest

from analysis.evidence import EvidenceFrames, weigh
from analysis.evidence.erase_comparison import erased_or_repaired
from analysis.statistics.survival import kaplan_meier, log_rank
from tests.support.diagnosis_dealer import Dealer

# Freireich et al., Blood 1963, remission in weeks under 6-MP (a plus sign is False) and under placebo (all relapsed).
WEEKS = [6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35]
RELAPSED = [w == "x" for w in "xxx.x.x..xx...xx....."]
PLACEBO = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]


def trial() -> tuple[list, list, list]:
    weeks, back = WEEKS + PLACEBO, RELAPSED + [True] * len(PLACEBO)
    return weeks, back, [False] * len(WEEKS) + [True] * len(PLACEBO)


def test_the_log_rank_test_of_the_leukaemia_trial() -> None:
    # Published with the trial's data in the textbooks: 16.79 on one degree of freedom.
    z, chi_square, p = log_rank(*trial())
    assert chi_square == pytest.approx(16.79, abs=0.005)
    assert z == pytest.approx(chi_square**0.5)  # the placebo group relapsed sooner
    assert p == pytest.approx(4.17e-5, rel=0.01)  # the upper tail of chi-square with one degree of freedom


def test_it_agrees_with_an_independent_library_and_does_not_mind_which_group_is_first() -> None:
    survival = pytest.importorskip("statsmodels.duration.survfunc", reason="statsmodels")
    weeks, back, first = trial()
    other, p = survival.survdiff(np.array(weeks), np.array(back, dtype=int), np.array(first))
    mine = log_rank(weeks, back, first)
    assert mine[1:] == pytest.approx((other, p))
    turned = log_rank(weeks, back, [not one for one in first])
    assert turned == pytest.approx((-mine[0], *mine[1:]))


def test_kaplan_meier_reproduces_the_leukaemia_remissions():
    curve = kaplan_meier(WEEKS, RELAPSED)
    assert curve["km"].to_list() == [6, 7, 10, 13, 16, 22, 23]
    published = [0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482]
    assert curve["staying"].to_list() == pytest.approx(published, abs=5e-5)
    assert curve.filter(pl.col("staying") <= 0.5)["km"].min() == 23  # the published median


def test_kaplan_meier_agrees_with_an_independent_library():
    survival = pytest.importorskip("statsmodels.duration.survfunc", reason="statsmodels")
    other = survival.SurvfuncRight(np.array(WEEKS), np.array(RELAPSED, dtype=int))
    curve = kaplan_meier(WEEKS, RELAPSED)
    assert curve["staying"].to_list() == pytest.approx(list(other.surv_prob))
    low, high = other.quantile_ci(0.25, method="cloglog")
    # The log-log band crosses .75 where the library's interval for the lower quartile begins and ends.
    assert curve.filter(pl.col("staying_low") <= 0.75)["km"].min() == low
    assert curve.filter(pl.col("staying_high") <= 0.75)["km"].min() == high


def test_no_returns_make_an_empty_curve():
    assert kaplan_meier([10.0, 20.0], [False, False]).is_empty()


def test_where_all_came_back_the_band_ends_at_nothing():
    # The last return leaves none: scipy has no band there, and the share itself stands.
    curve = kaplan_meier([1.0, 2.0], [True, True])
    assert curve.rows()[-1] == (2.0, 1, 1, 0.0, 0.0, 0.0)


def test_where_nothing_came_back_or_one_group_is_empty_nothing_is_said() -> None:
    assert log_rank([5, 6], [False, False], [True, False]) == (0.0, 0.0, 1.0)
    assert log_rank([5, 6], [True, True], [True, True]) == (0.0, 0.0, 1.0)


@pytest.mark.slow
def test_groups_alike_are_told_apart_no_more_often_than_promised() -> None:
    rng = np.random.default_rng(11)
    found = 0
    for _ in range(400):
        watched, due = rng.uniform(5, 100, 40), rng.exponential(40, 40)
        found += log_rank(np.minimum(watched, due), due <= watched, rng.permutation(40) < 15)[2] < 0.05
    assert 0.02 < found / 400 < 0.09


def dealer(erased: int, repaired: int, back_erased: int) -> Dealer:
    """Erase-only jobs of which some see a code again at 20 km; repairs after which it stays away for 500 km."""
    shop = Dealer()
    shop.code("ABS:C0031", "wheel speed sensor")
    shop.code("ECM:P0500", "vehicle speed signal")
    for k in range(erased):
        end = "returned" if k < back_erased else "cleared"
        shop.job({"ABS:C0031": end, "ECM:P0500": end})
    for _ in range(repaired):
        shop.job({"ABS:C0031": "cleared", "ECM:P0500": "cleared"}, parts=("wheel speed sensor",))
    return shop


def test_the_report_says_where_erasing_alone_brings_codes_back_sooner() -> None:
    past = dealer(6, 8, 5).past()
    [note] = erased_or_repaired(past.outcomes, past.jobs)
    # Two codes a job, but a job has one vote.
    assert note.startswith(
        "Codes came back sooner after erasing alone (6 jobs) than after work on the car (8 jobs). How this is "
        "worked out: chance alone would do that "
    )
    # The plain words tell the same as the bracket behind them.
    times, of, p = re.search(r"(\d+) times in ([\d,]+) \(log-rank \d+\.\d, p (0\.\d+)\)\.$", note).groups()
    assert int(times) / int(of.replace(",", "")) == pytest.approx(float(p), rel=0.25)
    assert note in weigh(EvidenceFrames(**vars(past)), dealer(0, 0, 0).findings().members).notes


@pytest.mark.parametrize(("erased", "repaired", "back"), [(6, 8, 0), (6, 8, 1), (3, 8, 3), (6, 3, 6), (0, 0, 0)])
def test_it_is_silent_where_chance_explains_it_or_jobs_are_few(erased, repaired, back) -> None:
    past = dealer(erased, repaired, back).past()
    assert erased_or_repaired(past.outcomes, past.jobs) == []
