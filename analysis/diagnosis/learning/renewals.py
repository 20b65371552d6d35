"""How often does work with a part hold if it is done now, with a part from the one who supplies it?

A supplier whose parts fail, or a batch that is bad since some month, is no matter of the part.  What became of each job
with a part is foretold from the jobs before it in several ways: from all of them alike; from those with parts of the
same supplier, as far as there are any; from the latest ones most.  Each way weighs as much as it foretold well, and all
parts together tell how often each is: where suppliers do not differ and nothing drifts, nothing changes.

Source:
    A. P. Dawid, "Present position and potential developments: some personal views. Statistical theory: the prequential
    approach", Journal of the Royal Statistical Society A 147 (1984): the likelihood of a model is the product of its
    forecasts, each made from what came before.
"""

from dataclasses import dataclass

import numpy as np

from analysis.diagnosis.inputs.training_data import Supplied
from analysis.diagnosis.model.noisy_or import Floats, Ints

STRENGTHS = (0.5, 2.0, 8.0)
"""How often jobs with any part fail may be worth so many jobs with this one, and the others' so many of a supplier."""
KEPT = (1.0, 0.8, 0.6)
"""Of what one job tells, so much is left at the next: less than all where the part drifts."""
DIFFERS, DRIFTS, PARTS = 0.06, 0.10, 20.0
"""How often suppliers differ for good, and how often there is a drift, before any job; worth so many parts."""
ROUNDS = 10
"""Rounds in which all parts say how often each way is; more change nothing that matters."""
CLEARLY = 0.10
"""Another supplier's parts have to fail so much less often before he is named."""

_FIRST = np.full((len(STRENGTHS), 2, len(KEPT)), DRIFTS / 2 / (len(KEPT) - 1))
_FIRST[:, :, 0] = 1 - DIFFERS - DRIFTS, DIFFERS
_FIRST /= len(STRENGTHS)
"""(strengths, scopes, kept) how often each way is; the first scope is all suppliers, the second one's own."""


@dataclass(frozen=True, kw_only=True)
class NewParts:
    """How much oftener jobs with a part hold than the part's jobs do on the whole: 1 where nothing differs.

    Attributes:
        row: (entries,) column of the part of each job.
        tried: (entries,) for each job, as all jobs with its supplier's parts tell.
        now: (parts,) for a part that is bought now, where one buys.
        better: (parts,) another supplier whose parts clearly did better, blank for none.
        better_now: (parts,) the same as ``now`` for one bought there.
    """

    row: Ints
    tried: Floats
    now: Floats
    better: list[str]
    better_now: Floats


class _Past:
    """The jobs with one part so far, as each way counts them: how many, and how many of them failed."""

    def __init__(self, suppliers: int):
        self.all = np.zeros((2, len(KEPT)))
        self.own = np.zeros((2, len(KEPT), suppliers))

    def add(self, who: int, failed: float) -> None:
        """Add a job with a part of one supplier."""
        kept, new = np.array(KEPT), np.array([1.0, failed])[:, None]
        self.all = kept * self.all + new
        self.own[:, :, who] = kept * self.own[:, :, who] + new

    def share(self, who: int, usual: float) -> Floats:
        """Return (strengths, scopes, kept): the share of failures of a supplier's next part.

        Args:
            who: The supplier.
            usual: The share of failures of all parts.
        """
        strength = np.array(STRENGTHS)[:, None]
        together = (strength * usual + self.all[1]) / (strength + self.all[0])
        elsewhere = self.own[:, 0].sum(axis=1) - self.own[:, 0, who]
        others = (strength * usual + elsewhere[1]) / (strength + elsewhere[0])
        alone = (strength * others + self.own[1, :, who]) / (strength + self.own[0, :, who])
        return np.stack([together, alone], axis=1)


def new_parts(supplied: Supplied, part: Ints) -> NewParts:
    """Return how much oftener jobs hold by supplier and lately.

    Args:
        supplied: The jobs with each part alone, what became of them and who supplied it, in the order of time.
        part: (parts,) number of the part, whichever place it is in.
    """
    number, many = part[supplied.row], len(supplied.names) + 1
    usual = float((supplied.failed.sum() + 1) / (len(number) + 2))
    kinds = [(int(each), np.flatnonzero(number == each)) for each in np.unique(number)]
    pasts, like = {each: _Past(many) for each, _ in kinds}, np.zeros((len(kinds), *_FIRST.shape))
    for at, (each, rows) in enumerate(kinds):
        for who, failed in zip(supplied.supplier[rows], supplied.failed[rows], strict=True):
            share = pasts[each].share(who, usual)
            like[at] += np.log(share if failed else 1 - share)
            pasts[each].add(who, failed)
    weights = dict(zip((each for each, _ in kinds), _weights(like), strict=True))
    tried = np.ones(len(number))
    for at, (each, who) in enumerate(zip(number.tolist(), supplied.supplier.tolist(), strict=True)):
        lasting = weights[each].sum(axis=2, keepdims=True)
        tried[at] = (lasting * _oftener(pasts[each].share(who, usual))[:, :, :1]).sum()
    now, better, better_now = np.ones(len(part)), [""] * len(part), np.ones(len(part))
    for row, who in enumerate(supplied.buys.tolist()):
        if (each := int(part[row])) in pasts:
            past, weight = pasts[each], weights[each]
            met = sorted({*supplied.supplier[number == each].tolist()} - {-1})
            holds = {other: float((weight * _oftener(past.share(other, usual))).sum()) for other in {*met, who}}
            fails = {other: float((weight * past.share(other, usual)).sum()) for other in holds}
            best = min(met, key=lambda other: fails[other], default=who)
            now[row] = better_now[row] = holds[who]
            if who in met and fails[best] < fails[who] - CLEARLY:
                better[row], better_now[row] = supplied.names[best], holds[best]
    return NewParts(row=supplied.row, tried=tried, now=now, better=better, better_now=better_now)


def _oftener(share: Floats) -> Floats:
    """Return how much oftener jobs hold under each way than under that which takes all jobs alike."""
    return np.asarray((1 - share) / (1 - share[:, :1, :1]))


def _weights(like: Floats) -> Floats:
    """Return (parts, ways): the chance of each way, of (parts, ways) log likelihoods."""
    ways = tuple(range(1, like.ndim))
    like = np.exp(like - like.max(axis=ways, keepdims=True, initial=-np.inf))
    usual, weight = _FIRST, like
    for _ in range(ROUNDS):
        weight = usual * like
        weight /= weight.sum(axis=ways, keepdims=True)
        usual = (_FIRST * PARTS + weight.sum(axis=0)) / (PARTS + len(like))
    return weight
