"""How sure must one pair be when thousands are looked at?

Looking at thousands of pairs will always turn up a few by luck.  Two levels guard against
that: "likely" keeps the expected share of false pairs at or below the q given, "confirmed"
keeps the chance of even one false pair at or below 5 in 100.  Pairs of codes so rare that
they could never pass are left out of the count beforehand, on their single numbers alone.

Pure functions of p-values.
"""

from __future__ import annotations

from typing import cast

import numpy as np
import numpy.typing as npt
from scipy.special import digamma

Floats = npt.NDArray[np.float64]


def tarone_level(least: Floats, level: float) -> float:
    """Return the p-value at or below which a pair is "confirmed".

    Args:
        least: Smallest p-value each pair could reach, from ``association.least_p``.
        level: Chance of even one false pair that is accepted, between 0 and 1.

    Returns:
        ``level`` divided by the smallest k for which at most k pairs could pass ``level / k``.

    Source:
        R. E. Tarone, Biometrics 46 (1990), 515-522.
    """
    ordered = np.sort(least)
    low, high = 1, max(len(ordered), 1)
    while low < high:
        middle = (low + high) // 2
        if np.searchsorted(ordered, level / middle, side="right") <= middle:
            high = middle
        else:
            low = middle + 1
    return level / low


def benjamini_hochberg(p_values: Floats, tests: int) -> Floats:
    """Return the q-value of each p-value: the false share among all that are no larger.

    Args:
        p_values: P-values, in any order; those of tests that are not handed over count as 1.
        tests: Number of all tests, at least ``len(p_values)``.

    Returns:
        Q-values in the same order, each between 0 and 1.

    Raises:
        ValueError: ``tests`` is smaller than the number of p-values.

    Source:
        Y. Benjamini and Y. Hochberg, "Controlling the false discovery rate", Journal of the
        Royal Statistical Society B 57 (1995), 289-300.  ``scipy.stats.false_discovery_control`` wants every p-value
        in hand; most pairs are known to be hopeless before theirs is computed, and only their number comes in here.
    """
    if tests < len(p_values):
        raise ValueError(f"tests must be at least the number of p-values ({len(p_values)}); got {tests}")
    order = np.argsort(p_values, kind="stable")
    scaled = p_values[order] * tests / np.arange(1, len(p_values) + 1)
    q_values = np.empty_like(scaled)
    q_values[order] = np.minimum(np.minimum.accumulate(scaled[::-1])[::-1], 1.0)
    return q_values


def benjamini_yekutieli(p_values: Floats, tests: int) -> Floats:
    """Return q-values that hold whatever the tests have to do with each other.

    The q-values of Benjamini and Hochberg hold if tests do not work against each other; these hold always and
    are larger by 1 + 1/2 + ... + 1/``tests``.

    Args:
        p_values: As for :func:`benjamini_hochberg`.
        tests: As for :func:`benjamini_hochberg`.

    Returns:
        Q-values in the same order, each between 0 and 1.

    Raises:
        ValueError: ``tests`` is smaller than the number of p-values.

    Source:
        Y. Benjamini and D. Yekutieli, "The control of the false discovery rate in multiple testing under
        dependency", Annals of Statistics 29 (2001), 1165-1188, theorem 1.3.
    """
    larger = digamma(tests + 1) + np.euler_gamma
    return cast(Floats, np.minimum(benjamini_hochberg(p_values, tests) * larger, 1.0))


def holm(p_values: Floats, tests: int) -> Floats:
    """Return p-values that keep the chance of even one false pair, whatever the tests have to do with each other.

    Args:
        p_values: P-values, in any order; those of tests that are not handed over are larger than these.
        tests: Number of all tests, at least ``len(p_values)``.

    Returns:
        Adjusted p-values in the same order, each between 0 and 1.

    Source:
        S. Holm, "A simple sequentially rejective multiple test procedure", Scandinavian Journal of
        Statistics 6 (1979), 65-70.
    """
    order = np.argsort(p_values, kind="stable")
    adjusted = np.empty_like(p_values, dtype=np.float64)
    adjusted[order] = np.minimum(np.maximum.accumulate(p_values[order] * (tests - np.arange(len(order)))), 1.0)
    return adjusted
