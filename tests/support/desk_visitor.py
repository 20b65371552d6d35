"""Somebody who visits the desk: a browser's requests without a browser, and what stands in the folder afterwards."""

from __future__ import annotations

import hashlib
import warnings
from datetime import date
from pathlib import Path
from typing import Any

from pipelines.desk.app import application
from pipelines.desk.desk import Desk

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # the test client says that another library would serve it better
    from starlette.testclient import TestClient

PORT = 8123
ORIGIN = f"http://127.0.0.1:{PORT}"
TODAY = date(2026, 11, 23)
_PASSING = (".knockon/lock", ".knockon/tmp", ".knockon/desk.lock")


class Visitor:
    """A browser that has the desk's cookie, and what it sends with each request."""

    def __init__(self, folder: Path, day: date = TODAY) -> None:
        self.desk = Desk(folder, today=lambda: day)
        self.client = TestClient(application(self.desk, PORT), base_url=ORIGIN, follow_redirects=False)
        entered = self.client.get("/", params={"key": self.desk.keys.entry()})
        assert entered.status_code == 303
        assert entered.headers["location"] == "/"

    def get(self, path: str, **more: Any) -> Any:
        return self.client.get(path, **more)

    def post(self, path: str, **fields: Any) -> Any:
        """Send a form as the desk's own page does, and go on to the page that says what came of it."""
        answer = self.send(path, **fields)
        goes_on = "kept=" in answer.headers.get("location", "")
        return self.get(answer.headers["location"]) if goes_on else answer

    def send(self, path: str, **fields: Any) -> Any:
        """Send a form as the desk's own page does."""
        data = {"token": self.desk.keys.token, **fields}
        return self.client.post(path, data=data, headers={"Origin": ORIGIN})

    def drop(self, name: str, content: bytes, path: str = "/files/upload") -> Any:
        """Drop a file as the desk's own script does."""
        headers = {"Origin": ORIGIN, "X-Desk-Token": self.desk.keys.token, "X-File-Name": name}
        return self.client.post(path, content=content, headers={**headers, "Content-Type": "application/octet-stream"})


def tree(folder: Path) -> dict[str, str]:
    """Return every file of a folder with the sum of its bytes; locks and working files are passed over."""
    found = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.is_file() and not any(passing in name for passing in _PASSING):
            found[name] = hashlib.sha256(path.read_bytes()).hexdigest()
    return found
