"""One car on the lift: which parts can explain its codes, and how likely is each?

Only codes that are not masked count; a module that was not read says nothing; a
part that this car already got, and after which the codes came back, is not what is
wrong unless the new part is bad.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import betaincinv

from analysis.diagnosis.decision.policy import World
from analysis.diagnosis.model.noisy_or import Bools, Cases, Floats, Weights, weigh_sets
from analysis.diagnosis.model.parameters import SPEAKS, Knowledge
from analysis.diagnosis.model.priors import BAD_NEW_PART

MOST_PARTS = 12
HISTORY_LEAK = 5.0
"""A code that is stored but not active is so many times as likely to have no cause today."""
PAST, PAST_RETURNS = 0.5, 0.1
"""Where codes are stored and none is active, the cause is gone with this chance, and an erase seldom fails."""
EXPLAINS = 0.5


@dataclass(frozen=True)
class Car:
    """What is open on one car, as indices into the candidates and codes.

    Attributes:
        vehicle: Stock number.
        make: Row of the knowledge's per-make chances.
        codes: Open, unmasked codes.
        absent: (all codes,) read and not there.
        stale: (open codes,) stored but not active now.
        failed: Parts that this car got in vain.
        lasting: Columns of open codes that came back after an earlier erase: whatever sets them, it did not pass.
        renewed: Parts that were renewed after its codes were read, and nobody has looked since.
    """

    vehicle: str
    make: int
    codes: list[int]
    absent: Bools
    stale: Bools
    failed: set[int]
    lasting: frozenset[int] = frozenset()
    renewed: frozenset[int] = frozenset()


@dataclass(frozen=True)
class View:
    """One car weighed.

    Attributes:
        parts: Candidate indices, the columns of the weights but the last, which stands for all other parts.
        case: What the car shows.
        weights: What each set of the parts is worth.
        clears: (k, m) the codes that the part is expected to clear.
        worth: (k,) how many independent visits the part's strongest link is worth.
        explained: (m,) some candidate explains the code.
        doubt: The chance that the likeliest answer, a suspect or no fault at all, is wrong, before anything is kept
            back.
    """

    parts: list[int]
    case: Cases
    weights: Weights
    clears: Bools
    worth: Floats
    explained: Bools
    doubt: float


def look_at(car: Car, knowledge: Knowledge, allowed: Bools, reserve: float = 0.0) -> View:
    """Weigh every set of up to three parts for one car.

    Args:
        car: What is open.
        knowledge: What past jobs taught.
        allowed: (parts,) candidates that may be weighed at all.
        reserve: Share of the doubt that is kept back of every chance, for a cause that is none of the suspects.

    Returns:
        The view; with no suspect at all its parts are empty and nothing is explained.
    """
    quiet = knowledge.quiet @ car.absent
    parts = _suspects(car, knowledge, quiet, allowed)
    case = _case(car, knowledge, quiet, parts)
    weights = weigh_sets(case)
    weights = _all_past(weights) if car.stale.all() else weights
    doubt = 1 - max(float(weights.sizes()[0, 0]), float(weights.faulty()[0, : len(parts)].max(initial=0.0)))
    weights = _kept_back(weights, reserve * doubt)
    mine = case.link[0, : len(parts)]
    member = weights.sets[:, : len(parts)].astype(float)
    chance = weights.chance.sum(axis=1)[0]
    joint = (member * chance[:, None]).T @ (1 / np.maximum(1 - weights.never[0], 1e-12)) * mine
    share = joint / np.maximum(member.T @ chance, 1e-300)[:, None]
    clears = (share >= EXPLAINS) & (mine >= SPEAKS)
    clears |= (share == share.max(axis=1, keepdims=True)) & ~clears.any(axis=1, keepdims=True)
    explained = np.asarray((mine >= SPEAKS).any(axis=0))
    return View(parts, case, weights, clears, _worth(car, knowledge, parts), explained, doubt)


def kept_back_for(weights: Weights) -> Floats:
    """Return (s,) what a share is kept back for: half for the last column alone, half for no part, as it passed."""
    size = weights.sets.sum(axis=1)
    return np.where(size == 0, 0.5, np.where(weights.sets[:, -1] & (size == 1), 0.5, 0.0))


def _kept_back(weights: Weights, share: float) -> Weights:
    """Keep a share of the chance for what nothing known points at."""
    chance = (1 - share) * weights.chance
    chance[:, 0] += share * kept_back_for(weights)
    return replace(weights, chance=chance)


def _all_past(weights: Weights) -> Weights:
    """Half of the cars that show stored codes only have nothing wrong today, whatever set them."""
    chance = (1 - PAST) * weights.chance
    chance[:, 0, 0] += PAST
    return replace(weights, chance=chance)


def _worth(car: Car, knowledge: Knowledge, parts: list[int]) -> Floats:
    here = np.ix_(parts, car.codes)
    pull = knowledge.link[here] / knowledge.leak[car.codes]
    return np.asarray(np.take_along_axis(knowledge.worth[here], pull.argmax(axis=1)[:, None], axis=1)[:, 0])


def _suspects(car: Car, knowledge: Knowledge, quiet: Floats, allowed: Bools) -> list[int]:
    link = knowledge.link[:, car.codes]
    gain = np.log1p(link / knowledge.leak[car.codes]).sum(axis=1)
    score = gain + np.log(knowledge.fault[car.make]) + quiet
    suspect = allowed & (link >= SPEAKS).any(axis=1)
    order = np.argsort(-np.where(suspect, score, -np.inf), kind="stable")[:MOST_PARTS]
    return sorted(int(i) for i in order if suspect[i])


def _case(car: Car, knowledge: Knowledge, quiet: Floats, parts: list[int]) -> Cases:
    """The suspects and, as a last column, all other parts together: what is wrong may be none of the suspects."""
    odds = knowledge.fault[car.make] / (1 - knowledge.fault[car.make])
    odds[list(car.failed)] *= BAD_NEW_PART
    others = np.setdiff1d(np.arange(len(odds)), parts)
    rest = odds[others].sum()
    share = odds[others] / max(rest, 1e-12)
    joined = np.append(odds[parts], rest)
    link = np.vstack([knowledge.link[parts][:, car.codes], share @ knowledge.link[others][:, car.codes]])
    leak = np.where(car.stale, np.minimum(HISTORY_LEAK * knowledge.leak[car.codes], 0.5), knowledge.leak[car.codes])
    persist = np.full(len(car.codes), PAST_RETURNS if car.stale.all() else knowledge.persist)
    lasting = np.array([d in car.lasting for d in car.codes], dtype=bool) & ~car.stale
    # Of what sets a code without a faulty part only the lasting kind brings it back, and will again.
    leak, persist = np.where(lasting, leak * persist, leak), np.where(lasting, 1.0, persist)
    unseen = np.ones((1, 1, len(car.codes)))
    return Cases(
        fault=(joined / (1 + joined))[None],
        quiet=np.append(quiet[parts], np.log(max(share @ np.exp(quiet[others]), 1e-12)))[None],
        link=link[None],
        leak=leak[None],
        shown=np.ones((1, len(car.codes)), dtype=bool),
        fitted=np.zeros((1, 1, len(joined)), dtype=bool),
        gone=unseen,
        back=unseen,
        persist=persist,
        bad=np.append(knowledge.bad[parts], 0.0)[None],
        sizes=knowledge.sizes[[car.make]],
    )


def interval(chance: float, worth: float) -> tuple[float, float]:
    """Return the 90 % interval of a chance that is worth so many visits.

    Args:
        chance: Between 0 and 1.
        worth: Independent visits behind the link that speaks loudest.

    Returns:
        ``(low, high)`` of the Beta with mean ``chance`` and so many counts, widened to hold ``chance``.
    """
    if not 0 < chance < 1:
        return chance, chance
    low, high = betaincinv(chance * worth, (1 - chance) * worth, [0.05, 0.95])
    return min(float(low), chance), max(float(high), chance)


def world_of(view: View, cost: Floats, specialist: float, recheck: float = 0.0) -> World:
    """Return what the order of work depends on.

    Args:
        view: The car weighed.
        cost: (k,) cost of trying each part.
        specialist: Cost of handing over, in the same unit.
        recheck: Cost of the drive of a recheck.

    Returns:
        The world of the planner.
    """
    case = view.case
    return World(
        view.weights.sets, view.weights.chance.sum(axis=1)[0], case.link[0], case.leak[0], view.clears,
        view.explained, cost, specialist, case.persist, case.bad[0], recheck,
    )  # fmt: skip
