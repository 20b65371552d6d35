"""The engine's own server: one child process that never outlives the run.

It answers on this computer alone.  Its input is a pipe that nobody writes to:
when the run ends, in whatever way, the operating system closes the pipe and
the server stops with it.  A server of this workspace that is already up is
used instead of a second one.

It answers nobody without the key of its start (``server_guard``).  The key reaches it by its environment and stands,
with its address, in a file that its owner alone can read; it is never said.
"""

from __future__ import annotations

import hmac
import http.client
import json
import os
import queue
import secrets
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from pipelines.batch.server_guard import HOST, NONCE_HEADER, PROOF_PATH, new_key, proof
from pipelines.errors import EngineError, refused, why_refused
from pipelines.workspace import private_folder, write_private

KEY = "PREFECT_SERVER_API_AUTH_STRING"
_RECORD = "server.json"
_FIRST_START = "the first start makes its database and takes longest"
PATIENCE = 5.0  # seconds that a server has to end by itself, and one that is up already to answer on a busy computer

# No usage report, no look for updates, no server of the engine's own making, and not a word on the screen:
# what goes wrong comes back as an exception.
QUIET = {
    "DO_NOT_TRACK": "1",
    "PREFECT_SERVER_ANALYTICS_ENABLED": "false",
    "PREFECT_LOGGING_LEVEL": "CRITICAL",
    "PREFECT_LOGGING_INTERNAL_LEVEL": "CRITICAL",
    "PREFECT_LOGGING_TO_API_ENABLED": "false",
    "PREFECT_SERVER_EPHEMERAL_ENABLED": "false",
    "PREFECT_SERVER_EPHEMERAL_STARTUP_TIMEOUT_SECONDS": "120",
    "PREFECT_CLIENT_MAX_RETRIES": "2",
    "PREFECT_UI_ENABLED": "false",
    "PREFECT_CLIENT_CSRF_SUPPORT_ENABLED": "false",
    "PREFECT_API_BLOCKS_REGISTER_ON_START": "false",
    # What it is told of the steps it writes down together, once a second, not word by word.
    "PREFECT_SERVER_SERVICES_TASK_RUN_RECORDER_BATCH_SIZE": "50",
    "PREFECT_SERVER_CORS_ALLOWED_ORIGINS": "none",  # an origin has a scheme: the word is none of them
}


def quiet_environment(home: Path) -> dict[str, str]:
    """Return this process's environment, with the engine kept quiet, local and inside ``home``.

    Settings of another installation of the engine are left out: they could point at somebody else's server or database.

    Args:
        home: Where the engine keeps its own files.
    """
    kept = {name: value for name, value in os.environ.items() if not name.startswith("PREFECT")}
    past_proxy = ",".join(filter(None, [os.environ.get("no_proxy") or os.environ.get("NO_PROXY"), HOST]))
    return {**kept, **QUIET, "PREFECT_HOME": str(home), "no_proxy": past_proxy, "NO_PROXY": past_proxy}


class EngineServer:
    """A server that was asked for; ``address()`` waits until it answers."""

    def __init__(self, home: Path, command: list[str]) -> None:
        """Use the server that ``home`` records, or start ``command`` without waiting for it.

        Args:
            home: Where the engine keeps its own files.
            command: Starts a server that prints its address on a line when it is up.
        """
        try:
            private_folder(home)
        except OSError as error:
            raise EngineError(
                f"the engine's server could not be started: {refused(home, error)}".removesuffix(".")
            ) from error
        self._record = home / _RECORD
        self._log = home / "server.log"
        self._lines: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._child: subprocess.Popen[str] | None = None
        running = _running(self._record)
        self._address: str | None = running[0] if running else None
        self.key = running[1] if running else new_key()
        if running is None:
            self._child = _start(command, home, self._log, self.key)
            threading.Thread(target=self._listen, args=(self._child.stdout,), daemon=True).start()

    def _listen(self, said: IO[str] | None) -> None:
        self._lines.put(said.readline().strip() if said else "")

    def address(self, seconds: float, progress: Callable[[str], None] = lambda _: None) -> str:
        """Wait for the server and return its address.

        Args:
            seconds: How long to wait.
            progress: Told each second how long it has been.

        Raises:
            EngineError: It ended or did not answer in that time.
        """
        if self._address is None:
            line = self._line(seconds, progress)
            if not line:
                said = self._log.read_text(encoding="utf-8", errors="replace").strip().splitlines()
                raise EngineError(f"the engine's server ended at once: {said[-1] if said else 'it gave no reason'}")
            self._address = line
            with suppress(OSError):  # without it the next run starts a server of its own
                write_private(self._record, json.dumps({"address": line, "key": self.key}))
        return self._address

    def _line(self, seconds: float, progress: Callable[[str], None]) -> str:
        """Wait for the line that the server says when it is up."""
        waited = 0.0
        while waited < seconds:
            step = min(1.0, seconds - waited)
            try:
                return self._lines.get(timeout=step)
            except queue.Empty:
                waited += step
                progress(f"waiting for the engine's server: {waited:.0f} s of {seconds:g} at most; {_FIRST_START}")
        raise EngineError(f"the engine's server did not answer within {seconds:g} s")

    def close(self) -> None:
        """Stop the server if it is ours."""
        if self._child is None or self._child.stdin is None:
            return
        self._record.unlink(missing_ok=True)
        self._child.stdin.close()
        try:
            self._child.wait(timeout=PATIENCE)
        except subprocess.TimeoutExpired:
            self._child.kill()
            self._child.wait()


@contextmanager
def engine_server(home: Path, command: list[str]) -> Iterator[EngineServer]:
    """Have a server for the length of a ``with`` block; see ``EngineServer``."""
    server = EngineServer(home, command)
    try:
        yield server
    finally:
        server.close()


def _start(command: list[str], home: Path, log: Path, key: str) -> subprocess.Popen[str]:
    package = str(Path(__file__).resolve().parents[2])
    environment = {**quiet_environment(home), KEY: key}
    environment["PYTHONPATH"] = os.pathsep.join(filter(None, [package, environment.get("PYTHONPATH")]))
    try:
        with log.open("w", encoding="utf-8") as said:
            return subprocess.Popen(  # noqa: S603 - our own Python and our own module
                command,
                env=environment,
                cwd=home,  # away from settings files in the folder that the user happens to stand in
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=said,
                text=True,
                # Ctrl-C is for the run: it still has to tell the server how it ended.
                start_new_session=os.name != "nt",
                creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
            )
    except OSError as error:
        why = f"{command[0]}, or its log {log} ({why_refused(error)})"
        raise EngineError(f"the engine's server could not be started: {why}") from error


def _running(record: Path) -> tuple[str, str] | None:
    """Return the recorded address and key if the server that has this key answers there.

    Each side proves to the other that it knows the key; who took the port of a server that is gone learns nothing.
    """
    try:
        told = json.loads(record.read_text(encoding="utf-8"))
        address, key, nonce = str(told["address"]), str(told["key"]), secrets.token_hex()
        port = int(address.removeprefix(f"http://{HOST}:").removesuffix("/api"))
        connection = http.client.HTTPConnection(HOST, port, timeout=PATIENCE)
        asked = {NONCE_HEADER: nonce, "Authorization": proof(key, nonce, "asks")}
        connection.request("GET", PROOF_PATH, headers=asked)
        answer = connection.getresponse().read(100)
        connection.close()
    except (OSError, ValueError, KeyError, TypeError, http.client.HTTPException):
        return None
    return (address, key) if hmac.compare_digest(answer, proof(key, nonce, "answers").encode()) else None


def end_with_parent() -> None:
    """In the child: end this process as soon as the pipe to its parent closes."""

    def watch() -> None:
        sys.stdin.buffer.read()
        time.sleep(0.25)  # what the run said last is still being written down
        os._exit(0)

    threading.Thread(target=watch, daemon=True).start()


def say_when(ready: object, attribute: str, line: str) -> None:
    """In the child: print ``line`` once ``ready.attribute`` is true."""

    def watch() -> None:
        while not getattr(ready, attribute):
            time.sleep(0.01)
        print(line, flush=True)

    threading.Thread(target=watch, daemon=True).start()
