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

from analysis.mining.association import p_more
from analysis.mining.counts import Bools, Ints, Spells
from analysis.mining.effects import odds_ratio
from analysis.mining.pairs import CONFIRM_AT
from analysis.mining.patterns import Counted, closed_sets, frequent_sets
from analysis.mining.rules import RULE_SCHEMA, in_order, with_measures

MAX_CODES = 5
LAYERS = 4  # sizes two to five share the accepted error equally
SHARE_OF_CARS = 0.005  # a pattern must be on at least this share of the cars
PATTERN_SCHEMA = pl.Schema({"family": pl.String(), "codes": pl.List(pl.String), "vehicles": pl.Int64()})


class CarsWith:
    """Counts cars per line that have a basket with all of some codes, modules read."""

    def __init__(self, codes: tuple[str, ...], arrays: Spells) -> None:
        """Take the codes of one set; only baskets in which all their modules were read are looked at."""
        place = {code: n for n, code in enumerate(arrays.codes)}
        where = np.array([place[code] for code in codes], dtype=np.int64)
        self.column = {code: n for n, code in enumerate(codes)}
        self.read: Bools = np.all(arrays.read[arrays.module_of[where]], axis=0)
        self.held: Bools = arrays.holds(where) & self.read[:, None]
        self.arrays = arrays

    def __call__(self, *codes: str) -> Ints:
        """Return [lines] the cars that have a basket with these codes (none: in which all modules were read)."""
        columns = [self.column[code] for code in codes]
        flags: Bools = np.all(self.held[:, columns], axis=1) if codes else self.read
        cars = self.arrays.any_per_car(flags)
        return np.bincount(self.arrays.line_of[cars], minlength=len(self.arrays.lines))


def family_patterns(named: dict[str, list[str]], arrays: Spells, min_vehicles: int) -> dict[str, Counted]:
    """Count the cars of every set of up to five codes inside each family.

    Args:
        named: Family name to its codes.
        arrays: The baskets as arrays.
        min_vehicles: Cars a set must be on; at least one in two hundred cars is asked for anyway.

    Returns:
        Family to sets with their cars.
    """
    needed = max(min_vehicles, int(np.ceil(SHARE_OF_CARS * len(arrays.starts))))
    place = {code: n for n, code in enumerate(arrays.codes)}
    answer = {}
    for family, codes in named.items():
        held = arrays.holds(np.array([place[code] for code in codes], dtype=np.int64))
        rows = held[held.any(axis=1)]
        found = frequent_sets(pl.DataFrame({code: rows[:, n] for n, code in enumerate(codes)}), needed, MAX_CODES)
        counted = {
            each: _cars_with_all(held[:, [codes.index(code) for code in sorted(each)]], arrays) for each in found
        }
        answer[family] = {each: cars for each, cars in counted.items() if cars >= needed}
    return answer


def _cars_with_all(held: Bools, arrays: Spells) -> int:
    return int(arrays.any_per_car(np.all(held, axis=1)).sum())


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


def longer_rules(patterns: dict[str, Counted], arrays: Spells) -> pl.DataFrame:
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
    tested = pl.concat([_tested(codes, arrays) for codes in sorted(found)])
    corrected = (pl.col("p_value") * LAYERS * pl.len().over(pl.col("codes").list.len())).clip(upper_bound=1.0)
    kept = tested.with_columns(q_value=corrected).filter(pl.col("q_value") <= CONFIRM_AT).sort("codes", "consequent")
    return in_order(with_measures(_described(kept, arrays).with_columns(verdict=pl.lit("confirmed"))))


def _tested(codes: tuple[str, ...], arrays: Spells) -> pl.DataFrame:
    """Return one row per rule of a set: codes, consequent and the largest p-value over its shorter selves."""
    worst = _worst_p(codes, CarsWith(codes, arrays))
    return pl.DataFrame(
        {"codes": [list(codes)] * len(codes), "consequent": list(worst), "p_value": list(worst.values())}
    )


def _described(rules: pl.DataFrame, arrays: Spells) -> pl.DataFrame:
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


def _worst_p(codes: tuple[str, ...], cars_with: CarsWith) -> dict[str, float]:
    """Return per consequent the largest p-value of "this code adds something" over the other codes."""
    together = list(combinations(codes, 2))
    rest = [[code for code in codes if code not in pair] for pair in together]
    joint = np.stack([cars_with(*codes)] * len(together))
    with_a = np.stack([cars_with(*others, a) for (a, _), others in zip(together, rest, strict=True)])
    with_b = np.stack([cars_with(*others, b) for (_, b), others in zip(together, rest, strict=True)])
    given = np.stack([cars_with(*others) for others in rest])
    p_values = dict(zip(together, p_more(joint, with_a, with_b, given).tolist(), strict=True))
    return {code: max(value for pair, value in p_values.items() if code in pair) for code in codes}
