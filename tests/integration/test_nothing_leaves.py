"""Nothing leaves this computer, and nothing in the files can make the program run something."""

from __future__ import annotations

import ast
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from pipelines.storage.warehouse import Warehouse
from tests.support.small_dealer import workspace

ROOT = Path(__file__).parents[2]
MODULES = sorted(path for room in ("pipelines", "analysis", "sql") for path in (ROOT / room).rglob("*.py"))
SCANS = [
    {"vehicle": f"K-{k}", "scanned_at": "2026-11-20T09:00", "module": "ABS", "code": code}
    for k, code in enumerate(("C0031", "C0035", ""), 1)
]
WEEKLY = [sys.executable, "-P", "-m", "pipelines", "weekly"]
PATIENCE = 540  # seconds, for a computer with much else to do; else ten

# In a network of its own: nothing but this computer's loopback, which has to be switched on first.
ALONE = """
import fcntl, os, socket, struct, sys
door = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
fcntl.ioctl(door, 0x8914, struct.pack("16sh", b"lo", 0x1 | 0x40))  # SIOCSIFFLAGS: up and running
try:
    socket.create_connection(("192.0.2.1", 80), 2)
except OSError as error:
    print(error, file=sys.stderr, flush=True)
os.execv(sys.argv[1], sys.argv[1:])
"""


def environment() -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(ROOT)}


def outside(line: str) -> bool:
    """Tell whether a traced call goes to another computer, or asks a server for names."""
    address = re.search(r'sin6?_port=htons\((\d+)\).*?"([0-9a-fA-F:.]+)"', line)
    if address is None:
        return False
    port, host = address.groups()
    return port == "53" or not (host.startswith("127.") or host in {"::1", "::ffff:127.0.0.1"})


def traced(folder: Path, command: list[str]) -> list[str]:
    """Run a command and all its children under watch; return their calls that name an internet address."""
    log = folder / "calls.txt"
    watch = ["strace", "-f", "--seccomp-bpf", "-qq", "-e", "trace=connect,bind,sendmsg,sendmmsg", "-o", str(log)]
    ended = subprocess.run(
        [*watch, *command], env=environment(), capture_output=True, text=True, check=False, timeout=PATIENCE
    )
    assert ended.returncode == 0, ended.stderr
    return [line for line in log.read_text(errors="replace").splitlines() if "AF_INET" in line]


def can_be_alone() -> bool:
    if shutil.which("unshare") is None:
        return False
    return subprocess.run(["unshare", "-rn", "true"], capture_output=True, check=False).returncode == 0


@pytest.mark.slow
@pytest.mark.skipif(not can_be_alone(), reason="nobody may make a network of its own here (unshare -rn)")
def test_the_week_needs_no_network(tmp_path) -> None:
    place = workspace(tmp_path / "dealer", scans=SCANS)
    ended = subprocess.run(
        ["unshare", "-rn", sys.executable, "-c", ALONE, *WEEKLY, str(place.root), "--date", "2026-11-23"],
        env=environment(),
        capture_output=True,
        text=True,
        check=False,
        timeout=PATIENCE,
    )
    assert ended.returncode == 0, ended.stderr
    assert ended.stderr.startswith("[Errno 101] Network is unreachable\n"), "there is no way out to be found"
    assert (place.reports / "2026-W48" / "index.html").is_file()


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed")
def test_the_week_calls_nobody_but_this_computer(tmp_path) -> None:
    place = workspace(tmp_path / "dealer", scans=SCANS)
    calls = traced(tmp_path, [*WEEKLY, str(place.root), "--date", "2026-11-23"])
    assert [line for line in calls if outside(line)] == []
    assert any("connect(" in line for line in calls), "the engine's server was called, so the watch sees"
    assert (place.reports / "2026-W48" / "index.html").is_file()


@pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed")
def test_the_watch_sees_who_calls_outside(tmp_path) -> None:
    call = "import socket; s = socket.socket(socket.AF_INET, socket.SOCK_DGRAM); s.connect(('192.0.2.1', 80))"
    inner = [sys.executable, "-c", f"import subprocess, sys; subprocess.run([sys.executable, '-c', {call!r}])"]
    [line] = traced(tmp_path, inner)
    assert outside(line)


@pytest.mark.parametrize(
    ("line", "leaves"),
    [
        ('connect(4, {sa_family=AF_INET, sin_port=htons(8123), sin_addr=inet_addr("127.0.0.1")}, 16) = 0', False),
        ('connect(4, {sa_family=AF_INET, sin_port=htons(443), sin_addr=inet_addr("203.0.113.9")}, 16) = 0', True),
        ('connect(4, {sa_family=AF_INET, sin_port=htons(53), sin_addr=inet_addr("127.0.0.11")}, 16) = 0', True),
        ('bind(4, {sa_family=AF_INET, sin_port=htons(0), sin_addr=inet_addr("0.0.0.0")}, 16) = 0', True),
        ('connect(4, {sa_family=AF_INET6, sin6_port=htons(443), inet_pton(AF_INET6, "2001:db8::1")}, 28)', True),
        ('connect(4, {sa_family=AF_INET6, sin6_port=htons(443), inet_pton(AF_INET6, "::1")}, 28)', False),
    ],
)
def test_loopback_is_told_from_the_rest(line, leaves) -> None:
    assert outside(line) is leaves


def test_the_database_fetches_no_extension_and_reads_no_other_file(tmp_path) -> None:
    with Warehouse(tmp_path / "a.duckdb") as warehouse:
        for name in ("autoinstall_known_extensions", "autoload_known_extensions", "enable_external_access"):
            assert warehouse.query(f"select current_setting('{name}') as it")["it"].to_list() == [False], name
        with pytest.raises(Exception, match="disabled by configuration"):
            warehouse.query(f"select * from read_csv('{__file__}')")


FORBIDDEN_CALLS = {
    *("eval", "exec", "compile", "__import__", "os.system", "os.popen", "yaml.load", "yaml.unsafe_load"),
    *("subprocess.getoutput", "subprocess.getstatusoutput", "pl.DataFrame.deserialize"),
}
FORBIDDEN_IMPORTS = {
    "pickle",
    "cPickle",
    "shelve",
    "marshal",
    "dill",
    "cloudpickle",
    "joblib",
    "yaml",
    "pty",
    "commands",
}


def dangers(source: str) -> list[str]:
    """Return what in a module runs text as a program, unpacks objects, or calls a shell."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call):
            if ast.unparse(node.func) in FORBIDDEN_CALLS:
                found.append(ast.unparse(node.func))
            # Whoever loads arrays says that no objects are unpacked: what a library takes for granted can change.
            if ast.unparse(node.func) == "np.load" and "allow_pickle" not in {word.arg for word in node.keywords}:
                found.append("np.load")
            found += [
                word.arg for word in node.keywords if word.arg in {"shell", "allow_pickle"} and not _no(word.value)
            ]
        elif isinstance(node, ast.Import | ast.ImportFrom):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else [node.module or ""]
            found += [name for name in names if name.split(".")[0] in FORBIDDEN_IMPORTS]
    return found


def _no(value: ast.expr) -> bool:
    return isinstance(value, ast.Constant) and value.value is False


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_no_module_runs_text_unpacks_objects_or_calls_a_shell(path) -> None:
    assert dangers(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    "source",
    [
        "eval('1')", "exec(text)", "import pickle", "from shelve import open", "import os\nos.system('ls')",
        "import subprocess\nsubprocess.run('ls', shell=True)", "subprocess.run(c, shell=wanted)", "import yaml",
        "np.load(f, allow_pickle=True)", "np.load(f)",
    ],
)  # fmt: skip
def test_what_is_forbidden_is_found(source) -> None:
    assert dangers(source)


def test_what_is_allowed_is_not() -> None:
    assert not dangers(
        "import re, subprocess\nre.compile('a')\nsubprocess.run(['ls'], shell=False)\nnp.load(f, allow_pickle=False)"
    )
