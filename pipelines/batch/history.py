"""The families of the last run and what each part cleared, over the whole history or a piece of it.

Nothing is mined again: the families are the last run's, the jobs are those of its marts that fit the choice, and the
rates are counted from these jobs as the week counts them.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import polars as pl

from analysis.evidence import EvidenceFrames, weigh
from analysis.evidence.clear_rates import family_results
from pipelines.batch.marts import Facts, fetch_marts
from pipelines.report.outgoing import prepare
from pipelines.storage.model_store import ModelStore
from pipelines.storage.warehouse import Warehouse

_BY_JOB = ("jobs", "job_parts", "job_modules", "outcomes")


@dataclass(frozen=True, kw_only=True)
class Choice:
    """Which jobs and cars count; a blank chooses all.

    Attributes:
        make: Make of the car.
        line: Model line that the car is counted in.
        supplier: Who supplied a part of the job.
        since: First day of the jobs.
        until: Last day of the jobs.
    """

    make: str = ""
    line: str = ""
    supplier: str = ""
    since: date | None = None
    until: date | None = None


@dataclass(frozen=True, kw_only=True)
class History:
    """What a choice shows.

    Attributes:
        families: The columns of ``families.csv``; vehicles are those of the chosen lines and days.
        part_results: The columns of ``part_results.csv``, of the chosen jobs alone.
        codes: Code and text.
        jobs: How many jobs the choice holds.
        makes: The makes that can be chosen.
        lines: The model lines.
        suppliers: The suppliers.
    """

    families: pl.DataFrame
    part_results: pl.DataFrame
    codes: pl.DataFrame
    jobs: int
    makes: list[str]
    lines: list[str]
    suppliers: list[str]


def history(warehouse: Warehouse, choice: Choice) -> History | None:
    """Return what the chosen jobs did to the families of the last run.

    Args:
        warehouse: A copy of the database.
        choice: Which jobs and cars count.

    Returns:
        The tables as they go out; None where no run built the marts as they stand.
    """
    run = ModelStore(warehouse).current()
    if run is None:
        return None
    facts = fetch_marts(warehouse, ["jobs", "job_parts", "job_modules", "outcomes", "codes"])
    jobs, work = facts["jobs"], facts["job_parts"]
    kept = _chosen(jobs, work, choice)
    fewer = {name: facts[name].join(kept, on="job_id", how="semi") for name in _BY_JOB}
    evidence = weigh(Facts({**facts.frames, **fewer}).take(EvidenceFrames), run.tables["members"])
    cars = _cars(run.tables["family_cars"], jobs, choice)
    families = run.tables["families"].drop("vehicles").join(cars, on="family", how="left")
    families = families.with_columns(pl.col("vehicles").fill_null(0)).select(run.tables["families"].columns)
    return History(
        families=prepare("families", family_results(families, evidence)),
        part_results=prepare("part_results", evidence.part_results),
        codes=facts["codes"],
        jobs=kept.height,
        makes=_names(jobs["make"]),
        lines=_names(jobs["line"]),
        suppliers=_names(work["supplier"]),
    )


def _chosen(jobs: pl.DataFrame, work: pl.DataFrame, choice: Choice) -> pl.DataFrame:
    """Return the numbers of the jobs that fit."""
    found = jobs
    if choice.make:
        found = found.filter(pl.col("make") == choice.make)
    if choice.line:
        found = found.filter(pl.col("line") == choice.line)
    if choice.since:
        found = found.filter(pl.col("done_at").dt.date() >= choice.since)
    if choice.until:
        found = found.filter(pl.col("done_at").dt.date() <= choice.until)
    if choice.supplier:
        # Jobs that only erased stay: they are what a part's share is held against.
        by = work.filter(pl.col("supplier") == choice.supplier).select("job_id")
        found = pl.concat([found.join(by, on="job_id", how="semi"), found.filter("erase_only")]).unique("job_id")
    return found.select("job_id").sort("job_id")


def _cars(family_cars: pl.DataFrame, jobs: pl.DataFrame, choice: Choice) -> pl.DataFrame:
    """Count the cars of each family that fit: by line, by make as far as a job tells it, and by day."""
    found = family_cars
    if choice.line:
        found = found.filter(pl.col("line") == choice.line)
    if choice.make:
        lines = jobs.filter(pl.col("make") == choice.make).select("line").unique()
        found = found.join(lines, on="line", how="semi")
    if choice.since:
        found = found.filter(pl.col("last_seen").cast(pl.Date) >= choice.since)
    if choice.until:
        found = found.filter(pl.col("first_seen").cast(pl.Date) <= choice.until)
    return found.group_by("family").agg(pl.len().cast(pl.Int64).alias("vehicles"))


def _names(column: pl.Series) -> list[str]:
    return sorted(name for name in column.unique().to_list() if name)
