"""``knockon restore``: put a snapshot in the database's place."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands.arguments import name_or_folder
from pipelines.errors import shell_command

EXAMPLE = "knockon restore 2026-11-23-weekly-0003 my-dealer"


def restore(
    name: Annotated[str | None, typer.Argument(help="The snapshot's folder in backups/; else the latest.")] = None,
    folder: Annotated[Path | None, typer.Argument(help="The workspace; else the current folder.")] = None,
) -> None:
    """Put a snapshot in the database's place; keep the old one."""
    from pipelines.commands.console import say
    from pipelines.storage.restore import restore as restored
    from pipelines.storage.snapshots import snapshots

    chosen, workspace = name_or_folder(
        "restore", name, folder, lambda here, word: word in {snapshot.name for snapshot in snapshots(here)}
    )
    done = restored(workspace, chosen)
    say(f"restored {done.snapshot.name}: {done.rows} rows")
    if done.kept is not None:
        say(f"the old database is now {done.kept}")
    for note in done.notes:
        say(f"note: {note}")
    for lost in done.lacking:
        say(f"lacking: {lost}")
    if done.again:
        say(f"files of the archive that the snapshot does not have: {done.again}; the next run reads them again")
    say(f"Next: run '{shell_command('weekly', workspace.root)}', which makes tables and report anew")
