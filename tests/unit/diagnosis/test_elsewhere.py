"""What other dealers' jobs teach: sums of each set, weighed by what they foretell; the reference is a count by hand."""

from collections.abc import Iterable
from dataclasses import fields, replace

import numpy as np
import pytest

from analysis.diagnosis import DiagnosisFrames, Elsewhere, PastElsewhere, fit, learn_elsewhere
from analysis.diagnosis.evaluation.backtest import backtest, cut_moments
from analysis.diagnosis.learning.fit import fit_parameters, single_pass_counts, taught_by
from analysis.diagnosis.learning.prepared import prepare
from tests.support.diagnosis_dealer import COSTS, Dealer
from tests.support.diagnosis_play import prepared
from tests.support.diagnosis_world import nothing_mined

Job = tuple[str, str, str, int]
FAMILIES = nothing_mined().families
OWN: tuple[Job, ...] = ("corvane", "boost hose", "cleared", 4), ("corvane", "mass air flow sensor", "returned", 4)
LIKE: Job = ("corvane", "boost hose", "cleared", 8)
UNLIKE: Job = ("corvane", "mass air flow sensor", "cleared", 40)


def tried(*jobs: Job, code: str = "ECM:P0171") -> DiagnosisFrames:
    """Jobs with one part alone: make, part, what became of the code, and how many of them."""
    dealer = Dealer()
    dealer.code("ECM:P0171", "mixture too lean")
    for name in ("mass air flow sensor", "boost hose"):
        dealer.part(name)
    for make, part, outcome, times in jobs:
        for _ in range(times):
            dealer.job({code: outcome}, (part,), make=make)
    return dealer.frames()


def elsewhere(*jobs: Job, code: str = "ECM:P0171") -> PastElsewhere:
    frames = tried(*jobs, code=code)
    return PastElsewhere(**{each.name: getattr(frames, each.name) for each in fields(PastElsewhere)})


def learned(own: Iterable[Job], **others: PastElsewhere) -> Elsewhere:
    return learn_elsewhere(tried(*own), FAMILIES, others)[None]


@pytest.mark.slow
def test_another_dealer_counts_as_far_as_he_foretells_the_own_visits() -> None:
    assert learned(OWN, north=elsewhere(LIKE)).weights == {"north": 1.0}
    assert learned(OWN, north=elsewhere(UNLIKE)).weights["north"] < 1.0
    # Without an own visit nothing speaks against him.
    assert learned([], north=elsewhere(UNLIKE)).weights == {"north": 1.0}
    # One that misleads takes nothing from one that does not.
    assert learned(OWN, east=elsewhere(UNLIKE), north=elsewhere(LIKE)).weights["north"] == 1.0


def test_sums_of_all_sets_are_those_of_each_counted_apart() -> None:
    sets = {"east": (("corvane", "boost hose", "cleared", 3),), "north": (("halvet", "boost hose", "returned", 5),)}
    told = learned([], **{name: elsewhere(*jobs) for name, jobs in sets.items()})
    # Credits by hand: three visits of the hose that cleared the code, none of five that did not.
    hose = [part.part for part in told.words.candidates].index("boost hose")
    apart = {name: taught_by(*prepared(tried(*jobs))[:2]) for name, jobs in sets.items()}
    assert told.sums.counts.set_by == pytest.approx(sum(one.set_by for one in apart.values()), abs=0.1)
    assert told.sums.counts.reads == pytest.approx(sum(one.reads for one in apart.values()))
    assert told.sums.worked_on[hose] == 8
    assert told.words.visits.make_names == ["corvane", "halvet"]
    assert told.sums.counts.visits[:, 0] == pytest.approx([3, 5], rel=0.001)
    assert single_pass_counts(*prepared(tried(*sets["east"]))[:2]).set_by[hose] == pytest.approx(3.0, rel=0.01)


@pytest.mark.slow
def test_who_counts_and_in_what_runs_changes_nothing(monkeypatch) -> None:
    others = {f"d{n:02d}": elsewhere(("corvane", "boost hose", "cleared", n % 3 + 1)) for n in range(7)}
    together = learned(OWN, **others)
    monkeypatch.setattr("analysis.diagnosis.learning.elsewhere.AT_ONCE", 2)
    spread = learn_elsewhere(tried(*OWN), FAMILIES, others, spread=lambda work, items: [work(one) for one in items])
    assert spread[None].weights == together.weights
    assert np.array_equal(spread[None].sums.counts.set_by, together.sums.counts.set_by)


def test_a_set_that_counts_nothing_teaches_nothing() -> None:
    told = learned(OWN, north=elsewhere(UNLIKE))
    silent = replace(told, weights={"north": 0.0})
    with_it, alone = (fit(tried(*OWN), FAMILIES, COSTS, elsewhere=one) for one in (silent, None))
    assert np.array_equal(with_it.parameters.link, alone.parameters.link)
    assert np.array_equal(with_it.parameters.fault, alone.parameters.fault)


def test_an_own_visit_and_one_elsewhere_teach_alike() -> None:
    # Six clears by the hose, all own or four of them elsewhere: no visit is ambiguous, so that both come to one link.
    six = ("corvane", "boost hose", "cleared", 6)
    made = prepare(tried(six), FAMILIES)
    whole = fit_parameters(made.visits, made.prior)
    model = fit(
        tried(("corvane", "boost hose", "cleared", 2)),
        FAMILIES,
        COSTS,
        elsewhere=learned(
            (("corvane", "boost hose", "cleared", 2),), north=elsewhere(("corvane", "boost hose", "cleared", 4))
        ),
    )
    assert model.others == (("north", 4, 1.0),)
    hose = [part.part for part in model.candidates].index("boost hose")
    assert model.parameters.link[hose] == pytest.approx(whole.link[hose], abs=0.02)
    assert model.parameters.fault[0, hose] == pytest.approx(whole.fault[0, hose], abs=0.02)


def test_what_is_not_known_here_is_left_out_and_what_is_known_keeps_its_place() -> None:
    told = learned(OWN, north=elsewhere(LIKE))
    dealer = Dealer()
    dealer.code("ABS:C0031", "wheel speed sensor")
    dealer.code("ECM:P0171", "mixture too lean")
    for name in ("air filter", "boost hose", "wheel speed sensor"):
        dealer.part(name)
    made = prepare(dealer.frames(), FAMILIES)
    sums = told.over(made)
    names = [part.part for part in made.candidates]
    theirs = [part.part for part in told.words.candidates]
    here, there = names.index("boost hose"), theirs.index("boost hose")
    assert sums.counts.set_by[here] == pytest.approx([0.0, told.sums.counts.set_by[there, 0]])
    assert sums.counts.set_by.sum() == pytest.approx(told.sums.counts.set_by[there].sum())
    assert sums.counts.sizes == pytest.approx(told.sums.counts.sizes)


def test_the_check_on_the_past_uses_a_set_as_far_as_the_visits_before_speak_for_it() -> None:
    jobs = ("corvane", "boost hose", "cleared", 1), ("corvane", "mass air flow sensor", "returned", 1)
    frames, north = tried(*jobs, ("corvane", "boost hose", "cleared", 8)), elsewhere(UNLIKE)
    moments = cut_moments(frames, 5)
    told = learn_elsewhere(frames, FAMILIES, {"north": north}, moments)
    assert set(told) == {None, *moments}
    assert [told[moment].weights["north"] for moment in moments[:2]] == [1.0, 1.0], "two visits hardly speak against it"
    assert told[None].weights["north"] < 1.0
    alone, with_it = (backtest(frames, COSTS, 5, one).predictions["place"].to_list() for one in ({}, told))
    # At the second cut one own clear stands against forty elsewhere; without them it leads.
    assert alone[2:4] == [1, 1]
    assert 1 not in with_it[2:4]
