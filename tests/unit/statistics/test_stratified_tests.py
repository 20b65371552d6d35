"""Tests of pairs against published tables, independent libraries and brute force."""

from itertools import combinations, product

import numpy as np
import pytest
from scipy.stats import false_discovery_control, fisher_exact, hypergeom, norm

from analysis.mining.pairs import SCREEN_Z
from analysis.statistics import effect_sizes
from analysis.statistics.effect_sizes import breslow_day_test, odds_ratio, tilted, within_line_phi
from analysis.statistics.multiple_testing import benjamini_hochberg, benjamini_yekutieli, holm, tarone_level
from analysis.statistics.stratified_tests import (
    cmh_z,
    expected_joint,
    log_least,
    null_distributions,
    p_fitted,
    p_more,
)

TEA = [(3, 1, 1, 3)]
BERKELEY = [
    (512, 313, 89, 19),
    (353, 207, 17, 8),
    (120, 205, 202, 391),
    (138, 279, 131, 244),
    (53, 138, 94, 299),
    (22, 351, 24, 317),
]
RABBITS = [(0, 6, 0, 5), (3, 3, 0, 6), (6, 0, 2, 4), (5, 1, 6, 0), (2, 0, 5, 0)]
FIFTEEN = [
    0.0001,
    0.0004,
    0.0019,
    0.0095,
    0.0201,
    0.0278,
    0.0298,
    0.0344,
    0.0459,
    0.324,
    0.4262,
    0.5719,
    0.6528,
    0.759,
    1,
]


def table(rows):
    """Turn 2 x 2 tables (both, only A, only B, neither), one per line, into the arrays of one pair."""
    cells = np.array(rows, dtype=np.int64)
    joint = cells[:, 0]
    return tuple(part[None, :] for part in (joint, joint + cells[:, 1], joint + cells[:, 2], cells.sum(axis=1)))


def two_sided(rows):
    joint, *margins = table(rows)
    least, chances = null_distributions(*margins)
    seen = chances[0, joint.sum() - least[0]]
    return chances[0][chances[0] <= seen * (1 + 1e-9)].sum()


def test_fishers_tea_table():
    # R. A. Fisher, The Design of Experiments (1935), chapter II: 3 of 4 cups right; all right 1 in 70.
    assert p_more(*table(TEA))[0] == pytest.approx(17 / 70)
    assert two_sided(TEA) == pytest.approx(34 / 70)
    assert p_more(*table([(4, 0, 0, 4)]))[0] == pytest.approx(1 / 70)


def test_conditional_odds_ratio_of_the_tea_table():
    # At the conditional maximum likelihood estimate the expected joint count is the one seen:
    # 6.408 for Fisher's table (value recomputed; printed by R's fisher.test).
    _, chances = null_distributions(*table(TEA)[1:])
    fitted = tilted(chances, np.log(np.array([6.408])))
    assert (fitted[0] * np.arange(5)).sum() == pytest.approx(3, abs=1e-4)


def test_berkeley_admissions():
    # P. J. Bickel, E. A. Hammel and J. W. O'Connell, Science 187 (1975), 398-404; figures as R prints
    # them for UCBAdmissions.  Pooled, the odds ratio is 1.84: the mix of departments misleads.
    arrays = table(BERKELEY)
    odds = odds_ratio(*arrays)
    assert (odds.value[0], odds.low[0], odds.high[0]) == pytest.approx((0.9047, 0.7719, 1.0603), abs=5e-5)
    z = cmh_z(*arrays, correction=0.5)[0]
    assert z**2 == pytest.approx(1.4269, abs=5e-5)
    assert 2 * norm.sf(abs(z)) == pytest.approx(0.2323, abs=5e-5)
    pooled = table([tuple(np.sum(BERKELEY, axis=0))])
    assert odds_ratio(*pooled).value[0] == pytest.approx(1.84, abs=5e-3)


def test_penicillin_and_rabbits():
    # A. Agresti, Categorical Data Analysis: the exact test of five small tables.
    arrays = table(RABBITS)
    odds = odds_ratio(*arrays)
    assert (odds.value[0], odds.low[0], odds.high[0]) == pytest.approx((7.0, 1.027, 47.73), abs=5e-3)
    z = cmh_z(*arrays, correction=0.5)[0]
    assert z**2 == pytest.approx(3.929, abs=5e-4)
    assert 2 * norm.sf(abs(z)) == pytest.approx(0.0475, abs=5e-5)
    assert two_sided(RABBITS) == pytest.approx(0.0399, abs=5e-5)


def test_smoking_in_eight_cities():
    # Z. Liu, International Journal of Epidemiology 21 (1992), 197-201, as in Agresti's book.
    datasets = pytest.importorskip("statsmodels.datasets", reason="statsmodels ships the table")
    data = datasets.china_smoking.load_pandas().data
    arrays = table(data.to_numpy().astype(int))
    assert odds_ratio(*arrays).value[0] == pytest.approx(2.17, abs=5e-3)
    assert cmh_z(*arrays)[0] ** 2 == pytest.approx(280.1, abs=0.05)
    assert breslow_day_test(*arrays).chi_square[0] == pytest.approx(5.2, abs=5e-3)
    assert breslow_day_test(*arrays).freedom[0] == 7


def test_effects_equal_an_independent_library():
    tables = pytest.importorskip("statsmodels.stats.contingency_tables", reason="the reference here")
    rng = np.random.default_rng(7)
    for _ in range(30):
        rows = rng.integers(1, 12, size=(4, 4))
        theirs = tables.StratifiedTable([row.reshape(2, 2) for row in rows])
        ours, agree = odds_ratio(*table(rows)), breslow_day_test(*table(rows))
        assert ours.value[0] == pytest.approx(theirs.oddsratio_pooled)
        assert (ours.low[0], ours.high[0]) == pytest.approx(theirs.oddsratio_pooled_confint())
        assert cmh_z(*table(rows))[0] ** 2 == pytest.approx(theirs.test_null_odds().statistic)
        assert agree.chi_square[0] == pytest.approx(theirs.test_equal_odds(adjust=True).statistic)
        assert agree.p_value[0] == pytest.approx(theirs.test_equal_odds(adjust=True).pvalue)


def test_one_line_is_fishers_exact_test():
    # M. Hahsler and K. Hornik, Intelligent Data Analysis 11 (2007), 437-455: one minus hyper-confidence
    # is the one-sided p-value of Fisher's test.
    rng = np.random.default_rng(3)
    rows = rng.integers(0, 9, size=(60, 4))
    arrays = [np.concatenate(parts) for parts in zip(*(table([row]) for row in rows), strict=True)]
    expected = [fisher_exact(row.reshape(2, 2), alternative="greater").pvalue for row in rows]
    assert p_more(*arrays) == pytest.approx(np.array(expected))
    both, a, b, n = (part[:, 0] for part in arrays)
    assert p_more(*arrays) == pytest.approx(1 - hypergeom.cdf(both - 1, n, a, b), abs=1e-12)


def test_several_lines_equal_the_enumeration_of_all_outcomes():
    rng = np.random.default_rng(5)
    for _ in range(20):
        rows = rng.integers(0, 5, size=(3, 4))
        joint, with_a, with_b, cars = table(rows)
        spreads = [hypergeom(n, a, b) for a, b, n in zip(with_a[0], with_b[0], cars[0], strict=True)]
        ranges = [
            range(max(0, a + b - n), min(a, b) + 1) for a, b, n in zip(with_a[0], with_b[0], cars[0], strict=True)
        ]
        as_many = [combo for combo in product(*ranges) if sum(combo) >= joint.sum()]
        by_hand = sum(np.prod([s.pmf(k) for s, k in zip(spreads, combo, strict=True)]) for combo in as_many)
        assert p_more(joint, with_a, with_b, cars)[0] == pytest.approx(by_hand)


def test_pairs_of_different_width_do_not_disturb_each_other():
    rng = np.random.default_rng(11)
    rows = [table(rng.integers(0, int(top), size=(3, 4))) for top in rng.choice([3, 10, 60], 40)]
    together = p_more(*(np.concatenate(parts) for parts in zip(*rows, strict=True)))
    assert together == pytest.approx(np.array([p_more(*row)[0] for row in rows]))


@pytest.mark.parametrize("rate", [0.03, 0.1, 0.5, 0.8])
@pytest.mark.parametrize("z", [1, 3, 5])
def test_the_fitted_tail_of_wide_pairs_is_close_to_the_exact_one(rate, z):
    rng = np.random.default_rng(41)
    cars = np.full((1, 6), 1500)
    with_a, with_b = (rng.binomial(1500, rate, 6)[None, :] for _ in range(2))
    least, chances = null_distributions(with_a, with_b, cars)
    expected = expected_joint(with_a, with_b, cars).sum()
    spread = ((chances[0] * (np.arange(chances.shape[1]) + least[0] - expected) ** 2).sum()) ** 0.5
    at = int(expected + z * spread)
    joint = np.array([[at, 0, 0, 0, 0, 0]])  # only the sum over lines matters
    assert p_fitted(joint, with_a, with_b, cars)[0] == pytest.approx(chances[0, at - least[0] :].sum(), rel=0.03)


def test_very_wide_pairs_take_the_fitted_tail():
    cars = np.array([[20_000]])
    with_a, with_b = np.array([[9_000]]), np.array([[9_000]])
    joint = np.array([[4_120]])
    assert p_more(joint, with_a, with_b, cars)[0] == pytest.approx(hypergeom.sf(4_119, 20_000, 9_000, 9_000), rel=0.002)


@pytest.mark.parametrize(("many", "exact"), [(256, True), (257, False)])
def test_up_to_256_possible_counts_the_chance_is_exact(many: int, exact: bool):
    # Codes on as many cars as that, of 1,000: the joint count can be anything from none to all of them.
    counts = [np.array([[number]]) for number in (85, many, many, 1000)]
    assert p_more(*counts)[0] == (
        pytest.approx(hypergeom.sf(84, 1000, many, many), rel=1e-6) if exact else p_fitted(*counts)[0]
    )


def test_pairs_that_are_screened_out_could_not_have_passed():
    # Every table of one line with up to 26 cars, and random ones of three lines.
    cells = [
        (k, a, b, n)
        for n in range(2, 27)
        for a in range(1, n)
        for b in range(1, n)
        for k in range(max(0, a + b - n), min(a, b) + 1)
    ]
    arrays = [np.array(part)[:, None] for part in zip(*cells, strict=True)]
    near = cmh_z(*arrays) <= SCREEN_Z
    assert p_more(*(part[near] for part in arrays)).min() > 0.05
    rng = np.random.default_rng(17)
    several = [table(rng.integers(0, 7, size=(3, 4))) for _ in range(3000)]
    arrays = [np.concatenate(parts) for parts in zip(*several, strict=True)]
    near = cmh_z(*arrays) <= SCREEN_Z
    assert p_more(*(part[near] for part in arrays)).min() > 0.05


def test_the_least_p_is_that_of_the_most_extreme_table():
    rng = np.random.default_rng(23)
    for _ in range(40):
        _, with_a, with_b, cars = table(rng.integers(0, 6, size=(3, 4)))
        assert np.exp(log_least(with_a, with_b, cars).sum()) == pytest.approx(
            p_more(np.minimum(with_a, with_b), with_a, with_b, cars)[0]
        )


def test_a_code_on_every_car_can_never_pass():
    assert log_least(np.array([9, 4]), np.array([3, 2]), np.array([9, 4])).tolist() == pytest.approx([0.0, 0.0])


def test_tarone_level_is_the_smallest_sufficient_divisor():
    # R. E. Tarone, Biometrics 46 (1990), 515-522: with least p-values that only two tests can bring
    # below .05 / 2, the divisor is 2 although nine tests are made.
    least = np.array([0.001, 0.002] + [0.04] * 7)
    assert tarone_level(least, 0.05) == pytest.approx(0.05 / 2)
    assert tarone_level(np.zeros(15), 0.05) == pytest.approx(0.05 / 15)
    assert tarone_level(np.zeros(0), 0.05) == 0.05
    rng = np.random.default_rng(29)
    for _ in range(50):
        least = rng.random(30) ** 3
        by_hand = next(k for k in range(1, 31) if (least <= 0.05 / k).sum() <= k)
        assert tarone_level(least, 0.05) == pytest.approx(0.05 / by_hand)


def test_fifteen_p_values_of_benjamini_and_hochberg():
    # Y. Benjamini and Y. Hochberg, Journal of the Royal Statistical Society B 57 (1995), 289-300, section 3.
    p_values = np.array(FIFTEEN)
    assert (benjamini_hochberg(p_values, 15) <= 0.05).sum() == 4
    assert (p_values <= tarone_level(np.zeros(15), 0.05)).sum() == 3
    # On the same values Holm (1979) keeps 3, Benjamini and Yekutieli (2001) with c(15) = 3.3182 keep 3.
    assert (holm(p_values, 15) <= 0.05).sum() == 3
    q_values = benjamini_yekutieli(p_values, 15)
    assert (q_values <= 0.05).sum() == 3
    assert q_values[0] / benjamini_hochberg(p_values, 15)[0] == pytest.approx(3.3182, abs=5e-5)


def test_stricter_corrections_equal_an_independent_library_also_when_tests_are_not_handed_over():
    multitest = pytest.importorskip("statsmodels.stats.multitest", reason="the reference here")
    rng = np.random.default_rng(43)
    p_values = np.concatenate([rng.random(30) * 0.01, rng.random(50)])
    padded = np.concatenate([p_values, np.ones(40)])
    assert holm(p_values, 120) == pytest.approx(multitest.multipletests(padded, method="holm")[1][:80])
    expected = multitest.multipletests(padded, method="fdr_by")[1][:80]
    assert benjamini_yekutieli(p_values, 120) == pytest.approx(expected)


def test_q_values_equal_an_independent_library_also_when_tests_are_not_handed_over():
    rng = np.random.default_rng(31)
    p_values = np.concatenate([rng.random(40) * 0.01, rng.random(60)])
    assert benjamini_hochberg(p_values, 100) == pytest.approx(false_discovery_control(p_values))
    padded = np.concatenate([p_values, np.ones(50)])
    assert benjamini_hochberg(p_values, 150) == pytest.approx(false_discovery_control(padded)[:100])


def test_fewer_tests_than_p_values_are_refused():
    with pytest.raises(ValueError, match=r"tests must be at least the number of p-values \(15\); got 14"):
        benjamini_hochberg(np.array(FIFTEEN), 14)


def test_codes_never_apart_have_an_exact_low_end():
    # Four cars with both, none with one alone, 16 with neither: the low end w of the conditional
    # interval makes the chance of "all four" 0.025.
    odds = odds_ratio(*table([(4, 0, 0, 16)]))
    assert (odds.value[0], odds.high[0]) == (np.inf, np.inf)
    weights = [hypergeom.pmf(k, 20, 4, 4) * odds.low[0] ** k for k in range(5)]
    assert weights[4] / sum(weights) == pytest.approx(0.025)


def test_pairs_of_many_lines_are_taken_in_portions_that_fit_in_memory(monkeypatch):
    rng = np.random.default_rng(47)
    joint = rng.integers(40, 50, size=(400, 20))
    arrays = (joint, joint, joint, 2 * joint)  # from none to all of them in a line can have both
    held, exact_low = [], effect_sizes._exact_low

    def watched(*given):
        held.append(given[0].size * int(given[0].max() + 1))
        return exact_low(*given)

    monkeypatch.setattr(effect_sizes, "_exact_low", watched)
    lows = odds_ratio(*arrays).low
    assert max(held) <= effect_sizes.CELLS
    assert 2 * len(held) * effect_sizes.CELLS >= sum(held) > effect_sizes.CELLS, "few portions, each nearly full"
    some = range(0, 400, 40)
    assert lows[::40] == pytest.approx([odds_ratio(*(part[k : k + 1] for part in arrays)).low[0] for k in some])


def test_no_knowledge_gives_no_bounds():
    odds = odds_ratio(*table([(0, 0, 0, 5)]))
    assert np.isnan(odds.value[0])
    assert (odds.low[0], odds.high[0]) == (0.0, np.inf)
    agree = breslow_day_test(*table([(0, 0, 0, 5), (0, 0, 0, 7)]))
    assert (agree.chi_square[0], agree.p_value[0]) == (0.0, 1.0)


def test_phi_is_the_correlation_within_lines():
    rng = np.random.default_rng(37)
    for _ in range(20):
        rows = rng.integers(1, 9, size=(2, 4))
        a, b = [], []
        for both, only_a, only_b, neither in rows:
            one = np.repeat([1, 1, 0, 0], [both, only_a, only_b, neither])
            other = np.repeat([1, 0, 1, 0], [both, only_a, only_b, neither])
            a.append(one - one.mean())
            b.append(other - other.mean())
        expected = np.corrcoef(np.concatenate(a), np.concatenate(b))[0, 1]
        assert within_line_phi(*table(rows))[0] == pytest.approx(expected)


def test_expected_joint_counts_of_lines_without_cars_are_zero():
    assert expected_joint(np.array([[0, 2]]), np.array([[0, 3]]), np.array([[0, 6]])).tolist() == [[0.0, 1.0]]


def test_lines_that_disagree_are_told():
    same = table([(8, 2, 2, 8), (16, 4, 4, 16)])
    opposite = table([(18, 2, 2, 18), (6, 14, 14, 6)])
    assert breslow_day_test(*same).p_value[0] > 0.9
    assert breslow_day_test(*opposite).p_value[0] < 0.001


def test_the_order_of_lines_changes_nothing():
    for first, second in combinations(RABBITS, 2):
        assert p_more(*table([first, second])) == pytest.approx(p_more(*table([second, first])))
