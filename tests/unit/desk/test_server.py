"""The desk as it is started: on this computer alone, opened once, found again, and nothing lost when it is killed."""

from __future__ import annotations

import json
import os
import signal
import socket
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from pipelines.batch import run_journal
from pipelines.desk.server import serve
from pipelines.desk.tray import Tray
from pipelines.errors import BatchError
from pipelines.report.new_workspace import init_workspace
from pipelines.storage.warehouse import Warehouse
from tests.support.desk_process import ROOT, started
from tests.support.small_dealer import workspace

SCANS = [
    {"vehicle": f"K-{k}", "scanned_at": "2026-11-20T09:00", "module": "ABS", "code": code}
    for k, code in enumerate(("C0031", "C0035", ""), 1)
]
PATIENCE = 120


@pytest.mark.slow
def test_it_listens_on_this_computer_alone_and_opens_once(tmp_path: Path):
    place = workspace(tmp_path / "dealer", scans=SCANS)
    with started(place.root) as desk:
        opened = desk.enter()
        assert len(opened) == 64
        assert desk.ask("GET", desk.entry)[0] == 403, "the address is good once"
        status, headers, _ = desk.ask("GET", "/")
        assert status == 200
        assert headers["content-security-policy"].startswith("default-src 'none'; script-src 'self'; style-src 'self'")
        assert headers["cache-control"] == "no-store"
        assert "server" not in headers
        cookie = desk.cookie
        desk.cookie = ""
        assert desk.ask("GET", "/")[0] == 403
        desk.cookie = cookie
        addresses = {info[4][0] for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)}
        for other in addresses - {"127.0.0.1"}:
            with pytest.raises(OSError, match=r"refused|timed out"):
                socket.create_connection((other, desk.port), 2)
        record = place.state / "desk" / "open.json"
        assert stat.S_IMODE(record.stat().st_mode) == 0o600
    assert not record.exists()


@pytest.mark.slow
def test_a_second_start_sends_the_browser_to_the_desk_that_is_open(tmp_path: Path):
    place = workspace(tmp_path / "dealer", scans=SCANS)
    with started(place.root) as desk:
        desk.enter()
        said: list[str] = []
        opened: list[str] = []
        serve(place.root, 0, said.append, opened.append)
        assert said[0].startswith(f"The desk of {place.root} is open already: ")
        [address] = opened
        assert f":{desk.port}/?key=" in address
        assert desk.ask("GET", address.partition(str(desk.port))[2])[0] == 303


@pytest.mark.slow
def test_killed_while_a_file_comes_nothing_of_it_is_left_and_nothing_else_is_lost(tmp_path: Path):
    place = workspace(tmp_path / "dealer")
    with started(place.root) as desk:
        token = desk.enter()
        up = {"X_Desk_Token": token, "Content_Type": "application/octet-stream"}
        whole = b"vehicle,scanned_at,module,code\nK-9,2026-11-20T09:00,ABS,C0031\n"
        assert desk.ask("POST", "/files/upload", whole, X_File_Name="whole.csv", **up)[0] == 200
        half = socket.create_connection(("127.0.0.1", desk.port), PATIENCE)
        head = (
            f"POST /files/upload HTTP/1.1\r\nHost: 127.0.0.1:{desk.port}\r\nOrigin: http://127.0.0.1:{desk.port}\r\n"
            f"Cookie: {desk.cookie}\r\nX-Desk-Token: {token}\r\nX-File-Name: half.csv\r\n"
            "Content-Type: application/octet-stream\r\nContent-Length: 5000000\r\n\r\n"
        )
        half.sendall(head.encode() + b"0" * 1_000_000)
        end = time.monotonic() + PATIENCE
        while not list(place.scratch.glob("*/content")) and time.monotonic() < end:
            time.sleep(0.02)
        assert list(place.scratch.glob("*/content")), "it was coming"
        desk.kill()
        half.close()
    assert [file.name for file in Tray(place).files()] == ["whole.csv"]
    with started(place.root) as desk:
        token = desk.enter()
        page = desk.ask("GET", "/")[2]
        assert "whole.csv" in page
        assert "half.csv" not in page
        assert desk.post("/files/take", token) == 303
    assert list(place.scratch.glob("*")) == [], "what was cut short is cleared"
    with Warehouse(place.database) as warehouse:
        assert warehouse.query("select vehicle from raw.scans")["vehicle"].to_list() == ["K-9"]


@pytest.mark.slow
def test_killed_in_the_middle_of_a_week_desk_and_run_the_next_start_has_it_all(tmp_path: Path):
    place = workspace(tmp_path / "dealer", scans=SCANS)
    with started(place.root) as desk:
        assert desk.post("/week/run", desk.enter()) == 303
        end = time.monotonic() + PATIENCE
        while not run_journal.record_of(place).exists() and time.monotonic() < end:
            time.sleep(0.01)
        [child] = [int(pid) for pid in _children_of(desk.process.pid)]
        desk.kill()
        os.kill(child, signal.SIGKILL)
    assert not list(place.reports.glob("*/index.html"))
    with started(place.root) as desk:
        token = desk.enter()
        assert "it was cut short" in desk.ask("GET", "/week")[2]
        assert desk.post("/week/run", token) == 303
        end = time.monotonic() + PATIENCE
        while 'data-state="running"' in desk.ask("GET", "/week/now")[2] and time.monotonic() < end:
            time.sleep(0.2)
    [report] = place.reports.glob("*/run.json")
    assert any(
        "left no report: it was cut short" in note
        for note in json.loads(report.read_text(encoding="utf-8"))["warnings"]
    )
    with Warehouse(place.database) as warehouse:
        assert warehouse.number("select count(*) from raw.scans") == len(SCANS)


@pytest.mark.slow
def test_a_week_goes_on_when_only_the_desk_is_killed(tmp_path: Path):
    place = workspace(tmp_path / "dealer", scans=SCANS)
    with started(place.root) as desk:
        assert desk.post("/week/run", desk.enter()) == 303
        end = time.monotonic() + PATIENCE
        while not run_journal.record_of(place).exists() and time.monotonic() < end:
            time.sleep(0.01)
        desk.kill()
    end = time.monotonic() + PATIENCE
    while not list(place.reports.glob("*/index.html")) and time.monotonic() < end:
        time.sleep(0.1)
    assert list(place.reports.glob("*/index.html"))
    end = time.monotonic() + PATIENCE
    while run_journal.record_of(place).exists() and time.monotonic() < end:
        time.sleep(0.1)
    assert not run_journal.record_of(place).exists(), "the run ended well although nobody listened"


def _children_of(parent: int) -> list[str]:
    found = []
    for process in Path("/proc").glob("[0-9]*"):
        try:
            if f"\nPPid:\t{parent}\n" in (process / "status").read_text():
                found.append(process.name)
        except (FileNotFoundError, ProcessLookupError):
            continue
    return found


def test_a_file_is_no_folder(tmp_path: Path):
    place = tmp_path / "dealer"
    place.write_text("a file", encoding="utf-8")
    with pytest.raises(BatchError, match=r"dealer is a file; name a folder\. Nothing was opened\.$"):
        serve(place, 0, lambda _: None, None)


def test_a_port_that_is_taken_is_said(tmp_path: Path):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(BatchError, match=rf"^Port {port} of this computer cannot be had \(.*\)\. Name another\.$"):
            serve(tmp_path / "dealer", port, lambda _: None, None)
    assert not (tmp_path / "dealer").exists()


def test_another_desk_that_does_not_answer_is_said(tmp_path: Path):
    place = workspace(tmp_path / "dealer")
    with (
        place.lock("desk.lock"),
        pytest.raises(BatchError, match=r"^another desk is using .*dealer; wait until it ends"),
    ):
        serve(place.root, 0, lambda _: None, None)


@pytest.mark.parametrize("made", [False, True])
def test_the_first_page_waits_for_nothing_heavy(tmp_path: Path, made: bool):
    # What takes long to load is loaded by what needs it: the first page of a folder stands within 0.6 s of a processor.
    place = tmp_path / "dealer"
    if made:
        init_workspace(place)
    look = (
        "import sys, pathlib; import pipelines.desk.server, uvicorn; from tests.support.desk_visitor import Visitor; "
        f"page = Visitor(pathlib.Path({str(place)!r})).get('/'); assert page.status_code == 200; "
        "print([name for name in ('polars', 'duckdb', 'altair', 'pandas', 'scipy', 'prefect') if name in sys.modules])"
    )
    ended = subprocess.run(
        [sys.executable, "-c", look],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert ended.stdout == "[]\n", ended.stderr
