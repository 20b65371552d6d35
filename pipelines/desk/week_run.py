"""Runs the week in a process of its own, and knows how far it is.

A week takes memory that is given back when its process ends, and whatever becomes of the desk, the week goes on: it
says how far it is only while somebody listens.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from pipelines.errors import BatchError, BusyError, why_refused
from pipelines.workspace import Workspace

COMMAND = (sys.executable, "-P", "-m", "pipelines.desk.week_child")
_LOOK_SECONDS = 60.0
_MOST_TRIES = 3


@dataclass
class Progress:
    """How far a run is.

    Attributes:
        day: The day its report is made for.
        steps: Names of the steps, in order.
        step: Which of them is under way, from 0.
        doing: What is being done within it, for instance which file of how many.
        ended: It has ended, in whatever way.
        why: Why it failed; blank where it did not.
        result: What came of it: week, counts, notes, nothing_readable.
    """

    day: date
    steps: list[str] = field(default_factory=list)
    step: int = 0
    doing: str = ""
    ended: bool = False
    why: str = ""
    result: dict[str, Any] = field(default_factory=dict)

    @property
    def share(self) -> int:
        """How much is done, in per cent; all steps count the same."""
        if self.ended and not self.why:
            return 100
        return round(100 * self.step / max(len(self.steps), 1))


class WeekRun:
    """The week's run: at most one at a time."""

    def __init__(self) -> None:
        """Begin with none."""
        self._lock = threading.Lock()
        self._child: subprocess.Popen[str] | None = None
        self.progress: Progress | None = None

    @property
    def running(self) -> bool:
        """A run of this desk is going on."""
        return self.progress is not None and not self.progress.ended

    def start(self, workspace: Workspace, day: date) -> None:
        """Start a run.

        Raises:
            BusyError: One is going on.
            BatchError: It could not be started.
        """
        with self._lock:
            if self.running:
                raise BusyError("The week is being run already.")
            package = str(Path(__file__).resolve().parents[2])
            path = os.pathsep.join(filter(None, [package, os.environ.get("PYTHONPATH")]))
            try:
                child = subprocess.Popen(  # noqa: S603 - ours
                    [*COMMAND, str(workspace.root), day.isoformat()],
                    env={**os.environ, "PYTHONPATH": path, "PYTHONIOENCODING": "utf-8"},
                    stdin=subprocess.DEVNULL,
                    stdout=subprocess.PIPE,
                    stderr=subprocess.DEVNULL,  # what went wrong stands in the run's log
                    text=True,
                    encoding="utf-8",
                    start_new_session=os.name != "nt",  # Ctrl-C ends the desk, not the week
                )
            except OSError as error:
                raise BatchError(f"The week could not be started ({why_refused(error)}).") from error
            self._child = child
            self.progress = Progress(day)
        threading.Thread(target=self._follow, args=(child, self.progress), daemon=True).start()

    def wait(self, seconds: float) -> bool:
        """Wait for the end of the run; say whether it came in time."""
        end = time.monotonic() + seconds
        while self.running and time.monotonic() < end:
            time.sleep(0.05)
        return not self.running

    def _follow(self, child: subprocess.Popen[str], progress: Progress) -> None:
        assert child.stdout is not None
        for line in child.stdout:
            try:
                kind, what = json.loads(line)
            except ValueError:
                continue
            hear(progress, kind, what)
        code = child.wait()
        if not progress.result and not progress.why:
            progress.why = f"It ended without a report (exit code {code})."
        progress.ended = True


def hear(progress: Progress, kind: str, what: Any) -> None:
    """Take in one thing that the run says.

    Args:
        progress: How far it was.
        kind: steps, doing, done or failed.
        what: The names of the steps; what is being done; what came of it; why it failed.
    """
    if kind == "steps":
        progress.steps = list(what)
    elif kind == "doing":
        if what in progress.steps:
            progress.step, progress.doing = progress.steps.index(what), ""
        else:
            progress.doing = str(what)
    elif kind == "done":
        progress.result = dict(what)
    elif kind == "failed":
        progress.why = str(what)


class Waiter:
    """Runs the week whenever it is due, while the desk is open: by the same rule as ``schedule --once``."""

    def __init__(self, run: WeekRun) -> None:
        """Begin without a plan."""
        self._run = run
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        self.why = ""

    def begin(self, workspace: Workspace, plan: Any, today: Callable[[], date], look: float = _LOOK_SECONDS) -> None:
        """Wait by a plan, instead of the one before.

        Args:
            workspace: The dealer's folder.
            plan: When the run is due.
            today: Tells the day.
            look: Seconds between two looks.
        """
        self.end()
        self._stop = threading.Event()
        what = (workspace, plan, today, look, self._stop)
        self._thread = threading.Thread(target=self._wait, args=what, daemon=True)
        self._thread.start()

    def end(self) -> None:
        """Wait no longer."""
        self._stop.set()
        self._thread = None
        self.why = ""

    @property
    def waiting(self) -> bool:
        """Somebody waits here."""
        return self._thread is not None and self._thread.is_alive()

    def _wait(
        self, workspace: Workspace, plan: Any, today: Callable[[], date], look: float, stop: threading.Event
    ) -> None:
        from pipelines.batch.schedule import is_late

        seen: datetime | None = None
        try:
            with workspace.lock("waiting", "knockon schedule"):
                while not stop.is_set():
                    due = plan.last_due(datetime.now(UTC))
                    if due != seen and not self._run.running:
                        seen = due
                        self._catch_up(lambda: is_late(workspace, plan, datetime.now(UTC)), workspace, today, stop)
                    stop.wait(look)
        except BatchError as error:
            self.why = str(error)

    def _catch_up(
        self, late: Callable[[], bool], workspace: Workspace, today: Callable[[], date], stop: threading.Event
    ) -> None:
        """Run what is late; a run that leaves no report is tried again, a few times."""
        for _ in range(_MOST_TRIES):
            if stop.is_set() or not late():
                return
            self._run.start(workspace, today())
            while not self._run.wait(1) and not stop.is_set():
                pass
