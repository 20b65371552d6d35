"""One round of learning: weigh every past visit under what is believed so far, then count.

The visits are laid out side by side in blocks, filled up to the same number of
parts and codes, so that hundreds are weighed at once.
"""

import numpy as np

from analysis.diagnosis.inputs.training_data import Visits
from analysis.diagnosis.learning.leave_one_out import Indices, Share, without_own
from analysis.diagnosis.model.noisy_or import Cases, Floats, expected_counts, weigh_sets
from analysis.diagnosis.model.parameters import SPEAKS, Counts, Knowledge

MOST_PARTS = 8
BLOCK = 400_000
"""Numbers in one array of a block; more would not fit the processor's cache."""


def choose_suspects(visits: Visits, knowledge: Knowledge, quiet: Floats) -> list[list[int]]:
    """Return the parts worth weighing for each visit: those fitted, then those that explain most.

    Args:
        visits: The jobs.
        knowledge: What is believed so far.
        quiet: From ``quiet_parts``.

    Returns:
        One list of at most ``MOST_PARTS`` part indices per visit, sorted.
    """
    gain = np.log1p(knowledge.link / knowledge.leak)
    speaks, fault = (knowledge.link >= SPEAKS).T.astype(float), np.log(knowledge.fault)
    chosen = []
    for run in visits.runs():
        present = visits.present(run)
        score = present.astype(float) @ gain.T + fault[visits.makes[run]] + quiet[run]
        suspect = present.astype(float) @ speaks > 0
        score = np.where(visits.worked_on[run], np.inf, np.where(suspect, score, -np.inf))
        order = np.argsort(-score, axis=1, kind="stable")[:, :MOST_PARTS]
        chosen += [sorted(int(i) for i in row if score[v, i] > -np.inf) for v, row in enumerate(order)]
    return chosen


def count_again(visits: Visits, knowledge: Knowledge, before: list[Share]) -> tuple[Counts, list[Share]]:
    """Weigh every visit under what the others say so far and count in expectation.

    The suspects are chosen anew each time: what one round has learned can make one of a part that no text names.

    Args:
        visits: The jobs.
        knowledge: What is believed so far.
        before: What each block of visits contributed to that belief, from the round before; empty in the first.

    Returns:
        The expected counts, and what each block contributes to them.
    """
    parts, codes = knowledge.link_yes.shape
    set_by, leaked, stayed = np.zeros((parts, codes)), np.zeros(codes), 0.0
    faulty, sizes, ends = np.zeros((len(visits.jobs), parts)), np.zeros(4), np.zeros((2, parts))
    quiet, shares = quiet_parts(visits, knowledge), list[Share]()
    suspects = choose_suspects(visits, knowledge, quiet)
    for number, block in enumerate(_blocks(visits)):
        who, what, cases = _cases(visits, knowledge, suspects, block, quiet)
        if before:
            cases = without_own(cases, (who, what), knowledge, before[number], visits.reads)
        weights = weigh_sets(cases)
        tally = expected_counts(cases, weights)
        real, shown = who >= 0, cases.shown
        np.add.at(faulty, (block[:, None] + 0 * who, who), np.where(real, tally.faulty, 0.0))
        np.add.at(set_by, (who[:, :, None], what[:, None, :]), tally.set_by * real[:, :, None])
        np.add.at(leaked, what, tally.leaked * shown)
        np.add.at(ends[0], who, tally.renewed * real)
        np.add.at(ends[1], who, tally.in_vain * real)
        stayed += float((tally.stayed * shown).sum())
        sizes += weights.sizes().sum(axis=0)
        shares.append(Share(who, tally))
    chances = np.zeros((parts, codes))
    for run in visits.runs():
        chances += faulty[run].T @ visits.read(run).astype(float)
    seen = per_make(visits, np.ones((len(visits.jobs), 1)))
    return Counts(set_by, chances, per_make(visits, faulty), seen, leaked, stayed, visits.reads, sizes, *ends), shares


def quiet_parts(visits: Visits, knowledge: Knowledge) -> Floats:
    """Return (n, parts): the logarithm of the chance that the faulty part set none of the absent codes."""
    found = [(visits.read(run) & ~visits.present(run)).astype(float) @ knowledge.quiet.T for run in visits.runs()]
    return np.concatenate([np.zeros((0, len(knowledge.quiet))), *found])


def _blocks(visits: Visits) -> list[Indices]:
    """Return visits of as many attempts and about as many codes together."""
    present = np.diff(visits.first)
    order = np.lexsort((present, visits.many))
    blocks, start = [], 0
    while start < len(order):
        jobs, codes = int(visits.many[order[start]]), int(present[order[start]])
        size = max(1, int(BLOCK / (93 * jobs * 2 ** (jobs - 1) * max(1, codes + 2))))
        alike = order[start : start + size]
        blocks.append(alike[visits.many[alike] == jobs])
        start += len(blocks[-1])
    return blocks


def _cases(
    visits: Visits, knowledge: Knowledge, suspects: list[list[int]], block: Indices, quiet: Floats
) -> tuple[Indices, Indices, Cases]:
    """Lay the chosen visits out side by side, filled up to the same number of parts and codes."""
    who = _filled([np.array(suspects[int(v)], dtype=int) for v in block])
    entry = _filled([np.arange(visits.first[v], visits.first[v + 1]) for v in block])
    what = np.where(entry >= 0, visits.code[entry], -1)
    line, jobs = block[:, None], slice(int(visits.many[block[0]]))
    real, shown = who >= 0, what >= 0
    fault = np.where(real, knowledge.fault[visits.makes[line], who], 0.0)
    link = knowledge.link[who[:, :, None], what[:, None, :]] * real[:, :, None] * shown[:, None, :]
    return who, what, Cases(
        fault, np.where(real, quiet[line, who], 0.0), link, np.where(shown, knowledge.leak[what], 0.0), shown,
        visits.fitted[line, jobs, who].swapaxes(1, 2) & real[:, None], _by_job(visits.gone[entry, jobs]),
        _by_job(visits.back[entry, jobs]), knowledge.persist,
        knowledge.bad[who], knowledge.sizes[visits.makes[block]],
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
