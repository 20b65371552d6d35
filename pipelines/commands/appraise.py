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
    *,
    make: Annotated[str | None, typer.Option(help="The car's make, for its maker's own codes.")] = None,
    model: Annotated[str | None, typer.Option(help="The car's model.")] = None,
    limit: Annotated[
        float | None, typer.Option(min=0, help="Money; else the settings' specialist_cost.", metavar="MONEY")
    ] = None,
    asking: Annotated[
        float | None, typer.Option(min=0, help="What you will ask for the car: says the highest bid.", metavar="MONEY")
    ] = None,
    margin: Annotated[float, typer.Option(min=0, help="What is to be left of that.", metavar="MONEY")] = 0.0,
    risk: Annotated[
        float, typer.Option(min=0.01, max=0.5, help="Share of such cars that may cost more than the bid allows for.")
    ] = 0.1,
) -> None:
    """Before buying: what clearing a car will cost; load nothing."""
    from pipelines.batch.appraisal import Bid, appraisal
    from pipelines.commands.console import show_sections
    from pipelines.workspace import Workspace

    bid = None if asking is None else Bid(asking=asking, margin=margin, risk=risk)
    show_sections(appraisal(Workspace.open(folder), scanfile, make, model, limit, bid=bid).sections)
