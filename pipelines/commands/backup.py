"""``knockon backup``: a checked snapshot of all that was read."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from pipelines.commands.arguments import Folder
from pipelines.errors import shell_command

EXAMPLE = "knockon backup my-dealer"


def backup(folder: Folder = Path()) -> None:
    """Write a checked snapshot of all that was read."""
    from pipelines.commands.console import say
    from pipelines.storage.session import opened
    from pipelines.storage.snapshots import ASKED, snapshots, write_snapshot
    from pipelines.workspace import Workspace

    workspace = Workspace.open(folder)
    with opened(workspace) as warehouse:
        made = write_snapshot(workspace, warehouse, date.today(), ASKED)
    say(f"wrote {made.folder}")
    say(f"snapshots kept: {len(snapshots(workspace))}; the files they came from stay in {workspace.archive}")
    say(f"Next: '{shell_command('restore', made.name, folder)}' puts it back")
