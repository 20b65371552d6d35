"""What is believed about parts and codes: counts of past visits joined with first beliefs.

Links between parts and codes are shared by all makes, but for the few codes by which makes were found to mean
different things; how often a part fails is kept per make, shrunk towards all makes as far as they are alike.
"""

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from analysis.diagnosis.model.noisy_or import Bools, Floats, Ints
from analysis.diagnosis.model.priors import PAST

TEXT_SAMPLE_SIZE, VISIT_SAMPLE_SIZE = 0.3, 1.75
"""Of the visits behind a link, those that its text is worth count so much in an interval, and learned ones so much: the
first are no visits, and a chance rests on more than its loudest link.  Fitted on drawn fleets, where intervals then
held 88 to 94 % of the true chances."""
LEAST_LEAK, MOST_LEAK = 1e-6, 0.5
"""Bounds of the chance that a code has no known cause."""
STANDING_PRIOR = 1.0
"""A code has to come back on so many cars before that is as likely no fault as one that nobody found."""
UNHEARD_OF = 6.0
"""On so many more where nothing else at this dealer is known to be set by no fault.  On invented dealers that have no
equipment at all real faults were left alone, on those that have some none was."""
SPEAKS = 0.10
"""A code that the part sets less often than this neither makes it a suspect nor speaks against it when absent."""


@dataclass(frozen=True, kw_only=True)
class NoisyOrParameters:
    """What is believed after learning; every belief a Beta with its two pseudo-counts.

    Attributes:
        link_yes: (parts, codes) visits in which the faulty part set the code.
        link_no: (parts, codes) visits in which it did not.
        fault_yes: (makes, parts) faults.
        fault_no: (makes, parts) visits without that fault.
        leak: (codes,) chance that something else sets the code.
        leak_recurrence: (codes,) chance that such a code comes back after an erase.
        leak_stayed: (codes,) expected number of such codes that came back after an erase.
        leak_strength: How many looks at a code the usual leak is worth.
        numbers: (4,) chance that a car has no, one, two or three faulty parts, before it is known to show a code.
        bad: (parts,) chance that a new one does not cure what the part did.
        bad_now: (parts,) the same of one that is bought now where one buys.
        bad_tried: (entries,) the same of each that was fitted alone, by its supplier and its time.
        cleared: (parts, codes) visits in which work with the part ended the code, as the jobs themselves say.
        better: (parts,) another supplier whose parts clearly cured more often, blank for none.
        bad_better: (parts,) how often one of his does not cure.
        learned: (parts, codes) how many visits taught the link, priors left out.
        taught: (parts, codes) how many visits with the fault taught the link, whether it set the code or not.
        standing: (parts,) the row is no part but a standing or a passing cause; these come last.
        passing: (parts,) an erase ends the cause.
        alike: (parts, codes) how many codes words of the same kind tie to the part.
        elsewhere: (parts,) another dealer whose jobs are learned from worked on the part.
        doubt: (parts,) on how many cars a standing cause has to be seen before it is as likely none as not.
        apart: (s,) columns of the codes that are split by make.
        own: (4, makes, parts, s) ``link_yes``, ``link_no``, ``learned`` and ``taught`` of these codes by make.
        past: (2,) chance that nothing is wrong today with a car of which no code is active: of one that nobody worked
            on yet, and of one that somebody did.
        make_names: Makes of the rows; a make never seen is answered by the blank one, the last row.
    """

    link_yes: Floats
    link_no: Floats
    fault_yes: Floats
    fault_no: Floats
    leak: Floats
    leak_recurrence: Floats
    leak_stayed: Floats
    leak_strength: float
    numbers: Floats
    bad: Floats
    learned: Floats
    taught: Floats
    standing: Bools
    passing: Bools
    alike: Floats
    make_names: list[str]
    past: Floats = field(default_factory=lambda: np.full(2, PAST))
    bad_now: Floats = field(default_factory=lambda: np.zeros(0))
    bad_tried: Floats = field(default_factory=lambda: np.zeros(0))
    better: list[str] = field(default_factory=list)
    bad_better: Floats = field(default_factory=lambda: np.zeros(0))
    cleared: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    elsewhere: Bools = field(default_factory=lambda: np.zeros(0, dtype=bool))
    doubt: Floats = field(default_factory=lambda: np.zeros(0))
    apart: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    own: Floats = field(default_factory=lambda: np.zeros((4, 0, 0, 0)))

    def at(self, make: int) -> "NoisyOrParameters":
        """Return what is believed of the cars of one make: the same, but for the codes that are split by make.

        Args:
            make: Row of ``make_names``; for a make never seen all makes together answer.
        """
        if not len(self.apart) or not 0 <= make < self.own.shape[1]:
            return self
        if make not in self._by_make:
            told = {}
            for name, own in zip(("link_yes", "link_no", "learned", "taught"), self.own[:, make], strict=True):
                told[name] = getattr(self, name).copy()
                told[name][:, self.apart] = own
            self._by_make[make] = replace(self, **told, apart=self.apart[:0])
        return self._by_make[make]

    @cached_property
    def _by_make(self) -> "dict[int, NoisyOrParameters]":
        return {}

    @property
    def bad_today(self) -> Floats:
        """Return (parts,): the chance that a new one does not cure, bought today where one buys."""
        return self.bad_now if len(self.bad_now) else self.bad

    @property
    def proven_clears(self) -> Floats:
        """Return (parts, codes): visits in which work with the part is proven to have ended the code."""
        return self.cleared if self.cleared.size else np.zeros_like(self.learned)

    @cached_property
    def link(self) -> Floats:
        """Return (parts, codes): the mean chance that the faulty part sets the code."""
        return np.asarray(self.link_yes / (self.link_yes + self.link_no))

    @cached_property
    def effective_sample_size(self) -> Floats:
        """Return (parts, codes): how many independent visits the link is worth in an interval."""
        return np.asarray(
            TEXT_SAMPLE_SIZE * (self.link_yes + self.link_no - self.taught) + VISIT_SAMPLE_SIZE * self.taught
        )

    @cached_property
    def log_lik_absent(self) -> Floats:
        """Return (parts, codes): log chance that the part leaves the code alone, 0 where no code is expected.

        What words alone say of several codes is one statement, right or wrong of all of them together, so the codes
        that they tie to a part share its weight; what visits taught of each code counts by itself.
        """
        told = np.where(self.link >= SPEAKS, np.log1p(-np.minimum(self.link, 1 - 1e-12)), 0.0)
        learned = np.minimum(self.taught / (self.link_yes + self.link_no), 1.0)
        return np.asarray(told * (learned + (1 - learned) / self.alike))

    @cached_property
    def no_fault(self) -> Floats:
        """Return (codes,): the chance that what sets a code again and again, though no known part does, is no fault.

        Equipment, a coding or a quirk of the line: it comes back on one car after another and no part ever cleared it.
        A code that came back once may as well be a fault that nobody found.
        """
        groups = (self.link > 0) & (self.standing & ~self.passing)[:, None]
        doubt = np.where(groups, self._doubt[:, None], np.inf).min(axis=0, initial=np.inf)
        doubt = np.where(np.isfinite(doubt), doubt, STANDING_PRIOR)
        return np.asarray(self.leak_stayed / (self.leak_stayed + doubt + self.learned[~self.standing].sum(axis=0)))

    @cached_property
    def group_no_fault(self) -> Floats:
        """Return (parts,): the same for what sets a whole group of codes; 0 for parts and what passes."""
        seen = self.taught.max(axis=1, initial=0.0)
        return np.asarray(np.where(self.standing & ~self.passing, seen / (seen + self._doubt), 0.0))

    @property
    def _doubt(self) -> Floats:
        return self.doubt if len(self.doubt) else np.full(len(self.standing), STANDING_PRIOR)

    @cached_property
    def fault(self) -> Floats:
        """Return (makes, parts): the mean chance that the part is faulty."""
        return np.asarray(self.fault_yes / (self.fault_yes + self.fault_no))

    @cached_property
    def sizes(self) -> Floats:
        """Return (makes, 4): log weight of a set of that size, so that the sizes come as often as ``numbers`` says."""
        odds = np.where(self.standing, 0.0, self.fault / (1 - self.fault))
        one, two, three = (np.sum(odds**power, axis=1) for power in (1, 2, 3))
        # Newton's identities: the summed odds of all sets of one, two and three parts.
        sums = np.stack([np.ones_like(one), one, (one**2 - two) / 2, (one**3 - 3 * one * two + 2 * three) / 6], axis=1)
        return np.asarray(np.log(self.numbers) - np.log(np.maximum(sums, 1e-12)))
