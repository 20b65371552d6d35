"""``knockon standing``: codes that no fault seems to set, and the dealer's answer to each."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipelines.commands.arguments import Folder
from pipelines.errors import shell_command

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pipelines.batch.standing import Question

EXAMPLE = "knockon standing my-dealer --accept 1"


def standing(
    folder: Folder = Path(),
    accept: Annotated[
        list[int] | None, typer.Option(metavar="N", help="Leave number N alone from now on; may be repeated.")
    ] = None,
    refuse: Annotated[
        list[int] | None, typer.Option(metavar="N", help="Go on working on number N, and do not ask again.")
    ] = None,
    take_back: Annotated[
        list[int] | None, typer.Option("--take-back", metavar="N", help="Take the answer to number N back.")
    ] = None,
) -> None:
    """Show codes that no fault seems to set, and answer whether to leave them alone."""
    from pipelines.batch import standing as answers
    from pipelines.commands.console import say
    from pipelines.workspace import Workspace

    workspace = Workspace.open(folder)
    found, now = answers.questions(workspace), datetime.now()
    # All numbers are looked up before anything is written.
    yes = answers.chosen(found, accept or [], "proposed")
    no = answers.chosen(found, refuse or [], "proposed")
    back = answers.chosen(found, take_back or [], "accepted", "refused")
    written = [answers.accept(workspace, yes, now)] if yes else []
    written += [answers.refuse(workspace, no, now)] if no else []
    written += answers.take_back(workspace, back, now) if back else []
    for path in dict.fromkeys(written):
        say(f"wrote {path}" if path.exists() else f"took {path} back")
    if written:
        say(f"Next: run '{shell_command('weekly', folder)}', which takes it in")
        return
    for line in report(found):
        say(line)


def report(found: list[Question]) -> Iterator[str]:
    """Yield the lines that show the questions."""
    from analysis.texts.standing_text import NONE, question

    if not found:
        yield NONE
        return
    for one in found:
        told = question(list(one.codes), one.where, one.cars, one.erases_survived, one.kind)
        named = f"{', '.join(one.codes)}{f' on {one.where}' if one.where else ''}." if one.state == "refused" else told
        later = ", taken in with the next weekly run" if one.waiting else ""
        yield f"{one.number:>3}  {one.state}{later}: {named}"
        if one.reason:
            yield f"     {one.reason}"
    yield ""
    yield "Answer with --accept N (leave them alone), --refuse N (never ask again) or --take-back N."
