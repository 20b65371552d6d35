"""The dealer's folder: where files come in, where they are kept, where reports appear.

One workspace is one folder.  Whoever holds its lock may change it; a second
run is told so and touches nothing.  All it holds is for its owner alone, and
working files stand in ``.knockon/tmp`` until the next start at the latest.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from filelock import FileLock, Timeout

from pipelines.errors import BusyError, WorkspaceError, near, shell_command

_FOLDER_MODE = 0o700
_OTHERS = 0o077


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
        if not is_workspace(root):
            raise WorkspaceError(_no_workspace(folder, root))
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

    @property
    def scratch(self) -> Path:
        """Working files; see ``scratch_folder``."""
        return self.state / "tmp"

    @contextmanager
    def scratch_folder(self) -> Iterator[Path]:
        """Give a folder for working files, gone afterwards.

        A lock beside it says that somebody works in it; the operating system lets go of it however the process ends,
        so ``clear_scratch`` knows what was left behind.
        """
        private_folder(self.scratch)
        handle, name = tempfile.mkstemp(suffix=".lock", dir=self.scratch)
        os.close(handle)
        mark = Path(name)
        folder = mark.with_suffix("")
        try:
            with FileLock(mark, blocking=False, fallback_to_soft=False):
                folder.mkdir(mode=_FOLDER_MODE)
                yield folder
        finally:
            shutil.rmtree(folder, ignore_errors=True)
            mark.unlink(missing_ok=True)

    def clear_scratch(self) -> None:
        """Clear the working files of processes that are gone."""
        for path in sorted(self.scratch.glob("*")):
            mark = path if path.suffix == ".lock" else path.with_suffix(".lock")
            if path != mark and mark.exists():
                continue
            with suppress(OSError, Timeout), FileLock(mark, blocking=False, fallback_to_soft=False):
                shutil.rmtree(mark.with_suffix(""), ignore_errors=True)
                if path != mark and path.is_file():
                    path.unlink()
                mark.unlink(missing_ok=True)

    def make_private(self) -> None:
        """Take every right from everybody but the owner, for all that the workspace holds; links are left alone.

        What belongs to somebody else is as its owner wants it.
        """
        make_private(self.root)
        for folder, folders, files in os.walk(self.root):
            for name in (*folders, *files):
                make_private(Path(folder, name))

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
        private_folder(path.parent)
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


def is_workspace(folder: Path) -> bool:
    """Tell whether a folder looks like a workspace."""
    return (folder / "inbox").is_dir() or (folder / "knockon.toml").is_file()


def _no_workspace(folder: Path, root: Path) -> str:
    """Say that a folder is none; where workspaces of nearly that name are beside it, name them: it is a slip."""
    wanted = "is no workspace: expected a folder with inbox/ or knockon.toml in it"
    with suppress(OSError):
        beside = [path.name for path in root.parent.iterdir() if is_workspace(path)]
        alike = near(root.name, beside)
        if alike:
            return f"{folder} {wanted}; workspaces {alike}. Nothing was run."
    found = "" if root.exists() else ", and there is no such folder"
    return f"{folder} {wanted}{found}. '{shell_command('init', folder)}' makes a new one. Nothing was run."


def make_private(path: Path) -> None:
    """Leave a file or folder to its owner alone, where the system knows such rights and we may set them."""
    if os.name == "nt" or path.is_symlink():
        return
    with suppress(OSError):
        mode = path.stat().st_mode & 0o777
        if mode & _OTHERS:
            path.chmod(mode & ~_OTHERS)


def private_folder(folder: Path) -> None:
    """Make a folder for its owner alone, with those above it that are missing."""
    folder.mkdir(mode=_FOLDER_MODE, parents=True, exist_ok=True)


def write_private(path: Path, text: str) -> None:
    """Write a file that its owner alone can read, at no moment anybody else, and that is whole or not there."""
    fresh = path.with_suffix(".new")
    fresh.unlink(missing_ok=True)  # one that is there keeps the rights that it has
    with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as handle:
        handle.write(text)
    fresh.replace(path)


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
