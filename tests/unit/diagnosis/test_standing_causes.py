"""Codes that no fault sets: what comes back on one car after another is left alone, what a part cleared never is."""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from analysis.diagnosis import DiagnosisModel, fit, list_cars
from analysis.diagnosis.inputs.candidates import list_candidates
from analysis.diagnosis.inputs.standing_groups import standing_groups
from analysis.diagnosis.inputs.text_matching import Reader
from analysis.diagnosis.inputs.training_data import gather_visits
from analysis.diagnosis.learning.e_step import e_step
from analysis.diagnosis.learning.fit import fit_parameters, m_step, single_pass_counts
from analysis.diagnosis.model.parameters import NoisyOrParameters
from analysis.diagnosis.model.priors import text_priors
from tests.support.diagnosis_dealer import COSTS, START, Dealer
from tests.support.diagnosis_play import prepared

WHEEL, BATTERY, BLOWER, TRAILER, LAMP = "ABS:C0031", "ECM:P0562", "HVAC:B1000", "BCM:B1500", "IPC:B1600"
RADIO = "RADIO:B1700"
PARTS = {WHEEL: "wheel speed sensor", BATTERY: "battery", BLOWER: "blower motor"}
MODULES = ("ABS", "ECM", "HVAC", "BCM", "IPC")


def shop() -> Dealer:
    """Three parts, each named by a code and cleared it on four cars, and two codes that name no part."""
    dealer = Dealer()
    dealer.code(WHEEL, "wheel speed sensor")
    dealer.code(BATTERY, "battery voltage low", "battery")
    dealer.code(BLOWER, "blower motor")
    dealer.code(TRAILER, "trailer module no answer")
    dealer.code(LAMP, "trailer lamp")
    for part in PARTS.values():
        dealer.part(part, 5000, 30.0)
    for number in range(12):
        work(dealer, number, {})
    return dealer


def work(dealer: Dealer, number: int, beside: dict[str, str], **more: object) -> None:
    """A job that clears a part's code, with what became of other codes beside it."""
    code = list(PARTS)[number % 3]
    dealer.job({code: "cleared"} | beside, (PARTS[code],), read=MODULES, **more)


def towing(cars: int, cleared: int = 0) -> Dealer:
    """Cars with the trailer's codes through a repair, others on which a new battery cleared them, and two in stock."""
    dealer = shop()
    for number in range(cars):
        work(dealer, number, {TRAILER: "returned", LAMP: "returned"})
    for _ in range(cleared):
        dealer.job({TRAILER: "cleared", LAMP: "cleared"}, (PARTS[BATTERY],), read=MODULES)
    return in_stock(dealer)


def with_radios(dealer: Dealer, cars: int = 5) -> Dealer:
    """Put cars into stock whose radio the dealer agreed to leave alone: here, equipment is known of."""
    dealer.code(RADIO, "radio no answer")
    for number in range(cars):
        dealer.car(f"radio{number}", [RADIO], read=MODULES, background="agreed")
    return dealer


def in_stock(dealer: Dealer) -> Dealer:
    """Put a car with only the trailer's codes into stock, and one with a fault's code beside them."""
    dealer.car("only", [TRAILER, LAMP], read=MODULES)
    dealer.car("beside", [WHEEL, TRAILER, LAMP], read=MODULES)
    return dealer


def actions(dealer: Dealer, vehicle: str) -> list[str]:
    return dealer.list(calibration=0.0).rows.filter(vehicle=vehicle)["action"].to_list()


def groups_of(dealer: Dealer) -> list[list[str]]:
    frames = dealer.frames()
    reader = Reader()
    codes, candidates = frames.codes["code"].to_list(), list_candidates(frames, reader)
    named = text_priors(candidates, frames, dealer.findings().families, reader).named
    return [[codes[d] for d in group] for group in standing_groups(gather_visits(frames, candidates), frames, named)]


def standing(model: DiagnosisModel, vehicle: str, failed: frozenset[str] = frozenset()) -> dict[str, float]:
    """The chance, for each open code of a car, that no fault sets it; failed: parts that it got in vain."""
    car = next(car for car in model.cars() if car.vehicle == vehicle)
    tried = {i for i, part in enumerate(model.candidates) if part.part in failed}
    found = model.diagnose(replace(car, failed=tried)).posterior.standing
    return {model.codes[d]: float(chance) for d, chance in zip(car.codes, found, strict=True)}


def test_what_comes_back_on_several_cars_is_left_alone_and_a_fault_beside_it_is_not():
    dealer = with_radios(towing(4))
    assert groups_of(dealer) == [[TRAILER, LAMP]]
    model = dealer.model(calibration=0.0)
    rows = list_cars(model).rows
    assert rows.filter(vehicle="only")["action"].to_list() == ["leave"]
    beside = rows.filter(vehicle="beside").select("action", "part", "clears").rows()
    assert beside[0] == ("replace", PARTS[WHEEL], WHEEL)
    assert beside[-1][0] == "leave"
    # What is left alone is nobody's to clear or to hand over, and no fault: equipment counts as none.
    assert not any(code in clears for _, _, clears in beside for code in (TRAILER, LAMP))
    weights = {car.vehicle: model.diagnose(car).posterior.weights for car in model.cars()}
    assert weights["only"].sizes()[0, 0] > 0.9
    assert weights["beside"].sizes()[0, 1] > 0.9


@pytest.mark.parametrize(
    ("cars", "radios", "left"), [(4, 0, False), (4, 1, True), (8, 0, True), (2, 1, False), (2, 5, True)]
)
def test_the_less_is_known_of_equipment_here_the_more_cars_have_to_show_it(cars, radios, left):
    # By hand, with .8 or more of the chance on the cause: left from a half on. 4 of 4 + 1 + 6 is .36, with a car
    # that is known of 4 of 4 + 1 + 6 / 4 is .62; 8 of 15 is .53; 2 of 2 + 1 + 6 / 4 is .44, with five 2 of 3.17 is .63.
    dealer = with_radios(towing(cars), radios)
    assert (actions(dealer, "only") == ["leave"]) == left
    if not left:
        assert actions(dealer, "only")[-1] == "specialist"


def test_one_cause_that_is_beyond_doubt_lets_another_be_believed_and_none_speaks_for_itself():
    dealer = towing(8)
    dealer.code("HVAC:B1800", "heated seat")
    for number in range(3):
        work(dealer, number, {"HVAC:B1800": "returned"})
    dealer.car("seat", ["HVAC:B1800"], read=MODULES)
    assert actions(dealer, "seat") == ["leave"]
    doubt = dealer.model(calibration=0.0).parameters.doubt
    # Eight cars of the trailer's are beyond doubt, the three of the seat's are not.
    assert sorted(set(doubt.tolist())) == [1.0, pytest.approx(1 + 6 / 81), 7.0]


@pytest.mark.parametrize(
    ("refused", "left"),
    [
        (("", "Corvane", f"{TRAILER};{LAMP}"), set()),
        (("only", "", f"{TRAILER};{LAMP}"), set()),
        (("", "corvane", LAMP), {TRAILER}),
        (("beside", "corvane", f"{TRAILER};{LAMP}"), {TRAILER, LAMP}),
        (("", "brunmar", f"{TRAILER};{LAMP}"), {TRAILER, LAMP}),
    ],
    ids=["the make", "the car", "one code", "another car", "another make"],
)
def test_what_the_dealer_refused_to_leave_alone_is_worked_on(refused, left):
    model = with_radios(towing(4)).model(calibration=0.0)
    assert list_cars(model, "only").rows["action"].to_list() == ["leave"]
    no = pl.DataFrame([refused], schema=dict.fromkeys(("vehicle", "make", "codes"), pl.String), orient="row")
    rows = list_cars(model.working_on(no), "only").rows
    assert {code for row in rows.filter(action="leave")["leaves"] for code in row.split(";")} == left
    assert set(rows.filter(action="specialist")["clears"]) == ({";".join(sorted({TRAILER, LAMP} - left))} - {""})


def declared(cars: int, stock: int = 0) -> Dealer:
    """Cars of which a modification was declared, their codes looked past through a repair, some of them in stock."""
    dealer, told = shop(), "modification: tow bar"
    for _ in range(cars):
        dealer.job({TRAILER: "returned", LAMP: "returned"}, (PARTS[WHEEL],), read=MODULES, background=told)
    for number in range(stock):
        dealer.car(f"declared{number}", [TRAILER, LAMP], read=MODULES, background=told)
    return in_stock(dealer)


@pytest.mark.parametrize("dealer", [declared(3), declared(1, stock=2)], ids=["past cars", "cars in stock"])
def test_what_a_declared_modification_sets_elsewhere_is_left_alone_where_nobody_declared_it(dealer):
    assert groups_of(dealer) == [[TRAILER, LAMP]]
    assert actions(dealer, "only") == ["leave"]
    rows = dealer.list(calibration=0.0).rows.filter(vehicle="beside").select("action", "clears").rows()
    assert rows[0] == ("replace", WHEEL)
    assert rows[-1][0] == "leave"


@pytest.mark.parametrize("dealer", [declared(1), declared(0, stock=3)], ids=["one car", "no erase seen"])
def test_one_declared_car_or_none_that_came_back_is_not_enough(dealer):
    assert groups_of(dealer) == []
    assert "leave" not in actions(dealer, "only")


def one_car(jobs: int, visits: bool) -> Dealer:
    """One car whose trailer codes came back each time: with another fault each time, or three attempts at one."""
    dealer = shop()
    for number in range(jobs):
        more = {"vehicle": "towing", "day": 30 + 20 * number}
        if visits:
            work(dealer, number, {TRAILER: "returned", LAMP: "returned"}, **more)
        else:
            part = PARTS[list(PARTS)[number % 3]]
            dealer.job({TRAILER: "returned", LAMP: "returned"}, (part,), read=MODULES, **more)
    return in_stock(dealer)


@pytest.mark.parametrize("dealer", [towing(1), one_car(3, visits=False)], ids=["one job", "three attempts"])
def test_one_car_alone_is_not_enough(dealer):
    assert groups_of(dealer) == []
    assert "leave" not in actions(dealer, "only")
    assert "leave" not in actions(dealer, "beside")


def test_one_car_alone_is_not_enough_however_often_it_comes():
    assert "leave" not in actions(one_car(6, visits=True), "only")


def test_what_a_part_cleared_elsewhere_is_not_left_before_that_part_was_tried():
    dealer = shop()
    for number in range(5):
        work(dealer, number, {LAMP: "returned"})
        work(dealer, number, {TRAILER: "returned"})
    for _ in range(6):
        dealer.job({TRAILER: "cleared"}, (PARTS[BATTERY],), read=MODULES)
    dealer.car("lamp", [LAMP], read=MODULES)
    dealer.car("trailer", [TRAILER], read=MODULES)
    with_radios(dealer)
    assert groups_of(dealer) == [[LAMP]]
    assert actions(dealer, "lamp") == ["leave"]
    assert "leave" not in actions(dealer, "trailer")
    model = dealer.model(calibration=0.0)
    assert standing(model, "trailer") == {TRAILER: 0.0}


def test_what_a_part_cleared_elsewhere_is_not_left_though_it_mostly_comes_back():
    assert "leave" not in actions(towing(8, cleared=2), "only")


@pytest.mark.parametrize(
    ("back", "cleared", "group"),
    [(4, 4, False), (8, 3, False), (8, 1, True), (4, 0, True), (0, 4, False), (1, 0, False), (2, 0, True)],
)
def test_only_codes_that_work_seldom_ends_form_a_group(back, cleared, group):
    # At most .15 of the known ends are clears, and two cars at least: 3 of 11 is more, 1 of 9 is less.
    assert groups_of(towing(back, cleared)) == ([[TRAILER, LAMP]] if group else [])


def test_codes_that_nobody_looked_for_again_form_no_group():
    dealer = shop()
    for number in range(4):
        work(dealer, number, {TRAILER: "unread", LAMP: "unread"})
    assert groups_of(dealer) == []


def test_a_group_keeps_company_on_half_of_its_visits_and_is_no_page_of_codes():
    together = {TRAILER: "returned", LAMP: "returned"}
    for alone, groups in ((2, [[TRAILER, LAMP]]), (3, [[TRAILER], [LAMP]])):
        dealer = shop()
        for number in range(2):
            work(dealer, number, together)
        for number in range(alone):
            work(dealer, number, {TRAILER: "returned"})
        assert groups_of(dealer) == sorted(groups)
    for many, found in ((8, 1), (9, 0)):
        dealer = shop()
        page = [f"BCM:B2{number:03}" for number in range(many)]
        for code in page:
            dealer.code(code)
        for number in range(3):
            work(dealer, number, dict.fromkeys(page, "returned"))
        assert len(groups_of(dealer)) == found


def gauges() -> tuple[NoisyOrParameters, Callable[..., NoisyOrParameters]]:
    """A part that two codes of different modules name and three network codes point at; learning by counts."""
    dealer = Dealer()
    for module in ("ECM", "TCM"):
        dealer.code(f"{module}:P0100", "gauge")
    for number in (1, 2, 3):
        dealer.code(f"IPC:U010{number}", "no messages", points_at="ECM")
    dealer.part("gauge")
    visits, prior, _ = prepared(dealer.frames())
    counts = single_pass_counts(visits, prior)
    return fit_parameters(visits, prior), lambda **some: m_step(replace(counts, **some), prior, visits.make_names)


def test_absent_codes_of_one_kind_of_words_are_one_statement():
    before, learn = gauges()
    # Named .80 in each of two modules, half a statement each: together the .20 of one.  Pointed at .20 thrice: .80.
    told = before.log_lik_absent[0]
    ecm, tcm, *network = range(5)
    assert told[[ecm, tcm]] == pytest.approx([math.log(0.2) / 2] * 2)
    assert told[[ecm, tcm]].sum() == pytest.approx(math.log(0.2))
    assert told[network].sum() == pytest.approx(math.log(0.8))
    # After six visits with the fault, in three of which it set the code: (.8 * 4 + 3) / 10 = .62.  Six tenths of that
    # were learned and count whole, four tenths are words and count half.
    yes, seen = np.zeros((1, 5)), np.zeros((1, 5))
    yes[0, ecm], seen[0, ecm] = 3.0, 6.0
    after = learn(set_by=yes, chances=seen)
    assert after.log_lik_absent[0, ecm] == pytest.approx(math.log(1 - 0.62) * (0.6 + 0.4 / 2))
    assert after.log_lik_absent[0, tcm] == pytest.approx(math.log(0.2) / 2)


@pytest.mark.parametrize("tried", [0, 9])
def test_a_part_that_merely_stood_beside_a_code_learns_little_of_it(tried):
    def counted(unread: bool) -> np.ndarray:
        dealer = Dealer()
        dealer.code(WHEEL, "wheel speed sensor")
        dealer.part("wheel speed sensor")
        for _ in range(tried):
            dealer.job({WHEEL: "cleared"}, ("wheel speed sensor",))
        if unread:
            dealer.job({WHEEL: "unread"}, ("wheel speed sensor",))
        visits, prior, _ = prepared(dealer.frames())
        counts, _ = e_step(visits, fit_parameters(visits, prior, rounds=0), None)
        return np.array([counts.set_by[0, 0], counts.chances[0, 0]])

    # .11 of a visit, and half of that once the part was tried in 4.5 others: a third after nine (.999 each).
    most = 0.11 / (1 + tried * 0.999 / 4.5)
    learned = counted(unread=True) - counted(unread=False)
    assert np.all(learned <= most + 1e-9)
    assert np.all(learned > 0.8 * most)


def test_a_standing_cause_learns_from_every_visit():
    # No work removes it, so what it sets is not taught by trying.
    model = with_radios(towing(4)).model(calibration=0.0)
    cause = int(np.flatnonzero(model.parameters.standing)[0])
    here = [model.codes.index(code) for code in (TRAILER, LAMP)]
    assert model.parameters.learned[cause, here] == pytest.approx([4.0, 4.0], abs=0.05)
    # Believed .8 worth three visits, then four of four; and no fault at four to one, and to six more where nothing else
    # is known of, by the square of one more than the five cars of which it is.
    assert model.parameters.link[cause, here] == pytest.approx([(0.8 * 3 + 4) / 7] * 2, abs=0.01)
    assert model.parameters.group_no_fault[cause] == pytest.approx(4 / (4 + 1 + 6 / 36), abs=0.01)
    assert not model.parameters.link[cause, [d for d in range(len(model.codes)) if d not in here]].any()


def test_a_code_that_is_only_stored_beside_an_active_one_changes_no_chance():
    dealer = towing(0, cleared=3)
    awake = tuple(module for module in MODULES if module != "BCM")
    dealer.car("plain", [WHEEL], read=awake)
    dealer.car("stored", [WHEEL], read=MODULES)
    dealer._add("open_codes", ("stored", "BCM", TRAILER, START, START, "history", None))
    dealer.car("active", [WHEEL, TRAILER], read=MODULES)
    model = dealer.model(calibration=0.0)
    found = {car.vehicle: (car.codes, model.diagnose(car)) for car in model.cars()}
    chance = {name: found[name][1].posterior.weights.faulty() for name in found}
    assert found["stored"][0] == found["plain"][0]
    assert np.array_equal(chance["stored"], chance["plain"])
    assert chance["active"].shape != chance["plain"].shape


def test_a_code_that_was_only_stored_before_a_job_teaches_nothing():
    def learned(stored: bool, awake: bool = False) -> NoisyOrParameters:
        dealer = towing(2, cleared=3)
        beside = {TRAILER: "returned"} if stored else {}
        modules = MODULES if stored else tuple(module for module in MODULES if module != "BCM")
        job = dealer.job({WHEEL: "cleared"} | beside, (PARTS[WHEEL],), read=modules)
        frames = dealer.frames()
        asleep = (pl.col("job_id") == job) & (pl.col("code") == TRAILER) & (not awake)
        visits, prior, _ = prepared(replace(frames, outcomes=frames.outcomes.with_columns(awake=~asleep)))
        return fit_parameters(visits, prior)

    without, asleep, awake = learned(stored=False), learned(stored=True), learned(stored=True, awake=True)
    for name in ("link_yes", "link_no", "leak", "leak_recurrence", "fault_yes", "numbers"):
        assert getattr(asleep, name) == pytest.approx(getattr(without, name), rel=1e-9)
    assert awake.leak[3] > asleep.leak[3] * 1.01


def test_codes_that_differ_lean_little_on_each_other_and_alike_ones_wholly():
    _, learn = gauges()
    looks = np.full(5, 1000.0)
    differ = learn(leaked=np.array([400.0, 0.0, 0.0, 0.0, 0.0]), reads=looks)
    alike = learn(leaked=np.full(5, 80.0), reads=looks)
    assert differ.leak_strength == 100.0
    assert alike.leak_strength == 400.0
    # All codes: the same 400 in 5,000 looks and a belief of .01 worth 1,000.
    usual = (10 + 400) / 6000
    assert differ.leak == pytest.approx([(100 * usual + 400) / 1100] + [100 * usual / 1100] * 4)
    assert alike.leak == pytest.approx([(400 * usual + 80) / 1400] * 5)
    # So it is with which of them come back: all of two codes' and none of two others', or half of each; never nearer
    # than .02 to surely.
    leaked, usual = np.array([50.0, 50.0, 50.0, 50.0, 0.0]), (0.3 * 20 + 100) / 220
    unlike = learn(leaked=leaked, reads=looks, stayed=np.array([50.0, 50.0, 0.0, 0.0, 0.0])).leak_recurrence
    same = learn(leaked=leaked, reads=looks, stayed=np.array([25.0, 25.0, 25.0, 25.0, 0.0])).leak_recurrence
    assert unlike == pytest.approx([0.98, 0.98, 0.02, 0.02, usual])
    assert same == pytest.approx([(32 * usual + 25) / 82] * 4 + [usual])


def two_makes(other_text: str, cleared: int = 0) -> Dealer:
    """Trailer codes that stand at one make, its number at another make on one car, cleared there so often."""
    dealer = shop()
    for make, text in (("corvane", "trailer socket"), ("brunmar", other_text)):
        dealer.code(f"BCM:B1137@{make}", text)
    for number in range(4):
        work(dealer, number, {"BCM:B1137@corvane": "returned"})
    for number in range(cleared):
        dealer.job(
            {"BCM:B1137@brunmar": "cleared"}, (PARTS[BLOWER],), make="brunmar", vehicle=f"b{number}", read=MODULES
        )
    dealer.car("namesake", ["BCM:B1137@brunmar"], make="brunmar", read=MODULES)
    return with_radios(dealer)


@pytest.mark.parametrize(
    ("text", "cleared", "left"),
    [("Trailer socket", 0, True), ("horn", 0, False), ("Trailer socket", 4, False)],
    ids=["same text", "another text", "cleared there"],
)
def test_a_makers_code_leans_on_its_namesake_at_another_make(text, cleared, left):
    assert ("leave" in actions(two_makes(text, cleared), "namesake")) == left


def test_a_code_that_names_a_part_stands_only_once_that_part_was_tried_in_vain_on_several_cars():
    def named(tried: int) -> Dealer:
        dealer = shop()
        dealer.part("trailer lamp", 2000, 10.0)
        for number in range(6):
            parts = ("trailer lamp",) if number < tried else (PARTS[BATTERY],)
            dealer.job({LAMP: "returned"}, parts, vehicle=f"l{number}", read=MODULES)
        return in_stock(dealer)

    assert groups_of(named(1)) == []
    assert groups_of(named(2)) == [[LAMP]]


def flat(erases: int, back: int = 0) -> Dealer:
    """Cars with voltage codes in four modules that an erase alone ended, or not, and one in stock."""
    dealer = shop()
    low = [BATTERY, *(f"{module}:U3003" for module in ("HVAC", "BCM", "IPC"))]
    for code in low[1:]:
        dealer.code(code, None, "battery / alternator")
    dealer.code("ABS:U0140", None, None, "BCM")
    dealer.code("IPC:U0140", None, None, "BCM")
    for number in range(erases + back):
        end = "cleared" if number < erases else "returned"
        dealer.job(dict.fromkeys(low, end), (), vehicle=f"flat{number}", read=MODULES)
    dealer.car("flat", [*low, "ABS:U0140", "IPC:U0140"], read=MODULES)
    return dealer


def test_low_voltage_is_one_cause_that_an_erase_ends_with_all_its_codes_and_the_modules_that_it_silences():
    model = flat(6).model(calibration=0.0)
    [car] = [car for car in model.cars() if car.vehicle == "flat"]
    posterior = model.diagnose(car).posterior
    assert posterior.passing.min() > 0.8
    assert actions(flat(6), "flat")[0] == "recheck"
    # Where such codes were back after the erases, something is wrong with the supply itself.
    assert model.parameters.bad[model.parameters.passing] < 0.1
    worse = flat(2, back=6).model(calibration=0.0)
    [same] = [car for car in worse.cars() if car.vehicle == "flat"]
    assert worse.diagnose(same).posterior.passing.max() < posterior.passing.min()


def test_how_often_stored_codes_alone_are_past_is_learned_from_erases_alone():
    def past(gone: int, back: int, mended: bool = False) -> list[float]:
        dealer = shop()
        for number in range(gone + back):
            if mended:
                dealer.job({WHEEL: "cleared"}, (PARTS[WHEEL],), vehicle=f"s{number}", read=MODULES)
            dealer.job({LAMP: "cleared" if number < gone else "returned"}, (), vehicle=f"s{number}", read=MODULES)
        frames = dealer.frames()
        asleep = pl.col("code") == LAMP
        frames = replace(frames, outcomes=frames.outcomes.with_columns(awake=pl.col("awake") & ~asleep))
        model = fit(frames, dealer.findings().families, COSTS, 0.0)
        return model.parameters.past.tolist()

    # Six in ten, worth six erases, and the counts.
    assert past(0, 0) == pytest.approx([0.6, 0.6])
    assert past(10, 0) == pytest.approx([13.6 / 16, 0.6])
    assert past(2, 8) == pytest.approx([5.6 / 16, 0.6])
    # A repair without an erase leaves its codes stored: what erases end then says nothing of a car that has come in.
    assert past(10, 0, mended=True) == pytest.approx([0.6, 13.6 / 16])
