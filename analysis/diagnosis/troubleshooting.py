"""In which order to try the parts, and when to hand the car over.

Trying the part with the most chance per euro first is cheapest on average.  Handing
over costs a flat price, so the list stops where following it further costs more than
handing over: of all beginnings of the list the cheapest is taken.  After a step the
chances of the others are taken anew, for the cars whose codes are still there.
Sometimes the cheapest step of all is to record, erase, drive and scan again.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from analysis.diagnosis.noisy_or import Bools, Floats

Indices = NDArray[np.intp]
MOST = 3
BITS = 2 ** np.arange(MOST)
LEFT = (np.arange(2**MOST)[:, None] // BITS % 2).astype(float)
"""(8, 3) every way in which the members of a set can still be at fault or be cured."""
RECHECK = -1
"""Stands for the step that fits nothing: record, erase, drive, scan again."""
LEAST = 0.01
"""A part with less chance than this is not worth a line."""


@dataclass(frozen=True)
class World:
    """Everything about one car that the order depends on.

    Attributes:
        sets: (s, columns) sets of at most three faulty parts; columns beyond the parts are faults nobody can name.
        chance: (s,) their chances, summing to 1.
        link: (columns, m) chance that a faulty part sets the open code.
        leak: (m,) chance that something else does.
        clears: (k, m) the codes each part is expected to clear.
        scope: (m,) the codes that some part explains; the others are nobody's to clear and left out of the costs.
        cost: (k,) cost of trying each part.
        specialist: Flat cost of handing over.
        persist: Chance that a leak comes back after an erase.
        bad: (columns,) chance that a new one of the part does not cure it, each on its own.
        recheck: Cost of erasing, driving and scanning again.
    """

    sets: Bools
    chance: Floats
    link: Floats
    leak: Floats
    clears: Bools
    scope: Bools
    cost: Floats
    specialist: float
    persist: float | Floats
    bad: Floats
    recheck: float = 0.0

    @cached_property
    def members(self) -> Indices:
        """Return (s, 3): the parts of each set, -1 for none."""
        rows = [np.flatnonzero(row)[:MOST] for row in self.sets]
        return np.array([[*row, *[-1] * (MOST - len(row))] for row in rows], dtype=np.intp)

    @cached_property
    def stays_away(self) -> Floats:
        """Return (s, 8, m): the chance that each open code stays away, per true set and per members still at fault."""
        link = np.log1p(-np.minimum(self.link, 1 - 1e-12))
        each = np.where((self.members >= 0)[:, :, None], link[self.members], 0.0)
        never = np.exp(each.sum(axis=1)) * (1 - self.leak)
        away = np.exp(np.einsum("rj,sjm->srm", LEFT, each)) * (1 - self.leak * self.persist)
        return np.asarray(np.clip((away - never[:, None]) / np.maximum(1 - never, 1e-12)[:, None], 0.0, 1.0))

    @cached_property
    def goes(self) -> Floats:
        """Return (k + 1, s, 8): the chance that all of what a step should clear stays away; last the recheck's."""
        wanted = np.vstack([self.clears, self.scope])
        return np.stack([np.where(row, self.stays_away, 1.0).prod(axis=2) for row in wanted])

    def left(self, tried: Sequence[int]) -> Floats:
        """Return (s, 8): the chance that exactly those members are still at fault once these parts were renewed."""
        cured = np.zeros(self.link.shape[0] + 1)
        cured[list(tried)] = 1 - self.bad[list(tried)]
        gone = cured[self.members][:, None, :]
        return np.asarray(np.where(LEFT > 0, 1 - gone, gone).prod(axis=2))

    def renew(self, part: int) -> Indices:
        """Return (s, 8): which members are still at fault once the part is good as well."""
        at = (self.members == part) @ BITS
        return np.asarray(np.arange(len(LEFT)) & ~at[:, None])


@dataclass(frozen=True)
class Step:
    """One line of the plan: the part's index or ``RECHECK``, its chance and cost."""

    part: int
    chance: float
    cost: float


def reached(world: World, part: int, before: Sequence[int]) -> Floats:
    """Return (s,): the chance that a step is called for, because some code it should clear is still there.

    Args:
        world: The car.
        part: Index of the part, or ``RECHECK`` for any code in scope.
        before: The steps taken before it; the first of them erased the codes.

    Returns:
        One chance per true set; the first step is always called for.
    """
    if not before:
        return np.ones(len(world.chance))
    left = world.left([step for step in before if step != RECHECK])
    return np.asarray(1 - (left * world.goes[part]).sum(axis=1))


def chance_of(world: World, part: int, before: Sequence[int]) -> float:
    """Return the chance that a step clears what it should, given that it is called for.

    Every way counts: the part was it and the new one works, or, at the first erase, nothing real was.  What
    erasing alone would have cleared is gone before a later step, so it is not called for.

    Args:
        world: The car.
        part: Index of the part, or ``RECHECK``.
        before: The steps taken before it.

    Returns:
        A fraction.
    """
    total = float(world.chance @ reached(world, part, before))
    if total <= 1e-12:
        return 0.0
    left = world.left([step for step in before if step != RECHECK])
    erased = 0.0 if before else float(world.chance @ (left * world.goes[part]).sum(axis=1))
    return erased / total + (0.0 if part == RECHECK else merit_of(world, part, before))


def merit_of(world: World, part: int, before: Sequence[int]) -> float:
    """Return how much of a step's chance is the part's own, beyond what erasing alone would clear.

    Whichever part stands first, the codes are erased with it: this is what the order must go by.

    Args:
        world: The car.
        part: Index of the part.
        before: The steps taken before it.

    Returns:
        A fraction of the cars for which the step is called for.
    """
    total = float(world.chance @ reached(world, part, before))
    if total <= 1e-12:
        return 0.0
    left, goes = world.left([step for step in before if step != RECHECK]), world.goes[part]
    better = np.maximum(np.take_along_axis(goes, world.renew(part), axis=1) - goes, 0.0)
    return float(world.chance @ (left * better).sum(axis=1)) * float(1 - world.bad[part]) / total


def plan(world: World, eligible: Bools, recheck_from: float, left_out: Collection[int] = ()) -> list[Step]:
    """Choose the steps before handing over.

    Args:
        world: The car.
        eligible: (k,) parts that may stand first.
        recheck_from: Recheck first only where erasing alone settles it with at least this chance, and it pays.
        left_out: Parts that another one on the list stands for.

    Returns:
        The steps in order, possibly none; handing over follows the last.

    Source:
        J. Kalagnanam and M. Henrion, "A comparison of decision analysis and expert rules for sequential
        diagnosis" (1990); D. Heckerman, J. Breese and K. Rommelse, "Decision-theoretic troubleshooting" (1995);
        W. E. Smith, "Various optimizers for single-stage production" (1956): order by chance over cost.
    """
    straight = _in_order(world, eligible, [], left_out)
    settled = chance_of(world, RECHECK, [])
    if settled < max(recheck_from, LEAST):
        return straight
    checked = _in_order(world, eligible, [Step(RECHECK, settled, world.recheck)], left_out)
    pays = costs_to_the_end(world, checked)[0] < costs_to_the_end(world, straight)[0] - 1e-9
    return checked if pays else straight


def _in_order(world: World, eligible: Bools, steps: list[Step], left_out: Collection[int]) -> list[Step]:
    """Add the parts by their own chance over cost, then keep the cheapest beginning."""
    before = [step.part for step in steps]
    waiting = set(range(len(world.cost))) - set(left_out)
    while waiting:
        first = all(step == RECHECK for step in before)
        best = _next(world, before, [i for i in sorted(waiting) if eligible[i] or not first])
        if best is None:
            break
        steps.append(best)
        before.append(best.part)
        waiting.remove(best.part)
    return _cheapest_beginning(world, steps)


def _next(world: World, before: list[int], parts: list[int]) -> Step | None:
    merit = {i: merit_of(world, i, before) for i in parts}
    worth = [(round(merit[i] / max(float(world.cost[i]), 1e-9), 15), -i) for i in parts if merit[i] >= LEAST]
    if not worth:
        return None
    best = -max(worth)[1]
    return Step(best, chance_of(world, best, before), float(world.cost[best]))


def _cheapest_beginning(world: World, steps: list[Step]) -> list[Step]:
    """Of the first n steps with handing over behind them, for every n, the cheapest; a recheck always stays."""
    spent, best, least, before = 0.0, 0, np.inf, list[int]()
    for n in range(len(steps) + 1):
        cost = spent + world.specialist * float(world.chance @ reached(world, RECHECK, before))
        if cost < least - 1e-9 or (n == 1 and steps[0].part == RECHECK):
            best, least = n, cost
        if n < len(steps):
            spent += steps[n].cost * float(world.chance @ reached(world, steps[n].part, before))
            before.append(steps[n].part)
    return steps[:best]


def costs_to_the_end(world: World, steps: list[Step]) -> list[float]:
    """Return the expected cost from each step to the end of the list, handing over last.

    A later step is taken only where some code that it should clear is still there; who reaches the end with
    any code left hands over.

    Args:
        world: The car.
        steps: The steps in order.

    Returns:
        One cost per step, given that it is reached, and last the specialist's.
    """
    order = [step.part for step in steps]
    called = [reached(world, part, order[:k]) for k, part in enumerate([*order, RECHECK])]
    costs = [*(step.cost for step in steps), world.specialist]
    return [_from_here(world.chance, called[k:], costs[k:]) for k in range(len(called))]


def _from_here(chance: Floats, called: list[Floats], costs: list[float]) -> float:
    here = float(chance @ called[0])
    if here <= 0:
        return costs[0]
    together = [float(chance @ np.minimum(later, called[0])) for later in called]
    return sum(cost * share for cost, share in zip(costs, together, strict=True)) / here
