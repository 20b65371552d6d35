"""Numbers of what the places of a part teach one another, by hand: each constant, changed by half, changes one."""

from dataclasses import replace
from math import exp, lgamma, log

import numpy as np
import pytest

from analysis.diagnosis.learning.places import shared_faults, steer
from analysis.diagnosis.model.priors import Prior
from tests.support.golden_numbers import believed, exactly


def two_places(elsewhere: tuple[bool, bool] = (False, False)) -> Prior:
    """One part in two places, and one code whose text may name the other place."""
    return replace(
        believed(2, 1), part=np.zeros(2, dtype=int), place=np.arange(2), elsewhere=np.array(elsewhere)[:, None]
    )


@pytest.mark.parametrize("elsewhere", [(False, False), (False, True)])
def test_what_one_place_tells_of_the_other(elsewhere) -> None:
    set_by, taught = np.array([[3.0], [1.0]]), np.array([[4.0], [6.0]])
    factor, yes, no = steer(set_by, taught, two_places(elsewhere))
    # Even odds that the code tells of one place; one clear in ten is booked on the wrong one.  A text that names a
    # place is wrong in one of twenty: that the code is set from both, or from the place that it does not name.
    wrong = 0.05 if any(elsewhere) else 1.0
    alike = 0.5 * 0.5**4 * wrong
    left, right = 0.25 * 0.9**3 * 0.1, 0.25 * 0.9 * 0.1**3 * wrong
    alike, left, right = (each / (alike + left + right) for each in (alike, left, right))
    told = [min((alike + own) / 0.75, 1.0) for own in (left, right)]
    assert factor[:, 0] == exactly(np.array(told))
    # What the other place taught of a code that both set counts half.
    assert yes[:, 0] == exactly(0.5 * alike * np.array([1.0, 3.0]))
    assert no[:, 0] == exactly(0.5 * alike * np.array([6.0 - 1.0, 4.0 - 3.0]))


def test_how_alike_the_places_fail() -> None:
    faults = [(2.0, 1.0), (5.0, 0.0)]
    prior = replace(believed(4, 1), part=np.array([0, 0, 1, 1]), place=np.array([0, 1, 0, 1]))
    found = shared_faults(np.array([2.0, 1.0, 5.0, 0.0]), prior, usual=0.1, visits=10.0, looked=40.0)
    weights = {}
    for s in (1.0, 2.0, 4.0, 8.0, 16.0, 32.0):
        like = sum(lgamma(s) - lgamma(s + sum(pair)) for pair in faults)
        like += sum(lgamma(s / 2 + n) - lgamma(s / 2) for pair in faults for n in pair)
        weights[s] = exp(like - log(s) / 2)
    strength = sum(s * w for s, w in weights.items()) / sum(weights.values())
    usual = {pair: (0.1 * 10 + sum(pair)) / (10 + 40) for pair in faults}
    by_hand = [usual[pair] * (strength / 2 + n) / (strength + sum(pair)) for pair in faults for n in pair]
    assert found == exactly(np.array(by_hand))
