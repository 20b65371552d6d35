"""The engine's server answers nobody without its key: the real server, started as the schedule does, and strangers."""

from __future__ import annotations

import base64
import http.client
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from pipelines.batch.prefect_server import engine_server, quiet_environment
from pipelines.batch.scheduler import SERVE
from pipelines.batch.server_guard import HOST, NONCE_HEADER, PROOF_PATH, basic, proof
from tests.support.loopback import listening

LOOPBACK = "0100007F"  # 127.0.0.1 as Linux writes it in /proc/net/tcp
PATIENCE = 240  # seconds; with nothing else to do it takes five
PATHS = (
    *("/", "/api/", "/api/health", "/api/ready", "/api/version", "/api/admin/settings", "/api/admin/version"),
    *("/docs", "/redoc", "/openapi.json", "/api/docs", "/api/openapi.json", "/ui-settings", "/api/static/", PROOF_PATH),
    *("//api/health", "/api/../api/admin/settings", "/API/health", "/api/health?x=/api/health", "/no/such/path"),
)
DEPLOYMENTS = ("POST", "/api/deployments/filter")


class Asked:
    """The server of a schedule, and what is asked of it."""

    def __init__(self, home: Path, address: str, key: str) -> None:
        self.home, self.key = home, key
        self.port = int(address.rpartition(":")[2].partition("/")[0])

    def ask(self, method: str, path: str, headers: dict[str, str]) -> tuple[int, dict[str, str], str]:
        connection = http.client.HTTPConnection(HOST, self.port, timeout=60)
        body = b"{}" if method in ("POST", "PUT", "PATCH") else None
        connection.request(method, path, body, {"Content-Type": "application/json", **headers})
        answer = connection.getresponse()
        text = answer.read().decode("utf-8", "replace")
        connection.close()
        return answer.status, {name.lower(): value for name, value in answer.getheaders()}, text

    def upgrade(self, headers: dict[str, str]) -> int:
        """Ask for the web socket of the events; 101 is yes."""
        wanted = {
            "Connection": "Upgrade",
            "Upgrade": "websocket",
            "Sec-WebSocket-Version": "13",
            "Sec-WebSocket-Key": base64.b64encode(b"0123456789abcdef").decode(),
            "Sec-WebSocket-Protocol": "prefect",
        }
        connection = http.client.HTTPConnection(HOST, self.port, timeout=60)
        connection.request("GET", "/api/events/in", headers=wanted | headers)
        try:
            return connection.getresponse().status
        finally:
            connection.close()


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Asked]:
    home = tmp_path_factory.mktemp("dealer") / ".knockon" / "schedule"
    with engine_server(home, SERVE) as started:
        yield Asked(home, started.address(PATIENCE), started.key)


def wrong(key: str) -> list[dict[str, str]]:
    """Return headers that carry no key, another one, or the right one in another way."""
    name, _, password = key.partition(":")
    given = [
        basic(f"{name}:{'0' * len(password)}"),
        basic(f"{name}:"),
        basic(f"admin:{password}"),
        basic(key[:-1]),
        basic(key + "0"),
        basic(key).replace("Basic", "Bearer"),
        basic(key).replace("Basic ", "Basic  "),
        f"Bearer {password}",
        f"Basic {key}",
        key,
        "Basic",
        "",
        "\xe9",
    ]
    return [{}, *({"Authorization": text} for text in given), {"Cookie": f"key={password}"}, {"X-Key": password}]


@pytest.mark.slow
@pytest.mark.parametrize("path", PATHS)
def test_without_the_key_no_path_is_answered(server: Asked, path: str) -> None:
    for method in ("GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS"):
        status, headers, said = server.ask(method, path, {})
        assert status == 401, (method, path)
        assert "access-control-allow-origin" not in headers
        assert said in ("", "This server wants its key.")


@pytest.mark.slow
def test_a_wrong_key_is_refused_and_the_right_one_works(server: Asked) -> None:
    for headers in wrong(server.key):
        assert server.ask(*DEPLOYMENTS, headers)[0] == 401, headers
        assert server.upgrade(headers) == 403, headers
    right = {"Authorization": basic(server.key)}
    status, _, said = server.ask(*DEPLOYMENTS, right)
    assert (status, json.loads(said)) == (200, [])
    assert server.ask("GET", "/api/health", right)[::2] == (200, "true")
    assert server.upgrade(right) == 101
    assert server.ask("GET", "/", right)[0] == 404, "there is no page"


@pytest.mark.slow
@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://elsewhere.example"},
        {"Origin": "null"},
        {"Origin": "none"},
        {"Origin": "http://127.0.0.1:{port}"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Mode": "no-cors"},
        {"Host": "elsewhere.example"},
        {"Host": "elsewhere.example:{port}"},
        {"Host": "localhost:{port}"},
        {"Host": "127.0.0.1"},
        {"Host": "127.0.0.1:1"},
        {"Host": "127.0.0.1:{port}.elsewhere.example"},
        {"Host": ""},
    ],
)
def test_another_site_or_another_name_gets_nothing_even_with_the_key(server: Asked, headers: dict[str, str]) -> None:
    given = {name: text.format(port=server.port) for name, text in headers.items()}
    for more in ({}, {"Authorization": basic(server.key)}):
        for method in ("GET", "POST", "OPTIONS"):
            status, told, _ = server.ask(method, "/api/deployments/filter", {**given, **more})
            assert status == 403, given
            assert not any(name.startswith("access-control") for name in told)
        assert server.upgrade({**given, **more}) == 403


@pytest.mark.slow
def test_it_proves_that_it_knows_the_key_to_those_who_do(server: Asked) -> None:
    nonce = "drawn"
    asks = {NONCE_HEADER: nonce, "Authorization": proof(server.key, nonce, "asks")}
    assert server.ask("GET", PROOF_PATH, asks)[::2] == (200, proof(server.key, nonce, "answers"))
    assert server.ask("GET", PROOF_PATH, {**asks, NONCE_HEADER: "another"})[0] == 401
    assert server.ask("GET", "/api/version", asks)[0] == 401, "a proof opens nothing else"


@pytest.mark.slow
def test_it_listens_on_this_computer_alone_and_its_key_stands_in_one_private_file(server: Asked) -> None:
    if sys.platform == "linux":
        assert list(listening(os.getpid()).values()) == [{LOOPBACK}]
    secret = server.key.partition(":")[2].encode()
    told = basic(server.key).partition(" ")[2].encode()
    files = [path for path in server.home.parent.rglob("*") if path.is_file()]
    assert server.home / "prefect.db" in files
    holding = [path for path in files if any(text in path.read_bytes() for text in (secret, told))]
    assert holding == [server.home / "server.json"]
    if os.name != "nt":
        assert holding[0].stat().st_mode & 0o777 == 0o600
        assert server.home.stat().st_mode & 0o777 == 0o700
    settings = server.ask("GET", "/api/admin/settings", {"Authorization": basic(server.key)})
    assert settings[0] == 200
    assert secret.decode() not in settings[2]


def test_a_server_without_a_key_does_not_start(tmp_path: Path) -> None:
    environment = {**quiet_environment(tmp_path), "PYTHONPATH": str(Path(__file__).parents[3])}
    ended = subprocess.run(SERVE, env=environment, stdin=subprocess.PIPE, capture_output=True, text=True, check=False)
    assert ended.returncode != 0
    assert ended.stdout == ""
    assert ended.stderr.splitlines()[-1] == "KeyError: 'PREFECT_SERVER_API_AUTH_STRING'"
