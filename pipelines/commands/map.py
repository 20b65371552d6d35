"""``knockon map``: draft a mapping for another program's export, question by question."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands.arguments import settings_above
from pipelines.errors import BatchError

EXAMPLE = "knockon map unknown.csv --out my-dealer/mappings/lift.toml"


def draft(
    file: Annotated[Path, typer.Argument(help="An export that knockon does not know.", metavar="FILE")],
    *,
    out: Annotated[
        Path | None, typer.Option(help="Where to write the draft; else it is only shown.", metavar="FILE")
    ] = None,
    yes: Annotated[
        bool, typer.Option("--yes", help="Take every proposal; refuse where nothing in the file can decide.")
    ] = False,
    answer: Annotated[
        list[str] | None, typer.Option(metavar="KEY=VALUE", help="The answer to one question; may be repeated.")
    ] = None,
) -> None:
    """Draft a mapping for another program's export; in a terminal, ask question by question."""
    from pipelines.commands.console import ask, say
    from pipelines.ingest import mapping_draft
    from pipelines.settings import load_settings

    settings = load_settings(settings_above(file))
    answers: dict[str, str] = {}
    for given in answer or ():
        key, found, value = given.partition("=")
        if not found or not key.strip():
            raise BatchError(
                f"--answer {given!r}: expected KEY=VALUE, as the question names its key. Nothing was written."
            )
        answers[key.strip()] = value.strip()
    if yes:
        mapping_draft.check_decided(file, settings, answers)
    elif out is not None and not answers and sys.stdin.isatty():
        answers = mapping_draft.ask_answers(file, settings, ask, say)
    for line in mapping_draft.draft_file(file, out, settings, answers):
        say(line)
