"""Return distances: a published survival table, closed forms and drawn fleets."""

import math

import numpy as np
import polars as pl
import pytest

from analysis.evidence.returns import return_and_cure, return_curves, return_distances
from tests.support.diagnosis_dealer import Dealer

A, B = "ABS:C0031", "ECM:P0500"


def test_the_mean_distance_of_a_drawn_fleet_is_found_again():
    # 40 % never return, the others at 25 km on average; each car is scanned once, somewhere up to 200 km.
    rng = np.random.default_rng(7)
    scanned = rng.uniform(2, 200, 4000)
    at = np.where(rng.random(4000) < 0.4, np.inf, rng.exponential(25.0, 4000))
    seen = [float(km) if back <= km else None for km, back in zip(scanned, at, strict=True)]
    absent = [0.0 if back <= km else float(km) for km, back in zip(scanned, at, strict=True)]
    km, cured = return_and_cure(absent, seen, prior_km=100.0, prior_returns=4.0)
    assert km == pytest.approx(25.0, rel=0.08)
    assert cured == pytest.approx(0.4, abs=0.03)


def test_without_sightings_the_prior_stands():
    assert return_and_cure([], [], prior_km=40.0, prior_returns=4.0) == pytest.approx((40.0, 0.5))


def test_one_return_within_a_narrow_interval_is_averaged_with_the_prior():
    # By hand: seen between 99.999 and 100 km, so (4 * 40 + 100) / 5.
    found, _ = return_and_cure([99.999], [100.0], prior_km=40.0, prior_returns=4.0)
    assert found == pytest.approx(52.0, abs=1e-3)


def test_a_wide_interval_says_less_than_its_end():
    found, _ = return_and_cure([0.0], [1000.0], prior_km=40.0, prior_returns=4.0)
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


def drawn_outcomes(seed, tau_km, cured, jobs):
    """Return the frame of outcomes of many codes: each job erases one code, up to four scans follow."""
    rng, rows = np.random.default_rng(seed), []
    for d, (tau, share) in enumerate(zip(tau_km, cured, strict=True)):
        for _ in range(jobs):
            back = np.inf if rng.random() < share else rng.exponential(tau)
            scans = np.cumsum(rng.exponential(60.0, rng.integers(1, 5)))
            absent = float(scans[scans < back].max(initial=0.0))
            seen = scans[scans >= back]
            told = ("returned", absent, float(seen[0])) if len(seen) else ("cleared", absent, None)
            rows.append((len(rows), f"ECM:P{1000 + d}", None, *told))
    names = {"job_id": pl.Int64, "code": pl.String, "background": pl.String, "outcome": pl.String}
    return pl.DataFrame(rows, names | dict.fromkeys(("km_proven", "km_to_return"), pl.Float64), orient="row")


def fitted(seed, tau_km, cured, jobs):
    return return_distances(drawn_outcomes(seed, tau_km, cured, jobs))[1]["tau_km"].to_numpy()


@pytest.mark.parametrize(("spread", "better_than"), [(0.0, 0.9), (1.0, 0.95)])
def test_the_spread_between_codes_says_how_far_to_lean_on_all_of_them(monkeypatch, spread, better_than):
    # Against a pooled distance that is always worth four returns.  In 40 such fleets the error of log km was .74 of
    # that where codes are alike (.64 to .85 in eight of them at a time), .89 where they differ widely (.84 to .91).
    errors = {"by spread": 0.0, "always four": 0.0}
    for seed in range(8):
        rng = np.random.default_rng(100 + seed)
        tau = 40 * np.exp(spread * rng.standard_normal(40))
        cured = rng.beta(4, 4, 40)
        for way, needed in (("by spread", 10), ("always four", 1000)):
            monkeypatch.setattr("analysis.evidence.returns.CODES_NEEDED", needed)
            errors[way] += float((np.log(fitted(seed, tau, cured, 25) / tau) ** 2).mean())
    assert (errors["by spread"] / errors["always four"]) ** 0.5 < better_than


def test_nearly_all_cured_or_none_still_gives_distances():
    for share in (0.0, 1.0):
        found = fitted(1, [40.0] * 12, [share] * 12, 400)
        assert np.isfinite(found).all()
        assert (found > 0).all()


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
