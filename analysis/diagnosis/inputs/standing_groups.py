"""Which codes may be set together by something that is no part: equipment, a coding, a quirk of the line?

In the trade a good share of a page of codes is nobody's fault: an aftermarket radio, a tow bar.  Such a cause sets
the same few codes on one car after another, and they come back after every erase and every repair.  Here codes that
keep company on several cars are gathered into candidates for such a cause; whether they come back, and how often, is
for the fit to say.

Source:
    T. Singliar and M. Hauskrecht, "Noisy-OR component analysis and its application to link analysis", Journal of
    Machine Learning Research 7 (2006): hidden causes of a noisy-OR; the candidates from company kept are our own.
"""

from collections.abc import Mapping
from typing import TypeVar

import networkx as nx
import numpy as np

from analysis.diagnosis.inputs.training_data import Floats, Visits

Code = TypeVar("Code", int, str)
Car = TypeVar("Car", int, str)
FEWEST_CARS = 2
"""On one car alone nothing tells equipment from a fault that nobody found."""
COMPANY = 0.5
"""Codes keep company where this share of the cars with either has both (Jaccard)."""
SELDOM = 0.15
"""A standing cause is not ended by work: of the outcomes that are known at most this share is a clear.  On invented
dealers equipment was gone after 0 of 9 to 0 of 69 jobs, every other code after 3 in 10 or more: half of that leaves
room for a misread scan."""
MOST_CODES = 8
"""A larger group is a page of codes, not one piece of equipment."""


def standing_groups(visits: Visits) -> list[list[int]]:
    """Return groups of codes that keep company, as columns, each sorted; single codes of several cars among them.

    Args:
        visits: The past visits.

    Returns:
        The groups, sorted, none of more than ``MOST_CODES`` codes.
    """
    visit = np.repeat(np.arange(len(visits.jobs)), np.diff(visits.first))
    codes = len(visits.module_of)
    held: list[set[int]] = [set() for _ in range(codes)]
    for car, d in zip(visits.cars[visit].tolist(), visits.code.tolist(), strict=True):
        held[d].add(car)
    cleared, back = _ends(visits)
    seldom_cleared = cleared <= SELDOM * (cleared + back)
    often = {d: held[d] for d in range(codes) if len(held[d]) >= FEWEST_CARS and seldom_cleared[d]}
    groups = [group for group in companies(often) if len(group) <= MOST_CODES]
    return sorted(group for group in groups if back[group].sum() >= 1)


def companies(held: Mapping[Code, set[Car]]) -> list[list[Code]]:
    """Return codes gathered by the company they keep, each group sorted; codes that keep none are alone.

    Args:
        held: The cars on which each code was seen.
    """
    codes, graph = sorted(held), nx.Graph()
    graph.add_nodes_from(codes)
    for place, d in enumerate(codes):
        for other in codes[place + 1 :]:
            both = len(held[d] & held[other])
            if both >= FEWEST_CARS and both >= COMPANY * len(held[d] | held[other]):
                graph.add_edge(d, other)
    return sorted(sorted(group) for group in nx.connected_components(graph))


def _ends(visits: Visits) -> tuple[Floats, Floats]:
    """Return (codes,): how often each code was seen to stay away after a job, and to come back, as far as known."""
    gone = (visits.known * (visits.lik_cleared > visits.lik_recurred)).sum(axis=1)
    again = (visits.known * (visits.lik_cleared < visits.lik_recurred)).sum(axis=1)
    codes = len(visits.module_of)
    counts = (np.bincount(visits.code, each, codes).astype(np.float64) for each in (gone, again))
    cleared, back = counts
    return cleared, back
