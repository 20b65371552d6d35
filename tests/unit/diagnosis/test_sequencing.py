"""The order of jobs against published schedules, and against every order there is."""

from itertools import permutations

import numpy as np
import pytest

from analysis.diagnosis.decision.sequencing import best_sequence, best_subset


def weighted_completion(order, weight, time) -> float:
    """The sum of weight times time of completion."""
    clock, total = 0.0, 0.0
    for job in order:
        clock += time[job]
        total += weight[job] * clock
    return total


def allowed(order, behind) -> bool:
    return all(behind[job] is None or order.index(behind[job]) < order.index(job) for job in order)


def test_the_two_chains_of_pinedo_in_which_the_cover_comes_off_first() -> None:
    # Pinedo, Scheduling: Theory, Algorithms, and Systems, two chains 1-2-3-4 and 5-6-7, from memory; recomputed by
    # trying all 35 ways of weaving the chains: 1 2 5 6 3 7 4 at 1967 is the least.
    weight, time = [6, 18, 12, 8, 8, 17, 18], [3, 6, 6, 5, 4, 8, 10]
    behind = [None, 0, 1, 2, None, 4, 5]
    order = best_sequence(weight, time, behind)
    assert [job + 1 for job in order] == [1, 2, 5, 6, 3, 7, 4]
    assert weighted_completion(order, weight, time) == 1967
    woven = [o for o in permutations(range(7)) if allowed(o, behind)]
    assert len(woven) == 35
    assert min(weighted_completion(o, weight, time) for o in woven) == 1967


def test_free_jobs_go_by_weight_per_time_and_of_equals_the_first() -> None:
    # Smith, Naval Research Logistics Quarterly 1956; by hand: 2 and 2 are level, 3 beats both.
    assert best_sequence([2, 4, 3], [1, 2, 1], [None, None, None]) == [2, 0, 1]


@pytest.mark.parametrize("seed", range(12))
def test_no_order_of_a_drawn_forest_is_cheaper(seed: int) -> None:
    rng = np.random.default_rng(seed)
    weight = rng.uniform(0, 5, 6) * (rng.random(6) < 0.8)
    time = rng.uniform(0.5, 5, 6)
    behind = [None] + [None if rng.random() < 0.3 else int(rng.integers(0, job)) for job in range(1, 6)]
    # Any job may wait for any other, not only for one with a lower number.
    shuffle = rng.permutation(6)
    waits: list[int | None] = [None] * 6
    for job, before in enumerate(behind):
        waits[shuffle[job]] = None if before is None else int(shuffle[before])
    order = best_sequence(weight, time, waits)
    assert sorted(order) == list(range(6))
    assert allowed(order, waits)
    every = (o for o in permutations(range(6)) if allowed(o, waits))
    least = min(weighted_completion(o, weight, time) for o in every)
    assert weighted_completion(order, weight, time) == pytest.approx(least)


def test_a_job_that_has_no_weight_and_leads_nowhere_comes_last() -> None:
    assert best_sequence([0.0, 1.0, 0.0], [1.0, 9.0, 1.0], [None, None, 0]) == [1, 0, 2]


FAULTS = {"f1": 0.20, "f2": 0.25, "f3": 0.40, "f4": 0.15}
ACTIONS = ({"f1", "f2"}, {"f1", "f3"}, {"f3", "f4"})


def unsolved(done: int) -> float:
    solved = set().union(*(action for k, action in enumerate(ACTIONS) if done >> k & 1))
    return sum(chance for fault, chance in FAULTS.items() if fault not in solved)


def tried_in_turn(order: list[int]) -> float:
    return sum(unsolved(sum(1 << job for job in order[:k])) for k in range(len(order)))


def test_dependent_actions_are_not_tried_by_chance_alone() -> None:
    # The pattern of the Aalborg papers on dependent actions (Ottosen and Jensen 2010), from memory, recomputed by
    # hand: one of four faults, three actions at 1 each that solve two of them.  The likeliest first costs 1.55 or
    # 1.65, the best order 1.45; no further action is called for once the first two solved all.
    assert tried_in_turn([1, 0, 2]) == pytest.approx(1.55)
    assert tried_in_turn([1, 2, 0]) == pytest.approx(1.65)
    cost, order = best_subset(3, lambda done, _: unsolved(done), lambda done: 1e6 * unsolved(done))
    assert cost == pytest.approx(1.45)
    assert order == [2, 0]
    assert tried_in_turn(order) == pytest.approx(1.45)


@pytest.mark.parametrize("seed", range(6))
def test_the_best_choice_of_jobs_is_the_least_over_every_order_of_every_choice(seed: int) -> None:
    rng = np.random.default_rng(seed)
    price, stop = rng.uniform(0, 10, (16, 4)), rng.uniform(0, 20, 16)
    barred = rng.random((16, 4)) < 0.2

    def total(order) -> float:
        done, spent = 0, 0.0
        for job in order:
            spent += np.inf if barred[done, job] else price[done, job]
            done |= 1 << job
        return spent + stop[done]

    cost, order = best_subset(
        4, lambda done, job: None if barred[done, job] else float(price[done, job]), lambda done: float(stop[done])
    )
    every = (chosen[:n] for chosen in permutations(range(4)) for n in range(5))
    assert cost == pytest.approx(min(total(chosen) for chosen in every))
    assert total(order) == pytest.approx(cost)


def test_of_equals_fewer_jobs_and_lower_numbers() -> None:
    assert best_subset(2, lambda *_: 0.0, lambda _: 5.0) == (5.0, [])
    assert best_subset(2, lambda *_: 1.0, lambda done: 0.0 if done else 5.0) == (1.0, [0])
