"""``knockon demo``: the week of an invented dealer."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands.weekly import Engine, EngineOption, run_and_show

EXAMPLE = "knockon demo knockon-demo"
DEMO_DAY = date(2026, 11, 23)
DEMO_FOLDER = Path("knockon-demo")


def demo(
    folder: Annotated[Path, typer.Argument(help="A new or empty folder.")] = DEMO_FOLDER,
    engine: EngineOption = Engine.PREFECT,
) -> None:
    """Run the week on an invented dealer; see a report."""
    from pipelines.commands.demo_dealer import lay_out_demo

    lay_out_demo(folder)
    run_and_show(
        folder, DEMO_DAY, engine, "open the report in a browser; then 'knockon init my-dealer' for your own data"
    )
