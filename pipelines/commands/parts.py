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
        typer.Option(metavar="SPELLING=PART", help="They are one part: SPELLING is another name of PART."),
    ] = None,
    apart: Annotated[
        list[str] | None,
        typer.Option(metavar="SPELLING=PART", help="They are two parts; it is not asked again."),
    ] = None,
) -> None:
    """Show names of parts that look alike; merge none unasked."""
    from pipelines.batch import part_names
    from pipelines.commands.console import say
    from pipelines.workspace import Workspace

    workspace = Workspace.open(folder)
    if accept or apart:
        say(f"wrote {part_names.answer(workspace, accept or [], apart or [])}")
        say(f"Next: run '{shell_command('weekly', folder)}', which goes by it")
        return
    for line in part_names.report(part_names.look_alikes(workspace)):
        say(line)
