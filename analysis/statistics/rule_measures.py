"""What a rule "cars with A also have B" is worth, from four counts.

The customary figures of a rule: how often it applies, how often it is right, and how
much better that is than guessing.  None of them says whether the rule is luck; the tests
of association do, and lists are sorted by those, not by lift.

Functions of arrays (or single numbers) of car counts: ``both`` cars with both codes,
``with_a`` and ``with_b`` cars with one of them, ``cars`` all cars that could show both.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Numbers = npt.ArrayLike
Floats = npt.NDArray[np.float64]


def confidence(both: Numbers, with_a: Numbers) -> Floats:
    """Return the share of the cars with A that also have B."""
    return np.divide(both, with_a)


def lift(both: Numbers, with_a: Numbers, with_b: Numbers, cars: Numbers) -> Floats:
    """Return how many times more often A and B meet than two independent codes would."""
    return np.multiply(both, cars) / np.multiply(with_a, with_b)


def leverage(both: Numbers, with_a: Numbers, with_b: Numbers, cars: Numbers) -> Floats:
    """Return the share of cars with both beyond what two independent codes would give."""
    beyond: Floats = np.divide(both, cars) - np.divide(with_a, cars) * np.divide(with_b, cars)
    return beyond


def conviction(both: Numbers, with_a: Numbers, with_b: Numbers, cars: Numbers) -> Floats:
    """Return how many times more often the rule would fail if the codes were independent.

    Infinite for a rule that never failed.

    Source:
        S. Brin, R. Motwani, J. D. Ullman and S. Tsur, "Dynamic itemset counting and implication
        rules for market basket data", SIGMOD 1997, 255-264.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        times: Floats = np.divide(1 - np.divide(with_b, cars), 1 - confidence(both, with_a))
    return times


def kulczynski(both: Numbers, with_a: Numbers, with_b: Numbers) -> Floats:
    """Return the mean of the two confidences; cars with neither code do not matter to it."""
    return (confidence(both, with_a) + confidence(both, with_b)) / 2


def cosine(both: Numbers, with_a: Numbers, with_b: Numbers) -> Floats:
    """Return the geometric mean of the two confidences; cars with neither code do not matter to it."""
    return np.divide(both, np.sqrt(np.multiply(with_a, with_b)))


def imbalance(both: Numbers, with_a: Numbers, with_b: Numbers) -> Floats:
    """Return how unequal the two codes are in number: 0 equally many cars, near 1 one code is far commoner.

    Source:
        T. Wu, Y. Chen and J. Han, "Re-examination of interestingness measures in pattern
        mining", Data Mining and Knowledge Discovery 21 (2010), 371-397.
    """
    either = np.subtract(np.add(with_a, with_b), both)
    unequal: Floats = np.divide(np.abs(np.subtract(with_a, with_b)), either)
    return unequal
