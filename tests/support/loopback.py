"""Who listens on this computer: small helpers for the tests of the engine's server."""

from __future__ import annotations

import http.client
import json
import re
import time
from contextlib import suppress
from pathlib import Path


def recorded(home: Path) -> tuple[str, str]:
    """Return address and key of the engine's server that is up in a folder."""
    told = json.loads((home / "server.json").read_text(encoding="utf-8"))
    return told["address"], told["key"]


def answers(address: str) -> bool:
    """Say whether a server answers at an address like http://127.0.0.1:4711/api."""
    connection = http.client.HTTPConnection("127.0.0.1", int(re.findall(r":(\d+)", address)[0]), timeout=5)
    try:
        connection.request("GET", "/api/health")
        return connection.getresponse().status in (200, 401)  # it keeps to those who have its key
    except OSError:
        return False
    finally:
        connection.close()


def gone_within(address: str, seconds: float) -> bool:
    """Wait until no server answers at an address; say whether that came in time."""
    end = time.monotonic() + seconds
    while answers(address):
        if time.monotonic() > end:
            return False
        time.sleep(0.05)
    return True


def listening(parent: int) -> dict[int, set[str]]:
    """Return the addresses, in hex as the kernel writes them, that each process under ``parent`` listens on.

    A process that listens to nobody is left out, such as a helper that an earlier test left behind.
    """
    found = {}
    for process in Path("/proc").glob("[0-9]*"):
        try:
            if f"\nPPid:\t{parent}\n" in (process / "status").read_text() and (heard := _listening(process)):
                found[int(process.name)] = heard
        except (FileNotFoundError, ProcessLookupError):
            continue
    return found


def _listening(process: Path) -> set[str]:
    sockets = set()
    for link in (process / "fd").iterdir():
        with suppress(FileNotFoundError):  # closed in the meantime
            sockets.add(link.readlink().name)
    lines = [
        line.split() for table in ("tcp", "tcp6") for line in (process / "net" / table).read_text().splitlines()[1:]
    ]
    return {line[1].split(":")[0] for line in lines if line[3] == "0A" and f"socket:[{line[9]}]" in sockets}
