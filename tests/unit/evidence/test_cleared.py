"""What was seen after a job against the closed forms, a brute-force fit, and drawn cars whose truth is known."""

from __future__ import annotations

import math

import numpy as np
import polars as pl
import pytest
from scipy.optimize import minimize

from analysis.evidence.cleared import NEW_FAULT_KM, PROVEN, SUREST, CureModel, fit_cure_model, settle

ROAD_TEST = 40.0


def row(
    code="ECM:P0301",
    absent=None,
    seen=None,
    days=None,
    looked=True,
    tested=False,
    background=None,
    lost=None,
    before=None,
    kept=False,
):
    return {
        "code": code, "looked": looked, "absent_km": absent, "tested": tested, "seen_km": seen, "seen_days": days,
        "seen": seen is not None or days is not None, "background": background,
        "lost": lost is not None, "lost_km": lost, "lost_days": None, "lost_after_km": before,
        "kept": kept,
    }  # fmt: skip


SCHEMA = {
    "code": pl.String, "looked": pl.Boolean, "absent_km": pl.Float64, "tested": pl.Boolean, "seen": pl.Boolean,
    "seen_km": pl.Float64, "seen_days": pl.Float64, "background": pl.String,
    "lost": pl.Boolean, "lost_km": pl.Float64, "lost_days": pl.Float64, "lost_after_km": pl.Float64,
    "kept": pl.Boolean,
}  # fmt: skip


def frame(*rows) -> pl.DataFrame:
    return pl.DataFrame(list(rows), schema=SCHEMA)


def model(km=20.0, new_fault_km=40_000.0) -> CureModel:
    return CureModel(return_km={}, pooled_km=km, returns={}, cured=0.5, new_fault_km=new_fault_km, km_a_day=25.0)


def told(*rows, km=20.0) -> pl.DataFrame:
    return settle(frame(*rows), model(km))


def test_a_road_test_of_log_ten_means_is_what_nine_of_ten_need() -> None:
    # 1 - exp(-d / m) = .9 at d = m log 10, by hand.
    assert model(20.0).road_test_km("any") == pytest.approx(20 * math.log(10))


def test_an_absence_counts_by_how_many_would_have_shown_themselves() -> None:
    found = told(row(absent=20 * math.log(10)), row(absent=20.0), row(absent=0.0), row(absent=None))
    # Likelihoods exp(-d / 20) against exp(-d / 40,000), by hand.
    assert found["lik_still"].to_list() == pytest.approx([0.1, math.exp(-1), 1.0, 1.0], rel=2e-3)
    assert found["lik_gone"].to_list() == pytest.approx([1.0] * 4)
    assert found["cleared_chance"].to_list() == pytest.approx([1 / 1.1, 1 / (1 + math.exp(-1)), 0.5, 0.5], rel=2e-3)
    assert found["outcome"].to_list() == ["cleared", "unproven", "unproven", "unproven"]


def test_a_return_at_once_is_a_failed_repair_and_a_return_after_thousands_is_a_new_fault() -> None:
    found = told(row(seen=30.0), row(absent=300.0, seen=9_300.0), row(seen=9_300.0))
    assert found["outcome"].to_list() == ["returned", "recurred", "returned"]
    gone = 1 - math.exp(-30 / 40_000)
    assert found["cleared_chance"][0] == pytest.approx(gone / (gone + 1 - math.exp(-1.5)), abs=SUREST)
    assert found["cleared_chance"][1] > 0.99
    # Nobody looked between: an old fault would have been back long ago as well.
    assert found["cleared_chance"][2] == pytest.approx(0.2074 / 1.2074, abs=1e-3)


def test_a_code_that_was_never_erased_says_it_is_there_as_far_as_it_was_tested_again() -> None:
    # Untested over h km with chance exp(-h / 20), by hand; a new fault may have set it anew.
    found = told(*(row(seen=km, kept=True) for km in (1.0, 20.0, 60.0)), row(days=8.0, kept=True))
    expected = [math.exp(-km / 20) + (1 - math.exp(-km / 20)) * km / 40_000 for km in (1.0, 20.0, 60.0, 200.0)]
    assert found["lik_still"].to_list() == [1.0] * 4
    assert found["lik_gone"].to_list() == pytest.approx(expected, rel=1e-2)
    assert found["outcome"].to_list() == ["unproven", "unproven", "returned", "returned"]
    assert found["km_to_return"].to_list() == [None, None, 60.0, None]
    assert found["days_to_return"].to_list() == [None, None, None, 8.0]


def test_a_code_that_was_never_erased_teaches_no_distance() -> None:
    rows = [row(seen=float(km)) for km in (5, 12, 30, 44)] + [row(absent=float(km)) for km in (80, 200, 400)]
    alone = fit_cure_model(frame(*rows), ROAD_TEST)
    assert fit_cure_model(frame(*rows, *[row(seen=1.0, kept=True)] * 20), ROAD_TEST) == alone
    assert fit_cure_model(frame(*rows, *[row(seen=1.0)] * 20), ROAD_TEST) != alone


def test_a_list_that_was_lost_may_have_named_the_code() -> None:
    rows = [row(absent=500.0), row(absent=500.0, lost=30.0), row(absent=500.0, lost=9_000.0, before=400.0)]
    rows += [row(absent=500.0, seen=9_000.0, lost=30.0), row(seen=40.0, lost=30.0), row(lost=30.0, tested=True)]
    found = told(*rows)
    # After 30 km it would have been a return, after 9,000 with 400 between a new fault: by hand as if it had been seen.
    assert found["outcome"].to_list() == ["cleared", "unproven", "cleared", "unproven", "returned", "unproven"]
    chances = found["cleared_chance"].to_list()
    assert chances[1:] == [0.5, chances[0], 0.5, chances[4], 0.5]
    assert fit_cure_model(frame(*rows[1:4], row(seen=20.0)), ROAD_TEST) == fit_cure_model(
        frame(row(seen=20.0)), ROAD_TEST
    )


def test_nobody_looked_is_neither() -> None:
    found = told(row(looked=False))
    assert found["outcome"].to_list() == ["unread"]
    assert found["cleared_chance"].to_list() == [None]
    assert found.select("lik_gone", "lik_still").row(0) == (1.0, 1.0)


def test_a_monitor_that_ran_is_worth_a_road_test() -> None:
    found = told(row(tested=True), row(absent=200.0, tested=True))
    assert found["cleared_chance"].to_list() == pytest.approx([PROVEN, 1 / (1 + SUREST)], abs=1e-3)
    assert found["outcome"].to_list() == ["cleared", "cleared"]


def test_a_return_at_an_unknown_distance_is_judged_by_its_days() -> None:
    found = told(row(days=1.0), row(absent=300.0, days=400.0))
    assert found["outcome"].to_list() == ["returned", "recurred"]


def test_no_outcome_is_surer_than_one_misread_scan_in_a_thousand() -> None:
    found = told(row(absent=5_000.0), row(seen=0.5, absent=0.0))
    assert found["lik_still"][0] == SUREST
    assert found["lik_gone"][1] == SUREST


def drawn(rng: np.random.Generator, code: str, jobs: int, km: float, cured: float, new_km: float) -> list[dict]:
    """Cars driven and looked at now and then after a job, some cured; each can have a new fault."""
    rows = []
    for _ in range(jobs):
        back = rng.exponential(new_km) if rng.random() < cured else min(rng.exponential(km), rng.exponential(new_km))
        looks = np.cumsum(rng.exponential(60, size=rng.integers(1, 4)))
        if rng.random() < 0.3:
            looks = np.append(looks, looks[-1] + rng.uniform(5_000, 15_000))
        before, after = looks[looks < back], looks[looks >= back]
        rows.append(row(code, before.max(initial=0.0), float(after[0]) if len(after) else None))
    return rows


def test_the_fit_is_the_most_likely_one() -> None:
    # Independent route: the likelihood of the intervals, maximised by a general optimiser; the priors are worth one
    # event and a handful of returns among thousands of rows.
    seen = frame(*drawn(np.random.default_rng(5), "A:1", 4_000, 25.0, 0.6, 30_000.0))
    low = seen["absent_km"].to_numpy()
    high = seen["seen_km"].fill_null(np.inf).to_numpy()

    def loss(at: np.ndarray) -> float:
        km, share, new_km = math.exp(at[0]), 1 / (1 + math.exp(-at[1])), math.exp(at[2])
        still = np.exp(-low / km) - np.exp(-high / km)
        gone = np.exp(-low / new_km) - np.exp(-high / new_km)
        return -float(np.log(share * gone + (1 - share) * still).sum())

    best = minimize(loss, [math.log(40), 0.0, math.log(40_000)], method="Nelder-Mead", options={"maxiter": 4_000}).x
    fitted = fit_cure_model(seen, ROAD_TEST)
    assert fitted.pooled_km == pytest.approx(math.exp(best[0]), rel=0.02)
    assert fitted.cured == pytest.approx(1 / (1 + math.exp(-best[1])), abs=0.01)
    assert fitted.new_fault_km == pytest.approx(math.exp(best[2]), rel=0.03)
    assert (fitted.pooled_km, fitted.cured) == pytest.approx((25.0, 0.6), rel=0.1)


def test_with_nothing_seen_the_dealers_road_test_is_believed() -> None:
    fitted = fit_cure_model(frame(), ROAD_TEST)
    assert fitted.road_test_km("A:1") == pytest.approx(ROAD_TEST)
    assert fitted.new_fault_km == NEW_FAULT_KM


def test_before_anything_came_back_the_road_test_stands_as_it_is_set() -> None:
    seen = frame(*(row(absent=km) for km in (40.0, 900.0, 38.0)))
    fitted = fit_cure_model(seen, ROAD_TEST)
    assert fitted.road_test_km("ECM:P0301") == pytest.approx(ROAD_TEST)
    assert settle(seen, fitted)["outcome"].to_list() == ["cleared", "cleared", "unproven"]


def test_each_code_has_its_own_distance_and_leans_on_all() -> None:
    rng = np.random.default_rng(6)
    rows = drawn(rng, "A:quick", 300, 8.0, 0.5, 40_000.0) + drawn(rng, "A:slow", 300, 90.0, 0.5, 40_000.0)
    fitted = fit_cure_model(frame(*rows, *drawn(rng, "A:rare", 1, 8.0, 0.0, 40_000.0)), ROAD_TEST)
    assert fitted.return_km["A:quick"] == pytest.approx(8, rel=0.3)
    assert fitted.return_km["A:slow"] == pytest.approx(90, rel=0.3)
    # One outcome of its own against four returns' worth of the others.
    assert abs(fitted.return_km["A:rare"] - fitted.pooled_km) < 0.5 * fitted.pooled_km


def test_chances_hold_on_drawn_cars() -> None:
    # The generator above, with the truth kept: of the outcomes given .8 to 1, and 0 to .2, that share is gone, at the
    # even odds that the number is for.
    rng = np.random.default_rng(7)
    truth, rows = [], []
    for cured in (1.0, 0.0):
        rows += drawn(rng, "A:1", 3_000, 25.0, cured, 30_000.0)
        truth += [cured] * 3_000
    found = settle(frame(*rows), model(25.0, 30_000.0)).with_columns(truth=pl.Series(truth))
    for lowest in (0.0, 0.4, 0.8):
        part = found.filter(pl.col("cleared_chance").is_between(lowest, lowest + 0.2))
        assert part["truth"].mean() == pytest.approx(part["cleared_chance"].mean(), abs=0.05)


def test_background_codes_are_settled_and_teach_nothing() -> None:
    usual = [row(seen=10.0) for _ in range(30)]
    odd = [row("A:2", seen=900.0, background="radio") for _ in range(200)]
    fitted, alone = (fit_cure_model(frame(*rows), ROAD_TEST) for rows in (usual + odd, usual))
    assert fitted == alone
    assert settle(frame(*odd), fitted)["outcome"].unique().to_list() == ["returned"]
