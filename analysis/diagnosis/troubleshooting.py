"""In which order to try the parts, and when to hand the car over.

Trying the part with the most chance per euro first is cheapest on average.  Handing
over costs a flat price, so a part is worth trying only while its chance times that
price is more than its own cost.  After a part was tried in vain the chances of the
others are taken anew.  Sometimes the cheapest step of all is to record, erase, drive
and scan again.
"""

from dataclasses import dataclass

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
        cures: (s, k) chance that fitting the part clears what it should, if the set is the truth.
        settles: (s,) chance that merely erasing clears everything.
        cost: (k,) cost of trying each part.
        specialist: Flat cost of handing over.
        bad: Chance that a new part does not work.
    """

    sets: Bools
    chance: Floats
    cures: Floats
    settles: Floats
    cost: Floats
    specialist: float
    bad: float


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
    return left * np.where(world.sets[:, part], 1 - (1 - world.bad) * world.cures[:, part], 1.0)


def chance_now(world: World, left: Floats) -> Floats:
    """Return (k,): the chance of each part to clear its codes, given the weights that are left."""
    total = left.sum()
    if total <= 0:
        return np.zeros(world.sets.shape[1])
    return np.asarray((1 - world.bad) * (left @ (world.sets * world.cures)) / total)


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


def costs_to_the_end(steps: list[Step], specialist: float) -> list[float]:
    """Return the expected cost from each step to the end of the list, handing over last.

    Args:
        steps: The steps in order; each chance is conditional on the earlier ones having failed.
        specialist: Flat cost of handing over.

    Returns:
        One cost per step and, last, the specialist's.
    """
    costs = [specialist]
    for step in reversed(steps):
        costs.append(step.cost + (1 - step.chance) * costs[-1])
    return costs[::-1]
