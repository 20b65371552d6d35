"""The commands about records and routine: trace, share and schedule."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def trace(
    vehicle: Annotated[str, typer.Argument(help="Stock number of the car, sold ones too.")],
    code: Annotated[str, typer.Argument(help="A code it showed, as the report writes it or without its module.")],
    folder: Annotated[Path, typer.Argument(help="The workspace.")] = Path(),
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """Show the rows and files behind what the report says of a code."""
    import json

    from pipelines.console import say, show_sections
    from pipelines.trace import trace as traced
    from pipelines.trace_view import sections
    from pipelines.workspace import Workspace

    found = traced(Workspace.open(folder), vehicle, code)
    if as_json:
        say(json.dumps(found, indent=2, ensure_ascii=False))
    else:
        show_sections(sections(found))
