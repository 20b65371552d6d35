"""When the weekly run is due, whether one was missed, and how the wait for it begins when the computer starts.

Only times and wording stand here; ``scheduler`` waits.
"""

from __future__ import annotations

import hashlib
import os
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from pipelines.errors import BatchError, EngineError, why_refused
from pipelines.storage.model_store import ModelStore
from pipelines.storage.session import reading
from pipelines.workspace import Workspace

DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


@dataclass(frozen=True)
class Plan:
    """When the run is due.

    Attributes:
        day: The day of the week, in English, lower case.
        at: The time of day.
        zone: The zone both are in.
    """

    day: str
    at: time
    zone: ZoneInfo

    @property
    def cron(self) -> str:
        """The same as five fields: minute, hour, any day, any month, day of the week (0 is sunday)."""
        return f"{self.at.minute} {self.at.hour} * * {(DAYS.index(self.day) + 1) % 7}"

    def last_due(self, now: datetime) -> datetime:
        """Return the latest time it was due, ``now`` included."""
        here = now.astimezone(self.zone)
        back = (here.weekday() - DAYS.index(self.day)) % 7
        due = self._on(here.date() - timedelta(days=back))
        return due if due <= now else self._on(here.date() - timedelta(days=back + 7))

    def next_due(self, now: datetime) -> datetime:
        """Return the first time after ``now`` that it is due."""
        return self._on(self.last_due(now).date() + timedelta(days=7))

    def _on(self, day: date) -> datetime:
        return datetime.combine(day, self.at, tzinfo=self.zone)

    def __str__(self) -> str:
        """Say it in words."""
        return f"every {self.day.capitalize()} at {self.at:%H:%M} ({self.zone.key})"


def is_late(workspace: Workspace, plan: Plan, now: datetime) -> bool:
    """Tell whether the latest report is older than the day the run was last due, or no longer what the database says.

    That is so after an undo or a restore, and where there is no report.
    """
    try:
        with reading(workspace) as warehouse:
            # The run that the database still answers for: after an undo or a restore there is none.
            run = ModelStore(warehouse).current()
    except BatchError:
        return True
    if run is None or not (workspace.reports / run.week).is_dir():
        return True
    return run.as_of < plan.last_due(now).date()


def run_weekly(workspace: Workspace) -> int:
    """Run the week in a process of its own; what it says goes where ours goes.

    Returns:
        Its exit code.

    Raises:
        EngineError: It could not be started.
    """
    package = str(Path(__file__).resolve().parents[2])
    path = os.pathsep.join(filter(None, [package, os.environ.get("PYTHONPATH")]))
    command = [sys.executable, "-P", "-m", "pipelines", "weekly", str(workspace.root)]
    try:
        return subprocess.run(command, env={**os.environ, "PYTHONPATH": path}, check=False).returncode  # noqa: S603 - ours
    except OSError as error:
        raise EngineError(
            f"the weekly run could not be started: {sys.executable} may not be run or is gone ({why_refused(error)}). "
            "Install knockon where your user may run it."
        ) from error


def autostart(system: str, workspace: Workspace, plan: Plan) -> Iterator[str]:
    """Say, line by line, what to enter so that the wait begins whenever the computer starts.

    Args:
        system: ``linux`` (a systemd unit of the user), ``cron`` or ``windows`` (the Task Scheduler).
        workspace: The dealer's folder.
        plan: When the run is due.
    """
    words = [*_program(), "schedule", str(workspace.root), "--day", plan.day, "--at", f"{plan.at:%H:%M}"]
    yield from {"linux": _systemd, "cron": _cron, "windows": _task_scheduler}[system](words, workspace)


def _program() -> list[str]:
    """Return how this very program is called, from any folder."""
    beside = Path(sys.executable).with_name("knockon.exe" if os.name == "nt" else "knockon")
    return [str(beside)] if beside.is_file() else [sys.executable, "-m", "pipelines"]


def _label(workspace: Workspace) -> str:
    """Return a name of letters, digits and hyphens that no other workspace of this computer has."""
    plain = re.sub(r"[^a-z0-9]+", "-", workspace.root.name.lower()).strip("-")
    mark = hashlib.sha256(os.fsencode(workspace.root)).hexdigest()[:6]
    return "-".join(filter(None, ["knockon", plain, mark]))


def _systemd(words: Sequence[str], workspace: Workspace) -> Iterator[str]:
    marks = str.maketrans({"\\": "\\\\", '"': '\\"', "%": "%%", "$": "$$"})
    quoted = " ".join('"' + word.translate(marks) + '"' for word in words)
    label = _label(workspace)
    yield f"Write these lines into the file ~/.config/systemd/user/{label}.service:"
    yield ""
    yield "[Unit]"
    yield f"Description=The weekly run of knockon ({label})"
    yield ""
    yield "[Service]"
    yield f"ExecStart={quoted}"
    yield "Restart=on-failure"
    yield "RestartSec=300"
    yield ""
    yield "[Install]"
    yield "WantedBy=default.target"
    yield ""
    yield "Then run:"
    yield ""
    yield "systemctl --user daemon-reload"
    yield f"systemctl --user enable --now {label}.service"
    yield 'loginctl enable-linger "$USER"'


def _cron(words: Sequence[str], _workspace: Workspace) -> Iterator[str]:
    yield "Add this line to what 'crontab -e' shows:"
    yield ""
    yield "@reboot " + shlex.join(words).replace("%", r"\%")


def _task_scheduler(words: Sequence[str], workspace: Workspace) -> Iterator[str]:
    program, *rest = words

    def quoted(text: str) -> str:
        return "'" + text.replace("'", "''") + "'"

    arguments = subprocess.list2cmdline(rest)
    yield "Paste these lines into PowerShell; the wait begins whenever you log on:"
    yield ""
    yield f"$action = New-ScheduledTaskAction -Execute {quoted(program)} -Argument {quoted(arguments)}"
    yield "$trigger = New-ScheduledTaskTrigger -AtLogOn -User $env:USERNAME"
    yield "$how = @{"
    yield "  AllowStartIfOnBatteries = $true; DontStopIfGoingOnBatteries = $true; StartWhenAvailable = $true"
    yield "  ExecutionTimeLimit = [TimeSpan]::Zero; MultipleInstances = 'IgnoreNew'"
    yield "  RestartCount = 3; RestartInterval = New-TimeSpan -Minutes 5"
    yield "}"
    yield "$set = New-ScheduledTaskSettingsSet @how"
    name = quoted(_label(workspace))
    yield f"Register-ScheduledTask -TaskName {name} -Action $action -Trigger $trigger -Settings $set"
