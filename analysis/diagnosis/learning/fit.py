"""What past repairs teach about parts and codes: two estimators, averaged.

The first counts once: a part that was fitted and after which the codes stayed away
is credited with them.  The second, expectation and maximisation, weighs for every
visit which faults would explain both scans, by what other visits say of its codes,
learns from that, and repeats.  The count is steady with few visits, the other sharper with many; their average beat
either in drawn fleets whose truth is known.
"""

from dataclasses import replace

import numpy as np

from analysis.diagnosis.inputs.training_data import Bools, Floats, Visits
from analysis.diagnosis.learning.e_step import count_again, per_make
from analysis.diagnosis.learning.leave_one_out import Share
from analysis.diagnosis.model.parameters import Counts, Knowledge, believe
from analysis.diagnosis.model.priors import Prior

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
    """Count each attempt once: the fitted part is credited with the codes that stayed away.

    Several parts fitted at once share the credit by how well the texts of the codes speak for each.

    Args:
        visits: The visits.
        prior: For the sharing.

    Returns:
        The counts.
    """
    parts, codes = prior.link.shape
    set_by, chances = np.zeros((parts, codes)), np.zeros((parts, codes))
    credits, seen = [np.zeros((0, parts))], [np.zeros((0, 1))]
    for run in visits.runs():
        there, told, many = visits.present(run), visits.read(run).astype(float), visits.many[run]
        credited, looked = np.zeros((len(there), parts)), np.zeros((len(there), 1))
        for attempt in range(int(many.max(initial=0))):
            rows = np.flatnonzero(many > attempt)
            gone, back, known = (visits.laid_out(each[:, attempt], run, 0.0)[rows] for each in visits.ends)
            open_now, fitted = there[rows], visits.fitted[run, attempt][rows]
            known = np.where(open_now, known, 0.0)
            cleared = np.where(back < 1, known, 0.0)
            told[rows] = np.where(open_now, known, told[rows])
            credit = _credit(open_now, fitted, known.sum(axis=1), cleared.sum(axis=1), prior)
            credit = np.minimum(credit, 1 - credited[rows])  # one fault, however many attempts cleared some of it
            set_by += credit.T @ cleared
            chances += credit.T @ told[rows]
            credited[rows] += credit
            tried = np.minimum(known.sum(axis=1), 1.0) * fitted.any(axis=1)
            looked[rows] = np.maximum(looked[rows], tried[:, None])
            there[rows] &= (gone == 0) | (known == 0)
        credits.append(credited)
        seen.append(looked)
    faults, known_visits = per_make(visits, np.concatenate(credits)), per_make(visits, np.concatenate(seen))
    nothing, no_part = np.zeros(codes), np.zeros(parts)
    return Counts(set_by, chances, faults, known_visits, nothing, 0.0, nothing, np.zeros(4), no_part, no_part)


def _credit(present: Bools, fitted: Bools, known: Floats, cleared: Floats, prior: Prior) -> Floats:
    """Return (visits, parts): how much of what was cleared each fitted part is credited with."""
    success = np.divide(cleared, known, out=np.zeros_like(known), where=known > 0)
    appeal = np.where(fitted, present.astype(float) @ prior.link.T + 1e-9, 0.0)
    total = appeal.sum(axis=1, keepdims=True)
    share = np.divide(appeal, total, out=np.zeros_like(appeal), where=total > 0)
    return np.asarray(share * success[:, None])
