"""``knockon desk``: the whole week in the browser, without commands."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

EXAMPLE = "knockon desk my-dealer"


def desk(
    folder: Annotated[Path, typer.Argument(help="The workspace, or a folder to become one; else the current one.")] = (
        Path()
    ),
    port: Annotated[int, typer.Option(min=0, max=65_535, help="The port of this computer; 0: any that is free.")] = 0,
    browser: Annotated[bool, typer.Option(help="Open the browser; else only say the address.")] = True,
) -> None:
    """Open the desk: a page of this computer alone, for the whole week."""
    import webbrowser

    from pipelines.commands.console import say
    from pipelines.desk.server import serve

    serve(folder, port, say, webbrowser.open if browser else None)
