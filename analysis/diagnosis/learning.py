"""What past repairs teach about parts and codes: two estimators, averaged.

The first counts once: a part that was fitted and after which the codes stayed away
is credited with them.  The second, expectation and maximisation, weighs for every
visit which faults would explain both scans, learns from that, and repeats.  The
count is steady with few visits, the other sharper with many; their average beat
either in drawn fleets whose truth is known.
"""

from dataclasses import replace

import numpy as np

from analysis.diagnosis.expectation import choose_suspects, count_again, per_make
from analysis.diagnosis.knowledge import Counts, Knowledge, believe
from analysis.diagnosis.priors import Prior
from analysis.diagnosis.visits import Visits

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
    knowledge, counts = counted, first
    suspects = choose_suspects(visits, counted)
    for _ in range(rounds):
        counts = count_again(visits, knowledge, suspects)
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
    known = visits.known.sum(axis=1)
    cleared = np.where(visits.back < 1, visits.known, 0.0) * visits.present
    success = np.divide(cleared.sum(axis=1), known, out=np.zeros_like(known), where=known > 0)
    appeal = np.where(visits.fitted, visits.present.astype(float) @ prior.link.T + 1e-9, 0.0)
    total = appeal.sum(axis=1, keepdims=True)
    share = np.divide(appeal, total, out=np.zeros_like(appeal), where=total > 0)
    credit = share * success[:, None]
    absent = (visits.read & ~visits.present).astype(float)
    told = np.where(visits.present, visits.known, absent)
    known_visit = np.minimum(known, 1.0) * visits.fitted.any(axis=1)
    faults, seen = per_make(visits, credit), per_make(visits, known_visit[:, None])
    nothing = np.zeros(prior.link.shape[1])
    return Counts(
        credit.T @ cleared, credit.T @ told, faults, seen, leaked=nothing, stayed=0.0, reads=nothing,
        sizes=np.zeros(4), renewed=np.zeros(len(credit.T)), in_vain=np.zeros(len(credit.T)),
    )  # fmt: skip
