"""What went wrong since the last report, kept in a small file until a report has said so.

A run writes down that it began, and strikes that out again when its report stands.  What the next run finds there was
cut short, or failed with the reason beside it.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path

from pipelines.errors import BusyError
from pipelines.workspace import Workspace

CUT_SHORT = "it was cut short"
_MOST_LETTERS = 300


def record_of(workspace: Workspace) -> Path:
    """Return the file that holds the runs that left no report."""
    return workspace.state / "failures.json"


@contextmanager
def remembered(workspace: Workspace) -> Iterator[None]:
    """Write down why the block failed; a workspace that another run is using is no failure."""
    try:
        yield
    except BusyError:
        raise
    except BaseException as error:
        why = str(error).strip().splitlines()[:1] or [type(error).__name__]
        _close(workspace, "it was interrupted" if isinstance(error, KeyboardInterrupt) else why[0][:_MOST_LETTERS])
        raise


def begin(workspace: Workspace, now: datetime) -> list[str]:
    """Write down that a run began; the caller holds the workspace's lock.

    Args:
        workspace: The dealer's folder.
        now: The time, local.

    Returns:
        A sentence for each run since the last report that left none.
    """
    failed = [dict(entry, why=entry.get("why") or CUT_SHORT) for entry in _read(workspace)]
    _write(workspace, [*failed, {"began": f"{now:%Y-%m-%d %H:%M}", "why": None}])
    return [f"The run of {entry['began']} left no report: {entry['why']}" for entry in failed]


def forget(workspace: Workspace) -> None:
    """Strike out everything: a report stands that said it."""
    record_of(workspace).unlink(missing_ok=True)


def _close(workspace: Workspace, why: str) -> None:
    """Give the run that began last its reason; one that failed before it began is added."""
    entries = _read(workspace)
    if entries and entries[-1].get("why") is None:
        entries[-1]["why"] = why
    else:
        entries.append({"began": f"{datetime.now():%Y-%m-%d %H:%M}", "why": why})
    _write(workspace, entries)


def _read(workspace: Workspace) -> list[dict[str, str | None]]:
    try:
        found = json.loads(record_of(workspace).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return []
    return [entry for entry in found if isinstance(entry, dict) and "began" in entry] if isinstance(found, list) else []


def _write(workspace: Workspace, entries: list[dict[str, str | None]]) -> None:
    path = record_of(workspace)
    fresh = path.with_suffix(".new")
    with suppress(OSError):  # a full disk has its own message; it must not be lost behind this one
        path.parent.mkdir(parents=True, exist_ok=True)
        fresh.write_text(json.dumps(entries, indent=1), encoding="utf-8")
        os.replace(fresh, path)
