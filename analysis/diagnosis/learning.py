"""What past repairs teach about parts and codes: two estimators, averaged.

The first counts once: a part that was fitted and after which the codes stayed away
is credited with them.  The second, expectation and maximisation, weighs for every
visit which faults would explain both scans, by what other visits say of its codes,
learns from that, and repeats.  The count is steady with few visits, the other sharper with many; their average beat
either in drawn fleets whose truth is known.
"""

from dataclasses import replace

import numpy as np

from analysis.diagnosis.expectation import count_again, per_make
from analysis.diagnosis.knowledge import Counts, Knowledge, believe
from analysis.diagnosis.own_share import Share
from analysis.diagnosis.priors import Prior
from analysis.diagnosis.visits import Bools, Floats, Visits

ROUNDS = 6


def learn(visits: Visits, prior: Prior, rounds: int = ROUNDS) -> Knowledge:
    """Learn from past jobs.

    Args:
        visits: The jobs, in any order.
        prior: The beliefs before any job.
        rounds: Rounds of expectation and maximisation.

    Returns:
        The average of both estimators; with no visits, the priors.
    """
    first = count_once(visits, prior)
    counted = believe(first, prior, visits.make_names)
    if not visits.jobs:
        return counted
    knowledge, counts, shares = counted, first, list[Share]()
    for _ in range(rounds):
        counts, shares = count_again(visits, knowledge, shares)
        knowledge = believe(counts, prior, visits.make_names)
    return believe(_between(first, counts), prior, visits.make_names)


def _between(one: Counts, other: Counts) -> Counts:
    """Average what both estimators count; leaks and new parts in vain are counted by the second alone."""
    both = ("set_by", "chances", "faults", "visits")
    return replace(other, **{name: (getattr(one, name) + getattr(other, name)) / 2 for name in both})


def count_once(visits: Visits, prior: Prior) -> Counts:
    """Count each job once: the fitted part is credited with the codes that stayed away.

    Several parts fitted at once share the credit by how well the texts of the codes speak for each.

    Args:
        visits: The jobs.
        prior: For the sharing.

    Returns:
        The counts.
    """
    parts, codes = prior.link.shape
    set_by, chances = np.zeros((parts, codes)), np.zeros((parts, codes))
    credits, seen = [np.zeros((0, parts))], [np.zeros((0, 1))]
    for run in visits.runs():
        there, told = visits.present(run), visits.read(run).astype(float)
        credited, looked = np.zeros((len(there), parts)), np.zeros((len(there), 1))
        for attempt in range(int(visits.many[run].max(initial=0))):
            gone, back, known = (visits.laid_out(each[:, attempt], run, 0.0) for each in visits.ends)
            known = np.where(there, known, 0.0)
            cleared, told = np.where(back < 1, known, 0.0), np.where(there, known, told)
            credit = _credit(there, visits.fitted[run, attempt], known.sum(axis=1), cleared.sum(axis=1), prior)
            credit = np.minimum(credit, 1 - credited)  # one fault, however many attempts cleared some of its codes
            set_by += credit.T @ cleared
            chances += credit.T @ told
            credited += credit
            tried = visits.fitted[run, attempt].any(axis=1)
            looked = np.maximum(looked, (np.minimum(known.sum(axis=1), 1.0) * tried)[:, None])
            there = there & ((gone == 0) | (known == 0))
        credits.append(credited)
        seen.append(looked)
    faults, known_visits = per_make(visits, np.concatenate(credits)), per_make(visits, np.concatenate(seen))
    nothing = np.zeros(codes)
    return Counts(
        set_by, chances, faults, known_visits, leaked=nothing, stayed=0.0, reads=nothing,
        sizes=np.zeros(4), renewed=np.zeros(parts), in_vain=np.zeros(parts),
    )  # fmt: skip


def _credit(present: Bools, fitted: Bools, known: Floats, cleared: Floats, prior: Prior) -> Floats:
    """Return (visits, parts): how much of what was cleared each fitted part is credited with."""
    success = np.divide(cleared, known, out=np.zeros_like(known), where=known > 0)
    appeal = np.where(fitted, present.astype(float) @ prior.link.T + 1e-9, 0.0)
    total = appeal.sum(axis=1, keepdims=True)
    share = np.divide(appeal, total, out=np.zeros_like(appeal), where=total > 0)
    return np.asarray(share * success[:, None])
