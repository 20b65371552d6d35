"""What one place of a part teaches the others: four wheels have one kind of sensor, a code tells of one or of all.

A part in several places fails in each about as often, and a code that says nothing of the place is set from each.
Other codes tell of one place, and repairs tell which: if the left sensor cleared a code again and again, the
right one is no suspect for it, whichever part it was that stood there.  Both are learned: every code is weighed as one
that all places of a part set alike, and as one that belongs to a single place.
"""

import numpy as np

from analysis.diagnosis.model.noisy_or import Bools, Floats, Ints
from analysis.diagnosis.model.priors import Prior

PLACED = 0.5
"""Chance that a code of a part in several places tells of one of them, before anything is known of it."""
MISPLACED = 0.1
"""So many of the clears of a code that tells of one place are booked on another: written down wrong, or by chance."""
CONTRADICTED = 0.05
"""A text that names a place is wrong, or says more than the code does, this often."""
KIN = 0.5
"""What other places taught of a code that is set from all of them alike counts so much of what its own place taught."""
PLACE_STRENGTHS = (1.0, 2.0, 4.0, 8.0, 16.0, 32.0)
"""That a part fails in all its places alike may count as much as so many faults; how far it does, all parts tell."""


def shared_faults(faults: Floats, prior: Prior, usual: float, visits: float, looked: float) -> Floats:
    """Return (rows,): the chance that a part fails in a place, of all makes together.

    Args:
        faults: (rows,) expected faults.
        prior: For the places of each part.
        usual: The chance that a part fails, in whichever place.
        visits: How many visits that is worth.
        looked: Visits that were learned from.
    """
    whole = np.asarray(np.bincount(prior.part, faults), dtype=np.float64)[prior.part]
    alike = np.asarray(np.bincount(prior.part), dtype=np.float64)[prior.part]
    part = (usual * visits + whole) / (visits + looked)
    strength = _place_strength(faults, whole, alike, prior.part)
    return np.asarray(part * (strength / alike + faults) / (strength + whole))


def _place_strength(faults: Floats, whole: Floats, alike: Floats, part: Ints) -> float:
    """Return how many faults it is worth that the places of a part fail alike.

    Args:
        faults: (rows,) expected faults.
        whole: (rows,) those of the part in all its places.
        alike: (rows,) how many places the part has.
        part: (rows,) number of the part.

    Source:
        T. P. Minka, "Estimating a Dirichlet distribution" (2000): the likelihood of the Dirichlet-multinomial, here
        with one strength for all parts, the places of each alike before anything is counted.
    """
    from scipy.special import gammaln  # noqa: PLC0415 - a question to a fitted model goes without

    several = alike > 1
    first = several & np.isin(np.arange(len(part)), np.unique(part, return_index=True)[1])
    grid = np.array(PLACE_STRENGTHS)[:, None]
    like = (gammaln(grid) - gammaln(grid + whole[first])).sum(axis=1)
    each = grid / alike[several]
    like += (gammaln(each + faults[several]) - gammaln(each)).sum(axis=1) - np.log(grid[:, 0]) / 2
    weight = np.exp(like - like.max())
    return float(weight @ grid[:, 0] / weight.sum())


def steer(set_by: Floats, taught: Floats, prior: Prior) -> tuple[Floats, Floats, Floats]:
    """Let the places of a part learn from each other.

    Args:
        set_by: (rows, codes) expected faults that set the code.
        taught: (rows, codes) expected faults in which the code's presence or absence is known.
        prior: For the places of each part, and the places that texts name.

    Returns:
        ``(factor, yes, no)``, each (rows, codes): what the first belief of a link is multiplied with, and what the
        other places add to its counts.
    """
    factor, yes, no = np.ones_like(set_by), np.zeros_like(set_by), np.zeros_like(set_by)
    told = np.zeros((int(prior.place.max(initial=-1)) + 1, set_by.shape[1]))
    placed = prior.place >= 0
    np.add.at(told, prior.place[placed], set_by[placed])
    for rows in (np.flatnonzero(prior.part == part) for part in np.unique(prior.part[placed])):
        if len(rows) > 1:
            common, own = _places_of(told[prior.place[rows]], prior.elsewhere[rows], prior.network)
            factor[rows] = np.minimum((common + own) / (1 - PLACED + PLACED / len(rows)), 1.0)
            others = set_by[rows].sum(axis=0) - set_by[rows], taught[rows].sum(axis=0) - taught[rows]
            yes[rows] = KIN * common * others[0]
            no[rows] = KIN * common * np.maximum(others[1] - others[0], 0.0)
    return factor, yes, no


def _places_of(told: Floats, elsewhere: Bools, network: Bools) -> tuple[Floats, Floats]:
    """Return the chance (codes,) that a code is set from all places alike, and (places, codes) from one alone.

    A code that tells that another module is not heard tells of no place, however often one of them failed.
    """
    places = len(told)
    total = told.sum(axis=0)
    alone = told * np.log(1 - MISPLACED) + (total - told) * np.log(MISPLACED / (places - 1))
    alone += np.log(PLACED / places) + np.where(elsewhere, np.log(CONTRADICTED), 0.0)
    alike = np.log(1 - PLACED) - total * np.log(places) + np.where(elsewhere.any(axis=0), np.log(CONTRADICTED), 0.0)
    score = np.vstack([alike, alone])
    weight = np.exp(score - score.max(axis=0))
    weight /= weight.sum(axis=0)
    return np.where(network, 1.0, weight[0]), np.where(network, 0.0, weight[1:])
