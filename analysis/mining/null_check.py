"""Swap randomisation: what would this week's tests find if there were nothing to find?

The dealer's own cars are shuffled: within a model line, two cars trade one code each,
again and again, so that every car keeps its number of codes, every line keeps its count of
each code, no car gets a code of a module that was not read, and only the companionship is
lost.  The same tests are then run on the shuffled cars.  What they still list is what
chance alone would have listed this week.

The copies also notice a confounder, the cars' condition.  On a neglected car many codes
stand, on a well-kept one none, so codes that have nothing to do with each other meet on the
neglected cars, in every line; pairs then appear in the copies, where nothing belongs
together.  When too many copies show one, cars are compared only with cars of their line
that carry about as many codes.  That costs some true pairs, as a fault with many codes also
makes many codes; so it is done only in weeks that need it, and codes that are tightly tied to
another one are left out when that need is looked for.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
from scipy.stats import binom

from analysis.mining.car_counts import car_counts, modules_read
from analysis.mining.episode_arrays import HALF, EpisodeArrays, Ints, run_starts, unique_sorted
from analysis.mining.pairs import Verdicts, find_verdicts, reachable_levels
from analysis.progress import each

COPIES = 20
FEWEST_COPIES = 2
FEWER_FROM = 20_000  # baskets from which there are fewer copies: 10 at twice as many, 5 at four times
SEED = 2007  # any fixed number: equal data give equal answers
ROUNDS_TO_START = 10  # of trades, each code on a car offered about once, before the first copy is taken
ROUNDS_BETWEEN = 3  # and between two copies
NULL_SCHEMA = pl.Schema({"copy": pl.Int64, "listed": pl.Int64, "confirmed": pl.Int64, "least_p": pl.Float64})
CLASSES = ("few codes", "some codes", "many codes")
CARS_A_CLASS = 15  # a line with fewer cars a class is cut into fewer classes
TIGHT = 0.3  # phi from which two codes may be one fault; cars in unequal state alone seldom tie two so
COPY_BY_LUCK = 0.05  # chance that a shuffled copy shows a confirmed pair where the cars' condition is equal
WEEK_BY_LUCK = 1 / 60  # chance of one week that more copies do so than are put down to luck: 3 of 20


def null_check(arrays: EpisodeArrays, min_vehicles: int, q_value: float) -> pl.DataFrame:
    """Run the tests on shuffled copies of the cars.

    Args:
        arrays: The baskets as arrays; a car's baskets are taken as one.
        min_vehicles: As for the real cars.
        q_value: As for the real cars.

    Returns:
        One row per copy: copy, listed and confirmed pairs, and the smallest p-value of a listed one (1 if none).

    Source:
        A. Gionis, H. Mannila, T. Mielikainen and P. Tsaparas, "Assessing data mining results via
        swap randomization", ACM Transactions on Knowledge Discovery from Data 1 (2007), article 14.
    """
    cars = as_cars(arrays)
    shuffle, both_read = Shuffle(cars), modules_read(cars)
    least, rows = None, []
    for copy in each(range(1, copies_of(arrays.read.shape[1]) + 1)):
        shuffle.trade(ROUNDS_TO_START if copy == 1 else ROUNDS_BETWEEN)
        counts = car_counts(shuffle.copy(), both_read)
        least = reachable_levels(counts) if least is None else least  # single counts hardly change: once is enough
        verdicts = find_verdicts(counts, least, min_vehicles, q_value)
        least_p = float(verdicts.p_values.min(initial=1.0))
        rows.append((copy, len(verdicts.places), int(verdicts.confirmed.sum()), least_p))
    return pl.DataFrame(rows, schema=NULL_SCHEMA, orient="row")


def copies_of(baskets: int) -> int:
    """Return how many shuffled copies are made of so many baskets."""
    return max(FEWEST_COPIES, min(COPIES, COPIES * FEWER_FROM // max(baskets, 1)))


def as_cars(arrays: EpisodeArrays) -> EpisodeArrays:
    """Return the cars as if each had one basket, with all that was ever seen and ever read on it."""
    rows, cars = unique_sorted((arrays.car_of[arrays.basket] << HALF) | arrays.code), np.arange(len(arrays.starts))
    return replace(
        arrays,
        table=arrays.table[arrays.starts],
        starts=cars,
        car_of=cars,
        basket=rows >> HALF,
        code=rows & ((1 << HALF) - 1),
        read=np.logical_or.reduceat(arrays.read, arrays.starts, axis=1),
    )


class Shuffle:
    """Trades codes between cars of one line, keeping all single counts.

    In a round every code on a car is matched with one other of its line, by chance.  A trade touches four
    cells of the table of cars and codes: two that are full and two to be filled.  It is made if no other cell
    of the round is the same, so trades of a round do not disturb each other, and the way back is as likely
    as the way there: in the long run every possible table is equally likely.
    """

    def __init__(self, cars: EpisodeArrays) -> None:
        """Take the cars to shuffle, each one basket, as :func:`as_cars` gives them."""
        self.cars = cars
        self.random = np.random.default_rng(SEED)
        mixed = self.random.permutation(len(cars.code))
        line = cars.line_of[cars.basket[mixed]].astype(np.min_scalar_type(len(cars.lines)))  # sorted in one pass
        mixed = mixed[np.argsort(line, kind="stable")]
        self.holder, self.code = cars.basket[mixed], cars.code[mixed]
        self.firsts = np.flatnonzero(run_starts(cars.line_of[self.holder]))
        self.sizes = np.diff(self.firsts, append=len(mixed))

    def trade(self, rounds: int) -> None:
        """Make so many rounds of trades."""
        for _ in range(rounds):
            one, other = self._matched()
            made = self._apart(one, other) & self._readable(one, other) & self._readable(other, one)
            one, other = one[made], other[made]
            self.code[one], self.code[other] = self.code[other], self.code[one]

    def copy(self) -> EpisodeArrays:
        """Return the cars as they are now."""
        rows = np.sort((self.holder << HALF) | self.code)
        return replace(self.cars, basket=rows >> HALF, code=rows & ((1 << HALF) - 1))

    def _matched(self) -> tuple[Ints, Ints]:
        """Match codes of a line that stand a step apart; any two of a line can be matched in some round."""
        step = self.random.integers(1, np.maximum(self.sizes, 2))
        phase = self.random.integers(0, 2 * step)
        # Every other stretch of a step's length is matched with the one behind it.
        stretches = -(-(self.sizes - step + phase) // (2 * step))
        line = np.repeat(np.arange(len(step)), stretches)
        place = np.arange(len(line)) - np.repeat(np.cumsum(stretches) - stretches, stretches)
        begin = 2 * place * step[line] - phase[line]
        end = np.minimum(begin + step[line], (self.sizes - step)[line])
        begin = np.maximum(begin, 0)
        length = np.maximum(end - begin, 0)
        one = np.repeat(self.firsts[line] + begin - (np.cumsum(length) - length), length) + np.arange(length.sum())
        return one, one + np.repeat(step[line], length)

    def _apart(self, one: Ints, other: Ints) -> np.ndarray:
        """Tell which trades touch no cell that another one touches or that is full already."""
        trade = np.full(len(self.code), len(one))
        trade[one] = trade[other] = np.arange(len(one))
        full = self.holder * len(self.cars.codes) + self.code
        filled = (full[a] - self.code[a] + self.code[b] for a, b in ((one, other), (other, one)))
        bits = len(one).bit_length()
        cells = np.concatenate([(full << bits) | trade, *((cell << bits) | np.arange(len(one)) for cell in filled)])
        cells.sort()
        same = np.flatnonzero(~run_starts(cells >> bits))
        apart = np.ones(len(one) + 1, dtype=bool)
        for place in (same, same - 1):
            apart[cells[place] & ((1 << bits) - 1)] = False
        return apart[:-1]

    def _readable(self, one: Ints, other: Ints) -> np.ndarray:
        """Tell where the car of the one was asked for the code of the other."""
        return self.cars.read[self.cars.module_of[self.code[other]], self.holder[one]]


def unequal(check: pl.DataFrame) -> bool:
    """Tell whether so many shuffled copies show a confirmed pair that the cars' condition must be the cause.

    Args:
        check: The frame of :func:`analysis.mining.null_check.null_check`; no rows is no answer, and False.
    """
    by_luck = float(binom.isf(WEEK_BY_LUCK, check.height, COPY_BY_LUCK))
    return int((check["confirmed"] > 0).sum()) > by_luck


def beyond_copies(verdicts: Verdicts, check: pl.DataFrame, once: bool = True) -> Verdicts:
    """Keep only pairs with a smaller p-value than any pair of any shuffled copy.

    Args:
        verdicts: The verdicts on the real cars.
        check: The frame of :func:`analysis.mining.null_check.null_check` on the same cars.
        once: The cars are looked at this once: all that are left are confirmed.  Else only those that were, since one
            look in so many copies is by luck.

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
        confirmed=verdicts.confirmed[kept] | once,
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
    distinct = unique_sorted((arrays.car_of[arrays.basket] << HALF) | arrays.code)
    codes = np.bincount(distinct >> HALF, minlength=len(arrays.starts))
    line_of = arrays.line_of * len(CLASSES)
    for line in range(len(arrays.lines)):
        here = np.flatnonzero(arrays.line_of == line)
        classes = min(len(CLASSES), max(1, len(here) // CARS_A_CLASS))
        cuts = np.quantile(codes[here], np.arange(1, classes) / classes)
        line_of[here] += np.searchsorted(cuts, codes[here], side="left")
    lines = [f"{line}, {name}" for line in arrays.lines for name in CLASSES]
    return replace(arrays, lines=lines, line_of=line_of)
