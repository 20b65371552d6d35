"""Association rules: "cars with A also have B", of pairs and of larger sets of codes.

A pair that passed gives two rules, one each way; the test and the odds ratio are the
pair's, the confidence is the rule's own.  Counts come along with every share.

Within a family, sets of several codes that were on several cars at once give longer
rules.  Only the closed sets are listed, those to which no further code could be added
without losing a car, and only productive rules: if cars with A usually have B, cars with A
and C usually have B as well, and that is no news.  Each code of a longer rule must add
something: among the cars that have all the others, those with this one have the
consequent clearly more often.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import polars as pl

from analysis.mining.episode_arrays import Bools, EpisodeArrays, Ints, unique_sorted
from analysis.mining.itemsets import Counted, closed_sets, frequent_sets_of
from analysis.mining.pairs import CONFIRM_AT
from analysis.statistics import rule_measures
from analysis.statistics.effect_sizes import odds_ratio
from analysis.statistics.intervals import wilson
from analysis.statistics.stratified_tests import p_more

RULE_SCHEMA = pl.Schema(
    {
        "antecedent": pl.String,
        "consequent": pl.String,
        "vehicles": pl.Int64,
        "support": pl.Float64,
        "confidence": pl.Float64,
        "confidence_low": pl.Float64,
        "confidence_high": pl.Float64,
        "lift": pl.Float64,
        "leverage": pl.Float64,
        "conviction": pl.Float64,
        "odds_ratio": pl.Float64,
        "odds_low": pl.Float64,
        "odds_high": pl.Float64,
        "p_value": pl.Float64,
        "q_value": pl.Float64,
        "verdict": pl.String,
    }
)
MAX_CODES = 5
LAYERS = 4  # sizes two to five share the accepted error equally
SHARE_OF_CARS = 0.005  # a pattern must be on at least this share of the cars
PATTERN_SCHEMA = pl.Schema({"family": pl.String(), "codes": pl.List(pl.String), "vehicles": pl.Int64()})


def pair_rules(pairs: pl.DataFrame) -> pl.DataFrame:
    """Return both rules of every listed pair.

    Args:
        pairs: The listed pairs of :func:`analysis.mining.pairs.describe_pairs`.

    Returns:
        One row per rule in the columns of ``rules.csv``, sorted by :func:`in_order`.
    """
    forth = pairs.rename({"code_a": "antecedent", "code_b": "consequent"})
    swap = {"code_b": "antecedent", "code_a": "consequent", "with_a": "with_b", "with_b": "with_a"}
    back = pairs.rename(swap).select(forth.columns)
    return in_order(with_measures(pl.concat([forth, back])))


def with_measures(rules: pl.DataFrame) -> pl.DataFrame:
    """Add the customary measures and the interval of the confidence to rules that carry their counts.

    Args:
        rules: One row per rule: antecedent, consequent, vehicles (both), with_a (antecedent),
            with_b (consequent), cars, odds_ratio, odds_low, odds_high, p_value, q_value, verdict.

    Returns:
        The same rows in the columns of ``rules.csv``.
    """
    both, a, b, cars = (rules[name].to_numpy() for name in ("vehicles", "with_a", "with_b", "cars"))
    ends = [wilson(int(k), int(n)) for k, n in zip(both, a, strict=True)]
    return rules.with_columns(
        support=np.divide(both, cars),
        confidence=rule_measures.confidence(both, a),
        confidence_low=pl.Series([low for low, _ in ends], dtype=pl.Float64),
        confidence_high=pl.Series([high for _, high in ends], dtype=pl.Float64),
        lift=rule_measures.lift(both, a, b, cars),
        leverage=rule_measures.leverage(both, a, b, cars),
        conviction=rule_measures.conviction(both, a, b, cars),
    ).select(RULE_SCHEMA.names())


def in_order(rules: pl.DataFrame) -> pl.DataFrame:
    """Sort rules: confirmed before likely, then by the lower end of the odds ratio, then by name."""
    return rules.cast(RULE_SCHEMA).sort(
        "verdict", "odds_low", "antecedent", "consequent", descending=[False, True, False, False]
    )


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
            cars = len(unique_sorted(arrays.car_of[baskets[np.all(held[:, places], axis=1)]], sort=False))
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


def longer_rules(patterns: dict[str, Counted], arrays: EpisodeArrays, level: float = CONFIRM_AT) -> pl.DataFrame:
    """Find rules of three to five codes inside the families.

    Args:
        patterns: The counted sets of :func:`family_patterns`.
        arrays: The baskets as arrays.
        level: Rules with a q-value up to this are confirmed, the others likely.

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
    sure = pl.when(pl.col("q_value") <= level).then(pl.lit("confirmed")).otherwise(pl.lit("likely"))
    return in_order(with_measures(_described(kept, arrays).with_columns(verdict=sure)))


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
