"""The cheapest course through a lattice against a published table and every course there is."""

from itertools import permutations

import numpy as np
import pytest

from analysis.diagnosis.decision.held_karp import cheapest_course, follow, lattice


def once_each(jobs: int):
    """A lattice in which each job is done or not."""
    return lattice((2,) * jobs, tuple(((job, 0, 1),) for job in range(jobs)))


def weighted_completion(order, weight, time) -> float:
    """The sum of weight times time of completion."""
    return float(sum(weight[job] * sum(time[j] for j in order[: k + 1]) for k, job in enumerate(order)))


def test_ten_jobs_of_a_published_course_instance() -> None:
    # Weights 6 7 5 7 8 2 11 9 13 11 and times 4 5 2 3 6 1 10 7 8 9: least weighted completion time 2164, in the
    # order 3 4 6 9 1 2 5 8 10 7 (Smith's rule, Naval Research Logistics Quarterly 1956).
    weight, time = np.array([6, 7, 5, 7, 8, 2, 11, 9, 13, 11.0]), np.array([4, 5, 2, 3, 6, 1, 10, 7, 8, 9.0])
    space = once_each(10)
    waiting = weight @ (1 - space.digits)
    charge = time[space.move] * waiting[space.start]
    stop = np.where(np.arange(1024) == 1023, 0.0, np.inf)
    least = cheapest_course(space, charge, stop)
    assert least[0] == pytest.approx(2164)
    assert [move + 1 for move in follow(space, charge, stop, least, 0)] == [3, 4, 6, 9, 1, 2, 5, 8, 10, 7]
    assert weighted_completion([2, 3, 5, 8, 0, 1, 4, 7, 9, 6], weight, time) == 2164


@pytest.mark.parametrize("seed", range(8))
def test_no_course_is_cheaper(seed: int) -> None:
    # Costs without any pattern: each job costs what it costs after that very set of others; stopping anywhere.
    rng = np.random.default_rng(seed)
    space = once_each(5)
    charge, stop = rng.uniform(0, 10, len(space.move)), rng.uniform(0, 30, 32)
    charge[rng.random(len(charge)) < 0.2] = np.inf
    price = {(int(a), int(m)): float(c) for a, m, c in zip(space.start, space.move, charge, strict=True)}

    def cost(order) -> float:
        done, spent = 0, 0.0
        for job in order:
            spent += price[done, job]
            done |= 1 << job
        return spent + stop[done]

    every = [order[:n] for order in permutations(range(5)) for n in range(6)]
    least = cheapest_course(space, charge, stop)
    assert least[0] == pytest.approx(min(cost(order) for order in every))
    assert cost(follow(space, charge, stop, least, 0)) == pytest.approx(least[0])


def test_digits_of_three_and_moves_of_two_at_once() -> None:
    # By hand: job 0 may be half done (1) and then whole, job 1 is done or not; one move does both, from nothing on.
    space = lattice((3, 2), (((0, 1, 2),), ((0, 0, 1),), ((1, 0, 1),), ((0, 0, 2), (1, 0, 1))))
    assert space.digits.tolist() == [[0, 1, 2, 0, 1, 2], [0, 0, 0, 1, 1, 1]]
    found = {(int(a), int(m), int(b)) for a, m, b in zip(space.start, space.move, space.end, strict=True)}
    assert found == {(1, 0, 2), (4, 0, 5), (0, 1, 1), (3, 1, 4), (0, 2, 3), (1, 2, 4), (2, 2, 5), (0, 3, 5)}


def test_of_equals_it_stops_and_else_takes_the_lowest_move() -> None:
    space = once_each(2)
    charge, level, ends = np.ones(4), np.array([1.0, 0.0, 0.0, 5.0]), np.array([9.0, 0.0, 0.0, 0.0])
    assert follow(space, charge, level, cheapest_course(space, charge, level), 0) == []
    assert follow(space, charge, ends, cheapest_course(space, charge, ends), 0) == [0]


def test_with_nothing_to_do_there_is_one_state() -> None:
    space = lattice((), ())
    stop = np.array([7.0])
    assert cheapest_course(space, np.empty(0), stop).tolist() == [7.0]
    assert follow(space, np.empty(0), stop, stop, 0) == []
