"""What changed since the report before: which families, and which cars on the list.

The report before is the latest folder of an earlier week that still stands in
the workspace.  Its tables are read back as they were written; where there is
none, nothing is compared and nothing is said.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from analysis.mining import compare_families
from analysis.texts.action_text import work
from analysis.texts.words import small
from pipelines.report.outgoing import TABLES
from pipelines.report.publish import unmarked

_READ = ("families", "family_cars", "shortlist")


@dataclass(frozen=True)
class Earlier:
    """The tables of the report before.

    Attributes:
        week: Its week, ``YYYY-Www``.
        tables: families, family_cars and shortlist, every column a String, null where blank.
    """

    week: str
    tables: dict[str, pl.DataFrame]


def earlier_report(reports: Path, week: str) -> Earlier | None:
    """Read the report before.

    Args:
        reports: The folder that holds one folder a week.
        week: The week of the report that is being made, ``YYYY-Www``.

    Returns:
        The latest earlier one whose tables are whole, or None where there is none.
    """
    found = [path.name for path in reports.glob("*") if re.fullmatch(r"\d{4}-W\d\d", path.name) and path.name < week]
    for name in sorted(found, reverse=True):
        tables = {table: _read(reports / name / f"{table}.csv", table) for table in _READ}
        whole = {table: frame for table, frame in tables.items() if frame is not None}
        if len(whole) == len(_READ):
            return Earlier(name, whole)
    return None


def _read(path: Path, table: str) -> pl.DataFrame | None:
    """Read one table as text; None where it is missing or no longer has its columns."""
    wanted = [column.name for column in TABLES[table].columns]
    try:
        frame = pl.read_csv(path, infer_schema=False)
    except (OSError, pl.exceptions.PolarsError):
        return None
    if frame.columns != wanted:
        return None
    return frame.with_columns(unmarked(pl.col(name)).alias(name) for name in wanted)


def family_changes(members: pl.DataFrame, cars: pl.DataFrame, earlier: Earlier | None) -> pl.DataFrame:
    """Return the rows of ``family_changes.csv``.

    Args:
        members: One row per family and code, now.
        cars: One row per family and vehicle, now.
        earlier: The report before, if there is one.

    Returns:
        One row per family now or before, the names of cars ``;``-separated; no rows without a report before.
    """
    if earlier is None:
        none = compare_families(members.clear(), cars.clear(), members.clear(), cars.clear())
        return _joined(none)
    before = earlier.tables["families"].select("family", pl.col("codes").str.split(";").alias("code")).explode("code")
    return _joined(compare_families(members, cars, before, earlier.tables["family_cars"]))


def _joined(changes: pl.DataFrame) -> pl.DataFrame:
    return changes.with_columns(pl.col("came", "left").list.join(";"))


def car_changes(shortlist: pl.DataFrame, earlier: Earlier | None) -> pl.DataFrame:
    """Return the rows of ``car_changes.csv``.

    Args:
        shortlist: The shortlist now: vehicle, rank, action, part and position.
        earlier: The report before, if there is one.

    Returns:
        vehicle, change, first_try and first_try_before of the cars that are new on the list, off it, or have
        another first try, sorted; no rows without a report before.
    """
    now = _first_tries(shortlist, "first_try")
    if earlier is None:
        return now.clear().select(
            "vehicle", change=pl.lit("new"), first_try="first_try", first_try_before=pl.lit(None, pl.String)
        )
    both = now.join(
        _first_tries(earlier.tables["shortlist"], "first_try_before"), on="vehicle", how="full", coalesce=True
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
    first = shortlist.filter(pl.col("rank").cast(pl.Int64) == 1)
    rows = first.select("vehicle", "action", "part", "position").iter_rows()
    tries = [(vehicle, small(work(action, part, position))) for vehicle, action, part, position in rows]
    return pl.DataFrame(tries, schema=dict.fromkeys(("vehicle", name), pl.String), orient="row")
