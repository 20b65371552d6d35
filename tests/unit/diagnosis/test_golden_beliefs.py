"""Numbers of what is believed of causes before any job, by hand."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from analysis.diagnosis.inputs.standing_groups import SUPPLY, supply_codes
from analysis.diagnosis.model.priors import with_passing, with_standing
from tests.support.diagnosis_dealer import Dealer
from tests.support.golden_numbers import believed, exactly


def test_where_wording_and_standard_name_two_parts_either_is_right_six_times_in_ten() -> None:
    shop = Dealer()
    shop.code("ABS:C0031", "wheel speed sensor", "brake pressure sensor")
    shop.part("brake pressure sensor")
    shop.part("wheel speed sensor")
    assert shop.model().prior.link[:2, 0] == exactly(np.array([0.8 * 0.6, 0.8 * 0.6]))


def test_a_standing_cause_sets_each_code_of_its_group_four_times_in_five() -> None:
    prior = with_standing(believed(1, 3), [[0, 2]])
    assert prior.link[1] == exactly(np.array([0.8, 0.0, 0.8]))
    assert prior.visits[1, [0, 2]] == exactly(np.array([3.0, 3.0]))


@pytest.mark.parametrize(("modules", "told"), [(2, 0), (3, 3), (4, 4)])
def test_low_supply_is_a_cause_of_its_own_where_three_modules_tell_of_it(modules, told) -> None:
    codes = pl.DataFrame(
        {"module": [f"M{n}" for n in range(modules)], "text": [None] * modules, "component": [min(SUPPLY)] * modules},
        schema=dict.fromkeys(("module", "text", "component"), pl.String),
    )
    assert supply_codes(codes).sum() == told


def test_low_voltage_sets_codes_of_supply_and_lets_modules_be_missed() -> None:
    prior = replace(believed(1, 3), network=np.array([False, True, False]))
    passing = with_passing(prior, np.array([True, False, False]))
    assert passing.link[1] == exactly(np.array([0.5, 0.15, 0.0]))
    assert passing.visits[1, :2] == exactly(np.array([3.0, 3.0]))
