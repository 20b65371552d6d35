"""What each run leaves behind of itself besides its report: a log file, and a word about it if it left no report.

The log is one file a run in ``.knockon/logs/``, kept for a year: versions, settings, the seconds of each step, counts,
notes, and the traceback of anything unexpected.  Whoever sees a run fail is told which file that is.

A run also writes down that it began, and strikes that out again when its report stands.  What the next run finds there
was cut short, or failed with the reason beside it.
"""

from __future__ import annotations

import json
import logging
import os
import platform
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import asdict
from datetime import date, datetime, timedelta
from importlib.metadata import version
from pathlib import Path

from pipelines.errors import BatchError, BusyError
from pipelines.settings import Settings
from pipelines.workspace import Workspace

CUT_SHORT = "it was cut short"
KEPT_DAYS = 366
_MOST_LETTERS = 300
_LOG = logging.getLogger("knockon")
_LIBRARIES = ("knockon", "polars", "duckdb", "prefect")


def record_of(workspace: Workspace) -> Path:
    """Return the file that holds the runs that left no report."""
    return workspace.state / "failures.json"


def logs_of(workspace: Workspace) -> Path:
    """Return the folder of the log files."""
    return workspace.state / "logs"


class Journal:
    """The journal of one run."""

    def __init__(self, workspace: Workspace) -> None:
        """Write for a workspace; nothing is written yet."""
        self._workspace = workspace

    def begin(self) -> list[str]:
        """Write down that the run began; the caller holds the workspace's lock.

        Returns:
            A sentence for each run since the last report that left none.
        """
        failed = [dict(entry, why=entry.get("why") or CUT_SHORT) for entry in self._read()]
        self._write([*failed, {"began": f"{datetime.now():%Y-%m-%d %H:%M}", "why": None}])
        return [f"The run of {entry['began']} left no report: {entry['why']}" for entry in failed]

    def settings(self, settings: Settings) -> None:
        """Log the settings in use."""
        for name, value in asdict(settings).items():
            _LOG.info("setting %s = %r", name, value)

    def end(self, counts: Mapping[str, int], notes: Sequence[str]) -> None:
        """Log what came out, and strike out what failed before: a report stands that said it."""
        for name, count in counts.items():
            _LOG.info("count %s = %d", name, count)
        for note in notes:
            _LOG.info("note: %s", note)
        _LOG.info("the report stands")
        record_of(self._workspace).unlink(missing_ok=True)

    def failed(self, error: BaseException) -> None:
        """Give the run that began last its reason; one that failed before it began is added."""
        words = str(error).strip().splitlines()[:1] or [type(error).__name__]
        why = "it was interrupted" if isinstance(error, KeyboardInterrupt) else words[0][:_MOST_LETTERS]
        entries = self._read()
        if entries and entries[-1].get("why") is None:
            entries[-1]["why"] = why
        else:
            entries.append({"began": f"{datetime.now():%Y-%m-%d %H:%M}", "why": why})
        self._write(entries)

    def _read(self) -> list[dict[str, str | None]]:
        try:
            found = json.loads(record_of(self._workspace).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return []
        entries = found if isinstance(found, list) else []
        return [entry for entry in entries if isinstance(entry, dict) and "began" in entry]

    def _write(self, entries: list[dict[str, str | None]]) -> None:
        path = record_of(self._workspace)
        fresh = path.with_suffix(".new")
        with suppress(OSError):  # a full disk has its own message; it must not be lost behind this one
            path.parent.mkdir(parents=True, exist_ok=True)
            fresh.write_text(json.dumps(entries, indent=1), encoding="utf-8")
            os.replace(fresh, path)


@contextmanager
def kept(workspace: Workspace, as_of: date) -> Iterator[Journal]:
    """Keep the journal of the block; a workspace that another run is using is no failure of this one.

    Args:
        workspace: The dealer's folder.
        as_of: The day the report is made for.

    Raises:
        BaseException: What the block raises, with a note that names the log file.
    """
    journal = Journal(workspace)
    with _log_file(logs_of(workspace)) as log:
        _LOG.info("the week of %s in %s", as_of, workspace.root)
        versions = ", ".join(f"{name} {version(name)}" for name in _LIBRARIES)
        _LOG.info("python %s on %s, %s", platform.python_version(), platform.platform(), versions)
        try:
            yield journal
        except BusyError as error:
            _LOG.info("nothing was run: %s", error)
            raise
        except BaseException as error:
            _tell(error)
            journal.failed(error)
            if log is not None:
                error.add_note(f"The details are in {log}.")
            raise


def _tell(error: BaseException) -> None:
    if isinstance(error, BatchError):
        _LOG.error("failed: %s", error)
    else:
        _LOG.error("failed unexpectedly", exc_info=error)


class _Handler(logging.FileHandler):
    """Writes the log; what the disk refuses is left out, for it must not end the run."""

    def handleError(self, record: logging.LogRecord) -> None:  # noqa: N802 - the library's name
        """Say nothing."""

    def flush(self) -> None:
        """Write out what can be written."""
        with suppress(OSError):
            super().flush()

    def close(self) -> None:
        """End the file, whatever the disk says."""
        with suppress(OSError):
            super().close()


@contextmanager
def _log_file(folder: Path) -> Iterator[Path | None]:
    """Send the program's own log to a new file; None where no file can be written there."""
    now = datetime.now()
    path = folder / f"{now:%Y-%m-%d-%H%M%S}-{os.getpid()}.log"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handler = _Handler(path, encoding="utf-8", errors="backslashreplace")
    except OSError:
        # Without a handler of its own, the library would print what goes wrong; the command says it already.
        silent = logging.NullHandler()
        _LOG.addHandler(silent)
        try:
            yield None
        finally:
            _LOG.removeHandler(silent)
        return
    _prune(folder, now.date() - timedelta(days=KEPT_DAYS))
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(message)s"))
    before, passed_on = _LOG.level, _LOG.propagate
    _LOG.addHandler(handler)
    _LOG.setLevel(logging.INFO)
    _LOG.propagate = False
    try:
        yield path
    finally:
        _LOG.removeHandler(handler)
        _LOG.setLevel(before)
        _LOG.propagate = passed_on
        handler.close()


def _prune(folder: Path, oldest: date) -> None:
    """Delete the logs of runs before a day; their names begin with theirs."""
    for path in folder.glob("????-??-??-*.log"):
        if path.name[:10] < oldest.isoformat():
            with suppress(OSError):
                path.unlink()
