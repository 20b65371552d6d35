"""What is confirmed over all weeks together: portions of the error, when a look is taken, what stands, what goes."""

from dataclasses import replace

import polars as pl
import pytest

from analysis.mining import first_week, mine
from analysis.mining.car_counts import car_counts
from analysis.mining.episode_arrays import episode_arrays
from analysis.mining.pairs import find_verdicts, reachable_levels
from analysis.mining.rules import RULE_SCHEMA
from analysis.mining.verdict_history import ALL_WEEKS, HELD, kept_verdicts, portion, spend
from tests.support.mining_fleets import draw_fleet


def test_the_portions_of_all_looks_without_end_sum_to_the_accepted_error():
    # The later ones are .01 / (j (j + 1)), which sum to .01 less .01 / (n + 1): a telescoping sum.
    looks = 5000
    assert sum(portion(look) for look in range(1, looks + 1)) == pytest.approx(
        ALL_WEEKS - 0.01 / (looks - 80), abs=1e-9
    )
    assert portion(1) == pytest.approx(0.02)


def test_a_look_is_taken_when_the_cars_are_a_twentieth_more_and_a_week_run_again_spends_nothing():
    history, taken = first_week("2026-W01"), []
    for week, cars in enumerate((100, 102, 104, 105, 106, 110, 111), 1):
        history = replace(history, week=f"2026-W{week:02d}")
        level, looks = spend(history, cars)
        assert spend(history, cars)[1].equals(looks)
        taken.append(level > 0)
        history = replace(history, looks=looks)
    assert taken == [True, False, False, True, False, False, True]
    assert history.looks.select("look", "week", "cars").rows() == [
        (1, "2026-W01", 100), (2, "2026-W04", 105), (3, "2026-W07", 111),
    ]  # fmt: skip


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


def test_the_miner_confirms_at_the_level_of_the_look_and_remembers_it():
    frames = draw_fleet(830001, 150, families=6).frames()
    cars = frames.baskets["vehicle"].n_unique()
    once = mine(frames, min_vehicles=3, q_value=0.05)
    first = mine(frames, min_vehicles=3, q_value=0.05, history=first_week("2026-W01"))
    # The same pairs by hand: Tarone's level for .02 instead of .05.
    counts = car_counts(episode_arrays(frames))
    verdicts = find_verdicts(counts, reachable_levels(counts), 3, 0.05, 0.02)
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
    assert "confirmed" not in set(bare.rules["verdict"])
