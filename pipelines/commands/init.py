"""``knockon init``: make a workspace."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipelines.errors import shell_command

EXAMPLE = "knockon init my-dealer"


def init(
    folder: Annotated[Path, typer.Argument(help="A new folder, or one to complete; else the current one.")] = Path(),
) -> None:
    """Make a workspace: inbox, settings, column descriptions."""
    from pipelines.commands.console import say, show_made
    from pipelines.report.new_workspace import init_workspace

    made = init_workspace(folder)
    show_made(made, folder)
    if not made:
        say(f"{folder} is complete; nothing was changed")
    say(f"Next: put files into {folder / 'inbox'} and run '{shell_command('weekly', folder)}'")
