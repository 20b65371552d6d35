"""``knockon check``: what would be taken of some files."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands.arguments import settings_above
from pipelines.errors import BatchError

EXAMPLE = "knockon check my-dealer/inbox/scans/november.csv"


class Table(StrEnum):
    """The tables of the inbox."""

    SCANS = "scans"
    STOCK = "stock"
    REPAIRS = "repairs"
    PARTS = "parts"
    BACKGROUND = "background"


def check(
    files: Annotated[list[Path], typer.Argument(help="Files for the inbox.", metavar="FILE...")],
    table: Annotated[
        Table | None, typer.Option(help="The table they belong to; else the folder or the header tells.")
    ] = None,
    mapping: Annotated[
        Path | None, typer.Option(help="A mapping to read them by; else those of their workspace.", metavar="FILE")
    ] = None,
) -> None:
    """Say what would be taken of some files; load nothing."""
    from pipelines.commands.console import show_check
    from pipelines.reading.file_check import check_file
    from pipelines.settings import load_settings

    unreadable = 0
    for path in files:
        found = check_file(path, load_settings(settings_above(path)), table, mapping)
        show_check(found)
        unreadable += found.refused is not None
    if unreadable:
        raise BatchError(f"{unreadable} of {len(files)} files could not be read. Nothing was loaded.")
