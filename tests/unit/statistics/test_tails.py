"""The tails of the everyday distributions against those of scipy.stats, which has them by other routes."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import CensoredData, binom, binomtest, chi2, ecdf, hypergeom, logrank, norm

from analysis.evidence.worsening import more_returns_p
from analysis.statistics.intervals import clopper_pearson
from analysis.statistics.mcnemar import mcnemar_exact
from analysis.statistics.survival import kaplan_meier, log_rank
from analysis.statistics.tails import (
    binomial_at_least,
    binomial_at_most,
    binomial_beyond,
    chi_square_tail,
    normal_beyond,
    normal_two_sided,
)

EDGES = [(0, 0), (0, 1), (1, 1), (0, 9), (9, 9), (3, 9), (700, 1000), (1000, 1000)]


@pytest.mark.parametrize("share", [1e-6, 0.05, 0.5, 0.97])
def test_binomial_tails(share: float) -> None:
    for count, trials in EDGES:
        assert float(binomial_at_most(count, trials, share)) == pytest.approx(binom.cdf(count, trials, share), rel=1e-9)
        assert float(binomial_at_least(count, trials, share)) == pytest.approx(
            binom.sf(count - 1, trials, share), rel=1e-9
        )
    for trials in (0, 1, 20, 500):
        for tail in (0.5, 0.01, 1e-4):
            assert binomial_beyond(tail, trials, share) == binom.isf(tail, trials, share)


def test_normal_and_chi_square_tails() -> None:
    for tail in (0.5, 0.05, 0.025, 1e-9):
        assert normal_beyond(tail) == pytest.approx(norm.isf(tail))
    for z in (0.0, 1.96, -3.0, 9.0):
        assert normal_two_sided(z) == pytest.approx(2 * norm.sf(abs(z)))
    values, freedom = np.array([0.0, 3.84, 40.0]), np.array([1, 1, 7])
    assert chi_square_tail(values, freedom) == pytest.approx(chi2.sf(values, freedom))


def test_what_is_made_of_them() -> None:
    for k, n in EDGES[1:]:
        wanted = binomtest(k, n).proportion_ci(0.9, method="exact")
        assert clopper_pearson(k, n, 0.9) == pytest.approx((wanted.low, wanted.high))
        assert mcnemar_exact(k, n - k) == pytest.approx(binomtest(k, n).pvalue)
    assert mcnemar_exact(0, 0) == 1.0
    for own_back, own, others_back, others in ((3, 4, 1, 4), (0, 5, 0, 5), (5, 5, 0, 5), (2, 90, 40, 900)):
        wanted = hypergeom.sf(own_back - 1, own + others, own_back + others_back, own)
        assert more_returns_p(own_back, own, others_back, others) == pytest.approx(wanted)


@pytest.mark.filterwarnings("ignore")  # where none or all stay the library has no interval
@pytest.mark.parametrize("seed", range(20))
def test_survival_of_drawn_distances(seed: int) -> None:
    rng = np.random.default_rng(seed)
    size = int(rng.integers(4, 60))
    km, back, first = rng.integers(1, 25, size).astype(float), rng.random(size) < 0.6, rng.random(size) < 0.5
    parts = [CensoredData(uncensored=km[who & back], right=km[who & ~back]) for who in (first, ~first, first | ~first)]
    if back.any() and first.any() and not first.all():
        wanted = logrank(*parts[:2])
        if np.isfinite(wanted.statistic):
            z, _, p = log_rank(km.tolist(), back.tolist(), first.tolist())
            assert (z, p) == pytest.approx((wanted.statistic, wanted.pvalue))
    curve, wanted_curve = kaplan_meier(km.tolist(), back.tolist()), ecdf(parts[2]).sf
    assert curve["staying"].to_list() == pytest.approx(wanted_curve.evaluate(curve["km"].to_numpy()))
    inner = ((curve["staying"] > 0) & (curve["staying"] < 1)).to_numpy()
    band = wanted_curve.confidence_interval(method="log-log")
    for name, end in (("staying_low", band.low), ("staying_high", band.high)):
        found = curve[name].to_numpy()[inner]
        assert found == pytest.approx(end.evaluate(curve["km"].to_numpy())[inner])
