"""Patterns of several codes in a family, and the rules among them that say more than their shorter selves.

A pattern is a set of codes that were on several cars at once; only the closed ones are
listed, those to which no further code could be added without losing a car.  If cars with
A usually have B, cars with A and C usually have B as well, and that is no news.  A longer rule
is kept only if each of its codes adds something: among the cars that have all the
others, those with this one have the consequent clearly more often.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import polars as pl

from analysis.mining.episodes import Bools, EpisodeArrays, Ints, once
from analysis.mining.pairs import CONFIRM_AT
from analysis.mining.patterns import Counted, closed_sets, frequent_sets_of
from analysis.mining.rules import RULE_SCHEMA, in_order, with_measures
from analysis.statistics.effect_sizes import odds_ratio
from analysis.statistics.stratified_tests import p_more

MAX_CODES = 5
LAYERS = 4  # sizes two to five share the accepted error equally
SHARE_OF_CARS = 0.005  # a pattern must be on at least this share of the cars
PATTERN_SCHEMA = pl.Schema({"family": pl.String(), "codes": pl.List(pl.String), "vehicles": pl.Int64()})


class CarsWith:
    """Counts cars per line that have a basket with all of some codes, modules read."""

    def __init__(self, codes: tuple[str, ...], arrays: EpisodeArrays) -> None:
        """Take the codes of one set; only baskets in which all their modules were read are looked at."""
        where = arrays.places(list(codes))
        self.modules = arrays.module_of[where]
        self.column = {code: n for n, code in enumerate(codes)}
        near, held = arrays.near(where)
        read = np.all(arrays.read[self.modules[:, None], near], axis=0)
        self.baskets, self.held = near[read], held[read]
        self.arrays = arrays

    def __call__(self, *codes: str) -> Ints:
        """Return [lines] the cars that have a basket with these codes (none: in which all modules were read)."""
        if not codes:
            return self.arrays.read_together(self.modules)
        flags = np.all(self.held[:, [self.column[code] for code in codes]], axis=1)
        return self.arrays.cars_by_line(self.baskets[flags])


def family_patterns(named: dict[str, list[str]], arrays: EpisodeArrays, min_vehicles: int) -> dict[str, Counted]:
    """Count the cars of every set of two to five codes inside each family.

    Args:
        named: Family name to its codes.
        arrays: The baskets as arrays.
        min_vehicles: Cars a set must be on; at least one in two hundred cars is asked for anyway.

    Returns:
        Family to sets with their cars.
    """
    needed = max(min_vehicles, int(np.ceil(SHARE_OF_CARS * len(arrays.starts))))
    several = {family: _with_several(codes, arrays) for family, codes in named.items()}
    found = frequent_sets_of({family: held for family, (_, held) in several.items()}, needed, MAX_CODES)
    answer: dict[str, Counted] = {family: {} for family in named}
    for family, codes in named.items():
        baskets, held = several[family]
        for places in found[family]:
            cars = len(once(arrays.car_of[baskets[np.all(held[:, places], axis=1)]], sort=False))
            if len(places) > 1 and cars >= needed:
                answer[family][frozenset(codes[place] for place in places)] = cars
    return answer


def _with_several(codes: list[str], arrays: EpisodeArrays) -> tuple[Ints, Bools]:
    """Return the baskets that hold two of the codes or more, and [baskets, codes] which of them they hold."""
    baskets, held = arrays.near(arrays.places(codes))
    several = held.sum(axis=1) > 1
    return baskets[several], held[several]


def closed_patterns(patterns: dict[str, Counted]) -> pl.DataFrame:
    """List the closed patterns of two or more codes.

    Args:
        patterns: The counted sets of :func:`family_patterns`.

    Returns:
        One row per family and closed set: family, codes (sorted), vehicles; the commonest first within a family.
    """
    rows = [
        (family, sorted(codes), cars)
        for family, counted in patterns.items()
        for codes, cars in closed_sets(counted).items()
        if len(codes) > 1
    ]
    table = pl.DataFrame(rows, schema=PATTERN_SCHEMA, orient="row")
    return table.sort("family", "vehicles", "codes", descending=[False, True, False])


def longer_rules(patterns: dict[str, Counted], arrays: EpisodeArrays) -> pl.DataFrame:
    """Find confirmed rules of three to five codes inside the families.

    Args:
        patterns: The counted sets of :func:`family_patterns`.
        arrays: The baskets as arrays.

    Returns:
        One row per rule in the columns of ``rules.csv``; p_value is the largest over the rule's own
        generalisations, q_value the same times the number of rules of that size and the layers.

    Source:
        G. I. Webb, "Discovering significant patterns", Machine Learning 68 (2007), 1-33, and
        "Layered critical values", Machine Learning 71 (2008), 307-323.
    """
    found = {tuple(sorted(codes)) for counted in patterns.values() for codes in counted if len(codes) > 2}
    if not found:
        return pl.DataFrame(schema=RULE_SCHEMA)
    tested = _tested(sorted(found), arrays)
    corrected = (pl.col("p_value") * LAYERS * pl.len().over(pl.col("codes").list.len())).clip(upper_bound=1.0)
    kept = tested.with_columns(q_value=corrected).filter(pl.col("q_value") <= CONFIRM_AT).sort("codes", "consequent")
    return in_order(with_measures(_described(kept, arrays).with_columns(verdict=pl.lit("confirmed"))))


def _tested(sets: list[tuple[str, ...]], arrays: EpisodeArrays) -> pl.DataFrame:
    """Return one row per rule: codes, consequent and the largest p-value of "this code adds something"."""
    tables: list[tuple[Ints, Ints, Ints, Ints]] = []
    for codes in sets:
        cars_with = CarsWith(codes, arrays)
        for a, b in combinations(codes, 2):
            others = [code for code in codes if code not in (a, b)]
            counts = (cars_with(*codes), cars_with(*others, a), cars_with(*others, b), cars_with(*others))
            tables.append(counts)
    p_values = iter(p_more(*(np.stack(part) for part in zip(*tables, strict=True))).tolist())
    rows = []
    for codes in sets:
        by_pair = {pair: next(p_values) for pair in combinations(codes, 2)}
        rows += [(list(codes), code, max(p for pair, p in by_pair.items() if code in pair)) for code in codes]
    return pl.DataFrame(
        rows, schema={"codes": pl.List(pl.String), "consequent": pl.String, "p_value": pl.Float64}, orient="row"
    )


def _described(rules: pl.DataFrame, arrays: EpisodeArrays) -> pl.DataFrame:
    """Add what the left side, its counts and its odds ratio are."""
    left, tables = [], [np.zeros((0, len(arrays.lines)), dtype=np.int64)] * 4
    for codes, after in rules.select("codes", "consequent").iter_rows():
        before = [code for code in codes if code != after]
        cars_with = CarsWith(tuple(codes), arrays)
        left.append(";".join(before))
        counts = (cars_with(*codes), cars_with(*before), cars_with(after), cars_with())
        tables = [np.vstack([table, count]) for table, count in zip(tables, counts, strict=True)]
    odds = odds_ratio(tables[0], tables[1], tables[2], tables[3])
    both, with_a, with_b, cars = (table.sum(axis=1) for table in tables)
    return rules.drop("codes").with_columns(
        antecedent=pl.Series(left, dtype=pl.String),
        vehicles=both,
        with_a=with_a,
        with_b=with_b,
        cars=cars,
        odds_ratio=odds.value,
        odds_low=odds.low,
        odds_high=odds.high,
    )
