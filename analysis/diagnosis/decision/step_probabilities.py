"""How likely is a step of the work to be called for, to find its part at fault, and to do it?

A step fits one part.  It is called for while a code that it should clear is still
there.  Whichever step comes first, the codes are erased with it; from then on a code
is there only where a part still at fault, or a leak that lasts, sets it.
"""

from collections.abc import Sequence

import numpy as np

from analysis.diagnosis.decision.repair_model import BITS, LEFT, RECHECK, World
from analysis.diagnosis.model.noisy_or import Floats


def _fitted(before: Sequence[int]) -> list[int]:
    return [step for step in before if step != RECHECK]


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
    return np.asarray(1 - (world.left(_fitted(before)) * world.goes[part]).sum(axis=1))


def found_faulty(world: World, part: int, before: Sequence[int]) -> Floats:
    """Return (s,): the chance that a step is called for and its part is at fault then.

    Args:
        world: The car.
        part: Index of the part.
        before: The steps taken before it.

    Returns:
        One chance per true set: how often a check of the part says "faulty".
    """
    faulty = (np.arange(len(LEFT)) & ((world.members == part) @ BITS)[:, None]) > 0
    there = 1 - world.goes[part] if before else 1.0
    return np.asarray((world.left(_fitted(before)) * faulty * there).sum(axis=1))


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
    erased = 0.0 if before else float(world.chance @ (world.left([]) * world.goes[part]).sum(axis=1))
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
    tried = _fitted(before)
    own = float(world.chance @ (world.left(tried) * world.better[part]).sum(axis=1))
    return own * world.cures(part, tried) / total
