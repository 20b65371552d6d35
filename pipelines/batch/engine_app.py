"""What the engine's server answers: to a single run that alone which it asks, to the wait for the next one all of it.

The engine's own application answers some two hundred kinds of requests more and keeps a worker that looks for work in
the background all the time.  A run has none, and both cost more than all that it asks for.  The routes, and the service
that writes down what became of the tasks, are the engine's own.
"""

from __future__ import annotations

import asyncio
import os
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fastapi import FastAPI

PREFIX = "/api"
_UNUSED = (
    *("CANCELLATION_CLEANUP", "EVENT_LOGGER", "EVENT_PERSISTER", "FOREMAN", "LATE_RUNS"),
    *("PAUSE_EXPIRATIONS", "TASK_RUN_RECORDER", "TRIGGERS"),
)


def run_app() -> FastAPI:
    """Return an application that answers what one run asks."""
    from fastapi import FastAPI
    from prefect.server.api import admin, events, flow_runs, flows, task_runs

    app = FastAPI(lifespan=_recording, openapi_url=None)
    for part in (admin, events, flow_runs, flows, task_runs):
        app.include_router(part.router, prefix=PREFIX)
    return app


def schedule_app() -> FastAPI:
    """Return the engine's own application, which lays out runs that come due; no other service of it is wanted."""
    os.environ.update({f"PREFECT_SERVER_SERVICES_{name}_ENABLED": "false" for name in _UNUSED})
    from prefect.server.api.server import create_app

    return create_app()


@asynccontextmanager
async def _recording(_app: FastAPI) -> AsyncIterator[None]:
    """Write down what became of the tasks, as long as the server is up."""
    from prefect.server.services.task_run_recorder import TaskRunRecorder

    recorder = TaskRunRecorder()  # type: ignore[no-untyped-call]
    recording = asyncio.create_task(recorder.start())
    try:
        yield
    finally:
        await recorder.stop()
        await asyncio.gather(recording, return_exceptions=True)
