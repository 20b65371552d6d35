"""The cars' baskets as arrays of numbers: which codes were in them, which modules were read.

Texts are slow to count, so every code, module, model line and basket gets a number
once, in the order of their names.  Everything that is counted later is counted on
these numbers.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import numpy.typing as npt
import polars as pl

from analysis.mining.mining_frames import MiningFrames

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Words = npt.NDArray[np.uint64]
HALF = 32  # bits of a number of 64 that hold the second of two packed numbers
WORD = 64  # modules whose flags one number holds


@dataclass(frozen=True)
class EpisodeArrays:
    """Baskets as arrays, ordered so that the baskets of one car stand together.

    Attributes:
        codes, modules, lines: The names behind the positions, each sorted; modules that have no code are left out.
        module_of: [codes] position of the code's module.
        table: One row per basket: vehicle, line, started_at, ended_at.
        starts: [cars] position of each car's first basket.
        car_of: [baskets] position of the basket's car.
        line_of: [cars] position of the car's line.
        basket, code: [rows] basket and code positions of each code in a basket, sorted.
        read: [modules, baskets] was the module read?
    """

    codes: list[str]
    modules: list[str]
    lines: list[str]
    module_of: Ints
    table: pl.DataFrame
    starts: Ints
    car_of: Ints
    line_of: Ints
    basket: Ints
    code: Ints
    read: Bools
    _known: dict[tuple[int, ...], Ints] = field(default_factory=dict, init=False, repr=False, compare=False)

    @property
    def several(self) -> bool:
        """Tell whether some car has several baskets."""
        return len(self.starts) < len(self.car_of)

    def places(self, codes: list[str]) -> Ints:
        """Return the positions of some codes."""
        return np.array([self._place_of[code] for code in codes], dtype=np.int64)

    @cached_property
    def _place_of(self) -> dict[str, int]:
        return {code: place for place, code in enumerate(self.codes)}

    @cached_property
    def by_code(self) -> tuple[Ints, Ints]:
        """Return the baskets of every code, code after code, and [codes + 1] where each code's begin."""
        packed = np.sort((self.code << HALF) | self.basket)
        return packed & ((1 << HALF) - 1), np.searchsorted(packed >> HALF, np.arange(len(self.codes) + 1))

    @cached_property
    def read_words(self) -> Words:
        """Return [words, baskets] which modules were read, 64 modules to a number."""
        words = np.zeros((-(-len(self.modules) // WORD) or 1, self.read.shape[1]), dtype=np.uint64)
        for module, flags in enumerate(self.read):
            words[module // WORD] |= flags.astype(np.uint64) << np.uint64(module % WORD)
        return words

    def near(self, codes: Ints) -> tuple[Ints, Bools]:
        """Return the baskets that hold one of the codes, in order, and [baskets, codes] which of them they hold."""
        held_by, ends = self.by_code
        parts = [held_by[ends[code] : ends[code + 1]] for code in codes]
        baskets = unique_sorted(np.concatenate([*parts, np.zeros(0, dtype=np.int64)]))
        held = np.zeros((len(baskets), len(codes)), dtype=bool)
        for column, part in enumerate(parts):
            held[np.searchsorted(baskets, part), column] = True
        return baskets, held

    def read_together(self, modules: Ints) -> Ints:
        """Return [lines] the cars that have a basket in which all these modules were read."""
        key = tuple(sorted(set(modules.tolist())))
        if key not in self._known:
            self._known[key] = self.cars_by_line(np.flatnonzero(np.all(self.read[list(key)], axis=0)))
        return self._known[key]

    def cars_by_line(self, baskets: Ints) -> Ints:
        """Return [lines] the cars to which some baskets, given in order, belong."""
        return np.bincount(self.line_of[unique_sorted(self.car_of[baskets], sort=False)], minlength=len(self.lines))


def episode_arrays(frames: MiningFrames, without: frozenset[str] = frozenset()) -> EpisodeArrays:
    """Turn the frames of baskets into arrays.

    Args:
        frames: The mining frames; ``baskets`` must have at least one row.
        without: Code keys to leave out.

    Returns:
        The arrays, in an order that does not depend on the order of the frames' rows.
    """
    # Few calls, and names sorted outside of the frames: with a thousand baskets a call costs as much as counting does.
    baskets = frames.baskets.sort("vehicle", "started_at", "basket")
    held = frames.basket_codes.filter(~pl.col("code").is_in(sorted(without))) if without else frames.basket_codes
    codes, lines = sorted(held["code"].unique().to_list()), sorted(baskets["line"].unique().to_list())
    of_code = dict(zip(frames.codes["code"].to_list(), frames.codes["module"].to_list(), strict=True))
    modules = sorted({of_code[code] for code in codes})
    place = {module: number for number, module in enumerate(modules)}
    first = run_starts(baskets["vehicle"].rle_id().to_numpy())
    starts = np.flatnonzero(first)
    rows = np.sort((_places(held, baskets) << HALF) | positions(held["code"], codes))
    asked = frames.basket_modules["module"].cast(pl.Enum(modules), strict=False).to_physical().cast(pl.Int64)
    read = np.zeros((len(modules) + 1, baskets.height), dtype=bool)  # the last row takes modules that have no code
    read[asked.fill_null(len(modules)).to_numpy(), _places(frames.basket_modules, baskets)] = True
    return EpisodeArrays(
        codes=codes,
        modules=modules,
        lines=lines,
        module_of=np.array([place[of_code[code]] for code in codes], dtype=np.int64),
        table=baskets.select("vehicle", "line", "started_at", "ended_at"),
        starts=starts,
        car_of=np.cumsum(first) - 1,
        line_of=positions(baskets["line"].gather(starts), lines),
        basket=rows >> HALF,
        code=rows & ((1 << HALF) - 1),
        read=read[:-1],
    )


def car_numbers(baskets: pl.DataFrame) -> Ints:
    """Return, for each basket by its number, a number from 0 on of its car; their order means nothing."""
    number = baskets["vehicle"].cast(pl.Categorical).to_physical().to_numpy()
    used = np.zeros(int(number.max(initial=0)) + 1, dtype=np.int64)
    used[number] = 1
    car_of = np.zeros(int(baskets["basket"].to_numpy().max(initial=0)) + 1, dtype=np.int64)
    car_of[baskets["basket"].to_numpy()] = (np.cumsum(used) - 1)[number]
    return car_of


def _places(rows: pl.DataFrame, baskets: pl.DataFrame) -> Ints:
    """Return for each row the place of its basket in the table of baskets, which are numbered from 1 on."""
    known = baskets["basket"].to_numpy()
    place = np.zeros(int(known.max()) + 1, dtype=np.int64)
    place[known] = np.arange(len(known))
    found: Ints = place[rows["basket"].to_numpy()]
    return found


def positions(column: pl.Series, names: list[str]) -> Ints:
    """Return for each value its position among the names."""
    return column.cast(pl.Enum(names)).to_physical().cast(pl.Int64).to_numpy()


def unique_sorted(values: Ints, sort: bool = True) -> Ints:
    """Return each value once, in order; values that stand in order already need no sort."""
    ordered = np.sort(values) if sort else values
    return ordered[run_starts(ordered)]


def value_counts(values: Ints, end: int) -> tuple[Ints, Ints]:
    """Return each value once, in order, and how often it is there; all lie from 0 to below ``end``."""
    if end <= len(values):
        often = np.bincount(values)
        kinds = np.flatnonzero(often)
        return kinds, often[kinds]
    ordered = np.sort(values.astype(np.min_scalar_type(end)))  # small numbers are sorted faster
    places = np.flatnonzero(run_starts(ordered))
    return ordered[places].astype(np.int64), np.diff(places, append=len(ordered))


def run_starts(ordered: npt.NDArray[np.integer]) -> Bools:
    """Tell where a value differs from the one before it."""
    return np.concatenate([np.ones(min(len(ordered), 1), dtype=bool), ordered[1:] != ordered[:-1]])
