"""What past repairs teach about parts and codes: two estimators, averaged.

The first counts once: a part that was fitted and after which the codes stayed away
is credited with them.  The second, expectation and maximisation, weighs for every
visit which faults would explain both scans, by what other visits say of its codes,
learns from that, and repeats.  The count is steady with few visits, the other sharper with many; their average beat
either in drawn fleets whose truth is known.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from analysis.diagnosis.inputs.training_data import Bools, Floats, Visits
from analysis.diagnosis.learning.e_step import Counts, Share, e_step
from analysis.diagnosis.learning.places import shared_faults, steer
from analysis.diagnosis.learning.renewals import NewParts, new_parts
from analysis.diagnosis.model.parameters import LEAST_LEAK, MOST_LEAK, NoisyOrParameters
from analysis.diagnosis.model.priors import (
    BAD_ALL,
    BAD_NEW_PART,
    BAD_STRENGTHS,
    FAULT,
    FAULT_VISITS,
    LEAK,
    LEAK_READS,
    LEAK_STRENGTHS,
    NUMBERS,
    NUMBERS_VISITS,
    PASSES_NOT,
    PASSES_VISITS,
    RETURN_AFTER_ERASE,
    RETURN_STRENGTHS,
    RETURN_VISITS,
    UNTOLD,
    UNTOLD_LOOKS,
    Prior,
)
from analysis.progress import each

MOST_CURES = 0.99
"""No supplier's new parts cure for certain."""
CREDITED, EQUAL = 0.5, 1e-9
"""A part has cleared a code on a car where the end is proven and at least so much of the credit is its own."""
ROUNDS = 6
"""Rounds of expectation and maximisation."""
MAKE_STRENGTHS = (1.0, 2.0, 5.0, 10.0, 20.0, 40.0)
MAKE_USUAL, MAKE_PARTS = (0.01, 0.01, 0.02, 0.02, 0.04, 0.90), 20.0
"""That a part fails at all makes alike is worth one of so many visits, with these chances before anything is counted:
most parts do.  The chances are worth so many parts."""
MAKE_VISITS = MAKE_STRENGTHS[-1]
MIXING_ROUNDS = 10
"""Rounds in which all parts say how often each strength is; more change nothing that matters."""


def fit_parameters(visits: Visits, prior: Prior, rounds: int = ROUNDS, told: Counts | None = None) -> NoisyOrParameters:
    """Learn from past jobs.

    Args:
        visits: The jobs, in any order.
        prior: The beliefs before any job.
        rounds: Rounds of expectation and maximisation.
        told: What the jobs of other dealers taught, each counted as far as it is believed.

    Returns:
        The average of both estimators; with no visits, the priors and what others taught.
    """
    return _learned(visits, prior, rounds, told)[0]


def taught_by(visits: Visits, prior: Prior) -> Counts:
    """Return what jobs teach by themselves: the average of both estimators, to be added to what others teach.

    Args:
        visits: The jobs of one dealer.
        prior: The beliefs before any job.
    """
    return _learned(visits, prior, ROUNDS, None)[1]


def _learned(visits: Visits, prior: Prior, rounds: int, told: Counts | None) -> tuple[NoisyOrParameters, Counts]:
    """Return what is learned, and what the visits alone counted of it."""
    if not visits.jobs:
        first = single_pass_counts(visits, prior)
        return m_step(first.plus(told), prior, visits.make_names), first
    done = rounds_of(visits, prior, rounds, told)
    both = _between(done.first, done.counts, prior.standing)
    return done.parameters_of(both, told), both


@dataclass(frozen=True, kw_only=True)
class Rounds:
    """Where expectation and maximisation has got to.

    Attributes:
        visits: The jobs.
        prior: The beliefs before any job.
        suppliers: What new parts of one supplier, and those fitted lately, do otherwise than the part does.
        first: What the single pass counted.
        counts: What the last round counted.
        parameters: What is believed after it.
        shares: What each visit gave to it; None before the first.
    """

    visits: Visits
    prior: Prior
    suppliers: NewParts
    first: Counts
    counts: Counts
    parameters: NoisyOrParameters
    shares: Share | None

    def parameters_of(self, counts: Counts, told: Counts | None) -> NoisyOrParameters:
        """Return what is believed after such counts, with what other dealers' jobs taught."""
        return _with_suppliers(m_step(counts.plus(told), self.prior, self.visits.make_names), self.suppliers)

    def after(self, told: Counts | None, *, foretell: bool = False) -> "Rounds":
        """Return where one more round leads to."""
        counts, shares = e_step(self.visits, self.parameters, self.shares, told, foretell=foretell)
        return replace(self, counts=counts, shares=shares, parameters=self.parameters_of(counts, told))


def rounds_of(visits: Visits, prior: Prior, rounds: int = ROUNDS, told: Counts | None = None) -> Rounds:
    """Start with the single pass and go some rounds.

    Args:
        visits: The jobs.
        prior: The beliefs before any job.
        rounds: How many.
        told: What the jobs of other dealers taught.
    """
    suppliers, first = new_parts(visits.supplied, prior.part), single_pass_counts(visits, prior)
    start = _with_suppliers(m_step(first.plus(told), prior, visits.make_names), suppliers)
    done = Rounds(
        visits=visits, prior=prior, suppliers=suppliers, first=first, counts=first, parameters=start, shares=None
    )
    for _ in each(range(rounds)):
        done = done.after(told)
    return done


def _with_suppliers(parameters: NoisyOrParameters, told: NewParts) -> NoisyOrParameters:
    """Add what new parts of one supplier, and those fitted lately, did otherwise than the part does."""
    bad, entries = parameters.bad, told.row
    return replace(
        parameters,
        bad_now=1 - np.minimum((1 - bad) * told.now, MOST_CURES),
        bad_tried=1 - np.minimum((1 - bad[entries]) * told.tried, MOST_CURES),
        better=told.better,
        bad_better=1 - np.minimum((1 - bad) * told.better_now, MOST_CURES),
    )


def _between(one: Counts, other: Counts, standing: Bools) -> Counts:
    """Average what both estimators count; leaks, new parts in vain and standing causes the second alone counts.

    What the jobs themselves say of clears the first counts.
    """
    averaged = ("set_by", "chances", "faults", "visits", "set_by_make", "chances_make")
    both = {name: (getattr(one, name) + getattr(other, name)) / 2 for name in averaged}
    for name in ("set_by", "chances"):
        both[name][standing] = getattr(other, name)[standing]
        both[f"{name}_make"][:, standing] = getattr(other, f"{name}_make")[:, standing]
    both["faults"][:, standing] = other.faults[:, standing]
    return replace(other, **both, cleared=one.cleared)


def single_pass_counts(visits: Visits, prior: Prior) -> Counts:
    """Count each attempt once: the fitted part is credited with the codes that stayed away.

    Several parts fitted at once share the credit by how well the texts of the codes speak for each.

    Args:
        visits: The visits.
        prior: For the sharing.

    Returns:
        The counts.
    """
    from analysis.evidence.cleared import PROVEN  # noqa: PLC0415 - a question to a fitted model goes without

    parts, codes = prior.link.shape
    set_by, chances, proven = (np.zeros((parts, codes)) for _ in range(3))
    set_by_make = np.zeros((len(visits.make_names), parts, len(prior.apart)))
    chances_make = np.zeros_like(set_by_make)
    faults, seen = np.zeros((len(visits.make_names), parts)), np.zeros((len(visits.make_names), 1))
    for look in visits.looks:
        line, many = np.repeat(np.arange(len(look.visits)), np.diff(look.there.indptr)), visits.many[look.visits]
        there, told = np.ones(len(line), dtype=bool), np.ones(len(line))
        credited, looked = np.zeros((len(look.visits), parts)), np.zeros(len(look.visits))
        for attempt in range(int(many.max(initial=0))):
            lik_cleared, lik_recurred, known = (each[look.entries, attempt] for each in visits.ends)
            open_now = there & (many > attempt)[line]
            fitted = visits.fitted[look.visits, attempt] & ~prior.standing
            known = np.where(open_now, known, 0.0)
            cleared = np.where(lik_recurred < lik_cleared, known, 0.0)
            told = np.where(open_now, known, told)
            tried, success = (look.of_entries(each).sum(axis=1) for each in (known, cleared))
            credit = _credit(look.of_entries(open_now), fitted, tried, success, prior)
            credit = np.minimum(credit, 1 - credited)  # one fault, however many attempts cleared some of it
            ended = open_now & (lik_recurred * PROVEN <= lik_cleared * (1 - PROVEN) + EQUAL)
            proven += (look.of_entries(ended).T @ (credit >= CREDITED).astype(float)).T
            cleared_by = (look.of_entries(cleared).T @ credit).T
            known_with = look.read(credit) + (look.of_entries(told - 1).T @ credit).T
            set_by += cleared_by
            chances += known_with
            set_by_make[look.make] += cleared_by[:, prior.apart]
            chances_make[look.make] += known_with[:, prior.apart]
            credited += credit
            looked = np.maximum(looked, np.minimum(tried, 1.0) * fitted.any(axis=1))
            there = open_now & (lik_cleared <= lik_recurred)
        faults[look.make] += credited.sum(axis=0)
        seen[look.make] += looked.sum()
    nothing, no_part = np.zeros(codes), np.zeros(parts)
    return Counts(
        set_by=set_by, chances=chances, faults=faults, visits=seen, leaked=nothing, stayed=nothing,
        reads=nothing, sizes=np.zeros(4), renewed=no_part, in_vain=no_part, trials=no_part,
        cleared=proven,
        set_by_make=set_by_make, chances_make=chances_make,
    )  # fmt: skip


def _credit(present: Any, fitted: Bools, known: Floats, cleared: Floats, prior: Prior) -> Floats:
    """Return (visits, parts): how much of what was cleared each fitted part is credited with.

    Args:
        present: (visits, codes), sparse: 1 where the code was there.
        fitted: (visits, parts).
        known: (visits,) how well the ends of them are known, added up.
        cleared: (visits,) the same of those that are gone.
        prior: For the sharing.
    """
    success = np.divide(cleared, known, out=np.zeros_like(known), where=known > 0)
    appeal = np.where(fitted, present @ prior.link.T + 1e-9, 0.0)
    total = appeal.sum(axis=1, keepdims=True)
    share = np.divide(appeal, total, out=np.zeros_like(appeal), where=total > 0)
    return np.asarray(share * success[:, None])


def m_step(counts: Counts, prior: Prior, make_names: list[str]) -> NoisyOrParameters:
    """The M step: join counts and priors into parameters.

    Args:
        counts: Counts of one estimator or the average of several.
        prior: The beliefs before any visit.
        make_names: Rows of the per-make counts.

    Returns:
        The parameters; their last row, for a make never seen, is all makes together.
    """
    taught = np.maximum(counts.chances, counts.set_by)
    prior = with_common_links(prior, counts.set_by, taught)
    set_by, chances = counts.set_by + lean(counts.set_by, prior), taught + lean(taught, prior)
    yes, no = _links(set_by, chances, prior)
    all_faults, all_visits = counts.faults.sum(axis=0), counts.visits.sum()
    pooled = shared_faults(all_faults, prior, FAULT, FAULT_VISITS, all_visits)
    by_make = _by_make(counts, pooled)
    all_makes = FAULT_VISITS + all_visits
    fault_yes = np.vstack([by_make * (counts.visits + MAKE_VISITS), all_makes * pooled])
    total = np.append(MAKE_VISITS + counts.visits[:, 0], all_makes)[:, None]
    usual_leak = (LEAK * LEAK_READS + counts.leaked.sum()) / (LEAK_READS + counts.reads.sum())
    leak_strength = _strength(counts.leaked, counts.reads, usual_leak, LEAK_STRENGTHS)
    leak = (usual_leak * leak_strength + counts.leaked) / (leak_strength + counts.reads)
    usual_return = (RETURN_AFTER_ERASE * RETURN_VISITS + counts.stayed.sum()) / (RETURN_VISITS + counts.leaked.sum())
    return_strength = _strength(counts.stayed, counts.leaked, usual_return, RETURN_STRENGTHS)
    leak_recurrence = (usual_return * return_strength + counts.stayed) / (return_strength + counts.leaked)
    numbers = np.array(NUMBERS) * NUMBERS_VISITS + counts.sizes
    numbers[0] /= _shown_without_fault(leak, counts)
    return NoisyOrParameters(
        link_yes=yes, link_no=no, fault_yes=fault_yes, fault_no=np.maximum(total - fault_yes, 1e-9),
        leak=np.clip(leak, LEAST_LEAK, MOST_LEAK), leak_recurrence=np.clip(leak_recurrence, 0.02, 0.98),
        leak_strength=leak_strength, leak_stayed=counts.stayed, numbers=numbers / numbers.sum(),
        bad=_bad_new_parts(counts, prior.passing), learned=counts.set_by, taught=taught, alike=prior.alike,
        cleared=counts.cleared,
        standing=prior.standing, passing=prior.passing,
        make_names=[*make_names, ""], apart=prior.apart, own=_own_links(counts, prior),
    )  # fmt: skip


def with_common_links(prior: Prior, set_by: Floats, chances: Floats) -> Prior:
    """Return the beliefs with the chance of links that no words tell as all parts together show it.

    A fault sets a few codes of the hundreds that no text ties to its part.  Were each believed by itself to be set one
    time in fifty, any part would explain what a second fault sets.

    Args:
        prior: The beliefs before any visit.
        set_by: (parts, codes) visits in which the faulty part set the code.
        chances: (parts, codes) visits with the fault in which the code could be read.
    """
    link = prior.link.copy()
    for kind, believed in enumerate(UNTOLD):
        mine = prior.untold == kind
        usual = (believed * UNTOLD_LOOKS + set_by[mine].sum()) / (UNTOLD_LOOKS + chances[mine].sum())
        link[mine] *= usual / believed
    return replace(prior, link=link)


def _links(set_by: Floats, chances: Floats, prior: Prior) -> tuple[Floats, Floats]:
    """Return (parts, codes), twice: visits in which the faulty part set the code, and in which it did not."""
    factor, kin_yes, kin_no = steer(set_by, chances, prior)
    link = prior.link * factor
    yes = link * prior.visits + set_by + kin_yes
    return yes, (1 - link) * prior.visits + chances - set_by + kin_no


def _own_links(counts: Counts, prior: Prior) -> Floats:
    """Return (4, makes, parts, s): what is learned of the codes that are split by make, each make leaning on its like.

    In the order of ``NoisyOrParameters.own``.
    """
    makes, parts, split = counts.set_by_make.shape
    alike = np.zeros((split, makes, makes))
    slot = np.searchsorted(prior.apart, prior.makes[:, 0])
    alike[slot, *prior.makes[:, 1:3].astype(np.int64).T] = prior.makes[:, 3]
    set_by = np.einsum("sab,bps->aps", alike, counts.set_by_make)
    taught = np.einsum("sab,bps->aps", alike, np.maximum(counts.chances_make, counts.set_by_make))
    here, own = prior.only(prior.apart), np.zeros((4, makes, parts, split))
    for make in range(makes if split else 0):
        own[:2, make] = _links(set_by[make], taught[make], here)
    own[2:] = counts.set_by_make, taught
    return own


def _by_make(counts: Counts, pooled: Floats) -> Floats:
    """Return (makes, parts): the chance that a part fails, shrunk towards all makes as far as they are alike for it.

    Args:
        counts: Of every make.
        pooled: (parts,) the chance at all makes together.

    Source:
        B. Efron and C. Morris, "Data analysis using Stein's estimator and its generalizations", Journal of the
        American Statistical Association 70 (1975).  How often each strength is: N. Laird, "Nonparametric maximum
        likelihood estimation of a mixing distribution", in the same journal, 73 (1978), here with a first belief.
    """
    from scipy.special import betaln  # noqa: PLC0415 - a question to a fitted model goes without

    # One make alone does not tell how far makes differ.
    compared = np.count_nonzero(counts.visits) > 1
    usual, strengths = np.array(MAKE_USUAL), np.array(MAKE_STRENGTHS)
    first, strengths = (usual, strengths) if compared else (usual[-1:], strengths[-1:])
    usual, strength = first, strengths[:, None, None]
    yes, no = strength * pooled, strength * (1 - pooled)
    faults = np.minimum(counts.faults, counts.visits)
    like = (betaln(yes + faults, no + counts.visits - faults) - betaln(yes, no)).sum(axis=1)
    like = np.exp(like - like.max(axis=0))
    for _ in range(MIXING_ROUNDS):
        weight = usual[:, None] * like
        weight /= weight.sum(axis=0)
        usual = (first * MAKE_PARTS + weight.sum(axis=1)) / (MAKE_PARTS + weight.shape[1])
    return np.asarray((weight[:, None] * (yes + faults) / (strength + counts.visits)).sum(axis=0))


def lean(counts: Floats, prior: Prior) -> Floats:
    """Return (rows, codes): what codes of the same number at makes that speak alike add to the counts of a code."""
    added = np.zeros_like(counts)
    source, target = prior.kin[:, 0].astype(np.int64), prior.kin[:, 1].astype(np.int64)
    np.add.at(added.T, target, (counts[:, source] * prior.kin[:, 2]).T)
    return added


def _strength(yes: Floats, of: Floats, usual: float, strengths: tuple[float, ...]) -> float:
    """Return the strength of shrinkage towards the usual share under which what was counted is likeliest.

    Args:
        yes: (groups,) expected counts.
        of: (groups,) what they were counted among, 0 where nothing was.
        usual: The share of all groups together.
        strengths: How many counts the usual share may be worth; the largest stands where nothing was counted.

    Source:
        J. C. Gelman et al., Bayesian Data Analysis, chapter 5: the beta-binomial likelihood of a hyperparameter.
    """
    from scipy.special import betaln  # noqa: PLC0415 - a question to a fitted model goes without

    grid, no = np.array(strengths)[:, None], np.maximum(of - yes, 0.0)
    alpha, beta = usual * grid, (1 - usual) * grid
    like = (betaln(alpha + yes, beta + no) - betaln(alpha, beta)).sum(axis=1) - np.log(grid[:, 0]) / 2
    return float(strengths[int(np.argmax(like))]) if of.any() else float(strengths[-1])


def _bad_new_parts(counts: Counts, passing: Bools) -> Floats:
    """Return (parts,): the chance that a new part does not cure, shrunk towards the others as far as parts are alike.

    For a passing cause it is the chance that it is back after an erase, which its own jobs alone tell.

    Every strength of shrinkage is weighed by the beta-binomial likelihood of what became of all parts; before that,
    the weaker is the likelier.

    Source:
        B. Efron and C. Morris, "Data analysis using Stein's estimator and its generalizations", Journal of the
        American Statistical Association 70 (1975): how far to shrink is told by how far the parts differ.
    """
    vain, cured = np.where(passing, 0.0, [counts.in_vain, np.maximum(counts.renewed - counts.in_vain, 0.0)])
    others = (vain + cured).sum() - (vain + cured)
    usual = (BAD_NEW_PART * BAD_ALL + vain.sum() - vain) / (BAD_ALL + others)
    strength = np.array(BAD_STRENGTHS)[:, None]
    yes, no = usual * strength, (1 - usual) * strength
    from scipy.special import betaln  # noqa: PLC0415 - loaded where something is fitted

    like = (betaln(yes + vain, no + cured) - betaln(yes, no)).sum(axis=1) - np.log(strength[:, 0]) / 2
    weight = np.exp(like - like.max())
    parts = weight / weight.sum() @ ((yes + vain) / (strength + vain + cured))
    again = (PASSES_NOT * PASSES_VISITS + counts.in_vain) / (PASSES_VISITS + counts.renewed)
    return np.asarray(np.where(passing, again, parts))


def _shown_without_fault(leak: Floats, counts: Counts) -> float:
    """Return the chance that a car without a faulty part shows a code at all.

    Only cars that show one are brought in, so of those without a fault fewer are seen than there are: the share
    among the visits has to be divided by this chance (a truncated sample).
    """
    visits = counts.visits.sum()
    read = (counts.reads + 1) / (visits + 1) if counts.reads.any() else np.ones(len(leak))
    return float(np.clip(-np.expm1(-(leak * read).sum()), 0.02, 1.0))
