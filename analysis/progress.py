"""How far is a long piece of work?

Whoever waits for it listens once; the loops inside say which of their turns they are at, and a loop within a turn of
another one moves within that turn's share.  Nobody has to listen, and no result depends on it.
"""

from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TypeVar

T = TypeVar("T")
Listener = Callable[[float], None]
_LISTENER: ContextVar[Listener | None] = ContextVar("listener", default=None)


@contextmanager
def listening(listener: Listener) -> Iterator[None]:
    """Have somebody told how far the work inside the block is.

    Args:
        listener: Told the share that is done, from 0 to 1.
    """
    before = _LISTENER.get()
    _LISTENER.set(listener)
    try:
        yield
    finally:
        _LISTENER.set(before)


@contextmanager
def portion(start: float, end: float) -> Iterator[None]:
    """Say that the work inside the block leads from one share of the whole to another.

    Args:
        start: Share of the work that is done before, from 0 to 1.
        end: Share that is done after it.
    """
    outer = _LISTENER.get()
    if outer is None:
        yield
        return
    outer(start)
    with listening(lambda share: outer(start + (end - start) * share)):
        yield


def each(turns: Collection[T]) -> Iterator[T]:
    """Yield some things to work on, one after the other, and tell before each how many of them are done.

    Args:
        turns: About as much work each.
    """
    for done, turn in enumerate(turns):
        with portion(done / len(turns), (done + 1) / len(turns)):
            yield turn
