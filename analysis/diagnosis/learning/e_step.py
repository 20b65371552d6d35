"""The E step: weigh every past visit under what is believed so far, then count in expectation.

The visits are laid out side by side in blocks, filled up to the same number of
parts and codes, so that hundreds are weighed at once; visits with few suspects stand
apart from those with many, for the sets of eight parts are twenty times those of two.

What a visit itself taught is taken out before it is weighed again (leave one out).  A
part and a code that met by chance on one car would otherwise teach, round after round,
that the one sets the other: the visit would be judged by a belief that it made itself.
Codes of no cause then seem rare, and those that come back seem to be all of them.  So
from the second round on the links and leaks of a visit's codes are those that all other
visits teach; the rest of what is believed, how often all codes together have no cause
among it, keeps the visit in, as one of many.

Source:
    A. Asuncion, M. Welling, P. Smyth and Y. W. Teh, "On smoothing and inference for topic models", Uncertainty in
    Artificial Intelligence (2009): the collapsed update of order zero, here for a noisy-OR with leaks.
"""

from dataclasses import dataclass, field, fields, replace

import numpy as np
from numpy.typing import NDArray

from analysis.diagnosis.inputs.training_data import Visits
from analysis.diagnosis.model.noisy_or import (
    Cases,
    Floats,
    Weights,
    expected_counts,
    fault_sets,
    weigh_sets,
)
from analysis.diagnosis.model.parameters import LEAST_LEAK, MOST_LEAK, SPEAKS, NoisyOrParameters
from analysis.diagnosis.model.priors import HISTORY_LEAK, OTHER_VISITS, PAST

Indices = NDArray[np.intp]

MOST_PARTS = 8
WIDTH = 2
"""Visits whose numbers of suspects differ by less than this stand side by side."""
FAINT_FROM = 2.0
"""Once more visits than this with a part's fault say that it sets a code, of which no text speaks, less often than
``SPEAKS``, it is taken to set it never: chance meetings of common parts with codes of no cause would else pass for weak
links."""
BESIDE, BESIDE_TRIALS = 0.11, 4.5
"""A visit in which a part was not worked on, or nobody looked what became of its codes, teaches so much of what the
part sets, and half of it once the part was tried in so many others: links are taught by trying."""
LEAST = 1e-6
"""Least count that is left of a link, so that rounding makes none negative."""
BLOCK = 400_000
"""Numbers in one array of a block; more would not fit the processor's cache."""


@dataclass(frozen=True, kw_only=True)
class Counts:
    """Raw counts of one estimator: expected numbers over all visits, priors left out.

    Attributes:
        set_by: (parts, codes) faults of the part that set the code.
        chances: (parts, codes) faults of the part in which the code's presence or absence is known.
        faults: (makes, parts) faults of the part.
        visits: (makes, 1) visits.
        leaked: (codes,) leaks.
        stayed: (codes,) leaks that came back after an erase.
        reads: (codes,) visits in which the code's module was read.
        sizes: (4,) visits with no, one, two and three faulty parts.
        renewed: (parts,) faults of the part at which it was renewed.
        in_vain: (parts,) those of them that the new one did not cure.
        set_by_make: (makes, parts, s) ``set_by`` by make of the codes that are split by make.
        chances_make: (makes, parts, s) ``chances`` of these.
        trials: (parts,) visits in which the part was worked on and somebody looked what became of a code.
        cleared: (parts, codes) visits in which work with the part ended the code, as the jobs themselves say.
        evidence: (visits,) log likelihood of what became of the visit's codes, given that they were there, under what
            all other visits say; 0 where all visits are the dealer's own.
    """

    set_by: Floats
    chances: Floats
    faults: Floats
    visits: Floats
    leaked: Floats
    stayed: Floats
    reads: Floats
    sizes: Floats
    renewed: Floats
    in_vain: Floats
    set_by_make: Floats = field(default_factory=lambda: np.zeros((0, 0, 0)))
    chances_make: Floats = field(default_factory=lambda: np.zeros((0, 0, 0)))
    trials: Floats = field(default_factory=lambda: np.zeros(0))
    cleared: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    evidence: Floats = field(default_factory=lambda: np.zeros(0))

    def plus(self, other: "Counts | None", weight: float = 1.0) -> "Counts":
        """Return these counts and so much of others, of the same parts, codes and makes; None adds nothing."""
        if other is None:
            return self
        added = {
            each.name: getattr(self, each.name) + weight * getattr(other, each.name)
            for each in fields(self)
            if each.name != "evidence"
        }
        return replace(self, **added)


@dataclass(frozen=True)
class Share:
    """What visits taught in the round before, in expectation.

    Attributes:
        who: (n, k) the parts that were weighed, -1 in unused places.
        faulty: (n, k) faults of these parts.
        set_by: (n, k, m) how often the part set the code; of all visits together (entries, k).
        leaked: (n, m) leaks; of all visits together (entries,).
    """

    who: Indices
    faulty: Floats
    set_by: Floats
    leaked: Floats

    @classmethod
    def none(cls, visits: int, entries: int) -> "Share":
        """Return the shares of so many visits, with room for what they teach."""
        table = np.zeros((visits, MOST_PARTS))
        return cls(np.full(table.shape, -1), table, np.zeros((entries, MOST_PARTS)), np.zeros(entries))

    def of(self, block: Indices, entry: Indices) -> "Share":
        """Return the shares of some of the visits, whose entries stand at (n, m)."""
        return Share(self.who[block], self.faulty[block], self.set_by[entry].swapaxes(1, 2), self.leaked[entry])

    def keep(self, block: Indices, entry: Indices, mine: "Share") -> None:
        """Write down the shares of some of the visits."""
        parts, real = slice(mine.who.shape[1]), entry >= 0
        self.who[block, parts], self.faulty[block, parts] = mine.who, mine.faulty
        self.set_by[entry[real], parts] = mine.set_by.swapaxes(1, 2)[real]
        self.leaked[entry[real]] = mine.leaked[real]


def leave_one_out(
    cases: Cases,
    places: tuple[Indices, Indices],
    parameters: NoisyOrParameters,
    share: Share,
    reads: Floats,
) -> Cases:
    """Return the cases with links and leaks as all other visits teach them.

    Args:
        cases: The block, under the parameters of all visits.
        places: Its parts (n, k) and codes (n, m), -1 in unused places.
        parameters: What all visits taught in the round before.
        share: What these visits contributed to it.
        reads: (codes,) visits in which the code's module was read.

    Returns:
        The same cases, but for ``link`` and ``leak``.
    """
    who, what = places
    same = ((who[:, :, None] == share.who[:, None, :]) & (who >= 0)[:, :, None]).astype(float)
    here = who[:, :, None], what[:, None, :]
    yes = np.maximum(parameters.link_yes[here] - same @ share.set_by, LEAST)
    faults = (same @ share.faulty[:, :, None])[:, :, 0]
    visits = np.maximum(parameters.link_yes[here] + parameters.link_no[here] - faults[:, :, None], yes)
    looks = np.maximum(parameters.leak_strength + reads[what] - 1, LEAST)
    leak = np.clip((cases.leak * (looks + 1) - share.leaked) / looks, LEAST_LEAK, MOST_LEAK)
    link = np.where(cases.link > 0, yes / visits, 0.0)
    taught = parameters.taught[here] - faults[:, :, None]
    faint = (link < SPEAKS) & (taught > FAINT_FROM) & (visits - taught < OTHER_VISITS + 0.5)
    link = np.where(faint, 0.0, link)
    return replace(cases, link=link, leak=np.where(cases.shown, leak, 0.0))


def choose_suspects(visits: Visits, parameters: NoisyOrParameters, log_lik_absent: Floats) -> list[list[int]]:
    """Return the parts worth weighing for each visit: those fitted, then those that explain most.

    Args:
        visits: The jobs.
        parameters: What is believed so far.
        log_lik_absent: From ``absent_log_likelihoods``.

    Returns:
        One list of at most ``MOST_PARTS`` part indices per visit, sorted.
    """
    fault, parts = np.log(parameters.fault), parameters.fault.shape[1]
    chosen: list[list[int]] = [[]] * len(visits.jobs)
    for look in visits.looks:
        mine, rows = parameters.at(look.make), look.visits
        score = fault[look.make] + log_lik_absent[rows] + look.there @ np.log1p(mine.link / mine.leak).T
        suspect = look.there @ (mine.link >= SPEAKS).T.astype(float) > 0
        score = np.where(visits.worked_on[rows], np.inf, np.where(suspect, score, -np.inf))
        best = np.argsort(-score, axis=1, kind="stable")[:, :MOST_PARTS]
        weighed = np.take_along_axis(score, best, axis=1) > -np.inf
        best = np.sort(np.where(weighed, best, parts), axis=1)
        for v, row, many in zip(rows.tolist(), best.tolist(), weighed.sum(axis=1).tolist(), strict=True):
            chosen[v] = row[:many]
    return chosen


def e_step(
    visits: Visits,
    parameters: NoisyOrParameters,
    before: Share | None,
    told: Counts | None = None,
    *,
    foretell: bool = False,
) -> tuple[Counts, Share]:
    """Weigh every visit under what the others say so far and count in expectation.

    The suspects are chosen anew each time: what one round has learned can make one of a part that no text names.

    Args:
        visits: The jobs.
        parameters: What is believed so far.
        before: What each visit contributed to that belief, from the round before; None in the first.
        told: What the visits of other dealers taught of it, which is not among what is counted.
        foretell: Say also how well what became of each visit was foretold.

    Returns:
        The expected counts, and what each visit contributes to them.
    """
    parts, codes = parameters.link_yes.shape
    set_by, leaked, stayed = np.zeros((parts, codes)), np.zeros(codes), np.zeros(codes)
    faulty, sizes, ends = np.zeros((len(visits.jobs), parts)), np.zeros(4), np.zeros((2, parts))
    telling = np.zeros_like(faulty)
    trials = visits.trials if told is None else visits.trials + told.trials
    reads = visits.reads if told is None else visits.reads + told.reads
    beside = np.where(parameters.standing, 1.0, BESIDE / (1 + trials / BESIDE_TRIALS))
    log_lik_absent, shares = absent_log_likelihoods(visits, parameters), Share.none(len(visits.jobs), len(visits.code))
    suspects = choose_suspects(visits, parameters, log_lik_absent)
    slot = np.full(codes + 1, -1)
    slot[parameters.apart] = np.arange(len(parameters.apart))
    set_by_make, evidence = np.zeros((len(visits.make_names), parts, len(parameters.apart))), np.zeros(len(visits.jobs))
    for block in _blocks(visits, suspects, apart=len(parameters.apart) > 0):
        entry, mine = _entries(visits, block), parameters.at(int(visits.makes[block[0]]))
        who, what, cases = _cases(visits, mine, suspects, (block, entry), log_lik_absent)
        if before is not None:
            cases = leave_one_out(cases, (who, what), mine, before.of(block, entry), reads)
        weights = weigh_sets(cases)
        if foretell:
            evidence[block] = _foretold(cases, weights)
        expected = expected_counts(cases, weights)
        real, shown = who >= 0, cases.shown
        np.add.at(faulty, (block[:, None] + 0 * who, who), np.where(real, expected.faulty, 0.0))
        say = _tested(visits, entry, cases)
        say = (beside[who][:, :, None] + (1 - beside[who])[:, :, None] * say) * real[:, :, None]
        each = say.max(axis=2, initial=0.0)
        linked = Share(who, expected.faulty * each, expected.set_by * say, expected.leaked)
        np.add.at(telling, (block[:, None] + 0 * who, who), linked.faulty)
        np.add.at(set_by, (who[:, :, None], what[:, None, :]), linked.set_by)
        row, part, code = np.nonzero((slot[what] >= 0)[:, None, :] & real[:, :, None])
        place = visits.makes[block[row]], who[row, part], slot[what[row, code]]
        np.add.at(set_by_make, place, linked.set_by[row, part, code])
        # What is stored only tells of the past, not of how often a code shows today without a cause, and comes back.
        today = shown & ~visits.stale[block][:, None]
        np.add.at(leaked, what, expected.leaked * today)
        np.add.at(ends[0], who, expected.renewed * real)
        np.add.at(ends[1], who, expected.in_vain * real)
        np.add.at(stayed, what, expected.stayed * today)
        sizes += weights.sizes().sum(axis=0)
        shares.keep(block, entry, linked)
    chances, chances_make = np.zeros((parts, codes)), np.zeros_like(set_by_make)
    for look in visits.looks:
        told_of = look.read(telling[look.visits])
        chances += told_of
        chances_make[look.make] += told_of[:, parameters.apart]
    seen = per_make(visits, np.ones((len(visits.jobs), 1)))
    return Counts(
        set_by=set_by, chances=chances, faults=per_make(visits, faulty), visits=seen, leaked=leaked, stayed=stayed,
        reads=visits.reads, sizes=sizes, renewed=ends[0], in_vain=ends[1], trials=visits.trials,
        cleared=np.zeros((parts, codes)),
        set_by_make=set_by_make, chances_make=chances_make, evidence=evidence,
    ), shares  # fmt: skip


def _foretold(cases: Cases, weights: Weights) -> Floats:
    """Return (n,): the log likelihood of what was seen after the jobs of each visit, given what it came with."""
    nothing = np.ones_like(cases.lik_cleared)
    before = weigh_sets(replace(cases, lik_cleared=nothing, lik_recurred=nothing))
    return np.asarray(weights.evidence - before.evidence)


def _tested(visits: Visits, entry: Indices, cases: Cases) -> Floats:
    """Return (n, k, m): how well it is known what became of each code after the part was renewed."""
    jobs = slice(cases.fitted.shape[1])
    known = np.where(cases.shown[:, None], _by_job(visits.known[entry, jobs]), 0.0)
    return np.asarray((cases.fitted[:, :, :, None] * known[:, :, None, :]).max(axis=1))


def absent_log_likelihoods(visits: Visits, parameters: NoisyOrParameters) -> Floats:
    """Return (n, parts): the logarithm of the chance that the faulty part set none of the absent codes."""
    found = np.zeros((len(visits.jobs), len(parameters.link)))
    for look in visits.looks:
        found[look.visits] = look.over_absent(parameters.at(look.make).log_lik_absent)
    return found


def _blocks(visits: Visits, suspects: list[list[int]], *, apart: bool) -> list[Indices]:
    """Return visits of as many attempts and about as many suspects and codes together, and of one make if ``apart``."""
    present = np.diff(visits.first)
    width = -(-np.array([len(chosen) for chosen in suspects], dtype=np.int64) // WIDTH)
    make = visits.makes if apart else np.zeros_like(visits.makes)
    order = np.lexsort((present, width, visits.many, make))
    blocks, start = [], 0
    while start < len(order):
        jobs, wide, codes = (int(of[order[start]]) for of in (visits.many, width, present))
        sets = len(fault_sets(max(1, wide * WIDTH)))
        size = max(1, int(BLOCK / (sets * jobs * 2 ** (jobs - 1) * max(1, codes + 2))))
        alike = order[start : start + size]
        same = (visits.many[alike] == jobs) & (width[alike] == wide) & (make[alike] == make[order[start]])
        blocks.append(alike[same])
        start += len(blocks[-1])
    return blocks


def _entries(visits: Visits, block: Indices) -> Indices:
    """Return (n, m): the places of the visits' entries, -1 in unused ones."""
    return _filled([np.arange(visits.first[v], visits.first[v + 1]) for v in block])


def _cases(
    visits: Visits,
    parameters: NoisyOrParameters,
    suspects: list[list[int]],
    places: tuple[Indices, Indices],
    log_lik_absent: Floats,
) -> tuple[Indices, Indices, Cases]:
    """Lay the chosen visits out side by side, filled up to the same number of parts and codes."""
    block, entry = places
    who = _filled([np.array(suspects[int(v)], dtype=int) for v in block])
    what = np.where(entry >= 0, visits.code[entry], -1)
    line, jobs = block[:, None], slice(int(visits.many[block[0]]))
    real, shown = who >= 0, what >= 0
    fault = np.where(real, parameters.fault[visits.makes[line], who], 0.0)
    link = parameters.link[who[:, :, None], what[:, None, :]] * real[:, :, None] * shown[:, None, :]
    stale, leak, recurrence = visits.stale[line], parameters.leak[what], parameters.leak_recurrence[what]
    entries = visits.supplied.entries(line + 0 * who, who)
    known = (entries >= 0) & (len(parameters.bad_tried) > 0)
    bad = parameters.bad[who]
    bad[known] = parameters.bad_tried[entries[known]]
    leak = np.where(stale, np.minimum(HISTORY_LEAK * leak, MOST_LEAK), leak)
    return who, what, Cases(
        fault=fault, log_lik_absent=np.where(real, log_lik_absent[line, who], 0.0), link=link,
        leak=np.where(shown, leak, 0.0), shown=shown,
        fitted=visits.fitted[line, jobs, who].swapaxes(1, 2) & real[:, None],
        lik_cleared=_by_job(visits.lik_cleared[entry, jobs]), lik_recurred=_by_job(visits.lik_recurred[entry, jobs]),
        leak_recurrence=np.where(stale, 1 - PAST, recurrence), bad=bad,
        sizes=parameters.sizes[visits.makes[block]], standing=parameters.standing[who] & real,
    )  # fmt: skip


def _by_job(entries: Floats) -> Floats:
    """Return (n, jobs, m) of (n, m, jobs)."""
    return np.ascontiguousarray(entries.swapaxes(1, 2))


def _filled(lists: list[Indices]) -> Indices:
    width = max((len(row) for row in lists), default=0)
    table = np.full((len(lists), max(width, 1)), -1)
    for i, row in enumerate(lists):
        table[i, : len(row)] = row
    return table


def per_make(visits: Visits, values: Floats) -> Floats:
    """Return (makes, columns): the values of all visits of a make added up.

    Args:
        visits: The jobs.
        values: (visits, columns).

    Returns:
        The sums, in the order of ``visits.make_names``.
    """
    chosen = np.eye(len(visits.make_names))[visits.makes] if visits.jobs else np.zeros((0, len(visits.make_names)))
    return np.asarray(chosen.T @ values)
