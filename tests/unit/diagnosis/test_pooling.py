"""What places, makes, words of the trade and standard codes teach each other; the reference is Bayes' rule by hand."""

from dataclasses import replace
from math import prod

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import beta

from analysis.diagnosis import DiagnosisFrames
from analysis.diagnosis.inputs.candidates import list_candidates
from analysis.diagnosis.inputs.make_kinship import codes_apart, kindred_codes
from analysis.diagnosis.inputs.text_matching import Reader
from analysis.diagnosis.learning.fit import fit_parameters, lean
from analysis.diagnosis.learning.places import KIN, shared_faults, steer
from analysis.diagnosis.model.parameters import SPEAKS
from analysis.diagnosis.model.priors import NAMED, POINTED, TOLD, TORN, Prior, text_priors
from tests.support.diagnosis_dealer import Dealer, reference
from tests.support.diagnosis_play import prepared

WHEELS = ("front left", "front right", "rear left", "rear right")


def placed(elsewhere: list[bool] | None = None, kin: list[tuple[int, int, float]] | None = None) -> Prior:
    """Beliefs of one part at four wheels and of one that has no place, about two codes."""
    none = np.zeros((5, 2), dtype=bool)
    other = none.copy()
    other[:4, 0] = elsewhere or [False] * 4
    return Prior(
        link=none + 0.8, visits=none + 4.0, named=none, pattern=none, alike=none + 1.0, standing=none[:, 0],
        passing=none[:, 0], part=np.array([0, 0, 0, 0, 1]), place=np.array([0, 1, 2, 3, -1]), elsewhere=other,
        network=np.zeros(2, dtype=bool),
        kin=np.array(kin or []).reshape(-1, 3), untold=np.full(none.shape, TOLD),
    )  # fmt: skip


def test_clears_at_one_wheel_tell_that_a_code_speaks_of_it() -> None:
    # Three clears at the first wheel.  All alike: a quarter each time; of the first alone: .9; of another: .1 / 3.
    alike, first, other = 0.5 * 0.25**3, 0.125 * 0.9**3, 0.125 * (0.1 / 3) ** 3
    total = alike + first + 3 * other
    counts = np.zeros((5, 2))
    counts[0, 0] = 3.0
    factor, yes, _ = steer(counts, counts, placed())
    assert factor[0, 0] == 1.0
    assert factor[1:4, 0] == pytest.approx((alike + other) / total / 0.625)
    assert factor[4] == pytest.approx(1.0), "a part without places is as it was"
    # As far as the code is one of all wheels, the first teaches the others.
    assert yes[:, 0] == pytest.approx(np.array([0.0, *[KIN * alike / total * 3] * 3, 0.0]))


def test_a_code_whose_text_names_a_wheel_is_one_of_that_wheel() -> None:
    factor, _, _ = steer(np.zeros((5, 2)), np.zeros((5, 2)), placed([False, True, True, True]))
    alike, own, other = 0.5 * 0.05, 0.125, 0.125 * 0.05
    total = alike + own + 3 * other
    assert factor[:4, 0] == pytest.approx(
        np.minimum(np.array([own, *[other] * 3]) / total + alike / total, 0.625) / 0.625
    )


def test_faults_are_shared_by_places_as_far_as_places_are_alike() -> None:
    # The Dirichlet-multinomial likelihood by rising products, for six faults at one wheel of four.
    def like(strength: float) -> float:
        top = prod(strength / 4 + i for i in range(6))
        return top / prod(strength + i for i in range(6)) / strength**0.5

    strengths = (1.0, 2.0, 4.0, 8.0, 16.0, 32.0)
    weights = [like(strength) for strength in strengths]
    mean = sum(w * s for w, s in zip(weights, strengths, strict=True)) / sum(weights)
    found = shared_faults(np.array([6.0, 0, 0, 0, 2.0]), placed(), 0.05, 12.0, 20.0)
    part = (0.6 + 6) / 32
    assert found[0] == pytest.approx(part * (mean / 4 + 6) / (mean + 6))
    assert found[1:4] == pytest.approx(part * (mean / 4) / (mean + 6))
    assert found[4] == pytest.approx((0.6 + 2) / 32)


def test_a_code_leans_on_its_namesake_as_far_as_makes_are_kin() -> None:
    counts = np.zeros((5, 2))
    counts[2, 0] = 4.0
    added = lean(counts, placed(kin=[(0, 1, 0.25)]))
    assert added[2, 1] == 1.0
    assert added.sum() == 1.0


def makers(*texts: tuple[str, str | None, str | None]) -> Dealer:
    """Numbers that two makes have, with the text of each."""
    dealer = Dealer()
    for number, one, other in texts:
        dealer.code(f"ABS:{number}@corvane", one)
        dealer.code(f"ABS:{number}@halvet", other)
    dealer.part("yaw rate sensor")
    return dealer


def kinship(dealer: Dealer) -> list[tuple[int, int, float]]:
    frames = dealer.frames()
    return kindred_codes(replace(frames, codes=frames.codes.sort("code")), Reader())


def test_makes_whose_texts_agree_share_their_numbers() -> None:
    same = ("C1001", "yaw rate sensor low", "YAW RATE SENSOR, LOW"), ("C1002", "pump", "pump")
    odds = 0.3 / 0.7 * (0.85 / 0.02) ** 2
    share = odds / (1 + odds)
    assert kinship(makers(*same)) == [(0, 1, pytest.approx(share)), (1, 0, pytest.approx(share)),
                                      (2, 3, pytest.approx(share)), (3, 2, pytest.approx(share))]  # fmt: skip
    # Two that differ: odds of .3 / .7 * (.15 / .98) ** 2, a chance of .01: no kinship.
    assert kinship(makers(("C1001", "yaw rate sensor", "pump"), ("C1002", "relay", "valve"))) == []


def tried(*jobs: tuple[str, str, str, int]) -> DiagnosisFrames:
    """Jobs with one part alone: make, part, what became of the code, and how many of them."""
    dealer = Dealer()
    dealer.code("ECM:P0171", "mixture too lean")
    for name in ("mass air flow sensor", "boost hose"):
        dealer.part(name)
    for make, part, outcome, times in jobs:
        for _ in range(times):
            dealer.job({"ECM:P0171": outcome}, (part,), make=make)
    frames = dealer.frames()
    return replace(frames, codes=frames.codes.sort("code"))


def test_a_standard_code_is_split_where_the_same_part_clears_it_at_one_make_alone() -> None:
    frames = tried(("corvane", "boost hose", "cleared", 6), ("halvet", "boost hose", "returned", 6))

    # The share of clears is drawn from a Beta(1/2, 1/2); the chance of so many of so many is its moment (numerically).
    def chance(yes: int, no: int) -> float:
        value, _ = quad(lambda x: beta.pdf(x, 0.5, 0.5) * x**yes * (1 - x) ** no, 0, 1)
        return value

    factor = chance(6, 0) * chance(0, 6) / chance(6, 6)
    usual = 0.03
    for _ in range(20):
        apart = usual * factor / (usual * factor + 1 - usual)
        usual = (0.03 * 60 + apart) / 61
    alike = pytest.approx(1 - apart, rel=1e-5)
    found = codes_apart(frames, ["corvane", "halvet", "other"])
    assert found[:3] == [(0, 0, 0, 1.0), (0, 0, 1, alike), (0, 0, 2, pytest.approx(1 - usual))]
    assert len(found) == 9


def test_a_code_that_makes_agree_on_or_that_was_tried_at_one_is_not_split() -> None:
    agree = ("corvane", "boost hose", "cleared", 6), ("halvet", "boost hose", "cleared", 6)
    other = ("corvane", "boost hose", "cleared", 6), ("halvet", "mass air flow sensor", "returned", 6)
    assert codes_apart(tried(*agree), ["corvane", "halvet"]) == []
    assert codes_apart(tried(*other), ["corvane", "halvet"]) == []


def test_links_of_a_split_code_are_those_of_one_make() -> None:
    jobs = ("corvane", "boost hose", "cleared", 9), ("halvet", "boost hose", "returned", 9)
    frames = tried(*jobs, ("halvet", "mass air flow sensor", "cleared", 9))
    visits, prior, _ = prepared(frames)
    prior = replace(prior, makes=np.array(codes_apart(frames, visits.make_names)))
    found = fit_parameters(visits, prior)
    hose, sensor = 0, 1
    assert found.at(0).link[hose, 0] > 0.7 > 0.2 > found.at(1).link[hose, 0]
    assert found.at(1).link[sensor, 0] > 0.7 > 0.2 > found.at(0).link[sensor, 0]
    assert np.array_equal(found.at(2).link, found.link), "a make never seen is answered by all together"
    # All makes alike is as if the code were not split.
    whole = fit_parameters(visits, replace(prior, makes=np.array([(0, a, b, 1.0) for a in (0, 1) for b in (0, 1)])))
    plain = fit_parameters(visits, replace(prior, makes=np.zeros((0, 4))))
    assert whole.at(0).link == pytest.approx(plain.link)
    assert whole.fault == pytest.approx(plain.fault)


def prior_of(dealer: Dealer, reader: Reader | None = None, **tables: object):
    frames = replace(dealer.frames(), **tables)
    frames = replace(frames, codes=frames.codes.sort("code"))
    reader = reader or Reader()
    candidates = list_candidates(frames, reader)
    prior = text_priors(candidates, frames, dealer.findings().families, reader)
    column = {code: d for d, code in enumerate(frames.codes["code"])}
    row = {candidate.label: i for i, candidate in enumerate(candidates)}
    return lambda part, code: float(prior.link[row[part], column[code]])


def test_a_code_without_a_text_has_that_of_its_namesake_at_a_kindred_make() -> None:
    dealer = makers(("C1001", "yaw rate sensor low", None), ("C1002", "pump", "pump"))
    odds = 0.3 / 0.7 * 0.85 / 0.02
    # No car has both of the codes, so neither shares its statement with the other.
    assert prior_of(dealer)("yaw rate sensor", "ABS:C1001@halvet") == pytest.approx(NAMED * odds / (1 + odds))
    assert prior_of(dealer)("yaw rate sensor", "ABS:C1001@corvane") == pytest.approx(NAMED)


def test_a_wording_and_the_standard_that_name_different_parts_both_speak() -> None:
    dealer = Dealer()
    dealer.code("ECM:P0560", "DPF sensor, not plausible", "battery / alternator")
    for name in ("battery", "DPF sensor", "horn"):
        dealer.part(name)
    link = prior_of(dealer)
    assert link("battery", "ECM:P0560") == link("DPF sensor", "ECM:P0560") == pytest.approx(NAMED * TORN)
    assert link("horn", "ECM:P0560") < SPEAKS


def test_a_part_that_no_code_here_names_is_at_home_where_standard_codes_say() -> None:
    # C0044, "brake pressure sensor", lies in the block of the brakes: a module that sends nonsense may have its fault.
    dealer = Dealer()
    dealer.code("ABS:C1200@corvane", None)
    dealer.code("IPC:U0415", "ABS sends invalid data", "ABS module", points_at="ABS")
    dealer.part("brake pressure sensor")
    dealer.job({"ABS:C1200@corvane": "unread"})
    codes = reference("generic_codes").select("code", "component")
    assert prior_of(dealer)("brake pressure sensor", "IPC:U0415") < SPEAKS
    assert prior_of(dealer, generic_codes=codes)("brake pressure sensor", "IPC:U0415") == POINTED


@pytest.mark.parametrize(
    ("text", "part", "named"),
    [
        ("Glow plug cylinder 4", "glow plug relay", False),
        ("Glow plug relay circuit", "glow plug", False),
        ("HO2S heater circuit", "lambda probe", True),
        ("Signal ring of a wheel speed sensor", "wheel speed sensor", False),
    ],
)
def test_words_of_the_trade_and_kinds_decide_what_is_named(text, part, named) -> None:
    dealer = Dealer()
    dealer.code("ECM:P1000@corvane", text)
    dealer.part(part)
    link = prior_of(dealer, Reader(reference("trade_words").select("kind", "word", "means")))
    label = f"{part} cylinder 4" if named and "cylinder" in text else part
    assert (link(label, "ECM:P1000@corvane") >= NAMED - 1e-9) is named


def test_what_front_left_taught_moves_to_the_other_wheels() -> None:
    # The text names no wheel; the speed code is set from every wheel.
    dealer = Dealer()
    dealer.code("ABS:C0031", "wheel speed sensor; which wheel differs by edition")
    dealer.code("ABS:C0034", "wheel speed sensor; which wheel differs by edition")
    dealer.code("ECM:P0500", "vehicle speed implausible")
    dealer.part("wheel speed sensor")
    for _ in range(14):
        dealer.job({"ABS:C0031": "cleared", "ECM:P0500": "cleared"}, (("wheel speed sensor", "front left", None),))
    dealer.job({"ABS:C0034": "cleared"}, (("wheel speed sensor", "front right", None),))
    model = dealer.model()
    assert [part.position for part in model.candidates] == list(WHEELS)
    left, right = model.codes.index("ABS:C0031"), model.codes.index("ABS:C0034")
    link = model.parameters.link[:4]
    assert link[0, left] > 0.8
    assert (link[1:, left] < SPEAKS).all(), "a wheel that the code does not speak of is no suspect"
    assert link[:, right].argmax() == 1
