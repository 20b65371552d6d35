"""How far can a share be trusted when it rests on a handful of cars?

"Three of four" and "300 of 400" are the same share, but not the same knowledge.
Every share that knockon prints therefore travels with an interval: the range of
true shares that would not make the count seen a surprise.  All intervals of
shares in the project come from this one place.

Pure functions of counts: no frames, no files, no plotting.
"""

from __future__ import annotations

from functools import lru_cache
from math import sqrt

from scipy.special import betaincinv
from scipy.stats import norm


def wilson(k: int, n: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return the score interval of a share, the everyday choice for rules and rates.

    Args:
        k: Cars (or jobs) that count as a yes.
        n: Cars (or jobs) of which the answer is known.
        confidence: Two-sided coverage, between 0 and 1 exclusive.

    Returns:
        ``(low, high)``, fractions in [0, 1].  With ``n == 0`` nothing is known: ``(0.0, 1.0)``.

    Raises:
        ValueError: ``k`` is not in 0..``n``, or ``confidence`` is not strictly between 0 and 1.

    Source:
        E. B. Wilson, "Probable inference, the law of succession, and statistical inference",
        Journal of the American Statistical Association 22 (1927), 209-212.  In closed form: ``scipy.stats.binomtest``
        gives the same, but takes 0.25 ms for what takes 0.5 µs here, and rules ask for tens of thousands.
    """
    _check(k, n, confidence)
    if n == 0:
        return 0.0, 1.0
    z = _z(confidence)
    middle = (k + z * z / 2) / (n + z * z)
    half = z / (n + z * z) * sqrt(k * (n - k) / n + z * z / 4)
    return (middle - half if k else 0.0), (middle + half if k < n else 1.0)


def jeffreys(k: int, n: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return the interval of a share that rests on few jobs: right on average, where the exact one is far too wide.

    Args:
        k: Cars (or jobs) that count as a yes.
        n: Cars (or jobs) of which the answer is known.
        confidence: Two-sided coverage, between 0 and 1 exclusive.

    Returns:
        ``(low, high)``, fractions in [0, 1].  With ``n == 0`` nothing is known: ``(0.0, 1.0)``.

    Raises:
        ValueError: ``k`` is not in 0..``n``, or ``confidence`` is not strictly between 0 and 1.

    Source:
        L. D. Brown, T. T. Cai and A. DasGupta, "Interval estimation for a binomial proportion", Statistical Science
        16 (2001), 101-133, section 4: equal tails of the Beta with half a yes and half a no added, the low end 0
        where there is no yes, the high end 1 where there is no no.
    """
    _check(k, n, confidence)
    if n == 0:
        return 0.0, 1.0
    tail = (1 - confidence) / 2
    low, high = betaincinv(k + 0.5, n - k + 0.5, [tail, 1 - tail])
    return (float(low) if k else 0.0), (float(high) if k < n else 1.0)


def newcombe_difference(k1: int, n1: int, k2: int, n2: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return the interval of the difference of two independent shares, first minus second.

    Args:
        k1: Yes answers of the first group.
        n1: Known answers of the first group.
        k2: Yes answers of the second group.
        n2: Known answers of the second group.
        confidence: Two-sided coverage, between 0 and 1 exclusive.

    Returns:
        ``(low, high)``, differences in [-1, 1].  Where a group is empty nothing is known of
        the difference: ``(-1.0, 1.0)``.

    Raises:
        ValueError: A ``k`` is not in 0..its ``n``, or ``confidence`` is not strictly between 0 and 1.

    Source:
        R. G. Newcombe, "Interval estimation for the difference between independent proportions",
        Statistics in Medicine 17 (1998), 873-890, method 10 (from the two Wilson intervals).  scipy has no interval
        for the difference of two shares.
    """
    low1, high1 = wilson(k1, n1, confidence)
    low2, high2 = wilson(k2, n2, confidence)
    if n1 == 0 or n2 == 0:
        return -1.0, 1.0
    share1, share2 = k1 / n1, k2 / n2
    difference = share1 - share2
    low = difference - sqrt((share1 - low1) ** 2 + (high2 - share2) ** 2)
    high = difference + sqrt((high1 - share1) ** 2 + (share2 - low2) ** 2)
    return low, high


def _check(k: int, n: int, confidence: float) -> None:
    if not 0 <= k <= n:
        raise ValueError(f"k must lie in 0..{n} (the known answers); got {k}")
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must lie strictly between 0 and 1; got {confidence}")


@lru_cache(maxsize=16)
def _z(confidence: float) -> float:
    """Return how many standard deviations either way cover that share of a normal distribution."""
    return float(norm.isf((1 - confidence) / 2))
