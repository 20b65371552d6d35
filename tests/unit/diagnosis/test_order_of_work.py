"""The order of work against published schedules, derived values and brute force."""

from dataclasses import replace
from itertools import combinations, permutations

import numpy as np
import pytest

from analysis.diagnosis.decision import order_of_work
from analysis.diagnosis.decision.expected_cost import costs_to_the_end
from analysis.diagnosis.decision.order_of_work import plan
from analysis.diagnosis.decision.repair_model import (
    NOWHERE,
    RECHECK,
    RepairModel,
    Step,
    chance_of,
    merit_of,
    plain_work,
    reached,
)

NEVER = 1.0  # recheck only where erasing settles it for certain


def one_fault(chance: list[float], cost: list[float], specialist: float, no_fault: float = 0.0) -> RepairModel:
    """Exactly one part is faulty and sets the only code; or, with the rest of the chance, nothing is."""
    parts = len(chance)
    sets = np.vstack([np.zeros((1, parts), dtype=bool), np.eye(parts, dtype=bool)])
    return RepairModel(
        sets=sets, chance=np.array([no_fault, *chance]), link=np.ones((parts, 1)),
        leak=np.full(1, 0.01 if no_fault else 0.0),
        clears=np.ones((parts, 1), dtype=bool), scope=np.ones(1, dtype=bool),
        cost=np.array(cost, dtype=float), specialist=specialist,
        leak_recurrence=0.0, bad=np.zeros(parts),
    )  # fmt: skip


def given(repair: RepairModel) -> dict:
    return {name: getattr(repair, name) for name in RepairModel.__dataclass_fields__}


def everyone(repair: RepairModel) -> np.ndarray:
    return np.ones(len(repair.cost), dtype=bool)


def steps_in(repair: RepairModel, order: list[int]) -> list[Step]:
    return [Step(part=part, chance=0.0, cost=float(repair.cost[part])) for part in order]


def test_ten_jobs_of_a_published_course_instance():
    # Weights 6 7 5 7 8 2 11 9 13 11 and times 4 5 2 3 6 1 10 7 8 9: least weighted completion time 2164, in the
    # order 3 4 6 9 1 2 5 8 10 7 (Smith's rule, Naval Research Logistics Quarterly 1956).
    weight = np.array([6, 7, 5, 7, 8, 2, 11, 9, 13, 11], dtype=float)
    repair = one_fault(list(weight / weight.sum()), [4, 5, 2, 3, 6, 1, 10, 7, 8, 9], specialist=1e9)
    steps = plan(repair, everyone(repair), NEVER)
    assert [step.part + 1 for step in steps] == [3, 4, 6, 9, 1, 2, 5, 8, 10, 7]
    assert costs_to_the_end(repair, steps)[0] * weight.sum() == pytest.approx(2164)


def test_two_jobs_of_kleinberg_and_tardos():
    # Kleinberg and Tardos, Algorithm Design, chapter 4 exercises: times 1 and 3, weights 10 and 2: 18 against 46.
    repair = one_fault([10 / 12, 2 / 12], [1, 3], specialist=1e9)
    both = [costs_to_the_end(repair, steps_in(repair, order))[0] * 12 for order in ([0, 1], [1, 0])]
    assert both == pytest.approx([18, 46])
    assert [step.part for step in plan(repair, everyone(repair), NEVER)] == [0, 1]


def test_handing_over_after_the_cheapest_prefix():
    # Derived by hand: chances .5 .2 .2 .1, costs 60 40 300 500, fee 400: prefixes cost 400 260 200 210 220.
    repair = one_fault([0.5, 0.2, 0.2, 0.1], [60, 40, 300, 500], specialist=400)
    prefixes = [costs_to_the_end(repair, steps_in(repair, list(range(n))))[0] for n in range(5)]
    assert prefixes == pytest.approx([400, 260, 200, 210, 220])
    steps = plan(repair, everyone(repair), NEVER)
    assert [step.part for step in steps] == [0, 1]
    assert [step.chance for step in steps] == pytest.approx([0.5, 0.4])
    assert costs_to_the_end(repair, steps) == pytest.approx([200, 280, 400])


def test_chance_per_euro_beats_chance_alone():
    # Derived by hand: five parts, order 1 2 4 3 5 at 192.0; by chance alone 212.5.
    repair = one_fault([0.45, 0.25, 0.15, 0.10, 0.05], [80, 60, 250, 30, 400], specialist=1e6)
    steps = plan(repair, everyone(repair), NEVER)
    assert [step.part + 1 for step in steps] == [1, 2, 4, 3, 5]
    assert costs_to_the_end(repair, steps)[0] == pytest.approx(192.0)
    assert costs_to_the_end(repair, steps_in(repair, [0, 1, 2, 3, 4]))[0] == pytest.approx(212.5)


@pytest.mark.parametrize("seed", range(8))
def test_no_order_and_no_prefix_is_cheaper(seed):
    rng = np.random.default_rng(seed)
    chance = rng.dirichlet(np.ones(5))
    repair = one_fault(list(chance), list(rng.uniform(5, 300, 5)), specialist=250.0)
    steps = plan(repair, everyone(repair), NEVER)
    every = [order[:n] for order in permutations(range(5)) for n in range(6)]
    best = min(costs_to_the_end(repair, steps_in(repair, list(order)))[0] for order in every)
    assert costs_to_the_end(repair, steps)[0] == pytest.approx(best)


def test_recheck_comes_first_where_erasing_often_settles_it():
    repair = one_fault([0.6], [50], specialist=300, no_fault=0.4)
    first, second = plan(repair, everyone(repair), recheck_from=0.25)
    assert (first.part, first.cost) == (RECHECK, 0.0)
    assert first.chance == pytest.approx(0.4)
    assert second.chance == pytest.approx(1.0)  # no real fault is ruled out once the code came back
    assert [step.part for step in plan(repair, everyone(repair), recheck_from=0.5)] == [0]


def test_a_part_that_may_not_stand_first_waits_for_one_that_may():
    repair = one_fault([0.6, 0.4], [10, 10], specialist=300)
    steps = plan(repair, np.array([False, True]), NEVER)
    assert [step.part for step in steps] == [1, 0]
    assert plan(repair, np.array([False, False]), NEVER) == []


def test_two_separate_faults_cost_both_parts():
    # By hand: each part alone sets its own code, both are faulty for certain, so both are bought and nothing is left.
    repair = RepairModel(
        sets=np.array([[True, True]]), chance=np.ones(1), link=np.array([[1.0, 0.0], [0.0, 1.0]]), leak=np.zeros(2),
        clears=np.eye(2, dtype=bool), scope=np.ones(2, dtype=bool), cost=np.array([40.0, 60.0]), specialist=300.0,
        leak_recurrence=0.3, bad=np.zeros(2),
    )  # fmt: skip
    steps = plan(repair, everyone(repair), NEVER)
    assert [step.part for step in steps] == [0, 1]
    assert costs_to_the_end(repair, steps) == pytest.approx([100.0, 60.0, 300.0])


def test_a_bad_new_part_sends_a_share_of_the_cars_on():
    # By hand: one part, faulty for certain, bad in one of ten: 50, 50 once more on .1 of the cars, 300 on .01.
    repair = one_fault([1.0], [50], specialist=300)
    repair = RepairModel(**given(repair) | {"bad": np.full(1, 0.1)})
    steps = plan(repair, everyone(repair), NEVER)
    assert [step.part for step in steps] == [0, 0]
    assert [step.chance for step in steps] == pytest.approx([0.9, 0.9])
    assert costs_to_the_end(repair, steps)[0] == pytest.approx(50 + 5 + 3)
    # Where hardly a new one is bad a second does not pay: .118 of the cars pay 50, and .018 * .98 spare 300.
    repair = replace(one_fault([0.9, 0.1], [50, 400], specialist=300), bad=np.array([0.02, 0.0]))
    assert [step.part for step in plan(repair, everyone(repair), NEVER)] == [0]


def test_going_on_needs_to_save_a_share_of_handing_over():
    # By hand: once the first part was fitted .4 of the cars are left, and handing them over costs 120.  The second
    # part costs 40 * .4 and spares 300 on .06: it saves 2 of 120, which is less than one in fifty.
    repair = one_fault([0.6, 0.06], [50, 40], specialist=300, no_fault=0.34)
    repair = replace(repair, leak=np.full(1, 1e-9), leak_recurrence=1.0)
    for gain, parts in ((0.01, [0, 1]), (0.02, [0])):
        steps = plan(repair, everyone(repair), NEVER, least_gain=gain)
        assert [step.part for step in steps] == parts
    assert costs_to_the_end(repair, steps)[0] == pytest.approx(50 + 0.4 * 300)


def test_a_second_new_one_needs_the_chance_that_is_asked_for():
    # By hand: once the first was fitted .09 of .19 cars are left with a bad new one, of which a second mends .9: .426.
    repair = replace(one_fault([0.9], [50], specialist=300, no_fault=0.1), bad=np.full(1, 0.1))
    repair = replace(repair, leak=np.full(1, 1e-9), leak_recurrence=1.0)
    for least, parts in ((0.4, [0, 0]), (0.45, [0])):
        assert [step.part for step in plan(repair, everyone(repair), NEVER, once_more=least)] == parts


def test_a_second_new_one_waits_for_what_is_likelier():
    # By hand: the first is it with .6 and bad in one of ten, the second with .4.  Once the first was fitted .06 + .4
    # of the cars are left: the second part clears .4 of .46 of them, another first one .054 of .46.
    repair = replace(one_fault([0.6, 0.4], [50, 50], specialist=300), bad=np.array([0.1, 0.0]))
    steps = plan(repair, everyone(repair), NEVER)
    assert [step.part for step in steps] == [0, 1, 0]
    assert [step.chance for step in steps] == pytest.approx([0.6 * 0.9, 0.4 / 0.46, 0.9])
    assert costs_to_the_end(repair, steps)[0] == pytest.approx(50 + 0.46 * 50 + 0.06 * 50 + 0.006 * 300)


def test_a_part_found_faulty_and_fitted_may_be_fitted_once_more():
    # By hand: it is it for certain, bad in one of ten; the check misses one of twenty and never cries wolf.  So .145 of
    # the cars are left, .05 without a new one and .095 with a bad one; of these one more cures nine of ten.
    work = replace(plain_work(1), check=np.array([5.0]), misses=np.array([0.05]))
    repair = replace(one_fault([0.5], [100], specialist=300, no_fault=0.5), bad=np.array([0.1]), work=work)
    repair = replace(repair, leak_recurrence=1.0)
    checked = Step(part=0, chance=0.0, cost=100.0, check=5.0)
    done = repair.after([checked])
    assert done.cured[0] == pytest.approx(1 - 0.145)
    assert repair.after([checked, Step(part=0, chance=0.0, cost=100.0)]).cured[0] == pytest.approx(1 - 0.145 * 0.1)


def test_erasing_counts_where_the_first_part_is_fitted():
    # By hand: the part is at fault with .6, its new one cures with .9; no real fault with .4, and the erase does it
    # unless the leak lasts (.3): .6 * .9 + .4 * .7 = .82.  After a recheck only the cars with a lasting code are
    # left: .54 of .6 + .12.
    repair = one_fault([0.6], [50], specialist=300, no_fault=0.4)
    repair = RepairModel(**(given(repair) | {"bad": np.full(1, 0.1), "leak_recurrence": 0.3}))
    assert chance_of(repair, 0) == pytest.approx(0.82, abs=0.002)  # a leak of .01 rides along
    assert chance_of(repair, 0, repair.after([RECHECK])) == pytest.approx(0.54 / 0.72, abs=0.004)


def test_new_parts_fail_each_on_its_own():
    # Drawn one by one: two or three parts at fault for certain, each with codes of its own and a share in another's.
    rng = np.random.default_rng(7)
    link = np.array([[1.0, 0.4, 0.0], [0.0, 1.0, 0.3], [0.2, 0.0, 1.0]])
    sets, chance, bad = np.array([[1, 1, 0], [1, 1, 1]], dtype=bool), np.array([0.7, 0.3]), np.array([0.2, 0.3, 0.1])
    repair = RepairModel(
        sets=sets, chance=chance, link=link, leak=np.zeros(3), clears=np.ones((3, 3), dtype=bool),
        scope=np.ones(3, dtype=bool), cost=np.ones(3), specialist=300.0, leak_recurrence=0.3, bad=bad,
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
    repair = RepairModel(**(given(repair) | {"chance": weight / weight.sum()}))
    assert float(repair.chance @ reached(repair, [2], repair.after(tried))) == pytest.approx(
        called.sum() / seen.sum(), abs=0.005
    )
    assert chance_of(repair, 2, repair.after(tried)) == pytest.approx(done.sum() / called.sum(), abs=0.01)


def test_a_cheap_part_does_not_live_on_the_erase():
    # By hand: nothing real with .5 in both worlds of codes; the cap is at fault with .02, the resistor with .48.
    # Either first step erases, so .5 is not the cap's merit: .48 / 50 beats .02 / 10.
    repair = one_fault([0.02, 0.48], [10, 50], specialist=300, no_fault=0.5)
    assert merit_of(repair, 0, repair.untouched) == pytest.approx(0.02, abs=1e-3)
    assert chance_of(repair, 0) == pytest.approx(0.52, abs=1e-2)
    dear = replace(repair, recheck=60.0)
    assert [step.part for step in plan(dear, everyone(repair), NEVER, least_chance=0.25)] == [1, 0]
    assert plan(replace(repair, recheck=5.0), everyone(repair), NEVER, least_chance=0.25)[0].part == RECHECK


def with_work(repair: RepairModel, **more) -> RepairModel:
    """The same car with checks, openings or second tries."""
    return replace(repair, work=replace(plain_work(len(repair.cost)), **more))


def test_a_part_is_checked_before_it_is_bought_where_that_is_cheaper():
    # By hand: .4 at 100 and .6 at 50, checks of 10 and 30.  The first one's check saves .6 * 100 for 10; the second
    # is certain by then, so its check saves nothing.
    repair = with_work(one_fault([0.4, 0.6], [100, 50], specialist=1000), check=np.array([10.0, 30.0]))
    steps = plan(repair, everyone(repair), NEVER)
    assert [(step.part, step.check) for step in steps] == [(0, 10.0), (1, None)]
    assert costs_to_the_end(repair, steps) == pytest.approx([10 + 0.4 * 100 + 0.6 * 50, 50, 1000])


def test_a_check_makes_a_dear_part_worth_a_try():
    # By hand: straight away .5 * 300 does not pay for 250; checked first, 10 + .5 * 250 + .5 * 300 = 285 does.
    repair = one_fault([0.5, 0.5], [250, 1e5], specialist=300)
    assert plan(repair, everyone(repair), NEVER) == []
    repair = with_work(repair, check=np.array([10.0, np.inf]))
    steps = plan(repair, everyone(repair), NEVER)
    assert [(step.part, step.check) for step in steps] == [(0, 10.0)]
    assert costs_to_the_end(repair, steps)[0] == pytest.approx(285.0)


def test_a_check_of_a_part_dearer_than_handing_over_is_not_listed():
    repair = with_work(one_fault([0.9, 0.1], [400, 1e5], specialist=300), check=np.array([1.0, np.inf]))
    assert plan(repair, everyone(repair), NEVER) == []


def test_a_price_book_without_covers_and_checks_changes_nothing():
    for seed in range(6):
        rng = np.random.default_rng(seed)
        repair = two_codes(rng)
        known = replace(repair, work=plain_work(4))
        assert plan(known, everyone(repair), NEVER) == plan(repair, everyone(repair), NEVER)
        free = with_work(repair, opening=np.zeros(4, dtype=np.intp), opening_cost=np.zeros(1))
        assert plan(free, everyone(repair), NEVER) == plan(repair, everyone(repair), NEVER)


def two_codes(rng: np.random.Generator) -> RepairModel:
    """Four parts, two codes, up to two faults at once: what one step is worth hangs on what was done before."""
    pairs = [[i, j] for i in range(4) for j in range(i)]
    sets = np.zeros((5 + len(pairs), 4), dtype=bool)
    for row, members in enumerate([[], *([i] for i in range(4)), *pairs]):
        sets[row, members] = True
    chance, link = rng.dirichlet(np.ones(len(sets))), rng.choice([0.0, 0.6, 0.9], (4, 2))
    link[:, 0] += 0.5 * (link.sum(axis=1) == 0)
    return RepairModel(
        sets=sets, chance=0.8 * chance + 0.2 * (np.arange(len(sets)) == 0), link=link,
        leak=np.full(2, 0.05), clears=link >= 0.5, scope=np.ones(2, dtype=bool),
        cost=rng.uniform(10, 80, 4), specialist=300.0, leak_recurrence=0.3, bad=np.full(4, 0.05),
    )  # fmt: skip


def test_a_part_renewed_that_nobody_has_looked_at_is_not_bought_again_but_rechecked():
    # By hand: the part was at fault with .9 and is renewed, bad in one of ten: the codes stay away with .81.
    repair = replace(one_fault([0.9, 0.1], [50, 60], specialist=300), bad=np.array([0.1, 0.0]), recheck=15.0)
    assert [step.part for step in plan(repair, everyone(repair), 0.9)] == [0, 1, 0]
    since = replace(repair, renewed=(0,))
    steps = plan(since, everyone(repair), 0.9)
    assert [step.part for step in steps] == [RECHECK, 1]
    assert steps[0].chance == pytest.approx(0.81)
    assert steps[1].chance == pytest.approx(0.1 / 0.19)
    assert costs_to_the_end(since, steps)[0] == pytest.approx(15 + 0.19 * 60 + 0.09 * 300)


def test_a_recheck_dearer_than_what_it_saves_is_left_out():
    repair = replace(one_fault([0.1, 0.9], [50, 20], specialist=300), recheck=60.0, renewed=(0,))
    assert plan(repair, everyone(repair), 0.9)[0].part == 1


# Every course by brute force.


def drawn(seed: int, parts: int, *, checks: bool = False, covers: bool = False, tied: bool = False) -> RepairModel:
    """A car with three codes and up to three faults, one of them of a part that nobody can name."""
    rng = np.random.default_rng(seed)
    members = [c for n in range(4) for c in combinations(range(parts + 1), n)]
    sets = np.array([[i in c for i in range(parts + 1)] for c in members])
    link = np.vstack([rng.choice([0.0, 0.6, 0.9], (parts, 3)), np.full((1, 3), 0.2)])
    link[:parts, 0] += 0.5 * (link[:parts].sum(axis=1) == 0)
    chance = rng.dirichlet(np.ones(len(sets))) * np.array([1, 1, 0.2, 0.05])[sets.sum(axis=1)]
    cost = rng.uniform(10, 120, parts)
    work = plain_work(parts)
    if tied:
        # The evidence cannot tell them apart: the same codes, the same chance.
        link[:parts], chance = link[0], np.array([0.1, 1, 0.1, 0.02])[sets.sum(axis=1)]
        cost = np.full(parts, cost[0]) if seed % 2 else cost
    if checks:
        errs = rng.uniform(0, 0.2, (2, parts))
        check = np.where(rng.random(parts) < 0.7, rng.uniform(1, 30, parts), np.inf)
        work = replace(work, check=check, misses=errs[0], false_alarms=errs[1])
    if covers:
        work = replace(work, opening=rng.integers(NOWHERE, 2, parts), opening_cost=rng.uniform(10, 80, 2))
    clears = link[:parts] >= 0.5
    clears[~clears.any(axis=1), 0] = True
    return RepairModel(
        sets=sets, chance=chance / chance.sum(), link=link, leak=np.full(3, 0.02), clears=clears,
        scope=np.array([True, True, seed % 3 > 0]), cost=cost, specialist=300.0, leak_recurrence=0.3,
        bad=np.full(parts + 1, 0.05), recheck=15.0, work=work,
    )  # fmt: skip


def going_on(repair: RepairModel, state: tuple[int, ...]) -> list[tuple[list[Step], tuple[int, ...]]]:
    """Everything that may be done next; a part is untouched (0), was checked (1), fitted straight away (2) or both (3).

    Without a check "both" is two new ones, one after the other.
    """
    work, ways = repair.jobs, []

    def step(part: int, **more) -> Step:
        told = {"opening": float(work.openings[part])} | more
        return Step(part=part, chance=0.0, cost=float(repair.cost[part]), **told)

    def then(parts: tuple[int, ...], way: int) -> tuple[int, ...]:
        return tuple(way if i in parts else was for i, was in enumerate(state))

    for part, was in enumerate(state):
        check = np.isfinite(work.check[part])
        if check and was in {0, 2}:
            ways.append(([step(part, check=float(work.check[part]))], then((part,), was + 1)))
        if was in {0, 1 if check else 2}:
            ways.append(([step(part)], then((part,), 2 if was == 0 else 3)))
    for size in range(2, len(state) + 1):
        for group in combinations([i for i, was in enumerate(state) if was == 0], size):
            if len({work.opening[i] for i in group} | {NOWHERE}) == 2 and (work.opening[list(group)] >= 0).all():
                steps = [step(i, opening=float(work.openings[i]) * (k == 0), along=k > 0) for k, i in enumerate(group)]
                ways.append((steps, then(group, 2)))
    return ways


def cheapest_by_brute_force(repair: RepairModel) -> float:
    """The least cost of any course, each counted from its steps alone; a step that can hardly do anything is none."""
    least = np.inf

    def look(steps: list[Step], state: tuple[int, ...]) -> None:
        nonlocal least
        least = min(least, costs_to_the_end(repair, steps)[0])
        done = repair.after(steps)
        for more, then in going_on(repair, state):
            checked = more[0].check is not None
            if len(more) > 1 or merit_of(repair, more[0].part, done, checked) >= 0.01:
                look([*steps, *more], then)

    nothing = (0,) * len(repair.cost)
    look([], nothing)
    look([Step(part=RECHECK, chance=0.0, cost=repair.recheck)], nothing)
    return least


BRUTE = [
    *((seed, 3, {}) for seed in range(6)),
    *((seed, 3, {"tied": True}) for seed in range(2)),
    *((seed, 3, {"checks": True}) for seed in range(2)),
    *((seed, 3, {"covers": True}) for seed in range(2)),
    *((seed, 3, {"checks": True, "covers": True, "tied": seed > 2}) for seed in (2, 3)),
]
SLOW = [
    *((seed, 3, {"tied": True}) for seed in range(2, 4)),
    *((seed, 3, {"checks": True}) for seed in range(2, 6)),
    *((seed, 3, {"covers": True}) for seed in range(2, 6)),
    *((seed, 3, {"checks": True, "covers": True, "tied": seed > 2}) for seed in (0, 1, 4, 5)),
    *((seed, 4, {"tied": seed > 13, "covers": seed > 14}) for seed in range(10, 17)),
    *((seed, 3, {"checks": True, "tied": seed > 12}) for seed in range(10, 16)),
]


@pytest.mark.parametrize(
    ("seed", "parts", "more"), [*BRUTE, *(pytest.param(*case, marks=pytest.mark.slow) for case in SLOW)]
)
def test_no_course_is_cheaper(seed, parts, more):
    # All orders and choices of parts, straight away or checked first, one by one or behind one cover in one go, with
    # and without a recheck before them, handing over behind each.
    repair = drawn(seed, parts, **more)
    steps = plan(repair, everyone(repair), 0.0)
    assert costs_to_the_end(repair, steps)[0] == pytest.approx(cheapest_by_brute_force(repair), rel=1e-9)


@pytest.mark.parametrize(("seed", "parts", "more"), BRUTE[:6])
@pytest.mark.parametrize("least", [0.3, 0.5])
def test_parts_that_cannot_come_again_are_left_out_before_and_change_no_plan(seed, parts, more, least, monkeypatch):
    repair = drawn(seed, parts, **more)
    before = plan(repair, everyone(repair), 0.0, once_more=least)
    monkeypatch.setattr(order_of_work, "_may_come_again", lambda _, ways, __: {*ways})
    assert before == plan(repair, everyone(repair), 0.0, once_more=least)


def test_three_tied_parts_are_tried_in_turn():
    # By hand: one of three is it, each as likely, 75 each against 200: 75 + 2/3 * 75 + 1/3 * 75 = 150 where none is
    # something else; handing over at once costs 200.
    repair = one_fault([1 / 3] * 3, [75] * 3, specialist=200)
    steps = plan(repair, everyone(repair), NEVER, least_chance=0.25)
    assert [step.part for step in steps] == [0, 1, 2]
    assert [step.chance for step in steps] == pytest.approx([1 / 3, 1 / 2, 1])
    assert costs_to_the_end(repair, steps)[0] == pytest.approx(150)


def test_with_more_states_than_are_compared_the_plan_is_within_a_hundredth(monkeypatch):
    # Ten parts, each with a check: 59,049 states, of which some thousands are compared.
    for seed in range(5):
        repair = drawn(seed, 10, checks=True, tied=seed % 3 == 0)
        check = np.random.default_rng(seed).uniform(1, 30, 10)
        repair = replace(repair, work=replace(repair.jobs, check=check))
        few = costs_to_the_end(repair, plan(repair, everyone(repair), 0.0))[0]
        with monkeypatch.context() as wide:
            wide.setattr("analysis.diagnosis.decision.order_of_work.STATES", 3**10)
            all_of_them = costs_to_the_end(repair, plan(repair, everyone(repair), 0.0))[0]
        assert all_of_them - 1e-9 <= few <= 1.01 * all_of_them


# Covers and checks.


def behind_one_cover(opening: float) -> RepairModel:
    """Parts a and b behind one cover, c and d free."""
    repair = one_fault([0.3, 0.2, 0.25, 0.25], [20, 30, 60, 90], specialist=1e6)
    doors = np.array([0, 0, NOWHERE, NOWHERE])
    return with_work(repair, opening=doors, opening_cost=np.array([opening]))


def test_parts_behind_one_cover_are_fitted_in_one_go_where_that_pays():
    # By hand, a .30/20 and b .20/30 behind an opening of 50, c .25/60, d .25/90: a and b in one go, then c and d:
    # 100 + .5 * 60 + .25 * 90 = 152.5; a alone and b last behind the cover once more, 70 + .7 * 60 + .45 * 90 + .2 *
    # 80, would be 168.5.
    repair = behind_one_cover(50.0)
    steps = plan(repair, everyone(repair), NEVER)
    assert [(step.part, step.opening, step.along) for step in steps] == [
        (0, 50.0, False), (1, 0.0, True), (2, 0.0, False), (3, 0.0, False),
    ]  # fmt: skip
    assert costs_to_the_end(repair, steps)[0] == pytest.approx(152.5)
    # Whoever fitted a and is not rid of it goes on with b for 30, then c and d.
    assert costs_to_the_end(repair, steps)[1] == pytest.approx(30 + (0.5 * 60 + 0.25 * 90) / 0.7)
    # A cover that is off at once is no reason to buy what may not be needed.
    assert not any(step.along for step in plan(behind_one_cover(1.0), everyone(repair), NEVER))


def test_a_check_that_errs_is_counted_as_it_errs():
    # By hand: .5 at 200, its check of 10 misses one of five and cries wolf in one of ten: 10 + .5 * .8 * 200 + .5 * .1
    # * 200 = 100, and .6 of the cars go on to the specialist at 300.
    repair = with_work(
        one_fault([0.5, 0.5], [200, 1e5], specialist=300), check=np.array([10.0, np.inf]),
        misses=np.array([0.2, 0.0]), false_alarms=np.array([0.1, 0.0]),
    )  # fmt: skip
    steps = plan(repair, everyone(repair), NEVER)
    assert [(step.part, step.check) for step in steps] == [(0, 10.0)]
    assert steps[0].chance == pytest.approx(0.5 * 0.8)
    assert costs_to_the_end(repair, steps)[0] == pytest.approx(10 + 80 + 10 + 0.6 * 300)


def test_a_part_that_the_check_called_good_may_be_fitted_after_all():
    # By hand: .9 at 100 and .1 at 250, a check of the first that costs 2 and misses three of four.  Fitting straight
    # costs 100 + .1 * 300; after the check .675 of .775 still have it.
    repair = with_work(
        one_fault([0.9, 0.1], [100, 1e5], specialist=300), check=np.array([2.0, np.inf]),
        misses=np.array([0.75, 0.0]), false_alarms=np.zeros(2),
    )  # fmt: skip
    checked = [Step(part=0, chance=0.0, cost=100.0, check=2.0), Step(part=0, chance=0.0, cost=100.0)]
    assert costs_to_the_end(repair, checked)[0] == pytest.approx(2 + 0.225 * 100 + 0.775 * 100 + 0.1 * 300)
    assert [step.check for step in plan(repair, everyone(repair), NEVER)] == [None]


def test_a_check_comes_before_a_much_likelier_part_only_where_it_saves_more_than_pennies():
    # By hand: .2 at 40 with a check of 4, .7 at 50, against 300.  The check first costs 4 + .2 * 40 + .8 * 50 + .1 *
    # 300 = 82, the likelier part first 50 + .3 * (4 + 2/3 * 40) + .1 * 300 = 89.2: it saves 7.2, a fortieth of 300.
    repair = with_work(one_fault([0.2, 0.7, 0.1], [40, 50, 1e5], specialist=300), check=np.array([4.0, np.inf, np.inf]))
    for gain, first, cost in ((0.02, 0, 82.0), (0.025, 1, 89.2)):
        steps = plan(repair, everyone(repair), NEVER, least_gain=gain)
        assert steps[0].part == first
        assert costs_to_the_end(repair, steps)[0] == pytest.approx(cost)
    # One that is nearly as likely is checked first all the same.
    level = replace(repair, chance=np.array([0.0, 0.4, 0.5, 0.1]))
    assert plan(level, everyone(level), NEVER, least_gain=0.05)[0].part == 0


# Where nothing likely is to be had.


def test_no_faint_part_stands_first_but_behind_a_recheck():
    # By hand: six tied parts of .16 at 20 against 300.  Handing over costs 300, all in turn 20 * (6 + .84 + ...).
    repair = replace(one_fault([0.16] * 6, [20] * 6, specialist=300, no_fault=0.04), recheck=15.0)
    free = plan(repair, everyone(repair), NEVER)
    assert [step.part for step in free] == [0, 1, 2, 3, 4, 5]
    held = plan(repair, everyone(repair), NEVER, least_chance=0.25)
    assert [step.part for step in held] == [RECHECK, 0, 1, 2, 3, 4, 5]
    # A check may stand first, and so may a part that is likely enough.
    looked = with_work(repair, check=np.full(6, 1.0))
    assert plan(looked, everyone(repair), NEVER, least_chance=0.25)[0].check == 1.0
    assert plan(repair, everyone(repair), NEVER, least_chance=0.15)[0].part == 0
    # A recheck that costs more than it saves does not stand there for form's sake.
    dear = replace(repair, recheck=290.0)
    assert plan(dear, everyone(repair), NEVER, least_chance=0.25) == []


def test_after_a_recheck_the_parts_are_those_of_the_cars_that_are_left():
    # By hand: an erase alone settles .4; of the others the part is it in .5, three tied ones in a sixth each.
    repair = one_fault([0.3, 0.1, 0.1, 0.1], [60, 40, 40, 40], specialist=300, no_fault=0.4)
    steps = plan(replace(repair, recheck=15.0), everyone(repair), recheck_from=0.25)
    assert [step.part for step in steps] == [RECHECK, 0, 1, 2, 3]
    assert [step.chance for step in steps] == pytest.approx([0.4, 0.5, 1 / 3, 1 / 2, 1.0])
