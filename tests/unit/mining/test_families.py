"""Families and their roots: on a published graph, and on small cases worked by hand."""

import random
from itertools import combinations, pairwise

import networkx as nx
import numpy as np
import polars as pl
import pytest

from analysis.mining import families
from analysis.mining.car_counts import CarCounts, car_counts
from analysis.mining.episode_arrays import episode_arrays
from analysis.mining.families import (
    best_communities,
    families_of,
    family_graph,
    name_families,
    split_exclusive,
    with_shared_codes,
)
from analysis.mining.roots import find_root, followers, root_evidence
from tests.support.mining_worlds import Basket, mining_frames


def pairs_of(*links):
    """Listed pairs from (code, code, phi)."""
    rows = [(*sorted((a, b)), phi, 0.0, 5, 5) for a, b, phi in links]
    schema = {"code_a": pl.String, "code_b": pl.String, "phi": pl.Float64}
    return pl.DataFrame(
        rows, schema=schema | {"imbalance": pl.Float64, "with_a": pl.Int64, "with_b": pl.Int64}, orient="row"
    )


def counts_of(baskets):
    frames = mining_frames(baskets)
    return car_counts(episode_arrays(frames))


def no_cars(*codes):
    """Counts in which no two codes ever shun each other: nobody has any."""
    size, nothing = len(codes), np.zeros(0, dtype=np.int64)
    one = np.ones((size, 1, 1), dtype=np.int64)
    return CarCounts(sorted(codes), ["all"], np.zeros(size, dtype=np.int64), one[:1], one, nothing, nothing, nothing, 1)


def test_the_karate_club_falls_into_its_best_four_groups():
    # W. Zachary, Journal of Anthropological Research 33 (1977), 452-473; best modularity .4198 with
    # four groups: U. Brandes et al., IEEE Transactions on Knowledge and Data Engineering 20 (2008), 172-188.
    graph = nx.karate_club_graph()
    groups = best_communities(graph, weight=None)
    assert len(groups) == 4
    assert nx.community.modularity(graph, groups, weight=None) == pytest.approx(0.4198, abs=5e-5)


def partitions(nodes):
    """Every way to part some nodes into groups."""
    if not nodes:
        yield []
        return
    for rest in partitions(nodes[1:]):
        yield [{nodes[0]}, *rest]
        for place, group in enumerate(rest):
            yield [*rest[:place], group | {nodes[0]}, *rest[place + 1 :]]


@pytest.mark.parametrize("seed", range(3))
def test_loose_pieces_are_grouped_as_well_as_the_best_of_all_partitions(seed):
    # Pieces that hang together loosely are grouped apart from the others, small ones not even tried.
    rng = random.Random(seed)
    graph = nx.Graph()
    for piece in ("ab", "cde", "fg"):
        ties = [(one, other) for one, other in combinations(piece, 2) if rng.random() < 0.7]
        graph.add_weighted_edges_from((*tie, rng.uniform(0.1, 1)) for tie in [*ties, *pairwise(piece)])
    score = nx.community.modularity(graph, best_communities(graph))
    by_hand = max(nx.community.modularity(graph, groups) for groups in partitions(sorted(graph)))
    assert score == pytest.approx(by_hand)


def test_pieces_too_small_to_cut_are_not_tried(monkeypatch):
    monkeypatch.setattr(families, "SEEDS", 0)  # so that trying one fails
    graph = nx.Graph([(f"{place}{one}", f"{place}{other}") for place in range(4) for one, other in ("ab", "bc", "ca")])
    assert best_communities(graph, weight=None) == [{f"{place}{one}" for one in "abc"} for place in range(4)]
    graph.add_edges_from((f"x{n}", f"x{n + 1}") for n in range(12))
    with pytest.raises(ValueError, match="max"):
        best_communities(graph, weight=None)


def test_one_start_alone_can_miss_the_best_grouping():
    # The same club with its members renumbered: the first start stops short of .4198.
    names = list(range(34))
    random.Random(2).shuffle(names)
    graph = nx.Graph()
    graph.add_nodes_from(range(34))
    graph.add_edges_from(sorted(tuple(sorted((names[a], names[b]))) for a, b in nx.karate_club_graph().edges))
    first = nx.community.louvain_communities(graph, weight=None, seed=0)
    assert nx.community.modularity(graph, first, weight=None) < 0.4190
    best = best_communities(graph, weight=None)
    assert nx.community.modularity(graph, best, weight=None) == pytest.approx(0.4198, abs=5e-5)


def test_a_small_graph_falls_into_its_connected_parts():
    pairs = pairs_of(("A:1", "A:2", 0.5), ("A:2", "B:3", 0.4), ("C:4", "C:5", 0.3), ("C:6", "C:7", -0.2))
    graph = family_graph(pairs)
    assert families_of(graph, no_cars("A:1", "A:2", "B:3", "C:4", "C:5")) == [["A:1", "A:2", "B:3"], ["C:4", "C:5"]]


def clique(letter, size, phi):
    codes = [f"{letter}:{n}" for n in range(size)]
    return [(a, b, phi) for n, a in enumerate(codes) for b in codes[n + 1 :]]


def test_a_chance_link_does_not_weld_two_dense_families():
    pairs = pairs_of(*clique("A", 6, 0.6), *clique("B", 6, 0.6), ("A:0", "B:0", 0.2))
    codes = sorted({*pairs["code_a"], *pairs["code_b"]})
    assert pairs.height == 31
    assert families_of(family_graph(pairs), no_cars(*codes)) == [codes[:6], codes[6:]]


def test_the_order_of_pairs_changes_nothing():
    pairs = pairs_of(*clique("A", 5, 0.6), *clique("B", 6, 0.5), *clique("C", 5, 0.4), ("A:0", "B:0", 0.2))
    codes = sorted({*pairs["code_a"], *pairs["code_b"]})
    expected = families_of(family_graph(pairs), no_cars(*codes))
    shuffled = pairs.sample(fraction=1, shuffle=True, seed=3)
    assert families_of(family_graph(shuffled), no_cars(*codes)) == expected


def test_a_code_as_tied_to_a_second_family_sits_in_both():
    graph = family_graph(pairs_of(*clique("A", 4, 0.5), *clique("B", 3, 0.5), ("A:0", "B:0", 0.5), ("A:0", "B:1", 0.5)))
    groups = [{"A:0", "A:1", "A:2", "A:3"}, {"B:0", "B:1", "B:2"}]
    assert with_shared_codes(graph, groups) == [groups[0], {"A:0", "B:0", "B:1", "B:2"}]


def test_one_link_is_not_enough_to_sit_in_both():
    graph = family_graph(pairs_of(*clique("A", 4, 0.5), *clique("B", 3, 0.5), ("A:0", "B:0", 0.9)))
    groups = [{"A:0", "A:1", "A:2", "A:3"}, {"B:0", "B:1", "B:2"}]
    assert with_shared_codes(graph, groups) == groups


def two_sensors(cars_each, together=0):
    """Cars where either of two wheel sensors makes the same two modules complain."""
    baskets = []
    for n in range(cars_each):
        for sensor in ("ABS:C0031", "ABS:C0034"):
            codes = {sensor, "ECM:U0415", "EPS:U0415"} | ({"ABS:C0031", "ABS:C0034"} if n < together else set())
            baskets.append(Basket(f"{sensor} {n}", "line", codes))
    return baskets + [Basket(f"clean {n}", "line", {}, ["ABS", "ECM", "EPS"]) for n in range(100)]


SENSOR_LINKS = [(sensor, told, 0.6) for sensor in ("ABS:C0031", "ABS:C0034") for told in ("ECM:U0415", "EPS:U0415")] + [
    ("ECM:U0415", "EPS:U0415", 0.8)
]


def test_two_roots_with_the_same_followers_are_two_families():
    graph = family_graph(pairs_of(*SENSOR_LINKS))
    parts = split_exclusive(graph, set(graph), counts_of(two_sensors(12)))
    followers_of_both = ["ECM:U0415", "EPS:U0415"]
    assert sorted(map(sorted, parts)) == [["ABS:C0031", *followers_of_both], ["ABS:C0034", *followers_of_both]]


@pytest.mark.parametrize("baskets", [two_sensors(2), two_sensors(12, together=6)])
def test_codes_that_may_yet_meet_are_not_parted(baskets):
    # Two cars each prove nothing; and with both sensors on many cars they do not shun each other.
    graph = family_graph(pairs_of(*SENSOR_LINKS))
    assert split_exclusive(graph, set(graph), counts_of(baskets)) == [set(graph)]


def test_codes_of_two_makes_never_had_the_chance_to_meet():
    baskets = [Basket(f"c{n}", "corvane", {"DDM:1@corvane", "BCM:U0199"}) for n in range(12)]
    baskets += [Basket(f"a{n}", "aldane", {"DDM:2@aldane", "BCM:U0199"}) for n in range(12)]
    graph = family_graph(pairs_of(("DDM:1@corvane", "BCM:U0199", 0.7), ("DDM:2@aldane", "BCM:U0199", 0.7)))
    assert split_exclusive(graph, set(graph), counts_of(baskets)) == [set(graph)]


CODES = pl.DataFrame({"code": ["A:1", "A:2", "B:U9", "C:1", "C:2"], "network": [False, False, True, False, False]})


def test_a_family_is_named_by_its_most_tightly_tied_concrete_code():
    pairs = pairs_of(("A:1", "A:2", 0.3), ("A:2", "B:U9", 0.6), ("A:1", "B:U9", 0.2), ("C:1", "C:2", 0.4))
    named = name_families([["A:1", "A:2", "B:U9"], ["C:1", "C:2"]], pairs, CODES)
    assert named == {"A:2": ["A:1", "A:2", "B:U9"], "C:1": ["C:1", "C:2"]}


def test_two_families_never_share_a_name():
    pairs = pairs_of(("A:1", "A:2", 0.5), ("A:1", "C:1", 0.6))
    assert name_families([["A:1", "A:2"], ["A:1", "C:1"]], pairs, CODES) == {
        "A:1": ["A:1", "C:1"],
        "A:2": ["A:1", "A:2"],
    }


MEMBERS = pl.DataFrame({"family": "F", "code": ["ABS:C0031", "ECM:U0415", "EPS:U0415"]})
REPORTS = [{"code": f"{module}:U0415", "points_at": "ABS"} for module in ("ECM", "EPS")]
SENSOR = {"code": "ABS:C0031", "text": "Wheel speed sensor, front left", "component": None}


def evidence_of(baskets, pairs=None, members=MEMBERS, **tables):
    return root_evidence(mining_frames(baskets, **tables), pairs_of() if pairs is None else pairs, members)


def sights(evidence, piece):
    return set(evidence.filter(pl.col("piece") == piece).select("leader", "follower").iter_rows())


def test_reports_about_a_module_point_at_its_concrete_code():
    evidence = evidence_of([Basket("a", "l", MEMBERS["code"])], codes=REPORTS)
    assert sights(evidence, "network") == {("ABS:C0031", "ECM:U0415"), ("ABS:C0031", "EPS:U0415")}
    assert find_root(MEMBERS["code"], evidence) == "ABS:C0031"
    assert followers("ABS:C0031", evidence) == ["ECM:U0415", "EPS:U0415"]


def test_two_concrete_codes_of_the_silent_module_leave_the_root_open():
    members = pl.DataFrame({"family": "F", "code": ["ABS:C0020", "ABS:C0031", "ECM:U0415"]})
    evidence = evidence_of([Basket("a", "l", members["code"])], members=members, codes=REPORTS)
    assert find_root(members["code"], evidence) is None


@pytest.mark.parametrize(("first", "root"), [(6, "ABS:C0031"), (5, None)])
def test_order_counts_from_six_cars_of_six(first, root):
    # Six of six is 2 / 64 = .031 two-sided, five of five 2 / 32 = .0625; ties say nothing.
    cars = [Basket(f"v{n}", "l", {"ABS:C0031": 0, "ECM:U0415": 30, "EPS:U0415": 30}) for n in range(first)]
    ties = [Basket(f"t{n}", "l", MEMBERS["code"]) for n in range(20)]
    evidence = evidence_of(cars + ties)
    assert find_root(MEMBERS["code"], evidence) == root
    if root:
        row = evidence.filter(pl.col("follower") == "ECM:U0415").row(0, named=True)
        assert (row["piece"], row["in_favour"], row["against"]) == ("order", 6, 0)
        assert row["p_value"] == pytest.approx(2 / 64)


def test_the_odometer_stored_with_the_codes_tells_the_order_within_one_scan():
    kms = {"ABS:C0031": 90_000.0, "ECM:U0415": 90_200.0, "EPS:U0415": 90_200.0}
    cars = [Basket(f"v{n}", "l", MEMBERS["code"], km=kms) for n in range(6)]
    assert sights(evidence_of(cars), "order") == {("ABS:C0031", "ECM:U0415"), ("ABS:C0031", "EPS:U0415")}


@pytest.mark.parametrize("stored", [True, False])
def test_the_first_sight_on_a_car_counts_not_a_later_one(stored):
    early, late = (0, 30) if not stored else (0, 0)
    baskets = []
    for day, lead, follow in ((0, 90_000.0, 90_200.0), (30, 91_200.0, 91_000.0)):
        lead_at, follow_at = (early, late) if day == 0 else (late, early)
        codes = {"ABS:C0031": lead_at, "ECM:U0415": follow_at, "EPS:U0415": follow_at}
        km = {code: lead if code == "ABS:C0031" else follow for code in codes} if stored else {}
        baskets += [Basket(f"v{n}", "l", codes, day=day, km=km) for n in range(6)]
    assert sights(evidence_of(baskets), "order") == {("ABS:C0031", "ECM:U0415"), ("ABS:C0031", "EPS:U0415")}


def repaired(jobs, part="wheel speed sensor", extra=None):
    """Tables of jobs on which the part was fitted and all three codes stayed away."""
    parts, outcomes = [], []
    for job in range(1, jobs + 1):
        parts += [
            {"job_id": job, "part": name, "position": "FL", "action": "replace"} for name in [part, *(extra or [])]
        ]
        for code in MEMBERS["code"]:
            row = {
                "job_id": job,
                "vehicle": f"v{job}",
                "module": code.split(":")[0],
                "code": code,
                "outcome": "cleared",
            }
            outcomes.append(row)
    return {"job_parts": parts, "outcomes": outcomes, "codes": [SENSOR]}


def test_what_went_with_the_part_that_a_code_names_follows_that_code():
    evidence = evidence_of([Basket("a", "l", MEMBERS["code"])], **repaired(2))
    assert sights(evidence, "parts") == {("ABS:C0031", "ECM:U0415"), ("ABS:C0031", "EPS:U0415")}
    assert evidence["in_favour"].to_list() == [2, 2]
    assert find_root(MEMBERS["code"], evidence) == "ABS:C0031"


@pytest.mark.parametrize("tables", [repaired(1), repaired(3, part="headlamp"), repaired(3, extra=["mystery box"])])
def test_one_job_another_part_or_further_work_proves_nothing(tables):
    assert evidence_of([Basket("a", "l", MEMBERS["code"])], **tables).is_empty()


def test_jobs_that_speak_for_both_directions_speak_for_neither():
    # Three jobs with the sensor that one code names, two with the meter that the other names; all went each time.
    meter = {"code": "ECM:P0101", "text": "Air meter"}
    parts = [{"job_id": n, "part": "air meter" if n > 3 else "wheel speed sensor"} for n in range(1, 6)]
    outcomes = [
        {"job_id": n, "vehicle": f"v{n}", "module": code.split(":")[0], "code": code, "outcome": "cleared"}
        for n in range(1, 6)
        for code in ("ABS:C0031", "ECM:P0101")
    ]
    members = pl.DataFrame({"family": "F", "code": ["ABS:C0031", "ECM:P0101"]})
    baskets = [Basket("a", "l", members["code"])]
    tables = {"job_parts": parts, "outcomes": outcomes, "codes": [SENSOR, meter]}
    assert evidence_of(baskets, members=members, **tables).is_empty()


def test_a_code_known_to_follow_is_no_root_even_if_it_names_the_part():
    tables = repaired(3)
    tables["codes"] = [SENSOR | {"role_hint": "knock-on"}]
    assert evidence_of([Basket("a", "l", MEMBERS["code"])], **tables).is_empty()


def test_pieces_that_contradict_each_other_leave_the_root_open():
    cars = [Basket(f"v{n}", "l", {"ECM:U0415": 0, "EPS:U0415": 0, "ABS:C0031": 30}) for n in range(8)]
    evidence = evidence_of(cars, codes=REPORTS)
    assert sights(evidence, "order") == {("ECM:U0415", "ABS:C0031"), ("EPS:U0415", "ABS:C0031")}
    assert sights(evidence, "network") == {("ABS:C0031", "ECM:U0415"), ("ABS:C0031", "EPS:U0415")}
    assert find_root(MEMBERS["code"], evidence) is None


def test_unequal_numbers_are_shown_but_decide_nothing():
    pairs = pl.DataFrame(
        {"code_a": ["ABS:C0031"], "code_b": ["ECM:U0415"], "with_a": [4], "with_b": [40], "imbalance": [0.9]}
    )
    evidence = evidence_of([Basket("a", "l", MEMBERS["code"])], pairs)
    assert sights(evidence, "asymmetry") == {("ABS:C0031", "ECM:U0415")}
    assert find_root(MEMBERS["code"], evidence) is None


def test_of_two_leaders_the_one_that_leads_all_the_other_leads_and_more_is_the_root():
    rows = [("parts", "A:1", "C:U1"), ("parts", "A:1", "C:U2"), ("parts", "B:1", "C:U1")]
    evidence = pl.DataFrame(rows, schema=["piece", "leader", "follower"], orient="row")
    assert find_root(["A:1", "B:1", "C:U1", "C:U2"], evidence) == "A:1"
    level = evidence.extend(pl.DataFrame([("parts", "B:1", "C:U2")], schema=evidence.schema, orient="row"))
    assert find_root(["A:1", "B:1", "C:U1", "C:U2"], level) is None
