"""The pattern miner against textbooks, brute force and a second miner; measures of rules."""

import random
from itertools import combinations

import numpy as np
import polars as pl
import pytest

from analysis.mining import itemsets
from analysis.mining.itemsets import closed_sets, frequent_sets, frequent_sets_of
from analysis.statistics import rule_measures
from analysis.statistics.effect_sizes import within_line_phi

ALL_ELECTRONICS = "125 24 23 124 13 23 13 1235 123"
MILK = [
    {"Bread", "Milk"},
    {"Bread", "Diapers", "Beer", "Eggs"},
    {"Milk", "Diapers", "Beer", "Cola"},
    {"Bread", "Milk", "Diapers", "Beer"},
    {"Bread", "Milk", "Diapers", "Cola"},
]


def rows_of(baskets):
    """Turn baskets (sets, or words of one-letter items) into the miner's frame."""
    items = sorted({item for basket in baskets for item in basket})
    return pl.DataFrame({item: [item in basket for basket in baskets] for item in items})


def mined(text, minimum):
    return {"".join(sorted(codes)): n for codes, n in frequent_sets(rows_of(text.split()), minimum, 9).items()}


def closed(text, minimum):
    counted = frequent_sets(rows_of(text.split()), minimum, 9)
    return {"".join(sorted(codes)): n for codes, n in closed_sets(counted).items()}


def maximal(sets):
    return {one for one in sets if not any(set(one) < set(other) for other in sets)}


def test_agrawal_and_srikant_four_baskets():
    # R. Agrawal and R. Srikant, VLDB 1994, 487-499, figure 3.
    found = mined("134 235 1235 25", 2)
    assert found == {"1": 2, "2": 3, "3": 3, "5": 3, "13": 2, "23": 2, "25": 3, "35": 2, "235": 2}
    assert len(closed("134 235 1235 25", 2)) == 4
    assert maximal(found) == {"13", "235"}


def test_han_and_kamber_nine_baskets():
    # J. Han and M. Kamber, Data Mining: Concepts and Techniques, the AllElectronics example.
    found = mined(ALL_ELECTRONICS, 2)
    assert found == {
        **{"1": 6, "2": 7, "3": 6, "4": 2, "5": 2},
        **{"12": 4, "13": 4, "15": 2, "23": 4, "24": 2, "25": 2, "123": 2, "125": 2},
    }
    left = ["12", "15", "25", "1", "2", "5"]
    expected = [0.50, 1, 1, 1 / 3, 2 / 7, 1]
    assert [found["125"] / found[side] for side in left] == pytest.approx(expected)


def test_han_pei_and_yin_five_baskets():
    # J. Han, J. Pei and Y. Yin, SIGMOD 2000, table 1; minimum support 3.
    found = mined("facdgimp abcflmo bfhjo bcksp afcelpmn", 3)
    assert len(found) == 18
    assert [found[one] for one in "fcabmp"] == [4, 4, 3, 3, 3, 3]
    assert (found["acfm"], found["cp"]) == (3, 3)


def test_zaki_and_meira_six_baskets():
    # M. J. Zaki and W. Meira, Data Mining and Analysis (2014), chapters 8 and 9; minimum support 3.
    text = "ABDE BCE ABDE ABCE ABCDE BCD"
    found = mined(text, 3)
    assert len(found) == 19
    assert closed(text, 3) == {"B": 6, "BE": 5, "ABE": 4, "BC": 4, "BD": 4, "BCE": 3, "ABDE": 3}
    assert maximal(found) == {"ABDE", "BCE"}


def test_tan_steinbach_and_kumar_milk_and_diapers():
    # P.-N. Tan, M. Steinbach and V. Kumar, Introduction to Data Mining, chapter 6.
    found = frequent_sets(rows_of(MILK), 1, 3)
    both = found[frozenset({"Milk", "Diapers", "Beer"})]
    left, right = found[frozenset({"Milk", "Diapers"})], found[frozenset({"Beer"})]
    assert both / 5 == 0.4
    assert rule_measures.confidence(both, left) == pytest.approx(2 / 3)
    assert rule_measures.lift(both, left, right, 5) == pytest.approx(1.111, abs=5e-4)
    assert rule_measures.leverage(both, left, right, 5) == pytest.approx(0.04)
    assert rule_measures.conviction(both, left, right, 5) == pytest.approx(1.2)
    sides = [("Milk", "Diapers"), ("Milk", "Beer"), ("Diapers", "Beer"), ("Beer",), ("Diapers",), ("Milk",)]
    assert [both / found[frozenset(side)] for side in sides] == pytest.approx([2 / 3, 1, 2 / 3, 2 / 3, 0.5, 0.5])


def test_games_and_videos_are_bought_together_less_than_by_chance():
    # J. Han, M. Kamber and J. Pei, Data Mining, 3rd edition, chapter 6.
    assert rule_measures.confidence(4000, 6000) == pytest.approx(0.667, abs=5e-4)
    assert rule_measures.lift(4000, 6000, 7500, 10_000) == pytest.approx(0.89, abs=5e-3)
    phi = within_line_phi(*(np.array([[n]]) for n in (4000, 6000, 7500, 10_000)))[0]
    assert phi < 0
    assert phi**2 * 10_000 == pytest.approx(555.6, abs=0.05)  # chi-square is n times phi squared


@pytest.mark.parametrize(
    ("cells", "lift", "kulczynski", "cosine", "imbalance"),
    [
        ((10_000, 1_000, 1_000, 100_000), 9.26, 0.91, 0.91, 0),
        ((10_000, 1_000, 1_000, 100), 1, 0.91, 0.91, 0),
        ((100, 1_000, 1_000, 100_000), 8.44, 0.09, 0.09, 0),
        ((1_000, 1_000, 1_000, 100_000), 25.75, 0.5, 0.5, 0),
        ((1_000, 100, 10_000, 100_000), 9.18, 0.5, 0.29, 0.89),
        ((1_000, 10, 100_000, 100_000), 1.97, 0.5, 0.10, 0.99),
    ],
)
def test_measures_that_cars_with_neither_code_leave_alone(cells, lift, kulczynski, cosine, imbalance):
    # J. Han, M. Kamber and J. Pei, Data Mining, 3rd edition, chapter 6, data sets D1 to D6.
    both, only_a, only_b, _ = cells
    a, b, n = both + only_a, both + only_b, sum(cells)
    assert rule_measures.lift(both, a, b, n) == pytest.approx(lift, abs=6e-3)
    assert rule_measures.kulczynski(both, a, b) == pytest.approx(kulczynski, abs=6e-3)
    assert rule_measures.cosine(both, a, b) == pytest.approx(cosine, abs=6e-3)
    assert rule_measures.imbalance(both, a, b) == pytest.approx(imbalance, abs=6e-3)


def test_tea_and_coffee():
    # P.-N. Tan, M. Steinbach and V. Kumar, Introduction to Data Mining, chapter 6: 75 % of the tea
    # drinkers drink coffee, and yet tea makes coffee less likely.
    assert rule_measures.confidence(150, 200) == 0.75
    assert rule_measures.lift(150, 200, 800, 1000) == pytest.approx(0.9375)


def test_measures_of_a_lopsided_rule_by_hand():
    # 10 cars: A on 4, B on 5, both on 3.  Confidence 3/4; conviction (1 - 5/10) / (1 - 3/4) = 2.
    assert rule_measures.conviction(3, 4, 5, 10) == pytest.approx(2.0)
    assert rule_measures.leverage(3, 4, 5, 10) == pytest.approx(0.3 - 0.2)
    assert rule_measures.imbalance(3, 4, 5) == pytest.approx(1 / 6)


def test_a_rule_that_never_failed_has_infinite_conviction():
    assert rule_measures.conviction(5, 5, 8, 20) == np.inf


def random_rows(seed, height=25, chance=0.45):
    rng = random.Random(seed)
    return pl.DataFrame({code: [rng.random() < chance for _ in range(height)] for code in "abcdef"})


def counted_by_hand(rows, minimum, largest):
    return {
        frozenset(codes): n
        for size in range(1, largest + 1)
        for codes in combinations(rows.columns, size)
        if (n := rows.select(pl.all_horizontal(codes).sum()).item()) >= minimum
    }


@pytest.mark.parametrize("seed", range(6))
def test_no_pattern_at_exactly_the_minimum_is_lost(seed):
    # 7 of 25 is where a share of 7/25 loses sets inside the miner.
    rows = random_rows(seed)
    assert frequent_sets(rows, 7, 3) == counted_by_hand(rows, 7, 3)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("minimum", [2, 7, 9])
def test_a_second_miner_finds_the_same(seed, minimum):
    apriori = pytest.importorskip("efficient_apriori", reason="the independent miner")
    rows = random_rows(seed)
    baskets = [tuple(code for code in rows.columns if row[code]) for row in rows.iter_rows(named=True)]
    # The second miner also takes a share; half a row below the minimum is safe for it as well.
    found, _ = (
        apriori.itemsets_from_transactions(baskets, min_support=(minimum - 0.5) / rows.height, max_length=4),
        None,
    )
    theirs = {frozenset(codes): n for sets in found[0].values() for codes, n in sets.items()}
    assert frequent_sets(rows, minimum, 4) == theirs


@pytest.mark.parametrize("cells", [1, 3_000, itemsets.CELLS])
def test_tables_mined_side_by_side_give_what_each_gives_alone(monkeypatch, cells):
    monkeypatch.setattr(itemsets, "CELLS", cells)
    tables = {f"table {seed}": random_rows(seed) for seed in range(5)} | {"few": rows_of(["ab", "ab", "ac"])}
    found = frequent_sets_of({name: rows.to_numpy() for name, rows in tables.items()}, 7, 3)
    for name, rows in tables.items():
        named = [frozenset(rows.columns[place] for place in places) for places in found[name]]
        assert len(named) == len(set(named))
        assert set(named) == set(frequent_sets(rows, 7, 3))
    assert len(found["table 0"]) > 3
    assert found["few"] == []


@pytest.mark.parametrize("seed", range(4))
def test_closed_sets_are_those_no_larger_set_matches(seed):
    counted = frequent_sets(random_rows(seed, chance=0.7), 3, 6)
    by_hand = {
        codes: n for codes, n in counted.items() if not any(codes < other and n == m for other, m in counted.items())
    }
    assert closed_sets(counted) == by_hand


def test_empty_tables_hold_no_pattern():
    assert frequent_sets(pl.DataFrame(), 1, 3) == {}
    assert frequent_sets(pl.DataFrame({"a": []}, schema={"a": pl.Boolean}), 1, 3) == {}
    assert frequent_sets(pl.DataFrame({"a": [False, False]}), 1, 3) == {}
    assert closed_sets({}) == {}
    assert frequent_sets_of({}, 1, 3) == {}


def test_senseless_limits_are_refused():
    with pytest.raises(ValueError, match=r"min_count and max_codes must be at least 1; got 0 and 3"):
        frequent_sets(rows_of(["ab"]), 0, 3)
    with pytest.raises(ValueError, match=r"min_count and max_codes must be at least 1; got 2 and 0"):
        frequent_sets(rows_of(["ab"]), 2, 0)
