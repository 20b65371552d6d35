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
    baskets = frames.baskets.sort("vehicle", "started_at", "basket").with_row_index("place")
    places = baskets.select("basket", pl.col("place").cast(pl.Int64))
    held = frames.basket_codes.filter(~pl.col("code").is_in(sorted(without)))
    codes = sorted(held["code"].unique())
    of_code = dict(frames.codes.select("code", "module").iter_rows())
    modules = sorted({*frames.basket_modules["module"].unique(), *(of_code[code] for code in codes)})
    lines = sorted(baskets["line"].unique())
    cars = baskets.group_by("vehicle").agg(pl.col("place").min(), pl.col("line").first()).sort("vehicle")
    rows = _positions(held.join(places, on="basket"), "code", codes).sort("place", "position")
    read = np.zeros((len(modules), baskets.height), dtype=bool)
    module_rows = _positions(frames.basket_modules.join(places, on="basket"), "module", modules)
    read[module_rows["position"].to_numpy(), module_rows["place"].to_numpy()] = True
    return Spells(
        codes=codes,
        modules=modules,
        lines=lines,
        vehicles=cars["vehicle"].to_list(),
        module_of=np.array([modules.index(of_code[code]) for code in codes], dtype=np.int64),
        starts=cars["place"].cast(pl.Int64).to_numpy(),
        line_of=_positions(cars, "line", lines).sort("vehicle")["position"].to_numpy(),
        code_rows=rows.select("place", "position").to_numpy().reshape(-1, 2),
        read=read,
    )


def car_counts(frames: MiningFrames, arrays: Spells) -> CarCounts:
    """Count cars: margins from the arrays of baskets, pairs from the counted ``pair_counts``.

    Args:
        frames: The mining frames.
        arrays: The same frames as arrays, from :func:`spells`.

    Returns:
        The counts of cars per model line.
    """
    both_read = _both_read(arrays)
    present = _present(arrays)
    pairs = frames.pair_counts.filter(pl.col("code_a").is_in(arrays.codes) & pl.col("code_b").is_in(arrays.codes))
    table = _positions(pairs, "code_a", arrays.codes).rename({"position": "first"})
    table = _positions(table, "code_b", arrays.codes).rename({"position": "second"})
    table = _positions(table, "line", arrays.lines).sort("first", "second", "position")
    ids = table.select((pl.col("first") * len(arrays.codes) + pl.col("second")).alias("id"))["id"].to_numpy()
    keys, place = np.unique(ids, return_inverse=True)
    joint = np.zeros((len(keys), len(arrays.lines)), dtype=np.int64)
    joint[place, table["position"].to_numpy()] = table["vehicles"].to_numpy()
    return CarCounts(
        codes=arrays.codes,
        lines=arrays.lines,
        module_of=arrays.module_of,
        both_read=both_read,
        present=present,
        first=keys // max(len(arrays.codes), 1),
        second=keys % max(len(arrays.codes), 1),
        joint=joint,
        baskets=arrays.read.shape[1],
    )


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


def _positions(frame: pl.DataFrame, column: str, names: list[str]) -> pl.DataFrame:
    table = pl.DataFrame(
        {column: names, "position": range(len(names))}, schema={column: pl.String, "position": pl.Int64}
    )
    return frame.join(table, on=column, how="inner")
