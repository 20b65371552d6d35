"""The commands about records and routine: trace, share and schedule."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipelines.errors import shell_command

if TYPE_CHECKING:
    from pipelines.batch.schedule import Plan
    from pipelines.workspace import Workspace


class Day(StrEnum):
    """The days of the week."""

    MONDAY = "monday"
    TUESDAY = "tuesday"
    WEDNESDAY = "wednesday"
    THURSDAY = "thursday"
    FRIDAY = "friday"
    SATURDAY = "saturday"
    SUNDAY = "sunday"


class System(StrEnum):
    """What starts programs with the computer."""

    LINUX = "linux"
    CRON = "cron"
    WINDOWS = "windows"


def trace(
    vehicle: Annotated[str, typer.Argument(help="Stock number of the car, sold ones too.")],
    code: Annotated[str, typer.Argument(help="A code it showed, as the report writes it or without its module.")],
    folder: Annotated[Path, typer.Argument(help="The workspace.")] = Path(),
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """Show the rows and files behind what the report says of a code."""
    import json

    from pipelines.commands.console import say, show_sections
    from pipelines.lineage.trace import trace as traced
    from pipelines.lineage.view import sections
    from pipelines.settings import load_settings
    from pipelines.workspace import Workspace

    workspace = Workspace.open(folder)
    found = traced(workspace, vehicle, code)
    if as_json:
        say(json.dumps(found, indent=2, ensure_ascii=False))
    else:
        show_sections(sections(found, load_settings(workspace.settings_file).formatter))


def share(
    folder: Annotated[Path, typer.Argument(help="The workspace.")] = Path(),
    out: Annotated[Path | None, typer.Option(help="Where to; else shared/ in the workspace.", metavar="FOLDER")] = None,
    shift_dates: Annotated[
        bool, typer.Option("--shift-dates", help="Move all days of a car back by its own number of weeks.")
    ] = False,
    new_key: Annotated[
        bool, typer.Option("--new-key", help="Make a new key: this set cannot be joined with earlier ones.")
    ] = False,
) -> None:
    """Write the rows under other names, to show to somebody else."""
    from pipelines.commands.console import say
    from pipelines.sharing.share import share as shared
    from pipelines.workspace import Workspace

    done = shared(Workspace.open(folder), out, shift_dates=shift_dates, new_key=new_key)
    for name, count in done.rows.items():
        say(f"{count} rows of {name}")
    say(f"wrote {done.folder}; key mark {done.mark}")
    say(f"Next: look through {done.folder / 'words.txt'} ({done.words} free wordings) before you pass it on")


def schedule(
    folder: Annotated[Path, typer.Argument(help="The workspace.")] = Path(),
    day: Annotated[Day, typer.Option(help="The day of the week.")] = Day.MONDAY,
    at: Annotated[
        datetime,
        typer.Option(formats=["%H:%M"], metavar="HH:MM", show_default="06:00", help="In the settings' time zone."),
    ] = datetime(1900, 1, 1, 6),
    once: Annotated[
        bool, typer.Option("--once", help="Run the week if it is late, then end with its exit code.")
    ] = False,
    autostart: Annotated[
        System | None, typer.Option(help="Only say what to enter so that this starts with the computer.")
    ] = None,
) -> None:
    """Wait, and run the week whenever it is due; catch up on a missed one."""
    from datetime import UTC

    from pipelines.batch import schedule as plans
    from pipelines.commands.console import say
    from pipelines.settings import load_settings
    from pipelines.workspace import Workspace

    workspace = Workspace.open(folder)
    plan = plans.Plan(day.value, at.time(), load_settings(workspace.settings_file).zone)
    now = datetime.now(UTC)
    if autostart:
        for line in plans.autostart(autostart.value, workspace, plan):
            say(line)
    elif once:
        if not plans.is_late(workspace, plan, now):
            say(f"The report of {plan.last_due(now):%Y-%m-%d} is there; next due {plan.next_due(now):%Y-%m-%d %H:%M}.")
            return
        raise typer.Exit(plans.run_weekly(workspace))
    else:
        _wait(workspace, plan, folder)


def _wait(workspace: Workspace, plan: Plan, folder: Path) -> None:
    from datetime import UTC

    from pipelines.batch.schedule import run_weekly
    from pipelines.batch.scheduler import Waiter
    from pipelines.commands.console import say

    say(f"{plan}; next {plan.next_due(datetime.now(UTC)):%Y-%m-%d %H:%M}. Leave this window open; Ctrl-C ends it.")
    systems = " or ".join(system.value for system in System)
    command = shell_command("schedule", folder)
    say(f"To have it start with the computer: '{command} --autostart' with {systems} behind it")
    Waiter(workspace, plan, lambda: run_weekly(workspace), say).wait()
