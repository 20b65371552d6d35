"""The weekly batch, from the inbox to the report: one function of steps that each take data and return data.

``run_week`` reads like the design: read, normalise, state the facts, mine and weigh, hold the method against the past,
fit, diagnose, publish, keep.  Who calls the steps is handed in: this process, one after the other, or the orchestration
engine, to which every step is a task.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

import polars as pl

from analysis import charts, diagnosis, evidence, mining
from analysis.diagnosis.evaluation.backtest import Backtest, backtest, cut_moments
from analysis.diagnosis.standing_causes import standing_causes
from analysis.diagnosis.unseen import PastCars
from analysis.progress import listening
from pipelines.batch import marts, run_journal
from pipelines.batch.counting import counter
from pipelines.batch.marts import Facts, costs_of
from pipelines.batch.others import NONE as NO_SETS
from pipelines.batch.others import OtherSets, read_sets, sets_folder
from pipelines.batch.run_manifest import run_record
from pipelines.batch.standing import refused_groups
from pipelines.batch.step import Call, Said, Step, Timed, plain, step
from pipelines.batch.week_tables import WeekTables, gather, learned
from pipelines.file_names import sheet_names
from pipelines.ingest.cluster import working
from pipelines.ingest.intake import Intake, take_in
from pipelines.ingest.parallel import Spread
from pipelines.report.chart_library import chart_library
from pipelines.report.job_sheet import TOGETHER, job_sheets, papers
from pipelines.report.ledger import ledger
from pipelines.report.outgoing import prepare
from pipelines.report.outgoing_tables import TABLES
from pipelines.report.publish import publish as publish_folder
from pipelines.settings import Settings, load_settings
from pipelines.storage.file_loader import end_run
from pipelines.storage.integrity import Verification, verify_files
from pipelines.storage.model_store import ModelStore, StoredRun
from pipelines.storage.session import opened
from pipelines.storage.snapshots import keep_weekly, prune
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace, week_name

BUSY_RETRIES = 2
_BUSY_SECONDS = 1.0
NOTHING_ELSEWHERE: Mapping[datetime | None, diagnosis.Elsewhere] = {}
_LATER = "select max(week) as week from raw.files where week > $week having max(week) is not null"


@dataclass(frozen=True, kw_only=True)
class WeekReport:
    """What a run leaves behind.

    Attributes:
        folder: The report's folder.
        counts: Files, rows, cars and outcomes, by name.
        notes: What the run noticed, in words.
        timings: Seconds of each step.
        nothing_readable: There were files and not one row of them could be read.
    """

    folder: Path
    counts: dict[str, int]
    notes: list[str]
    timings: dict[str, float]
    nothing_readable: bool


def run_week(
    workspace: Workspace, as_of: date, call: Call = plain, progress: Callable[[str], None] = lambda _: None
) -> WeekReport:
    """Run the whole batch and leave the week's report.

    Args:
        workspace: The dealer's folder.
        as_of: The day the report is made for; it names the week and says what is in stock.
        call: Who calls each step.
        progress: Told in a few words what is being done.

    Returns:
        Where the report is, and what was counted.

    Raises:
        BatchError: The settings are wrong, or another run holds the workspace or the database.
    """
    said = Said(progress)
    with run_journal.kept(workspace, as_of) as journal, opened(workspace) as warehouse, listening(said.share):
        failed = journal.begin()
        settings = load_settings(workspace.settings_file)
        journal.settings(settings)
        week = week_name(as_of, settings.week_starts)
        call = Timed(call, said)
        with working(settings.workers) as spread:
            files = call(read, workspace, settings, warehouse, week=week, progress=said, spread=spread)
            checked = call(verify, workspace, warehouse, as_of, said)
            spellings = call(normalise, workspace, warehouse)
            facts = call(state_facts, warehouse, settings, as_of)
            before = ModelStore(warehouse).before(week)
            findings = call(mine, facts, settings, spread, verdict_history(week, before))
            weighed = call(weigh, facts, findings)
            shared = sets_folder(workspace).is_dir()
            others = call(read_others, workspace, as_of, said, spread) if shared else NO_SETS
            elsewhere = call(learn_elsewhere, facts, findings, others, spread) if others.past else {}
            past = call(check_past, facts, settings, elsewhere)
            model = call(fit, facts, findings, past, settings, elsewhere.get(None))
            refused = refused_groups(workspace)
            model = model.working_on(refused)
            listed = call(diagnose, model)
            promised = ledger(ModelStore(warehouse).first_lines(week), facts.frames, settings.labour_rate)
            standing = call(ask, workspace, facts, model)
            tables = call(
                gather, facts, findings, weighed, past,
                listed=listed, standing=standing, before=before, promised=promised,
            )  # fmt: skip
            notes = [
                *checked.findings, *past.notes, *failed, *files.notes, *spellings.notes, *findings.notes,
                *weighed.notes, *others.notes, *listed.notes, *tables.notes,
            ]  # fmt: skip
            record = run_record(
                warehouse,
                settings,
                as_of,
                week=week,
                tables=tables.heights,
                notes=notes,
                before=before.week if before else None,
            )
            report = call(
                publish,
                workspace.reports / week,
                tables,
                settings,
                record,
                call.seconds,
                progress=said,
            )
            call(
                store,
                warehouse,
                week,
                as_of,
                model,
                learned(facts, findings, weighed, past, listed=listed, standing=standing, refused=refused),
            )
            call(keep, workspace, settings, warehouse, as_of, week)
        counts = {**record["counts"], **files.counts, "shortlist_rows": tables.heights["shortlist"]}
        journal.end(counts, [*files.refusals, *notes])
    return WeekReport(
        folder=report.folder,
        counts=counts,
        notes=[*files.refusals, *notes],
        timings=call.seconds,
        nothing_readable=files.intake.nothing_readable,
    )


@dataclass(frozen=True)
class FilesRead:
    """What came out of the inbox, and what the user should know of it before all else."""

    intake: Intake
    notes: list[str]

    @property
    def counts(self) -> dict[str, int]:
        """Files and rows of this run, by name."""
        loaded = self.intake.loaded
        return {
            "files_read": len(loaded),
            "files_skipped": len(self.intake.skipped),
            "files_refused": len(self.refusals),
            "rows_loaded": sum(file.rows_loaded for file in loaded),
            "rows_refused": sum(file.rows_refused for file in loaded),
            "rows_repeated": sum(file.rows_repeated for file in loaded),
        }

    @property
    def refusals(self) -> list[str]:
        """Why files were not taken in, one sentence each."""
        return [*(file.refused or "" for file in self.intake.refused), *self.intake.busy]


@step("take in new files")
def read(
    workspace: Workspace,
    settings: Settings,
    warehouse: Warehouse,
    *,
    week: str,
    progress: Callable[[str], None],
    spread: Spread | None,
) -> FilesRead:
    """Load what is new in the inbox; files that another program holds are tried again, a second later each."""
    done = take_in(workspace, settings, warehouse, week, progress, spread=spread)
    for _ in range(BUSY_RETRIES):
        if not done.busy:
            break
        time.sleep(_BUSY_SECONDS)
        done = _both(done, take_in(workspace, settings, warehouse, week, progress, spread=spread))
    return FilesRead(done, [*done.notes, *intake_notes(warehouse, week, done.again)])


def _both(first: Intake, second: Intake) -> Intake:
    """Return what two looks at the inbox did together; what is busy, the second knows best."""
    names = ("loaded", "refused", "skipped", "again", "notes")
    added = {
        name: [*getattr(first, name), *(one for one in getattr(second, name) if one not in getattr(first, name))]
        for name in names
    }
    return Intake(**added, busy=second.busy)


def intake_notes(warehouse: Warehouse, week: str, again: Sequence[str]) -> list[str]:
    """Return what the user should know before all else: a clock that may be wrong, files that were read again.

    Args:
        warehouse: The open database.
        week: The report's week.
        again: Names of files that were read again from the archive.
    """
    notes = [
        f"this report is for {week}, but files came in for {later} already; if you did not choose the day yourself, "
        "set this computer's clock right and run it again. Nothing of the later report was changed"
        for later in warehouse.query(_LATER, {"week": week})["week"]
    ]
    if again:
        names = ", ".join(again)
        notes.append(f"the archive held files that the database did not know; they were taken in again: {names}")
    return notes


@step("verify archive and database")
def verify(workspace: Workspace, warehouse: Warehouse, as_of: date, progress: Callable[[str], None]) -> Verification:
    """Hold archive, database and last snapshot against each other."""
    return verify_files(workspace, warehouse, as_of, progress=progress)


@dataclass(frozen=True)
class Spellings:
    """What there is to say of spellings that were not known."""

    notes: list[str]


@step("normalise spellings")
def normalise(workspace: Workspace, warehouse: Warehouse) -> Spellings:
    """Read each distinct spelling once, the dealer's own names of modules included."""
    return Spellings(marts.normalise(workspace, warehouse))


@step("build the models")
def state_facts(warehouse: Warehouse, settings: Settings, as_of: date) -> Facts:
    """Build the SQL models and fetch the marts."""
    return marts.build_marts(warehouse, settings, as_of)


@step("mine faults that show up together")
def mine(
    facts: Facts, settings: Settings, spread: Spread | None, history: mining.VerdictHistory | None = None
) -> mining.Findings:
    """Find rules and families of codes; what is confirmed holds over all weeks together."""
    return mining.mine(
        facts.take(mining.MiningFrames),
        min_vehicles=settings.min_vehicles,
        q_value=settings.q_value,
        count=counter(spread),
        formatter=settings.formatter,
        history=history,
    )


def verdict_history(week: str, before: StoredRun | None) -> mining.VerdictHistory:
    """Return what the stored run of the week before had looked at and confirmed.

    Args:
        week: The report's week.
        before: That run; a run of the same week is none, so a week that is run again spends nothing twice.
    """
    tables = {} if before is None else before.tables
    fresh = mining.first_week(week)
    return replace(fresh, looks=tables.get("looks", fresh.looks), held=tables.get("held", fresh.held))


@step("weigh what repairs did")
def weigh(facts: Facts, findings: mining.Findings) -> evidence.Evidence:
    """Work out what became of the codes after each job."""
    return evidence.weigh(facts.take(evidence.EvidenceFrames), findings.members)


@step("read other dealers' sets")
def read_others(workspace: Workspace, as_of: date, progress: Callable[[str], None], spread: Spread | None) -> OtherSets:
    """Read what other dealers shared, as first beliefs."""
    return read_sets(workspace, as_of, progress, spread)


@step("learn from other dealers' jobs")
def learn_elsewhere(
    facts: Facts, findings: mining.Findings, others: OtherSets, spread: Spread | None
) -> Mapping[datetime | None, diagnosis.Elsewhere]:
    """Count what each set teaches, and how much it counts today and at each moment of the check on the past."""
    frames = facts.take(diagnosis.DiagnosisFrames)
    return diagnosis.learn_elsewhere(frames, findings.families, others.past, cut_moments(frames), spread or map)


@step("check the past")
def check_past(
    facts: Facts, settings: Settings, elsewhere: Mapping[datetime | None, diagnosis.Elsewhere] = NOTHING_ELSEWHERE
) -> Backtest:
    """Put the method before the dealer's own past visits; this also calibrates its chances."""
    return backtest(facts.take(diagnosis.DiagnosisFrames), costs_of(settings), elsewhere=elsewhere)


@step("fit the diagnosis model")
def fit(
    facts: Facts,
    findings: mining.Findings,
    past: Backtest,
    settings: Settings,
    elsewhere: diagnosis.Elsewhere | None = None,
) -> diagnosis.DiagnosisModel:
    """Learn from all past jobs, and from other dealers' as far as these foretell the own cars."""
    frames, costs = facts.take(diagnosis.DiagnosisFrames), costs_of(settings)
    return diagnosis.fit(frames, findings.families, costs, past.calibration, elsewhere)


@step("rank what to try first")
def diagnose(model: diagnosis.DiagnosisModel) -> diagnosis.Shortlist:
    """Diagnose each car in stock and plan the order of work."""
    return diagnosis.shortlist(model)


@step("ask what to leave alone")
def ask(workspace: Workspace, facts: Facts, model: diagnosis.DiagnosisModel) -> pl.DataFrame:
    """Find codes that no fault seems to set; what the dealer refused before is not asked again."""
    return standing_causes(model, facts["looked_past"], refused_groups(workspace))


@dataclass(frozen=True)
class Published:
    """Where the report stands."""

    folder: Path


@step("write the report")
def publish(
    folder: Path,
    tables: WeekTables,
    settings: Settings,
    record: Mapping[str, object],
    timings: Mapping[str, float],
    *,
    progress: Callable[[str], None] = lambda _: None,
) -> Published:
    """Round the tables, draw charts, page and job sheets, and put all of it in place as the last act."""
    going = {name: prepare(name, tables.outgoing[name]) for name in TABLES}
    told = {**going, **tables.shown}
    progress("write the report: the charts, 1 of 4")
    drawn = charts.draw(told, asdict(settings))
    progress("write the report: page and pictures, 2 of 4")
    page = charts.page(
        told,
        record,
        sheet_names(going["shortlist"]["vehicle"]),
        drawn,
        chart_library() if drawn else None,
        papers=papers(going["shortlist"]),
        together=TOGETHER,
    )
    pictures = {f"pictures/{name}": content for name, content in charts.pictures(drawn).items()}
    progress(f"write the report: the sheets of {going['shortlist']['vehicle'].n_unique()} cars, 3 of 4")
    sheets = pictures | job_sheets(told, record)
    progress("write the report: tables and workbook, 4 of 4")
    publish_folder(
        folder,
        going,
        page,
        {**record, "timings": dict(timings)},
        csv_prefix=settings.csv_prefix,
        sheets=sheets,
        week=charts.week_list(told, asdict(settings)),
    )
    return Published(folder)


@step("store what was learned")
def store(
    warehouse: Warehouse,
    week: str,
    as_of: date,
    model: diagnosis.DiagnosisModel,
    tables: Mapping[str, pl.DataFrame],
) -> None:
    """Keep the fitted model, what past cars had when they came in, and the run's tables in the database."""
    run = StoredRun(
        week=week,
        as_of=as_of,
        made_at=datetime.now(),
        version=version("knockon"),
        fitted=model.fitted(),
        tables={**tables, "past_cars": PastCars(model).table()},
    )
    ModelStore(warehouse).save(run)


@step("keep a snapshot")
def keep(workspace: Workspace, settings: Settings, warehouse: Warehouse, as_of: date, week: str) -> None:
    """Give the files that came in the name of this run, and keep a snapshot of what they said."""
    end_run(warehouse, week)
    keep_weekly(workspace, warehouse, as_of, week)
    prune(workspace, settings.backups_weekly, settings.backups_monthly)


STEPS: tuple[Step[..., Any], ...] = (
    read, verify, normalise, state_facts, mine, weigh, check_past, read_others, fit, diagnose, ask, gather, publish,
    store, keep,
)  # fmt: skip
"""The steps, in the order in which a week calls them; others' sets are read only where there are some."""
