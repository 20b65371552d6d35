"""What chance alone would do to every pair, at the cost of a few products of tables.

Between the codes of two modules the same cars are asked, line by line.  So what
chance would give for all pairs between them is one product of two small tables instead
of a sum for each pair.  That tells quickly which pairs need no exact test.
"""

from __future__ import annotations

from itertools import pairwise
from math import log
from typing import NamedTuple, cast

import numpy as np
import numpy.typing as npt
from scipy.special import gammainc

from analysis.mining.car_counts import CarCounts
from analysis.mining.episode_arrays import Ints, run_starts
from analysis.statistics.stratified_tests import fitted_binomial, fitted_tail, log_least

Floats = npt.NDArray[np.float64]
FIT_FROM = 2.0  # variance of the joint count by chance from which the fitted tail is trusted to
FIT_IS_OFF = 4.0  # this factor: 1.02 was the most by which it was too large
FINEST = 1e-10  # smaller bounds are not told from 0: no level of a list is as small
PORTION = 100_000  # pairs looked at together


class Moments(NamedTuple):
    """Mean, variance and third central moment of the joint cars by chance alone, [pairs] each."""

    mean: Floats
    variance: Floats
    third_moment: Floats


def chance_moments(counts: CarCounts) -> Moments:
    """Return the moments of the joint cars of every pair that met, if the codes were independent in each line.

    Args:
        counts: Cars per line, code and pair.

    Returns:
        The moments, in the order of the pairs; the sums of those of one hypergeometric count a line.
    """
    module_of, codes = counts.module_of, len(counts.codes)
    runs = [*np.flatnonzero(run_starts(module_of)).tolist(), codes]  # the codes of a module stand together
    scales, factors = _scales(counts.both_read), np.zeros((3, *counts.present.shape))
    for begin, end in pairwise(runs):
        factors[:, begin:end] = _factors(counts.present[begin:end], counts.both_read[module_of[begin]])
    found = np.zeros((3, len(counts.first)))
    for begin, end in pairwise(runs):
        a, tables = module_of[begin], np.zeros((3, end - begin, codes))
        left = factors[:, begin:end] / scales[:, None, a]
        for start, stop in pairwise(runs[runs.index(begin) :]):
            right = factors[:, start:stop, a].transpose(0, 2, 1)
            tables[:, :, start:stop] = left[:, :, module_of[start]] @ right
        pairs = slice(*np.searchsorted(counts.first, [begin, end]))
        places = (counts.first[pairs] - begin) * codes + counts.second[pairs]
        found[:, pairs] = tables.reshape(3, -1).take(places, axis=1)
    return Moments(*found)


def _factors(with_code: Ints, cars: Ints) -> Floats:
    """Return what one code adds to mean, variance and third moment, [3] and the shape of the cars with the code."""
    spread = with_code * (np.maximum(cars, 2.0) - with_code) * (cars > 1)
    return np.stack([with_code, spread, spread * (np.maximum(cars, 3.0) - 2 * with_code)])


def _scales(cars: Ints) -> Floats:
    """Return what the products of the two codes' factors are to be divided by, [3] and the shape of the cars."""
    two, three = np.maximum(cars, 2.0), np.maximum(cars, 3.0)
    return np.stack([np.maximum(cars, 1.0), two * two * (two - 1), two * two * (two - 1) * three * (three - 2)])


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
    mean, variance, third_moment = chance
    share, trials = fitted_binomial(variance, third_moment)
    trusted = (variance >= FIT_FROM) & (joint - mean + trials * share <= trials / 2)
    squares = np.maximum(mean - variance, 0.0)  # the sum of the squared chances of the single answers
    away = -np.expm1(-mean) * np.divide(squares, mean, out=np.zeros_like(mean), where=mean > 0)
    bounds = gammainc(joint, mean) - away
    fitted = fitted_tail(joint[trusted], *(moment[trusted] for moment in chance)) / FIT_IS_OFF
    bounds[trusted] = np.maximum(bounds[trusted], fitted)
    return cast(Floats, np.where(bounds < FINEST, 0.0, bounds))


def least_levels(counts: CarCounts, level: float) -> Floats:
    """Return the smallest p-values that pairs of codes, met or not, could reach, where that is ``level`` or less.

    The largest line is asked first; where it alone makes the p-value so small that it counts as reachable at
    any level that may be asked for later (``level`` shared among all pairs), the others are not asked.

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
    logs, undecided = np.zeros(len(one)), np.arange(len(one))
    a, b = counts.module_of[one[:1]], counts.module_of[other[:1]]
    lines = np.argsort(-counts.both_read[a, b].ravel(), kind="stable")[:, None]
    for some in (lines[:1], lines[1:]):
        with_a, with_b = counts.present[one[undecided], b, some], counts.present[other[undecided], a, some]
        logs[undecided] += log_least(with_a, with_b, counts.both_read[a, b, some]).sum(axis=0)
        undecided = undecided[logs[undecided] > floor]
    return logs
