"""Moments, bounds and reachable levels of all pairs, against the sums, the exact tests and the tests of every pair."""

import numpy as np
import pytest

from analysis.mining.car_counts import car_counts
from analysis.mining.episode_arrays import episode_arrays
from analysis.mining.pairs import CONFIRM_AT, find_verdicts, reachable_levels
from analysis.mining.screening import Moments, chance_moments, least_levels, p_at_least
from analysis.statistics.multiple_testing import benjamini_hochberg, tarone_level
from analysis.statistics.stratified_tests import expected_joint, log_least, null_distributions, p_more
from tests.support.mining_fleets import draw_fleet
from tests.support.mining_worlds import Basket, mining_frames


@pytest.fixture(scope="module", params=[(5, 300), (6, 900)])
def counts(request):
    seed, cars = request.param
    return car_counts(episode_arrays(draw_fleet(seed, cars, families=4, singles=30).frames()))


def moments_by_hand(with_a, with_b, cars):
    least, chances = null_distributions(with_a, with_b, cars)
    values = least[:, None] + np.arange(chances.shape[1])
    mean = (chances * values).sum(axis=1)
    gaps = values - mean[:, None]
    return mean, (chances * gaps**2).sum(axis=1), (chances * gaps**3).sum(axis=1)


def test_the_moments_are_those_of_the_exact_distribution(counts):
    for moment, by_hand in zip(
        chance_moments(counts), moments_by_hand(*counts.margins(counts.first, counts.second)), strict=True
    ):
        assert moment == pytest.approx(by_hand, abs=1e-9)


def test_the_mean_is_what_the_single_counts_expect(counts):
    expected = expected_joint(*counts.margins(counts.first, counts.second)).sum(axis=1)
    assert chance_moments(counts).mean == pytest.approx(expected)


def test_no_p_value_falls_below_the_bound(counts):
    chance = chance_moments(counts)
    p_values = p_more(counts.vehicles[:, None], *counts.margins(counts.first, counts.second))
    bounds = p_at_least(counts.vehicles, chance)
    assert (bounds <= p_values * (1 + 1e-9)).all()
    assert np.mean(bounds[p_values > 0.5] > 0.2) > 0.5, "a bound that is near 0 everywhere would be of no use"


@pytest.mark.parametrize("cars", [30, 120, 400])
def test_no_p_value_of_drawn_tables_falls_below_the_bound(cars):
    rng = np.random.default_rng(cars)
    size = (400, 3)
    with_a, with_b = (rng.binomial(cars, rng.choice([0.004, 0.03, 0.1, 0.4], size)) for _ in range(2))
    asked = np.full(size, cars)
    least, chances = null_distributions(with_a, with_b, asked)
    joint = least + (rng.random(len(least)) * (chances > 1e-9).sum(axis=1) * 0.9).astype(int)
    p_values = p_more(joint[:, None], with_a, with_b, asked)
    bounds = p_at_least(joint, Moments(*moments_by_hand(with_a, with_b, asked)))
    met = joint > 0
    assert (bounds[met] <= p_values[met] * (1 + 1e-9)).all()


def test_least_levels_are_those_of_every_pair_of_codes(counts):
    one, other = np.triu_indices(len(counts.codes), 1)
    all_of_them = np.exp(log_least(*counts.margins(one, other)).sum(axis=1))
    expected = np.sort(all_of_them[all_of_them <= CONFIRM_AT])
    found = np.sort(least_levels(counts, CONFIRM_AT))
    assert len(found) == len(expected)
    floor = CONFIRM_AT / len(counts.codes) ** 2
    matter = expected > floor
    assert found[matter] == pytest.approx(expected[matter])
    assert (found[~matter] <= floor).all()
    assert tarone_level(found, CONFIRM_AT) == tarone_level(expected, CONFIRM_AT)


def test_the_verdicts_are_those_of_testing_every_pair_exactly(counts):
    # No screen at all: every pair that met gets its exact p-value, in the order of the definitions.
    least = reachable_levels(counts)
    p_values = p_more(counts.vehicles[:, None], *counts.margins(counts.first, counts.second))
    q_values, confirm_at = benjamini_hochberg(p_values, len(least)), tarone_level(least, CONFIRM_AT)
    listed = np.flatnonzero(((q_values <= 0.05) | (p_values <= confirm_at)) & (counts.vehicles >= 3))
    verdicts = find_verdicts(counts, least, 3, 0.05)
    assert len(listed) > 5
    assert verdicts.places.tolist() == listed.tolist()
    assert verdicts.p_values == pytest.approx(p_values[listed])
    assert verdicts.q_values == pytest.approx(q_values[listed])
    assert verdicts.confirmed.tolist() == (p_values[listed] <= confirm_at).tolist()


def test_codes_that_nobody_could_show_together_have_no_moments():
    counts = car_counts(episode_arrays(mining_frames([Basket("a", "l", {"A:1", "A:2"}), Basket("b", "l", {"B:1"})])))
    chance = chance_moments(counts)
    assert [part.tolist() for part in chance] == [[1.0], [0.0], [0.0]]
    assert p_at_least(counts.vehicles, chance)[0] <= 1
    assert least_levels(counts, 0.05).tolist() == []
