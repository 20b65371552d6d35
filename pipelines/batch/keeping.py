"""How a run begins and ends with what was read: what it should be told of it, and what it keeps of it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from pipelines.settings import Settings
from pipelines.storage.file_loader import end_run
from pipelines.storage.snapshots import keep_weekly, prune
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace

_LATER = "select max(week) as week from raw.files where week > $week having max(week) is not null"


def intake_notes(warehouse: Warehouse, week: str, again: Sequence[str]) -> list[str]:
    """Return what the user should know before all else: a clock that may be wrong, files that were read again.

    Args:
        warehouse: The open database.
        week: The report's week.
        again: Names of files that were read again from the archive.
    """
    notes = [
        f"this report is for {week}, but files came in for {later} already; if you did not choose the day yourself, "
        "set this computer's clock right and run it again. Nothing of the later report was changed"
        for later in warehouse.query(_LATER, {"week": week})["week"]
    ]
    if again:
        names = ", ".join(again)
        notes.append(f"the archive held files that the database did not know; they were taken in again: {names}")
    return notes


def close_run(workspace: Workspace, settings: Settings, warehouse: Warehouse, day: date, week: str) -> None:
    """Give the files that came in the name of this run, and keep a snapshot of what they said.

    Args:
        workspace: The dealer's folder.
        settings: How many snapshots are kept.
        warehouse: The open database.
        day: The report's day.
        week: The report's week.

    Raises:
        WorkspaceError: The snapshot could not be written; the report stands all the same.
    """
    end_run(warehouse, week)
    keep_weekly(workspace, warehouse, day, week)
    prune(workspace, settings.backups_weekly, settings.backups_monthly)
