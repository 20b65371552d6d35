"""Opens the desk: a free port of this computer alone, the key in an address that the browser is sent to once.

A second start for the same folder does not open a second desk: it sends the browser to the one that is open.
"""

from __future__ import annotations

import http.client
import json
import signal
import socket
import sys
import webbrowser
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from pipelines.desk.desk import Desk
from pipelines.desk.guard import HOST
from pipelines.desk.keys import Keys
from pipelines.errors import BatchError, BusyError, why_refused
from pipelines.workspace import Workspace, private_folder, write_private

_RECORD = "open.json"
_KEEP_ALIVE = 30  # seconds


def serve(
    folder: Path, port: int, say: Callable[[str], None], open_page: Callable[[str], object] | None = webbrowser.open
) -> None:
    """Open the desk of a folder and answer until it is told to end.

    Args:
        folder: The dealer's folder; it need not be a workspace yet, nor be there.
        port: The port; 0 for any that is free.
        say: Told the address, and what to do.
        open_page: Opens an address in the browser; None: nobody does.

    Raises:
        BatchError: The port is not to be had, or the folder is a file.
    """
    root = folder.resolve()
    if root.exists() and not root.is_dir():
        raise BatchError(f"{folder} is a file; name a folder. Nothing was opened.")
    with ExitStack() as stack:
        door = stack.enter_context(_door(port))
        desk = Desk(root)
        bound = int(door.getsockname()[1])
        if desk.begun:
            try:
                stack.enter_context(_recorded(desk, bound))
            except BusyError:
                there = _open_already(root)
                if there is None:
                    raise
                say(f"The desk of {root} is open already: {there}")
                _open(open_page, there)
                return
        else:
            desk.on_begun = lambda: stack.enter_context(_recorded(desk, bound))
        address = f"http://{HOST}:{bound}/?key={desk.keys.entry()}"
        where = " in your browser. If it is not, open" if open_page is not None else ". Open"
        say(f"The desk of {root} is open{where} this address; it is good once:")
        say(f"  {address}")
        say("Leave this window open; Ctrl-C closes the desk.")
        _answer(desk, door, bound, lambda: _open(open_page, address))


def _open(open_page: Callable[[str], object] | None, address: str) -> None:
    if open_page is not None:
        with suppress(webbrowser.Error, OSError):
            open_page(address)


@contextmanager
def _door(port: int) -> Iterator[socket.socket]:
    try:
        door = socket.create_server((HOST, port))
    except OSError as error:
        raise BatchError(f"Port {port} of this computer cannot be had ({why_refused(error)}). Name another.") from error
    with door:
        yield door


def _answer(desk: Desk, door: socket.socket, port: int, ready: Callable[[], None]) -> None:
    import uvicorn

    from pipelines.desk.app import application
    from pipelines.desk.week_page import resume

    resume(desk)
    config = uvicorn.Config(
        application(desk, port),
        log_level="error",
        lifespan="off",
        ws="none",
        server_header=False,
        access_log=False,
        timeout_keep_alive=_KEEP_ALIVE,
        timeout_graceful_shutdown=3,
    )
    server = uvicorn.Server(config)
    # The server hands a signal on once it has ended; what was written down for this start is then cleared away.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    ready()  # the door is open already: what comes before the server answers, waits
    with suppress(KeyboardInterrupt):  # Ctrl-C is how a desk is closed
        server.run(sockets=[door])


def _place(root: Path) -> Path:
    return Workspace(root).state / "desk" / _RECORD


@contextmanager
def _recorded(desk: Desk, port: int) -> Iterator[None]:
    """Write down where the desk is, for its owner alone; nobody opens a second one meanwhile."""
    place = _place(desk.folder)
    with desk.workspace.lock("desk.lock", "another desk"):
        private_folder(place.parent)
        write_private(place, json.dumps({"port": port, "secret": desk.keys.secret}))
        try:
            yield
        finally:
            place.unlink(missing_ok=True)


def _open_already(root: Path) -> str | None:
    """Return a fresh address of the desk that is open for a folder, or None."""
    try:
        told = json.loads(_place(root).read_text(encoding="utf-8"))
        port, keys = int(told["port"]), Keys(str(told["secret"]))
        connection = http.client.HTTPConnection(HOST, port, timeout=2)
        connection.request("GET", "/own/desk.js", headers={"Cookie": f"knockon_desk_{port}={keys.cookie}"})
        answered = connection.getresponse().status == 200
        connection.close()
    except (OSError, ValueError, KeyError, TypeError, http.client.HTTPException):
        return None
    return f"http://{HOST}:{port}/?key={keys.entry()}" if answered else None
