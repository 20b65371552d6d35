"""``knockon why``: the reasoning behind one car's lines of the list."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands.arguments import Folder

EXAMPLE = "knockon why K-1004 my-dealer"


def why(
    vehicle: Annotated[str, typer.Argument(help="Stock number of the car.")],
    folder: Folder = Path(),
) -> None:
    """Show the reasoning behind one car's lines of the list."""
    from pipelines.commands.console import show_sections
    from pipelines.commands.reasons import reasons_for
    from pipelines.workspace import Workspace

    show_sections(reasons_for(Workspace.open(folder), vehicle))
