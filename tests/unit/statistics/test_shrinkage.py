"""Drawing figures towards their like: batters, rats, and fleets whose truth is known."""

import numpy as np
import pytest

from analysis.statistics.shrinkage import beta_from_moments, shrink_rate, shrinkage_weights

HITS = np.array([18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7])
# R. E. Tarone, Biometrics 38 (1982): rats with a tumour, and rats, in 70 groups.  Written from memory; the
# published mean and standard deviation of the shares check it.
TUMOURS = (
    "0 0 0 0 0 0 0 0 0 0 0 0 0 0 1 1 1 1 1 1 1 1 2 2 2 2 2 2 2 2 2 1 5 2 5 "
    "3 2 7 7 3 3 2 9 10 4 4 4 4 4 4 4 10 4 4 4 5 11 12 5 5 6 5 6 6 6 6 16 15 15 9"
)
RATS = (
    "20 20 20 20 20 20 20 19 19 19 19 18 18 17 20 20 20 20 19 19 18 18 25 24 23 20 20 20 20 20 20 10 49 19 46 "
    "27 17 49 47 20 20 13 48 50 20 20 20 20 20 20 20 48 19 19 19 22 46 49 20 20 23 19 22 20 20 20 52 46 47 24"
)


def test_eighteen_batters():
    # B. Efron and C. Morris, "Stein's paradox in statistics", Scientific American 236 (1977): 45 times at bat
    # each; the variance is that of a share of 45 at the grand mean.
    shares = HITS / 45
    grand = shares.mean()
    mean, kept = shrinkage_weights(shares, np.full(18, grand * (1 - grand) / 45))
    assert mean == pytest.approx(0.265, abs=5e-4)
    assert kept == pytest.approx(np.full(18, 0.212), abs=5e-4)
    drawn = mean + kept * (shares - mean)
    assert (drawn[0], drawn[-1]) == pytest.approx((0.294, 0.242), abs=5e-4)


def test_seventy_groups_of_rats():
    # A. Gelman and others, Bayesian Data Analysis, chapter 5: mean .136, deviation .103, Beta(1.4, 8.6);
    # 4 of 14 in a further group give .223 with a deviation of .083.
    tumours, rats = (np.array(text.split(), dtype=float) for text in (TUMOURS, RATS))
    shares = tumours / rats
    mean, deviation = float(shares.mean()), float(shares.std(ddof=1))
    assert (len(shares), mean, deviation) == (70, pytest.approx(0.136, abs=5e-4), pytest.approx(0.103, abs=5e-4))
    prior = beta_from_moments(mean, deviation)
    assert prior == pytest.approx((1.4, 8.6), abs=0.05)
    assert shrink_rate(np.array([4.0]), np.array([14.0]), prior) == pytest.approx([0.223], abs=5e-4)
    # The distribution after counting has both moments: they lead back to 4 more yes and 10 more no.
    assert beta_from_moments(0.223, 0.083) == pytest.approx((prior[0] + 4, prior[1] + 10), rel=0.02)


def test_moments_of_a_beta_distribution_are_found_again():
    # Closed form: Beta(2, 6) has mean 1/4 and variance 12 / (64 * 9) = 1/48.
    assert beta_from_moments(0.25, 48**-0.5) == pytest.approx((2.0, 6.0))


def test_nothing_known_of_the_like_is_the_rule_of_succession():
    # Laplace: 3 of 4 under Beta(1, 1) give 4 of 6; nothing seen gives one half.
    assert shrink_rate(np.array([3.0, 0.0]), np.array([4.0, 0.0]), (1.0, 1.0)) == pytest.approx([4 / 6, 1 / 2])


def test_the_drawn_figures_are_nearer_the_truth_when_errors_differ():
    rng = np.random.default_rng(11)
    own = drawn = one = 0.0
    for _ in range(200):
        truth, deviation = rng.normal(3.0, 0.5, 15), rng.uniform(0.2, 1.5, 15)
        seen = rng.normal(truth, deviation)
        mean, kept = shrinkage_weights(seen, deviation**2)
        own += ((seen - truth) ** 2).sum()
        drawn += ((mean + kept * (seen - mean) - truth) ** 2).sum()
        one += ((mean - truth) ** 2).sum()
    assert drawn < 0.4 * own
    assert drawn < 0.95 * one


def test_the_spread_agrees_with_an_independent_library():
    meta = pytest.importorskip("statsmodels.stats.meta_analysis", reason="the reference here")
    rng = np.random.default_rng(5)
    for _ in range(20):
        variances = rng.uniform(0.05, 2.0, 12)
        values = rng.normal(0.0, np.sqrt(variances + 1.0))
        theirs = meta.combine_effects(values, variances, method_re="iterated")
        mean, kept = shrinkage_weights(values, variances)
        assert mean == pytest.approx(theirs.mean_effect_re, abs=1e-4)
        if theirs.tau2 > 0:
            assert 1 - kept == pytest.approx(9 / 11 * variances / (variances + theirs.tau2), rel=1e-3)


def test_the_less_exact_keep_less_and_the_ends_hold():
    values = np.array([0.0, 1.0, 5.0, 9.0, 10.0])
    _, kept = shrinkage_weights(values, np.array([0.1, 0.5, 1.0, 5.0, 20.0]))
    assert (np.diff(kept) < 0).all()
    assert shrinkage_weights(values, np.full(5, 1e-9))[1] == pytest.approx(np.ones(5))
    assert shrinkage_weights(values, np.full(5, 1e9))[1].tolist() == [0.0] * 5
    assert shrinkage_weights(np.full(6, 2.0), np.ones(6))[1].tolist() == [0.0] * 6


def test_three_values_are_too_few_to_draw():
    mean, kept = shrinkage_weights(np.array([0.0, 3.0, 6.0]), np.array([1.0, 1.0, 0.5]))
    assert mean == pytest.approx(15 / 4)  # by hand: (0 + 3 + 12) / 4
    assert kept.tolist() == [1.0] * 3
    assert np.isnan(shrinkage_weights(np.zeros(0), np.zeros(0))[0])


def test_impossible_figures_are_refused():
    with pytest.raises(ValueError, match=r"each of the 2 values needs a variance above 0; got \[1\.0, 0\.0\]"):
        shrinkage_weights(np.zeros(2), np.array([1.0, 0.0]))
    with pytest.raises(ValueError, match=r"each of the 3 values needs a variance above 0; got \[1\.0\]"):
        shrinkage_weights(np.zeros(3), np.ones(1))
    with pytest.raises(ValueError, match=r"no beta distribution has the mean 0\.5 and the standard deviation 0\.5"):
        beta_from_moments(0.5, 0.5)
