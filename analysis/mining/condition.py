"""Are some cars in so much worse a state than others that codes meet on them by that alone?

On a neglected car many codes stand, on a well-kept one none.  Codes that have nothing to do
with each other then meet on the neglected cars, in every line.  The shuffled copies of the
cars notice it: each car keeps its number of codes there, and pairs appear where nothing
belongs together.  When too many copies show one, cars are compared only with cars of
their line that carry about as many codes.  That costs some true pairs, as a fault with many
codes also makes many codes; so it is done only in weeks that need it, and codes that are
tightly tied to another one are left out when that need is looked for.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
from scipy.stats import binom

from analysis.mining.episodes import HALF, EpisodeArrays, once
from analysis.mining.pairs import Verdicts

CLASSES = ("few codes", "some codes", "many codes")
CARS_A_CLASS = 15  # a line with fewer cars a class is cut into fewer classes
TIGHT = 0.3  # phi from which two codes may be one fault; cars in unequal state alone seldom tie two so
COPY_BY_LUCK = 0.05  # chance that a shuffled copy shows a confirmed pair where the cars' condition is equal
WEEK_BY_LUCK = 1 / 60  # chance of one week that more copies do so than are put down to luck: 3 of 20


def unequal(check: pl.DataFrame) -> bool:
    """Tell whether so many shuffled copies show a confirmed pair that the cars' condition must be the cause.

    Args:
        check: The frame of :func:`analysis.mining.null_check.null_check`; no rows is no answer, and False.
    """
    by_luck = float(binom.isf(WEEK_BY_LUCK, check.height, COPY_BY_LUCK))
    return int((check["confirmed"] > 0).sum()) > by_luck


def beyond_copies(verdicts: Verdicts, check: pl.DataFrame) -> Verdicts:
    """Keep only pairs with a smaller p-value than any pair of any shuffled copy; these are confirmed.

    Args:
        verdicts: The verdicts on the real cars.
        check: The frame of :func:`analysis.mining.null_check.null_check` on the same cars.

    Returns:
        The verdicts on the pairs that are left.

    Source:
        P. H. Westfall and S. S. Young, Resampling-Based Multiple Testing (1993), chapter 2: the smallest p-value
        against its distribution in shuffled data.
    """
    kept = verdicts.p_values < min(check["least_p"])
    return replace(
        verdicts,
        places=verdicts.places[kept],
        p_values=verdicts.p_values[kept],
        q_values=verdicts.q_values[kept],
        confirmed=np.ones(int(kept.sum()), dtype=bool),
        at_worst=min(verdicts.at_worst, int(kept.sum())),
        stepwise=min(verdicts.stepwise, int(kept.sum())),
    )


def tightly_tied(pairs: pl.DataFrame) -> frozenset[str]:
    """Return the codes to leave out so that no two are left that may tell of one fault.

    Args:
        pairs: The listed pairs, code_a < code_b: code_b, phi.
    """
    return frozenset(pairs.filter(pl.col("phi") >= TIGHT)["code_b"])


def by_condition(arrays: EpisodeArrays) -> EpisodeArrays:
    """Cut every line into cars with few, some and many codes.

    Args:
        arrays: The baskets as arrays.

    Returns:
        The same arrays; lines are now a line and a class, ``tesmar heron, few codes``.  A car's codes
        are those it ever had; equally many codes are always one class.
    """
    distinct = once((arrays.car_of[arrays.basket] << HALF) | arrays.code)
    codes = np.bincount(distinct >> HALF, minlength=len(arrays.starts))
    line_of = arrays.line_of * len(CLASSES)
    for line in range(len(arrays.lines)):
        here = np.flatnonzero(arrays.line_of == line)
        classes = min(len(CLASSES), max(1, len(here) // CARS_A_CLASS))
        cuts = np.quantile(codes[here], np.arange(1, classes) / classes)
        line_of[here] += np.searchsorted(cuts, codes[here], side="left")
    lines = [f"{line}, {name}" for line in arrays.lines for name in CLASSES]
    return replace(arrays, lines=lines, line_of=line_of)
