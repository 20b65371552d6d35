"""The dealer's folder: where files come in, where they are kept, where reports appear.

One workspace is one folder.  Whoever holds its lock may change it; a second
run is told so and touches nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from filelock import FileLock, Timeout

from pipelines.errors import BusyError, WorkspaceError, shell_command


@dataclass(frozen=True)
class Workspace:
    """The places inside one workspace folder."""

    root: Path

    @classmethod
    def open(cls, folder: Path) -> Workspace:
        """Return the workspace in ``folder``.

        Raises:
            WorkspaceError: The folder has neither an ``inbox`` nor a ``knockon.toml``.
        """
        root = folder.resolve()
        if not (root / "inbox").is_dir() and not (root / "knockon.toml").is_file():
            raise WorkspaceError(
                f"{folder} is no workspace: expected a folder with inbox/ or knockon.toml in it. "
                f"'{shell_command('init', folder)}' makes one. Nothing was run."
            )
        return cls(root)

    @property
    def settings_file(self) -> Path:
        """``knockon.toml``."""
        return self.root / "knockon.toml"

    @property
    def inbox(self) -> Path:
        """New files, one sub-folder a table."""
        return self.root / "inbox"

    @property
    def archive(self) -> Path:
        """Files taken in, under their content hash."""
        return self.root / "archive"

    @property
    def rejected(self) -> Path:
        """Files refused, each with a ``.why.txt``."""
        return self.root / "rejected"

    @property
    def database(self) -> Path:
        """The DuckDB file."""
        return self.root / "knockon.duckdb"

    @property
    def reports(self) -> Path:
        """One folder a week."""
        return self.root / "reports"

    @property
    def backups(self) -> Path:
        """Snapshots of what was read, one folder each."""
        return self.root / "backups"

    @property
    def state(self) -> Path:
        """The program's own working files; only the key of the shared sets is nowhere else."""
        return self.root / ".knockon"

    @property
    def engine_home(self) -> Path:
        """Where the orchestration engine keeps its own files."""
        return self.state / "engine"

    @contextmanager
    def lock(self, name: str = "lock", holder: str = "another run") -> Iterator[None]:
        """Hold the workspace for one run; the operating system lets go when the process ends, however it ends.

        Args:
            name: The lock's file; whoever waits for the next run holds one of its own.
            holder: Who holds it, should it be held.

        Raises:
            BusyError: Another run holds it.
        """
        path = self.state / name
        path.parent.mkdir(parents=True, exist_ok=True)
        # No soft lock where the file system knows no locks: a file left behind would outlive a killed run.
        lock = FileLock(path, blocking=False, fallback_to_soft=False)
        try:
            lock.acquire()
        except Timeout as held:
            raise BusyError(
                f"{holder} is using {self.root}; wait until it ends or close its window. Nothing was run."
            ) from held
        try:
            yield
        finally:
            lock.release()


def week_name(day: date, week_starts: str) -> str:
    """Return the report folder's name, ``YYYY-Www``, of the week that holds ``day``.

    Args:
        day: Any day of the week.
        week_starts: "monday" for ISO 8601 weeks; with "sunday" a Sunday counts to the week that follows it.

    Source:
        ISO 8601 week numbering, as ``datetime.date.isocalendar`` computes it.
    """
    shifted = day + timedelta(days=1) if week_starts == "sunday" else day
    year, week, _ = shifted.isocalendar()
    return f"{year}-W{week:02d}"
