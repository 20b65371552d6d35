"""The server's process: it must come up, be shared, and never outlive the run that started it."""

from __future__ import annotations

import json
import os
import re
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from pipelines.batch.prefect_server import _FIRST_START, EngineServer, engine_server, quiet_environment
from pipelines.errors import EngineError
from tests.support.loopback import answers, gone_within, recorded

ROOT = Path(__file__).parents[3]

# A stand-in for the engine's server: it knows its key, and says when it is up.
SERVER = """
import http.server, os
from pipelines.batch.prefect_server import KEY, end_with_parent
from pipelines.batch.server_guard import NONCE_HEADER, proof

class Answer(http.server.BaseHTTPRequestHandler):
    def do_GET(self):
        self.send_response(200)
        self.end_headers()
        self.wfile.write(proof(os.environ[KEY], self.headers.get(NONCE_HEADER, ""), "answers").encode())

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
        assert recorded(tmp_path) == (address, server.key)
        if os.name != "nt":
            assert stat.S_IMODE((tmp_path / "server.json").stat().st_mode) == 0o600
    assert not answers(address)
    assert not (tmp_path / "server.json").exists()


def test_each_start_has_a_key_of_its_own(tmp_path: Path) -> None:
    keys = []
    for _ in range(2):
        with engine_server(tmp_path, COMMAND) as server:
            server.address(30)
            keys.append(server.key)
    assert len(set(keys)) == 2
    assert all(len(key) > 40 for key in keys), "256 bits are 43 letters"


def test_a_running_server_of_the_same_workspace_is_used_and_left_alone(tmp_path: Path) -> None:
    with engine_server(tmp_path, COMMAND) as first:
        address = first.address(30)
        with engine_server(tmp_path, ["no such program"]) as second:
            assert second.address(0) == address
            assert second.key == first.key
        assert answers(address)


def test_a_server_that_does_not_know_the_key_is_not_used(tmp_path: Path) -> None:
    mine = tmp_path / "mine"
    with engine_server(tmp_path / "other", COMMAND) as other:
        mine.mkdir()
        record = {"address": other.address(30), "key": "knockon:of a server that is gone"}
        (mine / "server.json").write_text(json.dumps(record), encoding="utf-8")
        with engine_server(mine, COMMAND) as own:
            assert own.address(30) != other.address(0)


@pytest.mark.parametrize("address", ["", "http://127.0.0.1:1/api", "http://192.0.2.1:80/api", "no address", None])
def test_a_stale_record_is_not_trusted(tmp_path: Path, address: str | None) -> None:
    record = "[" if address is None else json.dumps({"address": address, "key": "knockon:old"})
    (tmp_path / "server.json").write_text(record, encoding="utf-8")
    with engine_server(tmp_path, COMMAND) as server:
        assert server.address(30) != address
        assert server.key != "knockon:old"


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
    assert made["PREFECT_UI_ENABLED"] == "false"
    assert "*" not in made["PREFECT_SERVER_CORS_ALLOWED_ORIGINS"]
    assert "PREFECT_SERVER_API_AUTH_STRING" not in made, "the key is for the server alone"
