"""``knockon trace``: the rows and files behind what the report says of a code."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands.arguments import Folder

EXAMPLE = "knockon trace K-1004 ABS:C0031 my-dealer"


def trace(
    vehicle: Annotated[str, typer.Argument(help="Stock number of the car, sold ones too.")],
    code: Annotated[str, typer.Argument(help="A code it showed, as the report writes it or without its module.")],
    folder: Folder = Path(),
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """Show the rows and files behind what the report says of a code."""
    import json

    from pipelines.commands.console import say, show_sections
    from pipelines.lineage.trace import trace as traced
    from pipelines.lineage.view import sections
    from pipelines.settings import load_settings
    from pipelines.workspace import Workspace

    workspace = Workspace.open(folder)
    found = traced(workspace, vehicle, code)
    if as_json:
        say(json.dumps(found, indent=2, ensure_ascii=False))
    else:
        show_sections(sections(found, load_settings(workspace.settings_file).formatter))
