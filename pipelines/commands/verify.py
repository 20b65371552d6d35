"""``knockon verify``: hold archive, database and snapshots against each other."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from pipelines.commands.arguments import Folder

EXAMPLE = "knockon verify my-dealer"


def verify(folder: Folder = Path()) -> None:
    """Hold archive, database and snapshots against each other."""
    from pipelines.commands.console import progress, say
    from pipelines.storage.integrity import raise_if_wrong, show, verify_files
    from pipelines.storage.session import opened
    from pipelines.workspace import Workspace

    workspace = Workspace.open(folder)
    with opened(workspace) as warehouse, progress() as doing:
        done = verify_files(workspace, warehouse, date.today(), full=True, progress=doing)
    for line in show(done):
        say(line)
    raise_if_wrong(done)
