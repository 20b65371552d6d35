"""How far should a figure that rests on little be drawn towards what its like show?

One code that came back twice says little about itself, but a hundred such codes
say what codes are like.  How much they differ beyond what chance alone would do
tells how much of its own figure each may keep: all of it where they differ
widely, next to nothing where chance explains the differences.

Pure functions of numbers: no frames, no files, no plotting.
"""

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def shrinkage_weights(values: Floats, variances: Floats) -> tuple[float, Floats]:
    """Return the mean to draw values towards, and how much of its distance from it each may keep.

    The drawn value is ``mean + kept * (value - mean)``.

    Args:
        values: (k,) figures of the same kind, each with an error of its own.
        variances: (k,) squared standard errors, above 0, in squared units of the values.

    Returns:
        ``(mean, kept)``: the mean in units of the values, precise values weighing more; kept (k,) within [0, 1],
        the less the larger the error.  With three values or fewer they keep all: too few to tell.

    Raises:
        ValueError: The two are not of one length, or a variance is not above 0.

    Source:
        B. Efron and C. Morris, "Stein's paradox in statistics", Scientific American 236 (1977), positive part;
        for unequal variances C. N. Morris, "Parametric empirical Bayes inference", Journal of the American
        Statistical Association 78 (1983), with the spread after R. C. Paule and J. Mandel, Journal of Research of
        the National Bureau of Standards 87 (1982).  With equal variances this is 1 - (k - 3) variance / sum of squares.
    """
    if len(values) != len(variances) or not bool(np.all(variances > 0)):
        raise ValueError(f"each of the {len(values)} values needs a variance above 0; got {variances.tolist()}")
    size, none = len(values), np.ones(len(values))
    if size <= 3:
        return (float(np.average(values, weights=1 / variances)) if size else math.nan), none
    spread = _spread(values, variances)
    mean, scatter = _scatter(spread, values, variances)
    # Less scatter than chance explains: the spread is 0, and the scatter itself says how much to draw.
    drawn = (size - 3) / (size - 1) * variances / (variances + spread) if spread else none * (size - 3) / scatter
    return mean, 1 - np.minimum(drawn, 1)


def _spread(values: Floats, variances: Floats) -> float:
    """Return the variance between the true values: the one with which the scatter is what chance expects."""
    expected = len(values) - 1
    most = float(np.var(values, ddof=1))  # with errors of 0 it would be this, and errors only take from it

    def beyond(spread: float) -> float:
        return _scatter(spread, values, variances)[1] - expected

    from scipy.optimize import brentq  # noqa: PLC0415 - loaded where something is fitted

    return float(brentq(beyond, 0.0, most)) if beyond(0.0) > 0 else 0.0


def _scatter(spread: float, values: Floats, variances: Floats) -> tuple[float, float]:
    weights = 1 / (variances + spread)
    mean = float(np.average(values, weights=weights))
    # Equal values must not divide by nothing.
    return mean, max(float((weights * (values - mean) ** 2).sum()), 1e-300)


def beta_from_moments(mean: float, deviation: float) -> tuple[float, float]:
    """Return the beta distribution of shares with this mean and standard deviation.

    Args:
        mean: Of the shares, between 0 and 1 exclusive.
        deviation: Their standard deviation, above 0.

    Returns:
        ``(a, b)``: as much as ``a`` yes answers and ``b`` no answers that were counted before.

    Raises:
        ValueError: No beta distribution has these moments.

    Source:
        A. Gelman and others, Bayesian Data Analysis, chapter 5, on the rat tumours of R. E. Tarone, Biometrics 38
        (1982).
    """
    if not 0 < deviation**2 < mean * (1 - mean):
        raise ValueError(f"no beta distribution has the mean {mean} and the standard deviation {deviation}")
    together = mean * (1 - mean) / deviation**2 - 1
    return mean * together, (1 - mean) * together


def shrink_rate(successes: Floats, trials: Floats, prior: tuple[float, float]) -> Floats:
    """Return shares drawn towards what their like show.

    Args:
        successes: (k,) yes answers, whole or expected ones, each within 0..its trials.
        trials: (k,) answers.
        prior: ``(a, b)`` of ``beta_from_moments``; ``(1, 1)`` where nothing is known of their like.

    Returns:
        (k,) fractions between 0 and 1: the means of the beta distributions after counting.

    Source:
        The same chapter: Beta(a, b) and y of n give Beta(a + y, b + n - y).
    """
    yes, no = prior
    return (yes + successes) / (yes + no + trials)
