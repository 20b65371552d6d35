"""What would this week's tests find if there were nothing to find?

The dealer's own cars are shuffled: within a model line, two cars trade one code each,
again and again, so that every car keeps its number of codes, every line keeps its count of
each code, no car gets a code of a module that was not read, and only the companionship is
lost.  The same tests are then run on the shuffled cars.  What they still list is what
chance alone would have listed this week.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import polars as pl

from analysis.mining.counts import Bools, CarCounts, Spells
from analysis.mining.pairs import find_verdicts, reachable_levels
from analysis.mining.stability import MANY_BASKETS

COPIES = 20
SEED = 2007  # any fixed number: equal data give equal answers
TRADES_TO_START = 5  # tries per code on a car before the first copy is taken
TRADES_BETWEEN = 1  # and between two copies
NULL_SCHEMA = pl.Schema({"copy": pl.Int64, "listed": pl.Int64, "confirmed": pl.Int64})


def null_check(arrays: Spells, min_vehicles: int, q_value: float) -> pl.DataFrame:
    """Run the tests on shuffled copies of the cars.

    Args:
        arrays: The baskets as arrays; a car's baskets are taken as one.
        min_vehicles: As for the real cars.
        q_value: As for the real cars.

    Returns:
        One row per copy: copy, listed and confirmed pairs; no rows above ``MANY_BASKETS`` baskets, as
        the shuffling is done trade by trade.

    Source:
        A. Gionis, H. Mannila, T. Mielikainen and P. Tsaparas, "Assessing data mining results via
        swap randomization", ACM Transactions on Knowledge Discovery from Data 1 (2007), article 14.
    """
    if arrays.read.shape[1] > MANY_BASKETS:
        return pl.DataFrame(schema=NULL_SCHEMA)
    cars, read = as_cars(arrays)
    shuffle = Shuffle(cars, read, arrays)
    rows = []
    least = reachable_levels(counts_of_cars(cars, read, arrays))  # single counts hardly change: once is enough
    for copy in range(1, COPIES + 1):
        shuffle.trade(TRADES_TO_START if copy == 1 else TRADES_BETWEEN)
        verdicts = find_verdicts(counts_of_cars(cars, read, arrays), least, min_vehicles, q_value)
        rows.append((copy, len(verdicts.places), int(verdicts.confirmed.sum())))
    return pl.DataFrame(rows, schema=NULL_SCHEMA, orient="row")


def as_cars(arrays: Spells) -> tuple[Bools, Bools]:
    """Return [cars, codes] and [cars, modules]: what was ever seen and ever read on each car."""
    cars = np.zeros((len(arrays.starts), len(arrays.codes)), dtype=bool)
    car = np.searchsorted(arrays.starts, arrays.code_rows[:, 0], side="right") - 1
    cars[car, arrays.code_rows[:, 1]] = True
    return cars, arrays.any_per_car(arrays.read.T)


class Shuffle:
    """Trades codes between cars of one line, in place, keeping all single counts."""

    def __init__(self, cars: Bools, read: Bools, arrays: Spells) -> None:
        """Take the cars to shuffle: [cars, codes], [cars, modules] and the arrays with lines and modules."""
        self.cars = cars
        self.can_show = read[:, arrays.module_of]
        self.random = np.random.default_rng(SEED)
        holder, code = np.nonzero(cars)
        line = arrays.line_of[holder]
        order = np.argsort(line, kind="stable")
        self.entries = [list(pair) for pair in zip(holder[order].tolist(), code[order].tolist(), strict=True)]
        ends = np.searchsorted(line[order], np.arange(len(arrays.lines) + 1)).tolist()
        self.lines = [(low, high) for low, high in pairwise(ends) if high - low > 1]

    def trade(self, tries_per_code: int) -> None:
        """Try so many trades per code on a car."""
        for low, high in self.lines:
            drawn = self.random.integers(low, high, size=(tries_per_code * (high - low), 2))
            for one, other in drawn.tolist():
                self._try(self.entries[one], self.entries[other])

    def _try(self, one: list[int], other: list[int]) -> None:
        (car_a, code_a), (car_b, code_b) = one, other
        if self.cars[car_a, code_b] or self.cars[car_b, code_a]:
            return
        if self.can_show[car_a, code_b] and self.can_show[car_b, code_a]:
            self.cars[car_a, code_a] = self.cars[car_b, code_b] = False
            self.cars[car_a, code_b] = self.cars[car_b, code_a] = True
            one[1], other[1] = code_b, code_a


def counts_of_cars(cars: Bools, read: Bools, arrays: Spells) -> CarCounts:
    """Count cars from [cars, codes] and [cars, modules], each car one basket."""
    lines, codes = len(arrays.lines), len(arrays.codes)
    both_read = np.zeros((lines, read.shape[1], read.shape[1]), dtype=np.int64)
    present = np.zeros((lines, codes, read.shape[1]), dtype=np.int64)
    joint = np.zeros((lines, codes, codes), dtype=np.int64)
    for line in range(lines):
        here = arrays.line_of == line
        shown, asked = cars[here].astype(np.float32), read[here].astype(np.float32)
        both_read[line], present[line], joint[line] = asked.T @ asked, shown.T @ asked, shown.T @ shown
    first, second = np.nonzero(np.triu(joint.sum(axis=0), 1))
    return CarCounts(
        codes=arrays.codes,
        lines=arrays.lines,
        module_of=arrays.module_of,
        both_read=both_read,
        present=present,
        first=first,
        second=second,
        joint=joint[:, first, second].T,
        baskets=len(cars),
    )
