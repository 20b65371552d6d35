"""``knockon schedule``: wait, and run the week whenever it is due."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipelines.commands.arguments import Folder
from pipelines.errors import shell_command

if TYPE_CHECKING:
    from pipelines.batch.schedule import Plan
    from pipelines.workspace import Workspace

EXAMPLE = "knockon schedule my-dealer --day monday --at 06:00"


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


def schedule(
    folder: Folder = Path(),
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
