"""How often is something still there, after every choice of parts that were renewed?

Given which parts are at fault, what is seen depends on which of them are still there, and
each renewed part is cured on its own.  So the chance of anything seen is a polynomial in
the parts' chances to be cured, of degree one in each and with three parts at most in a
term.  Its terms are collected once over all sets of faulty parts; then all states of the
work are read off it, one part after the other.
"""

from collections.abc import Sequence

import numpy as np

from analysis.diagnosis.decision.repair_model import LEFT, RepairModel
from analysis.diagnosis.model.noisy_or import Floats

TERMS = np.array([[np.prod(np.where(term > 0, 1 - 2 * row, row)) for row in LEFT] for term in LEFT])
"""(8, 8): what the value for each way in which members are still at fault adds to the factor of each term: with g the
chance that a member is cured, g times the one plus (1 - g) times the other."""


def outlook(repair: RepairModel, seen: Floats, parts: Sequence[int], cured: Sequence[Sequence[float]]) -> Floats:
    """Return how often each of some things is seen in every state of the work.

    Args:
        repair: The car.
        seen: (rows, s, 8) chance of each thing, per true set and per members still at fault.
        parts: The n parts whose work makes up the state; all others stay as they are.
        cured: For each of them, the chance that it is cured for each value of its digit.

    Returns:
        (rows, states) over all cars; the first part's digit counts up fastest.

    Source:
        G. Owen, "Multilinear extensions of games", Management Science 18 (1972).
    """
    bit, factor = np.zeros(repair.link.shape[0] + 1, dtype=np.intp), repair.untouched.cured.copy()
    bit[list(parts)], factor[list(parts)] = 2 ** np.arange(len(parts)), 1.0
    members = repair.members
    place = bit[members] @ (LEFT.T > 0)
    weight = np.where(LEFT[None] > 0, factor[members][:, None, :], 1.0).prod(axis=2) * repair.chance[:, None]
    told = seen @ TERMS.T
    some = weight.ravel() != 0
    where, much = place.ravel()[some], weight.ravel()[some]
    # Sorted once for all rows: a sum over each run of equal places.
    order = np.argsort(where, kind="stable")
    where, terms = where[order], told.reshape(len(seen), -1)[:, np.flatnonzero(some)[order]] * much[order]
    first = np.flatnonzero(np.diff(where, prepend=-1))
    # All rows of a state stand together, so that each step runs through long stretches of memory.
    table: Floats = np.zeros((2 ** len(parts), len(seen)))
    table[where[first]] = np.add.reduceat(terms, first, axis=1).T
    done = 1
    for values in cured:
        pair = table.reshape(-1, 2, done * len(seen))
        table = pair[:, :1] + np.array(values)[:, None] * pair[:, 1:]
        done *= len(values)
    return np.ascontiguousarray(table.reshape(done, len(seen)).T)
