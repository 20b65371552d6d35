"""Do things return sooner in one group than in another, or could that be chance?

At every distance at which something came back, the jobs still watched share the
return between the two groups as their numbers say.  What one group had beyond its
share, over all distances, is held against what chance would do.
"""

from collections.abc import Sequence

import numpy as np
from scipy.special import chdtrc


def log_rank(km: Sequence[float], returned: Sequence[bool], first: Sequence[bool]) -> tuple[float, float, float]:
    """Compare how soon things return in two groups.

    Args:
        km: Distance driven until the return, or until the watch ended.
        returned: Whether it returned; False means the watch ended there (censored).
        first: Whether it belongs to the first group.

    Returns:
        ``(excess, statistic, p)``: returns of the first group beyond its share, the chi-square statistic with one
        degree of freedom, and its p-value; ``(0, 0, 1)`` where nothing can be compared.

    Source:
        N. Mantel, "Evaluation of survival data and two new rank order statistics arising in its consideration",
        Cancer Chemotherapy Reports 50 (1966); R. Peto and J. Peto, Journal of the Royal Statistical Society A 135
        (1972).
    """
    at, back, mine = np.array(km, dtype=float), np.array(returned, dtype=bool), np.array(first, dtype=bool)
    excess = variance = 0.0
    for distance in np.unique(at[back]):
        watching, here = at >= distance, back & (at == distance)
        everyone, ours, events = int(watching.sum()), int((watching & mine).sum()), int(here.sum())
        excess += float((here & mine).sum()) - events * ours / everyone
        if everyone > 1:
            share = ours / everyone
            variance += events * share * (1 - share) * (everyone - events) / (everyone - 1)
    if variance <= 0:
        return 0.0, 0.0, 1.0
    statistic = excess**2 / variance
    return excess, statistic, float(chdtrc(1, statistic))
