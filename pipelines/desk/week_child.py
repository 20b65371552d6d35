"""The week in a process of its own: says on its output, line by line, how far it is and what came of it."""

from __future__ import annotations

import json
import os
import sys
from contextlib import suppress
from datetime import date
from pathlib import Path
from typing import Any


def say(kind: str, what: Any) -> None:
    """Say one thing, if anybody still listens."""
    with suppress(OSError, ValueError):
        print(json.dumps([kind, what]), flush=True)


def main(folder: str, day: str) -> int:
    """Run the week of a folder.

    Args:
        folder: The workspace.
        day: The day that the report is made for, ``YYYY-MM-DD``.

    Returns:
        The exit code: 0 where a report stands.
    """
    from pipelines.batch import weekly
    from pipelines.errors import BatchError
    from pipelines.workspace import Workspace

    os.umask(0o077)  # all that a workspace holds is for its owner alone
    say("steps", [step.name for step in weekly.STEPS])
    try:
        report = weekly.run_week(
            Workspace.open(Path(folder)), date.fromisoformat(day), progress=lambda doing: say("doing", doing)
        )
    except BatchError as error:
        say("failed", " ".join([str(error), *getattr(error, "__notes__", [])]))
        return 1
    except Exception as error:
        say("failed", " ".join([f"It failed unexpectedly: {error}.", *getattr(error, "__notes__", [])]))
        raise
    counts, notes = report.counts, report.notes
    told = {"week": report.folder.name, "counts": counts, "notes": notes, "blank": report.nothing_readable}
    say("done", told)
    return 0


if __name__ == "__main__":
    code = main(sys.argv[1], sys.argv[2])
    # The reader may be gone; what is left in the buffer must not turn the end of a good week into an error.
    with suppress(OSError):
        sys.stdout.flush()
    os._exit(code)
