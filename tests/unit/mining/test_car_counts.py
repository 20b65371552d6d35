"""Counts of cars against brute force from raw baskets, and what does not change them."""

from itertools import combinations

import numpy as np
import pytest
from scipy.stats import chisquare

from analysis.mining.car_counts import car_counts, cars_by_line
from analysis.mining.episode_arrays import EpisodeArrays, car_numbers, episode_arrays, value_counts
from analysis.mining.null_check import Shuffle, as_cars, copies_of
from analysis.mining.rules import CarsWith
from analysis.mining.stability import grouped_answers
from tests.support.mining_fleets import draw_fleet
from tests.support.mining_worlds import Basket, mining_frames


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


def lines_with(arrays: EpisodeArrays, one: str, other: str):
    """Per line: cars with both, with the one, with the other, and with both modules read, as counted."""
    counts = car_counts(arrays)
    a, b = (counts.codes.index(code) for code in (one, other))
    both = cars_by_line(arrays, np.array([min(a, b)]), np.array([max(a, b)]))[0]
    assert both.sum() == counts.with_both(a, b)
    return [both, *(part[0] for part in counts.margins(np.array([a]), np.array([b])))]


def totals(baskets: list[Basket], one: str = "A:1", other: str = "B:1") -> list[int]:
    return [int(part.sum()) for part in lines_with(episode_arrays(mining_frames(baskets)), one, other)]


@pytest.fixture(scope="module")
def fleet():
    return draw_fleet(99, 60, families=3, singles=12)


@pytest.fixture(scope="module")
def arrays(fleet):
    return episode_arrays(fleet.frames())


def test_every_pair_is_counted_as_by_hand(fleet, arrays):
    assert any(a.vehicle == b.vehicle for a, b in combinations(fleet.baskets, 2)), "some cars have several episodes"
    for one, other in combinations(arrays.codes, 2):
        assert np.column_stack(lines_with(arrays, one, other)).tolist() == by_hand(fleet.baskets, one, other), (
            one,
            other,
        )


def test_several_pairs_are_counted_by_line_at_once_in_any_order(arrays):
    counts = car_counts(arrays)
    chosen = np.random.default_rng(3).permutation(len(counts.first))[:40]
    by_line = cars_by_line(arrays, counts.first[chosen], counts.second[chosen])
    assert by_line.sum(axis=1).tolist() == counts.vehicles[chosen].tolist()
    for row, pair in zip(by_line, chosen, strict=True):
        alone = cars_by_line(arrays, counts.first[[pair]], counts.second[[pair]])
        assert row.tolist() == alone[0].tolist()
    assert cars_by_line(arrays, counts.first[:0], counts.second[:0]).shape == (0, len(arrays.lines))


def test_the_two_codes_of_a_pair_can_be_asked_either_way(arrays):
    both, with_one, with_other, cars = lines_with(arrays, arrays.codes[0], arrays.codes[5])
    swapped = lines_with(arrays, arrays.codes[5], arrays.codes[0])
    assert np.array_equal(swapped, [both, with_other, with_one, cars])


def test_a_car_scanned_five_times_is_one_car():
    baskets = [Basket("a", "l", {"A:1", "B:1"}, day=30 * n) for n in range(5)] + [Basket("b", "l", {"A:1"}, ["B"])]
    assert totals(baskets) == [1, 2, 1, 2]


def test_codes_of_two_spells_of_a_car_have_not_met():
    assert totals([Basket("a", "l", {"A:1"}, ["B"]), Basket("a", "l", {"B:1"}, ["A"], day=40)]) == [0, 1, 1, 1]


def test_a_module_that_was_not_read_says_nothing():
    baskets = [Basket("a", "l", {"A:1"}), Basket("b", "l", {"A:1"}, ["B"]), Basket("c", "l", {"B:1"}, ["A"])]
    assert totals(baskets) == [0, 1, 1, 2]


def test_more_modules_than_one_number_has_bits_are_counted_too():
    many = [f"M{n:02d}" for n in range(70)]
    baskets = [Basket(f"v{n}", "l", {"M00:1", "M69:1"}, many[: n + 1]) for n in range(68)]
    baskets += [Basket("late", "l", {"M66:1"}, many), Basket("late", "l", {"M00:1"}, many[:69], day=40)]
    assert totals(baskets, "M00:1", "M69:1") == [68, 68, 68, 69]
    assert totals(baskets, "M00:1", "M66:1") == [0, 2 + 1, 1, 2 + 1]


def test_codes_left_out_leave_no_trace(fleet):
    frames = fleet.frames()
    gone = frozenset(frames.codes["code"][:3])
    arrays = episode_arrays(frames, without=gone)
    assert not gone & set(arrays.codes)
    one, other = arrays.codes[0], arrays.codes[4]
    assert np.column_stack(lines_with(arrays, one, other)).tolist() == by_hand(fleet.baskets, one, other)


def test_answers_of_cars_and_sets_of_codes_count_the_same(arrays):
    links = list(combinations(arrays.codes[:6], 2))
    line, answers, cars = grouped_answers(links, arrays)
    assert cars.sum() == len(arrays.starts)
    assert len(np.unique(np.column_stack([line, *answers]), axis=0)) == len(line), "each group differs from the others"
    for place, (one, other) in enumerate(links):
        sums = [np.bincount(line, cars * part[:, place], minlength=len(arrays.lines)) for part in answers]
        assert np.array_equal(sums, lines_with(arrays, one, other))
        both = CarsWith((one, other), arrays)
        assert np.array_equal([both(one, other), both(one), both(other), both()], lines_with(arrays, one, other))


def test_shuffling_keeps_codes_per_car_and_cars_per_code_and_line(arrays):
    cars = as_cars(arrays)
    shuffle = Shuffle(cars)
    shuffle.trade(5)
    mixed = shuffle.copy()
    rows = [set(zip(each.basket.tolist(), each.code.tolist(), strict=True)) for each in (cars, mixed)]
    assert len(rows[0]) == len(rows[1]) == len(cars.code)
    assert len(rows[0] - rows[1]) > len(cars.code) / 3
    assert np.array_equal(np.bincount(cars.basket), np.bincount(mixed.basket))
    by_line = [
        np.unique(each.line_of[each.basket] * len(each.codes) + each.code, return_counts=True) for each in (cars, mixed)
    ]
    assert np.array_equal(*by_line)
    assert cars.read[cars.module_of[mixed.code], mixed.basket].all()


@pytest.mark.slow
def test_in_the_long_run_every_table_with_the_same_counts_is_equally_likely():
    # Four cars with 2, 2, 1, 1 codes; car d was not asked for module B.  All tables of 0 and 1 with these sums, counted
    # by trying all, are the possible states; every one must come up equally often.
    held = {"a": {"A:1", "A:2"}, "b": {"A:1", "B:1"}, "c": {"A:2"}, "d": {"A:3"}}
    cars = as_cars(
        episode_arrays(
            mining_frames([Basket(car, "l", codes, "AB" if car != "d" else "A") for car, codes in held.items()])
        )
    )
    codes, cells = len(cars.codes), [(car, code) for car in range(4) for code in range(4)]
    allowed = [(car, code) for car, code in cells if cars.read[cars.module_of[code], car]]
    sums = np.bincount(cars.basket, minlength=4), np.bincount(cars.code, minlength=codes)
    possible = {
        tables
        for tables in combinations(allowed, 6)
        if np.array_equal(np.bincount([car for car, _ in tables], minlength=4), sums[0])
        and np.array_equal(np.bincount([code for _, code in tables], minlength=4), sums[1])
    }
    shuffle, seen = Shuffle(cars), dict.fromkeys(possible, 0)
    for _ in range(2000):
        shuffle.trade(6)
        now = shuffle.copy()
        seen[tuple(zip(now.basket.tolist(), now.code.tolist(), strict=True))] += 1
    assert len(possible) == 29
    assert chisquare(list(seen.values())).pvalue > 0.001


def test_fewer_copies_are_made_of_very_many_baskets():
    assert [copies_of(baskets) for baskets in (1, 20_000, 40_000, 100_000, 5_000_000)] == [20, 20, 10, 4, 2]


def test_a_car_with_one_basket_is_counted_like_its_basket(fleet):
    arrays = episode_arrays(mining_frames([basket for basket in fleet.baskets if basket.day == 0]))
    direct, joined = car_counts(arrays), car_counts(as_cars(arrays))
    for name in ("both_read", "present", "first", "second", "vehicles"):
        assert np.array_equal(getattr(direct, name), getattr(joined, name)), name


def test_the_order_of_rows_changes_no_count(fleet, arrays):
    frames, counts = fleet.frames(), car_counts(arrays)
    mixed = {name: getattr(frames, name).sample(fraction=1, shuffle=True, seed=5) for name in vars(frames)}
    again = car_counts(episode_arrays(type(frames)(**mixed)))
    assert again.codes == counts.codes
    for name in ("both_read", "present", "first", "second", "vehicles"):
        assert np.array_equal(getattr(again, name), getattr(counts, name)), name


def test_a_basket_without_codes_still_counts_as_read():
    assert totals([Basket("a", "l", {"A:1", "B:1"}), Basket("b", "l", {}, ["A", "B"])])[3] == 2


@pytest.mark.parametrize("end", [5, 200, 70_000, 1 << 40])
def test_a_count_is_that_of_the_library(end):
    values = np.random.default_rng(7).integers(0, end, 150)
    kinds, often = value_counts(values, end)
    theirs = np.unique(values, return_counts=True)
    assert (kinds.tolist(), often.tolist()) == (theirs[0].tolist(), theirs[1].tolist())
    assert (kinds.dtype, often.dtype) == (np.int64, np.int64)
    assert [part.tolist() for part in value_counts(values[:0], end)] == [[], []]


def test_baskets_of_one_car_get_one_number(fleet):
    known = fleet.frames().baskets.sample(fraction=1, shuffle=True, seed=2)
    numbers = car_numbers(known)[known["basket"].to_numpy()]
    pairs = set(zip(known["vehicle"].to_list(), numbers.tolist(), strict=True))
    assert len(pairs) == known["vehicle"].n_unique()
    assert {number for _, number in pairs} == set(range(len(pairs)))
