"""How strongly do two codes hang together, all lines taken into one figure?

The odds ratio says by what factor the odds of one code rise on cars that carry the
other, within the same model line: 1 is no link, 10 is a strong one.  Its interval is what
the lists are sorted by: a link seen in four cars can look enormous and still be weak
knowledge.  A second test asks whether the lines agree; where they do not, one
figure for all is a simplification.

Arrays are [pairs, lines], as in the tests of association.
"""

from __future__ import annotations

from typing import NamedTuple, cast

import numpy as np
import numpy.typing as npt
from scipy.stats import chi2, norm

from analysis.statistics.stratified_tests import expected_joint, null_distributions, upper_tail

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
AT_ONCE = 500  # pairs whose exact low end is sought together, fewer where there are
CELLS = 200_000  # more numbers than this, pairs times lines times joint counts


class OddsRatio(NamedTuple):
    """Common odds ratio and its interval, [pairs] each; infinite where one code never came without the other."""

    value: Floats
    low: Floats
    high: Floats


def odds_ratio(joint: Ints, with_a: Ints, with_b: Ints, cars: Ints, confidence: float = 0.95) -> OddsRatio:
    """Return the Mantel-Haenszel odds ratio within lines, with its interval.

    Where no car has just one of the two codes the ratio is infinite and the usual variance
    does not exist; the low end then comes from the exact conditional distribution.

    Args:
        joint: [pairs, lines] cars with both codes.
        with_a: [pairs, lines] cars with the first code.
        with_b: [pairs, lines] cars with the second code.
        cars: [pairs, lines] cars in which both modules were read.
        confidence: Two-sided coverage, between 0 and 1 exclusive.

    Returns:
        Value, low and high, [pairs] each.  Nothing known gives value nan and 0 to infinity.

    Source:
        J. Robins, N. Breslow and S. Greenland, "Estimators of the Mantel-Haenszel variance
        consistent in both sparse data and large-strata limiting models", Biometrics 42 (1986), 311-323.
    """
    n = np.maximum(cars, 1)
    only_a, only_b, neither = with_a - joint, with_b - joint, cars - with_a - with_b + joint
    agree, differ = (joint + neither) / n, (only_a + only_b) / n
    for_link, against = joint * neither / n, only_a * only_b / n
    r, s = for_link.sum(axis=1), against.sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        value = r / s
        variance = (agree * for_link).sum(axis=1) / (2 * r * r) + (differ * against).sum(axis=1) / (2 * s * s)
        variance += (agree * against + differ * for_link).sum(axis=1) / (2 * r * s)
        reach = np.exp(norm.isf((1 - confidence) / 2) * np.sqrt(variance))
        low, high = value / reach, value * reach
    usual = (r > 0) & (s > 0)
    low, high = np.where(usual, low, 0.0), np.where(usual, high, np.inf)
    never_apart = np.flatnonzero((r > 0) & (s == 0))
    portion = _portion(*(part[never_apart] for part in (with_a, with_b, cars)))
    for at in range(0, len(never_apart), portion):
        some = never_apart[at : at + portion]
        low[some] = _exact_low(joint[some], with_a[some], with_b[some], cars[some], (1 - confidence) / 2)
    return OddsRatio(cast(Floats, value), low, high)


def _portion(with_a: Ints, with_b: Ints, cars: Ints) -> int:
    """Return how many pairs are looked at together: so many that their lines fit in memory."""
    spans = np.minimum(with_a, with_b) - np.maximum(with_a + with_b - cars, 0)
    of_a_pair: int = max(spans.shape[1], 1) * (int(spans.max(initial=0)) + 1)
    return max(1, min(AT_ONCE, CELLS // of_a_pair))


def _exact_low(joint: Ints, with_a: Ints, with_b: Ints, cars: Ints, tail: float) -> Floats:
    """Return the odds ratios at which so many joint cars or more have just the chance ``tail`` (by halving)."""
    least, chances = null_distributions(with_a, with_b, cars)
    at = joint.sum(axis=1) - least
    low, high = np.full(len(joint), -30.0), np.full(len(joint), 30.0)
    for _ in range(60):
        middle = (low + high) / 2
        too_low = upper_tail(tilted(chances, middle), at) < tail
        low, high = np.where(too_low, middle, low), np.where(too_low, high, middle)
    return cast(Floats, np.exp((low + high) / 2))


def tilted(chances: Floats, log_odds: Floats) -> Floats:
    """Return the distributions of joint counts at other odds ratios than 1, given as one logarithm per row."""
    with np.errstate(divide="ignore"):
        logs = np.log(chances) + log_odds[:, None] * np.arange(chances.shape[1])
    weights = np.exp(logs - logs.max(axis=1, keepdims=True))
    return cast(Floats, weights / weights.sum(axis=1, keepdims=True))


class Homogeneity(NamedTuple):
    """Do the lines agree on the odds ratio?  Chi-square, degrees of freedom and p-value, [pairs] each."""

    chi_square: Floats
    freedom: Ints
    p_value: Floats


def breslow_day_test(joint: Ints, with_a: Ints, with_b: Ints, cars: Ints) -> Homogeneity:
    """Test whether one odds ratio fits all lines; a small p-value means "differs by model line".

    Lines whose counts leave no freedom are left out.  With few cars per line the test has
    little power: a large p-value is no proof that the lines agree.

    Args:
        joint: [pairs, lines] cars with both codes.
        with_a: [pairs, lines] cars with the first code.
        with_b: [pairs, lines] cars with the second code.
        cars: [pairs, lines] cars in which both modules were read.

    Returns:
        The test per pair; p is 1 where fewer than two lines can speak or the ratio is infinite or 0.

    Source:
        N. E. Breslow and N. E. Day, Statistical Methods in Cancer Research I (1980), section 4.4,
        with the correction of R. E. Tarone, "On heterogeneity tests based on efficient
        scores", Biometrika 72 (1985), 91-95.
    """
    common = odds_ratio(joint, with_a, with_b, cars).value
    speaks = (with_a > 0) & (with_b > 0) & (with_a < cars) & (with_b < cars)
    fits = np.isfinite(common) & (common > 0)
    ratio = np.where(fits, common, 1.0)[:, None]
    at = _fitted_joint(ratio, with_a, with_b, cars)
    with np.errstate(divide="ignore", invalid="ignore"):
        inverse = 1 / at + 1 / (with_a - at) + 1 / (with_b - at) + 1 / (cars - with_a - with_b + at)
    speaks &= np.isfinite(inverse)
    spread = np.divide(1.0, inverse, out=np.zeros_like(inverse), where=speaks)
    gap = np.where(speaks, joint - at, 0.0)
    total = np.where(speaks, gap * gap * np.where(speaks, inverse, 0.0), 0.0).sum(axis=1)
    total -= np.divide(gap.sum(axis=1) ** 2, spread.sum(axis=1), out=np.zeros(len(gap)), where=spread.sum(axis=1) > 0)
    freedom = np.maximum(speaks.sum(axis=1) - 1, 0)
    known = fits & (freedom > 0)
    p_value = np.where(known, chi2.sf(total, np.maximum(freedom, 1)), 1.0)
    return Homogeneity(np.where(known, total, 0.0), freedom, p_value)


def _fitted_joint(ratio: Floats, with_a: Ints, with_b: Ints, cars: Ints) -> Floats:
    """Return the joint count that would make each line's own odds ratio the common one."""
    square = 1 - ratio
    linear = cars - with_a - with_b + ratio * (with_a + with_b)
    constant = -ratio * with_a * with_b
    root = np.sqrt(np.maximum(linear * linear - 4 * square * constant, 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        answer = np.where(np.abs(square) < 1e-12, -constant / linear, (root - linear) / (2 * square))
    return cast(Floats, np.where(linear > 0, answer, 0.0))


def within_line_phi(joint: Ints, with_a: Ints, with_b: Ints, cars: Ints) -> Floats:
    """Return the correlation of two codes within lines, -1 to 1; with one line it is the usual phi.

    Args:
        joint: [pairs, lines] cars with both codes.
        with_a: [pairs, lines] cars with the first code.
        with_b: [pairs, lines] cars with the second code.
        cars: [pairs, lines] cars in which both modules were read.

    Returns:
        [pairs] correlations; 0 where the counts leave no freedom.
    """
    n = np.maximum(cars, 1)
    together = (joint - expected_joint(with_a, with_b, cars)).sum(axis=1)
    spread = np.sqrt((with_a * (n - with_a) / n).sum(axis=1) * (with_b * (n - with_b) / n).sum(axis=1))
    return cast(Floats, np.divide(together, spread, out=np.zeros_like(spread), where=spread > 0))
