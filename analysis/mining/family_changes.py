"""When and on which cars did a family show, and what changed since the last report?

Each car that showed two codes of a family in one episode is listed with its line and with
the first and last day on which it did.  Counting those cars by week shows a trend;
comparing the list with last week's shows which families are new, grow, fade or are gone, and
which cars made the difference.
"""

from __future__ import annotations

import numpy as np
import polars as pl

from analysis.mining.episode_arrays import EpisodeArrays

CAR_SCHEMA = pl.Schema(
    {"family": pl.String, "vehicle": pl.String, "line": pl.String, "first_seen": pl.Date, "last_seen": pl.Date}
)
CHANGE_SCHEMA = pl.Schema(
    {
        "family": pl.String(),
        "before": pl.String(),
        "change": pl.String(),
        "vehicles": pl.Int64(),
        "vehicles_before": pl.Int64(),
        "came": pl.List(pl.String),
        "left": pl.List(pl.String),
    }
)
SAME_FAMILY = 0.5  # share of common codes from which last week's family is this week's


def family_cars(named: dict[str, list[str]], arrays: EpisodeArrays) -> pl.DataFrame:
    """List the cars that showed two or more codes of a family in one basket.

    Args:
        named: Family name to its codes.
        arrays: The baskets as arrays.

    Returns:
        One row per family and vehicle: line, first_seen and last_seen (first day of the first such
        basket, last day of the last one), sorted.
    """
    found = [(np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64))]
    for place, codes in enumerate(named.values()):
        baskets, held = arrays.near(arrays.places(codes))
        baskets = baskets[held.sum(axis=1) >= 2]
        found.append((np.full(len(baskets), place), baskets))
    families, baskets = (np.concatenate(part) for part in zip(*found, strict=True))
    names = pl.Series([*named], dtype=pl.String)
    cars = (
        arrays.table[baskets]
        .with_columns(family=names.gather(families))
        .group_by("family", "vehicle")
        .agg(
            pl.col("line").first(),
            first_seen=pl.col("started_at").min().dt.date(),
            last_seen=pl.col("ended_at").max().dt.date(),
        )
    )
    return cars.select(CAR_SCHEMA.names()).sort("family", "vehicle")


def family_weeks(cars: pl.DataFrame) -> pl.DataFrame:
    """Count the cars that first showed a family, by week.

    Args:
        cars: The frame of :func:`family_cars`.

    Returns:
        One row per family and week with at least one car: family, week (its Monday), vehicles, sorted.
    """
    weeks = cars.group_by("family", week=pl.col("first_seen").dt.truncate("1w")).agg(
        pl.len().cast(pl.Int64).alias("vehicles")
    )
    return weeks.sort("family", "week")


def compare_families(
    members: pl.DataFrame, cars: pl.DataFrame, members_before: pl.DataFrame, cars_before: pl.DataFrame
) -> pl.DataFrame:
    """Say what became of the families since the last report.

    Args:
        members: One row per family and code, now.
        cars: The frame of :func:`family_cars`, now.
        members_before: The same as ``members`` at the last report.
        cars_before: The same as ``cars`` at the last report.

    Returns:
        One row per family, and per vanished family of before (family null): before (its name then,
        null for a new one), change (``new``, ``growing``, ``fading``, ``steady``, ``vanished``),
        vehicles now and before, came and left (the cars that make the difference), sorted.
    """
    now, then = _codes_by_family(members), _codes_by_family(members_before)
    cars_now, cars_then = _codes_by_family(cars, "vehicle"), _codes_by_family(cars_before, "vehicle")
    matched = _match(now, then)
    pairs: list[tuple[str | None, str | None]] = [(family, matched.get(family)) for family in now]
    pairs += [(None, family) for family in then if family not in matched.values()]
    rows = []
    for family, before in pairs:
        here, there = cars_now.get(family or "", set()), cars_then.get(before or "", set())
        rows.append(
            (
                family,
                before,
                _change(family, before, len(here), len(there)),
                len(here),
                len(there),
                sorted(here - there),
                sorted(there - here),
            )
        )
    table = pl.DataFrame(rows, schema=CHANGE_SCHEMA, orient="row")
    return table.sort("family", "before", nulls_last=True)


def _codes_by_family(rows: pl.DataFrame, column: str = "code") -> dict[str, set[str]]:
    gathered: dict[str, set[str]] = {}
    for family, value in rows.select("family", column).sort("family", column).iter_rows():
        gathered.setdefault(family, set()).add(value)
    return gathered


def _match(now: dict[str, set[str]], then: dict[str, set[str]]) -> dict[str, str]:
    """Pair families of now and then by their share of common codes, best pairs first, each once."""
    likeness = [
        (-len(codes & others) / len(codes | others), family, before)
        for family, codes in now.items()
        for before, others in then.items()
    ]
    matched: dict[str, str] = {}
    for distance, family, before in sorted(likeness):
        if -distance >= SAME_FAMILY and family not in matched and before not in matched.values():
            matched[family] = before
    return matched


def _change(family: str | None, before: str | None, vehicles: int, vehicles_before: int) -> str:
    if before is None:
        return "new"
    if family is None:
        return "vanished"
    if vehicles == vehicles_before:
        return "steady"
    return "growing" if vehicles > vehicles_before else "fading"
