"""A small run of the study: the promise holds on null fleets, planted fleets are read."""

import pytest

from tests.studies.mining_study import mixed_study, null_study, planted_study


@pytest.mark.slow
def test_null_fleets_stay_silent_where_other_ways_of_counting_do_not():
    hits = null_study(5, 150)
    assert hits["as built"][0] <= 1
    assert hits["every basket a car"][0] > hits["as built"][0]


@pytest.mark.slow
def test_few_of_the_listed_pairs_are_false():
    listed, confirmed = mixed_study(3, 150)["as built"]
    assert sum(listed) / 3 <= 0.1
    assert sum(confirmed) == 0


@pytest.mark.slow
def test_planted_fleets_are_read():
    scores = planted_study(2, 400)
    assert sum(one.found for one in scores) >= 0.9 * sum(one.seen for one in scores)
    assert sum(one.false for one in scores) <= 0.05 * sum(one.listed for one in scores)
    assert min(one.agreement for one in scores) > 0.8
    right, wrong, _ = (sum(one.roots[place] for one in scores) for place in range(3))
    assert right >= 8
    assert wrong == 0
