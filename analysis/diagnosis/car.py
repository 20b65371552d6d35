"""One car on the lift: which parts can explain its codes, and how likely is each?

Only codes that are not masked count; a module that was not read says nothing; a
part that this car already got, and after which the codes came back, is not what is
wrong unless the new part is bad.
"""

from dataclasses import dataclass

import numpy as np

from analysis.diagnosis.knowledge import SPEAKS, Knowledge, quiet_links
from analysis.diagnosis.noisy_or import Bools, Cases, Floats, Weights, weigh_sets
from analysis.diagnosis.priors import BAD_NEW_PART

MOST_PARTS = 12
HISTORY_LEAK = 5.0
"""A code that is stored but not active is so many times as likely to have no cause today."""
EXPLAINS = 0.5
DRAWS = 200
TRUST = 0.25
"""Intervals take only this share of the pseudo-counts: learned counts are not independent visits."""


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
    """

    vehicle: str
    make: int
    codes: list[int]
    absent: Bools
    stale: Bools
    failed: set[int]


@dataclass(frozen=True)
class View:
    """One car weighed.

    Attributes:
        parts: Candidate indices, the columns of the weights.
        weights: What each set of them is worth.
        settles: (s,) chance that erasing alone clears every code for good.
        share: (k, m) chance that the part set the open code, if it is faulty.
        clears: (k, m) the codes that the part is expected to clear.
        cures: (s, k) chance that renewing the part clears them, for each true set.
        low: (k,) lower end of the 90 % interval of the chance that the part is faulty.
        high: (k,) upper end.
        explained: (m,) some candidate explains the code.
    """

    parts: list[int]
    weights: Weights
    settles: Floats
    share: Floats
    clears: Bools
    cures: Floats
    low: Floats
    high: Floats
    explained: Bools


def look_at(car: Car, knowledge: Knowledge, allowed: Bools) -> View:
    """Weigh every set of up to three parts for one car.

    Args:
        car: What is open.
        knowledge: What past jobs taught.
        allowed: (parts,) candidates that may be weighed at all.

    Returns:
        The view; with no suspect at all its parts are empty and nothing is explained.
    """
    link = knowledge.link[:, car.codes]
    parts = _suspects(car, knowledge, link, allowed)
    cases = _case(car, knowledge, parts)
    weights = weigh_sets(cases)
    member = weights.sets.astype(float)
    chance = weights.chance.sum(axis=1)[0]
    present = np.maximum(1 - weights.never[0], 1e-12)
    joint = (member * chance[:, None]).T @ (1 / present) * cases.link[0]
    share = joint / np.maximum(member.T @ chance, 1e-300)[:, None]
    clears = (share >= EXPLAINS) & (cases.link[0] >= SPEAKS)
    clears |= (share == share.max(axis=1, keepdims=True)) & ~clears.any(axis=1, keepdims=True)
    stays = np.clip((weights.away[0, 1] - weights.never[0]) / present, 0.0, 1.0)
    cures = _cures(cases, weights, clears, present)
    low, high = _interval(cases, car, knowledge, parts)
    return View(
        parts,
        weights,
        stays.prod(axis=1),
        share,
        clears,
        cures,
        low,
        high,
        np.asarray((link[parts] >= SPEAKS).any(axis=0)),
    )


def _suspects(car: Car, knowledge: Knowledge, link: Floats, allowed: Bools) -> list[int]:
    gain = np.log1p(link / knowledge.leak[car.codes]).sum(axis=1)
    score = gain + np.log(knowledge.fault[car.make]) + quiet_links(knowledge.link) @ car.absent
    suspect = allowed & (link >= SPEAKS).any(axis=1)
    order = np.argsort(-np.where(suspect, score, -np.inf), kind="stable")[:MOST_PARTS]
    return sorted(int(i) for i in order if suspect[i])


def _case(car: Car, knowledge: Knowledge, parts: list[int]) -> Cases:
    fault = knowledge.fault[car.make, parts]
    leak = np.where(car.stale, np.minimum(HISTORY_LEAK * knowledge.leak[car.codes], 0.5), knowledge.leak[car.codes])
    codes, known = len(car.codes), np.ones((1, len(car.codes)))
    return Cases(
        fault=np.where(_in_vain(car, parts), fault * BAD_NEW_PART, fault)[None],
        quiet=(quiet_links(knowledge.link[parts]) @ car.absent)[None],
        link=knowledge.link[np.ix_(parts, car.codes)][None],
        leak=leak[None],
        shown=np.ones((1, codes), dtype=bool),
        fitted=np.zeros((1, len(parts)), dtype=bool),
        gone=known,
        back=known,
        persist=knowledge.persist,
        bad=BAD_NEW_PART,
    )


def _in_vain(car: Car, parts: list[int]) -> Bools:
    return np.array([part in car.failed for part in parts], dtype=bool)


def _cures(cases: Cases, weights: Weights, clears: Bools, present: Floats) -> Floats:
    """The chance that no other cause is left for the codes a part clears, for each set with the part in it."""
    hold = np.log1p(-np.minimum(cases.link[0], 1 - 1e-12))
    leak = 1 - cases.leak[0] * cases.persist
    member = weights.sets.astype(float)
    cures = np.zeros(member.shape)
    for i in range(member.shape[1]):
        others = member.copy()
        others[:, i] = 0.0
        away = np.exp(others @ hold) * leak
        stays = np.clip((away - weights.never[0]) / present, 0.0, 1.0)
        cures[:, i] = np.where(clears[i], stays, 1.0).prod(axis=1) * member[:, i]
    return cures


def _interval(cases: Cases, car: Car, knowledge: Knowledge, parts: list[int]) -> tuple[Floats, Floats]:
    """Draw links and fault chances from their Betas at a quarter of the counts; the middle 90 % of the answers."""
    if not parts:
        return np.zeros(0), np.zeros(0)
    rng = np.random.default_rng(20_000)
    here = np.ix_(parts, car.codes)
    link = _drawn(rng, knowledge.link_yes[here], knowledge.link_no[here])
    fault = _drawn(rng, knowledge.fault_yes[car.make, parts], knowledge.fault_no[car.make, parts])
    same = {
        name: np.broadcast_to(value, (DRAWS, *value.shape[1:])) for name, value in vars(cases).items() if np.ndim(value)
    }
    same |= {"link": link, "fault": np.where(_in_vain(car, parts), fault * BAD_NEW_PART, fault)}
    faulty = weigh_sets(Cases(**same, persist=cases.persist, bad=cases.bad), most=2).faulty()
    low, high = np.quantile(faulty, [0.05, 0.95], axis=0)
    return low, high


def _drawn(rng: np.random.Generator, yes: Floats, no: Floats) -> Floats:
    return rng.beta(np.maximum(TRUST * yes, 1e-6), np.maximum(TRUST * no, 1e-6), size=(DRAWS, *yes.shape))
