"""Two ways judged on the same visits: which was right more often, and could that be chance?

Visits on which both ways were right, or both wrong, say nothing about which is
better.  What counts is how many only the one got right, and how many only the other:
if neither is better these fall like coin tosses.

Pure functions of counts: no frames, no files, no plotting.
"""

from __future__ import annotations

from scipy.stats import binomtest

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
    if min(only_one, only_other) < 0:
        raise ValueError(f"counts of visits must be 0 or more; got {only_one}, {only_other}")
    told_apart = only_one + only_other
    return float(binomtest(only_one, told_apart).pvalue) if told_apart else 1.0


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
