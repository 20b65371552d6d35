"""Two ways judged on the same visits: which was right more often, and could that be chance?

Visits on which both ways were right, or both wrong, say nothing about which is
better.  What counts is how many only the one got right, and how many only the other:
if neither is better these fall like coin tosses.

Pure functions of counts: no frames, no files, no plotting.
"""

from __future__ import annotations

from math import sqrt

from scipy.stats import binomtest

from analysis.statistics.intervals import wilson
from analysis.texts import findings as say


def mcnemar_exact(only_one: int, only_other: int) -> float:
    """Return the two-sided chance that coin tosses fall at least so unevenly.

    Args:
        only_one: Visits that only the one way got right.
        only_other: Visits that only the other way got right.

    Returns:
        A p-value; 1 where no visit tells them apart.

    Raises:
        ValueError: A count is below 0.

    Source:
        Q. McNemar, "Note on the sampling error of the difference between correlated proportions or percentages",
        Psychometrika 12 (1947); the exact form is the two-sided binomial test of ``scipy.stats.binomtest`` at a half.
    """
    _check(only_one, only_other)
    told_apart = only_one + only_other
    return float(binomtest(only_one, told_apart).pvalue) if told_apart else 1.0


def mcnemar_corrected(only_one: int, only_other: int) -> float:
    """Return the chi-square statistic with one degree of freedom, corrected for continuity.

    Args:
        only_one: Visits that only the one way got right.
        only_other: Visits that only the other way got right.

    Returns:
        0 or more; 0 where no visit tells them apart.  Under about 25 such visits prefer ``mcnemar_exact``.

    Raises:
        ValueError: A count is below 0.

    Source:
        A. L. Edwards, "Note on the correction for continuity in testing the significance of the difference between
        correlated proportions", Psychometrika 13 (1948).
    """
    _check(only_one, only_other)
    told_apart = only_one + only_other
    return float(max(abs(only_one - only_other) - 1, 0) ** 2 / told_apart) if told_apart else 0.0


def paired_difference(both: int, only_one: int, only_other: int, neither: int) -> tuple[float, float, float]:
    """Return how much more often the one way is right than the other on the same visits, with its 95 % interval.

    Args:
        both: Visits that both got right.
        only_one: Visits that only the one way got right.
        only_other: Visits that only the other way got right.
        neither: Visits that neither got right.

    Returns:
        ``(difference, low, high)``, differences of shares in [-1, 1]; without visits ``(0.0, -1.0, 1.0)``.

    Raises:
        ValueError: A count is below 0.

    Source:
        R. G. Newcombe, "Improved confidence intervals for the difference between binomial proportions based on
        paired data", Statistics in Medicine 17 (1998), 2635-2650, method 10.
    """
    _check(only_one, only_other, both, neither)
    n = both + only_one + only_other + neither
    if n == 0:
        return 0.0, -1.0, 1.0
    one, other = (both + only_one) / n, (both + only_other) / n
    (low1, high1), (low2, high2) = wilson(both + only_one, n), wilson(both + only_other, n)
    phi = _phi(both, only_one, only_other, neither)

    def spread(a: float, b: float) -> float:
        return sqrt(max(a * a - 2 * phi * a * b + b * b, 0.0))

    gap = one - other
    return gap, gap - spread(one - low1, high2 - other), gap + spread(high1 - one, other - low2)


def _phi(both: int, only_one: int, only_other: int, neither: int) -> float:
    """How the two ways hang together, a little drawn to 0 where they do so positively."""
    sides = (both + only_one, only_other + neither, both + only_other, only_one + neither)
    product = sides[0] * sides[1] * sides[2] * sides[3]
    if product == 0:
        return 0.0
    cross, n = both * neither - only_one * only_other, sum(sides[:2])
    return (max(cross - n / 2, 0.0) if cross > 0 else cross) / sqrt(product)


def words(name: str, other_name: str, only_one: int, only_other: int, level: float = 0.05) -> str:
    """Say in one sentence what the comparison shows.

    Args:
        name: What the one way is called.
        other_name: What the other is called.
        only_one: Visits that only the one got right.
        only_other: Visits that only the other got right.
        level: Below this p-value chance is not enough to explain it.
    """
    p = mcnemar_exact(only_one, only_other)
    if p >= level:
        return say.cannot_tell(name, other_name, only_one, only_other, p)
    better, worse = (name, other_name) if only_one > only_other else (other_name, name)
    return say.better(better, worse, max(only_one, only_other), min(only_one, only_other), p)


def _check(*counts: int) -> None:
    if min(counts) < 0:
        raise ValueError(f"counts of visits must be 0 or more; got {', '.join(map(str, counts))}")
