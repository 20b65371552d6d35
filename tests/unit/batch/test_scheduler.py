"""The wait must really fire: the engine, its server and its schedule are real, the work is a stand-in."""

from __future__ import annotations

import os
import sqlite3
import sys
import time
from datetime import date
from datetime import time as clock
from zoneinfo import ZoneInfo

import pytest

from pipelines.batch.schedule import Plan
from pipelines.batch.scheduler import VANISHED, Waiter
from pipelines.errors import BusyError, EngineError
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace
from tests.support.loopback import answers, listening, recorded
from tests.support.stored_runs import keep_run

PLAN = Plan("monday", clock(6), ZoneInfo("UTC"))
LOOPBACK = "0100007F"  # 127.0.0.1 as Linux writes it in /proc/net/tcp
PATIENCE = 240  # seconds; on a computer with nothing else to do it takes twenty


@pytest.fixture(scope="module")
def place(tmp_path_factory) -> Workspace:
    folder = tmp_path_factory.mktemp("dealer")
    (folder / "inbox").mkdir()
    return Workspace.open(folder)


@pytest.mark.slow
def test_what_was_missed_runs_at_once_and_what_comes_due_runs_then(place) -> None:
    started: list[float] = []
    said: list[str] = []
    seen: list[tuple[bool, dict[int, set[str]]]] = []
    before = dict(os.environ)

    def run() -> int:
        started.append(time.monotonic())
        address, _ = recorded(place.state / "schedule")
        seen.append((answers(address), listening(os.getpid()) if sys.platform == "linux" else {}))
        with pytest.raises(BusyError, match=r"^knockon schedule is using .* Nothing was run\.$"):
            Waiter(place, PLAN, run).wait()
        return 1 if len(started) == 2 else 0

    waiter, end = Waiter(place, PLAN, run, said.append), time.monotonic() + PATIENCE
    waiter.wait(every_seconds=3, look_seconds=0.2, retries=0, until=lambda: len(started) >= 4 or time.monotonic() > end)
    assert len(started) >= 4
    assert waiter.failed == 1
    assert said[0] == "The last run that was due was missed; it is run now."
    assert [line.split(": ", 1)[1] for line in said if line[:2] == "20"][:3] == [
        "done.",
        "the weekly run ended with 1; what went wrong stands above and in the next report.",
        "done.",
    ]
    assert all(answered for answered, _ in seen)
    if sys.platform == "linux":
        assert all(list(listeners.values()) == [{LOOPBACK}] for _, listeners in seen), seen
    assert dict(os.environ) == before
    with sqlite3.connect(place.state / "schedule" / "prefect.db") as engine:
        runs = engine.execute(
            "select state_type, auto_scheduled from flow_run where start_time is not null order by start_time"
        ).fetchall()
        laid_out = engine.execute("select count(*) from flow_run where state_type = 'SCHEDULED'").fetchall()[0][0]
    assert runs[:3] == [("COMPLETED", 0), ("FAILED", 1), ("COMPLETED", 1)], "the first caught up, the others came due"
    assert laid_out > 10, "the engine's own schedule lays out what comes"


@pytest.mark.slow
def test_what_an_earlier_wait_left_due_is_struck_and_not_run_again(place) -> None:
    keep_run(place, "2099-W01", date(2099, 1, 5))
    ran: list[int] = []
    looks: list[int] = []
    Waiter(place, PLAN, lambda: ran.append(1) or 0).wait(
        look_seconds=0.2, until=lambda: looks.append(1) or len(looks) > 4
    )
    assert not ran, "there is a report, and monday is not come"
    with sqlite3.connect(place.state / "schedule" / "prefect.db") as engine:
        [(struck,)] = engine.execute("select count(*) from flow_run where state_type = 'CANCELLED'").fetchall()
        [(cron,)] = engine.execute("select schedule from deployment_schedule").fetchall()
    assert struck >= 1
    assert "0 6 * * 1" in cron


def delete(client, found) -> None:
    client.delete_deployment(found.id)


def pause(client, found) -> None:
    client.pause_deployment(found.id)


def strike_its_schedule(client, found) -> None:
    client.delete_deployment_schedule(found.id, found.schedules[0].id)


@pytest.mark.slow
@pytest.mark.parametrize("spoil", [delete, pause, strike_its_schedule])
def test_a_plan_that_vanished_is_laid_anew_and_said_and_comes_due(place, spoil) -> None:
    said: list[str] = []
    ran: list[int] = []
    spoiled: list[int] = []
    end = time.monotonic() + PATIENCE

    def until() -> bool:
        if ran and not spoiled:
            from prefect.client.orchestration import get_client  # noqa: PLC0415 - it reads its environment here

            with get_client(sync_client=True) as client:
                [found] = client.read_deployments()
                spoil(client, found)
            spoiled.append(len(ran))
        return (bool(spoiled) and len(ran) > spoiled[0] + 2) or time.monotonic() > end

    Waiter(place, PLAN, lambda: ran.append(1) or 0, said.append).wait(every_seconds=3, look_seconds=0.2, until=until)
    assert len(ran) > spoiled[0] + 2, "it came due again"
    assert [line.partition(": ")[2] for line in said if "vanished" in line] == [VANISHED]


@pytest.mark.slow
def test_a_server_that_does_not_start_ends_the_wait(tmp_path, monkeypatch) -> None:
    (tmp_path / "inbox").mkdir()
    monkeypatch.setattr("pipelines.batch.scheduler.SERVE", [sys.executable, "-c", "import sys; sys.exit('no room')"])
    with pytest.raises(EngineError, match=r"^the engine's server ended at once: no room$"):
        Waiter(Workspace.open(tmp_path), PLAN, lambda: 0).wait()


def test_nobody_is_left_waiting_after_the_wait(place) -> None:
    assert not (place.state / "schedule" / "server.json").exists()
    with place.lock("waiting", "knockon schedule"):
        pass
    with Warehouse(place.database) as warehouse:
        assert warehouse.fetch("raw.files").is_empty(), "the wait itself touches no data"
