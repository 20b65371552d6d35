"""The unknown-cause mass: the usual share, and the share that past predictions speak for."""

import numpy as np
import polars as pl
import pytest
from scipy.integrate import quad
from scipy.stats import beta

from analysis.diagnosis.engine import fit
from analysis.diagnosis.evaluation.metrics import unknown_cause
from analysis.diagnosis.inference.calibration import (
    ENOUGH,
    PRIOR_PREDICTIONS,
    UNKNOWN_CAUSE_SHARE,
    UNKNOWN_CAUSE_VISITS,
    learned_calibration,
    usual_calibration,
)
from analysis.diagnosis.inference.posterior import infer
from tests.support.diagnosis_dealer import COSTS, Dealer


def predicted(chance: float, held: int, n: int, one_minus_max: float = 1.0, if_unknown: float = 0.0) -> pl.DataFrame:
    came = [True] * held + [False] * (n - held)
    return pl.DataFrame(
        {"chance": [chance] * n, "one_minus_max": [one_minus_max] * n, "if_unknown": [if_unknown] * n, "held": came}
    )


def test_the_usual_share_halves_with_visits():
    assert usual_calibration(0) == UNKNOWN_CAUSE_SHARE
    assert usual_calibration(int(UNKNOWN_CAUSE_VISITS)) == UNKNOWN_CAUSE_SHARE / 2
    assert usual_calibration(10**9) == 0.0


def test_few_predictions_change_nothing():
    assert learned_calibration(predicted(0.9, 0, ENOUGH - 1), 50) == usual_calibration(50)
    assert learned_calibration(predicted(0.9, 0, ENOUGH), 50) > usual_calibration(50)


@pytest.mark.parametrize(
    ("chance", "one_minus_max", "if_unknown", "held", "n"),
    [(0.9, 1.0, 0.0, 60, 100), (0.8, 0.4, 0.3, 30, 40), (0.95, 0.1, 0.4, 170, 200)],
)
def test_the_share_is_the_posterior_mean(chance, one_minus_max, if_unknown, held, n):
    # Independent route: the same posterior by numerical integration of scipy's Beta and Bernoulli densities.
    usual = usual_calibration(150)
    prior = beta(usual * PRIOR_PREDICTIONS, (1 - usual) * PRIOR_PREDICTIONS)
    scale = max(held * np.log(held / n) + (n - held) * np.log(1 - held / n), -700)

    def weight(share: float) -> float:
        p = chance * (1 - share * one_minus_max) + if_unknown * share * one_minus_max
        return float(prior.pdf(share) * np.exp(held * np.log(p) + (n - held) * np.log1p(-p) - scale))

    whole = quad(weight, 1e-9, 1 - 1e-9, limit=400)[0]
    mean = quad(lambda share: share * weight(share), 1e-9, 1 - 1e-9, limit=400)[0] / whole
    assert learned_calibration(predicted(chance, held, n, one_minus_max, if_unknown), 150) == pytest.approx(
        mean, abs=2e-3
    )


def test_failed_predictions_raise_the_share_and_true_ones_lower_it():
    usual = usual_calibration(50)
    assert learned_calibration(predicted(0.9, 40, 100), 50) > usual + 0.1
    assert learned_calibration(predicted(0.9, 95, 100), 50) < usual


def test_every_chance_of_a_car_gives_its_part_of_the_unknown_cause_mass():
    dealer = Dealer()
    dealer.code("ABS:C0031", "wheel speed sensor")
    dealer.code("ECM:P0500", "vehicle speed sensor")
    dealer.part("wheel speed sensor")
    dealer.part("vehicle speed sensor")
    dealer.car("car", ["ABS:C0031"], read=("ECM",))
    findings = dealer.findings()
    bare, careful = (fit(dealer.frames(), findings.families, COSTS, share) for share in (0.0, 0.2))
    car = bare.cars()[0]
    posteriors = [model.diagnose(car).posterior for model in (bare, careful)]
    whole, less = (posterior.weights for posterior in posteriors)
    kept = 0.2 * (1 - whole.faulty()[0, 0])
    assert [posterior.one_minus_max for posterior in posteriors] == pytest.approx([1 - whole.faulty()[0, 0]] * 2)
    assert less.chance.sum() == pytest.approx(1.0)
    assert less.faulty()[0, 0] == pytest.approx((1 - kept) * whole.faulty()[0, 0])
    assert less.faulty()[0, -1] == pytest.approx((1 - kept) * whole.faulty()[0, -1] + kept * 0.9)
    assert less.sizes()[0, 0] == pytest.approx((1 - kept) * whole.sizes()[0, 0] + kept * 0.1)  # its one code is active
    assert fit(dealer.frames(), findings.families, COSTS).calibration == UNKNOWN_CAUSE_SHARE
    allowed = np.ones(2, dtype=bool)
    assert infer(car, bare.parameters, allowed).weights.chance == pytest.approx(whole.chance)


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
