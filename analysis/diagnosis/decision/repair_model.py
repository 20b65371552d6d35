"""Everything about one car that the order of work depends on, and what each step of the work is likely to do.

Which parts may be at fault together, which codes they set, what stays away once some
of them were renewed, and what the work costs.  A step fits one part, straight away or
only where a check found it faulty; several behind one cover may be fitted in one go.  A
step is called for while a code that it should clear is still there.  Whichever step
comes first, the codes are erased with it; from then on a code is there only where a part
still at fault, or a leak that lasts, sets it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
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
        misses: (k,) chance that the check calls a part good that is at fault.
        false_alarms: (k,) chance that it calls a part faulty that is good.
        opening: (k,) which opening each part lies behind, ``NOWHERE`` for none.
        opening_cost: Cost of each opening: what must come off and go back on, once for all parts of one step.
    """

    check: Floats
    misses: Floats
    false_alarms: Floats
    opening: Indices
    opening_cost: Floats

    @cached_property
    def openings(self) -> Floats:
        """Return (k,): the cost of what each part lies behind, 0 where that is nothing."""
        return np.append(self.opening_cost, 0.0)[self.opening]

    def only(self, parts: Sequence[int]) -> "Work":
        """Return the work of some of the parts, in the order given."""
        return Work(
            check=self.check[parts],
            misses=self.misses[parts],
            false_alarms=self.false_alarms[parts],
            opening=self.opening[parts],
            opening_cost=self.opening_cost,
        )


def plain_work(parts: int) -> Work:
    """Return the work of parts that nothing more is known of: no check, no opening; a check would tell for certain.

    Args:
        parts: How many.
    """
    none = np.zeros(parts)
    return Work(
        check=none + np.inf, misses=none, false_alarms=none, opening=np.full(parts, NOWHERE), opening_cost=np.empty(0)
    )


@dataclass(frozen=True, kw_only=True)
class Step:
    """One line of the plan.

    Attributes:
        part: Index of the part, or ``RECHECK``.
        chance: Chance that it clears what it should, given that it is called for.
        cost: Cost of fitting, or of the drive of a recheck.
        check: Cost of proving the part faulty first, after which only one found faulty is bought; None: fitted
            straight.
        opening: Cost of what must come off first; 0 where nothing must, or the step that it goes along with had it off.
        along: Fitted in one go with the step before it, with no scan between.
    """

    part: int
    chance: float
    cost: float
    check: float | None = None
    opening: float = 0.0
    along: bool = False


@dataclass(frozen=True, kw_only=True)
class Done:
    """What was done to a car so far.

    Attributes:
        cured: (columns,) chance that each one, if it was at fault, is no longer.
        erased: Whether the codes were erased since they were read: any step does.
    """

    cured: Floats
    erased: bool


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
        at = np.zeros((len(self.sets), MOST), dtype=np.intp) - 1
        row, part = np.nonzero(self.sets)
        first = np.searchsorted(row, np.arange(len(self.sets)))
        place = np.arange(len(row)) - first[row]
        at[row[place < MOST], place[place < MOST]] = part[place < MOST]
        return at

    @cached_property
    def stays_away(self) -> Floats:
        """Return (s, 8, m): the chance that each open code stays away, per true set and per members still at fault."""
        link = np.log1p(-np.minimum(self.link, 1 - 1e-12))
        each = np.where((self.members >= 0)[:, :, None], link[self.members], 0.0)
        never = np.exp(each.sum(axis=1)) * (1 - self.leak)
        away = np.exp(np.matmul(LEFT, each)) * (1 - self.leak * self.leak_recurrence)
        return np.asarray(np.clip((away - never[:, None]) / np.maximum(1 - never, 1e-12)[:, None], 0.0, 1.0))

    @cached_property
    def _log_away(self) -> Floats:
        return np.log(np.maximum(self.stays_away, 1e-300))

    def all_go(self, codes: Bools) -> Floats:
        """Return (rows, s, 8): the chance that all of some codes stay away, for each (rows, m) of them."""
        told = np.exp(self._log_away.reshape(-1, self._log_away.shape[2]) @ codes.T.astype(float))
        return np.asarray(told.T.reshape(len(codes), *self._log_away.shape[:2]))

    @cached_property
    def goes(self) -> Floats:
        """Return (k + 1, s, 8): the chance that all of what a step should clear stays away; last the recheck's."""
        return self.all_go(np.vstack([self.clears, self.scope]))

    @cached_property
    def still(self) -> Bools:
        """Return (k, s, 8): whether the part is a member of the set that is still at fault."""
        parts = np.arange(len(self.cost))[:, None, None]
        return np.asarray(((self.members == parts) @ BITS)[:, :, None] & np.arange(len(LEFT)) > 0)

    def cures(self, part: int, checked: bool = False) -> float:
        """Return the chance that a step cures a part at fault: the check finds it, and the new one works.

        A new one that does not work is a part at fault like any other: one more may cure it.

        Args:
            part: Index of the part.
            checked: Fitted only where a check finds it faulty.
        """
        found = 1 - self.jobs.misses[part] if checked else 1.0
        return float(found * (1 - self.bad[part]))

    @cached_property
    def untouched(self) -> Done:
        """Return the car as it stands: with what was renewed, codes not erased, and without what an erase will end."""
        cured = np.zeros(self.link.shape[0] + 1)
        cured[list(self.ended)] = 1 - self.bad[list(self.ended)]
        for part in self.renewed:
            cured[part] = self.cures(part)
        return Done(cured=cured, erased=False)

    def after(self, steps: Sequence[Step | int]) -> Done:
        """Return what was done to the car once some steps were taken: ``Step``, or a part fitted straight away.

        Args:
            steps: In any order; each with the same part cures on its own what the others did not.
        """
        cured = self.untouched.cured.copy()
        for step in steps:
            part, checked = (step.part, step.check is not None) if isinstance(step, Step) else (step, False)
            if part != RECHECK and part not in self.renewed:
                cured[part] = also(cured[part], self.cures(part, checked))
        return Done(cured=cured, erased=bool(steps))

    def left(self, done: Done) -> Floats:
        """Return (s, 8): the chance that exactly those members are still at fault once so much was done."""
        key = done.cured.tobytes()
        if key not in self._lefts:
            self._lefts[key] = self._left(done.cured)
        return self._lefts[key]

    @cached_property
    def _lefts(self) -> dict[bytes, Floats]:
        """Return what ``left`` returned before: the steps of a plan ask for the same again and again."""
        return {}

    def _left(self, cured: Floats) -> Floats:
        gone, told = cured[self.members], np.ones((len(self.members), len(LEFT)))
        for j in range(MOST):
            before = told[:, : 2**j]
            told[:, 2**j : 2 ** (j + 1)] = before * (1 - gone[:, j, None])
            before *= gone[:, j, None]
        return told


def also(one: float, other: float) -> float:
    """Return the chance that at least one of two things happens, each on its own."""
    return float(1 - (1 - one) * (1 - other))


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


def under_one_name(repair: RepairModel, twins: Mapping[int, int]) -> RepairModel:
    """Return the car with some parts counted as another: a part without its place is the one whose place is known.

    Args:
        repair: The car.
        twins: For each part that is given up, the part that takes over its chance and its codes.
    """
    if not twins:
        return repair
    sets, link, clears = repair.sets.copy(), repair.link.copy(), repair.clears.copy()
    for part, other in twins.items():
        sets[:, other] |= sets[:, part]
        sets[:, part] = False
        link[other] = np.maximum(link[other], link[part])
        clears[other] |= clears[part]
    renewed = tuple(sorted({twins.get(part, part) for part in repair.renewed}))
    return replace(repair, sets=sets, link=link, clears=clears, renewed=renewed)


def reached(repair: RepairModel, parts: Sequence[int], done: Done) -> Floats:
    """Return (s,): the chance that a step is called for, because some code it should clear is still there.

    Args:
        repair: The car.
        parts: The parts that are fitted in one go, most often one; or ``RECHECK`` for any code in scope.
        done: What was done before it.

    Returns:
        One chance per true set; the first step is always called for.
    """
    if not done.erased:
        return np.ones(len(repair.chance))
    several = len(parts) > 1
    goes = repair.all_go(np.array([repair.clears[list(parts)].any(axis=0)]))[0] if several else repair.goes[parts[0]]
    return np.asarray(1 - (repair.left(done) * goes).sum(axis=1))


def found_faulty(repair: RepairModel, part: int, done: Done) -> Floats:
    """Return (s,): the chance that a step is called for and its part is at fault then.

    Args:
        repair: The car.
        part: Index of the part.
        done: What was done before it.

    Returns:
        One chance per true set: how often a check of the part that never errs says "faulty".
    """
    there = 1 - repair.goes[part] if done.erased else 1.0
    return np.asarray((repair.left(done) * repair.still[part] * there).sum(axis=1))


def chance_of(repair: RepairModel, part: int, done: Done | None = None, checked: bool = False) -> float:
    """Return the chance that a step clears what it should, given that it is called for.

    Every way counts: the part was it and the new one works, or, at the first erase, nothing real was.  What
    erasing alone would have cleared is gone before a later step, so it is not called for.

    Args:
        repair: The car.
        part: Index of the part, or ``RECHECK``.
        done: What was done before it; None for a car that nothing was done to.
        checked: Fitted only where a check finds it faulty.

    Returns:
        A fraction.
    """
    done = repair.untouched if done is None else done
    total = float(repair.chance @ reached(repair, [part], done))
    if total <= 1e-12:
        return 0.0
    erased = 0.0 if done.erased else float(repair.chance @ (repair.left(done) * repair.goes[part]).sum(axis=1))
    return erased / total + (0.0 if part == RECHECK else merit_of(repair, part, done, checked))


def merit_of(repair: RepairModel, part: int, done: Done, checked: bool = False) -> float:
    """Return how much of a step's chance is the part's own, beyond what erasing alone would clear.

    Whichever part stands first, the codes are erased with it: this is what the order must go by.

    Args:
        repair: The car.
        part: Index of the part.
        done: What was done before it.
        checked: Fitted only where a check finds it faulty.

    Returns:
        A fraction of the cars for which the step is called for.
    """
    total = float(repair.chance @ reached(repair, [part], done))
    if total <= 1e-12 or part in repair.renewed:
        return 0.0
    cured = done.cured.copy()
    cured[part] = also(cured[part], repair.cures(part, checked))
    better = repair.left(Done(cured=cured, erased=True)) - repair.left(done)
    return max(float(repair.chance @ (better * repair.goes[part]).sum(axis=1)), 0.0) / total
