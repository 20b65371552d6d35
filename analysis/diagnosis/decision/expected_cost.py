"""What does following a list cost on average?

A step costs something only where it is called for.  A part that is checked first
costs the check each time, and the fitting only where it was found faulty: a check is
taken to tell for certain.  What lies behind one cover pays for the cover once, with
the first part behind it.  Whoever reaches the end with a code left hands over.
"""

from collections.abc import Sequence

import numpy as np

from analysis.diagnosis.decision.repair_model import RECHECK, RepairModel, Step, found_faulty, reached
from analysis.diagnosis.model.noisy_or import Floats

Charges = list[tuple[Floats, float]]
"""What one step costs: chances per true set that something is spent, each with how much."""


def value_of_test(chance: float, right: float, wrong: float, gain: float, loss: float) -> float:
    """Return what knowing a test's answer before acting is worth on average, its own price not counted.

    Acting brings a gain where the matter is true and a loss where it is not; not acting brings neither.  A test
    that would not change what is done is worth nothing.

    Args:
        chance: Chance that the matter is true.
        right: Chance that the test says so where it is true.
        wrong: Chance that the test says so where it is not.
        gain: What acting brings where it is true, in money; below 0 where even then it does not pay.
        loss: What acting costs where it is not true, in money.

    Returns:
        Money, 0 or more.

    Source:
        R. A. Howard, "Information value theory", IEEE Transactions on Systems Science and Cybernetics 2 (1966).
    """
    answers = [
        chance * said_if_true * gain - (1 - chance) * said_if_not * loss
        for said_if_true, said_if_not in ((right, wrong), (1 - right, 1 - wrong))
    ]
    return max(sum(max(answer, 0.0) for answer in answers) - max(sum(answers), 0.0), 0.0)


def check_that_pays(repair: RepairModel, part: int, before: Sequence[int]) -> float | None:
    """Return the cost of checking a part where that is worth it before buying, None where it is not.

    Left alone, a part at fault costs at most handing over: that is what fitting it can save.

    Args:
        repair: The car.
        part: Index of the part.
        before: The steps taken before it.
    """
    check, fit = float(repair.jobs.check[part]), float(repair.cost[part])
    called = float(repair.chance @ reached(repair, part, before))
    if not np.isfinite(check) or called <= 1e-12:
        return None
    chance = min(float(repair.chance @ found_faulty(repair, part, before)) / called, 1.0)
    # A test that tells for certain: it is right where the part is at fault, and never wrong where it is not.
    value = value_of_test(chance, right=1.0, wrong=0.0, gain=repair.specialist - fit, loss=fit)
    return check if value > check + 1e-9 else None


def charges(repair: RepairModel, step: Step, before: Sequence[int]) -> Charges:
    """Return what a step costs.

    Args:
        repair: The car.
        step: The step.
        before: The steps taken before it.

    Returns:
        First how often the step is called for, with what is spent at once; for a step that checks first also how
        often the part is found faulty, with the cost of fitting it.
    """
    called = reached(repair, step.part, before)
    if step.check is None:
        return [(called, step.cost + step.opening)]
    return [(called, step.check + step.opening), (found_faulty(repair, step.part, before), step.cost)]


def mean_charge(repair: RepairModel, step: Step, before: Sequence[int]) -> float:
    """Return the mean cost of a step over all cars, those that it is not called for included."""
    return sum(cents * float(repair.chance @ often) for often, cents in charges(repair, step, before))


def handing_over(repair: RepairModel, before: Sequence[int]) -> float:
    """Return the mean cost of handing over after some steps: only where a code in scope is left."""
    return repair.specialist * float(repair.chance @ reached(repair, RECHECK, before))


def costs_to_the_end(repair: RepairModel, steps: Sequence[Step]) -> list[float]:
    """Return the expected cost from each step to the end of the list, handing over last.

    A later step is taken only where some code that it should clear is still there; who reaches the end with
    any code left hands over.

    Args:
        repair: The car.
        steps: The steps in order.

    Returns:
        One cost per step, given that it is reached, and last the specialist's.
    """
    order = [step.part for step in steps]
    spent = [charges(repair, step, order[:k]) for k, step in enumerate(steps)]
    spent.append([(reached(repair, RECHECK, order), repair.specialist)])
    return [_from_here(repair.chance, spent[k:]) for k in range(len(spent))]


def _from_here(chance: Floats, spent: list[Charges]) -> float:
    called = spent[0][0][0]
    here = float(chance @ called)
    if here <= 0:
        return sum(cents for _, cents in spent[0])
    ways = [way for step in spent for way in step]
    return sum(cents * float(chance @ np.minimum(often, called)) for often, cents in ways) / here


def cheapest_beginning(repair: RepairModel, steps: list[Step]) -> tuple[float, list[Step]]:
    """Of the first n steps with handing over behind them, for every n, find the cheapest; a recheck always stays.

    Args:
        repair: The car.
        steps: The steps in order.

    Returns:
        ``(expected cost, steps kept)``.
    """
    spent, best, least, before = 0.0, 0, np.inf, list[int]()
    for n in range(len(steps) + 1):
        cost = spent + handing_over(repair, before)
        if cost < least - 1e-9 or (n == 1 and steps[0].part == RECHECK):
            best, least = n, cost
        if n < len(steps):
            spent += mean_charge(repair, steps[n], before)
            before.append(steps[n].part)
    return float(least), steps[:best]
