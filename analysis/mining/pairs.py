"""All pairs of codes, tested: which belong together, how strongly, how surely.

The tests run over every pair that could pass on its single counts, whether or not its
codes ever met, so that the guarantee "at most 5 in 100 of the listed pairs are false" counts
what was really looked at.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from analysis.mining.car_counts import CarCounts, cars_by_line
from analysis.mining.episode_arrays import Bools, EpisodeArrays, Ints
from analysis.mining.screening import Moments, chance_moments, least_levels, p_at_least
from analysis.statistics import rule_measures
from analysis.statistics.effect_sizes import breslow_day_test, odds_ratio, within_line_phi
from analysis.statistics.multiple_testing import benjamini_hochberg, benjamini_yekutieli, holm, tarone_level
from analysis.statistics.stratified_tests import p_more

Floats = npt.NDArray[np.float64]
CONFIRM_AT = 0.05  # chance that even one "confirmed" pair of the week is false
SCREEN_Z = 1.0  # a joint count this close to chance, in standard deviations, has a p-value above 0.05

PORTION = 100_000  # pairs handled at once
PAIR_SCHEMA = pl.Schema(
    {
        "code_a": pl.String,
        "code_b": pl.String,
        "vehicles": pl.Int64,
        "with_a": pl.Int64,
        "with_b": pl.Int64,
        "cars": pl.Int64,
        "odds_ratio": pl.Float64,
        "odds_low": pl.Float64,
        "odds_high": pl.Float64,
        "phi": pl.Float64,
        "kulczynski": pl.Float64,
        "cosine": pl.Float64,
        "imbalance": pl.Float64,
        "lines_differ_p": pl.Float64,
        "p_value": pl.Float64,
        "q_value": pl.Float64,
        "verdict": pl.String,
    }
)


@dataclass(frozen=True)
class Verdicts:
    """Which pairs passed.

    Attributes:
        places: [listed] positions of the listed pairs among the pairs that ever met.
        p_values, q_values: [listed] exact one-sided p-value and its q-value.
        confirmed: [listed] True for confirmed, False for likely.
        tests: Pairs that could have passed, the number that the guarantee holds over.
        at_worst: Listed pairs that would stay if the pairs worked against each other as badly as can be.
        stepwise: Listed pairs that would be confirmed by Holm's steps, rarely reached pairs counted in.
    """

    places: Ints
    p_values: Floats
    q_values: Floats
    confirmed: Bools
    tests: int
    at_worst: int
    stepwise: int


def find_verdicts(
    counts: CarCounts, least: Floats, min_vehicles: int, q_value: float, level: float = CONFIRM_AT
) -> Verdicts:
    """Test every pair and say which are likely or confirmed.

    Args:
        counts: Cars per line, code and pair.
        least: What :func:`reachable_levels` returns for these counts.
        min_vehicles: Cars that must carry both codes before a pair is listed; the filter comes
            after the correction, where it costs no guarantee.
        q_value: Accepted false share among the listed pairs, between 0 and 1.
        level: Chance that even one confirmed pair is false; 0 confirms none.

    Returns:
        The verdicts on the listed pairs.
    """
    confirm_at = tarone_level(least, level) if level else 0.0
    all_p = _p_values(counts, len(least), confirm_at, q_value)
    small = np.flatnonzero(all_p <= CONFIRM_AT)
    p_values = all_p[small]
    q_values = benjamini_hochberg(p_values, len(least))
    enough = counts.vehicles[small] >= min_vehicles
    listed = ((q_values <= q_value) | (p_values <= confirm_at)) & enough
    return Verdicts(
        places=small[listed],
        p_values=p_values[listed],
        q_values=q_values[listed],
        confirmed=(p_values[listed] <= confirm_at) & (level > 0),
        tests=len(least),
        at_worst=int((benjamini_yekutieli(p_values, len(least))[listed] <= q_value).sum()),
        stepwise=int((holm(p_values, len(least))[listed] <= CONFIRM_AT).sum()),
    )


def describe_pairs(arrays: EpisodeArrays, counts: CarCounts, verdicts: Verdicts) -> pl.DataFrame:
    """Return the listed pairs with counts, measures, effect and test together.

    Args:
        arrays: The baskets as arrays.
        counts: Cars per line, code and pair.
        verdicts: The verdicts of :func:`find_verdicts` on the same counts.

    Returns:
        One row per listed pair, code_a < code_b, sorted by verdict, lower end of the odds ratio and codes.
    """
    words = np.where(verdicts.confirmed, "confirmed", "likely").tolist()
    tested = {"p_value": verdicts.p_values, "q_value": verdicts.q_values, "verdict": words}
    frame = pl.DataFrame(_describe(arrays, counts, verdicts.places) | tested, schema=PAIR_SCHEMA)
    return frame.sort("verdict", "odds_low", "code_a", "code_b", descending=[False, True, False, False])


def reachable_levels(counts: CarCounts) -> Floats:
    """Return the smallest p-values that pairs of codes, met or not, could reach, where that is 0.05 or less.

    Pairs that could not reach 0.05 whatever happened are no tests: they are not counted.
    """
    return least_levels(counts, CONFIRM_AT)


def _p_values(counts: CarCounts, tests: int, confirm_at: float, q_value: float) -> Floats:
    """Return the p-value of each pair that ever met, in portions that fit in memory.

    Pairs that chance plainly explains are spared the exact test and keep a p-value of 1: those close to
    what chance gives, and those whose p-value is surely larger than any list could have.
    """
    p_values = np.ones(len(counts.first))
    chance = chance_moments(counts)
    far = np.flatnonzero(counts.vehicles - chance.mean > SCREEN_Z * np.sqrt(np.maximum(chance.variance, 0.0)))
    bounds = p_at_least(counts.vehicles[far], Moments(*(moment[far] for moment in chance)))
    far = far[bounds <= max(_worth_testing(bounds, tests, q_value), confirm_at)]
    for at in range(0, len(far), PORTION):
        some = far[at : at + PORTION]
        margins = counts.margins(counts.first[some], counts.second[some])
        p_values[some] = p_more(counts.vehicles[some, None], *margins)
    return p_values


def _worth_testing(bounds: Floats, tests: int, q_value: float) -> float:
    """Return a p-value above which no pair can be listed, nor raise another onto the list.

    A pair is listed if so many have a p-value at most as large that their number times q, shared among all
    tests, is no smaller than its own.  Going down from a level that is too high stops at or above the last such.
    """
    level = CONFIRM_AT
    while (lower := q_value * int((bounds <= level).sum()) / max(tests, 1)) < level:
        level = lower
    return level


def _describe(arrays: EpisodeArrays, counts: CarCounts, places: Ints) -> dict[str, npt.ArrayLike]:
    first, second = counts.first[places], counts.second[places]
    joint = cars_by_line(arrays, first, second)
    with_a, with_b, cars = counts.margins(first, second)
    both, a, b = joint.sum(axis=1), with_a.sum(axis=1), with_b.sum(axis=1)
    odds, agree = odds_ratio(joint, with_a, with_b, cars), breslow_day_test(joint, with_a, with_b, cars)
    codes = np.array([*counts.codes, ""], dtype=object)
    return {
        "code_a": codes[first].tolist(),
        "code_b": codes[second].tolist(),
        "vehicles": both,
        "with_a": a,
        "with_b": b,
        "cars": cars.sum(axis=1),
        "odds_ratio": odds.value,
        "odds_low": odds.low,
        "odds_high": odds.high,
        "phi": within_line_phi(joint, with_a, with_b, cars),
        "kulczynski": rule_measures.kulczynski(both, a, b),
        "cosine": rule_measures.cosine(both, a, b),
        "imbalance": rule_measures.imbalance(both, a, b),
        "lines_differ_p": agree.p_value,
    }
