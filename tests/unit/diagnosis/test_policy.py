"""The order of work against published schedules, derived values and brute force."""

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest

from analysis.diagnosis.decision.expected_cost import costs_to_the_end
from analysis.diagnosis.decision.policy import order_looks, plan
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
    # By hand: one part, faulty for certain, bad in one of ten: 50 + .1 * 300.
    repair = one_fault([1.0], [50], specialist=300)
    repair = RepairModel(**given(repair) | {"bad": np.full(1, 0.1)})
    steps = plan(repair, everyone(repair), NEVER)
    assert steps[0].chance == pytest.approx(0.9)
    assert costs_to_the_end(repair, steps)[0] == pytest.approx(80.0)


def test_erasing_counts_where_the_first_part_is_fitted():
    # By hand: the part is at fault with .6, its new one cures with .9; no real fault with .4, and the erase does it
    # unless the leak lasts (.3): .6 * .9 + .4 * .7 = .82.  After a recheck only the cars with a lasting code are
    # left: .54 of .6 + .12.
    repair = one_fault([0.6], [50], specialist=300, no_fault=0.4)
    repair = RepairModel(**(given(repair) | {"bad": np.full(1, 0.1), "leak_recurrence": 0.3}))
    assert chance_of(repair, 0, []) == pytest.approx(0.82, abs=0.002)  # a leak of .01 rides along
    assert chance_of(repair, 0, [RECHECK]) == pytest.approx(0.54 / 0.72, abs=0.004)


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
    assert float(repair.chance @ reached(repair, 2, tried)) == pytest.approx(called.sum() / seen.sum(), abs=0.005)
    assert chance_of(repair, 2, tried) == pytest.approx(done.sum() / called.sum(), abs=0.01)


def test_a_cheap_part_does_not_live_on_the_erase():
    # By hand: nothing real with .5 in both worlds of codes; the cap is at fault with .02, the resistor with .48.
    # Either first step erases, so .5 is not the cap's merit: .48 / 50 beats .02 / 10.
    repair = one_fault([0.02, 0.48], [10, 50], specialist=300, no_fault=0.5)
    assert merit_of(repair, 0, []) == pytest.approx(0.02, abs=1e-3)
    assert chance_of(repair, 0, []) == pytest.approx(0.52, abs=1e-2)
    assert plan(repair, everyone(repair), NEVER)[0].part == 1


def with_work(repair: RepairModel, **more) -> RepairModel:
    """The same car with checks, openings or second tries."""
    return replace(repair, work=replace(plain_work(len(repair.cost)), **more))


def behind_one_cover(opening: float) -> RepairModel:
    """Parts a and b behind one cover, c and d free."""
    repair = one_fault([0.3, 0.2, 0.25, 0.25], [20, 30, 60, 90], specialist=1e6)
    doors = np.array([0, 0, NOWHERE, NOWHERE])
    return with_work(repair, opening=doors, opening_cost=np.array([opening]))


def test_parts_behind_one_cover_share_the_work_of_taking_it_off():
    # Derived by hand: a .30/20, b .20/30 behind an opening of 50; c .25/60; d .25/90: a b c d at
    # 70 + .7 * 30 + .5 * 60 + .25 * 90 = 143.5.  Alone neither a (.3 / 70) nor b (.2 / 80) would come before c.
    repair = behind_one_cover(50.0)
    steps = plan(repair, everyone(repair), NEVER)
    assert [step.part for step in steps] == [0, 1, 2, 3]
    assert [step.opening for step in steps] == [50.0, 0.0, 0.0, 0.0]
    assert costs_to_the_end(repair, steps)[0] == pytest.approx(143.5)
    assert costs_to_the_end(repair, steps)[1] == pytest.approx((0.7 * 30 + 0.5 * 60 + 0.25 * 90) / 0.7)


def test_a_dear_cover_lets_the_free_parts_go_first():
    # By hand: at 500 the two behind it are worth .5 / 550 together, less than c (.25 / 60) and d (.25 / 90); at 50
    # (.5 / 100) they are worth more, and at 110 (.5 / 160 against .25 / 60 and .25 / 90) they stand between.
    for opening, order in ((50.0, [0, 1, 2, 3]), (110.0, [2, 0, 1, 3]), (500.0, [2, 3, 0, 1])):
        repair = behind_one_cover(opening)
        assert [step.part for step in order_looks(repair, everyone(repair), [])] == order


def cost_by_hand(repair: RepairModel, order: list[int]) -> float:
    """One fault for certain: what an order costs, openings once, each part checked first where that is cheaper."""
    left, spent, opened, chance = 1.0, 0.0, {NOWHERE}, repair.chance[1:]
    for part in order:
        door = repair.jobs.opening[part]
        spent += 0.0 if door in opened else left * repair.jobs.opening_cost[door]
        opened.add(door)
        straight, checked = left * repair.cost[part], left * repair.jobs.check[part] + chance[part] * repair.cost[part]
        spent += min(straight, checked)
        left -= chance[part]
    return spent + max(left, 0.0) * repair.specialist


@pytest.mark.parametrize("seed", range(10))
def test_no_order_with_covers_and_checks_is_cheaper(seed):
    rng = np.random.default_rng(seed)
    chance = rng.dirichlet(np.ones(5))
    repair = with_work(
        one_fault(list(chance), list(rng.uniform(5, 200, 5)), specialist=250.0),
        check=np.where(rng.random(5) < 0.6, rng.uniform(1, 40, 5), np.inf),
        opening=rng.integers(NOWHERE, 2, 5), opening_cost=rng.uniform(5, 60, 2),
    )  # fmt: skip
    steps = plan(repair, everyone(repair), NEVER)
    every = [list(order[:n]) for order in permutations(range(5)) for n in range(6)]
    least = min(cost_by_hand(repair, order) for order in every)
    cost = costs_to_the_end(repair, steps)[0]
    # The plain order is kept where it is dearer by less than three hundredths.
    assert least - 1e-9 <= cost <= 1.031 * least
    assert cost_by_hand(repair, [step.part for step in steps]) == pytest.approx(cost)


def test_eight_parts_behind_two_covers_against_every_order():
    # Every order of eight with what is spent so far; nothing is handed over, so all eight are tried.
    rng = np.random.default_rng(3)
    chance, cost = rng.dirichlet(np.ones(8)), rng.uniform(5, 60, 8)
    doors, price = np.array([0, 0, 0, 1, 1, NOWHERE, NOWHERE, NOWHERE]), np.array([40.0, 25.0])
    repair = with_work(one_fault(list(chance), list(cost), 1e6), opening=doors, opening_cost=price)
    steps = plan(repair, everyone(repair), NEVER)
    orders = np.array(list(permutations(range(8))))
    p, c, d = chance[orders], cost[orders], doors[orders]
    for door in (0, 1):
        first = (d == door).argmax(axis=1)
        c[np.arange(len(orders)), first] += price[door]
    left = 1 - np.cumsum(p, axis=1) + p
    assert costs_to_the_end(repair, steps)[0] == pytest.approx((left * c).sum(axis=1).min())


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


def test_imperfect_looks_of_black():
    # Black, Information and Control 1965: look where chance times the chance to find is highest per cost, again and
    # again.  P .5 .3 .2, found with .6 .9 .8, cost 1 2 1: looks 1 3 2 1 1 3 ..., 3.5479 on average, recomputed from
    # the rule by hand below.
    found, cost = np.array([0.6, 0.9, 0.8]), np.array([1.0, 2.0, 1.0])
    repair = one_fault([0.5, 0.3, 0.2], list(cost), specialist=0.0)
    repair = replace(repair, bad=1 - found, work=replace(plain_work(3), again=1 - found))
    steps = order_looks(repair, everyone(repair), [], most=80)
    assert [step.part + 1 for step in steps[:6]] == [1, 3, 2, 1, 1, 3]
    assert costs_to_the_end(repair, steps)[0] == pytest.approx(3.5479, abs=5e-5)
    there, spent, looks = np.array([0.5, 0.3, 0.2]), 0.0, []
    for _ in range(80):
        looks.append(int(np.argmax(there * found / cost)))
        spent += cost[looks[-1]] * there.sum()
        there[looks[-1]] *= 1 - found[looks[-1]]
    assert looks[:20] == [step.part for step in steps[:20]]
    assert spent == pytest.approx(3.5479, abs=5e-5)


def test_the_same_part_again_only_where_another_new_one_can_cure_and_that_pays():
    # By hand: the part is at fault with .9 and its new one bad in one of five, one more in one of two.  After it .18
    # of .28 are left with the part at fault: a second one is worth .5 * .18 / .28 of 300 = 96 for 50, a third
    # .5 * .09 / .19 of it = 71, a fourth .5 * .045 / .145 = 47.
    repair = replace(one_fault([0.9, 0.1], [50, 1e5], specialist=300), bad=np.array([0.2, 0.0]))
    assert [step.part for step in plan(repair, everyone(repair), NEVER)] == [0]
    again = with_work(repair, again=np.array([0.5, 1.0]))
    steps = plan(again, everyone(repair), NEVER)
    assert [step.part for step in steps] == [0, 0, 0]
    assert [step.chance for step in steps] == pytest.approx([0.72, 0.5 * 0.18 / 0.28, 0.5 * 0.09 / 0.19])
    dear = replace(again, cost=np.array([100.0, 1e5]))
    assert [step.part for step in plan(dear, everyone(repair), NEVER)] == [0]


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


@pytest.mark.parametrize("seed", [*range(6), 24, 110, 127])
def test_the_first_steps_stand_in_the_best_order_where_their_costs_hang_together(seed):
    # Every order and every choice of four parts, on the cars that erasing alone leaves.
    repair = two_codes(np.random.default_rng(seed))
    start = [Step(part=RECHECK, chance=0.0, cost=0.0)]
    steps = plan(replace(repair, recheck=0.0), everyone(repair), 0.0)
    assert steps[0].part == RECHECK, "an erase for nothing always pays"
    least = min(
        costs_to_the_end(repair, [*start, *steps_in(repair, list(order[:n]))])[0]
        for order in permutations(range(4))
        for n in range(5)
        # A step that can hardly do anything by then is not worth a line.
        if all(merit_of(repair, order[k], [RECHECK, *order[:k]]) >= 0.01 for k in range(n))
    )
    assert least - 1e-9 <= costs_to_the_end(repair, steps)[0] <= 1.031 * least


def test_a_part_renewed_that_nobody_has_looked_at_is_not_bought_again_but_rechecked():
    # By hand: the part was at fault with .9 and is renewed, bad in one of ten: the codes stay away with .81.
    repair = replace(one_fault([0.9, 0.1], [50, 60], specialist=300), bad=np.array([0.1, 0.0]), recheck=15.0)
    assert [step.part for step in plan(repair, everyone(repair), 0.9)] == [0, 1]
    since = replace(repair, renewed=(0,))
    steps = plan(since, everyone(repair), 0.9)
    assert [step.part for step in steps] == [RECHECK, 1]
    assert steps[0].chance == pytest.approx(0.81)
    assert steps[1].chance == pytest.approx(0.1 / 0.19)
    assert costs_to_the_end(since, steps)[0] == pytest.approx(15 + 0.19 * 60 + 0.09 * 300)


def test_a_recheck_dearer_than_what_it_saves_is_left_out():
    repair = replace(one_fault([0.1, 0.9], [50, 20], specialist=300), recheck=60.0, renewed=(0,))
    assert plan(repair, everyone(repair), 0.9)[0].part == 1
