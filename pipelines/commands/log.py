"""``knockon log``: enter a job from the terminal, by answering questions or all at once."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands.arguments import Folder
from pipelines.errors import known_as, shell_command

EXAMPLE = "knockon log K-1004 my-dealer --did erase"


def log(
    vehicle: Annotated[str, typer.Argument(help="Stock number of the car.")],
    folder: Folder = Path(),
    *,
    did: Annotated[
        list[str] | None,
        typer.Option(
            metavar="ACTION; COLUMN=VALUE", help="A piece of work; may be repeated. Without it, you are asked."
        ),
    ] = None,
    job: Annotated[str | None, typer.Option(help="Job number; else the day and a free number.")] = None,
    done_at: Annotated[str | None, typer.Option("--date", metavar="YYYY-MM-DD", help="When it was done.")] = None,
    odometer: Annotated[str | None, typer.Option(help="Odometer, in the settings' unit.")] = None,
) -> None:
    """Enter a job, so that nobody writes CSV by hand."""
    from pipelines.commands import job_entry
    from pipelines.commands.console import ask, say
    from pipelines.settings import load_settings
    from pipelines.workspace import Workspace

    workspace = Workspace.open(folder)
    settings, known = load_settings(workspace.settings_file), job_entry.known_names(workspace, vehicle)
    if known_as(vehicle, known.vehicles) != vehicle:
        say(f"{vehicle} is taken for {known_as(vehicle, known.vehicles)}: only capitals or spaces differ.")
        vehicle = known_as(vehicle, known.vehicles)
    if known.vehicles and vehicle not in known.vehicles:
        say(f"{vehicle} is in no stock list and no scan so far; look at the number again.")
    about = {"vehicle": vehicle, "done_at": done_at or date.today().isoformat(), "job": job, "odometer": odometer}
    if not did and odometer is None:
        about["odometer"] = ask("Odometer", ())
    rows = job_entry.told_work(did) if did else job_entry.ask_work(ask, say, known)
    if job in known.jobs:
        say(f"Job {job} of {vehicle} is known already; this is added to it.")
    path = job_entry.write_job(workspace, settings, {name: text for name, text in about.items() if text}, rows, known)
    say(f"wrote {path}")
    say(f"Next: run '{shell_command('weekly', folder)}', which takes it in")
