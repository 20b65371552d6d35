"""The server's process: it must come up, be shared, and never outlive the run that started it."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from pipelines.batch.prefect_server import _FIRST_START, EngineServer, engine_server, quiet_environment
from pipelines.errors import EngineError
from tests.support.loopback import answers, gone_within

ROOT = Path(__file__).parents[3]

# A stand-in for the engine's server: it knows whose it is, and says when it is up.
SERVER = """
import http.server, json, os
from pipelines.batch.prefect_server import end_with_parent

class Answer(http.server.BaseHTTPRequestHandler):
    def do_GET(self):
        self.send_response(200)
        self.end_headers()
        self.wfile.write(json.dumps({"home": os.environ["PREFECT_HOME"]}).encode())

    def log_message(self, *_):
        pass

end_with_parent()
server = http.server.HTTPServer(("127.0.0.1", 0), Answer)
print(f"http://127.0.0.1:{server.server_port}/api", flush=True)
server.serve_forever()
"""
COMMAND = [sys.executable, "-c", SERVER]


def test_the_server_is_up_inside_the_block_and_gone_after_it(tmp_path: Path) -> None:
    with engine_server(tmp_path, COMMAND) as server:
        address = server.address(30)
        assert answers(address)
        assert (tmp_path / "address").read_text(encoding="utf-8") == address
    assert not answers(address)
    assert not (tmp_path / "address").exists()


def test_a_running_server_of_the_same_workspace_is_used_and_left_alone(tmp_path: Path) -> None:
    with engine_server(tmp_path, COMMAND) as first:
        address = first.address(30)
        with engine_server(tmp_path, ["no such program"]) as second:
            assert second.address(0) == address
        assert answers(address)


def test_a_server_of_another_workspace_is_not_used(tmp_path: Path) -> None:
    mine = tmp_path / "mine"
    with engine_server(tmp_path / "other", COMMAND) as other:
        mine.mkdir()
        (mine / "address").write_text(other.address(30), encoding="utf-8")
        with engine_server(mine, COMMAND) as own:
            assert own.address(30) != other.address(0)


@pytest.mark.parametrize("recorded", ["", "http://127.0.0.1:1/api", "http://192.0.2.1:80/api", "no address"])
def test_a_stale_record_is_not_trusted(tmp_path: Path, recorded: str) -> None:
    (tmp_path / "address").write_text(recorded, encoding="utf-8")
    with engine_server(tmp_path, COMMAND) as server:
        assert server.address(30) != recorded


def test_a_server_that_does_not_answer_is_given_up_and_stopped(tmp_path: Path) -> None:
    server = EngineServer(tmp_path, [sys.executable, "-c", "import sys; sys.stdin.read()"])
    told: list[str] = []
    with pytest.raises(EngineError, match=re.escape("the engine's server did not answer within 0.2 s")):
        server.address(0.2, told.append)
    assert told == ["waiting for the engine's server: 0 s of 0.2 at most; " + _FIRST_START]
    server.close()
    assert server._child is not None
    assert server._child.returncode == 0


def test_a_server_that_ignores_its_parent_is_killed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pipelines.batch.prefect_server.PATIENCE", 0.2)
    server = EngineServer(tmp_path, [sys.executable, "-c", "import time; time.sleep(60)"])
    server.close()
    assert server._child is not None
    assert server._child.returncode not in (None, 0)


def test_a_server_that_fails_says_its_last_line(tmp_path: Path) -> None:
    command = [sys.executable, "-c", "import sys; sys.exit('the disk is full')"]
    with (
        engine_server(tmp_path, command) as server,
        pytest.raises(EngineError, match=r"^the engine's server ended at once: the disk is full$"),
    ):
        server.address(30)


def test_a_program_that_is_missing_is_an_engine_error(tmp_path: Path) -> None:
    with pytest.raises(EngineError, match=r"^the engine's server could not be started: .*no-such-program"):
        EngineServer(tmp_path, [str(tmp_path / "no-such-program")])


def test_the_server_ends_when_its_parent_is_killed_outright(tmp_path: Path) -> None:
    parent = (
        "import sys; from pathlib import Path; from pipelines.batch.prefect_server import EngineServer\n"
        f"print(EngineServer(Path({str(tmp_path)!r}), {COMMAND!r}).address(30), flush=True); sys.stdin.read()"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", parent],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    address = process.stdout.readline()
    assert answers(address)
    process.kill()
    process.wait()
    assert gone_within(address, 10)


def test_the_environment_is_quiet_local_and_free_of_other_installations(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PREFECT_API_URL", "http://somewhere.example/api")
    monkeypatch.setenv("PREFECT_API_DATABASE_CONNECTION_URL", "postgresql://somewhere.example/all")
    monkeypatch.setenv("no_proxy", "intranet.example")
    monkeypatch.setenv("KEPT", "yes")
    made = quiet_environment(tmp_path)
    assert "somewhere.example" not in " ".join(made.values())
    assert made["KEPT"] == "yes"
    assert made["NO_PROXY"] == "intranet.example,127.0.0.1"
    assert made["PREFECT_HOME"] == str(tmp_path)
    assert made["DO_NOT_TRACK"] == "1"
    assert made["PREFECT_SERVER_ANALYTICS_ENABLED"] == "false"
