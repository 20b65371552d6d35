"""The order of work against published schedules, derived values and brute force."""

from itertools import permutations

import numpy as np
import pytest

from analysis.diagnosis.troubleshooting import (
    RECHECK,
    Step,
    World,
    chance_of,
    costs_to_the_end,
    merit_of,
    plan,
    reached,
)

NEVER = 1.0  # recheck only where erasing settles it for certain


def one_fault(chance: list[float], cost: list[float], specialist: float, no_fault: float = 0.0) -> World:
    """Exactly one part is faulty and sets the only code; or, with the rest of the chance, nothing is."""
    parts = len(chance)
    sets = np.vstack([np.zeros((1, parts), dtype=bool), np.eye(parts, dtype=bool)])
    return World(
        sets=sets, chance=np.array([no_fault, *chance]), link=np.ones((parts, 1)),
        leak=np.full(1, 0.01 if no_fault else 0.0),
        clears=np.ones((parts, 1), dtype=bool), scope=np.ones(1, dtype=bool),
        cost=np.array(cost, dtype=float), specialist=specialist,
        persist=0.0, bad=np.zeros(parts),
    )  # fmt: skip


def given(world: World) -> dict:
    return {name: getattr(world, name) for name in World.__dataclass_fields__}


def everyone(world: World) -> np.ndarray:
    return np.ones(len(world.cost), dtype=bool)


def steps_in(world: World, order: list[int]) -> list[Step]:
    return [Step(part, 0.0, float(world.cost[part])) for part in order]


def test_ten_jobs_of_a_published_course_instance():
    # Weights 6 7 5 7 8 2 11 9 13 11 and times 4 5 2 3 6 1 10 7 8 9: least weighted completion time 2164, in the
    # order 3 4 6 9 1 2 5 8 10 7 (Smith's rule, Naval Research Logistics Quarterly 1956).
    weight = np.array([6, 7, 5, 7, 8, 2, 11, 9, 13, 11], dtype=float)
    world = one_fault(list(weight / weight.sum()), [4, 5, 2, 3, 6, 1, 10, 7, 8, 9], specialist=1e9)
    steps = plan(world, everyone(world), NEVER)
    assert [step.part + 1 for step in steps] == [3, 4, 6, 9, 1, 2, 5, 8, 10, 7]
    assert costs_to_the_end(world, steps)[0] * weight.sum() == pytest.approx(2164)


def test_two_jobs_of_kleinberg_and_tardos():
    # Kleinberg and Tardos, Algorithm Design, chapter 4 exercises: times 1 and 3, weights 10 and 2: 18 against 46.
    world = one_fault([10 / 12, 2 / 12], [1, 3], specialist=1e9)
    both = [costs_to_the_end(world, steps_in(world, order))[0] * 12 for order in ([0, 1], [1, 0])]
    assert both == pytest.approx([18, 46])
    assert [step.part for step in plan(world, everyone(world), NEVER)] == [0, 1]


def test_handing_over_after_the_cheapest_prefix():
    # Derived by hand: chances .5 .2 .2 .1, costs 60 40 300 500, fee 400: prefixes cost 400 260 200 210 220.
    world = one_fault([0.5, 0.2, 0.2, 0.1], [60, 40, 300, 500], specialist=400)
    prefixes = [costs_to_the_end(world, steps_in(world, list(range(n))))[0] for n in range(5)]
    assert prefixes == pytest.approx([400, 260, 200, 210, 220])
    steps = plan(world, everyone(world), NEVER)
    assert [step.part for step in steps] == [0, 1]
    assert [step.chance for step in steps] == pytest.approx([0.5, 0.4])
    assert costs_to_the_end(world, steps) == pytest.approx([200, 280, 400])


def test_chance_per_euro_beats_chance_alone():
    # Derived by hand: five parts, order 1 2 4 3 5 at 192.0; by chance alone 212.5.
    world = one_fault([0.45, 0.25, 0.15, 0.10, 0.05], [80, 60, 250, 30, 400], specialist=1e6)
    steps = plan(world, everyone(world), NEVER)
    assert [step.part + 1 for step in steps] == [1, 2, 4, 3, 5]
    assert costs_to_the_end(world, steps)[0] == pytest.approx(192.0)
    assert costs_to_the_end(world, steps_in(world, [0, 1, 2, 3, 4]))[0] == pytest.approx(212.5)


@pytest.mark.parametrize("seed", range(8))
def test_no_order_and_no_prefix_is_cheaper(seed):
    rng = np.random.default_rng(seed)
    chance = rng.dirichlet(np.ones(5))
    world = one_fault(list(chance), list(rng.uniform(5, 300, 5)), specialist=250.0)
    steps = plan(world, everyone(world), NEVER)
    every = [order[:n] for order in permutations(range(5)) for n in range(6)]
    best = min(costs_to_the_end(world, steps_in(world, list(order)))[0] for order in every)
    assert costs_to_the_end(world, steps)[0] == pytest.approx(best)


def test_recheck_comes_first_where_erasing_often_settles_it():
    world = one_fault([0.6], [50], specialist=300, no_fault=0.4)
    first, second = plan(world, everyone(world), recheck_from=0.25)
    assert (first.part, first.cost) == (RECHECK, 0.0)
    assert first.chance == pytest.approx(0.4)
    assert second.chance == pytest.approx(1.0)  # no real fault is ruled out once the code came back
    assert [step.part for step in plan(world, everyone(world), recheck_from=0.5)] == [0]


def test_a_part_that_may_not_stand_first_waits_for_one_that_may():
    world = one_fault([0.6, 0.4], [10, 10], specialist=300)
    steps = plan(world, np.array([False, True]), NEVER)
    assert [step.part for step in steps] == [1, 0]
    assert plan(world, np.array([False, False]), NEVER) == []


def test_two_separate_faults_cost_both_parts():
    # By hand: each part alone sets its own code, both are faulty for certain, so both are bought and nothing is left.
    world = World(
        sets=np.array([[True, True]]), chance=np.ones(1), link=np.array([[1.0, 0.0], [0.0, 1.0]]), leak=np.zeros(2),
        clears=np.eye(2, dtype=bool), scope=np.ones(2, dtype=bool), cost=np.array([40.0, 60.0]), specialist=300.0,
        persist=0.3, bad=np.zeros(2),
    )  # fmt: skip
    steps = plan(world, everyone(world), NEVER)
    assert [step.part for step in steps] == [0, 1]
    assert costs_to_the_end(world, steps) == pytest.approx([100.0, 60.0, 300.0])


def test_a_bad_new_part_sends_a_share_of_the_cars_on():
    # By hand: one part, faulty for certain, bad in one of ten: 50 + .1 * 300.
    world = one_fault([1.0], [50], specialist=300)
    world = World(**given(world) | {"bad": np.full(1, 0.1)})
    steps = plan(world, everyone(world), NEVER)
    assert steps[0].chance == pytest.approx(0.9)
    assert costs_to_the_end(world, steps)[0] == pytest.approx(80.0)


def test_erasing_counts_where_the_first_part_is_fitted():
    # By hand: the part is at fault with .6, its new one cures with .9; no real fault with .4, and the erase does it
    # unless the leak lasts (.3): .6 * .9 + .4 * .7 = .82.  After a recheck only the cars with a lasting code are
    # left: .54 of .6 + .12.
    world = one_fault([0.6], [50], specialist=300, no_fault=0.4)
    world = World(**(given(world) | {"bad": np.full(1, 0.1), "persist": 0.3}))
    assert chance_of(world, 0, []) == pytest.approx(0.82, abs=0.002)  # a leak of .01 rides along
    assert chance_of(world, 0, [RECHECK]) == pytest.approx(0.54 / 0.72, abs=0.004)


def test_new_parts_fail_each_on_its_own():
    # Drawn one by one: two or three parts at fault for certain, each with codes of its own and a share in another's.
    rng = np.random.default_rng(7)
    link = np.array([[1.0, 0.4, 0.0], [0.0, 1.0, 0.3], [0.2, 0.0, 1.0]])
    sets, chance, bad = np.array([[1, 1, 0], [1, 1, 1]], dtype=bool), np.array([0.7, 0.3]), np.array([0.2, 0.3, 0.1])
    world = World(
        sets=sets, chance=chance, link=link, leak=np.zeros(3), clears=np.ones((3, 3), dtype=bool),
        scope=np.ones(3, dtype=bool), cost=np.ones(3), specialist=300.0, persist=0.3, bad=bad,
    )  # fmt: skip
    draws, tried = 400_000, [0, 1]
    true = sets[rng.choice(2, size=draws, p=chance)]
    fired = true[:, :, None] & (rng.random((draws, 3, 3)) < link)
    seen = fired.any(axis=1).all(axis=1)  # all three codes were there
    cured = rng.random((draws, 3)) > bad
    first = true & ~(cured & np.isin(np.arange(3), tried))
    called = seen & (fired & first[:, :, None]).any(axis=(1, 2))
    last = first & ~(cured & (np.arange(3) == 2))
    done = called & ~(fired & last[:, :, None]).any(axis=(1, 2))
    weight = np.array([seen[(true == row).all(axis=1)].mean() for row in sets]) * chance
    world = World(**(given(world) | {"chance": weight / weight.sum()}))
    assert float(world.chance @ reached(world, 2, tried)) == pytest.approx(called.sum() / seen.sum(), abs=0.005)
    assert chance_of(world, 2, tried) == pytest.approx(done.sum() / called.sum(), abs=0.01)


def test_a_cheap_part_does_not_live_on_the_erase():
    # By hand: nothing real with .5 in both worlds of codes; the cap is at fault with .02, the resistor with .48.
    # Either first step erases, so .5 is not the cap's merit: .48 / 50 beats .02 / 10.
    world = one_fault([0.02, 0.48], [10, 50], specialist=300, no_fault=0.5)
    assert merit_of(world, 0, []) == pytest.approx(0.02, abs=1e-3)
    assert chance_of(world, 0, []) == pytest.approx(0.52, abs=1e-2)
    assert plan(world, everyone(world), NEVER)[0].part == 1
