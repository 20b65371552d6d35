"""The commands: init, demo, weekly, check, map and parts; those of the modules cli_* are hung in below.

Exit codes: 0 all went well, 1 nothing could be read or a fault in files or
settings, 2 the command was not understood, 130 interrupted.  Heavy libraries
are imported inside the commands, so that help answers at once.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipelines.commands.cli_car import appraise, why
from pipelines.commands.cli_keep import backup, restore, undo
from pipelines.commands.cli_log import log
from pipelines.commands.cli_paper import schedule, share, trace
from pipelines.errors import BatchError, EngineError, shell_command

if TYPE_CHECKING:
    from pipelines.batch.weekly import WeekReport

DEMO_DAY = date(2026, 11, 23)
DEMO_FOLDER = Path("knockon-demo")
INTERRUPTED = 130

app = typer.Typer(add_completion=False, no_args_is_help=True, rich_markup_mode=None, pretty_exceptions_enable=False)


class Engine(StrEnum):
    """Who runs the steps."""

    PREFECT = "prefect"
    PLAIN = "plain"


class Table(StrEnum):
    """The tables of the inbox."""

    SCANS = "scans"
    STOCK = "stock"
    REPAIRS = "repairs"
    PARTS = "parts"
    BACKGROUND = "background"


EngineOption = Annotated[
    Engine, typer.Option(help="prefect runs the steps as a flow, in a few seconds more; plain runs them directly.")
]


def _show_version(wanted: bool) -> None:
    if not wanted:
        return
    import platform
    import re
    from importlib.metadata import requires, version

    names = [re.split(r"[\s<>=!~;\[]", line)[0] for line in requires("knockon") or [] if "extra ==" not in line]
    typer.echo(f"knockon {version('knockon')}")
    typer.echo(f"python {platform.python_version()} on {platform.platform()}")
    for name in sorted(names):
        typer.echo(f"{name} {version(name)}")
    raise typer.Exit


@app.callback(epilog="Example: knockon demo")
def knockon(
    _version: Annotated[
        bool,
        typer.Option("--version", callback=_show_version, is_eager=True, help="Show the versions in use, then stop."),
    ] = False,
) -> None:
    """Learn from a dealer's own scans and repairs which cheap part clears a page of fault codes."""


@app.command(epilog="Example: knockon init my-dealer")
def init(folder: Annotated[Path, typer.Argument(help="A new folder, or one to complete.")]) -> None:
    """Make a workspace: inbox, settings, column descriptions."""
    from pipelines.commands.console import say, show_made
    from pipelines.commands.init import init_workspace

    made = init_workspace(folder)
    show_made(made, folder)
    if not made:
        say(f"{folder} is complete; nothing was changed")
    say(f"Next: put files into {folder / 'inbox'} and run '{shell_command('weekly', folder)}'")


@app.command(epilog="Example: knockon demo knockon-demo")
def demo(
    folder: Annotated[Path, typer.Argument(help="A new or empty folder.")] = DEMO_FOLDER,
    engine: EngineOption = Engine.PREFECT,
) -> None:
    """Run the week on an invented dealer; see a report."""
    from pipelines.commands.demo_dealer import lay_out_demo

    lay_out_demo(folder)
    _run_week(folder, DEMO_DAY, engine, "open the report in a browser; then 'knockon init my-dealer' for your own data")


@app.command(epilog="Example: knockon weekly my-dealer --date 2026-11-23")
def weekly(
    folder: Annotated[Path, typer.Argument(help="The workspace.")] = Path(),
    engine: EngineOption = Engine.PREFECT,
    day: Annotated[
        datetime | None,
        typer.Option("--date", formats=["%Y-%m-%d"], metavar="YYYY-MM-DD", help="The report's day, if not today."),
    ] = None,
) -> None:
    """Take in new files and write the week's report."""
    as_of = day.date() if day else date.today()
    report = _run_week(folder, as_of, engine, f"put next week's files into {folder / 'inbox'} and run this again")
    if report.nothing_readable:
        raise BatchError("There were files, and nothing in them could be read; the reasons stand above.")


@app.command(epilog="Example: knockon check my-dealer/inbox/scans/november.csv")
def check(
    files: Annotated[list[Path], typer.Argument(help="Files for the inbox.", metavar="FILE...")],
    table: Annotated[
        Table | None, typer.Option(help="The table they belong to; else the folder or the header tells.")
    ] = None,
    mapping: Annotated[
        Path | None, typer.Option(help="A mapping to read them by; else those of their workspace.", metavar="FILE")
    ] = None,
) -> None:
    """Say what would be taken of some files; load nothing."""
    from pipelines.commands.check import check_file
    from pipelines.commands.console import show_check
    from pipelines.settings import load_settings

    unreadable = 0
    for path in files:
        found = check_file(path, load_settings(_settings_above(path)), table, mapping)
        show_check(found)
        unreadable += found.refused is not None
    if unreadable:
        raise BatchError(f"{unreadable} of {len(files)} files could not be read. Nothing was loaded.")


@app.command(epilog="Example: knockon parts my-dealer")
def parts(
    folder: Annotated[Path, typer.Argument(help="The workspace.")] = Path(),
    accept: Annotated[
        list[str] | None,
        typer.Option(metavar="SPELLING=PART", help="Write a price book row that makes SPELLING another name of PART."),
    ] = None,
) -> None:
    """Show names of parts that look alike; merge none unasked."""
    from pipelines.commands import part_names
    from pipelines.commands.console import say
    from pipelines.workspace import Workspace

    workspace = Workspace.open(folder)
    if accept:
        say(f"wrote {part_names.accept(workspace, accept)}")
        say(f"Next: run '{shell_command('weekly', folder)}', which takes it in")
        return
    for line in part_names.report(part_names.look_alikes(workspace)):
        say(line)


@app.command("map", epilog="Example: knockon map unknown.csv --out my-dealer/mappings/lift.toml")
def draft(
    file: Annotated[Path, typer.Argument(help="An export that knockon does not know.", metavar="FILE")],
    out: Annotated[
        Path | None, typer.Option(help="Where to write the draft; else it is only shown.", metavar="FILE")
    ] = None,
) -> None:
    """Draft a mapping for another program's export."""
    from pipelines.commands.console import say
    from pipelines.commands.draft_mapping import draft_file
    from pipelines.settings import load_settings

    for line in draft_file(file, out, load_settings(_settings_above(file))):
        say(line)


def _settings_above(path: Path) -> Path:
    """Return the settings file of the workspace that a file lies in, else the one that may be here."""
    homes = [home / "knockon.toml" for home in path.resolve().parents]
    return next((home for home in homes if home.is_file()), Path("knockon.toml"))


def _run_week(folder: Path, as_of: date, engine: Engine, next_step: str) -> WeekReport:
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
        from pipelines.batch.weekly import run_week

        with progress() as doing:
            report = run_week(workspace, as_of, progress=doing)
    show_summary(report, next_step)
    return report


app.command(epilog="Example: knockon log K-1004 --folder my-dealer --did erase")(log)
app.command(epilog="Example: knockon why K-1004 my-dealer")(why)
app.command(epilog="Example: knockon trace K-1004 ABS:C0031 my-dealer")(trace)
app.command(epilog="Example: knockon share my-dealer --out for-a-friend")(share)
app.command(epilog="Example: knockon schedule my-dealer --day monday --at 06:00")(schedule)
app.command(epilog="Example: knockon appraise scan.csv my-dealer --make Corvane --limit 250")(appraise)

app.command(epilog="Example: knockon backup my-dealer")(backup)
app.command(epilog="Example: knockon restore 2026-11-23-weekly-0003 --folder my-dealer")(restore)
app.command(epilog="Example: knockon undo scans/november.csv --folder my-dealer")(undo)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Args:
        arguments: The words after ``knockon``; None takes those of the command line.

    Returns:
        The exit code.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a console that lacks a letter shows "?" instead of stopping the run
    try:
        app(None if arguments is None else list(arguments), prog_name="knockon")
    except BatchError as error:
        print("\n".join([f"knockon: {error}", *getattr(error, "__notes__", [])]), file=sys.stderr)
        return 1
    except SystemExit as ended:
        if ended.code == INTERRUPTED:
            print("knockon: interrupted. Files taken in so far stay taken in; run it again.", file=sys.stderr)
        return ended.code if isinstance(ended.code, int) else 0
    return 0
