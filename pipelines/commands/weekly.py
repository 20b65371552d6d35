"""``knockon weekly``: take in what is new and write the week's report."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipelines.commands.arguments import Folder
from pipelines.errors import BatchError, EngineError

if TYPE_CHECKING:
    from pipelines.batch.weekly import WeekReport

EXAMPLE = "knockon weekly my-dealer --date 2026-11-23"


class Engine(StrEnum):
    """Who runs the steps."""

    PREFECT = "prefect"
    PLAIN = "plain"


EngineOption = Annotated[
    Engine, typer.Option(help="prefect runs the steps as a flow, in a few seconds more; plain runs them directly.")
]


def weekly(
    folder: Folder = Path(),
    engine: EngineOption = Engine.PREFECT,
    day: Annotated[
        datetime | None,
        typer.Option("--date", formats=["%Y-%m-%d"], metavar="YYYY-MM-DD", help="The report's day, if not today."),
    ] = None,
) -> None:
    """Take in new files and write the week's report."""
    as_of = day.date() if day else date.today()
    report = run_and_show(folder, as_of, engine, f"put next week's files into {folder / 'inbox'} and run this again")
    if report.nothing_readable:
        raise BatchError("There were files, and nothing in them could be read; the reasons stand above.")


def run_and_show(folder: Path, as_of: date, engine: Engine, next_step: str) -> WeekReport:
    """Run the week, without the engine where it does not start, and print the summary.

    Args:
        folder: The workspace.
        as_of: The day the report is made for.
        engine: Who runs the steps.
        next_step: What the user will want to do next.

    Raises:
        BatchError: As the week's run raises it.
    """
    from pipelines.commands.console import progress, show_summary, warn
    from pipelines.workspace import Workspace

    workspace = Workspace.open(folder)
    report = None
    if engine is Engine.PREFECT:
        from pipelines.batch.flows import run_with_engine

        warn("Starting the engine; --engine plain goes without it and is some seconds faster.")
        try:
            with progress() as doing:
                report = run_with_engine(workspace, as_of, doing)
        except EngineError as error:
            warn(f"Warning: {error}. The same steps are run without it.")
    if report is None:
        with progress() as doing:
            doing("loading the analysis")
            from pipelines.batch.weekly import run_week

            report = run_week(workspace, as_of, progress=doing)
    show_summary(report, next_step)
    return report
