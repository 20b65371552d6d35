"""The weekly batch under the orchestration engine: the same steps, each one a task.

Only this room knows the engine.  Nothing is decided here: the week is the function of the plain run, which calls its
steps through what it is handed.
"""

from __future__ import annotations

import gc
import os
import socket
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, ParamSpec, TypeVar
from uuid import UUID

from pipelines.batch.engine_app import run_app, schedule_app
from pipelines.batch.engine_database import lay_out_database
from pipelines.batch.prefect_server import (
    KEY,
    EngineServer,
    end_with_parent,
    engine_server,
    quiet_environment,
    say_when,
)
from pipelines.batch.server_guard import HOST, ServerGuard
from pipelines.batch.step import Call, Step
from pipelines.errors import EngineError

if TYPE_CHECKING:
    from pipelines.batch.weekly import WeekReport
    from pipelines.workspace import Workspace

P = ParamSpec("P")
R = TypeVar("R")

START_SECONDS = 120
RECORD_SECONDS = 15.0
"""So long the server has to write down what it was told of the steps; mostly it needs none of it."""
SERVE = [sys.executable, "-P", "-m", "pipelines.batch.flows"]


def run_with_engine(workspace: Workspace, as_of: date, progress: Callable[[str], None]) -> WeekReport:
    """Run the weekly batch as a flow of the engine.

    The server starts first and comes up while our own libraries are imported.

    Args:
        workspace: The dealer's folder; the engine keeps its files in ``engine_home``.
        as_of: The day the report is made for.
        progress: Told in a few words what is being done.

    Returns:
        What ``run_week`` returns.

    Raises:
        EngineError: The engine could not start or broke down; the plain run can take over.
        BatchError: As ``run_week`` raises it.
    """
    home = workspace.engine_home
    progress("starting the engine's server, 1 of 4 before the week")
    with engine_server(home, SERVE) as server, quietly(home):
        progress("loading the analysis, 2 of 4 before the week")
        from pipelines.batch.weekly import run_week

        return as_flow(server, home, lambda call: run_week(workspace, as_of, call, progress), progress)


def as_flow(
    server: EngineServer, home: Path, week: Callable[[Call], R], progress: Callable[[str], None] = lambda _: None
) -> R:
    """Run something made of steps as a flow, each step a task.

    Args:
        server: The engine's server.
        home: Where the engine keeps its own files.
        week: What to run; it calls its steps by what it is given.
        progress: Told in a few words what is being done before it begins.

    Returns:
        What it returns, even if the engine broke down after it was done.

    Raises:
        EngineError: The engine broke down before.
    """
    progress("loading the engine, 3 of 4 before the week")
    from prefect import flow
    from prefect.events.clients import PrefectEventsClient
    from prefect.events.worker import EventsWorker
    from prefect.settings import temporary_settings

    done: list[R] = []
    tasks = _Tasks()

    @flow(name="knockon weekly", persist_result=False)
    def weekly() -> None:
        done.append(week(tasks))

    progress("waiting for the engine's server, 4 of 4 before the week")
    address = server.address(START_SECONDS, progress)
    # The heartbeat's thread would hold up the end of the run for a second.
    here = {"home": home, "api.url": address, "api.auth_string": server.key, "flows.heartbeat_frequency": None}
    # Without a limit, every event that a broken server misses holds up the end of the run for seven seconds.
    EventsWorker.set_client_override(PrefectEventsClient, api_url=address, reconnection_attempts=0)
    try:
        with temporary_settings(here):
            weekly()
            EventsWorker.drain_all(timeout=RECORD_SECONDS)
            _recorded(tasks.runs)
    except Exception as error:
        if not of_the_engine(error):
            raise
        if not done:
            raise EngineError(f"the engine broke down ({why_broken(error)})") from error
    finally:
        EventsWorker.drain_all(timeout=5)
    return done[0]


class _Tasks:
    """Calls each step as a task that waits for the one before and is tied to those whose results it takes.

    An argument is wrapped so that the engine sees whose result it is and looks no further: tables are not searched,
    copied, hashed or kept.
    """

    def __init__(self) -> None:
        self._before: list[object] = []
        self.runs: list[UUID] = []

    def __call__(self, step: Step[P, R], /, *args: P.args, **kwargs: P.kwargs) -> R:
        from prefect import task
        from prefect.cache_policies import NO_CACHE
        from prefect.context import TaskRunContext
        from prefect.utilities.annotations import opaque

        @wraps(step.work)
        def noted(*args: P.args, **kwargs: P.kwargs) -> R:
            context = TaskRunContext.get()
            if context is not None:
                self.runs.append(context.task_run.id)
            return step.work(*args, **kwargs)

        work: Callable[..., R] = task(name=step.name, cache_policy=NO_CACHE, persist_result=False)(noted)
        named = {name: opaque(value) for name, value in kwargs.items()}
        result = work(*map(opaque, args), wait_for=self._before, **named)
        self._before = [opaque(result)]
        return result


def _recorded(runs: list[UUID]) -> None:
    """Wait until the server has written down how each task ended: events tell it, which it takes in its own time."""
    from prefect.client.orchestration import get_client
    from prefect.client.schemas.filters import TaskRunFilter, TaskRunFilterId

    until = time.monotonic() + RECORD_SECONDS
    with get_client(sync_client=True) as client:
        while time.monotonic() < until:
            told = client.read_task_runs(task_run_filter=TaskRunFilter(id=TaskRunFilterId(any_=runs))) if runs else []
            if sum(run.state is not None and run.state.is_final() for run in told) == len(runs):
                return
            time.sleep(0.2)


def of_the_engine(error: Exception) -> bool:
    """Tell whether an error is the engine's own, not one of the work it runs."""
    return type(error).__module__.split(".")[0] in {"prefect", "httpx", "httpcore"}


def why_broken(error: Exception) -> str:
    """Return what an error of the engine's own means to the user."""
    kind = type(error)
    return f"it ended with {kind.__name__}" if kind.__module__.startswith("prefect") else "its server no longer answers"


@contextmanager
def quietly(home: Path) -> Iterator[None]:
    """Set the environment that the engine reads when it is imported; put it back afterwards.

    Args:
        home: Where the engine keeps its own files.
    """
    before = dict(os.environ)
    os.environ.clear()
    os.environ.update(quiet_environment(home))
    try:
        yield
    finally:
        os.environ.clear()
        os.environ.update(before)


def serve(*, scheduling: bool = False) -> None:
    """In the child: answer on a free port of this computer alone, until the parent is gone.

    Args:
        scheduling: Lay out runs that come due, too; nothing else of the engine's background work is wanted.
    """
    key = os.environ[KEY]  # no key, no server
    end_with_parent()
    gc.disable()  # while the engine is loaded nothing of it can go: looking for what could takes a third of the time
    import uvicorn

    app = schedule_app() if scheduling else run_app()
    lay_out_database(Path(os.environ["PREFECT_HOME"]) / "prefect.db")
    gc.freeze()
    gc.enable()
    with socket.create_server((HOST, 0)) as door:
        port = door.getsockname()[1]
        guarded = ServerGuard(app, key, port)
        config = uvicorn.Config(guarded, log_level="error", lifespan="on", access_log=False, server_header=False)
        server = uvicorn.Server(config)
        say_when(server, "started", f"http://{HOST}:{port}/api")
        server.run(sockets=[door])


if __name__ == "__main__":
    serve(scheduling="scheduling" in sys.argv)
