"""The steps of the weekly batch, each a plain function of what the ones before it left.

SQL states the facts, then the frames go from mining to evidence to diagnosis,
and the tables, the workbook and the page are written as the last act.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from datetime import date
from pathlib import Path

import polars as pl

from analysis import charts, diagnosis, evidence, mining
from analysis.diagnosis.evaluation.backtest import backtest
from pipelines.batch.keeping import close_run, intake_notes
from pipelines.batch.marts import build, costs_of, diagnosis_frames, normalise
from pipelines.batch.run_manifest import run_record
from pipelines.errors import BatchError
from pipelines.ingest.intake import Intake, take_in
from pipelines.ingest.parallel import Spread, counter
from pipelines.report import changes, outgoing, publish
from pipelines.report.job_sheet import job_sheets, sheet_names
from pipelines.settings import Settings
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace, week_name

FILE_RETRIES = 2
_MOST_WARNINGS = 20


class FilesBusyError(BatchError):
    """Another program holds some files of the inbox; another try may find them free."""


@dataclass
class Batch:
    """Everything one run works on; steps fill it from top to bottom."""

    workspace: Workspace
    settings: Settings
    as_of: date
    warehouse: Warehouse
    progress: Callable[[str], None]
    spread: Spread | None = None
    intake: Intake = field(default_factory=Intake)
    file_tries: int = 0
    notes: list[str] = field(default_factory=list)
    frames: dict[str, pl.DataFrame] = field(default_factory=dict)
    findings: mining.Findings | None = None
    evidence: evidence.Evidence | None = None
    reserve: float | None = None
    before: changes.Earlier | None = None
    tables: dict[str, pl.DataFrame] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)
    timings: dict[str, float] = field(default_factory=dict)

    @property
    def week(self) -> str:
        """The report's week, ``YYYY-Www``."""
        return week_name(self.as_of, self.settings.week_starts)

    @property
    def report(self) -> Path:
        """The folder of this week's report."""
        return self.workspace.reports / self.week


@dataclass(frozen=True)
class Step:
    """One step of the batch, with how often it may be tried again when files are busy."""

    name: str
    work: Callable[[Batch], None]
    retries: int = 0


def _take_files(batch: Batch) -> None:
    batch.file_tries += 1
    done = take_in(batch.workspace, batch.settings, batch.warehouse, batch.week, batch.progress, spread=batch.spread)
    for name in ("loaded", "refused", "skipped", "again"):
        known = getattr(batch.intake, name)
        known.extend(entry for entry in getattr(done, name) if entry not in known)
    if done.busy and batch.file_tries <= FILE_RETRIES:
        raise FilesBusyError(" ".join(done.busy))
    batch.intake.busy = done.busy
    batch.notes += done.notes
    batch.notes += intake_notes(batch.warehouse, batch.week, batch.intake.again)


def _normalise(batch: Batch) -> None:
    batch.notes += normalise(batch.workspace, batch.warehouse)


def _build(batch: Batch) -> None:
    batch.frames |= build(batch.warehouse, batch.settings, batch.as_of)


def _mine(batch: Batch) -> None:
    frames = mining.MiningFrames(**{name: batch.frames[name] for name in mining.MiningFrames.__annotations__})
    batch.findings = mining.mine(
        frames,
        min_vehicles=batch.settings.min_vehicles,
        q_value=batch.settings.q_value,
        count=counter(batch.spread),
        formatter=batch.settings.formatter,
    )
    batch.notes += batch.findings.notes


def _weigh(batch: Batch) -> None:
    assert batch.findings is not None
    frames = evidence.EvidenceFrames(**{name: batch.frames[name] for name in evidence.EvidenceFrames.__annotations__})
    batch.evidence = evidence.weigh(frames, batch.findings.members)
    batch.notes += batch.evidence.notes


def _check_past(batch: Batch) -> None:
    checked = backtest(diagnosis_frames(batch.frames), costs_of(batch.settings))
    batch.tables |= {"backtest": checked.summary, "reliability": checked.reliability}
    batch.reserve = checked.reserve
    batch.notes[:0] = checked.notes


def _diagnose(batch: Batch) -> None:
    assert batch.findings is not None
    assert batch.evidence is not None
    frames, costs = diagnosis_frames(batch.frames), costs_of(batch.settings)
    listed = diagnosis.shortlist(frames, batch.evidence, batch.findings, costs, batch.reserve)
    batch.tables["shortlist"] = listed.rows
    batch.notes += listed.notes


def _gather(batch: Batch) -> None:
    assert batch.findings is not None
    assert batch.evidence is not None
    frames, found = batch.frames, batch.findings
    member = found.members.group_by("code").agg(pl.col("family").sort().str.join(";"))
    before = batch.before = changes.earlier_report(batch.workspace.reports, batch.week)
    batch.tables |= {
        "families": evidence.family_results(found.families, batch.evidence),
        "rules": found.rules,
        "part_results": batch.evidence.part_results,
        "outcomes": frames["outcomes"],
        "open_codes": frames["open_codes"].join(member, on="code", how="left").sort("vehicle", "code"),
        "family_cars": found.family_cars,
        "family_weeks": mining.family_weeks(found.family_cars),
        "family_changes": changes.family_changes(found.members, found.family_cars, before),
        "car_changes": changes.car_changes(batch.tables["shortlist"], before),
        "worse_parts": batch.evidence.worse_parts,
        "rejects": frames["rejects"].with_columns(
            pl.col("row").replace(0, None), pl.col("column", "value").replace("", None)
        ),
    }
    batch.notes += _capped(frames["warnings"].sort("kind", "vehicle", "at", "detail")["detail"].to_list())
    waiting = frames["waiting"].sort("vehicle")["vehicle"].to_list()
    batch.notes += [
        f"{vehicle}: codes were erased and no scan came after; drive it and scan again" for vehicle in waiting
    ]


def _capped(warnings: list[str]) -> list[str]:
    """Return the first warnings in full and say how many more there are."""
    more = len(warnings) - _MOST_WARNINGS
    return [*warnings[:_MOST_WARNINGS], *([f"and {more} more warnings of these kinds"] if more > 0 else [])]


def _past(batch: Batch) -> dict[str, pl.DataFrame]:
    """Return what was seen, read and done on the listed cars, scan by scan and job by job."""
    frames, listed = batch.frames, batch.tables["shortlist"].select("vehicle").unique()
    work = frames["jobs"].join(frames["job_parts"], on="job_id", how="left")
    return {
        "seen": frames["stock_sightings"].join(listed, on="vehicle", how="semi"),
        "read": frames["stock_readings"].join(listed, on="vehicle", how="semi"),
        "work": work.select("vehicle", "done_at", "job", "erased", "action", "part", "position").join(
            listed, on="vehicle", how="semi"
        ),
    }


def _publish(batch: Batch) -> None:
    tables = {name: outgoing.prepare(name, batch.tables[name]) for name in outgoing.TABLES}
    heights = {name: table.height for name, table in tables.items()}
    run = run_record(
        batch.warehouse, batch.settings, batch.as_of, week=batch.week, tables=heights, warnings=batch.notes
    )
    run["before"] = batch.before.week if batch.before else None
    told = {**tables, "codes": batch.frames["codes"], **_past(batch)}
    drawn = charts.draw(told, asdict(batch.settings))
    page = charts.page(told, run, sheet_names(tables["shortlist"]["vehicle"]), drawn)
    record = {**run, "timings": batch.timings}
    pictures = {f"pictures/{name}": content for name, content in charts.pictures(drawn).items()}
    sheets = pictures | job_sheets(told, run)
    publish.publish(batch.report, tables, page, record, csv_prefix=batch.settings.csv_prefix, sheets=sheets)
    counts = run["counts"]
    assert isinstance(counts, dict)
    batch.counts = {
        **counts,
        "files_read": len(batch.intake.loaded),
        "files_skipped": len(batch.intake.skipped),
        "files_refused": len(batch.intake.refused) + len(batch.intake.busy),
        "rows_loaded": sum(file.rows_loaded for file in batch.intake.loaded),
        "rows_refused": sum(file.rows_refused for file in batch.intake.loaded),
        "rows_repeated": sum(file.rows_repeated for file in batch.intake.loaded),
        "shortlist_rows": heights["shortlist"],
    }
    batch.notes = [*(file.refused or "" for file in batch.intake.refused), *batch.intake.busy, *batch.notes]


def _keep(batch: Batch) -> None:
    close_run(batch.workspace, batch.settings, batch.warehouse, batch.as_of, batch.week)


STEPS = (
    Step("take in new files", _take_files, retries=FILE_RETRIES),
    Step("normalise spellings", _normalise),
    Step("build the models", _build),
    Step("mine faults that show up together", _mine),
    Step("weigh what repairs did", _weigh),
    Step("check the past", _check_past),
    Step("rank what to try first", _diagnose),
    Step("gather the tables", _gather),
    Step("write the report", _publish),
    Step("keep a snapshot", _keep),
)
