"""Do two codes meet more often than chance and the mix of models would let them?

Two codes can share a car merely because both are common on one model line.  So cars
are compared within their line only: given how many cars of a line carry each code, chance
alone fixes how many should carry both, and the answers of the lines are added up.  The
test is exact, so it also holds for the five cars that a small dealer has.

Arrays are [pairs, lines]: ``joint`` cars with both codes, ``with_a`` and ``with_b`` cars
with one of them, ``cars`` all cars in which both modules were read.
"""

from __future__ import annotations

from functools import lru_cache
from typing import cast

import numpy as np
import numpy.typing as npt
from scipy.special import betainc, gammaln

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
CELLS = 4_000_000  # numbers held at once by the exact test: about 100 MB with its helpers
WIDEST = 256  # more possible joint counts than this: the fitted binomial tail is as good, and far cheaper


def least_p(with_a: Ints, with_b: Ints, cars: Ints) -> Floats:
    """Return the smallest p-value a pair could ever reach, from its single counts alone.

    Args:
        with_a: [pairs, lines] cars with the first code.
        with_b: [pairs, lines] cars with the second code.
        cars: [pairs, lines] cars in which both modules were read.

    Returns:
        [pairs] the chance that in every line the rarer code sits only on cars with the other.

    Source:
        R. E. Tarone, "A modified Bonferroni method for discrete data", Biometrics 46 (1990), 515-522.
    """
    fewer, more = np.minimum(with_a, with_b), np.maximum(with_a, with_b)
    table = log_factorials(int(cars.max(initial=0)))
    logs = table[more] - table[more - fewer] - table[cars] + table[cars - fewer]
    return cast(Floats, np.exp(logs.sum(axis=-1)))


def null_distributions(with_a: Ints, with_b: Ints, cars: Ints) -> tuple[Ints, Floats]:
    """Return how the joint count would be spread if the codes were independent within each line.

    The joint count of one line is hypergeometric; over lines it is a sum of independent
    ones, so its distribution is their convolution.

    Args:
        with_a: [pairs, lines] cars with the first code.
        with_b: [pairs, lines] cars with the second code.
        cars: [pairs, lines] cars in which both modules were read.

    Returns:
        ``(least, chances)``: ``least`` [pairs] the smallest possible joint count, ``chances``
        [pairs, width] the probability of ``least``, ``least + 1`` and so on.

    Source:
        A. Agresti, "A survey of exact inference for contingency tables", Statistical
        Science 7 (1992), 131-153: conditional inference for several 2 x 2 tables.
    """
    least = np.maximum(with_a + with_b - cars, 0)
    spans = np.minimum(with_a, with_b) - least
    width = int(spans.sum(axis=1).max(initial=0)) + 1
    chances = np.zeros((len(with_a), width))
    chances[:, 0] = 1.0
    for line in np.flatnonzero(spans.any(axis=0)):
        step = _hypergeometric(
            with_a[:, line], with_b[:, line], cars[:, line], least[:, line], int(spans[:, line].max())
        )
        summed = chances * step[:, :1]
        for more in range(1, step.shape[1]):
            summed[:, more:] += chances[:, :-more] * step[:, more : more + 1]
        chances = summed
    return least.sum(axis=1), chances


def _hypergeometric(with_a: Ints, with_b: Ints, cars: Ints, least: Ints, span: int) -> Floats:
    table = log_factorials(int(cars.max(initial=0)))
    fixed = table[with_a] + table[cars - with_a] + table[with_b] + table[cars - with_b] - table[cars]
    joint = least[:, None] + np.arange(span + 1)
    valid = joint <= np.minimum(with_a, with_b)[:, None]
    joint = np.where(valid, joint, least[:, None])
    a, b, n = with_a[:, None], with_b[:, None], cars[:, None]
    logs = fixed[:, None] - table[joint] - table[a - joint] - table[b - joint] - table[n - a - b + joint]
    return np.where(valid, np.exp(logs), 0.0)


def p_more(joint: Ints, with_a: Ints, with_b: Ints, cars: Ints) -> Floats:
    """Return the exact one-sided p-value: chance of so many joint cars or more, lines held fixed.

    Pairs with more than ``WIDEST`` possible joint counts get the tail of :func:`p_fitted`.

    Args:
        joint: [pairs, lines] cars with both codes.
        with_a: [pairs, lines] cars with the first code.
        with_b: [pairs, lines] cars with the second code.
        cars: [pairs, lines] cars in which both modules were read.

    Returns:
        [pairs] p-values.
    """
    spans = (np.minimum(with_a, with_b) - np.maximum(with_a + with_b - cars, 0)).sum(axis=1)
    answer = np.zeros(len(joint))
    wide = spans > WIDEST
    answer[wide] = p_fitted(joint[wide], with_a[wide], with_b[wide], cars[wide])
    size = np.ceil(np.log2(spans + 1)).astype(np.int64)
    for power in np.unique(size[~wide]):
        members = np.flatnonzero((size == power) & ~wide)
        chunk = max(1, CELLS >> int(power))
        for at in range(0, len(members), chunk):
            some = members[at : at + chunk]
            least, chances = null_distributions(with_a[some], with_b[some], cars[some])
            answer[some] = upper_tail(chances, joint[some].sum(axis=1) - least)
    return answer


def p_fitted(joint: Ints, with_a: Ints, with_b: Ints, cars: Ints) -> Floats:
    """Return the one-sided p-value from a shifted binomial with the joint count's mean, variance and skewness.

    A sum of hypergeometrics is a sum of independent yes-or-no answers with unequal chances, so a
    binomial that shares its first three moments has nearly the same tail.

    Args:
        joint: [pairs, lines] cars with both codes.
        with_a: [pairs, lines] cars with the first code.
        with_b: [pairs, lines] cars with the second code.
        cars: [pairs, lines] cars in which both modules were read.

    Returns:
        [pairs] p-values; for wide pairs within a few per cent of the exact ones.

    Source:
        V. A. Vatutin and V. G. Mikhailov, "Limit theorems for the number of empty cells in an
        equiprobable scheme for group allocation of particles", Theory of Probability and its
        Applications 27 (1982), 734-743: the hypergeometric as a sum of independent answers.
    """
    variances = _variance(with_a, with_b, cars)
    n = np.maximum(cars, 3).astype(np.float64)
    leaning = variances * (n - 2 * with_a) * (n - 2 * with_b) / (n * (n - 2))
    mean, variance = expected_joint(with_a, with_b, cars).sum(axis=1), np.maximum(variances.sum(axis=1), 1e-300)
    chance = np.clip((1 - leaning.sum(axis=1) / variance) / 2, 1e-9, 1 - 1e-9)
    trials = variance / (chance * (1 - chance))
    at = joint.sum(axis=1) - mean + trials * chance
    # P(at least k of n) is the incomplete beta function, which also takes broken k and n.
    inside = np.clip(at, 1e-9, trials)
    return cast(Floats, betainc(inside, trials - inside + 1, chance))


def upper_tail(chances: Floats, at: Ints) -> Floats:
    """Return, for each row of chances, the sum from position ``at`` on (at most 1)."""
    places = np.arange(chances.shape[1])
    return cast(Floats, np.minimum(np.where(places >= at[:, None], chances, 0.0).sum(axis=1), 1.0))


def cmh_z(joint: Ints, with_a: Ints, with_b: Ints, cars: Ints, correction: float = 0.0) -> Floats:
    """Return how many standard deviations the joint count lies above what chance would give.

    Args:
        joint: [pairs, lines] cars with both codes.
        with_a: [pairs, lines] cars with the first code.
        with_b: [pairs, lines] cars with the second code.
        cars: [pairs, lines] cars in which both modules were read.
        correction: Taken off the distance towards zero; 0.5 is the usual continuity correction.

    Returns:
        [pairs] signed z; 0 where the counts leave no freedom.  Its square is the
        Cochran-Mantel-Haenszel chi-square.

    Source:
        N. Mantel and W. Haenszel, "Statistical aspects of the analysis of data from
        retrospective studies of disease", Journal of the National Cancer Institute 22 (1959), 719-748.
    """
    distance = joint.sum(axis=1) - expected_joint(with_a, with_b, cars).sum(axis=1)
    spread = np.sqrt(_variance(with_a, with_b, cars).sum(axis=1))
    distance = np.sign(distance) * np.maximum(np.abs(distance) - correction, 0.0)
    return cast(Floats, np.divide(distance, spread, out=np.zeros_like(spread), where=spread > 0))


def _variance(with_a: Ints, with_b: Ints, cars: Ints) -> Floats:
    n = np.maximum(cars, 2).astype(np.float64)
    return with_a * (n - with_a) * with_b * (n - with_b) * (cars > 1) / (n * n * (n - 1))


def expected_joint(with_a: Ints, with_b: Ints, cars: Ints) -> Floats:
    """Return [pairs, lines] the joint cars that chance alone would give."""
    return with_a * with_b / np.maximum(cars, 1)


def log_factorials(upto: int) -> Floats:
    """Return the logarithms of 0!, 1!, ... and at least ``upto``!."""
    return _log_factorials(1 << max(upto, 1).bit_length())


@lru_cache(maxsize=8)
def _log_factorials(size: int) -> Floats:
    return cast(Floats, gammaln(np.arange(size) + 1.0))
