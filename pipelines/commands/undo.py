"""``knockon undo``: take a wrong import back."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipelines.commands.arguments import name_or_folder
from pipelines.errors import shell_command

if TYPE_CHECKING:
    from pipelines.workspace import Workspace

EXAMPLE = "knockon undo scans/november.csv my-dealer"


def undo(
    target: Annotated[
        str | None, typer.Argument(metavar="FILE|RUN", help="What to take back; without it, both are listed.")
    ] = None,
    folder: Annotated[Path | None, typer.Argument(help="The workspace; else the current folder.")] = None,
) -> None:
    """Take a wrong import back, with all that rests on it."""
    from pipelines.commands.console import say, show_taken
    from pipelines.settings import load_settings
    from pipelines.storage.session import opened
    from pipelines.storage.undo import taken_in
    from pipelines.storage.undo import undo as undone

    chosen, workspace = name_or_folder("undo", target, folder, _was_taken_in)
    settings = load_settings(workspace.settings_file)
    with opened(workspace) as warehouse:
        if chosen is None:
            files = taken_in(warehouse)
            show_taken(files)
            following = f"'{shell_command('undo', 'NAME', workspace.root)}'"
            say(
                f"Next: name a run, a file or the beginning of its hash: {following}"
                if files
                else "Nothing was taken in yet, so there is nothing to take back."
            )
            return
        done = undone(workspace, settings, warehouse, chosen)
    for file in done.files:
        say(f"took back {file.name}; it is in {workspace.rejected / file.layout}, the reason beside it")
    for note in done.notes:
        say(f"note: {note}")
    say(f"{done.removed} rows are gone; rows that other files hold too have stayed")
    say(f"Next: run '{shell_command('weekly', workspace.root)}', which makes tables and report without them")


def _was_taken_in(here: Workspace, word: str) -> bool:
    from pipelines.storage.session import opened
    from pipelines.storage.undo import taken_in

    with opened(here) as warehouse:
        return any(word in (file.run, file.name, file.name.rpartition("/")[2]) for file in taken_in(warehouse))
