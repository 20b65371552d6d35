"""Counting cars and pairs of codes part by part, where worker processes do the parts: a car is counted by itself."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from analysis.mining.car_counts import CarCounts, car_counts, split_cars, sum_counts
from analysis.mining.episode_arrays import EpisodeArrays
from pipelines.ingest.parallel import Spread

PARTS = 8


def counter(spread: Spread | None) -> Callable[[EpisodeArrays], CarCounts]:
    """Return what counts cars and pairs of codes: part by part where somebody does the parts, else all at once."""
    return car_counts if spread is None else partial(_count, spread)


def _count(spread: Spread, arrays: EpisodeArrays) -> CarCounts:
    return sum_counts(list(spread(car_counts, split_cars(arrays, PARTS))))
