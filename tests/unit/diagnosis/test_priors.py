"""Which part a code's text names, and what is believed before any repair."""

import pytest

from analysis.diagnosis.inputs.candidates import list_candidates
from analysis.diagnosis.inputs.text_matching import Reader, alternatives, names, read_wording
from analysis.diagnosis.model.priors import NAMED, OTHER, POINTED, SAME_MODULE, TOLD, text_priors
from tests.support.diagnosis_dealer import Dealer


@pytest.mark.parametrize(
    ("part", "text", "named"),
    [
        ("wheel speed sensor", "Wheel Speed Sensors front left", True),
        ("wheel speed sensor front right", "Wheel speed sensor FL", False),
        ("wheel speed sensor FL", "wheel speed sensor left front", True),
        ("crankshaft sensor", "Crank position sensor A circuit", True),
        ("ignition coil cylinder 2", "ignition coil cyl. 2", True),
        ("ignition coil cylinder 2", "ignition coil cylinder 3", False),
        ("battery", "traction battery", False),
        ("fuel cap seal", "fuel cap", True),
        ("brake hose", "brakes", False),
        ("spark plug set", "spark plug", True),
        ("", "anything", False),
    ],
)
def test_a_text_names_a_part(part, text, named):
    assert names(read_wording(part), read_wording(text)) is named


@pytest.mark.parametrize(
    ("component", "parts"),
    [
        ("ignition coil or spark plug", ["ignition coil", "spark plug"]),
        ("boost hose / turbocharger", ["boost hose", "turbocharger"]),
        ("timing chain / crank or cam sensor", ["timing chain", "crank sensor", "cam sensor"]),
        ("cooling fan relay or module", ["cooling fan relay", "cooling fan module"]),
        ("coolant thermostat", ["coolant thermostat"]),
    ],
)
def test_components_are_split_into_parts(component, parts):
    assert list(alternatives(component)) == parts


def wheel_dealer() -> Dealer:
    dealer = Dealer()
    dealer.code("ABS:C0031", "wheel speed sensor front left no signal")
    dealer.code("ABS:C0061", "lateral acceleration implausible")
    dealer.code("IPC:U0415", "ABS sends invalid data", "ABS module", points_at="ABS")
    dealer.code("ECM:P0128", "coolant below opening temperature", "coolant thermostat")
    dealer.part("wheel speed sensor")
    dealer.part("thermostat")
    return dealer


def prior_of(dealer: Dealer):
    frames = dealer.frames()
    candidates = list_candidates(frames, Reader())
    prior = text_priors(candidates, frames, dealer.findings().families, Reader())
    column = {code: d for d, code in enumerate(frames.codes["code"])}
    row = {candidate.label: i for i, candidate in enumerate(candidates)}
    return lambda part, code: float(prior.link[row[part], column[code]])


def test_the_four_kinds_of_belief():
    link = prior_of(wheel_dealer())
    sensor = "wheel speed sensor front left"
    assert link(sensor, "ABS:C0031") == pytest.approx(NAMED)
    assert link(sensor, "IPC:U0415") == POINTED
    assert link(sensor, "ABS:C0061") == SAME_MODULE
    assert link(sensor, "ECM:P0128") == pytest.approx(OTHER / 10)  # its text names another part
    assert link("thermostat", "ABS:C0061") == OTHER
    assert link("thermostat", "ECM:P0128") == pytest.approx(NAMED)  # through the generic component


def test_what_no_words_tell_is_told_apart():
    frames = wheel_dealer().frames()
    candidates = list_candidates(frames, Reader())
    prior = text_priors(candidates, frames, wheel_dealer().findings().families, Reader())
    labels = [candidate.label for candidate in candidates]
    wheel, thermostat = (prior.untold[labels.index(one)] for one in ("wheel speed sensor front left", "thermostat"))
    told = dict(zip(frames.codes["code"], wheel, strict=True))
    # Named, and pointed at by a network code; of its own module; of another whose text names another part.
    assert (told["ABS:C0031"], told["IPC:U0415"], told["ABS:C0061"], told["ECM:P0128"]) == (TOLD, TOLD, 0, 2)
    assert dict(zip(frames.codes["code"], thermostat, strict=True))["ABS:C0061"] == 1


def test_several_codes_that_name_one_part_share_the_belief():
    dealer = Dealer()
    for short, how in (("P0117", "low"), ("P0118", "high"), ("P0119", "drops out")):
        dealer.code(f"ECM:{short}", f"coolant temperature sensor {how}")
    dealer.part("coolant temperature sensor")
    link = prior_of(dealer)
    each = [link("coolant temperature sensor", f"ECM:{short}") for short in ("P0117", "P0118", "P0119")]
    at_least_one = 1 - (1 - each[0]) * (1 - each[1]) * (1 - each[2])
    assert at_least_one == pytest.approx(NAMED)
    assert each[0] == each[1] == each[2]


def test_a_maker_s_own_codes_share_the_belief_with_those_of_its_own_cars_alone():
    dealer = Dealer()
    for key in ("C1001@corvane", "C1002@corvane", "C1001@halvet", "C0044"):
        dealer.code(f"ABS:{key}", "brake pressure sensor")
    dealer.part("brake pressure sensor")
    link = prior_of(dealer)
    # By hand: a Corvane can show three of them, a Halvet two, and the standard's stands beside two at the most.
    for key, beside in (("C1001@corvane", 3), ("C1001@halvet", 2), ("C0044", 3)):
        assert link("brake pressure sensor", f"ABS:{key}") == pytest.approx(1 - (1 - NAMED) ** (1 / beside))


def test_the_more_exact_name_is_meant():
    dealer = Dealer()
    dealer.code("ABS:C0044", "brake pressure sensor A")
    dealer.part("pressure sensor")
    dealer.part("brake pressure sensor")
    link = prior_of(dealer)
    assert link("brake pressure sensor", "ABS:C0044") == pytest.approx(NAMED)
    assert link("pressure sensor", "ABS:C0044") < NAMED / 2


def test_the_root_of_a_family_ties_its_part_to_the_knock_ons():
    dealer = wheel_dealer()
    dealer.families.append(("F1", ["ABS:C0031", "ECM:P0128"], "ABS:C0031"))
    assert prior_of(dealer)("wheel speed sensor front left", "ECM:P0128") == POINTED
    assert prior_of(dealer)("thermostat", "ABS:C0031") == pytest.approx(OTHER / 10)


def test_synonyms_of_the_price_book_name_the_part():
    dealer = Dealer()
    dealer.code("ECM:P0101", "MAF implausible")
    dealer.part("air mass sensor", also="MAF; air flow meter")
    assert prior_of(dealer)("air mass sensor", "ECM:P0101") == pytest.approx(NAMED)


def test_places_come_from_the_repairs_and_from_the_codes():
    dealer = wheel_dealer()
    dealer.job({"ABS:C0031": "cleared"}, parts=(("wheel speed sensor", "rear right", None),))
    labels = [candidate.label for candidate in list_candidates(dealer.frames(), Reader())]
    # The code names one wheel, the repair another: there are four.
    wheels = [f"wheel speed sensor {place}" for place in ("front left", "front right", "rear left", "rear right")]
    assert labels == ["thermostat", *wheels]


def test_a_dealer_who_writes_no_places_gets_none():
    dealer = wheel_dealer()
    dealer.job({"ABS:C0031": "cleared"}, parts=("wheel speed sensor",))
    assert [candidate.position for candidate in list_candidates(dealer.frames(), Reader())] == ["", ""]


def test_with_neither_book_nor_repairs_the_component_words_are_the_parts():
    dealer = Dealer()
    dealer.code("ECM:P0301", "Misfire cylinder 1", "ignition coil or spark plug")
    dealer.code("ECM:U3000", "fault inside", "reporting module")
    found = list_candidates(dealer.frames(), Reader())
    assert [(candidate.part, candidate.part_cents) for candidate in found] == [
        ("ignition coil", None),
        ("spark plug", None),
    ]
