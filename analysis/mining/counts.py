"""How many cars had each code, and each two codes at once?

The unit is the car, not the basket.  A code that nobody repaired is seen again after
every visit, and a car comes in dirty and leaves clean; both make codes that have
nothing to do with each other look like companions when every basket counts as a new
observation.  So a car has one vote per pair of codes: among its baskets in which both
modules were read, was the first code there, was the second, were both in one basket?
Should the codes be independent, "both in one basket" is at most as frequent as the two
single answers would make it, so the promise of the tests is kept on the safe side.

A car whose modules were not both read in one basket says nothing about that pair.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from analysis.mining.frames import MiningFrames

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class CarCounts:
    """Cars per model line, by code and by pair of codes.

    Attributes:
        codes: Code keys, sorted; every other array speaks of them by position.
        lines: Model lines, sorted.
        module_of: [codes] position of the code's module.
        both_read: [lines, modules, modules] cars with a basket in which both modules were read.
        present: [lines, codes, modules] cars with a basket that holds the code and in which the module was read.
        first, second: [pairs] the two codes of each pair that ever met, first < second.
        joint: [pairs, lines] cars with a basket that holds both.
        baskets: Baskets behind all this.
    """

    codes: list[str]
    lines: list[str]
    module_of: Ints
    both_read: Ints
    present: Ints
    first: Ints
    second: Ints
    joint: Ints
    baskets: int

    def margins(self, first: Ints, second: Ints) -> tuple[Ints, Ints, Ints]:
        """Return, per pair and line, the cars with the first code, with the second, and all that could show both."""
        module_a, module_b = self.module_of[first], self.module_of[second]
        with_a = self.present[:, first, module_b].T
        with_b = self.present[:, second, module_a].T
        return with_a, with_b, self.both_read[:, module_a, module_b].T

    def lines_with(self, one: str, other: str) -> tuple[Ints, Ints, Ints, Ints]:
        """Return, per line, the cars with both codes, with the one, with the other, and all that could show both."""
        a, b = sorted((self.codes.index(one), self.codes.index(other)))
        with_a, with_b, cars = (part[0] for part in self.margins(np.array([a]), np.array([b])))
        joint = self.joint[(self.first == a) & (self.second == b)].sum(axis=0)
        return (joint, with_a, with_b, cars) if one <= other else (joint, with_b, with_a, cars)


@dataclass(frozen=True)
class Spells:
    """Baskets as arrays, ordered so that the baskets of one car stand together.

    Attributes:
        codes, modules, lines, vehicles: The names behind the positions, each sorted.
        module_of: [codes] position of the code's module.
        starts: [cars] position of each car's first basket.
        line_of: [cars] position of the car's line.
        code_rows: [baskets with codes, 2] basket and code positions, sorted.
        read: [modules, baskets] was the module read?
    """

    codes: list[str]
    modules: list[str]
    lines: list[str]
    vehicles: list[str]
    module_of: Ints
    starts: Ints
    line_of: Ints
    code_rows: Ints
    read: Bools

    def any_per_car(self, flags: Bools) -> Bools:
        """Return, for each column of [baskets, columns], which cars have a basket that is flagged."""
        return np.logical_or.reduceat(flags, self.starts, axis=0)

    def holds(self, codes: Ints) -> Bools:
        """Return [baskets, codes]: does the basket hold the code?"""
        column = np.full(len(self.codes), -1, dtype=np.int64)
        column[codes] = np.arange(len(codes))
        where = column[self.code_rows[:, 1]]
        found = np.zeros((self.read.shape[1], len(codes)), dtype=bool)
        found[self.code_rows[where >= 0, 0], where[where >= 0]] = True
        return found


def spells(frames: MiningFrames, without: frozenset[str] = frozenset()) -> Spells:
    """Turn the frames of baskets into arrays.

    Args:
        frames: The mining frames; ``baskets`` must have at least one row.
        without: Code keys to leave out.

    Returns:
        The arrays, in an order that does not depend on the order of the frames' rows.
    """
    baskets = frames.baskets.sort("vehicle", "started_at", "basket")
    held = frames.basket_codes.filter(~pl.col("code").is_in(sorted(without))) if without else frames.basket_codes
    codes = held["code"].unique().sort().to_list()
    of_code = dict(frames.codes.select("code", "module").iter_rows())
    modules = sorted({*frames.basket_modules["module"].unique(), *(of_code[code] for code in codes)})
    lines = baskets["line"].unique().sort().to_list()
    starts = np.flatnonzero(_changes(baskets["vehicle"].rle_id().to_numpy()))
    rows = np.sort(_places(held, baskets) * max(len(codes), 1) + _positions(held["code"], codes))
    read = np.zeros((len(modules), baskets.height), dtype=bool)
    read[_positions(frames.basket_modules["module"], modules), _places(frames.basket_modules, baskets)] = True
    return Spells(
        codes=codes,
        modules=modules,
        lines=lines,
        vehicles=baskets["vehicle"].gather(starts).to_list(),
        module_of=np.array([modules.index(of_code[code]) for code in codes], dtype=np.int64),
        starts=starts,
        line_of=_positions(baskets["line"].gather(starts), lines),
        code_rows=np.column_stack(np.divmod(rows, max(len(codes), 1))),
        read=read,
    )


def _places(rows: pl.DataFrame, baskets: pl.DataFrame) -> Ints:
    """Return for each row the place of its basket in the table of baskets, which are numbered from 1 on."""
    known = baskets["basket"].to_numpy()
    place = np.zeros(int(known.max()) + 1, dtype=np.int64)
    place[known] = np.arange(len(known))
    found: Ints = place[rows["basket"].to_numpy()]
    return found


def _positions(column: pl.Series, names: list[str]) -> Ints:
    """Return for each value its position among the names."""
    return column.cast(pl.Enum(names)).to_physical().cast(pl.Int64).to_numpy()


def car_counts(arrays: Spells) -> CarCounts:
    """Count cars by model line, code and pair of codes.

    Args:
        arrays: The baskets as arrays, from :func:`spells`.

    Returns:
        The counts of cars per model line.
    """
    first, second, joint = pair_cars(arrays)
    return CarCounts(
        codes=arrays.codes,
        lines=arrays.lines,
        module_of=arrays.module_of,
        both_read=_both_read(arrays),
        present=_present(arrays),
        first=first,
        second=second,
        joint=joint,
        baskets=arrays.read.shape[1],
    )


def pair_cars(arrays: Spells) -> tuple[Ints, Ints, Ints]:
    """Count, per line, the cars on which two codes met in one basket.

    A pair on a car is one number (car, first, second), so that finding each once is one sort.

    Args:
        arrays: The baskets as arrays, from :func:`spells`.

    Returns:
        ``(first, second, joint)`` as in :class:`CarCounts`.
    """
    many, lines = max(len(arrays.codes), 1), len(arrays.lines)
    met = _once(_meetings(arrays, many))
    met = np.sort(met % many**2 * lines + arrays.line_of[met // many**2])
    cells, cars = _once(met, sort=False), np.diff(np.flatnonzero(_changes(met)), append=len(met))
    pairs = cells // lines
    keys = _once(pairs, sort=False)
    joint = np.zeros((len(keys), lines), dtype=np.int64)
    joint[np.cumsum(_changes(pairs)) - 1, cells % lines] = cars
    return keys // many, keys % many, joint


def _meetings(arrays: Spells, many: int) -> Ints:
    """Return (car * many + first) * many + second for every two codes of every basket; a car's may repeat."""
    basket, code = arrays.code_rows[:, 0], arrays.code_rows[:, 1]
    car = np.searchsorted(arrays.starts, basket, side="right") - 1
    found, row, step = [np.zeros(0, dtype=np.int64)], np.arange(len(basket)), 0
    while len(row):
        step += 1
        row = row[row + step < len(basket)]
        row = row[basket[row] == basket[row + step]]  # the codes of a basket stand together, in order
        found.append((car[row] * many + code[row]) * many + code[row + step])
    return np.concatenate(found)


def _once(values: Ints, sort: bool = True) -> Ints:
    """Return each value once, in order; values that stand in order already need no sort."""
    ordered = np.sort(values) if sort else values
    return ordered[_changes(ordered)]


def _changes(ordered: Ints) -> Bools:
    """Tell where a value differs from the one before it."""
    return np.concatenate([np.ones(min(len(ordered), 1), dtype=bool), ordered[1:] != ordered[:-1]])


def _both_read(arrays: Spells) -> Ints:
    count = len(arrays.modules)
    both = np.zeros((len(arrays.lines), count, count), dtype=np.int64)
    for a in range(count):
        for b in range(a, count):
            cars = arrays.any_per_car(arrays.read[a] & arrays.read[b])
            both[:, a, b] = both[:, b, a] = np.bincount(arrays.line_of[cars], minlength=len(arrays.lines))
    return both


def _present(arrays: Spells) -> Ints:
    basket, code = arrays.code_rows[:, 0], arrays.code_rows[:, 1]
    car = np.searchsorted(arrays.starts, basket, side="right") - 1
    one, where = np.unique(code * len(arrays.starts) + car, return_inverse=True)
    cell = (one // max(len(arrays.starts), 1)) + len(arrays.codes) * arrays.line_of[one % max(len(arrays.starts), 1)]
    present = np.zeros((len(arrays.lines), len(arrays.codes), len(arrays.modules)), dtype=np.int64)
    for module in range(len(arrays.modules)):
        seen = np.zeros(len(one), dtype=bool)
        seen[where[arrays.read[module, basket]]] = True
        counted = np.bincount(cell[seen], minlength=len(arrays.lines) * len(arrays.codes))
        present[:, :, module] = counted.reshape(len(arrays.lines), len(arrays.codes))
    return present
