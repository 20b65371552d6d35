"""The commands that keep what was read and give it back: backup, restore and undo."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from pipelines.errors import shell_command

_AFTER_LISTING = "Next: name a run, a file or the beginning of its hash: 'knockon undo NAME --folder WORKSPACE'"


def backup(folder: Annotated[Path, typer.Argument(help="The workspace.")] = Path()) -> None:
    """Write a checked snapshot of all that was read."""
    from pipelines.commands.console import say
    from pipelines.storage.session import opened
    from pipelines.storage.snapshots import ASKED, snapshots, write_snapshot
    from pipelines.workspace import Workspace

    workspace = Workspace.open(folder)
    with opened(workspace) as warehouse:
        made = write_snapshot(workspace, warehouse, date.today(), ASKED)
    say(f"wrote {made.folder}")
    say(f"snapshots kept: {len(snapshots(workspace))}; the files they came from stay in {workspace.archive}")
    say(f"Next: '{shell_command('restore', made.name, '--folder', folder)}' puts it back")


def restore(
    name: Annotated[str | None, typer.Argument(help="The snapshot's folder in backups/; else the latest.")] = None,
    folder: Annotated[Path, typer.Option(help="The workspace.")] = Path(),
) -> None:
    """Put a snapshot in the database's place; keep the old one."""
    from pipelines.commands.console import say
    from pipelines.storage.restore import restore as restored
    from pipelines.workspace import Workspace

    done = restored(Workspace.open(folder), name)
    say(f"restored {done.snapshot.name}: {done.rows} rows")
    if done.kept is not None:
        say(f"the old database is now {done.kept}")
    for note in done.notes:
        say(f"note: {note}")
    if done.again:
        say(f"files of the archive that the snapshot does not have: {done.again}; the next run reads them again")
    say(f"Next: run '{shell_command('weekly', folder)}', which makes tables and report anew")


def undo(
    target: Annotated[
        str | None, typer.Argument(metavar="FILE|RUN", help="What to take back; without it, both are listed.")
    ] = None,
    folder: Annotated[Path, typer.Option(help="The workspace.")] = Path(),
) -> None:
    """Take a wrong import back, with all that rests on it."""
    from pipelines.commands.console import say, show_taken
    from pipelines.settings import load_settings
    from pipelines.storage.session import opened
    from pipelines.storage.undo import taken_in
    from pipelines.storage.undo import undo as undone
    from pipelines.workspace import Workspace

    workspace = Workspace.open(folder)
    settings = load_settings(workspace.settings_file)
    with opened(workspace) as warehouse:
        if target is None:
            files = taken_in(warehouse)
            show_taken(files)
            say(_AFTER_LISTING if files else "Nothing was taken in yet, so there is nothing to take back.")
            return
        done = undone(workspace, settings, warehouse, target)
    for file in done.files:
        say(f"took back {file.name}; it is in {workspace.rejected / file.layout}, the reason beside it")
    for note in done.notes:
        say(f"note: {note}")
    say(f"{done.removed} rows are gone; rows that other files hold too have stayed")
    say(f"Next: run '{shell_command('weekly', folder)}', which makes tables and report without them")
