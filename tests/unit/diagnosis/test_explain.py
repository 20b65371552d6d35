"""The reasoning behind one car's lines: weights of evidence that add up, the jobs behind a row, a code taken away."""

import math
from dataclasses import replace
from datetime import timedelta

import numpy as np
import polars as pl
import pytest

from analysis.diagnosis import DiagnosisModel, Explanation, fit, list_cars
from analysis.diagnosis.inference.calibration import Calibration
from analysis.diagnosis.inference.posterior import HISTORY_LEAK, Car, infer
from analysis.diagnosis.inference.weights_of_evidence import weights_of_evidence
from analysis.diagnosis.model.priors import BAD_NEW_PART
from tests.support.diagnosis_dealer import START, Dealer
from tests.support.diagnosis_world import COSTS, fleet, nothing_mined, plant

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


def reasons(shop: Dealer, vehicle: str = "V1", calibration: float | None = None) -> Explanation:
    made = shop.model(calibration=calibration)
    return made.explain(vehicle, list_cars(made).rows)


def test_diagnosis_and_list_agree() -> None:
    shop = dealer()
    made = shop.model()
    diagnosis = made.diagnose(made.cars()[0])
    rows = shop.list().rows.filter(pl.col("part") != "")
    steps = [(made.candidates[diagnosis.posterior.parts[step.part]].part, step.chance) for step in diagnosis.steps]
    assert steps == rows.select("part", "chance").rows()
    assert steps, "there is something to compare"


def test_a_part_that_stands_on_the_list_twice_is_explained_once() -> None:
    made = dealer().model()
    rows = list_cars(made).rows.filter(pl.col("part") != "")
    once = made.explain("V1", rows)
    twice = made.explain("V1", pl.concat([rows, rows.with_columns(rank=pl.col("rank") + rows.height)]))
    assert once.log_odds.height == rows.unique(["part", "position"]).height > 0
    for name in ("log_odds", "weights_of_evidence", "visits", "without"):
        assert getattr(twice, name).equals(getattr(once, name)), name


# Weights of evidence.  I. J. Good, Probability and the Weighing of Evidence (1950): the weight of evidence is
# log P(e | h) / P(e | not h), and those of one thing after another, each given the ones before, add up.


def only_sensor(*codes: str, status: str = "active", **car: object) -> tuple[DiagnosisModel, dict[str, float]]:
    """A dealer who knows one part, cheap enough to be listed, so that "not at fault" is "nothing is".

    Returns the model and what moves the part, by code or state.
    """
    shop = Dealer()
    shop.code(SENSOR, "Wheel speed sensor")
    shop.code("ABS:C0032", "Wheel speed sensor signal")
    shop.part("wheel speed sensor", 500, 5.0)
    for job, outcome in car.pop("jobs", ()):
        shop.job({SENSOR: outcome}, ("wheel speed sensor",), vehicle=job)
    shop.car("V1", list(codes), status=status, **car)
    made = shop.model()
    found = made.explain("V1", list_cars(made).rows)
    told = {code or state: ratio for state, code, ratio in found.weights_of_evidence[:, 2:].iter_rows()}
    return made, told | {"prior": found.log_odds["prior"].item(), "posterior": found.log_odds["posterior"].item()}


def test_each_weight_by_hand_where_one_part_is_known() -> None:
    # Two codes share the 0.80 of the text: each is set with c = 1 - sqrt(0.2).  A leak sets a code with .01.
    # What the words say of the two is one statement, so an absent one weighs half.  The open code is active: of the
    # leaks the .3 that last are awake with .8, the others with .05, codes of a faulty part with .8 (Bayes' rule).
    link, leak = 1 - math.sqrt(0.2), 0.01 * (0.3 * 0.8 + 0.7 * 0.05) / 0.8
    made, told = only_sensor(SENSOR)
    assert told["prior"] == pytest.approx(math.log(made.parameters.numbers[1] / made.parameters.numbers[0]))
    assert told["ABS:C0032"] == pytest.approx(math.log(1 - link) / 2)
    assert told[SENSOR] == pytest.approx(math.log((1 - (1 - link) * (1 - leak)) / leak))
    odds = told["prior"] + told["ABS:C0032"] + told[SENSOR]
    p = 1 / (1 + math.exp(-odds))
    # Of the chance of whichever answer is not the likeliest a share goes to no part and to others.
    after = p * (1 - made.calibration.share * (1 - max(p, 1 - p)))
    assert told["unknown cause"] == pytest.approx(math.log(after / (1 - after)) - odds)
    assert told["posterior"] == pytest.approx(math.log(after / (1 - after)))


def test_what_past_promises_kept_is_a_weight_of_its_own() -> None:
    # One part or nothing: a power of both chances multiplies the log odds (Cox 1958).
    made, told = only_sensor(SENSOR)
    sharper = replace(made, calibration=Calibration(0.0, 1.5)).explain("V1", list_cars(made).rows)
    weights = {code or state: ratio for state, code, ratio in sharper.weights_of_evidence[:, 2:].iter_rows()}
    odds = told["prior"] + told["ABS:C0032"] + told[SENSOR]
    assert weights["what past promises kept"] == pytest.approx(0.5 * odds)
    assert sharper.log_odds["posterior"].item() == pytest.approx(1.5 * odds)
    assert "what past promises kept" not in told


def test_a_stored_code_weighs_by_the_leak_that_the_model_used() -> None:
    link, leak = 1 - math.sqrt(0.2), HISTORY_LEAK * 0.01
    _, told = only_sensor(SENSOR, status="history")
    assert told[SENSOR] == pytest.approx(math.log((1 - (1 - link) * (1 - leak)) / leak))
    assert told[SENSOR] < only_sensor(SENSOR)[1][SENSOR]
    # Six in ten of such cars have nothing wrong today: odds o become .4 o / (1 + .6 o).
    odds = math.exp(told["prior"] + told["ABS:C0032"] + told[SENSOR])
    assert told["stored only, none active"] == pytest.approx(math.log(0.4 * odds / (1 + 0.6 * odds)) - math.log(odds))


def test_a_code_that_outlasted_an_erase_weighs_by_the_leak_that_lasts() -> None:
    # It came back after work, so of its leaks only those count that return after an erase.
    made, told = only_sensor(SENSOR, jobs=[("V1", "returned")])
    link = made.parameters.link[0, 0]
    leak = made.parameters.leak[0] * made.parameters.leak_recurrence[0]
    assert told[SENSOR] == pytest.approx(math.log((1 - (1 - link) * (1 - leak)) / leak))


def test_a_part_that_the_car_got_in_vain_is_told_against() -> None:
    _, told = only_sensor(SENSOR, jobs=[("V1", "returned"), ("V2", "cleared"), ("V3", "cleared")])
    assert told["fitted in vain"] == pytest.approx(math.log(BAD_NEW_PART))


def test_a_code_of_a_module_that_was_not_read_says_nothing() -> None:
    assert "SRS:B0050" not in reasons(dealer()).weights_of_evidence["code"].to_list()


def drawn(seed: int, stock: int = 12) -> tuple[DiagnosisModel, list[Car]]:
    """Cars of a drawn fleet, and the same with stored and lasting codes, parts fitted in vain and parts renewed."""
    frames, _, _ = fleet(plant(seed, dirty=True), seed + 1, visits=60, stock=stock)
    made = fit(frames, nothing_mined().families, COSTS)
    rng, cars = np.random.default_rng(seed), []
    for car in made.cars():
        many = len(car.codes)
        parts = made.diagnose(car).posterior.parts
        some = {part for part in parts if rng.random() < 0.3}
        lasting = frozenset(d for d in car.codes if rng.random() < 0.5)
        cars += [
            car,
            replace(car, stale=np.ones(many, dtype=bool)),
            replace(car, stale=rng.random(many) < 0.5, lasting=lasting, failed=some),
            replace(car, lasting=lasting, renewed=frozenset(some)),
        ]
    return made, cars


@pytest.mark.parametrize("seed", [61100, 61101])
def test_prior_and_weights_of_evidence_sum_to_the_posterior_of_every_suspect(seed) -> None:
    made, cars = drawn(seed)
    made = replace(made, calibration=Calibration(made.calibration.share, 1.3))
    seen = set()
    for car in cars:
        posterior = made.diagnose(car).posterior
        told = weights_of_evidence(car, made.parameters, posterior, made.calibration)
        chance = posterior.weights.faulty()[0, : len(posterior.parts)]
        still = np.array([part in car.renewed for part in posterior.parts], dtype=bool)
        chance = np.where(still, chance * made.parameters.bad_today[posterior.parts], chance)
        assert told.log_odds == pytest.approx(np.log(chance / (1 - chance)), rel=1e-8, abs=1e-9)
        seen |= {state for state, _ in told.steps if len(posterior.parts) > 1}
    assert seen == {
        "fitted in vain", "absent", "open", "what past promises kept", "stored only, none active", "unknown cause",
        "renewed, no scan since",
    }  # fmt: skip


def test_a_weight_is_the_change_that_its_evidence_makes() -> None:
    # Another route: the same car diagnosed anew without its last code, nobody having looked for it.
    made, cars = drawn(61102, stock=80)
    compared = 0
    for car in (car for car in cars[::4] if len(car.codes) > 1):
        posterior = made.diagnose(car).posterior
        told = weights_of_evidence(car, made.parameters, posterior, Calibration(0.0))
        allowed = np.isin(np.arange(len(made.candidates)), posterior.parts)
        fewer = infer(replace(car, codes=car.codes[:-1], stale=car.stale[:-1]), made.parameters, allowed)
        if (fewer.parts, fewer.causes) == (posterior.parts, posterior.causes):
            compared += 1
            chance = fewer.weights.faulty()[0, : len(fewer.parts)]
            before = told.prior + told.log_ratio[: told.steps.index(("open", car.codes[-1]))].sum(axis=0)
            assert before == pytest.approx(np.log(chance / (1 - chance)), rel=1e-8, abs=1e-9)
    assert compared >= 4


def test_what_is_printed_of_a_listed_part_adds_up() -> None:
    found = reasons(dealer())
    sums = found.weights_of_evidence.group_by("part", "position").agg(pl.col("log_ratio").sum())
    both = found.log_odds.join(sums, on=["part", "position"])
    assert both.height == found.log_odds.height > 0
    assert (both["prior"] + both["log_ratio"]).to_list() == pytest.approx(both["posterior"].to_list())


@pytest.mark.parametrize(("calibration", "moves"), [(0.0, 0.02), (None, 0.03)])
def test_a_chance_moves_when_its_own_code_goes_and_stays_when_another_does(calibration, moves) -> None:
    moved = reasons(dealer(), calibration=calibration).without.filter(pl.col("part") == "wheel speed sensor")
    now, without = {code: (a, b) for _, _, code, a, b in moved.iter_rows()}[SENSOR]
    assert without == 0.0, "nothing else speaks for it"
    assert now > 0.5
    # The unknown-cause mass follows the posterior, and without the other code it is a little more.
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
    assert found.rows.filter(pl.col("part") == "wheel speed sensor")["clears"].unique().to_list() == [SENSOR]
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
