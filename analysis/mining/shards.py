"""Counting in parts: the cars are cut into runs, each is counted by itself, and the counts are added up.

A car stands in one part only, and every count is one of cars, so the sums are the
counts of all cars at once, to the number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from analysis.mining.counts import CarCounts
from analysis.mining.episodes import EpisodeArrays


def cut(arrays: EpisodeArrays, parts: int) -> list[EpisodeArrays]:
    """Cut the cars into at most so many runs of about equal length.

    Args:
        arrays: The baskets as arrays; a car's baskets stand together.
        parts: How many runs, at least 1.

    Returns:
        The runs, which name codes, modules and lines by the same positions.
    """
    cars, baskets = len(arrays.starts), arrays.read.shape[1]
    ends = sorted({cars * part // parts for part in range(parts + 1)})
    first = np.append(arrays.starts, baskets)
    runs = []
    for low, high in pairwise(ends):
        begin, end = int(first[low]), int(first[high])
        rows = slice(*np.searchsorted(arrays.basket, [begin, end]))
        runs.append(
            replace(
                arrays,
                table=arrays.table[begin:end],
                starts=arrays.starts[low:high] - begin,
                car_of=arrays.car_of[begin:end] - low,
                line_of=arrays.line_of[low:high],
                basket=arrays.basket[rows] - begin,
                code=arrays.code[rows],
                read=arrays.read[:, begin:end],
            )
        )
    return runs


def add_up(counts: Sequence[CarCounts]) -> CarCounts:
    """Return the counts of all parts together.

    Args:
        counts: Those of each part, from the same codes, modules and lines; at least one.
    """
    many = max(len(counts[0].codes), 1)
    keys, place = np.unique(np.concatenate([one.first * many + one.second for one in counts]), return_inverse=True)
    vehicles = np.zeros(len(keys), dtype=np.int64)
    np.add.at(vehicles, place, np.concatenate([one.vehicles for one in counts]))
    return replace(
        counts[0],
        both_read=np.sum([one.both_read for one in counts], axis=0),
        present=np.sum([one.present for one in counts], axis=0),
        first=keys // many,
        second=keys % many,
        vehicles=vehicles,
        baskets=sum(one.baskets for one in counts),
    )
