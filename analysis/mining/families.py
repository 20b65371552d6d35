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

from typing import TypeAlias

import networkx as nx
import polars as pl

Graph: TypeAlias = "nx.Graph[str]"

SEEDS = 50  # one start finds the best grouping of a known test graph in about one try of five
FEW_EDGES = 30  # below this many lines, connected dots are one family
TIES_TO_JOIN = 2  # lines a code needs into a second family
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


def families_of(graph: Graph) -> list[list[str]]:
    """Gather the codes of a graph into families.

    Args:
        graph: The graph of :func:`family_graph`.

    Returns:
        Families as sorted lists of at least two codes, sorted; a code can be in several.
    """
    if graph.number_of_edges() < FEW_EDGES:
        groups = [set(group) for group in nx.connected_components(graph)]
    else:
        groups = with_shared_codes(graph, best_communities(graph))
    return sorted(sorted(group) for group in groups if len(group) > 1)


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
    found = {}
    for seed in range(SEEDS):
        groups = nx.community.louvain_communities(graph, weight=weight, seed=seed)
        found[tuple(sorted(tuple(sorted(group)) for group in groups))] = groups
    scored = {key: nx.community.modularity(graph, groups, weight=weight) for key, groups in found.items()}
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
        for code in sorted(set(graph) - group):
            ties = [graph[code][other]["weight"] for other in sorted(group) if graph.has_edge(code, other)]
            linked = len(ties) >= max(TIES_TO_JOIN, SHARE_TO_JOIN * len(group))
            if linked and sum(ties) / len(group) >= own / 2:
                joined[place].add(code)
    return joined
