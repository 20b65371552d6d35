"""Waits until the weekly run is due and then runs it: a deployment with a schedule on the engine's own server.

The server here is another than that of a single run: it also lays out what is due.  It answers on this computer alone,
to nobody without its key, and ends with the wait.  A plan that vanished from it is noticed at the next look, laid anew
and said.  The run itself is the command ``weekly`` in a process of its own, so that a week of memory is given back and
its exit code counts.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from pipelines.batch.flows import START_SECONDS, of_the_engine, quietly, why_broken
from pipelines.batch.prefect_server import engine_server
from pipelines.batch.schedule import Plan, is_late
from pipelines.errors import BatchError, EngineError
from pipelines.storage.storage_errors import disk_errors

if TYPE_CHECKING:
    from uuid import UUID

    from prefect.client.orchestration import SyncPrefectClient
    from prefect.client.schemas.objects import FlowRun
    from prefect.client.schemas.schedules import CronSchedule, IntervalSchedule

    from pipelines.workspace import Workspace

SERVE = [sys.executable, "-P", "-m", "pipelines.batch.flows", "scheduling"]
LOOK_SECONDS = 15.0
RETRIES, RETRY_SECONDS = 2, 900
VANISHED = "the plan of the weekly run had vanished from the engine's server; it was laid anew."


class RunFailedError(BatchError):
    """The weekly run ended with an exit code that is not 0."""


class Waiter:
    """Waits for one workspace's run; ``wait`` comes back only when it is told to."""

    def __init__(
        self, workspace: Workspace, plan: Plan, run: Callable[[], int], say: Callable[[str], None] = lambda _: None
    ) -> None:
        """Prepare to wait.

        Args:
            workspace: The dealer's folder.
            plan: When the run is due.
            run: Runs the week and returns its exit code.
            say: Told what happens, line by line.
        """
        self._workspace, self._plan, self._run, self._say = workspace, plan, run, say
        self.failed = 0

    def wait(
        self,
        *,
        every_seconds: float | None = None,
        look_seconds: float = LOOK_SECONDS,
        retries: int = RETRIES,
        until: Callable[[], bool] = lambda: False,
    ) -> None:
        """Run at once what is late, then whatever comes due.

        Args:
            every_seconds: Due so often, instead of once a week; to try it out.
            look_seconds: How often to ask the server what is due.
            retries: How often a run that failed is tried again, a quarter of an hour later each.
            until: Asked between two looks whether to stop.

        Raises:
            BusyError: Somebody waits for this workspace already.
            EngineError: The engine's server could not start or broke down.
        """
        home = self._workspace.state / "schedule"
        with (
            disk_errors(self._workspace.root),
            self._workspace.lock("waiting", "knockon schedule"),
            engine_server(home, SERVE) as server,
            quietly(home),
        ):
            from prefect.client.orchestration import get_client
            from prefect.settings import temporary_settings

            address = server.address(START_SECONDS)
            here = {"home": home, "api.url": address, "api.auth_string": server.key, "flows.heartbeat_frequency": None}
            with temporary_settings(here), _broken(), get_client(sync_client=True) as client:
                deployment = self._deploy(client, every_seconds, retries)
                while not until():
                    if not _stands(client, deployment):
                        self._say(f"{datetime.now():%Y-%m-%d %H:%M}: {VANISHED}")
                        deployment = self._deploy(client, every_seconds, retries)
                    self._look(client, deployment)
                    time.sleep(look_seconds)

    def _deploy(self, client: SyncPrefectClient, every_seconds: float | None, retries: int) -> UUID:
        """Enter flow, deployment and schedule; what an earlier wait left due is struck, what is late runs at once."""
        from prefect import flow
        from prefect.client.schemas.actions import DeploymentScheduleCreate
        from prefect.states import Scheduled

        @flow(name="knockon due", retries=retries, retry_delay_seconds=RETRY_SECONDS, persist_result=False)
        def due() -> None:
            code = self._run()
            if code:
                raise RunFailedError(f"the weekly run ended with {code}")

        self._flow = due
        schedule = DeploymentScheduleCreate(schedule=_schedule(self._plan, every_seconds), active=True)
        made = client.create_deployment(client.create_flow(due), "weekly", schedules=[schedule], paused=False)
        for run in self._due(client, made):
            _strike(client, run, "an earlier wait ended before it")
        if is_late(self._workspace, self._plan, datetime.now(UTC)):
            self._say("The last run that was due was missed; it is run now.")
            self._start(client.create_flow_run_from_deployment(made, state=Scheduled()))
        return made

    def _look(self, client: SyncPrefectClient, deployment: UUID) -> None:
        """Run what is due; of several the latest, the others were missed together."""
        runs = self._due(client, deployment)
        for run in runs[:-1]:
            _strike(client, run, "missed; a later one is run")
        for run in runs[-1:]:
            self._start(run)

    def _due(self, client: SyncPrefectClient, deployment: UUID) -> list[FlowRun]:
        found = client.get_scheduled_flow_runs_for_deployments([deployment], scheduled_before=datetime.now(UTC))
        runs = filter(None, [_run(client, run.id) for run in found])
        return sorted(runs, key=lambda run: (run.expected_start_time or datetime.min.replace(tzinfo=UTC), run.id))

    def _start(self, run: FlowRun) -> None:
        from prefect.flow_engine import run_flow

        try:
            run_flow(self._flow, flow_run=run)
        except RunFailedError as error:
            self.failed += 1
            self._say(f"{datetime.now():%Y-%m-%d %H:%M}: {error}; what went wrong stands above and in the next report.")
        else:
            self._say(f"{datetime.now():%Y-%m-%d %H:%M}: done.")
        self._say(f"Next run: {self._plan.next_due(datetime.now(UTC)):%Y-%m-%d %H:%M}.")


def _stands(client: SyncPrefectClient, deployment: UUID) -> bool:
    """Tell whether the engine's server still knows the deployment and lays out its runs."""
    from prefect.exceptions import ObjectNotFound

    try:
        found = client.read_deployment(deployment)
    except ObjectNotFound:
        return False
    return not found.paused and any(schedule.active for schedule in found.schedules)


def _run(client: SyncPrefectClient, run: UUID) -> FlowRun | None:
    """Return a run; None where it vanished since it was named, as it does with its deployment."""
    from prefect.exceptions import ObjectNotFound

    try:
        return client.read_flow_run(run)
    except ObjectNotFound:
        return None


def _schedule(plan: Plan, every_seconds: float | None) -> CronSchedule | IntervalSchedule:
    from prefect.client.schemas.schedules import CronSchedule, IntervalSchedule

    if every_seconds is None:
        return CronSchedule(cron=plan.cron, timezone=plan.zone.key)
    return IntervalSchedule(interval=timedelta(seconds=every_seconds), anchor_date=datetime.now(UTC))


def _strike(client: SyncPrefectClient, run: Any, why: str) -> None:
    from prefect.states import Cancelled

    client.set_flow_run_state(run.id, Cancelled(message=why), force=True)


@contextmanager
def _broken() -> Iterator[None]:
    try:
        yield
    except Exception as error:
        if not of_the_engine(error):
            raise
        raise EngineError(
            f"the engine broke down while waiting ({why_broken(error)}). Start 'knockon schedule' again."
        ) from error
