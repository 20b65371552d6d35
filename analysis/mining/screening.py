"""What chance alone would do to every pair, at the cost of a few products of tables.

Between the codes of two modules the same cars are asked, line by line.  So what
chance would give for all pairs between them is one product of two small tables instead
of a sum for each pair.  That tells quickly which pairs need no exact test.
"""

from __future__ import annotations

from math import log
from typing import NamedTuple, cast

import numpy as np
import numpy.typing as npt
from scipy.special import gammainc

from analysis.mining.association import fitted_binomial, fitted_tail, log_least
from analysis.mining.counts import CarCounts
from analysis.mining.spells import HALF, Ints

Floats = npt.NDArray[np.float64]
FIT_FROM = 2.0  # variance of the joint count by chance from which the fitted tail is trusted to
FIT_IS_OFF = 4.0  # this factor: 1.0 was the most by which it was too large
FINEST = 1e-10  # smaller bounds are not told from 0: no level of a list is as small
PORTION = 1_000_000  # pairs looked at together


class Moments(NamedTuple):
    """Mean, variance and third central moment of the joint cars by chance alone, [pairs] each."""

    mean: Floats
    variance: Floats
    leaning: Floats


def chance_moments(counts: CarCounts) -> Moments:
    """Return the moments of the joint cars of every pair that met, if the codes were independent in each line.

    Args:
        counts: Cars per line, code and pair.

    Returns:
        The moments, in the order of the pairs; the sums of those of one hypergeometric count a line.
    """
    of_module = counts.codes_by_module()
    inside = np.zeros(len(counts.codes), dtype=np.int64)
    for codes in of_module:
        inside[codes] = np.arange(len(codes))
    block = counts.module_of[counts.first] * len(of_module) + counts.module_of[counts.second]
    packed = np.sort((block << HALF) | np.arange(len(block)))
    order = packed & ((1 << HALF) - 1)
    ends = np.searchsorted(packed >> HALF, np.arange(len(of_module) ** 2 + 1))
    found = np.zeros((3, len(block)))
    for number in np.flatnonzero(np.diff(ends)):
        a, b = divmod(int(number), len(of_module))
        pairs = order[ends[number] : ends[number + 1]]
        with_a, with_b = counts.present[of_module[a], b], counts.present[of_module[b], a]
        tables = _products(with_a, with_b, counts.both_read[a, b])
        places = inside[counts.first[pairs]], inside[counts.second[pairs]]
        for moment, table in zip(found, tables, strict=True):
            moment[pairs] = table[places]
    return Moments(*found)


def _products(with_a: Ints, with_b: Ints, cars: Ints) -> tuple[Floats, Floats, Floats]:
    """Return [first codes, second codes] mean, variance and third moment from [codes, lines] and [lines] cars."""
    mean = with_a @ (with_b / np.maximum(cars, 1)).T
    two, three = np.maximum(cars, 2).astype(np.float64), np.maximum(cars, 3).astype(np.float64)
    spread_a, spread_b = with_a * (two - with_a), with_b * (two - with_b) * (cars > 1) / (two * two * (two - 1))
    leaning = (spread_a * (three - 2 * with_a)) @ (spread_b * (three - 2 * with_b) / (three * (three - 2))).T
    return mean, spread_a @ spread_b.T, leaning


def p_at_least(joint: Ints, chance: Moments) -> Floats:
    """Return a value that the exact p-value does not fall below.

    By chance the joint count is a sum of independent yes-or-no answers, and such a sum differs from a Poisson count
    of the same mean by no more than a bound that its variance tells.  Where many cars are asked and the count is
    far from the largest possible, the fitted tail is closer than that.

    Args:
        joint: [pairs] cars with both codes, over all lines, at least 1.
        chance: [pairs] the moments of that count by chance alone.

    Returns:
        [pairs] values from 0 on.

    Source:
        A. D. Barbour and P. Hall, "On the rate of Poisson convergence", Mathematical Proceedings of the
        Cambridge Philosophical Society 95 (1984), 473-480, theorem 1, for the Poisson count.
    """
    mean, variance, leaning = chance
    share, trials = fitted_binomial(variance, leaning)
    trusted = (variance >= FIT_FROM) & (joint - mean + trials * share <= trials / 2)
    squares = np.maximum(mean - variance, 0.0)  # the sum of the squared chances of the single answers
    away = -np.expm1(-mean) * np.divide(squares, mean, out=np.zeros_like(mean), where=mean > 0)
    fitted = np.where(trusted, fitted_tail(joint, *chance) / FIT_IS_OFF, 0.0)
    bounds = np.maximum(gammainc(joint, mean) - away, fitted)
    return cast(Floats, np.where(bounds < FINEST, 0.0, bounds))


def least_levels(counts: CarCounts, level: float) -> Floats:
    """Return the smallest p-values that pairs of codes, met or not, could reach, where that is ``level`` or less.

    Lines are asked one after the other, the largest first, until a p-value is so small that it counts as
    reachable at any level that may be asked for later: ``level`` shared among all pairs.

    Args:
        counts: Cars per line, code and pair.
        level: The largest p-value of interest.

    Returns:
        The p-values in no order that matters; those below ``level`` divided by the number of all pairs are
        too large, but below that.
    """
    floor = log(level / max(len(counts.codes) ** 2, 1))
    of_module = counts.codes_by_module()
    found = [np.zeros(0)]
    for a, first in enumerate(of_module):
        for b, second in enumerate(of_module[a:], start=a):
            rows = max(1, PORTION // max(len(second), 1))
            for at in range(0, len(first), rows):
                one, other = np.meshgrid(first[at : at + rows], second, indexing="ij")
                kept = one < other if a == b else np.ones_like(one, dtype=bool)
                logs = _log_least(counts, one[kept], other[kept], floor)
                found.append(np.exp(logs[logs <= log(level)]))
    return np.concatenate(found)


def _log_least(counts: CarCounts, one: Ints, other: Ints, floor: float) -> Floats:
    """Return the logarithms for pairs between two modules."""
    logs = np.zeros(len(one))
    if not len(one):
        return logs
    a, b = counts.module_of[one[0]], counts.module_of[other[0]]
    cars, undecided = counts.both_read[a, b], np.arange(len(one))
    for line in np.argsort(-cars, kind="stable"):
        with_a, with_b = counts.present[one[undecided], b, line], counts.present[other[undecided], a, line]
        logs[undecided] += log_least(with_a, with_b, np.full_like(with_a, cars[line]))
        undecided = undecided[logs[undecided] > floor]
        if not len(undecided):
            break
    return logs
