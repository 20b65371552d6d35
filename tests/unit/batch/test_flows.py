"""The flow must do what the plain run does, keep to this computer, and leave nothing running.

The steps are stand-ins; the engine, its server and its database are real.
"""

from __future__ import annotations

import os
import re
import signal
import sqlite3
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from pipelines.batch import weekly
from pipelines.batch.flows import SERVE, run_with_engine
from pipelines.batch.prefect_server import engine_server
from pipelines.batch.weekly import Batch, FilesBusyError, Step, run_week
from pipelines.errors import BatchError, EngineError
from pipelines.workspace import Workspace
from tests.support.loopback import answers, gone_within, listening

ROOT = Path(__file__).parents[3]
DAY = date(2026, 11, 23)
LOOPBACK = "0100007F"  # 127.0.0.1 as Linux writes it in /proc/net/tcp

# The command line, with a single step that never ends.
NEVER_ENDING = """
import sys, time
from pipelines.batch import weekly
from pipelines.commands.cli import main

def wait(batch):
    print("waiting", flush=True)
    time.sleep(600)

weekly.STEPS = (weekly.Step("wait", wait),)
sys.exit(main(["weekly", sys.argv[1]]))
"""


@pytest.fixture(scope="module")
def place(tmp_path_factory) -> Workspace:
    folder = tmp_path_factory.mktemp("dealer")
    (folder / "inbox").mkdir()
    return Workspace.open(folder)


def engine_rows(place: Workspace, query: str) -> list[tuple]:
    """Ask the engine's own database, once its server is gone."""
    with sqlite3.connect(place.engine_home / "prefect.db") as connection:
        return connection.execute(query).fetchall()


def test_the_flow_runs_the_same_steps_and_leaves_nothing_behind(place, monkeypatch) -> None:
    done: list[str] = []
    servers: list[tuple[str, dict[int, set[str]]]] = []

    def busy_once(_batch: Batch) -> None:
        done.append("busy")
        if done.count("busy") == 1:
            raise FilesBusyError("scans/a.csv is open in another program")

    def look_around(batch: Batch) -> None:
        done.append("look")
        batch.notes.append("seen")
        batch.counts["files_read"] = 7
        address = (place.engine_home / "address").read_text(encoding="utf-8")
        assert answers(address)
        servers.append((address, listening(os.getpid()) if sys.platform == "linux" else {}))

    monkeypatch.setattr(
        weekly, "STEPS", (Step("read the files", busy_once, retries=2), Step("look around", look_around))
    )
    before = dict(os.environ)
    told: list[str] = []
    report = run_with_engine(place, DAY, told.append)
    assert done == ["busy", "busy", "look"]
    assert told == ["read the files", "look around"]
    assert (report.notes, report.counts, report.folder) == (["seen"], {"files_read": 7}, place.reports / "2026-W48")
    assert list(report.timings) == ["read the files", "look around"]
    assert dict(os.environ) == before

    [(address, listeners)] = servers
    assert not answers(address)
    if sys.platform == "linux":
        assert list(listeners.values()) == [{LOOPBACK}]
    runs = engine_rows(place, "select name, state_type, run_count from task_run order by created")
    assert [(name.rpartition("-")[0], state, tries) for name, state, tries in runs] == [
        ("read the files", "COMPLETED", 2),
        ("look around", "COMPLETED", 1),
    ]
    assert not list(place.engine_home.glob("storage/*")), "the engine kept a result"


@pytest.mark.slow
def test_a_fault_of_ours_passes_through_unchanged_and_only_busy_files_are_tried_again(place, monkeypatch) -> None:
    tries: list[int] = []

    def failing_with(error: BatchError) -> tuple[Step, ...]:
        def fail(_batch: Batch) -> None:
            tries.append(1)
            raise error

        return (Step("fail", fail, retries=1),)

    def engine_run() -> None:
        run_with_engine(place, DAY, lambda _: None)

    def plain_run() -> None:
        run_week(place, DAY)

    faults = [
        (BatchError("knockon.toml:3: labour_rate is no number"), 1),
        (FilesBusyError("scans/a.csv is open in another program"), 2),
    ]
    with engine_server(place.engine_home, SERVE) as shared:
        shared.address(120)
        for error, expected in faults:
            monkeypatch.setattr(weekly, "STEPS", failing_with(error))
            for run in (engine_run, plain_run):
                tries.clear()
                with pytest.raises(type(error), match=f"^{re.escape(str(error))}$"):
                    run()
                assert len(tries) == expected


@pytest.mark.slow
def test_a_report_that_is_finished_counts_though_the_server_broke(place, monkeypatch) -> None:
    def break_server(_batch: Batch) -> None:
        for process in listening(os.getpid()):
            os.kill(process, signal.SIGKILL)

    monkeypatch.setattr(weekly, "STEPS", (Step("break it", break_server),))
    assert run_with_engine(place, DAY, lambda _: None).folder == place.reports / "2026-W48"


def test_an_engine_that_does_not_start_is_an_engine_error(tmp_path, monkeypatch) -> None:
    (tmp_path / "inbox").mkdir()
    monkeypatch.setattr("pipelines.batch.flows.SERVE", [sys.executable, "-c", "import sys; sys.exit('no room')"])
    with pytest.raises(EngineError, match=r"^the engine's server ended at once: no room$"):
        run_with_engine(Workspace.open(tmp_path), DAY, lambda _: None)


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="Windows has no such signal")
def test_no_server_is_left_when_the_command_is_told_to_stop(place) -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", NEVER_ENDING, str(place.root)],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        assert process.stdout is not None
        assert process.stdout.readline() == "waiting\n"
        address = (place.engine_home / "address").read_text(encoding="utf-8")
        assert answers(address)
        process.send_signal(signal.SIGTERM)
        assert process.wait(timeout=60) == -signal.SIGTERM
        assert process.stderr is not None
        [said] = process.stderr.read().splitlines()  # not a word from the engine
        assert said.startswith("Starting the engine; ")
        assert gone_within(address, 10)
    finally:
        process.kill()
