"""``knockon map``: draft a mapping for another program's export."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands.arguments import settings_above

EXAMPLE = "knockon map unknown.csv --out my-dealer/mappings/lift.toml"


def draft(
    file: Annotated[Path, typer.Argument(help="An export that knockon does not know.", metavar="FILE")],
    out: Annotated[
        Path | None, typer.Option(help="Where to write the draft; else it is only shown.", metavar="FILE")
    ] = None,
) -> None:
    """Draft a mapping for another program's export."""
    from pipelines.commands.console import say
    from pipelines.commands.mapping_draft import draft_file
    from pipelines.settings import load_settings

    for line in draft_file(file, out, load_settings(settings_above(file))):
        say(line)
