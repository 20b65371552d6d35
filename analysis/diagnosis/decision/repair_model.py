"""Everything about one car that the order of work depends on, and what each step of the work is likely to do.

Which parts may be at fault together, which codes they set, what stays away once some
of them were renewed, and what the work costs.  A step fits one part.  It is called for
while a code that it should clear is still there.  Whichever step comes first, the codes
are erased with it; from then on a code is there only where a part still at fault, or a
leak that lasts, sets it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from analysis.diagnosis.inference.posterior import Posterior
from analysis.diagnosis.model.noisy_or import Bools, Floats

Indices = NDArray[np.intp]
MOST = 3
BITS = 2 ** np.arange(MOST)
LEFT = (np.arange(2**MOST)[:, None] // BITS % 2).astype(float)
"""(8, 3) every way in which the members of a set can still be at fault or be cured."""
RECHECK = -1
"""Stands for the step that fits nothing: record, erase, drive, scan again."""
LEAVE_FROM = 0.5
"""A code that is set by no fault with so much chance is left alone."""
NOWHERE = -1
"""The opening of a part that needs none."""


@dataclass(frozen=True, kw_only=True)
class Work:
    """What the price book says of the work beside fitting.

    Attributes:
        check: (k,) cost of proving each part faulty before it is bought; infinite where that is not known.
        opening: (k,) which opening each part lies behind, ``NOWHERE`` for none.
        opening_cost: Cost of each opening: what must come off, and go back on, once for all parts behind it.
        again: (k,) chance that one more new part fails as the one before it did.
    """

    check: Floats
    opening: Indices
    opening_cost: Floats
    again: Floats

    @property
    def openings(self) -> Floats:
        """Return (k,): the cost of what each part lies behind, 0 where that is nothing."""
        return np.append(self.opening_cost, 0.0)[self.opening]

    def only(self, parts: Sequence[int]) -> "Work":
        """Return the work of some of the parts, in the order given."""
        return Work(
            check=self.check[parts],
            opening=self.opening[parts],
            opening_cost=self.opening_cost,
            again=self.again[parts],
        )


def plain_work(parts: int) -> Work:
    """Return the work of parts that nothing more is known of: no check, no opening, never the same part again.

    Args:
        parts: How many.
    """
    return Work(
        check=np.full(parts, np.inf), opening=np.full(parts, NOWHERE), opening_cost=np.empty(0), again=np.ones(parts)
    )


@dataclass(frozen=True, kw_only=True)
class RepairModel:
    """Everything about one car that the order depends on.

    Attributes:
        sets: (s, columns) sets of at most three faulty parts; columns beyond the parts are faults nobody can name.
        chance: (s,) their chances, summing to 1.
        link: (columns, m) chance that a faulty part sets the open code.
        leak: (m,) chance that something else does.
        clears: (k, m) the codes each part is expected to clear.
        scope: (m,) the codes that have to go; the others are most likely set by no fault and may stay.
        cost: (k,) cost of trying each part.
        specialist: Flat cost of handing over.
        leak_recurrence: Chance that a leak comes back after an erase.
        bad: (columns,) chance that a new one of the part does not cure it, each on its own.
        recheck: Cost of erasing, driving and scanning again.
        work: What the price book says of checks and openings; None where it says nothing.
        ended: Columns of causes that the first step's erase ends.
        renewed: Parts that were renewed after the codes were read, and nobody has looked since.
    """

    sets: Bools
    chance: Floats
    link: Floats
    leak: Floats
    clears: Bools
    scope: Bools
    cost: Floats
    specialist: float
    leak_recurrence: float | Floats
    bad: Floats
    recheck: float = 0.0
    work: Work | None = None
    ended: tuple[int, ...] = ()
    renewed: tuple[int, ...] = ()

    @cached_property
    def jobs(self) -> Work:
        """Return the work, that of parts without checks and openings where the price book says nothing."""
        return plain_work(len(self.cost)) if self.work is None else self.work

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
        away = np.exp(np.einsum("rj,sjm->srm", LEFT, each)) * (1 - self.leak * self.leak_recurrence)
        return np.asarray(np.clip((away - never[:, None]) / np.maximum(1 - never, 1e-12)[:, None], 0.0, 1.0))

    @cached_property
    def goes(self) -> Floats:
        """Return (k + 1, s, 8): the chance that all of what a step should clear stays away; last the recheck's."""
        wanted = np.vstack([self.clears, self.scope])
        return np.stack([np.where(row, self.stays_away, 1.0).prod(axis=2) for row in wanted])

    def cures(self, part: int, tried: Sequence[int]) -> float:
        """Return the chance that one more new one of a part at fault cures it, after those tried."""
        seen = part in tried or part in self.renewed
        return float(1 - (self.jobs.again[part] if seen else self.bad[part]))

    @cached_property
    def better(self) -> Floats:
        """Return (k, s, 8): how much more likely all of what a part should clear stays away once the part is good."""
        good = [np.take_along_axis(goes, self.renew(part), axis=1) for part, goes in enumerate(self.goes[:-1])]
        return np.asarray(np.maximum(np.stack(good) - self.goes[:-1], 0.0)) if good else self.goes[:-1]

    @cached_property
    def _seen(self) -> dict[tuple[int, ...], Floats]:
        return {}

    def left(self, tried: Sequence[int]) -> Floats:
        """Return (s, 8): the chance that exactly those members are still at fault once these parts were renewed."""
        key = tuple(sorted(tried))
        if key not in self._seen:
            self._seen[key] = self._left(key)
        return self._seen[key]

    def _left(self, tried: Sequence[int]) -> Floats:
        cured = np.zeros(self.link.shape[0] + 1)
        cured[list(self.ended)] = 1 - self.bad[list(self.ended)]
        done: list[int] = []
        for part in (*self.renewed, *tried):
            fits = 1 - (self.jobs.again[part] if part in done else self.bad[part])
            cured[part] += (1 - cured[part]) * fits
            done.append(part)
        gone = cured[self.members][:, None, :]
        return np.asarray(np.where(LEFT > 0, 1 - gone, gone).prod(axis=2))

    def renew(self, part: int) -> Indices:
        """Return (s, 8): which members are still at fault once the part is good as well."""
        at = (self.members == part) @ BITS
        return np.asarray(np.arange(len(LEFT)) & ~at[:, None])


@dataclass(frozen=True, kw_only=True)
class Step:
    """One line of the plan.

    Attributes:
        part: Index of the part, or ``RECHECK``.
        chance: Chance that it clears what it should, given that it is called for.
        cost: Cost of fitting, or of the drive of a recheck.
        check: Cost of proving the part faulty first, after which only a faulty one is bought; None: fitted straight.
        opening: Cost of what must come off first; 0 where nothing must, or an earlier step had it off.
    """

    part: int
    chance: float
    cost: float
    check: float | None = None
    opening: float = 0.0


def repair_model_of(posterior: Posterior, cost: Floats, specialist: float, recheck: float = 0.0) -> RepairModel:
    """Return what the order of work depends on.

    Args:
        posterior: The car's.
        cost: (k,) cost of trying each part.
        specialist: Cost of handing over, in the same unit.
        recheck: Cost of the drive of a recheck.
    """
    case = posterior.case
    return RepairModel(
        sets=posterior.weights.sets,
        chance=posterior.weights.chance.sum(axis=1)[0],
        link=case.link[0],
        leak=case.leak[0],
        clears=posterior.clears,
        scope=posterior.standing < LEAVE_FROM,
        cost=cost,
        specialist=specialist,
        leak_recurrence=case.leak_recurrence,
        bad=case.bad[0],
        recheck=recheck,
        ended=tuple(np.flatnonzero(posterior.ended).tolist()),
    )


def _fitted(before: Sequence[int]) -> list[int]:
    return [step for step in before if step != RECHECK]


def reached(repair: RepairModel, part: int, before: Sequence[int]) -> Floats:
    """Return (s,): the chance that a step is called for, because some code it should clear is still there.

    Args:
        repair: The car.
        part: Index of the part, or ``RECHECK`` for any code in scope.
        before: The steps taken before it; the first of them erased the codes.

    Returns:
        One chance per true set; the first step is always called for.
    """
    if not before:
        return np.ones(len(repair.chance))
    return np.asarray(1 - (repair.left(_fitted(before)) * repair.goes[part]).sum(axis=1))


def found_faulty(repair: RepairModel, part: int, before: Sequence[int]) -> Floats:
    """Return (s,): the chance that a step is called for and its part is at fault then.

    Args:
        repair: The car.
        part: Index of the part.
        before: The steps taken before it.

    Returns:
        One chance per true set: how often a check of the part says "faulty".
    """
    faulty = (np.arange(len(LEFT)) & ((repair.members == part) @ BITS)[:, None]) > 0
    there = 1 - repair.goes[part] if before else 1.0
    return np.asarray((repair.left(_fitted(before)) * faulty * there).sum(axis=1))


def chance_of(repair: RepairModel, part: int, before: Sequence[int]) -> float:
    """Return the chance that a step clears what it should, given that it is called for.

    Every way counts: the part was it and the new one works, or, at the first erase, nothing real was.  What
    erasing alone would have cleared is gone before a later step, so it is not called for.

    Args:
        repair: The car.
        part: Index of the part, or ``RECHECK``.
        before: The steps taken before it.

    Returns:
        A fraction.
    """
    total = float(repair.chance @ reached(repair, part, before))
    if total <= 1e-12:
        return 0.0
    erased = 0.0 if before else float(repair.chance @ (repair.left([]) * repair.goes[part]).sum(axis=1))
    return erased / total + (0.0 if part == RECHECK else merit_of(repair, part, before))


def merit_of(repair: RepairModel, part: int, before: Sequence[int]) -> float:
    """Return how much of a step's chance is the part's own, beyond what erasing alone would clear.

    Whichever part stands first, the codes are erased with it: this is what the order must go by.

    Args:
        repair: The car.
        part: Index of the part.
        before: The steps taken before it.

    Returns:
        A fraction of the cars for which the step is called for.
    """
    total = float(repair.chance @ reached(repair, part, before))
    if total <= 1e-12:
        return 0.0
    tried = _fitted(before)
    own = float(repair.chance @ (repair.left(tried) * repair.better[part]).sum(axis=1))
    return own * repair.cures(part, tried) / total
