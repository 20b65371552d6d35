"""Counts of cars against brute force from raw baskets, and what does not change them."""

from itertools import combinations

import numpy as np
import polars as pl
import pytest
from mining_fleets import draw_fleet
from mining_worlds import Basket, mining_frames

from analysis.mining.counts import car_counts, spells
from analysis.mining.longer import CarsWith
from analysis.mining.null_check import Shuffle, as_cars, counts_of_cars
from analysis.mining.stability import car_answers


def by_hand(baskets, one, other):
    """Per line: cars with both, with the one, with the other, and with both modules read, by plain sets."""
    modules = {one.split(":")[0], other.split(":")[0]}
    answers = {}
    for basket in baskets:
        read = {*basket.read, *(code.split(":")[0] for code in basket.seen())}
        if modules <= read:
            held = basket.seen()
            car = answers.setdefault((basket.line, basket.vehicle), [False] * 3)
            car[0] |= one in held and other in held
            car[1] |= one in held
            car[2] |= other in held
    lines = sorted({basket.line for basket in baskets})
    return [
        [
            *(sum(a[n] for (at, _), a in answers.items() if at == line) for n in range(3)),
            sum(at == line for at, _ in answers),
        ]
        for line in lines
    ]


@pytest.fixture(scope="module")
def fleet():
    return draw_fleet(99, 60, families=3, singles=12)


@pytest.fixture(scope="module")
def counts(fleet):
    frames = fleet.frames()
    return car_counts(spells(frames))


def test_every_pair_is_counted_as_by_hand(fleet, counts):
    assert any(a.vehicle == b.vehicle for a, b in combinations(fleet.baskets, 2)), "some cars have several spells"
    for one, other in combinations(counts.codes, 2):
        assert np.column_stack(counts.lines_with(one, other)).tolist() == by_hand(fleet.baskets, one, other), (
            one,
            other,
        )


def test_the_two_codes_of_a_pair_can_be_asked_either_way(counts):
    one, other = counts.codes[0], counts.codes[5]
    joint, with_one, with_other, cars = counts.lines_with(one, other)
    swapped = counts.lines_with(other, one)
    assert np.array_equal(swapped, (joint, with_other, with_one, cars))


def test_a_car_scanned_five_times_is_one_car():
    baskets = [Basket("a", "l", {"A:1", "B:1"}, day=30 * n) for n in range(5)] + [Basket("b", "l", {"A:1"}, ["B"])]
    frames = mining_frames(baskets)
    counts = car_counts(spells(frames))
    assert [int(part.sum()) for part in counts.lines_with("A:1", "B:1")] == [1, 2, 1, 2]


def test_codes_of_two_spells_of_a_car_have_not_met():
    frames = mining_frames([Basket("a", "l", {"A:1"}, ["B"]), Basket("a", "l", {"B:1"}, ["A"], day=40)])
    counts = car_counts(spells(frames))
    assert [int(part.sum()) for part in counts.lines_with("A:1", "B:1")] == [0, 1, 1, 1]


def test_a_module_that_was_not_read_says_nothing():
    frames = mining_frames(
        [Basket("a", "l", {"A:1"}), Basket("b", "l", {"A:1"}, ["B"]), Basket("c", "l", {"B:1"}, ["A"])]
    )
    counts = car_counts(spells(frames))
    assert [int(part.sum()) for part in counts.lines_with("A:1", "B:1")] == [0, 1, 1, 2]


def test_codes_left_out_leave_no_trace(fleet):
    frames = fleet.frames()
    gone = frozenset(frames.codes["code"][:3])
    counts = car_counts(spells(frames, without=gone))
    assert not gone & set(counts.codes)
    one, other = counts.codes[0], counts.codes[4]
    assert np.column_stack(counts.lines_with(one, other)).tolist() == by_hand(fleet.baskets, one, other)


def test_car_answers_and_sets_of_codes_count_the_same(fleet, counts):
    arrays = spells(fleet.frames())
    links = list(combinations(counts.codes[:6], 2))
    answers = car_answers(links, arrays)
    for place, (one, other) in enumerate(links):
        sums = [np.bincount(arrays.line_of, weights=part[:, place], minlength=len(arrays.lines)) for part in answers]
        assert np.array_equal(sums, counts.lines_with(one, other))
        both = CarsWith((one, other), arrays)
        assert np.array_equal([both(one, other), both(one), both(other), both()], counts.lines_with(one, other))


def test_shuffling_keeps_codes_per_car_and_cars_per_code_and_line(fleet):
    arrays = spells(fleet.frames())
    cars, read = as_cars(arrays)
    before = cars.copy()
    shuffle = Shuffle(cars, read, arrays)
    shuffle.trade(5)
    assert not np.array_equal(cars, before)
    assert np.array_equal(cars.sum(axis=1), before.sum(axis=1))
    for line in range(len(arrays.lines)):
        here = arrays.line_of == line
        assert np.array_equal(cars[here].sum(axis=0), before[here].sum(axis=0))
    assert not (cars & ~read[:, arrays.module_of]).any()


def test_shuffled_cars_are_counted_like_baskets(fleet):
    first_spells = [basket for basket in fleet.baskets if basket.day == 0]
    frames = mining_frames(first_spells)
    arrays = spells(frames)
    direct, joined = car_counts(arrays), counts_of_cars(*as_cars(arrays), arrays)
    assert np.array_equal(direct.both_read, joined.both_read)
    assert np.array_equal(direct.present, joined.present)
    assert np.array_equal(direct.joint, joined.joint)
    assert np.array_equal((direct.first, direct.second), (joined.first, joined.second))


def test_the_order_of_rows_changes_no_count(fleet, counts):
    frames = fleet.frames()
    mixed = {name: getattr(frames, name).sample(fraction=1, shuffle=True, seed=5) for name in vars(frames)}
    again = car_counts(spells(type(frames)(**mixed)))
    assert again.codes == counts.codes
    for name in ("both_read", "present", "first", "second", "joint"):
        assert np.array_equal(getattr(again, name), getattr(counts, name)), name


def test_a_basket_without_codes_still_counts_as_read():
    frames = mining_frames([Basket("a", "l", {"A:1", "B:1"}), Basket("b", "l", {}, ["A", "B"])])
    counts = car_counts(spells(frames))
    assert isinstance(frames.baskets, pl.DataFrame)
    assert int(counts.lines_with("A:1", "B:1")[3].sum()) == 2
