"""Which sets of parts can explain the codes of a car, and how likely is each?

Each faulty part sets each of its codes with a chance of its own, and each code may
also be set by something that no known part explains (its leak).  For up to three
parts at once every set is weighed, the empty set included: "no real fault".  After
a repair the same model says whether a code would have come back, so jobs that
worked and jobs that did not both teach.  Where a car came again with the same fault,
all its jobs are one case: what set a code then set it once, not once a job.

Arrays carry cases (faults, cars or draws) in the first axis, then jobs, then parts, then codes.
"""

from dataclasses import dataclass
from functools import cache, cached_property
from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]
TINY = 1e-12


@dataclass(frozen=True, kw_only=True)
class Cases:
    """What n cars show over j jobs in time order, none or more, about k candidate parts and m present codes each.

    Attributes:
        fault: (n, k) chance that the part is faulty before looking; 0 fills unused places.
        log_lik_absent: (n, k) logarithm of the chance that the faulty part set none of the absent codes.
        link: (n, k, m) chance that the faulty part sets the code.
        leak: (n, m) chance that the code is set by something else.
        shown: (n, m) True where there is a code; False fills unused places.
        fitted: (n, j, k) the part was renewed in that job.
        lik_cleared: (n, j, m) likelihood of what was seen after that job if the code would stay away from then on.
        lik_recurred: (n, j, m) likelihood of it if the code would come back.
        leak_recurrence: Chance that a leak comes back after an erase, of all codes or of each.
        bad: (n, k) chance that a new one of the part does not cure it.
        standing: (n, k) the column is no part but a standing cause: no work removes it, and it is no fault.
        sizes: (n, 4) logarithm of the weight of sets of no, one, two and three parts; zeros where faults come
            independently of each other.
    """

    fault: Floats
    log_lik_absent: Floats
    link: Floats
    leak: Floats
    shown: Bools
    fitted: Bools
    lik_cleared: Floats
    lik_recurred: Floats
    leak_recurrence: float | Floats
    bad: Floats
    sizes: Floats
    standing: Bools | None = None

    @cached_property
    def ends(self) -> Floats:
        """Return (n, j + 1, m): likelihood of all that was seen if the code stayed away from each job on, or never."""
        jobs = self.lik_cleared.shape[1]
        told = [
            np.concatenate([self.lik_recurred[:, :job], self.lik_cleared[:, job:]], axis=1).prod(axis=1)
            for job in range(jobs)
        ]
        return np.stack([*told, self.lik_recurred.prod(axis=1)], axis=1)


@dataclass(frozen=True, kw_only=True)
class Weights:
    """The answer: what each set of parts is worth, for each way in which the new parts of the jobs cure or do not.

    Attributes:
        sets: (s, k) the parts of each set; the first is empty.
        ways: (w, j) True where the new parts of that job cure; the first way has them all cure.
        chance: (n, w, s) posterior chance.
        never: (n, s, m) chance that the set and the leak set the code not at all.
        away: (n, w, j, s, m) chance that no cause that remains after that job sets the code.
        like: (n, w, s, m) likelihood of what was seen of each code.
        size: (n, s) how many faulty parts each set holds, standing causes left out.
        evidence: (n,) logarithm of the likelihood of what was seen, all sets together.
    """

    sets: Bools
    ways: Bools
    chance: Floats
    never: Floats
    away: Floats
    like: Floats
    size: Ints
    evidence: Floats

    def faulty(self) -> Floats:
        """Return (n, k): the chance that each part is faulty."""
        return np.asarray(self.chance.sum(axis=1) @ self.sets.astype(float))

    def sizes(self) -> Floats:
        """Return (n, 4): the chance that no, one, two or three parts are faulty."""
        here = (self.size[:, :, None] == np.arange(4)).astype(float)
        return np.asarray(np.einsum("ns,nsj->nj", self.chance.sum(axis=1), here))


@cache
def fault_sets(parts: int, most: int = 3) -> Bools:
    """Return every set of at most ``most`` of ``parts`` parts, (s, parts), the empty one first."""
    rows = [c for size in range(min(most, parts) + 1) for c in combinations(range(parts), size)]
    sets = np.zeros((len(rows), parts), dtype=bool)
    for row, chosen in enumerate(rows):
        sets[row, list(chosen)] = True
    sets.flags.writeable = False
    return sets


def weigh_sets(cases: Cases, most: int = 3) -> Weights:
    """Weigh every set of up to ``most`` parts by what the scans before and after show.

    A code was present; it stays away from the first job on after which no remaining part, and no leak that
    persists, sets it.  So with A the chance that nothing sets it and B the chance that nothing that remains after
    the only job sets it, it is present and would come back with chance 1 - B, present and would stay away with
    chance B - A.  New parts fail one by one; where one of several fitted at once does, all of them are taken to have
    failed, which is exact for one faulty part renewed.

    Args:
        cases: The cars.
        most: Largest number of parts faulty at once.

    Returns:
        The weights, exact within the model and the limit on the number of parts.

    Source:
        J. Pearl, Probabilistic Reasoning in Intelligent Systems (1988): the noisy-OR with leak.
    """
    sets = fault_sets(cases.fault.shape[1], most)
    member = sets.astype(float)
    hold = np.log1p(-np.clip(cases.link, 0.0, 1 - TINY))
    never = np.exp(member @ hold) * (1 - cases.leak)[:, None, :]
    ways = np.array(list(product((True, False), repeat=cases.fitted.shape[1])), dtype=bool)
    away = _away(cases, member, hold, ways)
    like = np.maximum(_seen(cases, never[:, None], away), TINY)
    like = np.where(cases.shown[:, None, None], like, 1.0)
    fault = np.clip(cases.fault, 1e-300, 1 - TINY)
    odds = np.log(fault) - np.log1p(-fault) + cases.log_lik_absent
    score = (odds @ member.T)[:, None] + np.log(like).sum(axis=3)
    size = _sizes(cases, sets)
    score += np.take_along_axis(cases.sizes, size, axis=1)[:, None]
    score = score + np.stack([_cures(cases, member, way) for way in ways], axis=1)
    top = score.max(axis=(1, 2), keepdims=True)
    weight = np.exp(score - top)
    return Weights(
        sets=sets,
        ways=ways,
        chance=weight / weight.sum(axis=(1, 2), keepdims=True),
        never=never,
        away=away,
        like=like,
        size=size,
        evidence=top[:, 0, 0] + np.log(weight.sum(axis=(1, 2))),
    )


def _sizes(cases: Cases, sets: Bools) -> Ints:
    """Return (n, s): how many faulty parts each set holds."""
    if cases.standing is None:
        return np.broadcast_to(sets.sum(axis=1), (len(cases.fault), len(sets)))
    return np.asarray((~cases.standing).astype(np.int64) @ sets.T.astype(np.int64))


def _seen(cases: Cases, never: Floats, away: Floats) -> Floats:
    """Return (n, w, s, m): the joint chance that the code was set and of what was seen of it after each job.

    Sum over the jobs from which on it stays away, and over never: the chance that its last cause goes there.
    """
    steps = [never, *np.moveaxis(away, 2, 0), np.ones_like(never)]
    ends = np.moveaxis(cases.ends, 1, 0)[:, :, None, None]
    like = np.zeros((*away.shape[:2], *away.shape[3:]))
    for before, upto, end in zip(steps[:-1], steps[1:], ends, strict=True):
        like += np.maximum(upto - before, 0.0) * end
    return like


def _removed(cases: Cases, way: Bools) -> list[Bools]:
    """Return, before each job and after the last, (n, k) which parts new ones that cure have taken out of the car."""
    taken: list[Bools] = [np.zeros(cases.fault.shape, dtype=bool)]
    for job, cures in enumerate(way):
        taken.append(taken[-1] | cases.fitted[:, job] if cures else taken[-1])
    return taken


def _away(cases: Cases, member: Floats, hold: Floats, ways: Bools) -> Floats:
    """Return (n, w, j, s, m): the chance that no cause left after each job sets the code."""
    jobs = ways.shape[1]
    found = np.empty((len(hold), len(ways), jobs, len(member), hold.shape[2]))
    lasts = (1 - cases.leak * cases.leak_recurrence)[:, None, :]
    told: dict[tuple[bool, ...], tuple[int, int]] = {}
    for number, way in enumerate(ways):
        removed = _removed(cases, way)
        for job in range(jobs):
            # What is left after a job depends on the jobs that cured until then alone.
            cured = (*way[: job + 1].tolist(), *[False] * (jobs - job - 1))
            if cured in told:
                found[:, number, job] = found[:, *told[cured]]
            else:
                np.exp(member @ (hold * ~removed[job + 1][:, :, None]), out=found[:, number, job])
                found[:, number, job] *= lasts
                told[cured] = number, job
    return found


def _cures(cases: Cases, member: Floats, way: Bools) -> Floats:
    """Return (n, s): log chance that the new parts cure in the jobs of this way, and in the others do not."""
    holds, total = np.log1p(-np.clip(cases.bad, 0.0, 1 - TINY)), np.zeros((len(cases.fault), len(member)))
    for job, (cures, taken) in enumerate(zip(way, _removed(cases, way), strict=False)):
        cure = np.exp(np.where(cases.fitted[:, job] & ~taken, holds, 0.0) @ member.T)
        total += np.log(np.maximum(cure if cures else 1 - cure, TINY))
    return total


@dataclass(frozen=True, kw_only=True)
class ExpectedCounts:
    """Expected counts of one round of learning.

    Attributes:
        faulty: (n, k) expected number of faults of each part.
        set_by: (n, k, m) expected number of times the part set the code.
        leaked: (n, m) expected number of leaks.
        stayed: (n, m) expected number of leaks that come back after an erase.
        renewed: (n, k) expected number of times the part was at fault and renewed.
        in_vain: (n, k) expected number of those times that did not cure it.
    """

    faulty: Floats
    set_by: Floats
    leaked: Floats
    stayed: Floats
    renewed: Floats
    in_vain: Floats


def expected_counts(cases: Cases, weights: Weights) -> ExpectedCounts:
    """Return who set which code, in expectation, given both scans.

    Args:
        cases: The visits.
        weights: What ``weigh_sets`` made of them.

    Returns:
        The exact expectations of the hidden causes (the E step of the EM algorithm).

    Source:
        A. P. Dempster, N. M. Laird and D. B. Rubin, "Maximum likelihood from incomplete data via the EM
        algorithm", Journal of the Royal Statistical Society B 39 (1977).
    """
    member, lasts = weights.sets.astype(float), cases.leak * cases.leak_recurrence
    set_by, brief, lasting = np.zeros_like(cases.link), np.zeros_like(cases.leak), np.zeros_like(cases.leak)
    renewed, in_vain = np.zeros_like(cases.fault), np.zeros_like(cases.fault)
    for number, way in enumerate(weights.ways):
        chance, away = weights.chance[:, number], weights.away[:, number]
        share = chance[:, :, None] / weights.like[:, number]
        faulty, taken = chance @ member, _removed(cases, way)
        still = [share * told for told in _told_if_set(cases, away)]
        for job, told in enumerate(still):
            mine = ~taken[job] & taken[job + 1] if job < len(way) else ~taken[job]
            set_by += np.where(mine[:, :, None], member.T @ told, 0.0) if mine.any() else 0.0
        # A passing leak goes with the first job, and where there is one there is no lasting one.
        first, never_gone = still[0].sum(axis=1), still[-1].sum(axis=1)
        brief += never_gone + (first - never_gone) / (1 - lasts)
        lasting += never_gone
        for job, cures in enumerate(way):
            fitted = faulty * (cases.fitted[:, job] & ~taken[job])
            renewed += fitted
            in_vain += 0.0 if cures else fitted
    shown = cases.shown.astype(float)
    brief, lasting = brief * cases.leak * (1 - cases.leak_recurrence) * shown, lasting * lasts * shown
    return ExpectedCounts(
        faulty=weights.faulty(),
        set_by=set_by * cases.link * shown[:, None],
        leaked=brief + lasting,
        stayed=lasting,
        renewed=renewed,
        in_vain=in_vain,
    )


def _told_if_set(cases: Cases, away: Floats) -> list[Floats]:
    """Return (n, s, m) the likelihood of what was seen of a code set by a cause that goes at each job, or never.

    The code stays away from the job on at which the last of its causes goes.
    """
    ends = np.moveaxis(cases.ends, 1, 0)[:, :, None]
    told = [np.broadcast_to(ends[-1], away[:, 0].shape)]
    for job in reversed(range(away.shape[1])):
        told.insert(0, np.maximum(told[0] + away[:, job] * (ends[job] - ends[job + 1]), 0.0))
    return told
