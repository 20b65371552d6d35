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
    new: Annotated[bool, typer.Option("--new", help="The car or part is a new one, and meant so.")] = False,
) -> None:
    """Enter a job, so that nobody writes CSV by hand."""
    from pipelines.commands.console import ask, say
    from pipelines.report import job_entry
    from pipelines.settings import load_settings
    from pipelines.workspace import Workspace

    workspace = Workspace.open(folder)
    settings, known = load_settings(workspace.settings_file), job_entry.known_names(workspace, vehicle)
    if (meant := known.car_meant(vehicle)) != vehicle:
        same = known_as(vehicle, known.vehicles) == meant
        why = "only capitals or spaces differ" if same else "the stock list has it for that car"
        say(f"{vehicle} is taken for {meant}: {why}.")
        vehicle = meant
    if not new:
        job_entry.check_vehicle(vehicle, known)
    if known.car:
        say(f"{vehicle}: {known.car}; open codes: {', '.join(known.open) or 'none'}")
    day = job_entry.spelled("done_at", done_at or date.today().isoformat(), settings)
    about = {"vehicle": vehicle, "done_at": day, "job": job}
    about["odometer"] = job_entry.spelled_odometer(odometer or "", known, settings)
    if not did and odometer is None:
        about["odometer"] = job_entry.ask_checked("odometer", "Odometer", ask, say, settings)
    if did:
        told = [
            {column: job_entry.spelled(column, text, settings) for column, text in row.items()}
            for row in job_entry.told_work(did)
        ]
        rows = told if new else job_entry.as_known(told, known)
    else:
        rows = job_entry.ask_work(ask, say, known, settings)
    if job in known.jobs:
        say(f"Job {job} of {vehicle} is known already; this is added to it.")
    path = job_entry.write_job(workspace, settings, {name: text for name, text in about.items() if text}, rows, known)
    say(f"wrote {path}")
    say(f"Next: run '{shell_command('weekly', folder)}', which takes it in")
