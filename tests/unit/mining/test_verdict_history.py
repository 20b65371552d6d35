"""What is confirmed over all weeks together: portions of the error, when a look is taken, what stands, what goes."""

from dataclasses import replace
from functools import cache
from itertools import combinations

import numpy as np
import polars as pl
import pytest
from scipy.stats import hypergeom

from analysis.mining import first_week, mine
from analysis.mining.car_counts import car_counts
from analysis.mining.episode_arrays import episode_arrays
from analysis.mining.pairs import find_verdicts, reachable_levels
from analysis.mining.rules import RULE_SCHEMA
from analysis.mining.verdict_history import FIRST, HELD, kept_verdicts, level_of, spend
from tests.support.mining_fleets import draw_fleet


def test_the_level_falls_with_the_cars_and_a_week_run_again_spends_nothing():
    history, levels = first_week("2026-W01"), []
    for week, cars in enumerate((100, 100, 200, 190, 1600), 1):
        history = replace(history, week=f"2026-W{week:02d}")
        level, looks = spend(history, cars)
        assert spend(history, cars)[1].equals(looks)
        levels.append(level)
        history = replace(history, looks=looks)
    # Worked by hand: .03 at first, then .009 times the seventh tenth power of 100 over the cars.
    assert levels == pytest.approx([0.03, 0.009, 0.009 * 2**-0.7, 0.009 * 1.9**-0.7, 0.009 * 2**-2.8])
    assert history.looks.select("look", "week", "cars").rows() == [
        (1, "2026-W01", 100), (2, "2026-W03", 200), (3, "2026-W05", 1600),
    ]  # fmt: skip
    assert spend(first_week("2026-W01"), 0)[0] == 0.0


def test_a_dealer_who_begins_with_a_handful_of_cars_has_not_spent_the_level_when_there_are_fifty():
    assert level_of(50, 4) == level_of(4, 4) == level_of(100, 100) == 0.009
    assert level_of(100, 4) == pytest.approx(0.009 * 2**-0.7)


@pytest.mark.parametrize(("cars", "with_a", "with_b"), [(9, 4, 4), (9, 3, 5), (10, 3, 3)])
def test_ever_confirmed_is_no_likelier_than_the_sum_over_critical_counts(cars: int, with_a: int, with_b: int):
    # Every order in which cars can come in, of one pair without association: cars with A, with B and with both in
    # all ways.  Looked at after each car, at a level that falls; the bound is made from single counts alone.
    levels = [0.25 * (3 / max(n, 3)) ** 0.7 for n in range(1, cars + 1)]
    held = bounds = orders = 0.0
    for some in combinations(range(cars), with_a):
        a = np.cumsum([car in some for car in range(cars)])
        for others in combinations(range(cars), with_b):
            b = np.cumsum([car in others for car in range(cars)])
            both = np.cumsum([car in some and car in others for car in range(cars)])
            path = list(zip(range(1, cars + 1), a.tolist(), b.tolist(), levels, strict=True))
            held += any(at_least(k, *now[:3]) <= now[3] for k, now in zip(both.tolist(), path, strict=True) if k)
            bounds += bound_of(path)
            orders += 1
    assert 0 < held <= bounds
    # Not by far: what single looks cost is nearly all that is spent.
    assert bounds < 2 * held


@cache
def at_least(joint: int, cars: int, a: int, b: int) -> float:
    """The chance of so many joint cars or more among ``cars``."""
    return float(hypergeom.sf(joint - 1, cars, a, b))


def bound_of(path: list[tuple[int, int, int, float]]) -> float:
    """For each week that is the last in which a count would do, the p-value of the smallest such count."""
    last: dict[int, tuple[int, float]] = {}
    for week, (cars, a, b, level) in enumerate(path):
        for joint in range(1, min(a, b) + 1):
            p = at_least(joint, cars, a, b)
            if p <= level:
                last[joint] = week, p
    ends: dict[int, float] = {}
    for week, p in last.values():
        ends[week] = max(ends.get(week, 0.0), p)
    return sum(ends.values())


def rules(*rows: tuple[str, str, str]) -> pl.DataFrame:
    table = pl.DataFrame(rows, schema=dict.fromkeys(("antecedent", "consequent", "verdict"), pl.String), orient="row")
    rest = [pl.lit(1.0).alias(name) for name in RULE_SCHEMA.names() if name not in table.columns]
    return table.with_columns(rest).select(RULE_SCHEMA.names())


def test_what_was_confirmed_stands_with_its_week_until_it_is_listed_no_more():
    history = replace(first_week("2026-W01"))
    told, held, gone = kept_verdicts(
        history,
        rules(("b", "a", "confirmed"), ("a", "b", "confirmed"), ("a;b", "c", "confirmed"), ("c", "d", "likely")),
    )
    assert sorted(told.select("antecedent", "verdict", "since").rows()) == [
        ("a", "confirmed", "2026-W01"), ("a;b", "confirmed", "2026-W01"), ("b", "confirmed", "2026-W01"),
        ("c", "likely", None),
    ]  # fmt: skip
    assert held.rows() == [("a", "b", "2026-W01"), ("a;b", "c", "2026-W01")]
    assert gone == []
    # Between looks nothing is confirmed anew, and what stands stays.
    later = replace(history, week="2026-W02", held=held)
    told, held, gone = kept_verdicts(later, rules(("a", "b", "likely"), ("b", "a", "likely"), ("c", "d", "likely")))
    assert sorted(told.select("antecedent", "verdict", "since").rows()) == [
        ("a", "confirmed", "2026-W01"), ("b", "confirmed", "2026-W01"), ("c", "likely", None),
    ]  # fmt: skip
    assert gone == ["a;b -> c, 2026-W01"]
    _, held, gone = kept_verdicts(replace(later, week="2026-W03", held=held), rules())
    assert held.equals(pl.DataFrame(schema=HELD))
    assert gone == ["a -> b, 2026-W01"]


@pytest.mark.slow
def test_the_miner_confirms_at_the_level_of_the_look_and_remembers_it():
    frames = draw_fleet(830001, 150, families=6).frames()
    cars = frames.baskets["vehicle"].n_unique()
    once = mine(frames, min_vehicles=3, q_value=0.05)
    first = mine(frames, min_vehicles=3, q_value=0.05, history=first_week("2026-W01"))
    # The same pairs by hand: Tarone's level for .03 instead of .05.
    counts = car_counts(episode_arrays(frames))
    verdicts = find_verdicts(counts, reachable_levels(counts), 3, 0.05, FIRST)
    sure = verdicts.places[verdicts.confirmed]
    pairs = {(counts.codes[a], counts.codes[b]) for a, b in zip(counts.first[sure], counts.second[sure], strict=True)}
    held = {(a, b) for a, b, _ in first.held.filter(~pl.col("antecedent").str.contains(";")).iter_rows()}
    assert held == pairs != set()
    assert held <= set(once.pairs.filter(verdict="confirmed").select("code_a", "code_b").iter_rows())
    assert first.looks.select("look", "cars").rows() == [(1, cars)]
    again = replace(first_week("2026-W02"), looks=first.looks, held=first.held)
    second = mine(frames, min_vehicles=3, q_value=0.05, history=again)
    assert second.looks.equals(first.looks)
    assert second.rules.equals(first.rules)
    bare = mine(frames, min_vehicles=3, q_value=0.05, history=replace(again, held=first.held.clear()))
    # A later look has its own, lower level, and what it confirms stands since its week.
    verdicts = find_verdicts(counts, reachable_levels(counts), 3, 0.05, level_of(cars, cars))
    pairs = bare.held.filter(~pl.col("antecedent").str.contains(";"))
    assert 0 < pairs.height == int(verdicts.confirmed.sum()) < len(held)
    assert set(bare.held["since"]) == {"2026-W02"}
