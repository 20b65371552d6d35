"""What would this week's tests find if there were nothing to find?

The dealer's own cars are shuffled: within a model line, two cars trade one code each,
again and again, so that every car keeps its number of codes, every line keeps its count of
each code, no car gets a code of a module that was not read, and only the companionship is
lost.  The same tests are then run on the shuffled cars.  What they still list is what
chance alone would have listed this week.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl

from analysis.mining.counts import car_counts, modules_read
from analysis.mining.episodes import HALF, EpisodeArrays, Ints, changes, once
from analysis.mining.pairs import find_verdicts, reachable_levels

COPIES = 20
FEWEST_COPIES = 2
FEWER_FROM = 20_000  # baskets from which there are fewer copies: 10 at twice as many, 5 at four times
SEED = 2007  # any fixed number: equal data give equal answers
ROUNDS_TO_START = 10  # of trades, each code on a car offered about once, before the first copy is taken
ROUNDS_BETWEEN = 3  # and between two copies
NULL_SCHEMA = pl.Schema({"copy": pl.Int64, "listed": pl.Int64, "confirmed": pl.Int64, "least_p": pl.Float64})


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
    for copy in range(1, copies_of(arrays.read.shape[1]) + 1):
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
    rows, cars = once((arrays.car_of[arrays.basket] << HALF) | arrays.code), np.arange(len(arrays.starts))
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
        self.firsts = np.flatnonzero(changes(cars.line_of[self.holder]))
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
        same = np.flatnonzero(~changes(cells >> bits))
        apart = np.ones(len(one) + 1, dtype=bool)
        for place in (same, same - 1):
            apart[cells[place] & ((1 << bits) - 1)] = False
        return apart[:-1]

    def _readable(self, one: Ints, other: Ints) -> np.ndarray:
        """Tell where the car of the one was asked for the code of the other."""
        return self.cars.read[self.cars.module_of[self.code[other]], self.holder[one]]
