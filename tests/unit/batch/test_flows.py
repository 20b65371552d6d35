"""The flow must do what the plain run does, keep to this computer, and leave nothing running.

The steps are stand-ins; the engine, its server and its database are real.
"""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import subprocess
import sys
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from uuid import UUID

import polars as pl
import pytest

from pipelines.batch import weekly
from pipelines.batch.flows import run_with_engine
from pipelines.batch.step import Step, plain
from pipelines.errors import BatchError, EngineError
from pipelines.workspace import Workspace
from tests.support.loopback import answers, gone_within, listening, recorded

ROOT = Path(__file__).parents[3]
DAY = date(2026, 11, 23)
LOOPBACK = "0100007F"  # 127.0.0.1 as Linux writes it in /proc/net/tcp

# The command line, with a first step that never ends.
NEVER_ENDING = """
import sys, time
from pipelines.batch import weekly
from pipelines.batch.step import Step
from pipelines.commands.cli import main

def wait(*args, **kwargs):
    print("waiting", flush=True)
    time.sleep(600)

weekly.read = Step("wait", wait)
sys.exit(main(["weekly", sys.argv[1]]))
"""


@dataclass(frozen=True)
class Found:
    """What a step returns."""

    frame: pl.DataFrame


@pytest.fixture(scope="module")
def place(tmp_path_factory) -> Workspace:
    folder = tmp_path_factory.mktemp("dealer")
    (folder / "inbox").mkdir()
    return Workspace.open(folder)


def engine_rows(place: Workspace, query: str) -> list[tuple]:
    """Ask the engine's own database, once its server is gone."""
    with sqlite3.connect(place.engine_home / "prefect.db") as connection:
        return connection.execute(query).fetchall()


@pytest.mark.slow
def test_the_flow_calls_the_same_steps_ties_them_together_and_leaves_nothing_behind(place, monkeypatch) -> None:
    servers: list[tuple[str, dict[int, set[str]]]] = []
    seen: list[pl.DataFrame] = []
    frame = pl.DataFrame({"code": ["ABS:C0031"]})

    def find(folder: Path) -> Found:
        assert folder == place.root
        return Found(frame)

    def look_around(found: Found, *, times: int) -> list[int]:
        seen.append(found.frame)
        address, _ = recorded(place.engine_home)
        assert answers(address)
        servers.append((address, listening(os.getpid()) if sys.platform == "linux" else {}))
        return [times]

    def week(workspace, as_of, call, progress) -> tuple[object, ...]:
        found = call(Step("find", find), workspace.root)
        return as_of, call(Step("look around", look_around), found, times=7), call(Step("end", lambda: None))

    monkeypatch.setattr(weekly, "run_week", week)
    before = dict(os.environ)
    said: list[str] = []
    assert run_with_engine(place, DAY, said.append) == (DAY, [7], None)
    steps = [words.split(", ")[-1] for words in said if words.endswith("before the week")]
    assert steps == [f"{number} of 4 before the week" for number in (1, 2, 3, 4)]
    assert seen[0] is frame, "a copy was made"
    assert dict(os.environ) == before

    [(address, listeners)] = servers
    assert not answers(address)
    if sys.platform == "linux":
        assert list(listeners.values()) == [{LOOPBACK}]
    runs = engine_rows(place, "select id, name, state_type, task_inputs from task_run order by created")
    names = {UUID(key): name.rpartition("-")[0] for key, name, *_ in runs}
    tied = {
        names[UUID(key)]: {
            argument: [names[UUID(run["id"])] for run in held] for argument, held in json.loads(inputs).items() if held
        }
        for key, _, _, inputs in runs
    }
    assert tied == {
        "find": {},
        "look around": {"found": ["find"], "wait_for": ["find"]},
        "end": {"wait_for": ["look around"]},
    }
    assert {state for _, _, state, _ in runs} == {"COMPLETED"}
    assert not list(place.engine_home.glob("storage/*")), "the engine kept a result"


@pytest.mark.slow
def test_a_fault_of_ours_passes_through_unchanged(place, monkeypatch) -> None:
    error = BatchError("knockon.toml:3: labour_rate is no number")

    def fail() -> None:
        raise error

    monkeypatch.setattr(weekly, "run_week", lambda _place, _day, call, _progress: call(Step("fail", fail)))
    with pytest.raises(BatchError) as caught:
        run_with_engine(place, DAY, lambda _: None)
    assert caught.value is error
    with pytest.raises(BatchError) as caught:
        plain(Step("fail", fail))
    assert caught.value is error


@pytest.mark.slow
def test_a_report_that_is_finished_counts_though_the_server_broke(place, monkeypatch) -> None:
    def break_server() -> str:
        for process in listening(os.getpid()):
            os.kill(process, signal.SIGKILL)
        return "a report"

    monkeypatch.setattr(weekly, "run_week", lambda _place, _day, call, _progress: call(Step("break it", break_server)))
    assert run_with_engine(place, DAY, lambda _: None) == "a report"


@pytest.mark.slow
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
        address, _ = recorded(place.engine_home)
        assert answers(address)
        process.send_signal(signal.SIGTERM)
        assert process.wait(timeout=60) == -signal.SIGTERM
        assert process.stderr is not None
        [said] = process.stderr.read().splitlines()  # not a word from the engine
        assert said.startswith("Starting the engine; ")
        assert gone_within(address, 10)
    finally:
        process.kill()
