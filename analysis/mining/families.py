"""Codes that come together, gathered into families.

Draw every code as a dot and every pair that passed the tests as a line, thicker where
the two hang together more tightly.  A family is a group of dots with many lines inside and
few to the outside.  A small drawing needs no cleverness: dots that are connected are one
family.  In a large one, chance lines join what does not belong together, so the grouping with
the best balance of inside and outside lines is taken from fifty fixed starts.

A code may sit in two families when its lines say so: low battery voltage belongs to
the battery and to the alternator.
"""

from __future__ import annotations

from itertools import combinations
from typing import TypeAlias

import networkx as nx
import numpy as np
import polars as pl
from scipy.stats import binom

from analysis.mining.counts import CarCounts
from analysis.mining.episodes import Ints

Graph: TypeAlias = "nx.Graph[str]"

SEEDS = 50  # one start finds the best grouping of a known test graph in about one try of five
FEW_EDGES = 30  # below this many lines, connected dots are one family
TIES_TO_JOIN = 2  # lines a code needs into a second family
SHUN_LEVEL = 0.02  # chance of so few common cars if the two codes belonged to the group like the others
MANY_PARTS = 8  # a group that falls into more parts than this is left whole
SHARE_TO_JOIN = 0.5  # of that family's codes, to be linked to


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
    parted = {frozenset(part) for group in groups for part in part_rivals(graph, group, counts)}
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


def part_rivals(graph: Graph, group: set[str], counts: CarCounts) -> list[set[str]]:
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
