"""How far chances are believed: the usual way, and as past promises speak for; against numerical integration."""

import numpy as np
import pytest
from scipy.integrate import dblquad, quad
from scipy.special import expit, logit
from scipy.stats import beta, norm

from analysis.diagnosis.engine import fit, stored_calibration
from analysis.diagnosis.evaluation.metrics import sharpness, unknown_cause
from analysis.diagnosis.inference.calibration import (
    ENOUGH,
    PRIOR_PREDICTIONS,
    SHARPNESS_DEVIATION,
    SHARPNESSES,
    UNKNOWN_CAUSE_SHARE,
    UNKNOWN_CAUSE_VISITS,
    Calibration,
    Promises,
    learned_calibration,
    left_out_chances,
    usual_calibration,
)
from analysis.diagnosis.inference.posterior import infer, sharpened
from analysis.diagnosis.model.noisy_or import Weights
from tests.support.diagnosis_dealer import COSTS, Dealer

SURE = 40.0
"""The logarithm of a likelihood ratio that leaves no doubt."""


def predicted(chance: float, held: int, n: int, one_minus_max: float = 1.0, if_unknown: float = 0.0) -> Promises:
    """Promises that no sharpness changes."""
    table = np.ones((n, len(SHARPNESSES)))
    return Promises(
        chance=chance * table, one_minus_max=one_minus_max * table, if_unknown=np.full(n, if_unknown),
        log_ratio=np.where(np.arange(n) < held, SURE, -SURE),
        fault=np.arange(n),
    )  # fmt: skip


def two_answers(chance: np.ndarray, held: np.ndarray, fault: np.ndarray | None = None) -> Promises:
    """Cars on which one part is it or nothing is: a power of both chances is a slope of the log odds."""
    steep = expit(logit(chance)[:, None] * SHARPNESSES)
    return Promises(
        chance=steep, one_minus_max=1 - np.maximum(steep, 1 - steep), if_unknown=np.zeros(len(chance)),
        log_ratio=np.where(held, SURE, -SURE),
        fault=np.arange(len(chance)) if fault is None else fault,
    )  # fmt: skip


def drawn(n: int, slope: float, seed: int) -> Promises:
    rng = np.random.default_rng(seed)
    chance = rng.uniform(0.1, 0.97, n)
    return two_answers(chance, rng.random(n) < expit(slope * logit(chance)))


def test_the_usual_share_halves_with_visits():
    assert usual_calibration(0) == Calibration(UNKNOWN_CAUSE_SHARE, 1.0)
    assert usual_calibration(int(UNKNOWN_CAUSE_VISITS)) == Calibration(UNKNOWN_CAUSE_SHARE / 2)
    assert usual_calibration(10**9) == Calibration(0.0)


def test_few_predictions_change_nothing():
    assert learned_calibration(predicted(0.9, 0, ENOUGH - 1), 50) == usual_calibration(50)
    assert learned_calibration(predicted(0.9, 0, ENOUGH), 50).share > usual_calibration(50).share


@pytest.mark.parametrize(
    ("chance", "one_minus_max", "if_unknown", "held", "n"),
    [(0.9, 1.0, 0.0, 60, 100), (0.8, 0.4, 0.3, 30, 40), (0.95, 0.1, 0.4, 170, 200)],
)
def test_the_share_is_the_posterior_mean(chance, one_minus_max, if_unknown, held, n):
    # Independent route: the same posterior by numerical integration of scipy's Beta and Bernoulli densities.
    usual = usual_calibration(150).share
    prior = beta(usual * PRIOR_PREDICTIONS, (1 - usual) * PRIOR_PREDICTIONS)
    scale = max(held * np.log(held / n) + (n - held) * np.log(1 - held / n), -700)

    def weight(share: float) -> float:
        p = chance * (1 - share * one_minus_max) + if_unknown * share * one_minus_max
        return float(prior.pdf(share) * np.exp(held * np.log(p) + (n - held) * np.log1p(-p) - scale))

    whole = quad(weight, 1e-9, 1 - 1e-9, limit=400)[0]
    mean = quad(lambda share: share * weight(share), 1e-9, 1 - 1e-9, limit=400)[0] / whole
    told = learned_calibration(predicted(chance, held, n, one_minus_max, if_unknown), 150)
    assert told.share == pytest.approx(mean, abs=2e-3)
    assert told.sharpness == 1.0


@pytest.mark.slow
@pytest.mark.parametrize(("slope", "seed"), [(0.6, 1), (1.0, 2), (1.6, 3)])
def test_share_and_sharpness_are_the_posterior_means(slope, seed):
    # Independent route: scipy's dblquad over the exact likelihood of both, with scipy's Beta and normal densities.
    promises, usual = drawn(60, slope, seed), usual_calibration(90).share
    prior = beta(usual * PRIOR_PREDICTIONS, (1 - usual) * PRIOR_PREDICTIONS)
    odds = logit(promises.chance[:, int(np.argmin(abs(SHARPNESSES - 1)))])

    def weight(share: float, steep: float) -> float:
        p = expit(odds * np.exp(steep))
        p = np.where(promises.log_ratio > 0, q := p * (1 - share * (1 - np.maximum(p, 1 - p))), 1 - q)
        return float(prior.pdf(share) * norm.pdf(steep, scale=SHARPNESS_DEVIATION) * np.exp(np.log(p).sum() + 30))

    ends = (np.log(SHARPNESSES[0]), np.log(SHARPNESSES[-1]), 1e-7, 0.9)
    whole = dblquad(weight, *ends, epsabs=1e-9, epsrel=1e-5)[0]
    share = dblquad(lambda share, steep: share * weight(share, steep), *ends, epsabs=1e-9, epsrel=1e-5)[0] / whole
    steep = dblquad(lambda share, steep: steep * weight(share, steep), *ends, epsabs=1e-9, epsrel=1e-5)[0] / whole
    told = learned_calibration(promises, 90)
    assert told.share == pytest.approx(share, abs=4e-3)
    assert np.log(told.sharpness) == pytest.approx(steep, abs=1e-2)


@pytest.mark.slow
def test_what_is_not_proven_counts_as_far_as_it_goes():
    # Of promises of .8 all are kept or not as said; a failure shows at once, a cure in half the cases only, else a
    # drive too short to prove it, that one in two of the causes still there would have survived (a ratio of two).
    rng, n = np.random.default_rng(5), 4000
    kept = rng.random(n) < 0.8
    short = rng.random(n) < 0.5
    ratio = np.where(
        kept, np.where(short, np.log(2.0), SURE), np.where(short & (rng.random(n) < 0.5), np.log(2.0), -SURE)
    )
    promises = two_answers(np.full(n, 0.8), kept)
    told = learned_calibration(Promises(**vars(promises) | {"log_ratio": ratio}), 10**9)
    assert told.sharpness == pytest.approx(1.0, abs=0.06)
    proven = abs(ratio) > 1
    hard = Promises(**{name: values[proven] for name, values in vars(promises).items()})
    assert learned_calibration(hard, 10**9).sharpness < 0.9


@pytest.mark.slow
def test_with_many_promises_the_sharpness_is_the_slope_that_they_were_drawn_with():
    # Cox (1958): log odds of what comes true are a multiple of those that were forecast.
    for slope in (0.7, 1.0, 1.5):
        assert learned_calibration(drawn(6000, slope, 7), 10**9).sharpness == pytest.approx(slope, rel=0.06)


def test_a_promise_is_shown_as_all_other_faults_would_have_made_it():
    promises = drawn(80, 1.4, 11)
    fault = np.repeat(np.arange(40), 2)
    twice = Promises(**vars(promises) | {"fault": fault})
    told = left_out_chances(twice, 60)
    for number in (0, 17, 39):
        mine = fault == number
        rest = Promises(**{name: values[~mine] for name, values in vars(twice).items()})
        learned = learned_calibration(rest, 60)
        assert told[mine] == pytest.approx([twice.under(learned, row) for row in np.flatnonzero(mine)])
    # What became of a promise moves how it is shown only through the others.
    turned = Promises(**vars(twice) | {"log_ratio": np.where(fault == 17, -twice.log_ratio, twice.log_ratio)})
    assert left_out_chances(turned, 60)[fault == 17] == pytest.approx(told[fault == 17])
    assert left_out_chances(turned, 60)[fault != 17] != pytest.approx(told[fault != 17])


def test_sharper_chances_are_powers_scaled_to_one():
    chance = np.array([[[0.5, 0.2, 0.1], [0.1, 0.06, 0.04]]])
    blank = np.zeros((1, 3, 0))
    weights = Weights(
        sets=np.zeros((3, 1), dtype=bool), ways=np.ones((2, 1), dtype=bool), chance=chance, never=blank,
        away=np.zeros((1, 2, 1, 3, 0)), like=np.zeros((1, 2, 3, 0)), size=np.zeros((1, 3), dtype=np.int64),
        evidence=np.zeros(1),
    )  # fmt: skip
    # .6 .26 .14 squared, by hand; what the new parts did keeps its share within each set.
    squared = np.array([0.36, 0.0676, 0.0196]) / 0.4472
    told = sharpened(weights, 2.0).chance
    assert told.sum(axis=1)[0] == pytest.approx(squared)
    assert told[0, 0] / told[0, 1] == pytest.approx(chance[0, 0] / chance[0, 1])
    assert sharpened(weights, 1.0).chance.tolist() == chance.tolist()


def test_chances_that_a_rounding_takes_over_one_leave_nothing_and_not_less(monkeypatch):
    # Three chances whose sum is a rounding above 1, all of them of the one suspect.
    dealer = Dealer()
    dealer.code("ABS:C0031", "wheel speed sensor")
    dealer.part("wheel speed sensor")
    dealer.car("car", ["ABS:C0031"])
    model = fit(dealer.frames(), dealer.findings().families, COSTS, Calibration(0.2))
    over = np.nextafter(1.0, 2.0)
    monkeypatch.setattr(Weights, "faulty", lambda weights: np.full((1, 2), over))
    posterior = model.diagnose(model.cars()[0]).posterior
    assert posterior.one_minus_max == 0.0
    assert posterior.weights.chance.min() >= 0.0


def test_a_share_that_was_stored_alone_is_as_sharp_as_it_was():
    assert stored_calibration({"calibration": np.array(0.25)}) == Calibration(0.25, 1.0)
    assert stored_calibration({"calibration": np.array(Calibration(0.25, 1.2))}) == Calibration(0.25, 1.2)


def test_failed_predictions_raise_the_share_and_true_ones_lower_it():
    usual = usual_calibration(50).share
    assert learned_calibration(predicted(0.9, 40, 100), 50).share > usual + 0.1
    assert learned_calibration(predicted(0.9, 95, 100), 50).share < usual


def test_every_chance_of_a_car_gives_its_part_of_the_unknown_cause_mass():
    dealer = Dealer()
    dealer.code("ABS:C0031", "wheel speed sensor")
    dealer.code("ECM:P0500", "vehicle speed sensor")
    dealer.part("wheel speed sensor")
    dealer.part("vehicle speed sensor")
    dealer.car("car", ["ABS:C0031"], read=("ECM",))
    findings = dealer.findings()
    bare, careful = (fit(dealer.frames(), findings.families, COSTS, Calibration(share)) for share in (0.0, 0.2))
    car = bare.cars()[0]
    posteriors = [model.diagnose(car).posterior for model in (bare, careful)]
    whole, less = (posterior.weights for posterior in posteriors)
    kept = 0.2 * (1 - whole.faulty()[0, 0])
    assert [posterior.one_minus_max for posterior in posteriors] == pytest.approx([1 - whole.faulty()[0, 0]] * 2)
    assert less.chance.sum() == pytest.approx(1.0)
    assert less.faulty()[0, 0] == pytest.approx((1 - kept) * whole.faulty()[0, 0])
    assert less.faulty()[0, -1] == pytest.approx((1 - kept) * whole.faulty()[0, -1] + kept * 0.9)
    assert less.sizes()[0, 0] == pytest.approx((1 - kept) * whole.sizes()[0, 0] + kept * 0.1)  # its one code is active
    assert fit(dealer.frames(), findings.families, COSTS).calibration == Calibration(UNKNOWN_CAUSE_SHARE)
    allowed = np.ones(2, dtype=bool)
    assert infer(car, bare.parameters, allowed).weights.chance == pytest.approx(whole.chance)


def test_the_sharpness_is_told_by_what_it_makes_of_seven_in_ten():
    # Odds of 7 to 3 to the power 1.2 and .8, by hand: .734 and .663.
    assert sharpness(Calibration(0.1, 1.2), 1040) == [
        "Each chance is put right before it is given: on 1,040 past visits, what codes and repairs alone say was too "
        "careful, so 70% against one rival is given as 73%. The chances shown beside what happened have this in them "
        "already: what they are off there is what is left."
    ]
    assert "too sure" in sharpness(Calibration(0.1, 0.8), 40)[0]
    assert sharpness(Calibration(0.1, 0.8), 40)[0].count("is given as 66%.")
    assert sharpness(Calibration(0.1, 1.0), 40) == []


def test_the_share_is_told_with_its_reason():
    told = unknown_cause(0.0312, 40)
    assert told == (
        "No list is complete: where the first answer for a car has one chance in two, its chances are lowered by "
        "1.6% to leave room for other causes and for faults that have passed, as the chances given on 40 past visits "
        "say; surer answers are lowered less."
    )
    early = unknown_cause(0.07, 4)
    assert early.endswith(
        "more than later, when enough chances given on past visits can be held beside what became of them; surer "
        "answers are lowered less."
    )
