"""The tails of the everyday distributions, by functions that are loaded at once.

``scipy.stats`` has them all, and takes a third of a second to load; these come from ``scipy.special``, on which it
stands itself.
"""

from __future__ import annotations

from typing import cast

import numpy as np
import numpy.typing as npt
from scipy.special import bdtr, bdtrc, chdtrc, ndtr, ndtri

Floats = npt.NDArray[np.float64]


def normal_beyond(tail: float) -> float:
    """Return what a standard normal variable exceeds with the chance ``tail``."""
    return -float(ndtri(tail))


def normal_two_sided(z: float) -> float:
    """Return the chance that a standard normal variable is at least so far from 0, either way."""
    return 2 * float(ndtr(-abs(z)))


def chi_square_tail(value: npt.ArrayLike, freedom: npt.ArrayLike) -> Floats:
    """Return the chance that a chi-square variable exceeds a value."""
    return np.asarray(chdtrc(freedom, value), dtype=np.float64)


def binomial_at_most(count: npt.ArrayLike, trials: npt.ArrayLike, share: float) -> Floats:
    """Return the chance of at most so many yes answers, each yes with the chance ``share``; count within the trials."""
    return cast(Floats, np.asarray(bdtr(count, trials, share), dtype=np.float64))


def binomial_at_least(count: npt.ArrayLike, trials: npt.ArrayLike, share: float) -> Floats:
    """Return the chance of at least so many yes answers; count within the trials."""
    below = np.asarray(count) - 1
    return np.where(below < 0, 1.0, bdtrc(np.maximum(below, 0), trials, share))


def binomial_beyond(tail: float, trials: int, share: float) -> int:
    """Return the smallest count that is exceeded with at most the chance ``tail``."""
    exceeded = bdtrc(np.arange(trials + 1), trials, share)
    return int(np.flatnonzero(exceeded <= tail)[0])
