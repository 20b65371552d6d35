"""What is believed about parts and codes: counts of past visits joined with first beliefs.

Links between parts and codes are shared by all makes; how often a part fails is
kept per make, leaning on all makes where a make has few visits.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import betaln

from analysis.diagnosis.model.noisy_or import Floats
from analysis.diagnosis.model.priors import (
    BAD_ALL,
    BAD_LEANS,
    BAD_NEW_PART,
    FAULT,
    FAULT_VISITS,
    LEAK,
    LEAK_READS,
    LEAK_VISITS,
    NUMBERS,
    NUMBERS_VISITS,
    RETURN_AFTER_ERASE,
    RETURN_VISITS,
    Prior,
)

MAKE_VISITS = 40.0
"""A make with fewer visits than this leans more on all makes together."""
TEXT_WORTH, VISIT_WORTH = 0.3, 1.75
"""Of the visits behind a link, those that its text is worth count so much in an interval, and learned ones so much: the
first are no visits, and a chance rests on more than its loudest link.  Fitted on drawn fleets, where intervals then
held 88 to 94 % of the true chances."""
SPEAKS = 0.10
"""A code that the part sets less often than this neither makes it a suspect nor speaks against it when absent."""


@dataclass(frozen=True)
class Knowledge:
    """What is believed after learning; every belief a Beta with its two pseudo-counts.

    Attributes:
        link_yes: (parts, codes) visits in which the faulty part set the code.
        link_no: (parts, codes) visits in which it did not.
        fault_yes: (makes, parts) faults.
        fault_no: (makes, parts) visits without that fault.
        leak: (codes,) chance that something else sets the code.
        persist: Chance that such a code comes back after an erase.
        numbers: (4,) chance that a car has no, one, two or three faulty parts, before it is known to show a code.
        bad: (parts,) chance that a new one does not cure what the part did.
        learned: (parts, codes) how many visits taught the link, priors left out.
        taught: (parts, codes) how many visits with the fault taught the link, whether it set the code or not.
        make_names: Makes of the rows; a make never seen is answered by the blank one, the last row.
    """

    link_yes: Floats
    link_no: Floats
    fault_yes: Floats
    fault_no: Floats
    leak: Floats
    persist: float
    numbers: Floats
    bad: Floats
    learned: Floats
    taught: Floats
    make_names: list[str]

    @cached_property
    def link(self) -> Floats:
        """Return (parts, codes): the mean chance that the faulty part sets the code."""
        return np.asarray(self.link_yes / (self.link_yes + self.link_no))

    @cached_property
    def worth(self) -> Floats:
        """Return (parts, codes): how many independent visits the link is worth in an interval."""
        return np.asarray(TEXT_WORTH * (self.link_yes + self.link_no - self.taught) + VISIT_WORTH * self.taught)

    @cached_property
    def quiet(self) -> Floats:
        """Return (parts, codes): log chance that the part leaves the code alone, 0 where no code is expected."""
        return np.asarray(np.where(self.link >= SPEAKS, np.log1p(-np.minimum(self.link, 1 - 1e-12)), 0.0))

    @cached_property
    def fault(self) -> Floats:
        """Return (makes, parts): the mean chance that the part is faulty."""
        return np.asarray(self.fault_yes / (self.fault_yes + self.fault_no))

    @cached_property
    def sizes(self) -> Floats:
        """Return (makes, 4): log weight of a set of that size, so that the sizes come as often as ``numbers`` says."""
        odds = self.fault / (1 - self.fault)
        one, two, three = (np.sum(odds**power, axis=1) for power in (1, 2, 3))
        # Newton's identities: the summed odds of all sets of one, two and three parts.
        sums = np.stack([np.ones_like(one), one, (one**2 - two) / 2, (one**3 - 3 * one * two + 2 * three) / 6], axis=1)
        return np.asarray(np.log(self.numbers) - np.log(np.maximum(sums, 1e-12)))


@dataclass(frozen=True)
class Counts:
    """Raw counts of one estimator: expected numbers over all visits, priors left out."""

    set_by: Floats
    chances: Floats
    faults: Floats
    visits: Floats
    leaked: Floats
    stayed: float
    reads: Floats
    sizes: Floats
    renewed: Floats
    in_vain: Floats


def believe(counts: Counts, prior: Prior, make_names: list[str]) -> Knowledge:
    """Join counts and priors into beliefs.

    Args:
        counts: Counts of one estimator or the average of several.
        prior: The beliefs before any visit.
        make_names: Rows of the per-make counts.

    Returns:
        The knowledge; its last row, for a make never seen, is all makes together.
    """
    taught = np.maximum(counts.chances, counts.set_by)
    yes = prior.link * prior.visits + counts.set_by
    no = (1 - prior.link) * prior.visits + taught - counts.set_by
    all_faults, all_visits = counts.faults.sum(axis=0), counts.visits.sum()
    pooled = (FAULT * FAULT_VISITS + all_faults) / (FAULT_VISITS + all_visits)
    fault_yes = np.vstack([MAKE_VISITS * pooled + counts.faults, (FAULT_VISITS + all_visits) * pooled])
    total = np.append(MAKE_VISITS + counts.visits[:, 0], FAULT_VISITS + all_visits)[:, None]
    usual_leak = (LEAK * LEAK_READS + counts.leaked.sum()) / (LEAK_READS + counts.reads.sum())
    leak = (usual_leak * LEAK_VISITS + counts.leaked) / (LEAK_VISITS + counts.reads)
    persist = (RETURN_AFTER_ERASE * RETURN_VISITS + counts.stayed) / (RETURN_VISITS + counts.leaked.sum())
    numbers = np.array(NUMBERS) * NUMBERS_VISITS + counts.sizes
    numbers[0] /= _shown_without_fault(leak, counts)
    bad = _bad_new_parts(counts)
    return Knowledge(
        yes, no, fault_yes, np.maximum(total - fault_yes, 1e-9), np.clip(leak, 1e-6, 0.5),
        float(np.clip(persist, 0.02, 0.98)), numbers / numbers.sum(), bad, counts.set_by, taught,
        [*make_names, ""],
    )  # fmt: skip


def _bad_new_parts(counts: Counts) -> Floats:
    """Return (parts,): the chance that a new part does not cure, each leaning on the others as far as parts are alike.

    Every strength of leaning is weighed by the beta-binomial likelihood of what became of all parts; before that,
    the weaker is the likelier.

    Source:
        B. Efron and C. Morris, "Data analysis using Stein's estimator and its generalizations", Journal of the
        American Statistical Association 70 (1975): how far to lean is told by how far the parts differ.
    """
    vain, cured = counts.in_vain, np.maximum(counts.renewed - counts.in_vain, 0.0)
    others = (vain + cured).sum() - (vain + cured)
    usual = (BAD_NEW_PART * BAD_ALL + vain.sum() - vain) / (BAD_ALL + others)
    lean = np.array(BAD_LEANS)[:, None]
    yes, no = usual * lean, (1 - usual) * lean
    like = (betaln(yes + vain, no + cured) - betaln(yes, no)).sum(axis=1) - np.log(lean[:, 0]) / 2
    weight = np.exp(like - like.max())
    return np.asarray(weight / weight.sum() @ ((yes + vain) / (lean + vain + cured)))


def _shown_without_fault(leak: Floats, counts: Counts) -> float:
    """Return the chance that a car without a faulty part shows a code at all.

    Only cars that show one are brought in, so of those without a fault fewer are seen than there are: the share
    among the visits has to be divided by this chance (a truncated sample).
    """
    visits = counts.visits.sum()
    read = (counts.reads + 1) / (visits + 1) if counts.reads.any() else np.ones(len(leak))
    return float(np.clip(-np.expm1(-(leak * read).sum()), 0.02, 1.0))
