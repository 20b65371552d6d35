"""The commands about one car: why, and appraise."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def why(
    vehicle: Annotated[str, typer.Argument(help="Stock number of the car.")],
    folder: Annotated[Path, typer.Argument(help="The workspace.")] = Path(),
) -> None:
    """Show the reasoning behind one car's lines of the list."""
    from pipelines.commands.console import show_sections
    from pipelines.commands.why import reasons_for
    from pipelines.workspace import Workspace

    show_sections(reasons_for(Workspace.open(folder), vehicle))


def appraise(
    scanfile: Annotated[Path, typer.Argument(help="The scan of one car, of any kind that the inbox takes.")],
    folder: Annotated[Path, typer.Argument(help="The workspace.")] = Path(),
    make: Annotated[str | None, typer.Option(help="The car's make, for its maker's own codes.")] = None,
    model: Annotated[str | None, typer.Option(help="The car's model.")] = None,
    limit: Annotated[
        float | None, typer.Option(min=0, help="Money; else the settings' specialist_cost.", metavar="MONEY")
    ] = None,
) -> None:
    """Before buying: what clearing a car will cost; load nothing."""
    from pipelines.commands.appraise import appraise as appraised
    from pipelines.commands.console import show_sections
    from pipelines.workspace import Workspace

    show_sections(appraised(Workspace.open(folder), scanfile, make, model, limit))
