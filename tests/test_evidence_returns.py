"""Return distances: a published survival table, closed forms and drawn fleets."""

import math

import numpy as np
import polars as pl
import pytest

from analysis.evidence.returns import kaplan_meier, mean_return_km, return_curves, return_distances
from tests.diagnosis_dealer import Dealer

A, B = "ABS:C0031", "ECM:P0500"
# Freireich et al., Blood 1963, remission under 6-MP in weeks; a plus sign (censored) is False.
WEEKS = [6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35]
RELAPSED = [w == "x" for w in "xxx.x.x..xx...xx....."]


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


def test_the_mean_distance_of_a_drawn_fleet_is_found_again():
    # 40 % never return, the others at 25 km on average; each car is scanned once, somewhere up to 200 km.
    rng = np.random.default_rng(7)
    scanned = rng.uniform(2, 200, 4000)
    at = np.where(rng.random(4000) < 0.4, np.inf, rng.exponential(25.0, 4000))
    seen = [float(km) if back <= km else None for km, back in zip(scanned, at, strict=True)]
    absent = [0.0 if back <= km else float(km) for km, back in zip(scanned, at, strict=True)]
    assert mean_return_km(absent, seen, prior_km=100.0, prior_returns=4.0) == pytest.approx(25.0, rel=0.08)


def test_without_sightings_the_prior_stands():
    assert mean_return_km([], [], prior_km=40.0, prior_returns=4.0) == pytest.approx(40.0)


def test_one_return_within_a_narrow_interval_is_averaged_with_the_prior():
    # By hand: seen between 99.999 and 100 km, so (4 * 40 + 100) / 5.
    found = mean_return_km([99.999], [100.0], prior_km=40.0, prior_returns=4.0)
    assert found == pytest.approx(52.0, abs=1e-3)


def test_a_wide_interval_says_less_than_its_end():
    found = mean_return_km([0.0], [1000.0], prior_km=40.0, prior_returns=4.0)
    assert found == pytest.approx(40.0, rel=0.01)  # an exponential of 40 km is below 1000 km anyway
    assert math.isfinite(found)


def test_codes_lean_on_all_codes_together():
    dealer = Dealer()
    for _ in range(30):
        dealer.job({A: "returned"}, parts=("x",))
    dealer.job({B: "cleared"}, parts=("x",))
    pooled, frame = return_distances(dealer.past().outcomes)
    tau = dict(frame.select("code", "tau_km").iter_rows())
    assert dict(frame.select("code", "returns").iter_rows()) == {A: 30, B: 0}
    assert tau[A] < pooled < 40.0
    assert tau[B] == pytest.approx(pooled, rel=0.2)


def test_curves_are_kept_apart_by_what_was_done():
    dealer = Dealer()
    dealer.job({A: "returned"})
    dealer.job({A: "cleared"})
    dealer.job({A: "returned"}, parts=("x",))
    past = dealer.past()
    curves = return_curves(past.outcomes, past.jobs)
    assert curves.select("group", "km", "at_risk", "returned", "staying").rows() == [
        ("erased", 20.0, 2, 1, 0.5),
        ("repaired", 20.0, 1, 1, 0.0),
    ]
