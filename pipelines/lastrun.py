"""Which report is the latest, and for which day was it made?"""

from __future__ import annotations

import json
from datetime import date

from pipelines.errors import BatchError
from pipelines.workspace import Workspace


def last_run(workspace: Workspace) -> tuple[str, date]:
    """Return week and day of the latest report.

    Raises:
        BatchError: There is none yet.
    """
    for path in sorted(workspace.reports.glob("*/run.json"), reverse=True):
        run = json.loads(path.read_text(encoding="utf-8"))
        return str(run["week"]), date.fromisoformat(run["as_of"])
    raise BatchError(f"{workspace.root} has no report yet; run 'knockon weekly {workspace.root}' first.")
