"""What changed since the week before: which families, and which cars on the list.

The week before is the run of the latest earlier week that the database keeps; where there is none, nothing is compared
and nothing is said.
"""

from __future__ import annotations

import polars as pl

from analysis.mining import compare_families
from analysis.texts.action_text import work
from analysis.texts.words import small
from pipelines.storage.model_store import StoredRun


def family_changes(members: pl.DataFrame, cars: pl.DataFrame, before: StoredRun | None) -> pl.DataFrame:
    """Return the rows of ``family_changes.csv``.

    Args:
        members: One row per family and code, now.
        cars: One row per family and vehicle, now.
        before: The run of the week before, if there is one.

    Returns:
        One row per family now or before, the names of cars ``;``-separated; no rows without a week before.
    """
    if before is None:
        none = compare_families(members.clear(), cars.clear(), members.clear(), cars.clear())
        return _joined(none)
    return _joined(compare_families(members, cars, before.tables["members"], before.tables["family_cars"]))


def _joined(changes: pl.DataFrame) -> pl.DataFrame:
    return changes.with_columns(pl.col("came", "left").list.join(";"))


def car_changes(shortlist: pl.DataFrame, before: StoredRun | None) -> pl.DataFrame:
    """Return the rows of ``car_changes.csv``.

    Args:
        shortlist: The shortlist now: vehicle, rank, action, part and position.
        before: The run of the week before, if there is one.

    Returns:
        vehicle, change, first_try and first_try_before of the cars that are new on the list, off it, or have
        another first try, sorted; no rows without a week before.
    """
    now = _first_tries(shortlist, "first_try")
    if before is None:
        return now.clear().select(
            "vehicle", change=pl.lit("new"), first_try="first_try", first_try_before=pl.lit(None, pl.String)
        )
    both = now.join(
        _first_tries(before.tables["shortlist"], "first_try_before"), on="vehicle", how="full", coalesce=True
    )
    change = (
        pl.when(pl.col("first_try_before").is_null())
        .then(pl.lit("new"))
        .when(pl.col("first_try").is_null())
        .then(pl.lit("off"))
        .otherwise(pl.lit("other try"))
    )
    moved = both.filter(pl.col("first_try").ne_missing(pl.col("first_try_before")))
    return moved.select("vehicle", change.alias("change"), "first_try", "first_try_before").sort("vehicle")


def _first_tries(shortlist: pl.DataFrame, name: str) -> pl.DataFrame:
    first = shortlist.filter(pl.col("rank") == 1)
    rows = first.select("vehicle", "action", "part", "position").iter_rows()
    tries = [(vehicle, small(work(action, part, position))) for vehicle, action, part, position in rows]
    return pl.DataFrame(tries, schema=dict.fromkeys(("vehicle", name), pl.String), orient="row")
