"""The steps of the week, in order, for tests and studies that watch, break or measure them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pipelines.batch import weekly
from pipelines.batch.step import Step

_NAMES = {id(step): name for name, step in vars(weekly).items() if isinstance(step, Step)}
STEPS: dict[str, Step[..., Any]] = {_NAMES[id(step)]: step for step in weekly.STEPS}


def watch_all(watched: Callable[[str, Callable[..., Any]], Callable[..., Any]]) -> None:
    """Put something around every step of this process's weeks.

    Args:
        watched: Takes a step's name and its function, returns the function to call in its place.
    """
    for name, step in STEPS.items():
        setattr(weekly, name, Step(step.name, watched(step.name, step.work)))
