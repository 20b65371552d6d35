"""``knockon parts``: names of parts that look alike."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands.arguments import Folder
from pipelines.errors import shell_command

EXAMPLE = "knockon parts my-dealer"


def parts(
    folder: Folder = Path(),
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
