"""``knockon appraise``: before buying, what clearing a car will cost."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands.arguments import Folder

EXAMPLE = "knockon appraise scan.csv my-dealer --make Corvane --limit 250"


def appraise(
    scanfile: Annotated[Path, typer.Argument(help="The scan of one car, of any kind that the inbox takes.")],
    folder: Folder = Path(),
    make: Annotated[str | None, typer.Option(help="The car's make, for its maker's own codes.")] = None,
    model: Annotated[str | None, typer.Option(help="The car's model.")] = None,
    limit: Annotated[
        float | None, typer.Option(min=0, help="Money; else the settings' specialist_cost.", metavar="MONEY")
    ] = None,
) -> None:
    """Before buying: what clearing a car will cost; load nothing."""
    from pipelines.batch.appraisal import appraisal
    from pipelines.commands.console import show_sections
    from pipelines.workspace import Workspace

    show_sections(appraisal(Workspace.open(folder), scanfile, make, model, limit).sections)
