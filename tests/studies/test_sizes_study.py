"""The study of kinds and sizes: what it says of intervals, and that makes apart have no facts in common."""

import numpy as np
import pytest

from analysis.diagnosis.inference.posterior import interval
from tests.studies import sizes_study
from tests.studies.sizes_study import facts_at, held, of_make, visits_of


@pytest.mark.parametrize(("chance", "visits"), [(0.7, 4.0), (0.3, 25.0), (0.92, 1.5), (0.5, 300.0)])
def test_the_visits_that_an_interval_is_worth_are_found_again(chance: float, visits: float):
    assert visits_of(chance, *interval(chance, visits)) == pytest.approx(visits, rel=1e-3)


@pytest.mark.parametrize("cars", [1, 8, 200])
def test_intervals_that_are_right_hold_nine_times_in_ten_however_many_cars_there_are(cars: int):
    # The chance of each line is drawn from the very Beta that its interval is of.
    rng = np.random.default_rng(cars)
    right = [rng.random(cars) < rng.beta(0.7 * 6, 0.3 * 6) for _ in range(3000)]
    assert np.mean([held([0.7] * cars, [6.0] * cars, kept) for kept in right]) == pytest.approx(0.9, abs=0.02)


def test_intervals_that_are_too_narrow_hold_less_often_where_cars_are_many():
    rng = np.random.default_rng(4)
    wide = [rng.random(40) < rng.beta(0.7 * 3, 0.3 * 3) for _ in range(1000)]
    assert np.mean([held([0.7] * 40, [60.0] * 40, kept) for kept in wide]) < 0.6


@pytest.mark.slow
def test_makes_apart_share_no_car_and_no_job_and_together_are_all():
    frames = facts_at("own_numbers", 30, seed=7, judged=20).frames
    apart = [of_make(frames, make) for make in frames.stock["make"].unique().sort()]
    for name in ("stock", "open_codes", "jobs", "job_parts", "outcomes", "first_codes", "stock_erases"):
        assert sum(getattr(one, name).height for one in apart) == getattr(frames, name).height, name
        assert all(getattr(one, name).height < getattr(frames, name).height for one in apart), name


@pytest.mark.slow
def test_a_cell_says_one_line_of_a_kind_and_size(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(sizes_study, "KNOWN_BY", 60)
    sizes_study.main(["clean", "--visits", "20", "--seeds", "3", "1", "--judged", "20", "--apart", "--rates"])
    head, told = capsys.readouterr().out.splitlines()
    assert len(told) == len(head)
    assert told.split()[:3] == ["clean", "20", "20"]
