"""Would the family still be there if other cars had happened to come in?

The yard's cars are one draw of the cars that could have come.  Drawing as many cars
again, with replacement, two hundred times, shows which families hang on one or two cars
and which return whatever is drawn.

Cars that answer a family's questions alike are drawn together, so a hundred thousand cars cost no
more than a hundred.  Links that no draw can lose are not drawn for.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations

import numpy as np
import numpy.typing as npt
import polars as pl

from analysis.mining.episode_arrays import Bools, EpisodeArrays, Ints
from analysis.progress import each
from analysis.statistics.stratified_tests import cmh_z

RESAMPLES = 200
SEED = 1979  # any fixed number: equal data give equal answers
LINK_Z = 1.645  # a link is seen in a resample if its one-sided p-value there is at most 0.05
SURE_CARS, SURE_P = 100, 1e-60  # a link on so many cars and so far from chance is lost in less than a draw of a million
ROOM = 40  # bits of a group's number that are used before the numbers are given out anew


def bootstrap_support(named: dict[str, list[str]], pairs: pl.DataFrame, arrays: EpisodeArrays) -> dict[str, float]:
    """Return for each family the share of resamples in which it returns.

    A family returns when the links still seen connect more than half of its codes.

    Args:
        named: Family name to its codes.
        pairs: The listed pairs: code_a, code_b, vehicles, p_value.
        arrays: The baskets as arrays.

    Returns:
        Family to share in [0, 1].

    Source:
        B. Efron, "Bootstrap methods: another look at the jackknife", Annals of Statistics 7
        (1979), 1-26; more than half as the mark of a cluster that is not dissolved: C. Hennig,
        "Cluster-wise assessment of cluster stability", Computational Statistics & Data Analysis 52 (2007), 258-271.
    """
    sure = {
        (a, b): cars >= SURE_CARS and p_value <= SURE_P
        for a, b, cars, p_value in pairs.select("code_a", "code_b", "vehicles", "p_value").iter_rows()
    }
    answer = {}
    for family, codes in each(named.items()):
        links = [link for link in combinations(sorted(codes), 2) if link in sure]
        if 2 * _largest_piece(link for link in links if sure[link]) > len(codes):
            answer[family] = 1.0
        else:
            answer[family] = _share_of_draws(codes, links, arrays)
    return answer


def _share_of_draws(codes: list[str], links: list[tuple[str, str]], arrays: EpisodeArrays) -> float:
    drawn, times = np.unique(_links_seen(links, arrays), axis=0, return_counts=True)
    returned = 0
    for row, many in zip(drawn, times.tolist(), strict=True):
        size = _largest_piece(link for link, there in zip(links, row, strict=True) if there)
        returned += many if 2 * size > len(codes) else 0
    return returned / RESAMPLES


def _links_seen(links: list[tuple[str, str]], arrays: EpisodeArrays) -> Bools:
    """Return [resamples, links]: is the link still seen among the cars drawn?"""
    line, answers, cars = grouped_answers(links, arrays)
    draws = np.random.default_rng(SEED).multinomial(cars.sum(), cars / cars.sum(), size=RESAMPLES)
    tables = np.zeros((len(arrays.lines), 4, RESAMPLES, len(links)))
    for place in np.unique(line):
        here = line == place
        tables[place] = draws[:, here].astype(np.float64) @ answers[:, here]  # far faster than on whole numbers
    flat = tables.astype(np.int64).reshape(len(arrays.lines), 4, -1).transpose(1, 2, 0)
    seen: Bools = (cmh_z(flat[0], flat[1], flat[2], flat[3]) > LINK_Z).reshape(RESAMPLES, len(links))
    return seen


def grouped_answers(links: list[tuple[str, str]], arrays: EpisodeArrays) -> tuple[Ints, npt.NDArray[np.int64], Ints]:
    """Return the different answers that cars give on some links, and how many cars give each.

    Args:
        links: Pairs of code keys.
        arrays: The baskets as arrays.

    Returns:
        ``(line, answers, cars)``: [groups] the line, [4, groups, links] 0 or 1 for both codes, the first, the
        second and both modules read, over the car's baskets in which both modules were read, [groups] the cars.
    """
    first, second = (arrays.places([link[side] for link in links]) for side in (0, 1))
    flags = np.concatenate(_car_answers(first, second, arrays))
    number = arrays.line_of
    for column in flags:
        if int(number.max(initial=0)) >> ROOM:
            number = np.unique(number, return_inverse=True)[1]
        number = 2 * number + column
    _, one_of, cars = np.unique(number, return_index=True, return_counts=True)
    answers = flags[:, one_of].reshape(4, len(links), len(one_of)).transpose(0, 2, 1).astype(np.int64)
    return arrays.line_of[one_of], answers, cars


def _car_answers(first: Ints, second: Ints, arrays: EpisodeArrays) -> list[Bools]:
    """Return four arrays [links, cars]: both codes, the first, the second, both modules read."""
    used = np.unique(np.concatenate([first, second]))
    baskets, held = arrays.near(used)
    has_a, has_b = (held[:, np.searchsorted(used, codes)].T for codes in (first, second))
    modules = np.column_stack([arrays.module_of[first], arrays.module_of[second]])
    read = {(a, b): arrays.read[a] & arrays.read[b] for a, b in modules.tolist()}
    here = np.stack([read[a, b][baskets] for a, b in modules.tolist()])
    answers = []
    for flags in (has_a & has_b & here, has_a & here, has_b & here):
        of_cars = np.zeros((len(first), len(arrays.starts)), dtype=bool)
        link, place = np.nonzero(flags)
        of_cars[link, arrays.car_of[baskets[place]]] = True
        answers.append(of_cars)
    whole = {pair: np.logical_or.reduceat(flags, arrays.starts) for pair, flags in read.items()}
    return [*answers, np.stack([whole[a, b] for a, b in modules.tolist()])]


def _largest_piece(links: Iterable[tuple[str, str]]) -> int:
    """Return the number of codes in the largest connected piece (0 without links)."""
    pieces: list[set[str]] = []
    for link in links:
        touched = [piece for piece in pieces if piece & set(link)]
        pieces = [piece for piece in pieces if not piece & set(link)] + [set(link).union(*touched)]
    return max(map(len, pieces), default=0)
