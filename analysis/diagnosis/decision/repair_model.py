"""Everything about one car that the order of work depends on.

Which parts may be at fault together, which codes they set, what stays away once some
of them were renewed, and what the work costs.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from analysis.diagnosis.model.noisy_or import Bools, Floats

Indices = NDArray[np.intp]
MOST = 3
BITS = 2 ** np.arange(MOST)
LEFT = (np.arange(2**MOST)[:, None] // BITS % 2).astype(float)
"""(8, 3) every way in which the members of a set can still be at fault or be cured."""
RECHECK = -1
"""Stands for the step that fits nothing: record, erase, drive, scan again."""
NOWHERE = -1
"""The opening of a part that needs none."""


@dataclass(frozen=True)
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
        return Work(self.check[parts], self.opening[parts], self.opening_cost, self.again[parts])


def plain_work(parts: int) -> Work:
    """Return the work of parts that nothing more is known of: no check, no opening, never the same part again.

    Args:
        parts: How many.
    """
    return Work(np.full(parts, np.inf), np.full(parts, NOWHERE), np.empty(0), np.ones(parts))


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
        work: What the price book says of checks and openings; None where it says nothing.
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
    persist: float | Floats
    bad: Floats
    recheck: float = 0.0
    work: Work | None = None
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
        away = np.exp(np.einsum("rj,sjm->srm", LEFT, each)) * (1 - self.leak * self.persist)
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


@dataclass(frozen=True)
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
