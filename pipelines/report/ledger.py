"""What the list promised, and what came of it: one row per job on a car that stood on an earlier list.

A list counts for a job only where it was made for a day before the job and from files that did not yet tell of it:
a week that is run again later, with the job known, promises nothing.
"""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from analysis.texts.action_text import work
from analysis.texts.ledger_text import CAME_BACK, NOT_PROVEN, WORKED
from analysis.texts.words import small

FIXES = ("replace", "repair")

SCHEMA = {
    "month": pl.Date, "vehicle": pl.String, "job": pl.String, "list_week": pl.String, "first_try": pl.String,
    "followed": pl.Boolean, "chance": pl.Float64, "outcome": pl.String, "part_cost": pl.Float64,
    "labour_cost": pl.Float64, "supplier": pl.String,
}  # fmt: skip
"""Columns of ``ledger.csv``; money in cents."""


def ledger(given: pl.DataFrame, facts: Mapping[str, pl.DataFrame], labour_rate: float) -> pl.DataFrame:
    """Return the rows of ``ledger.csv``.

    Args:
        given: First lines of earlier lists, as ``ModelStore.first_lines`` returns them.
        facts: jobs, job_parts, job_files and outcomes as the marts hold them.
        labour_rate: Own labour, money per hour.

    Returns:
        One row per job and car that stood on a list before it, by month, vehicle and job.  A first line was followed
        where its part, in its position, was worked on, or where codes were only erased as a recheck wants it; a line
        that hands the car over is none to follow.  It worked where every code that it was to clear is proven gone,
        came back where one of them returned, and is not proven otherwise; a line that was not followed has no outcome.
        Costs are the job's cost of that part.
    """
    lines = given.filter(pl.col("action").is_in([*FIXES, "recheck"]))
    jobs = facts["jobs"].join(facts["job_files"], on="job_id")
    both = jobs.join(lines, on="vehicle").filter(
        (pl.col("done_at").dt.date() > pl.col("as_of")) & (pl.col("file_id") > pl.col("last_file"))
    )
    latest = both.sort("as_of", "week").unique(["job_id"], keep="last", maintain_order=True)
    fitted = _by_job(facts["job_parts"], latest["job_id"])
    became = _by_job(facts["outcomes"], latest["job_id"])
    rows = [
        _row(line, fitted.get(line["job_id"], []), became.get(line["job_id"], []), labour_rate)
        for line in latest.to_dicts()
    ]
    return pl.DataFrame(rows, schema=SCHEMA, orient="row").sort("month", "vehicle", "job")


def _by_job(frame: pl.DataFrame, jobs: pl.Series) -> dict[int, list[dict[str, object]]]:
    parts = frame.filter(pl.col("job_id").is_in(jobs.implode())).partition_by("job_id", as_dict=True)
    return {int(key[0]): part.to_dicts() for key, part in parts.items()}


def _row(
    line: Mapping[str, object], fitted: list[dict[str, object]], became: list[dict[str, object]], labour_rate: float
) -> tuple[object, ...]:
    place = (line["part"], line["position"] or "")
    mine = [one for one in fitted if (one["part"], one["position"] or "") == place]
    followed = bool(mine) if line["action"] in FIXES else bool(line["erase_only"])
    wanted = set(str(line["clears"] or "").split(";"))
    outcomes = [one["outcome"] for one in became if one["code"] in wanted]
    prices = [float(str(one["part_cents"])) for one in mine if one["part_cents"] is not None]
    minutes = [float(str(one["labour_minutes"])) for one in mine if one["labour_minutes"] is not None]
    first_try = small(work(str(line["action"]), _text(line["part"]), _text(line["position"])))
    return (
        line["done_at"].date().replace(day=1),  # type: ignore[attr-defined]
        line["vehicle"],
        line["job"],
        line["week"],
        first_try,
        followed,
        line["chance"],
        _outcome(outcomes) if followed else None,
        sum(prices) if prices else None,
        sum(minutes) / 60 * labour_rate * 100 if minutes else None,
        next((one["supplier"] for one in mine if one["supplier"]), None),
    )


def _text(value: object) -> str | None:
    return None if value is None else str(value)


def _outcome(outcomes: list[object]) -> str:
    if "returned" in outcomes:
        return CAME_BACK
    return WORKED if outcomes and set(outcomes) <= {"cleared", "recurred"} else NOT_PROVEN
