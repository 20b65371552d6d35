"""Families: communities of the graph of codes that come together, and the tables that describe them.

Every code is a node and every pair that passed the tests an edge, heavier where
the two hang together more tightly.  A family is a group of nodes with many edges inside and
few to the outside.  A small graph needs no cleverness: its connected pieces are the
families.  In a large one, chance edges join what does not belong together, so the grouping
with the best modularity is taken from fifty fixed starts (Louvain).

A code may sit in two families when its edges say so: low battery voltage belongs to
the battery and to the alternator.

A family is named by its strongest concrete code, the one most tightly tied to the
rest and not a mere report about another module, so that the name stays when another family
comes or goes.
"""

from __future__ import annotations

from itertools import combinations
from typing import TypeAlias

import networkx as nx
import numpy as np
import polars as pl
from scipy.stats import binom

from analysis.mining.car_counts import CarCounts
from analysis.mining.episode_arrays import Ints
from analysis.mining.mining_frames import MiningFrames
from analysis.mining.roots import find_root, followers, root_evidence

Graph: TypeAlias = "nx.Graph[str]"

SEEDS = 50  # one start finds the best grouping of a known test graph in about one try of five
FEW_EDGES = 30  # below this many lines, connected dots are one family
TIES_TO_JOIN = 2  # lines a code needs into a second family
SHUN_LEVEL = 0.02  # chance of so few common cars if the two codes belonged to the group like the others
MANY_PARTS = 8  # a group that falls into more parts than this is left whole
SHARE_TO_JOIN = 0.5  # of that family's codes, to be linked to
FAMILY_SCHEMA = pl.Schema(
    {
        "family": pl.String(),
        "label": pl.String(),
        "codes": pl.List(pl.String),
        "root": pl.String(),
        "knock_on": pl.List(pl.String),
        "vehicles": pl.Int64(),
        "strength": pl.Float64(),
        "q_value": pl.Float64(),
        "returns": pl.Float64(),
        "modules": pl.List(pl.String),
        "lines": pl.List(pl.String),
        "first_seen": pl.Date(),
        "last_seen": pl.Date(),
    }
)
MEMBER_SCHEMA = pl.Schema({"family": pl.String, "code": pl.String, "role": pl.String})


def family_graph(pairs: pl.DataFrame) -> Graph:
    """Draw the listed pairs as a graph, codes as nodes, within-line correlation (phi) as weight.

    Args:
        pairs: The listed pairs: code_a, code_b, phi.

    Returns:
        The graph, nodes and edges added in the order of the codes' names; pairs with phi <= 0 are left out.
    """
    graph: Graph = nx.Graph()
    kept = pairs.filter(pl.col("phi") > 0).sort("code_a", "code_b")
    graph.add_nodes_from(sorted({*kept["code_a"], *kept["code_b"]}))
    graph.add_weighted_edges_from(kept.select("code_a", "code_b", "phi").iter_rows())
    return graph


def families_of(graph: Graph, counts: CarCounts) -> list[list[str]]:
    """Gather the codes of a graph into families.

    Args:
        graph: The graph of :func:`family_graph`.
        counts: The counts of cars behind it.

    Returns:
        Families as sorted lists of at least two codes, sorted; a code can be in several.
    """
    if graph.number_of_edges() < FEW_EDGES:
        groups = [set(group) for group in nx.connected_components(graph)]
    else:
        groups = with_shared_codes(graph, best_communities(graph))
    parted = {frozenset(part) for group in groups for part in split_exclusive(graph, group, counts)}
    return sorted(sorted(group) for group in parted if len(group) > 1)


def best_communities(graph: Graph, weight: str | None = "weight") -> list[set[str]]:
    """Return the grouping with the highest modularity among fifty fixed starts.

    Args:
        graph: A graph with at least one edge.
        weight: Name of the edges' weight, or None to count every edge as 1.

    Returns:
        Disjoint groups of nodes; among equally good groupings the first in sorted order.

    Source:
        V. D. Blondel et al., "Fast unfolding of communities in large networks", Journal of
        Statistical Mechanics (2008) P10008; the graph of W. Zachary's karate club has its
        best modularity .4198 with four groups (U. Brandes et al., IEEE TKDE 20 (2008), 172-188).
    """
    whole, rest = _never_worth_cutting(graph, weight)
    return sorted([*whole, *_best_of_starts(graph, rest, weight)], key=sorted)


def _never_worth_cutting(graph: Graph, weight: str | None) -> tuple[list[set[str]], set[str]]:
    """Return the connected pieces that are surely groups of their own, and the nodes of all other pieces.

    Joining two groups A and B that hang together changes the modularity by w(A, B) / W - d(A) d(B) / (2 W^2), with
    w the weight between them, d their summed degrees and W the weight of all edges.  In a piece of weight P no
    d(A) d(B) exceeds P^2, so if its weakest edge weighs more than P^2 / (2 W), no cut of it gains anything.
    """
    total, whole, rest = graph.size(weight=weight), [], set()
    for piece in nx.connected_components(graph):
        inside = graph.subgraph(piece)
        weakest = min((data[weight] if weight else 1 for _, _, data in inside.edges(data=True)), default=0)
        if weakest > inside.size(weight=weight) ** 2 / (2 * total):
            whole.append(set(piece))
        else:
            rest |= piece
    return whole, rest


def _best_of_starts(graph: Graph, rest: set[str], weight: str | None) -> list[set[str]]:
    """Return the best grouping of some pieces; the resolution makes the share of all edges what it is in the graph."""
    if not rest:
        return []
    part: Graph = nx.Graph()
    part.add_nodes_from(node for node in graph if node in rest)
    part.add_edges_from((a, b, data) for a, b, data in graph.edges(data=True) if a in rest)
    share = part.size(weight=weight) / graph.size(weight=weight)
    found = {}
    for seed in range(SEEDS):
        groups = nx.community.louvain_communities(part, weight=weight, resolution=share, seed=seed)
        found[tuple(sorted(tuple(sorted(group)) for group in groups))] = groups
    scored = {
        key: nx.community.modularity(part, groups, weight=weight, resolution=share) for key, groups in found.items()
    }
    best = max(scored.values())
    chosen = min(key for key, score in scored.items() if score >= best - 1e-12)
    return [set(group) for group in chosen]


def with_shared_codes(graph: Graph, groups: list[set[str]]) -> list[set[str]]:
    """Let a code also join a second group to whose codes it is tied as its own members are.

    It must be linked to at least two codes and half of the codes of that group, and as tightly
    (mean weight over all of them) as half of the group's own mean.

    Args:
        graph: The graph with weights.
        groups: Disjoint groups of its nodes.

    Returns:
        The groups in the same order, some of them larger.
    """
    joined = [set(group) for group in groups]
    for place, group in enumerate(groups):
        inside = graph.subgraph(group)
        if len(group) < TIES_TO_JOIN or not inside.number_of_edges():
            continue
        own = 2 * inside.size(weight="weight") / (len(group) * (len(group) - 1))
        for code in sorted({code for member in group for code in graph[member]} - group):
            ties = [graph[code][other]["weight"] for other in sorted(group) if graph.has_edge(code, other)]
            linked = len(ties) >= max(TIES_TO_JOIN, SHARE_TO_JOIN * len(group))
            if linked and sum(ties) / len(group) >= own / 2:
                joined[place].add(code)
    return joined


def split_exclusive(graph: Graph, group: set[str], counts: CarCounts) -> list[set[str]]:
    """Part a group in which two codes shun each other: two roots that are reported by the same codes.

    Four wheel sensors all make the same other modules complain; each is a family with the
    complaints, not one family of four.  Two codes of a group shun each other when no more cars
    have both than chance gives, though with the group's usual share many would.

    Args:
        graph: The graph with weights.
        group: Codes of one group.
        counts: The counts of cars.

    Returns:
        The largest parts without such a pair that hang together by links; the group itself where there
        is none, or where there would be more than ``MANY_PARTS``.
    """
    inside, place = graph.subgraph(group), {code: counts.codes.index(code) for code in group}
    shares = [_usual_share(counts, place[a], place[b]) for a, b in inside.edges]
    usual = sum(shares) / len(shares) if shares else 1.0
    unlinked = (pair for pair in combinations(sorted(group), 2) if not graph.has_edge(*pair))
    apart = [(a, b) for a, b in unlinked if _shun(counts, place[a], place[b], usual)]
    if not apart:
        return [group]
    friendly: Graph = nx.complement(nx.Graph(apart))
    settled = group - set(friendly)
    sides = [set(clique) | settled for clique in nx.find_cliques(friendly)]
    if len(sides) > MANY_PARTS:
        return [group]
    pieces = [piece for side in sides for piece in nx.connected_components(inside.subgraph(side))]
    return [piece for piece in pieces if len(piece) > 1]


def _usual_share(counts: CarCounts, one: int, other: int) -> float:
    both, (with_one, with_other, _) = counts.with_both(one, other), _margins(counts, one, other)
    return float(both / with_one.sum() + both / with_other.sum()) / 2


def _shun(counts: CarCounts, one: int, other: int, usual: float) -> bool:
    """Tell whether two codes shun each other; only lines that know the other code can say so."""
    both, (with_one, with_other, cars) = counts.with_both(one, other), _margins(counts, one, other)
    by_chance = (with_one * with_other / np.maximum(cars, 1)).sum()
    could = min(with_one[with_other > 0].sum(), with_other[with_one > 0].sum())
    return bool(both <= by_chance and binom.cdf(both, could, usual) <= SHUN_LEVEL)


def _margins(counts: CarCounts, one: int, other: int) -> tuple[Ints, Ints, Ints]:
    with_one, with_other, cars = counts.margins(np.array([one]), np.array([other]))
    return with_one[0], with_other[0], cars[0]


def name_families(families: list[list[str]], pairs: pl.DataFrame, codes: pl.DataFrame) -> dict[str, list[str]]:
    """Name each family by its strongest concrete code.

    Args:
        families: The families as sorted lists of codes.
        pairs: The listed pairs: code_a, code_b, phi.
        codes: The frame of codes: code, network.

    Returns:
        Name to codes.  When two families share their strongest code, the one more tightly tied to it
        keeps it and the other takes its next.
    """
    network = set(codes.filter(pl.col("network"))["code"])
    ties = {(code_a, code_b): phi for code_a, code_b, phi in pairs.select("code_a", "code_b", "phi").iter_rows()}
    ranked = []
    for family in families:
        pull = dict.fromkeys(family, 0.0)
        for link in combinations(sorted(family), 2):
            for code in link:
                pull[code] += ties.get(link, 0.0)
        order = sorted(family, key=lambda code: (code in network, -pull[code], code))
        ranked.append((-pull[order[0]], family, order))
    named: dict[str, list[str]] = {}
    for _, family, order in sorted(ranked):
        named[next((code for code in order if code not in named), "+".join(family))] = family
    return dict(sorted(named.items()))


def describe_families(
    named: dict[str, list[str]],
    frames: MiningFrames,
    pairs: pl.DataFrame,
    cars: pl.DataFrame,
    returns: dict[str, float],
) -> tuple[pl.DataFrame, pl.DataFrame, pl.DataFrame]:
    """Describe the families.

    Args:
        named: Family name to sorted codes.
        frames: The mining frames.
        pairs: The listed pairs.
        cars: One row per family and car that showed two or more of its codes in one basket.
        returns: Share of resamples in which each family returned.

    Returns:
        ``(families, members, evidence)``: one row per family (``FAMILY_SCHEMA``; vehicles: its rows in
        ``cars``; strength: the mean over its pairs of the mean of both confidences; q_value: the
        largest of its pairs), one row per family and code with its role (``root``, ``knock-on``,
        ``member``), and the evidence on the roots.
    """
    pieces = [(family, code) for family, codes in named.items() for code in codes]
    plain = pl.DataFrame(pieces, schema={"family": pl.String, "code": pl.String}, orient="row")
    evidence = root_evidence(frames, pairs, plain)
    texts = dict(frames.codes.select("code", "text").iter_rows())
    own_evidence, own_cars, own_pairs = (_by_family(table, named) for table in (evidence, cars, _inside(pairs, plain)))
    rows, roles = [], []
    for family, codes in named.items():
        own, shown, inside = own_evidence[family], own_cars[family], own_pairs[family]
        root = find_root(codes, own)
        behind = followers(root, own) if root else []
        label = texts.get(root or family) or texts.get(family) or family
        tight = (inside["kulczynski"].mean(), inside["q_value"].max(), returns[family])
        where = (sorted({code.split(":")[0] for code in codes}), sorted(shown["line"].unique()))
        when = (shown["first_seen"].min(), shown["last_seen"].max())
        rows.append((family, label, codes, root, behind, shown.height, *tight, *where, *when))
        roles += [(family, code, _role(code, root, behind)) for code in codes]
    return (
        pl.DataFrame(rows, schema=FAMILY_SCHEMA, orient="row"),
        pl.DataFrame(roles, schema=MEMBER_SCHEMA, orient="row"),
        evidence,
    )


def _inside(pairs: pl.DataFrame, plain: pl.DataFrame) -> pl.DataFrame:
    """Return the pairs inside each family, with its name, in the order of the pairs."""
    one = plain.rename({"code": "code_a"})
    joined = pairs.with_row_index("place").join(one, on="code_a")
    return joined.join(plain.rename({"code": "code_b"}), on=["family", "code_b"]).sort("place", "family")


def _by_family(table: pl.DataFrame, named: dict[str, list[str]]) -> dict[str, pl.DataFrame]:
    """Cut a table with a column of families into one table for each family."""
    parts = {str(family): part for (family,), part in table.partition_by("family", as_dict=True).items()}
    return {family: parts.get(family, table.clear()) for family in named}


def _role(code: str, root: str | None, behind: list[str]) -> str:
    if code == root:
        return "root"
    return "knock-on" if code in behind else "member"
