"""Numbers of the mining, pinned: each of its constants, changed by half, changes one of them.

Where the arithmetic can be written down it stands beside the expected value; values that only the program can work out
are marked "recorded".
"""

from collections.abc import Iterable
from itertools import combinations
from types import SimpleNamespace

import networkx as nx
import numpy as np
import polars as pl
import pytest

from analysis.mining import families, mine, miner, roots
from analysis.mining.car_counts import car_counts
from analysis.mining.day_artefacts import day_artefacts
from analysis.mining.episode_arrays import EpisodeArrays, episode_arrays
from analysis.mining.families import best_communities, families_of, split_exclusive, with_shared_codes
from analysis.mining.family_changes import compare_families
from analysis.mining.null_check import NULL_SCHEMA, null_check, tightly_tied, unequal
from analysis.mining.pairs import reachable_levels
from analysis.mining.rules import family_patterns, longer_rules
from analysis.mining.stability import bootstrap_support
from analysis.mining.verdict_history import VerdictHistory, first_week, level_of, spend
from tests.support.mining_worlds import Basket, mining_frames
from tests.unit.mining.test_families import no_cars


def arrays_of(baskets: Iterable[Basket]) -> EpisodeArrays:
    return episode_arrays(mining_frames(list(baskets)))


# Codes of one day.


def one_day(with_it: int, scanned: int, others: int) -> list[tuple]:
    """So many of the cars scanned on one day have the code; each other car has a day of its own, and none has it."""
    day = [Basket(f"d{n}", "l", ["A:P1"] if n < with_it else [], ["A"], day=200) for n in range(scanned)]
    rest = [Basket(f"v{n}", "l", [], ["A"], day=n) for n in range(others)]
    return day_artefacts(mining_frames(day + rest)).select("vehicles", "scanned").rows()


def test_five_cars_make_a_day_nine_in_ten_nearly_all_and_one_in_a_thousand_is_luck() -> None:
    # By chance: 1 of "8 over 5 of 13" ways, 1 / 1287; with one car fewer, 1 / 792.
    assert one_day(5, 5, 8) == [(5, 5)]
    assert one_day(5, 5, 7) == []
    assert one_day(4, 4, 150) == []
    assert one_day(9, 10, 150) == [(9, 10)]
    assert one_day(8, 10, 150) == []


# Families.


def graph_of(links: Iterable[tuple[str, str]], weight: float = 0.5) -> nx.Graph:
    graph = nx.Graph()
    graph.add_weighted_edges_from((a, b, weight) for a, b in links)
    return graph


def test_two_links_and_half_of_the_codes_join_a_second_family() -> None:
    six = list(combinations("abcdef", 2))
    pair = graph_of([("a", "b"), ("x", "a"), ("x", "b")])
    assert with_shared_codes(pair, [{"a", "b"}]) == [{"a", "b", "x"}]
    once = graph_of([("a", "b")])
    once.add_edge("x", "a", weight=0.9)
    assert with_shared_codes(once, [{"a", "b"}]) == [{"a", "b"}]
    half = graph_of(six)
    half.add_weighted_edges_from(("x", code, 0.9) for code in "abc")
    assert with_shared_codes(half, [set("abcdef")]) == [set("abcdefx")]
    third = graph_of(six)
    third.add_weighted_edges_from(("x", code, 0.99) for code in "ab")
    assert with_shared_codes(third, [set("abcdef")]) == [set("abcdef")]


def two_cliques(links: int) -> nx.Graph:
    """Two times six codes that all hang together, one bridge between them, and so many links in all."""
    inside = [*combinations("abcdef", 2), *combinations("uvwxyz", 2)]
    return graph_of([*inside[: links - 1], ("a", "u")])


def test_from_thirty_links_on_connected_codes_may_be_several_families() -> None:
    codes = no_cars(*"abcdefuvwxyz")
    assert [len(family) for family in families_of(two_cliques(29), codes)] == [12]
    assert [len(family) for family in families_of(two_cliques(30), codes)] == [6, 6]


def test_the_best_of_fifty_starts_is_taken(monkeypatch) -> None:
    starts, louvain = [], nx.community.louvain_communities

    def counted(*args, **kwargs):
        starts.append(kwargs["seed"])
        return louvain(*args, **kwargs)

    monkeypatch.setattr(families.nx.community, "louvain_communities", counted)
    best_communities(nx.karate_club_graph(), weight=None)
    assert starts == list(range(50))


def test_two_codes_shun_each_other_where_so_few_common_cars_have_one_chance_in_fifty() -> None:
    baskets = [Basket(f"a{n}", "l", ["A:P1"], ["A"]) for n in range(10)]
    counts = car_counts(arrays_of(baskets + [Basket(f"b{n}", "l", ["A:P2"], ["A"]) for n in range(10)]))
    # None of ten cars has both: (1 - usual)^10.
    assert families._shun(counts, 0, 1, 1 - 0.015**0.1)
    assert not families._shun(counts, 0, 1, 1 - 0.025**0.1)


@pytest.mark.parametrize(("many", "parts"), [(8, 8), (9, 1)])
def test_a_group_falls_into_eight_parts_at_most(many, parts) -> None:
    roots_of_it = [f"A:P{n}" for n in range(many)]
    baskets = [Basket(f"{root} {n}", "l", [root, "B:U1"], ["A", "B"]) for root in roots_of_it for n in range(20)]
    graph = graph_of((root, "B:U1") for root in roots_of_it)
    assert len(split_exclusive(graph, {*roots_of_it, "B:U1"}, car_counts(arrays_of(baskets)))) == parts


def test_with_half_of_the_codes_in_common_a_family_is_that_of_last_week() -> None:
    def members(codes: str) -> pl.DataFrame:
        return pl.DataFrame({"family": ["f"] * len(codes), "code": list(codes)})

    cars = pl.DataFrame({"family": ["f"], "vehicle": ["v"]})
    changes = [
        compare_families(members(now), cars, members(then), cars)["change"].to_list()
        for now, then in (("abc", "abd"), ("ab", "ac"))
    ]
    assert changes == [["steady"], ["new", "vanished"]]


def test_from_an_imbalance_of_a_fifth_on_the_rarer_code_is_told_to_lead() -> None:
    pairs = pl.DataFrame(
        [("a", "b", 0.25, 5, 9), ("c", "d", 0.15, 5, 9)],
        schema=["code_a", "code_b", "imbalance", "with_a", "with_b"],
        orient="row",
    )
    inside = pl.DataFrame(
        [("f", *sides) for sides in (("a", "b"), ("b", "a"), ("c", "d"), ("d", "c"))],
        schema=["family", "leader", "follower"],
        orient="row",
    )
    assert roots._by_asymmetry(pairs, inside)["leader"].to_list() == ["a"]


# Rules.


def test_patterns_have_five_codes_at_most_and_are_on_one_car_in_two_hundred() -> None:
    codes = [f"A:P{n}" for n in range(6)]
    baskets = [Basket(f"v{n}", "l", codes if n < 5 else ["B:P1", "B:P2"] if n < 9 else [], ["A"]) for n in range(1000)]
    named = {"six": codes, "two": ["B:P1", "B:P2"]}
    found = family_patterns(named, arrays_of(baskets), 1)
    assert {len(held) for held in found["six"]} == {2, 3, 4, 5}
    assert found["two"] == {}


def test_the_four_sizes_of_rules_share_the_accepted_error() -> None:
    codes = ["A:P1", "A:P2", "A:P3"]
    baskets = [Basket(f"all{n}", "l", codes, ["A"]) for n in range(90)]
    pieces = [held for size in (0, 1, 2) for held in combinations(codes, size)]
    baskets += [Basket(f"{held}{n}", "l", held, ["A"]) for held in pieces for n in range(10)]
    found = longer_rules({"f": {frozenset(codes): 90}}, arrays_of(baskets))
    assert found.height == 3
    # One set of three codes gives three rules of its size.
    assert found["q_value"].to_list() == pytest.approx([4 * 3 * p for p in found["p_value"]])


def test_a_pair_that_cannot_reach_one_in_twenty_is_no_test() -> None:
    # Each code on one car: with 16 cars the least p-value is 1 / 16, with 25 it is 1 / 25.
    for cars, tests in ((16, 0), (25, 1)):
        held = [["A:P1"], ["A:P2"], *([] for _ in range(cars - 2))]
        counts = car_counts(arrays_of(Basket(f"v{n}", "l", codes, ["A"]) for n, codes in enumerate(held)))
        assert len(reachable_levels(counts)) == tests


# What is said, and what is kept.


def test_fewer_than_150_baskets_are_called_exploratory() -> None:
    nothing = SimpleNamespace(places=[], tests=0, at_worst=0, stepwise=0)
    said = [
        len(miner._on_tests(mining_frames([Basket(f"v{n}", "l", [], ["A"]) for n in range(many)]), nothing, 0))
        for many in (149, 150)
    ]
    assert said == [2, 1]


@pytest.mark.parametrize(("listed", "warned"), [(9, True), (11, False)])
def test_a_tenth_of_the_pairs_by_chance_is_worth_a_warning(listed, warned) -> None:
    copies = pl.DataFrame([(n, 1, 0, 0.01) for n in range(20)], schema=NULL_SCHEMA, orient="row")
    notes = miner._on_chance(mining_frames([]), SimpleNamespace(places=range(listed)), [copies])
    assert (miner.say.MANY_BY_CHANCE in notes) == warned


@pytest.mark.parametrize(("share", "kept"), [(0.81, 1), (0.79, 0)])
def test_a_family_is_kept_that_returns_in_four_of_five_draws(monkeypatch, share, kept) -> None:
    monkeypatch.setattr(miner, "bootstrap_support", lambda named, *_: dict.fromkeys(named, share))
    baskets = [Basket(f"v{n}", "l", ["A:P1", "B:P2"] if n < 12 else [], ["A", "B"]) for n in range(80)]
    assert mine(mining_frames(baskets), min_vehicles=5, q_value=0.05).families.height == kept


# Shuffled copies and draws.


def drawn() -> list[Basket]:
    """Eighty cars of two lines with eight codes as a fixed seed deals them out, two of them often together."""
    rng = np.random.default_rng(5)
    baskets = []
    for n in range(80):
        held = {f"A:P{code}" for code in range(8) if rng.random() < 0.2}
        baskets.append(Basket(f"v{n}", f"l{n % 2}", held | ({"A:P8"} if "A:P1" in held and n % 3 else set()), ["A"]))
    return baskets


def test_the_shuffled_copies_of_eighty_cars() -> None:
    found = null_check(arrays_of(drawn()), 1, 1.0)
    assert found.height == 20
    # Recorded: the smallest p-values of the first four copies.
    assert found["least_p"].to_list()[:4] == pytest.approx([0.0495564839, 0.0214267353, 0.0172943776, 1.0], rel=1e-6)


@pytest.mark.parametrize(("one", "other", "seen"), [("A:P0", "A:P2", 142), ("A:P2", "A:P8", 117), ("A:P1", "A:P2", 68)])
def test_the_share_of_two_hundred_draws_in_which_a_link_returns(one, other, seen) -> None:
    schema = {"code_a": pl.String, "code_b": pl.String, "vehicles": pl.Int64, "p_value": pl.Float64}
    link = pl.DataFrame([(one, other, 9, 1e-3)], schema=schema, orient="row")
    # Recorded.
    assert bootstrap_support({"f": [one, other]}, link, arrays_of(drawn()))["f"] * 200 == pytest.approx(seen)


def test_from_a_correlation_of_three_tenths_on_two_codes_may_be_one_fault() -> None:
    assert tightly_tied(pl.DataFrame({"code_b": ["b", "c"], "phi": [0.35, 0.25]})) == {"b"}


def test_two_of_five_copies_are_luck_and_three_of_five_are_not() -> None:
    # Chance of more than one of five at .05 each: .0226, above 1 / 60 and below 1 / 30; of more than two: .0012.
    assert not unequal(pl.DataFrame({"confirmed": [1, 1, 0, 0, 0]}))
    assert unequal(pl.DataFrame({"confirmed": [1, 1, 1, 0, 0]}))


def test_the_levels_of_the_looks() -> None:
    level, looks = spend(first_week("2026-W01"), 100)
    assert level == pytest.approx(0.03)
    assert spend(VerdictHistory(week="2026-W02", looks=looks, held=first_week("").held), 400)[0] == pytest.approx(
        0.009 * 0.25**0.7
    )
    # The level begins to fall at fifty cars.
    assert level_of(50, 20) == level_of(30, 20) == pytest.approx(0.009)
    assert level_of(100, 20) == pytest.approx(0.009 * 0.5**0.7)
