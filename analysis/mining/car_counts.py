"""Contingency counts of cars: how many had each code, and each two codes at once?

The unit is the car, not the basket.  A code that nobody repaired is seen again after
every visit, and a car comes in dirty and leaves clean; both make codes that have
nothing to do with each other look like companions when every basket counts as a new
observation.  So a car has one vote per pair of codes: among its baskets in which both
modules were read, was the first code there, was the second, were both in one basket?
Should the codes be independent, "both in one basket" is at most as frequent as the two
single answers would make it, so the guarantee of the tests holds on the safe side.

A car whose modules were not both read in one basket says nothing about that pair.

Counts can be taken in parts: a car stands in one part only, and every count is one of
cars, so the sums are the counts of all cars at once, to the number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from analysis.mining.episode_arrays import (
    HALF,
    WORD,
    EpisodeArrays,
    Ints,
    Words,
    run_starts,
    unique_sorted,
    value_counts,
)


@dataclass(frozen=True)
class CarCounts:
    """Cars per model line, by code and by pair of codes.

    Attributes:
        codes: Code keys, sorted; every other array speaks of them by position.
        lines: Model lines, sorted.
        module_of: [codes] position of the code's module.
        both_read: [modules, modules, lines] cars with a basket in which both modules were read.
        present: [codes, modules, lines] cars with a basket that holds the code and in which the module was read.
        first, second: [pairs] the two codes of each pair that ever met, first < second, sorted.
        vehicles: [pairs] cars with a basket that holds both, over all lines.
        baskets: Baskets behind all this.
    """

    codes: list[str]
    lines: list[str]
    module_of: Ints
    both_read: Ints
    present: Ints
    first: Ints
    second: Ints
    vehicles: Ints
    baskets: int

    def margins(self, first: Ints, second: Ints) -> tuple[Ints, Ints, Ints]:
        """Return, per pair and line, the cars with the first code, with the second, and all that could show both."""
        module_a, module_b = self.module_of[first], self.module_of[second]
        return self.present[first, module_b], self.present[second, module_a], self.both_read[module_a, module_b]

    def with_both(self, one: int, other: int) -> int:
        """Return the cars with both of two codes, given by position, over all lines."""
        a, b = sorted((one, other))
        low, high = np.searchsorted(self.first, [a, a + 1])
        return int(self.vehicles[low:high][self.second[low:high] == b].sum())

    def codes_by_module(self) -> list[Ints]:
        """Return for each module the positions of its codes."""
        return [np.flatnonzero(self.module_of == module) for module in range(len(self.both_read))]


def car_counts(arrays: EpisodeArrays, both_read: Ints | None = None) -> CarCounts:
    """Count cars by model line, code and pair of codes.

    Args:
        arrays: The baskets as arrays, from :func:`analysis.mining.episode_arrays.episode_arrays`.
        both_read: The cars by two modules, where they are known already.

    Returns:
        The counts of cars per model line.
    """
    first, second, vehicles = pair_cars(arrays)
    return CarCounts(
        codes=arrays.codes,
        lines=arrays.lines,
        module_of=arrays.module_of,
        both_read=modules_read(arrays) if both_read is None else both_read,
        present=_present(arrays),
        first=first,
        second=second,
        vehicles=vehicles,
        baskets=arrays.read.shape[1],
    )


def pair_cars(arrays: EpisodeArrays) -> tuple[Ints, Ints, Ints]:
    """Count the cars on which two codes met in one basket.

    A pair is one number (first, second), a pair on a car one number (car, first, second), so that finding each
    once is one sort.

    Args:
        arrays: The baskets as arrays, from :func:`analysis.mining.episode_arrays.episode_arrays`.

    Returns:
        ``(first, second, vehicles)`` as in :class:`CarCounts`.
    """
    bits = len(arrays.codes).bit_length()
    met, pairs_end = _meetings(arrays, bits), 1 << 2 * bits
    if arrays.several:
        met = unique_sorted(met)
    pairs, vehicles = value_counts(met & (pairs_end - 1), pairs_end)
    return pairs >> bits, pairs & ((1 << bits) - 1), vehicles


def _meetings(arrays: EpisodeArrays, bits: int) -> Ints:
    """Return car, first and second code of every two codes of every basket, as one number; a car's may repeat."""
    starts = np.flatnonzero(run_starts(arrays.basket))  # the codes of a basket stand together, in order
    sizes = np.diff(starts, append=len(arrays.basket))
    car = arrays.car_of[arrays.basket[starts]] << 2 * bits
    found = [np.zeros(0, dtype=np.int64)]
    for size in unique_sorted(sizes).tolist():
        here = np.flatnonzero(sizes == size)
        codes = arrays.code[starts[here] + np.arange(size)[:, None]]
        left = (codes << bits) | car[here]
        found += [(left[row] | codes[row + 1 :]).ravel() for row in range(size - 1)]
    return np.concatenate(found)


def cars_by_line(arrays: EpisodeArrays, first: Ints, second: Ints) -> Ints:
    """Count, per line, the cars on which two codes met in one basket, for a few pairs.

    Args:
        arrays: The baskets as arrays.
        first: [pairs] the first code of each pair.
        second: [pairs] the second one.

    Returns:
        [pairs, lines] cars.
    """
    cars = np.zeros((len(first), len(arrays.lines)), dtype=np.int64)
    for row, pair in zip(cars, np.column_stack([first, second]), strict=True):
        baskets, held = arrays.near(pair)
        row[:] = arrays.cars_by_line(baskets[held.all(axis=1)])
    return cars


def modules_read(arrays: EpisodeArrays) -> Ints:
    """Return [modules, modules, lines] the cars with a basket in which both modules were read."""
    count = len(arrays.modules)
    both = np.zeros((count, count, len(arrays.lines)), dtype=np.int64)
    order = np.argsort(arrays.line_of, kind="stable")
    groups = np.flatnonzero(run_starts(arrays.line_of[order]))
    lines = arrays.line_of[order][groups]
    for a in range(count):
        words = np.where(arrays.read[a], arrays.read_words, np.uint64(0))
        of_cars = np.bitwise_or.reduceat(words, arrays.starts, axis=1)[:, order]
        for b in range(a, count):
            both[a, b, lines] = both[b, a, lines] = np.add.reduceat(_flag(of_cars, b), groups)
    return both


def _flag(words: Words, module: int) -> Ints:
    """Return 1 where the module's flag is set, else 0."""
    flags = (words[module // WORD] >> np.uint64(module % WORD)) & np.uint64(1)
    as_numbers: Ints = flags.view(np.int64)
    return as_numbers


def _present(arrays: EpisodeArrays) -> Ints:
    """Count as :class:`CarCounts` says: sorted by code, line and basket, a car's baskets with a code stand together."""
    lines, size = len(arrays.lines), len(arrays.codes) * len(arrays.lines)
    cell = arrays.code * lines + arrays.line_of[arrays.car_of[arrays.basket]]
    rows = np.sort((cell << HALF) | arrays.basket)
    cell, basket = rows >> HALF, rows & ((1 << HALF) - 1)
    words = arrays.read_words[:, basket]
    if arrays.several:
        first = np.flatnonzero(run_starts((cell << HALF) | arrays.car_of[basket]))
        cell, words = cell[first], np.bitwise_or.reduceat(words, first, axis=1)
    groups = np.flatnonzero(run_starts(cell))
    present = np.zeros((len(arrays.modules), size), dtype=np.int64)
    for module in range(len(arrays.modules)):
        present[module, cell[groups]] = np.add.reduceat(_flag(words, module), groups)
    return present.reshape(-1, len(arrays.codes), lines).transpose(1, 0, 2).copy()


def split_cars(arrays: EpisodeArrays, parts: int) -> list[EpisodeArrays]:
    """Cut the cars into at most so many runs of about equal length.

    Args:
        arrays: The baskets as arrays; a car's baskets stand together.
        parts: How many runs, at least 1.

    Returns:
        The runs, which name codes, modules and lines by the same positions.
    """
    cars, baskets = len(arrays.starts), arrays.read.shape[1]
    ends = sorted({cars * part // parts for part in range(parts + 1)})
    first = np.append(arrays.starts, baskets)
    runs = []
    for low, high in pairwise(ends):
        begin, end = int(first[low]), int(first[high])
        rows = slice(*np.searchsorted(arrays.basket, [begin, end]))
        runs.append(
            replace(
                arrays,
                table=arrays.table[begin:end],
                starts=arrays.starts[low:high] - begin,
                car_of=arrays.car_of[begin:end] - low,
                line_of=arrays.line_of[low:high],
                basket=arrays.basket[rows] - begin,
                code=arrays.code[rows],
                read=arrays.read[:, begin:end],
            )
        )
    return runs


def sum_counts(counts: Sequence[CarCounts]) -> CarCounts:
    """Return the counts of all parts together.

    Args:
        counts: Those of each part, from the same codes, modules and lines; at least one.
    """
    many = max(len(counts[0].codes), 1)
    keys, place = np.unique(np.concatenate([one.first * many + one.second for one in counts]), return_inverse=True)
    vehicles = np.zeros(len(keys), dtype=np.int64)
    np.add.at(vehicles, place, np.concatenate([one.vehicles for one in counts]))
    return replace(
        counts[0],
        both_read=np.sum([one.both_read for one in counts], axis=0),
        present=np.sum([one.present for one in counts], axis=0),
        first=keys // many,
        second=keys % many,
        vehicles=vehicles,
        baskets=sum(one.baskets for one in counts),
    )
