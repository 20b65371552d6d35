"""What does following a list cost on average?

A step costs something only where it is called for.  A part that is checked first
costs the check each time, and the fitting where the check says faulty: it may miss
one that is, and cry wolf.  What lies behind one cover pays for the cover once where
it is fitted in one go.  Whoever reaches the end with a code left hands over.
"""

from collections.abc import Iterator, Sequence

import numpy as np

from analysis.diagnosis.decision.repair_model import RECHECK, Done, RepairModel, Step, found_faulty, reached
from analysis.diagnosis.model.noisy_or import Floats

Charges = list[tuple[Floats, float]]
"""What one step costs: chances per true set that something is spent, each with how much."""


def in_one_go(steps: Sequence[Step]) -> Iterator[tuple[list[Step], Sequence[Step]]]:
    """Yield what is done between one scan and the next, each with the steps before it."""
    start = 0
    for end in range(1, len(steps) + 1):
        if end == len(steps) or not steps[end].along:
            yield list(steps[start:end]), steps[:start]
            start = end


def charges(repair: RepairModel, go: Sequence[Step], done: Done) -> Charges:
    """Return what one step costs, or several in one go.

    Args:
        repair: The car.
        go: What is done between two scans: one step, or several parts that are fitted straight away.
        done: What was done before.

    Returns:
        First how often it is called for, with what is spent at once; for a step that checks first also how often
        the check says faulty, with the cost of fitting it.
    """
    called = reached(repair, [step.part for step in go], done)
    opening = sum(step.opening for step in go)
    if len(go) > 1 or go[0].check is None:
        return [(called, sum(step.cost for step in go) + opening)]
    [step] = go
    faulty, work = found_faulty(repair, step.part, done), repair.jobs
    says_so = (1 - work.misses[step.part]) * faulty + work.false_alarms[step.part] * (called - faulty)
    return [(called, float(step.check or 0.0) + opening), (says_so, step.cost)]


def handing_over(repair: RepairModel, done: Done) -> float:
    """Return the mean cost of handing over after some steps: only where a code in scope is left."""
    return repair.specialist * float(repair.chance @ reached(repair, [RECHECK], done))


def costs_to_the_end(repair: RepairModel, steps: Sequence[Step]) -> list[float]:
    """Return the expected cost from each step to the end of the list, handing over last.

    A later step is taken only where some code that it should clear is still there; who reaches the end with
    any code left hands over.

    Args:
        repair: The car.
        steps: The steps in order.

    Returns:
        One cost per step, given that it is reached, and last the specialist's.  A step that goes along with the one
        before it counts as if that one had been taken and had not been enough.  After the first it is the specialist's
        at most: how often steps for other codes are called for as well is known no better than from above, and whoever
        stands there may hand over.
    """
    spent = [charges(repair, go, repair.after(before)) for go, before in in_one_go(steps)]
    spent.append([(reached(repair, [RECHECK], repair.after(steps)), repair.specialist)])
    costs: list[float] = []
    for number, (go, before) in enumerate(in_one_go(steps)):
        costs.append(_from_here(repair.chance, spent[number:]))
        for more in range(1, len(go)):
            alone = charges(repair, go[more:], repair.after([*before, *go[:more]]))
            costs.append(_from_here(repair.chance, [alone, *spent[number + 1 :]]))
    return [*costs[:1], *(min(cost, repair.specialist) for cost in costs[1:]), _from_here(repair.chance, spent[-1:])]


def _from_here(chance: Floats, spent: list[Charges]) -> float:
    called = spent[0][0][0]
    here = float(chance @ called)
    if here <= 0:
        return sum(cents for _, cents in spent[0])
    ways = [way for step in spent for way in step]
    return sum(cents * float(chance @ np.minimum(often, called)) for often, cents in ways) / here
