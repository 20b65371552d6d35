"""The reasoning behind one car's lines: log-ratios by hand, the jobs behind a row, and a code taken away."""

import math
from datetime import timedelta

import polars as pl
import pytest

from analysis.diagnosis.engine import DiagnosisModel, Explanation, diagnose, fit
from analysis.diagnosis.model.priors import BAD_NEW_PART
from analysis.evidence import weigh
from tests.support.diagnosis_dealer import COSTS, START, Dealer

SENSOR, LOW, MODULE = "ABS:C0031", "ECM:P0562", "ABS:C0044"


def dealer() -> Dealer:
    shop = Dealer()
    shop.code(SENSOR, "Wheel speed sensor")
    shop.code(LOW, "System voltage low")
    shop.code(MODULE, "Brake pressure sensor")
    shop.code("SRS:B0050", "Seat belt switch")
    shop.part("wheel speed sensor", 5000, 30.0)
    shop.part("brake pressure sensor", 9000, 60.0)
    shop.car("V1", [SENSOR, LOW], read=("TCM",))
    return shop


def model(shop: Dealer, reserve: float | None = None) -> DiagnosisModel:
    findings = shop.findings()
    return fit(shop.frames(), weigh(shop.past(), findings.members), findings.families, COSTS, reserve)


def reasons(shop: Dealer, vehicle: str = "V1", reserve: float | None = None) -> Explanation:
    return explain(model(shop, reserve), shop.list(reserve=reserve).rows, vehicle)


def test_scales_and_list_agree() -> None:
    shop = dealer()
    made = model(shop)
    diagnosis = diagnose(made, made.cars()[0])
    rows = shop.list().rows.filter(pl.col("part") != "")
    steps = [(made.candidates[diagnosis.posterior.parts[step.part]].part, step.chance) for step in diagnosis.steps]
    assert steps == rows.select("part", "chance").rows()
    assert steps, "there is something to compare"


def test_the_log_ratio_of_a_code_is_that_of_its_chances_with_and_without_the_part() -> None:
    # I. J. Good, Probability and the Weighing of Evidence (1950): weight of evidence = log P(e|h) / P(e|not h).
    # With no repairs the texts alone speak: the sensor sets its code with 0.80, a leak with 0.01.
    shop = dealer()
    voice = reasons(shop).weights_of_evidence.filter(
        (pl.col("code") == SENSOR) & (pl.col("part") == "wheel speed sensor")
    )
    assert voice["state"].item() == "open"
    assert voice["log_ratio"].item() == pytest.approx(math.log((1 - 0.2 * 0.99) / 0.01))


def test_an_absent_code_speaks_against_its_part_and_an_unread_one_says_nothing() -> None:
    shop = dealer()
    shop.code("ABS:C0032", "Wheel speed sensor signal")
    weights_of_evidence = reasons(shop).weights_of_evidence.filter(pl.col("part") == "wheel speed sensor")
    # Two codes share the 0.80: each is set with 1 - sqrt(0.2), so its absence costs log sqrt(0.2).
    absent = weights_of_evidence.filter(pl.col("code") == "ABS:C0032").row(0, named=True)
    assert (absent["state"], absent["log_ratio"]) == ("absent", pytest.approx(math.log(0.2) / 2))
    assert "SRS:B0050" not in weights_of_evidence["code"].to_list()


def test_a_stored_code_speaks_less_than_an_active_one() -> None:
    loud, log_lik_absent = dealer(), Dealer(dealer().rows | {"stock": [], "open_codes": [], "open_modules": []})
    log_lik_absent.car("V1", [SENSOR, LOW], read=("TCM",), status="history")
    first = (pl.col("code") == SENSOR) & (pl.col("part") == "wheel speed sensor")
    active, stored = (
        reasons(shop).weights_of_evidence.filter(first)["log_ratio"].item() for shop in (loud, log_lik_absent)
    )
    assert stored == pytest.approx(math.log((1 - 0.2 * 0.95) / 0.05))
    assert stored < active


def test_a_part_that_the_car_got_in_vain_is_told_against() -> None:
    shop = dealer()
    shop.job({SENSOR: "returned"}, ("wheel speed sensor",), vehicle="V1")
    shop.job({SENSOR: "cleared"}, ("wheel speed sensor",))
    shop.job({SENSOR: "cleared"}, ("wheel speed sensor",))
    told = reasons(shop).weights_of_evidence.filter(pl.col("state") == "fitted in vain")
    assert told.select("part", "code", "log_ratio").rows() == [
        ("wheel speed sensor", "", pytest.approx(math.log(BAD_NEW_PART)))
    ]


@pytest.mark.parametrize(("reserve", "moves"), [(0.0, 0.01), (None, 0.02)])
def test_a_chance_moves_when_its_own_code_goes_and_stays_when_another_does(reserve, moves) -> None:
    moved = reasons(dealer(), reserve=reserve).without.filter(pl.col("part") == "wheel speed sensor")
    now, without = {code: (a, b) for _, _, code, a, b in moved.iter_rows()}[SENSOR]
    assert without == 0.0, "nothing else speaks for it"
    assert now > 0.5
    # What is kept back follows the doubt, and without the other code that is a little more.
    assert moved.filter(pl.col("code") == LOW)["without"].item() == pytest.approx(now, abs=moves)


def test_a_code_taken_away_counts_as_read_and_absent() -> None:
    # The same car scanned without that code, its module read all the same, is the other route.
    chances = []
    for codes in ([SENSOR, "ABS:C0032"], [SENSOR]):
        shop = Dealer(dealer().rows | {"stock": [], "open_codes": [], "open_modules": []})
        shop.code("ABS:C0032", "Wheel speed sensor signal")
        shop.car("V1", codes, read=("ECM",))
        chances.append(reasons(shop).without.filter(pl.col("part") == "wheel speed sensor"))
    taken = chances[0].filter(pl.col("code") == "ABS:C0032")["without"].item()
    assert taken == pytest.approx(chances[1]["chance"].item(), rel=1e-12)
    assert taken < chances[0]["chance"][0]


def test_the_jobs_behind_a_row_are_those_with_its_part_alone_and_its_codes() -> None:
    shop = dealer()
    shop.job({SENSOR: "cleared", LOW: "returned"}, ("wheel speed sensor",), km=120.0)
    shop.job({SENSOR: "returned"}, ("wheel speed sensor",))
    shop.job({SENSOR: "unproven"}, ("wheel speed sensor",), km=8.0)
    shop.job({SENSOR: "cleared"}, ("wheel speed sensor", "brake pressure sensor"))
    shop.job({MODULE: "returned"}, ("wheel speed sensor",))
    shop.job({SENSOR: "cleared"}, ("brake pressure sensor",))
    found = reasons(shop)
    assert found.rows.filter(pl.col("part") == "wheel speed sensor")["clears"].item() == SENSOR
    jobs = found.visits.filter(pl.col("part") == "wheel speed sensor")
    assert jobs.select("vehicle", "job", "outcome", "km", "codes").rows() == [
        ("old3", "J3", "unproven", 8.0, SENSOR),
        ("old2", "J2", "returned", 20.0, SENSOR),
        ("old1", "J1", "cleared", 120.0, SENSOR),
    ]
    assert jobs["done_at"].to_list()[-1] == START + timedelta(days=1)


def test_masked_codes_keep_their_reason_and_unread_modules_are_named() -> None:
    shop = dealer()
    shop.car("V2", [MODULE], background="tow bar")
    found = reasons(shop, "V2")
    assert found.codes.select("code", "background", "text").rows() == [(MODULE, "tow bar", "Brake pressure sensor")]
    assert found.unread == ["ECM", "SRS"]
    assert [frame.height for frame in (found.rows, found.weights_of_evidence, found.visits, found.without)] == [
        0,
        0,
        0,
        0,
    ]


def test_a_vehicle_that_is_not_in_stock_is_refused() -> None:
    with pytest.raises(ValueError, match=r"^V9 is not among the 1 vehicles in stock$"):
        reasons(dealer(), "V9")
