"""A step of the week: a plain function with a name, and whoever calls it.

A step takes what it needs and returns what it found.  Who calls it is handed in: here and now (``plain``), or the
orchestration engine as a task.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, ParamSpec, Protocol, TypeVar

P = ParamSpec("P")
R = TypeVar("R")

LOG = logging.getLogger("knockon.week")


@dataclass(frozen=True)
class Step(Generic[P, R]):
    """One step: its name, as the user and ``run.json`` read it, and the function that does it."""

    name: str
    work: Callable[P, R]

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> R:
        """Do it, here and now."""
        return self.work(*args, **kwargs)


def step(name: str) -> Callable[[Callable[P, R]], Step[P, R]]:
    """Make a function a step of the week under a name."""

    def named(work: Callable[P, R]) -> Step[P, R]:
        return Step(name, work)

    return named


class Call(Protocol):
    """Calls a step with its arguments and returns its result."""

    def __call__(self, step: Step[P, R], /, *args: P.args, **kwargs: P.kwargs) -> R:
        """Call it."""


def plain(step: Step[P, R], /, *args: P.args, **kwargs: P.kwargs) -> R:
    """Call a step here and now."""
    return step.work(*args, **kwargs)


class Said:
    """Passes on in a few words what is being done, and behind them the share that is done where the work tells it."""

    def __init__(self, progress: Callable[[str], None]) -> None:
        """Begin with nothing said.

        Args:
            progress: Told the words.
        """
        self._progress = progress
        self._doing, self._percent = "", 0

    def __call__(self, doing: str) -> None:
        """Say what is being done from now on."""
        self._doing, self._percent = doing, 0
        self._progress(doing)

    def share(self, done: float) -> None:
        """Say how far it is; what has been said is never taken back.

        Args:
            done: Share that is done, from 0 to 1.
        """
        percent = int(100 * done)
        if percent > self._percent:
            self._percent = percent
            self._progress(f"{self._doing}, {percent}%")


class Timed:
    """Calls steps through another call, tells what is being done, and keeps the seconds of each."""

    def __init__(self, call: Call, progress: Callable[[str], None]) -> None:
        """Begin with no step done.

        Args:
            call: Who calls the steps.
            progress: Told the name of each step as it begins.
        """
        self._call, self._progress = call, progress
        self.seconds: dict[str, float] = {}

    def __call__(self, step: Step[P, R], /, *args: P.args, **kwargs: P.kwargs) -> R:
        """Call a step and note its seconds."""
        self._progress(step.name)
        LOG.info("%s ...", step.name)
        started = time.perf_counter()
        result = self._call(step, *args, **kwargs)
        self.seconds[step.name] = round(time.perf_counter() - started, 3)
        LOG.info("%s: %.3f s", step.name, self.seconds[step.name])
        return result
