"""``knockon share``: the rows under other names, to show to somebody else."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands.arguments import Folder

EXAMPLE = "knockon share my-dealer --out for-a-friend"


def share(
    folder: Folder = Path(),
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
    for kind, count in sorted(done.struck.items()):
        say(f"struck out: {count} {kind}")
    say(f"left: {done.left} words and numbers that no shipped list knows; they are in {done.folder / 'left.txt'}")
    say(f"wrote {done.folder}; key mark {done.mark}")
    say(f"Next: look through {done.folder / 'words.txt'} ({done.words} free wordings) before you pass it on")
