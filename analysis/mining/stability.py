"""Would the family still be there if other cars had happened to come in?

The yard's cars are one draw of the cars that could have come.  Drawing as many cars
again, with replacement, two hundred times, shows which families hang on one or two cars
and which return whatever is drawn.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt
import polars as pl

from analysis.mining.association import cmh_z
from analysis.mining.counts import Bools, Ints, Spells

RESAMPLES = 200
SEED = 1979  # any fixed number: equal data give equal answers
LINK_Z = 1.645  # a link is seen in a resample if its one-sided p-value there is at most 0.05
MANY_BASKETS = 20_000  # above this a family that passed the tests hangs on no single car


def return_shares(named: dict[str, list[str]], pairs: pl.DataFrame, arrays: Spells) -> dict[str, float | None]:
    """Return for each family the share of resamples in which it returns.

    A family returns when the links still seen connect more than half of its codes.

    Args:
        named: Family name to its codes.
        pairs: The listed pairs: code_a, code_b.
        arrays: The baskets as arrays.

    Returns:
        Family to share in [0, 1]; None for all where there are more than ``MANY_BASKETS`` baskets.

    Source:
        B. Efron, "Bootstrap methods: another look at the jackknife", Annals of Statistics 7
        (1979), 1-26; more than half as the mark of a cluster that is not dissolved: C. Hennig,
        "Cluster-wise assessment of cluster stability", Computational Statistics & Data Analysis 52 (2007), 258-271.
    """
    if arrays.read.shape[1] > MANY_BASKETS:
        return dict.fromkeys(named)
    links = sorted(pairs.select("code_a", "code_b").iter_rows())
    seen = _links_seen(links, arrays)
    answer: dict[str, float | None] = {}
    for family, codes in named.items():
        own = [place for place, link in enumerate(links) if set(link) <= set(codes)]
        drawn, times = np.unique(seen[:, own], axis=0, return_counts=True)
        sizes = [
            _largest_piece(link for link, there in zip((links[n] for n in own), row, strict=True) if there)
            for row in drawn
        ]
        returned = sum(int(many) for size, many in zip(sizes, times, strict=True) if 2 * size > len(codes))
        answer[family] = returned / RESAMPLES
    return answer


def _links_seen(links: list[tuple[str, str]], arrays: Spells) -> Bools:
    """Return [resamples, links]: is the link still seen among the cars drawn?"""
    counts = car_answers(links, arrays)
    cars = len(arrays.starts)
    draws = np.random.default_rng(SEED).multinomial(cars, np.full(cars, 1 / cars), size=RESAMPLES)
    tables = np.zeros((4, RESAMPLES, len(links), len(arrays.lines)), dtype=np.int64)
    for line in range(len(arrays.lines)):
        here = arrays.line_of == line
        weights = draws[:, here].astype(np.float64)
        for place, answers in enumerate(counts):
            tables[place, :, :, line] = np.rint(weights @ answers[here])
    flat = [table.reshape(-1, len(arrays.lines)) for table in tables]
    seen: Bools = (cmh_z(flat[0], flat[1], flat[2], flat[3]) > LINK_Z).reshape(RESAMPLES, len(links))
    return seen


def car_answers(links: list[tuple[str, str]], arrays: Spells) -> tuple[npt.NDArray[np.float64], ...]:
    """Return four arrays [cars, links] of 0 and 1: both codes, the first, the second, both modules read.

    Args:
        links: Pairs of code keys.
        arrays: The baskets as arrays.

    Returns:
        Each car's one answer per pair, over its baskets in which both modules were read.
    """
    place = {code: n for n, code in enumerate(arrays.codes)}
    first = np.array([place[code] for code, _ in links], dtype=np.int64)
    second = np.array([place[code] for _, code in links], dtype=np.int64)
    used: Ints = np.unique(np.concatenate([first, second]))
    held = arrays.holds(used)
    read = (arrays.read[arrays.module_of[first]] & arrays.read[arrays.module_of[second]]).T
    has_a = held[:, np.searchsorted(used, first)] & read
    has_b = held[:, np.searchsorted(used, second)] & read
    return tuple(arrays.any_per_car(flags).astype(np.float64) for flags in (has_a & has_b, has_a, has_b, read))


def _largest_piece(links: Iterable[tuple[str, str]]) -> int:
    """Return the number of codes in the largest connected piece (0 without links)."""
    pieces: list[set[str]] = []
    for link in links:
        touched = [piece for piece in pieces if piece & set(link)]
        pieces = [piece for piece in pieces if not piece & set(link)] + [set(link).union(*touched)]
    return max(map(len, pieces), default=0)
