"""The miner from counted facts to findings: guard, count, test, shuffle, gather, resample, describe, explain.

What the reader must know about this week's findings goes with them as plain sentences.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

import polars as pl

from analysis.mining.car_counts import CarCounts, car_counts
from analysis.mining.day_artefacts import day_artefacts
from analysis.mining.episode_arrays import EpisodeArrays, episode_arrays
from analysis.mining.families import (
    FAMILY_SCHEMA,
    MEMBER_SCHEMA,
    describe_families,
    families_of,
    family_graph,
    name_families,
)
from analysis.mining.family_changes import CAR_SCHEMA, family_cars
from analysis.mining.mining_frames import Findings, MiningFrames
from analysis.mining.null_check import NULL_SCHEMA, beyond_copies, by_condition, null_check, tightly_tied, unequal
from analysis.mining.pairs import CONFIRM_AT, PAIR_SCHEMA, Verdicts, describe_pairs, find_verdicts, reachable_levels
from analysis.mining.roots import EVIDENCE_SCHEMA
from analysis.mining.rules import (
    PATTERN_SCHEMA,
    RULE_SCHEMA,
    closed_patterns,
    family_patterns,
    in_order,
    longer_rules,
    pair_rules,
)
from analysis.mining.stability import bootstrap_support
from analysis.mining.verdict_history import LOOKS, VerdictHistory, first_week, kept_verdicts, spend
from analysis.progress import portion
from analysis.texts import findings as say
from analysis.texts.findings import NOTHING_TO_COMPARE
from analysis.texts.formatter import PLAIN, Formatter

Counter = Callable[[EpisodeArrays], CarCounts]
RETURNS_TO_KEEP = 0.8  # share of resamples a family must come back in
EXPLORATORY_BELOW = 150  # baskets
SHARE_BY_CHANCE = 0.1  # pairs listed in shuffled copies, against those really listed, from which a warning is due
MERGED_LINE = "other"


def mine(
    frames: MiningFrames,
    *,
    min_vehicles: int,
    q_value: float,
    count: Counter = car_counts,
    formatter: Formatter = PLAIN,
    history: VerdictHistory | None = None,
) -> Findings:
    """Find the rules and families of codes.

    Args:
        frames: The counted facts.
        min_vehicles: Cars that must carry both codes of a listed pair.
        q_value: Accepted false share among the listed pairs, between 0 and 1.
        count: Who counts cars and pairs of codes.
        formatter: How the dealer writes days, for the notes.
        history: What earlier weeks looked at and confirmed; None where the cars are looked at this once.

    Returns:
        The findings; every table is empty, and a note says so, where no basket holds two codes.

    Raises:
        ValueError: ``q_value`` is not strictly between 0 and 1, or ``min_vehicles`` is below 1.
    """
    if not 0 < q_value < 1:
        raise ValueError(f"q_value must lie strictly between 0 and 1; got {q_value}")
    if min_vehicles < 1:
        raise ValueError(f"min_vehicles must be at least 1; got {min_vehicles}")
    artefacts = day_artefacts(frames)
    if frames.basket_codes["basket"].is_unique().all():
        found = _nothing(artefacts, history)
    else:
        found = _mine(frames, artefacts, count, (min_vehicles, q_value), history)
    return replace(found, notes=[*found.notes, *artefact_notes(artefacts, formatter)])


class _Compared(NamedTuple):
    """The cars as they were compared at last, and what came of it; one check for each time their lines were cut."""

    arrays: EpisodeArrays
    counts: CarCounts
    verdicts: Verdicts
    pairs: pl.DataFrame
    checks: list[pl.DataFrame]


def _compare(
    frames: MiningFrames, artefacts: pl.DataFrame, count: Counter, limits: tuple[int, float], level: float | None
) -> _Compared:
    min_vehicles, q_value = limits
    left_out = frozenset(artefacts["code"])
    arrays = episode_arrays(frames, without=left_out)
    counts, verdicts = _tested(arrays, count, limits, level)
    pairs = describe_pairs(arrays, counts, verdicts)
    with portion(0.0, 0.5):
        checks = [null_check(arrays, min_vehicles, q_value)]
    if unequal(checks[0]) and unequal(
        null_check(episode_arrays(frames, left_out | tightly_tied(pairs)), min_vehicles, q_value)
    ):
        arrays = by_condition(arrays)
        counts, verdicts = _tested(arrays, count, limits, level)
        checks.append(null_check(arrays, min_vehicles, q_value))
        verdicts = beyond_copies(verdicts, checks[-1], level is None) if unequal(checks[-1]) else verdicts
        pairs = describe_pairs(arrays, counts, verdicts)
    return _Compared(arrays, counts, verdicts, pairs, checks)


def _mine(
    frames: MiningFrames,
    artefacts: pl.DataFrame,
    count: Counter,
    limits: tuple[int, float],
    history: VerdictHistory | None,
) -> Findings:
    level, looks = (None, pl.DataFrame(schema=LOOKS))
    if history is not None:
        level, looks = spend(history, frames.baskets["vehicle"].n_unique())
    arrays, counts, verdicts, pairs, checks = _compare(frames, artefacts, count, limits, level)
    candidates = name_families(families_of(family_graph(pairs), counts), pairs, frames.codes)
    with portion(0.5, 1.0):
        returns = bootstrap_support(candidates, pairs, arrays)
    kept = {family: codes for family, codes in candidates.items() if returns[family] >= RETURNS_TO_KEEP}
    cars = family_cars(kept, arrays)
    families, members, evidence = describe_families(kept, frames, pairs, cars, returns)
    patterns = family_patterns(kept, arrays, limits[0])
    found = pl.concat([pair_rules(pairs), longer_rules(patterns, arrays, CONFIRM_AT if level is None else level)])
    rules, held, withdrawn = kept_verdicts(history or first_week(""), in_order(found))
    stands = rules.filter(~pl.col("antecedent").str.contains(";", literal=True) & (pl.col("verdict") == "confirmed"))
    return Findings(
        rules=rules,
        looks=looks,
        held=held,
        families=families,
        members=members,
        pairs=pairs,
        root_evidence=evidence,
        family_cars=cars,
        patterns=closed_patterns(patterns),
        null_check=checks[-1],
        artefacts=artefacts,
        notes=[
            *notes_on(frames, verdicts, sorted(set(candidates) - set(kept)), checks, stands.height // 2),
            *([say.withdrawn(withdrawn)] if withdrawn else []),
        ],
    )


def _tested(
    arrays: EpisodeArrays, count: Counter, limits: tuple[int, float], level: float | None
) -> tuple[CarCounts, Verdicts]:
    counts = count(arrays)
    least = reachable_levels(counts)
    return counts, find_verdicts(counts, least, *limits, CONFIRM_AT if level is None else level)


def _nothing(artefacts: pl.DataFrame, history: VerdictHistory | None) -> Findings:
    before = history or first_week("")
    return Findings(
        rules=pl.DataFrame(schema=RULE_SCHEMA).with_columns(since=pl.lit(None, pl.String)),
        looks=before.looks,
        held=before.held,
        families=pl.DataFrame(schema=FAMILY_SCHEMA),
        members=pl.DataFrame(schema=MEMBER_SCHEMA),
        pairs=pl.DataFrame(schema=PAIR_SCHEMA),
        root_evidence=pl.DataFrame(schema=EVIDENCE_SCHEMA),
        family_cars=pl.DataFrame(schema=CAR_SCHEMA),
        patterns=pl.DataFrame(schema=PATTERN_SCHEMA),
        null_check=pl.DataFrame(schema=NULL_SCHEMA),
        artefacts=artefacts,
        notes=[NOTHING_TO_COMPARE],
    )


def notes_on(
    frames: MiningFrames,
    verdicts: Verdicts,
    unstable: list[str],
    checks: list[pl.DataFrame],
    stand: int | None = None,
) -> list[str]:
    """Say what was tested, what was left out and how far to trust it.

    Args:
        frames: The mining frames.
        verdicts: The verdicts on all pairs.
        unstable: Names of the families that did not return often enough when cars were redrawn.
        checks: The result of the shuffled copies; a second one where cars were then compared by their condition too.
        stand: Pairs that stand confirmed, earlier weeks counted in; None for those of the verdicts.

    Returns:
        Plain sentences, most general first.
    """
    sure = int(verdicts.confirmed.sum()) if stand is None else stand
    notes = [*_on_tests(frames, verdicts, sure), *_on_chance(frames, verdicts, checks)]
    if unstable:
        notes.append(say.unstable(unstable))
    return notes


def artefact_notes(artefacts: pl.DataFrame, formatter: Formatter) -> list[str]:
    """Say which codes were left out, and that only days are watched so.

    Args:
        artefacts: Codes that a single day explains.
        formatter: How the dealer writes a day.
    """
    notes = [
        say.one_day(code, vehicles, scanned, formatter.day(day))
        for code, day, vehicles, scanned in artefacts.select("code", "day", "vehicles", "scanned").iter_rows()
    ]
    return [*notes, say.ONLY_DAYS] if notes else []


def _on_tests(frames: MiningFrames, verdicts: Verdicts, confirmed: int) -> list[str]:
    cars = frames.baskets["vehicle"].n_unique()
    notes = [say.tested(verdicts.tests, cars, confirmed, len(verdicts.places) - confirmed)]
    if len(verdicts.places):
        notes.append(say.stricter(verdicts.at_worst, verdicts.stepwise))
    if frames.baskets.height < EXPLORATORY_BELOW:
        notes.append(say.exploratory(frames.baskets.height, EXPLORATORY_BELOW))
    merged = frames.baskets.filter(pl.col("line") == MERGED_LINE)["vehicle"].n_unique()
    if merged:
        notes.append(say.merged(merged, MERGED_LINE))
    return notes


def _on_chance(frames: MiningFrames, verdicts: Verdicts, checks: list[pl.DataFrame]) -> list[str]:
    notes = []
    if len(checks) > 1:
        notes.append(say.unequal_cars(_with_any(checks[0]), checks[0].height))
        if unequal(checks[-1]):
            notes.append(say.COPIES_TOO)
    check = checks[-1]
    listed = int(check["listed"].sum()) / check.height
    notes.append(say.by_chance(check.height, listed, _with_any(check)))
    if listed >= 1 and listed > SHARE_BY_CHANCE * len(verdicts.places):
        notes.append(say.MANY_BY_CHANCE)
    return notes


def _with_any(check: pl.DataFrame) -> int:
    return int((check["confirmed"] > 0).sum())
