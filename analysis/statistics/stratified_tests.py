"""Do two codes meet more often than chance and the mix of models would let them?

Two codes can share a car merely because both are common on one model line.  So cars
are compared within their line only: given how many cars of a line carry each code, chance
alone fixes how many should carry both, and the answers of the lines are added up.  The
test is exact, so it also holds for the five cars that a small dealer has.

Arrays are [pairs, lines]: ``joint`` cars with both codes, ``with_a`` and ``with_b`` cars
with one of them, ``cars`` all cars in which both modules were read.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import cast

import numpy as np
import numpy.typing as npt
from scipy.special import betainc, gammaln

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
CELLS = 4_000_000  # numbers held at once by the exact test: about 100 MB with its helpers
EXACT_BELOW = 1e-6  # one minus the chances below has too few digits left for a smaller p-value
WIDEST = 256  # more possible joint counts than this: the fitted binomial tail is as good, and far cheaper


def log_least(with_a: Ints, with_b: Ints, cars: Ints) -> Floats:
    """Return the logarithm of the smallest p-value that each line could give, from its single counts alone.

    Args:
        with_a: Cars of a line with the first code, in any shape.
        with_b: Cars with the second code.
        cars: Cars in which both modules were read.

    Returns:
        In the same shape, the logarithm of the chance that the rarer code sits only on cars with the other;
        summed over the lines it is that of the smallest p-value a pair could ever reach.

    Source:
        R. E. Tarone, "A modified Bonferroni method for discrete data", Biometrics 46 (1990), 515-522.
    """
    fewer, more = np.minimum(with_a, with_b), np.maximum(with_a, with_b)
    table = log_factorials(int(cars.max(initial=0)))
    return cast(Floats, table[more] - table[more - fewer] - table[cars] + table[cars - fewer])


def null_distributions(with_a: Ints, with_b: Ints, cars: Ints, first: int | None = None) -> tuple[Ints, Floats]:
    """Return how the joint count would be spread if the codes were independent within each line.

    The joint count of one line is hypergeometric; over lines it is a sum of independent
    ones, so its distribution is their convolution.

    Args:
        with_a: [pairs, lines] cars with the first code.
        with_b: [pairs, lines] cars with the second code.
        cars: [pairs, lines] cars in which both modules were read.
        first: Return only so many chances of each pair; None returns all.

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
    width = width if first is None else min(width, first)
    chances, filled, lines = np.ones((len(with_a), 1)), 1, np.flatnonzero(spans.any(axis=0))
    a, b, n, fewest = (part[:, lines].T for part in (with_a, with_b, cars, least))
    steps = _hypergeometric(a, b, n, fewest, width)
    for step, span in zip(steps, np.minimum(spans[:, lines].max(axis=0, initial=0), width - 1), strict=True):
        summed = np.zeros((len(with_a), min(filled + span, width)))
        for more in range(span + 1):
            upto = min(filled, width - more)
            summed[:, more : more + upto] += chances[:, :upto] * step[:, more : more + 1]
        chances, filled = summed, summed.shape[1]
    return least.sum(axis=1), chances


def _hypergeometric(with_a: Ints, with_b: Ints, cars: Ints, least: Ints, most: int) -> Floats:
    """Return the chances of the joint counts from the least on, ``most`` at most, along one more axis."""
    table, top = log_factorials(int(cars.max(initial=0))), np.minimum(with_a, with_b)
    fixed = table[with_a] + table[cars - with_a] + table[with_b] + table[cars - with_b] - table[cars]
    joint = least[..., None] + np.arange(min(int((top - least).max(initial=0)) + 1, most))
    valid = joint <= top[..., None]
    joint = np.where(valid, joint, least[..., None])
    a, b, n = with_a[..., None], with_b[..., None], cars[..., None]
    logs = fixed[..., None] - table[joint] - table[a - joint] - table[b - joint] - table[n - a - b + joint]
    return np.where(valid, np.exp(logs), 0.0)


def p_more(joint: Ints, with_a: Ints, with_b: Ints, cars: Ints) -> Floats:
    """Return the exact one-sided p-value: chance of so many joint cars or more, lines held fixed.

    Pairs with more than ``WIDEST`` possible joint counts get the tail of :func:`p_fitted`.

    Args:
        joint: [pairs, lines] cars with both codes, or [pairs, 1] their sum, which is all that matters.
        with_a: [pairs, lines] cars with the first code.
        with_b: [pairs, lines] cars with the second code.
        cars: [pairs, lines] cars in which both modules were read.

    Returns:
        [pairs] p-values.
    """
    least = np.maximum(with_a + with_b - cars, 0)
    spans, at = (np.minimum(with_a, with_b) - least).sum(axis=1), joint.sum(axis=1) - least.sum(axis=1)
    answer, wide = np.zeros(len(joint)), spans > WIDEST
    answer[wide] = p_fitted(joint[wide], with_a[wide], with_b[wide], cars[wide])
    low = np.flatnonzero(~wide & (at > 0) & (2 * at <= spans))
    for some in _alike(low, at[low], cars.shape[1]):
        most = int(at[some].max())
        _, chances = null_distributions(with_a[some], with_b[some], cars[some], most)
        answer[some] = 1 - np.minimum(np.where(np.arange(most) < at[some, None], chances, 0.0).sum(axis=1), 1.0)
    whole = np.flatnonzero(~wide & (answer < EXACT_BELOW))
    for some in _alike(whole, spans[whole], cars.shape[1]):
        first, chances = null_distributions(with_a[some], with_b[some], cars[some])
        answer[some] = upper_tail(chances, joint[some].sum(axis=1) - first)
    return answer


def _alike(members: Ints, widths: Ints, lines: int) -> Iterator[Ints]:
    """Return the members in portions of about equal width that fit in memory."""
    size = np.ceil(np.log2(widths + 1)).astype(np.int64)
    for power in np.unique(size):
        alike, chunk = members[size == power], max(1, (CELLS >> int(power)) // lines)
        yield from (alike[at : at + chunk] for at in range(0, len(alike), chunk))


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
    third_moment = (variances * (n - 2 * with_a) * (n - 2 * with_b) / (n * (n - 2))).sum(axis=1)
    return fitted_tail(
        joint.sum(axis=1), expected_joint(with_a, with_b, cars).sum(axis=1), variances.sum(axis=1), third_moment
    )


def fitted_tail(joint: Ints, mean: Floats, variance: Floats, third_moment: Floats) -> Floats:
    """Return the chance of ``joint`` or more under a shifted binomial with a mean, variance and third central moment.

    Args:
        joint: [pairs] cars with both codes, over all lines.
        mean: [pairs] the mean of that count if the codes were independent.
        variance: [pairs] its variance.
        third_moment: [pairs] its third central moment.

    Returns:
        [pairs] chances.
    """
    chance, trials = fitted_binomial(variance, third_moment)
    at = joint - mean + trials * chance
    # P(at least k of n) is the incomplete beta function, which also takes broken k and n.
    inside = np.clip(at, 1e-9, trials)
    return cast(Floats, betainc(inside, trials - inside + 1, chance))


def fitted_binomial(variance: Floats, third_moment: Floats) -> tuple[Floats, Floats]:
    """Return chance and (broken) number of trials of the binomial with this variance and third central moment."""
    variance = np.maximum(variance, 1e-300)
    chance = np.clip((1 - third_moment / variance) / 2, 1e-9, 1 - 1e-9)
    return chance, variance / (chance * (1 - chance))


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
