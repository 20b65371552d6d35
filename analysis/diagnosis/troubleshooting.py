"""In which order to try the parts, and when to hand the car over.

Trying the part with the most chance per euro first is cheapest on average.  Handing
over costs a flat price, so a part is worth trying only while its chance times that
price is more than its own cost.  After a part was tried in vain the chances of the
others are taken anew.  Sometimes the cheapest step of all is to record, erase, drive
and scan again.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from analysis.diagnosis.noisy_or import Bools, Floats

RECHECK = -1
"""Stands for the step that fits nothing: record, erase, drive, scan again."""


@dataclass(frozen=True)
class World:
    """Everything about one car that the order depends on.

    Attributes:
        sets: (s, k) sets of faulty parts.
        chance: (s,) their chances, summing to 1.
        link: (k, m) chance that a faulty part sets the open code.
        leak: (m,) chance that something else does.
        clears: (k, m) the codes each part is expected to clear.
        cost: (k,) cost of trying each part.
        specialist: Flat cost of handing over.
        persist: Chance that a leak comes back after an erase.
        bad: Chance that a new part does not work.
    """

    sets: Bools
    chance: Floats
    link: Floats
    leak: Floats
    clears: Bools
    cost: Floats
    specialist: float
    persist: float
    bad: float

    def stays_away(self, tried: Sequence[int]) -> Floats:
        """Return (s, m): the chance that each open code stays away once these parts are good, per true set."""
        member = self.sets.astype(float)
        link = np.minimum(self.link, 1 - 1e-12)
        left = link.copy()
        left[list(tried)] = 0.0
        never = np.exp(member @ np.log1p(-link)) * (1 - self.leak)
        away = np.exp(member @ np.log1p(-left)) * (1 - self.leak * self.persist)
        return np.asarray(np.clip((away - never) / np.maximum(1 - never, 1e-12), 0.0, 1.0))

    @cached_property
    def settles(self) -> Floats:
        """Return (s,): the chance that merely erasing clears everything."""
        return np.asarray(self.stays_away([]).prod(axis=1))

    @cached_property
    def cures(self) -> Floats:
        """Return (s, k): the chance that trying the part clears its codes, in the sets that hold it."""
        parts = range(self.sets.shape[1])
        done = [np.where(self.clears[i], self.stays_away([i]), 1.0).prod(axis=1) for i in parts]
        good = np.column_stack(done) if done else np.zeros(self.sets.shape)
        return np.asarray((1 - self.bad) * good * self.sets)


@dataclass(frozen=True)
class Step:
    """One line of the plan: the part's index or ``RECHECK``, its chance and cost."""

    part: int
    chance: float
    cost: float


def after_failure(world: World, left: Floats, part: int) -> Floats:
    """Return the weights of the sets once a step was tried in vain.

    Args:
        world: The car.
        left: (s,) weights before the step.
        part: Index of the part, or ``RECHECK``.

    Returns:
        (s,) weights, not normalised.
    """
    if part == RECHECK:
        return left * (1 - world.settles)
    return left * (1 - world.cures[:, part])


def chance_now(world: World, left: Floats) -> Floats:
    """Return (k,): the chance of each part to clear its codes, given the weights that are left."""
    total = left.sum()
    if total <= 0:
        return np.zeros(world.sets.shape[1])
    return np.asarray(left @ world.cures / total)


def plan(world: World, eligible: Bools, recheck_from: float) -> list[Step]:
    """Choose the steps before handing over.

    Args:
        world: The car.
        eligible: (k,) parts that may stand first.
        recheck_from: Recheck first where erasing alone settles it with at least this chance.

    Returns:
        The steps in order, possibly none; handing over follows the last.

    Source:
        J. Kalagnanam and M. Henrion, "A comparison of decision analysis and expert rules for sequential
        diagnosis" (1990); D. Heckerman, J. Breese and K. Rommelse, "Decision-theoretic troubleshooting" (1995);
        W. E. Smith, "Various optimizers for single-stage production" (1956): order by chance over cost.
    """
    left, steps, open_parts = world.chance, [], np.ones(world.sets.shape[1], dtype=bool)
    settled = float(left @ world.settles)
    if settled >= recheck_from:
        steps.append(Step(RECHECK, settled, 0.0))
        left = after_failure(world, left, RECHECK)
    while open_parts.any():
        chance = chance_now(world, left)
        allowed = open_parts & (eligible | any(step.part != RECHECK for step in steps))
        ratio = np.where(allowed, chance / np.maximum(world.cost, 1e-9), -1.0)
        best = int(np.argmax(np.round(ratio, 15)))
        if ratio[best] < 0 or chance[best] * world.specialist <= world.cost[best]:
            break
        steps.append(Step(best, float(chance[best]), float(world.cost[best])))
        left = after_failure(world, left, best)
        open_parts[best] = False
    return steps


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
    tried: list[int] = []
    reached: list[Floats] = []
    costs: list[float] = []
    for step in steps:
        reached.append(_still_there(world, step.part, tried) if reached else np.ones(len(world.chance)))
        costs.append(step.cost)
        tried += [step.part] if step.part != RECHECK else []
    rest = _still_there(world, RECHECK, tried) if steps else np.ones(len(world.chance))
    reached, costs = [*reached, rest], [*costs, world.specialist]
    return [_from_here(world.chance, reached[k:], costs[k:]) for k in range(len(reached))]


def _still_there(world: World, part: int, tried: list[int]) -> Floats:
    """(s,): the chance that a code which the part should clear (any code for ``RECHECK``) is there after the trials."""
    wanted = np.ones(len(world.leak), dtype=bool) if part == RECHECK else world.clears[part]
    gone = np.where(wanted, world.stays_away(tried), 1.0).prod(axis=1)
    fitted = world.sets[:, tried].any(axis=1)
    return np.asarray(1 - gone * np.where(fitted, 1 - world.bad, 1.0))


def _from_here(chance: Floats, reached: list[Floats], costs: list[float]) -> float:
    here = chance * reached[0]
    if here.sum() <= 0:
        return costs[0]
    together = [float(chance @ np.minimum(later, reached[0])) for later in reached]
    return sum(cost * share for cost, share in zip(costs, together, strict=True)) / float(here.sum())
