"""Which sets of parts can explain the codes of a car, and how likely is each?

Each faulty part sets each of its codes with a chance of its own, and each code may
also be set by something that no known part explains (its leak).  For up to three
parts at once every set is weighed, the empty set included: "no real fault".  After
a repair the same model says whether a code would have come back, so jobs that
worked and jobs that did not both teach.

Arrays carry cases (visits, cars or draws) in the first axis, then parts, then codes.
"""

from dataclasses import dataclass
from functools import cache
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
TINY = 1e-12


@dataclass(frozen=True)
class Cases:
    """What n visits or cars show, about k candidate parts and m present codes each.

    Attributes:
        fault: (n, k) chance that the part is faulty before looking; 0 fills unused places.
        quiet: (n, k) logarithm of the chance that the faulty part set none of the absent codes.
        link: (n, k, m) chance that the faulty part sets the code.
        leak: (n, m) chance that the code is set by something else.
        shown: (n, m) True where there is a code; False fills unused places.
        fitted: (n, k) the part was renewed before the later scan.
        gone: (n, m) likelihood of the later scan if the code would stay away.
        back: (n, m) likelihood of the later scan if the code would come back.
        persist: Chance that a leak comes back after an erase, of all codes or of each.
        bad: (n, k) chance that a new one of the part does not cure it.
        sizes: (n, 4) logarithm of the weight of sets of no, one, two and three parts; zeros where faults come
            independently of each other.
    """

    fault: Floats
    quiet: Floats
    link: Floats
    leak: Floats
    shown: Bools
    fitted: Bools
    gone: Floats
    back: Floats
    persist: float | Floats
    bad: Floats
    sizes: Floats


@dataclass(frozen=True)
class Weights:
    """The answer: what each set of parts is worth, where all new parts cure (0) and where some does not (1).

    Attributes:
        sets: (s, k) the parts of each set; the first is empty.
        chance: (n, 2, s) posterior chance.
        never: (n, s, m) chance that the set and the leak set the code not at all.
        away: (n, 2, s, m) chance that no remaining cause sets the code.
        like: (n, 2, s, m) likelihood of what was seen of each code.
    """

    sets: Bools
    chance: Floats
    never: Floats
    away: Floats
    like: Floats

    def faulty(self) -> Floats:
        """Return (n, k): the chance that each part is faulty."""
        return np.asarray(self.chance.sum(axis=1) @ self.sets.astype(float))

    def sizes(self) -> Floats:
        """Return (n, 4): the chance that no, one, two or three parts are faulty."""
        size = self.sets.sum(axis=1)
        return np.asarray(self.chance.sum(axis=1) @ (size[:, None] == np.arange(4)).astype(float))


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

    A code was present; it would come back exactly if a remaining part, or a leak that persists, set it.  So
    with A the chance that nothing sets it and B the chance that nothing remaining sets it, it is present and
    would come back with chance 1 - B, present and would stay away with chance B - A.  New parts fail one by one;
    where one of several does, all of them are taken to have failed, which is exact for one faulty part renewed.

    Args:
        cases: The visits or cars.
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
    away = np.stack([_away(cases, member, hold, works) for works in (True, False)], axis=1)
    like = np.maximum(away - never[:, None], 0.0) * cases.gone[:, None, None] + (1 - away) * cases.back[:, None, None]
    like = np.where(cases.shown[:, None, None], np.maximum(like, TINY), 1.0)
    fault = np.clip(cases.fault, 1e-300, 1 - TINY)
    odds = np.log(fault) - np.log1p(-fault) + cases.quiet
    score = (odds @ member.T)[:, None] + np.log(like).sum(axis=3)
    score += cases.sizes[:, sets.sum(axis=1)][:, None]
    cure = np.exp(np.where(cases.fitted, np.log1p(-np.clip(cases.bad, 0.0, 1 - TINY)), 0.0) @ member.T)
    score = score + np.log(np.maximum(np.stack([cure, 1 - cure], axis=1), TINY))
    top = score.max(axis=(1, 2), keepdims=True)
    weight = np.exp(score - top)
    return Weights(sets, weight / weight.sum(axis=(1, 2), keepdims=True), never, away, like)


def _away(cases: Cases, member: Floats, hold: Floats, works: bool) -> Floats:
    left = hold * ~cases.fitted[:, :, None] if works else hold
    return np.asarray(np.exp(member @ left) * (1 - cases.leak * cases.persist)[:, None, :])


@dataclass(frozen=True)
class Tally:
    """Expected counts of one round of learning.

    Attributes:
        faulty: (n, k) expected number of faults of each part.
        set_by: (n, k, m) expected number of times the part set the code.
        leaked: (n, m) expected number of leaks.
        stayed: (n, m) expected number of leaks that persist.
        renewed: (n, k) expected number of times the part was at fault and renewed.
        in_vain: (n, k) expected number of those times that did not cure it.
    """

    faulty: Floats
    set_by: Floats
    leaked: Floats
    stayed: Floats
    renewed: Floats
    in_vain: Floats


def expected_counts(cases: Cases, weights: Weights) -> Tally:
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
    member = weights.sets.astype(float)
    gone, back = cases.gone[:, None, None], cases.back[:, None, None]
    remains = back / weights.like
    renewed = (back * (1 - weights.away) + gone * weights.away) / weights.like
    set_by = np.zeros_like(cases.link)
    for works in (0, 1):
        share = weights.chance[:, works, :, None]
        stays = member.T @ (share * remains[:, works])
        new = member.T @ (share * renewed[:, works])
        set_by += np.where(cases.fitted[:, :, None] & (works == 0), new, stays)
    shown = cases.shown.astype(float)
    no_part = weights.away / (1 - cases.leak * cases.persist)[:, None, None]
    passing = (gone * no_part + back * (1 - no_part)) / weights.like
    lasting = np.einsum("nts,ntsm->nm", weights.chance, remains) * cases.leak * cases.persist
    brief = np.einsum("nts,ntsm->nm", weights.chance, passing) * cases.leak * (1 - cases.persist)
    renewed = weights.faulty() * cases.fitted
    in_vain = (weights.chance[:, 1] @ member) * cases.fitted
    by_parts = set_by * cases.link * shown[:, None]
    return Tally(weights.faulty(), by_parts, (lasting + brief) * shown, lasting * shown, renewed, in_vain)
