"""The desk in a process of its own, as ``knockon desk`` starts it, and somebody who speaks to it."""

from __future__ import annotations

import http.client
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).parents[2]
PATIENCE = 120


class Started:
    """A desk in a process of its own, and somebody who has its cookie."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        command = [sys.executable, "-P", "-m", "pipelines", "desk", str(folder), "--no-browser"]
        self.process = subprocess.Popen(
            command,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self.said: list[str] = []
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.said.append(line)
            if "http://" in line:
                break
        [address] = re.findall(r"http://127\.0\.0\.1:(\d+)(/\?key=\S+)", "".join(self.said))
        self.port, self.entry = int(address[0]), address[1]
        self.cookie = ""

    def ask(self, method: str, path: str, body: bytes | None = None, **headers: str) -> tuple[int, dict[str, str], str]:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE)
        given = {"Origin": f"http://127.0.0.1:{self.port}", "Cookie": self.cookie}
        connection.request(method, path, body, given | {name.replace("_", "-"): text for name, text in headers.items()})
        answer = connection.getresponse()
        told = {name.lower(): text for name, text in answer.getheaders()}
        text = answer.read().decode("utf-8", "replace")
        connection.close()
        return answer.status, told, text

    def enter(self) -> str:
        """Open the desk as the browser does; return the form's token."""
        status, headers, _ = self.ask("GET", self.entry)
        assert (status, headers["location"]) == (303, "/")
        self.cookie = headers["set-cookie"].partition(";")[0]
        return re.findall(r'data-token="(\w+)"', self.ask("GET", "/")[2])[0]

    def post(self, path: str, token: str) -> int:
        kind = "application/x-www-form-urlencoded"
        return self.ask("POST", path, f"token={token}".encode(), Content_Type=kind)[0]

    def kill(self) -> None:
        self.process.kill()
        self.process.communicate(timeout=PATIENCE)


@contextmanager
def started(folder: Path) -> Iterator[Started]:
    desk = Started(folder)
    try:
        yield desk
    finally:
        if desk.process.poll() is None:
            desk.process.terminate()
            desk.process.communicate(timeout=PATIENCE)
