"""The weekly batch: from the inbox to the report, by one list of steps.

Who runs the steps is handed in: the plain runner here, or the orchestration
engine's.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from pipelines.batch import run_journal
from pipelines.batch.steps import STEPS, Batch, FilesBusyError, Step
from pipelines.ingest.cluster import working
from pipelines.settings import load_settings
from pipelines.storage.session import opened
from pipelines.workspace import Workspace

__all__ = ["STEPS", "Batch", "FilesBusyError", "Runner", "Step", "WeekReport", "plain", "run_week"]


@dataclass(frozen=True)
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


Runner = Callable[[Step, Batch], None]


def plain(step: Step, batch: Batch) -> None:
    """Run one step here and now; wait a second between tries where files are busy."""
    for left in range(step.retries, -1, -1):
        try:
            step.work(batch)
        except FilesBusyError:
            if not left:
                raise
            time.sleep(1)
        else:
            return


def run_week(
    workspace: Workspace, as_of: date, run: Runner = plain, progress: Callable[[str], None] = lambda _: None
) -> WeekReport:
    """Run the whole batch and leave the week's report.

    Args:
        workspace: The dealer's folder.
        as_of: The day the report is made for; it names the week and says what is in stock.
        run: Who runs each step.
        progress: Told in a few words what is being done.

    Returns:
        Where the report is, and what was counted.

    Raises:
        BatchError: The settings are wrong, or another run holds the workspace or the database.
    """
    with run_journal.remembered(workspace), opened(workspace) as warehouse:
        failed = run_journal.begin(workspace, datetime.now())
        batch = Batch(workspace, load_settings(workspace.settings_file), as_of, warehouse, progress)
        batch.notes += failed
        with working(batch.settings.workers) as batch.spread:
            for step in STEPS:
                progress(step.name)
                started = time.perf_counter()
                run(step, batch)
                batch.timings[step.name] = round(time.perf_counter() - started, 3)
            run_journal.forget(workspace)
        return WeekReport(batch.report, batch.counts, batch.notes, batch.timings, batch.intake.nothing_readable)
