"""What every test shares: the same examples on every run, and, where asked, no test left out."""

from __future__ import annotations

import os
import shutil
from datetime import date
from pathlib import Path

import pytest
from filelock import FileLock
from hypothesis import settings

settings.register_profile("same every time", derandomize=True, deadline=None)
settings.load_profile("same every time")


@pytest.fixture(scope="session")
def demo_week(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented dealer's workspace after its week; to be looked at, not changed, and the same for all workers.

    What the run said while it worked stands beside it in ``said.txt``.
    """
    from pipelines.batch.weekly import run_week  # noqa: PLC0415 - a room's own tests start without the whole program
    from pipelines.workspace import Workspace  # noqa: PLC0415

    base = tmp_path_factory.getbasetemp()
    shared = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base
    folder, finished = shared / "dealer" / "demo", shared / "dealer" / "finished"
    with FileLock(shared / "dealer.lock"):
        if not finished.exists():
            shutil.copytree(Path(__file__).parent.parent / "fixtures" / "demo", folder)
            said: list[str] = []
            run_week(Workspace.open(folder), date(2026, 11, 23), progress=said.append)
            (shared / "dealer" / "said.txt").write_text("\n".join(said), encoding="utf-8")
            finished.touch()
    return folder


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """With KNOCKON_NO_SKIPS set, a skipped test fails the whole run."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    skipped = len(reporter.stats.get("skipped", [])) if reporter else 0
    if os.environ.get("KNOCKON_NO_SKIPS") and skipped:
        reporter.write_line(f"\n{skipped} tests were skipped, and KNOCKON_NO_SKIPS is set", red=True)
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
