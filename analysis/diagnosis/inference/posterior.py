"""One car on the lift: which parts can explain its codes, and how likely is each?

Only codes that are not masked count; a module that was not read says nothing; a
part that this car already got, and after which the codes came back, is not what is
wrong unless the new part is bad.
"""

from collections import Counter
from collections.abc import Mapping, Set
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from analysis.diagnosis.inference.calibration import PLAIN, Calibration
from analysis.diagnosis.model.noisy_or import Bools, Cases, Floats, Weights, weigh_sets
from analysis.diagnosis.model.parameters import MOST_LEAK, SPEAKS, NoisyOrParameters
from analysis.diagnosis.model.priors import BAD_NEW_PART, HISTORY_LEAK, NAMED, POINTED

Indices = NDArray[np.intp]
MOST_PARTS = 12
AWAKE_THERE, AWAKE_PASSED = 0.8, 0.05
"""How often a code is active or pending while what set it is still there, and after that has passed: a fault that comes
and goes is stored only on some days, and a passed one seldom leaves a code awake (common practice, no source).  At
dealers drawn by a process of their own 21 of 274 codes that an erase alone ended on a car nobody had worked on were
awake; of 116 cars whose awake codes nothing known explained, an erase alone would have ended those of none."""
PASSED, PASSED_AWAKE = 0.5, 0.1
"""Of the unknown-cause mass so much has passed; of a car whose codes are all awake, so much."""
PAST_RETURNS = 0.1
"""Where codes are stored, none is active and the cause is gone, some of them are back after an erase with this
chance."""
DROPS_OUT = 0.05
"""Low voltage makes the others miss one certain module with this chance; all that miss it are one statement of that."""
LINE = 0.05
"""The same of a fault that no part is: a plug, a fuse, a line (common practice, no source).  Counted where the module
was read and holds no code of its own, as most faults of its parts would leave one there."""
TRIED_BEFORE = 0.5
"""A part that cleared a code so often is to be tried before the code is taken for no fault."""
MOST_CAUSES = 3
UNTIED = 0.3
"""Parts that neither words nor repairs tie to an open code are at fault for them so much less often than they are at
fault at all: most parts set no such code, a few set it often.  Fitted on dealers drawn by a process of their own."""
EXPLAINS = 0.5
"""A part is expected to clear the codes that it set with at least this posterior chance, given that it is at fault."""


@dataclass(frozen=True, kw_only=True)
class Car:
    """What is open on one car, as indices into the candidates and codes.

    Attributes:
        vehicle: Stock number.
        make: Row of the parameters' per-make chances.
        codes: Open, unmasked codes, m of them, ascending.
        absent: (all codes,) read and not there.
        stale: (m,) stored but not active now.
        failed: Parts that this car got in vain.
        lasting: Columns of open codes that came back after an earlier erase: whatever sets them, it did not pass.
        renewed: Parts that were renewed after its codes were read, and nobody has looked since.
        awake: Columns of open codes that are active or pending now.
        past: Columns of codes that are stored only while others are not: they mostly tell of the past and are weighed
            neither as open nor as absent.
        missed: For columns of open codes that tell that another module is not heard, that module.
        clean: Modules that were read and hold no code.
        strange: For columns of open codes that the standard says of a part which nobody here knows, their module.
        mended: Somebody worked on the car before.
        kept: Columns of open codes that the dealer refused to leave alone: they have to go.
    """

    vehicle: str
    make: int
    codes: list[int]
    absent: Bools
    stale: Bools
    failed: set[int]
    lasting: frozenset[int] = frozenset()
    renewed: frozenset[int] = frozenset()
    awake: frozenset[int] = frozenset()
    past: tuple[int, ...] = ()
    missed: Mapping[int, str] = field(default_factory=dict)
    clean: frozenset[str] = frozenset()
    strange: Mapping[int, str] = field(default_factory=dict)
    mended: bool = False
    kept: frozenset[int] = frozenset()

    @property
    def evidence(self) -> tuple[object, ...]:
        """Return all that the diagnosis depends on: cars that differ in nothing but their stock number share it."""
        shown = (self.make, tuple(self.codes), self.absent.tobytes(), self.stale.tobytes(), self.past)
        missed = frozenset(self.missed.items()), frozenset(self.clean & set(self.missed.values()))
        return (*shown, frozenset(self.failed), self.lasting, self.renewed, self.awake, missed, self.mended, self.kept)


@dataclass(frozen=True, kw_only=True)
class Posterior:
    """What the codes of one car say of k suspects and m open codes.

    Attributes:
        parts: Candidate indices (k), the first columns of the weights.
        causes: Rows (h) of the standing causes behind them; the last column stands for all other parts.
        case: What the car shows; one case of k + h + 1 columns and m codes.
        weights: The posterior chance of each set of the columns.
        clears: (k, m) the codes that the part is expected to clear.
        effective_sample_size: (k,) how many independent visits the part's strongest link is worth.
        explained: (m,) some candidate explains the code.
        passing: (m,) chance that no part sets the code and an erase ends it.
        ended: (columns,) the column is a cause that an erase ends.
        standing: (m,) chance that no fault sets the code and it comes back all the same.
        one_minus_max: One less the largest posterior chance, of a suspect or of no fault at all, before any mass was
            moved to the unknown cause.
        bare: The weights as the codes alone say them, before any calibration.
    """

    parts: list[int]
    causes: list[int]
    case: Cases
    weights: Weights
    clears: Bools
    effective_sample_size: Floats
    explained: Bools
    passing: Floats
    ended: Bools
    standing: Floats
    one_minus_max: float
    bare: Weights


def infer(car: Car, parameters: NoisyOrParameters, allowed: Bools, calibration: Calibration = PLAIN) -> Posterior:
    """Weigh every set of up to three parts for one car.

    Args:
        car: What is open.
        parameters: What past jobs taught.
        allowed: (parts,) candidates that may be weighed at all.
        calibration: How far the chances are believed.

    Returns:
        The posterior; with no suspect at all its parts are empty and nothing is explained.
    """
    parameters = parameters.at(car.make)
    log_lik_absent = parameters.log_lik_absent @ car.absent
    parts = _suspects(car, parameters, log_lik_absent, allowed)
    causes = _causes(car, parameters, log_lik_absent)
    case = _case(car, parameters, log_lik_absent, parts, causes)
    bare = weigh_sets(case)
    weights, one_minus_max = believed(bare, car, parameters, len(parts), calibration)
    link = case.link[0, : len(parts)]
    clears = _clears(weights, link)
    alone, recurrence = _no_part(weights, case), np.broadcast_to(case.leak_recurrence, len(car.codes))
    return Posterior(
        parts=parts, causes=causes, case=case, weights=weights, clears=clears,
        effective_sample_size=_effective_sample_size(car, parameters, parts),
        explained=np.asarray((link >= SPEAKS).any(axis=0)), one_minus_max=one_minus_max,
        passing=alone * (1 - recurrence) + _ended(weights, case, causes, parameters),
        ended=np.concatenate([np.zeros(len(parts), dtype=bool), parameters.passing[causes], [False]]),
        bare=bare,
        standing=_no_fault(
            car, parameters, parameters.group_no_fault[causes] @ _set_by(weights, case, causes), alone * recurrence
        ),
    )  # fmt: skip


def believed(
    bare: Weights, car: Car, parameters: NoisyOrParameters, parts: int, calibration: Calibration
) -> tuple[Weights, float]:
    """Return the weights of one car as they are believed, and one less the largest chance before the unknown cause.

    Args:
        bare: As the codes alone say them.
        car: What is open.
        parameters: What past jobs taught.
        parts: Columns that are suspects.
        calibration: How far the chances are believed.
    """
    weights, one_minus_max = as_sharp_as(bare, car, parameters, parts, calibration.sharpness)
    most = float(one_minus_max[0])
    return with_unknown_cause(weights, calibration.share * most, passed_share(car)), most


def as_sharp_as(
    bare: Weights, car: Car, parameters: NoisyOrParameters, parts: int, sharpness: float | Floats
) -> tuple[Weights, Floats]:
    """Return the weights of one car under some sharpnesses before the unknown cause, and one less the largest chance.

    Args:
        bare: As the codes alone say them.
        car: What is open.
        parameters: What past jobs taught.
        parts: Columns that are suspects.
        sharpness: One, or several (p,).

    Returns:
        Weights of a case for each sharpness, and (p,) what the largest chance of each leaves.
    """
    weights = sharpened(bare, sharpness)
    weights = with_passed_cause(weights, parameters.past[int(car.mended)]) if car.stale.all() else weights
    best = np.maximum(weights.sizes()[:, 0], weights.faulty()[:, :parts].max(axis=1, initial=0.0))
    # Summed chances may exceed 1 by a rounding: less than nothing is left for no cause.
    return weights, np.maximum(1 - best, 0.0)


def sharpened(weights: Weights, sharpness: float | Floats) -> Weights:
    """Raise the chance of each set of faults to a power, and scale all to sum to 1 again.

    Args:
        weights: The posterior of any number of cases.
        sharpness: The power, 1 leaves them as they are; of one case also several (p,), of which each makes a case.
    """
    if np.ndim(sharpness) == 0 and sharpness == 1:
        return weights
    whole = weights.chance.sum(axis=1, keepdims=True)
    power = sharpness[:, None, None] if isinstance(sharpness, np.ndarray) else sharpness
    chance = weights.chance * np.maximum(whole, 1e-300) ** (power - 1)
    return replace(weights, chance=chance / chance.sum(axis=(1, 2), keepdims=True))


def _no_part(weights: Weights, case: Cases) -> Floats:
    """Return (m,): the chance that an open code is set by no part."""
    leak, chance = case.leak[0], weights.chance.sum(axis=1)[0]
    nothing = weights.never[0]
    return np.asarray(chance @ (nothing / (1 - leak) * leak / np.maximum(1 - nothing, 1e-12)))


def _set_by(weights: Weights, case: Cases, causes: list[int]) -> Floats:
    """Return (h, m): the chance that each standing or passing cause sets an open code."""
    first = len(case.fault[0]) - 1 - len(causes)
    columns = slice(first, first + len(causes))
    chance = weights.chance.sum(axis=1)[0]
    joint = (weights.sets[:, columns] * chance[:, None]).T @ (1 / np.maximum(1 - weights.never[0], 1e-12))
    return np.asarray(joint * case.link[0, columns])


def _ended(weights: Weights, case: Cases, causes: list[int], parameters: NoisyOrParameters) -> Floats:
    """Return (m,): the chance that a passing cause sets an open code and an erase ends it."""
    ends = np.where(parameters.passing[causes], 1 - parameters.bad[causes], 0.0)
    return np.asarray(ends @ _set_by(weights, case, causes))


def _no_fault(car: Car, parameters: NoisyOrParameters, grouped: Floats, lasting: Floats) -> Floats:
    """Return (m,): the chance that what brings a code back is no fault; 0 where a part that cleared it is untried.

    Args:
        car: What is open.
        parameters: What past jobs taught.
        grouped: (m,) chance that a standing cause sets the code.
        lasting: (m,) chance that nothing known sets it, and that it comes back.
    """
    cleared = parameters.proven_clears[:, car.codes][~parameters.standing] >= TRIED_BEFORE
    cleared[list(car.failed)] = False
    # A code of no group was on one car alone, or has been cleared: that says nothing of equipment.
    groups = parameters.standing & ~parameters.passing
    listed = (parameters.link[:, car.codes][groups] > 0).any(axis=0)
    told = grouped + np.where(listed, lasting * parameters.no_fault[car.codes], 0.0)
    return np.where(cleared.any(axis=0), 0.0, told)


def _clears(weights: Weights, link: Floats) -> Bools:
    """Return (k, m): the codes that each part set with enough chance, given that it is at fault; at least one each."""
    member = weights.sets[:, : len(link)].astype(float)
    chance = weights.chance.sum(axis=1)[0]
    joint = (member * chance[:, None]).T @ (1 / np.maximum(1 - weights.never[0], 1e-12)) * link
    share = joint / np.maximum(member.T @ chance, 1e-300)[:, None]
    clears = (share >= EXPLAINS) & (link >= SPEAKS)
    clears |= (share == share.max(axis=1, keepdims=True)) & ~clears.any(axis=1, keepdims=True)
    return np.asarray(clears)


def passed_share(car: Car) -> float:
    """Return how much of a car's unknown-cause mass has passed: little where every code is awake."""
    return PASSED_AWAKE if set(car.codes) <= car.awake else PASSED


def unknown_cause_profile(weights: Weights, passed: float) -> Floats:
    """Return (s,) where the unknown-cause mass goes: to no part as far as it passed, the rest to other parts alone."""
    size = weights.sets.sum(axis=1)
    return np.where(size == 0, passed, np.where(weights.sets[:, -1] & (size == 1), 1 - passed, 0.0))


def with_unknown_cause(weights: Weights, mass: float, passed: float) -> Weights:
    """Move some of the chance to what nothing known points at.

    Args:
        weights: The posterior of one car.
        mass: How much of it, a fraction.
        passed: How much of the mass has passed, ``passed_share``.
    """
    if not mass:
        return weights
    chance = (1 - mass) * weights.chance
    chance[:, 0] += mass * unknown_cause_profile(weights, passed)
    return replace(weights, chance=chance)


def with_passed_cause(weights: Weights, past: float) -> Weights:
    """A share of the cars that show stored codes only have nothing wrong today, whatever set them.

    Args:
        weights: The posterior of such a car.
        past: The share.
    """
    chance = (1 - past) * weights.chance
    chance[:, 0, 0] += past
    return replace(weights, chance=chance)


def _effective_sample_size(car: Car, parameters: NoisyOrParameters, parts: list[int]) -> Floats:
    here = np.ix_(parts, car.codes)
    pull = parameters.link[here] / parameters.leak[car.codes]
    size = parameters.effective_sample_size[here]
    return np.asarray(np.take_along_axis(size, pull.argmax(axis=1)[:, None], axis=1)[:, 0])


def _suspects(car: Car, parameters: NoisyOrParameters, log_lik_absent: Floats, allowed: Bools) -> list[int]:
    link = parameters.link[:, car.codes]
    gain = np.log1p(link / parameters.leak[car.codes]).sum(axis=1)
    score = gain + np.log(parameters.fault[car.make]) + log_lik_absent
    suspect = np.append(allowed, np.zeros(len(link) - len(allowed), dtype=bool)) & (link >= SPEAKS).any(axis=1)
    order = np.argsort(-np.where(suspect, score, -np.inf), kind="stable")[:MOST_PARTS]
    return sorted(int(i) for i in order if suspect[i])


def _causes(car: Car, parameters: NoisyOrParameters, log_lik_absent: Floats) -> list[int]:
    """Return the rows of the standing causes that speak for an open code, the likeliest at most, sorted."""
    link = parameters.link[:, car.codes]
    score = (
        np.log1p(link / parameters.leak[car.codes]).sum(axis=1) + np.log(parameters.fault[car.make]) + log_lik_absent
    )
    speaks = parameters.standing & (link >= SPEAKS).any(axis=1)
    order = np.argsort(-np.where(speaks, score, -np.inf), kind="stable")[:MOST_CAUSES]
    return sorted(int(i) for i in order if speaks[i])


def part_odds(car: Car, parameters: NoisyOrParameters) -> Floats:
    """Return (all parts,): the odds that each part is faulty before its codes are looked at.

    Less for what failed, and for a cause that an erase ends where one of its codes is awake: it has not passed yet.
    """
    odds = parameters.fault[car.make] / (1 - parameters.fault[car.make])
    odds[list(car.failed)] *= BAD_NEW_PART
    still = parameters.passing & (parameters.link[:, sorted(car.awake)] >= SPEAKS).any(axis=1)
    odds[still] *= AWAKE_PASSED / AWAKE_THERE
    return np.asarray(odds)


def in_columns(
    odds: Floats, log_lik_absent: Floats, columns: list[int], standing: Bools
) -> tuple[Floats, Floats, Indices, Floats]:
    """Put suspects and standing causes, and as a last column all other parts, together: it may be none of the suspects.

    Args:
        odds: (all parts,) odds that each part is faulty.
        log_lik_absent: (all parts, steps) logarithm of the chance that the faulty part set none of the absent codes.
        columns: The k rows that have a column of their own.
        standing: (all parts,) the rows that are no parts.

    Returns:
        ``(fault (k + 1,), log_lik_absent (k + 1, steps), others, share (others,))``; the last is what each other part
        makes up of the last column.
    """
    left = ~standing
    left[columns] = False
    others = np.flatnonzero(left)
    rest = odds[others].sum()
    share = odds[others] / max(rest, 1e-12)
    joined = np.append(odds[columns], UNTIED * rest)
    together = np.log(np.maximum(share @ np.exp(log_lik_absent[others]), 1e-12))
    return joined / (1 + joined), np.vstack([log_lik_absent[columns], together]), others, share


def _case(
    car: Car, parameters: NoisyOrParameters, log_lik_absent: Floats, parts: list[int], causes: list[int]
) -> Cases:
    columns, odds = [*parts, *causes], part_odds(car, parameters)
    fault, absent, others, share = in_columns(odds, log_lik_absent[:, None], columns, parameters.standing)
    links = parameters.link[:, car.codes]
    link = np.vstack([links[columns], share @ links[others]])
    passing = np.append(parameters.passing[columns], False)
    link[passing] = np.maximum(link[passing], _missed_together(car, DROPS_OUT, set(car.missed.values())))
    link[-1] = np.max([link[-1], _missed_together(car, LINE, car.clean), _part_unknown(car, links[parts])], axis=0)
    leak = parameters.leak[car.codes]
    leak = np.where(car.stale, np.minimum(HISTORY_LEAK * leak, MOST_LEAK), leak)
    recurrence = np.where(car.stale.all(), past_returns(len(car.codes)), parameters.leak_recurrence[car.codes])
    awake = np.array([d in car.awake for d in car.codes], dtype=bool)
    leak, recurrence = _awake(leak, recurrence, awake)
    lasting = np.array([d in car.lasting for d in car.codes], dtype=bool) & ~car.stale
    # Of what sets a code without a faulty part only the lasting kind brings it back, and will again.
    leak, recurrence = np.where(lasting, leak * recurrence, leak), np.where(lasting, 1.0, recurrence)
    no_jobs = np.empty((1, 0, len(car.codes)))
    return Cases(
        fault=fault[None],
        log_lik_absent=absent.T,
        link=link[None],
        leak=leak[None],
        shown=np.ones((1, len(car.codes)), dtype=bool),
        fitted=np.empty((1, 0, len(fault)), dtype=bool),
        lik_cleared=no_jobs,
        lik_recurred=no_jobs,
        leak_recurrence=recurrence,
        bad=np.append(parameters.bad_today[columns], 0.0)[None],
        sizes=parameters.sizes[[car.make]],
        standing=np.append(parameters.standing[columns], False)[None],
    )


def _awake(leak: Floats, recurrence: Floats, awake: Bools) -> tuple[Floats, Floats]:
    """Return leaks and their recurrences as codes that are active or pending show them: seldom has their cause passed.

    By Bayes' rule, against codes that a faulty part sets, which are awake as often as those of any cause that is there.

    Args:
        leak: (m,) chance that no known cause sets the code.
        recurrence: (m,) chance that such a code comes back after an erase.
        awake: (m,) it is active or pending.
    """
    there, passed = recurrence * AWAKE_THERE, (1 - recurrence) * AWAKE_PASSED
    return (
        np.where(awake, leak * (there + passed) / AWAKE_THERE, leak),
        np.where(awake, there / (there + passed), recurrence),
    )


def past_returns(codes: int) -> float:
    """Return the chance that each of a car's stored codes is back, so that any of them is with ``PAST_RETURNS``."""
    return float(1 - (1 - PAST_RETURNS) ** (1 / max(codes, 1)))


def _missed_together(car: Car, chance: float, modules: Set[str]) -> Floats:
    """Return (m,): the chance that something sets each open code that misses a module, all that miss one together.

    Args:
        car: What is open.
        chance: That it makes the others miss one certain module.
        modules: The modules that it is reckoned with of; 0 for the codes that miss others, and that miss none.
    """
    misses = Counter(car.missed[d] for d in car.codes if d in car.missed)
    return np.array([chance ** (1 / misses[car.missed[d]]) if car.missed.get(d) in modules else 0.0 for d in car.codes])


def _part_unknown(car: Car, link: Floats) -> Floats:
    """Return (m,): the chance that a part which nobody here knows sets each open code, where others miss its module.

    The codes that speak of it and those that miss its module it sets as any part does; 0 for the others, and where some
    suspect explains what speaks of it.

    Args:
        car: What is open.
        link: (suspects, m) chance that each of them sets the code.
    """
    explained = np.asarray((link >= SPEAKS).any(axis=0))
    told = {car.strange[d] for d, known in zip(car.codes, explained, strict=True) if d in car.strange and not known}
    homes = told & set(car.missed.values())
    return np.array(
        [NAMED if car.strange.get(d) in homes else POINTED if car.missed.get(d) in homes else 0.0 for d in car.codes]
    )


def interval(chance: float, effective_sample_size: float) -> tuple[float, float]:
    """Return the 90 % interval of a chance that is worth so many visits.

    Args:
        chance: Between 0 and 1.
        effective_sample_size: Independent visits behind the link with the largest ratio to its leak.

    Returns:
        ``(low, high)`` of the Beta with mean ``chance`` and so many counts, widened to hold ``chance``.
    """
    if not 0 < chance < 1:
        return chance, chance
    from scipy.special import betaincinv  # noqa: PLC0415 - loaded where an interval is asked for

    counts = chance * effective_sample_size, (1 - chance) * effective_sample_size
    low, high = betaincinv(*counts, [0.05, 0.95])
    return min(float(low), chance), max(float(high), chance)
