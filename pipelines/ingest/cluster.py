"""Worker processes for the steps that can be spread: here, or on machines that share the workspace's folder.

They are those of Dask.  The workers trust whoever reaches them, so they belong on
this computer or in a closed network.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from typing import Any

from pipelines.errors import SettingsError, WorkspaceError
from pipelines.ingest.parallel import Spread

HOST = "127.0.0.1"
_PATIENCE = 30  # seconds that a scheduler has to answer


@contextmanager
def working(workers: str) -> Iterator[Spread | None]:
    """Have workers for the length of a ``with`` block.

    Args:
        workers: Blank for none; a number of processes to start on this computer; or the address of a scheduler that
            is running, ``tcp://host:8786``.

    Raises:
        SettingsError: The library for it is not installed, or no scheduler answers there.
        WorkspaceError: In the block: workers ended, or could no longer be reached, before their work was done.
    """
    if not workers:
        yield None
        return
    try:
        import distributed  # noqa: PLC0415 - installed and loaded for workers only
    except ImportError as error:
        raise SettingsError(
            f"knockon.toml: workers is {workers!r}, which needs the extra 'cluster': pip install 'knockon[cluster]'. "
            "Nothing was run."
        ) from error
    dask: Any = distributed
    with ExitStack() as stack:
        try:
            here = {"host": HOST, "threads_per_worker": 1, "dashboard_address": f"{HOST}:0", "silence_logs": 50}
            at = stack.enter_context(dask.LocalCluster(int(workers), **here)) if workers.isdigit() else workers
            client = stack.enter_context(dask.Client(at, timeout=_PATIENCE))
        except (OSError, ValueError) as error:
            wanted = "expected a name and a port, such as tcp://192.0.2.7:8786" if isinstance(error, ValueError) else ""
            why = wanted or f"waited {_PATIENCE} s; start it, or set workers to a number"
            raise SettingsError(f"knockon.toml: no scheduler answers at {workers} ({why}). Nothing was run.") from error
        yield lambda work, items: _results(dask, client, work, items)


def _results(dask: Any, client: Any, work: Callable[[Any], Any], items: Sequence[Any]) -> Iterator[Any]:
    """Yield the results of the workers in order; say in words that a worker ended where its work is lost."""
    lost = (dask.KilledWorker, dask.CancelledError, dask.comm.CommClosedError)
    try:
        for done in client.map(work, client.scatter(list(items), hash=False)):
            yield done.result()
    except lost as error:
        raise WorkspaceError(
            f"a worker process ended before its work was done ({type(error).__name__}); its memory may have run out. "
            'Files taken in so far stay taken in. Run it again with fewer workers, or workers = "", in knockon.toml.'
        ) from error
