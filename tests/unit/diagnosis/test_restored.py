"""A model that was kept and restored is the model that was fitted: the same list, to the last bit."""

from dataclasses import fields

import numpy as np
import pytest

from analysis.diagnosis import DiagnosisModel, fit, list_cars
from analysis.diagnosis.inference.calibration import Calibration
from tests.support.diagnosis_dealer import COSTS, golden
from tests.support.diagnosis_world import COSTS as DRAWN_COSTS
from tests.support.diagnosis_world import fleet, nothing_mined, plant


def same(one: DiagnosisModel, other: DiagnosisModel) -> None:
    """Every car's posterior and steps, and the whole list, are identical."""
    assert [car.vehicle for car in one.cars()] == [car.vehicle for car in other.cars()] != []
    for mine, theirs in zip(one.cars(), other.cars(), strict=True):
        first, second = one.diagnose(mine), other.diagnose(theirs)
        assert np.array_equal(first.posterior.weights.chance, second.posterior.weights.chance)
        assert (first.steps, first.tied) == (second.steps, second.tied)
    assert list_cars(one).rows.equals(list_cars(other).rows)
    assert list_cars(one).notes == list_cars(other).notes


def test_a_restored_model_gives_identical_diagnoses() -> None:
    frames, _, _ = fleet(plant(71100, dirty=True), 71101, visits=60, stock=8)
    made = fit(frames, nothing_mined().families, DRAWN_COSTS, Calibration(0.1234, 1.1))
    same(made, DiagnosisModel.restored(frames, DRAWN_COSTS, made.fitted()))


def test_families_and_the_usual_calibration_come_back_as_well(tmp_path) -> None:
    shop = golden()
    shop.families.append(("F1", ["ABS:C0031", "ABS:C0099"], "ABS:C0031"))
    made = shop.model()
    np.savez(tmp_path / "model.npz", allow_pickle=False, **made.fitted())
    with np.load(tmp_path / "model.npz", allow_pickle=False) as kept:
        again = DiagnosisModel.restored(shop.frames(), COSTS, dict(kept))
    same(made, again)
    assert again.prior.pattern.any()
    for field in fields(made.parameters):
        assert np.array_equal(getattr(made.parameters, field.name), getattr(again.parameters, field.name))
    assert (again.jobs, again.calibration) == (made.jobs, made.calibration)
    rows = list_cars(made).rows
    told, retold = (one.explain("active", rows).weights_of_evidence for one in (made, again))
    assert told.equals(retold)


def test_one_share_of_stored_codes_that_are_past_stands_for_cars_repaired_before_and_for_others() -> None:
    shop = golden()
    fitted = shop.model().fitted() | {"parameters_past": np.array(0.7)}
    assert DiagnosisModel.restored(shop.frames(), COSTS, fitted).parameters.past.tolist() == [0.7, 0.7]


def test_another_price_changes_the_costs_alone() -> None:
    shop = golden()
    fitted = shop.model().fitted()
    row = shop.rows["parts"][0]
    shop.rows["parts"][0] = (*row[:2], 1, *row[3:])
    again = DiagnosisModel.restored(shop.frames(), COSTS, fitted)
    assert again.total[0] == 1 + 15 / 60 * 6000


def test_facts_that_do_not_align_are_refused_in_words() -> None:
    shop = golden()
    fitted = shop.model().fitted()
    shop.part("brake hose")
    with pytest.raises(ValueError, match=r"^the fitted model knows 3 parts, the facts 4 \(new: brake hose\); fit it"):
        DiagnosisModel.restored(shop.frames(), COSTS, fitted)
    shop = golden()
    shop.rows["codes"] = [row for row in shop.rows["codes"] if row[0] != "ABS:C0099"]
    with pytest.raises(ValueError, match=r"^the fitted model knows 6 codes, the facts 5 \(gone: ABS:C0099\); fit it"):
        DiagnosisModel.restored(shop.frames(), COSTS, fitted)
    del fitted["parameters_bad"]
    with pytest.raises(ValueError, match=r"^the fitted model lacks parameters_bad; fit it anew$"):
        DiagnosisModel.restored(golden().frames(), COSTS, fitted)
