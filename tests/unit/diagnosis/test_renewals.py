"""What suppliers and time tell of new parts; the reference is the same forecasts job by job, in plain Python."""

from itertools import product
from math import prod

import numpy as np
import pytest

from analysis.diagnosis.inputs.training_data import Supplied
from analysis.diagnosis.learning.renewals import NewParts, new_parts

NORTH, HARROW = 0, 1


def told(jobs: list[tuple[int, int]], buys: int = NORTH) -> NewParts:
    """What jobs with one part tell: who supplied it, and 1 where a code came back."""
    count = np.arange(len(jobs))
    supplied = Supplied(
        visit=count, row=0 * count, supplier=np.array([who for who, _ in jobs]),
        failed=np.array([float(failed) for _, failed in jobs]), buys=np.array([buys]), names=["North", "Harrow"],
    )  # fmt: skip
    return new_parts(supplied, np.array([0]))


def share(past: list[tuple[int, int]], who: int, usual: float, way: tuple[float, str, float]) -> float:
    """The share of failures that the jobs so far foretell for a supplier's next part, in one way."""
    strength, scope, kept = way
    mine = [failed for other, failed in past if scope == "all" or other == who]
    if scope == "own":
        others = [failed for other, failed in past if other != who]
        usual = (strength * usual + sum(others)) / (strength + len(others))
    worth = [kept**age for age in range(len(mine))][::-1]
    return (strength * usual + sum(w * f for w, f in zip(worth, mine, strict=True))) / (strength + sum(worth))


def test_every_way_weighs_as_much_as_it_foretold_well() -> None:
    jobs = [(NORTH, 1), (HARROW, 0), (NORTH, 1), (HARROW, 0), (NORTH, 0), (NORTH, 1), (HARROW, 0)] * 2
    usual = (sum(failed for _, failed in jobs) + 1) / (len(jobs) + 2)
    ways = list(product((0.5, 2.0, 8.0), ("all", "own"), (1.0, 0.8, 0.6)))
    first = {way: (0.84 if way[1] == "all" else 0.06) / 3 if way[2] == 1 else 0.10 / 12 for way in ways}

    def chance(way: tuple[float, str, float]) -> float:
        forecasts = [share(jobs[:at], who, usual, way) for at, (who, _) in enumerate(jobs)]
        return prod(told if failed else 1 - told for told, (_, failed) in zip(forecasts, jobs, strict=True))

    often = dict(first)
    for _ in range(10):
        weight = {way: often[way] * chance(way) for way in ways}
        weight = {way: each / sum(weight.values()) for way, each in weight.items()}
        often = {way: (20 * first[way] + weight[way]) / 21 for way in ways}

    def holds(who: int, kept: float | None = None) -> float:
        return sum(
            weight[way]
            * (1 - share(jobs, who, usual, way if kept is None else (*way[:2], kept)))
            / (1 - share(jobs, who, usual, (way[0], "all", 1.0)))
            for way in ways
        )

    found = told(jobs)
    assert found.now[0] == pytest.approx(holds(NORTH))
    assert found.better == ["Harrow"]
    assert found.better_now[0] == pytest.approx(holds(HARROW))
    # What was fitted is judged by all jobs of its supplier, early and late ones alike.
    assert found.tried == pytest.approx(np.array([holds(who, 1.0) for who, _ in jobs]))
    assert told(jobs, HARROW).better == [""]


def test_one_supplier_and_no_drift_change_nothing() -> None:
    assert told([(NORTH, 0)] * 9).now[0] == pytest.approx(1.0, abs=0.03)
    assert [told([(NORTH, 1)]).now[0], told([(NORTH, 1)]).tried[0]] == pytest.approx([1.0, 1.0])
    assert told([]).now[0] == 1.0
    mixed = [(who, failed) for failed in (0, 0, 1, 0, 0) for who in (NORTH, HARROW)]
    assert told(mixed).now[0] == pytest.approx(1.0, abs=0.05)


def test_a_supplier_never_met_is_like_all_others() -> None:
    apart = [(NORTH, 1), (NORTH, 1), (NORTH, 1)]
    assert told(apart, HARROW).now[0] == pytest.approx(told([*apart], -1).now[0])


def test_what_failed_lately_holds_less_often() -> None:
    late = told([(NORTH, 0)] * 12 + [(NORTH, 1)] * 7).now[0]
    early = told([(NORTH, 1)] * 7 + [(NORTH, 0)] * 12).now[0]
    assert late < 0.6
    assert early > 1.2
