"""A user without rights gets words with a place and a remedy, never a traceback; nobody else reads a workspace."""

from __future__ import annotations

import ctypes
import os
import subprocess
import sys
from pathlib import Path

import pytest

from pipelines.commands.cli import main
from pipelines.report.new_workspace import init_workspace
from pipelines.workspace import Workspace
from tests.support.keepers import CAR, dealer, put, scans

ROOT = Path(__file__).parents[3]
# capabilities(7): with these the superuser reads and writes whatever the rights say; dropped from the bounding set, the
# programs that are started are refused like anybody else.  The numbers are those of linux/capability.h and prctl(2).
DAC_OVERRIDE, DAC_READ_SEARCH, PR_CAPBSET_DROP = 1, 2, 24
pytestmark = pytest.mark.skipif(os.name == "nt", reason="rights are other there")


def drop_override() -> None:
    """In the child, before it becomes the command: no override, whoever runs the tests."""
    if sys.platform == "linux" and os.geteuid() == 0:
        library = ctypes.CDLL(None)
        for capability in (DAC_OVERRIDE, DAC_READ_SEARCH):
            assert library.prctl(PR_CAPBSET_DROP, capability, 0, 0, 0) == 0


def run(*words: object) -> subprocess.CompletedProcess[str]:
    """Run a command as a user for whom rights count."""
    return subprocess.run(
        [sys.executable, "-m", "pipelines", *map(str, words)],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        preexec_fn=drop_override,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


@pytest.fixture
def locked(tmp_path) -> Path:
    """A folder that can be looked into and not written."""
    folder = tmp_path / "locked"
    folder.mkdir()
    folder.chmod(0o555)
    return folder


@pytest.fixture
def closed(tmp_path) -> Path:
    """A workspace whose ``.knockon`` cannot be written; its scans can be read."""
    folder = tmp_path / "dealer"
    init_workspace(folder)
    put(Workspace(folder), "scans/1.csv", scans("P0301"))
    (folder / ".knockon").mkdir()
    for path in [folder, *folder.rglob("*")]:
        path.chmod(0o555 if path.is_dir() else 0o444)
    return folder


def said_in_words(ended: subprocess.CompletedProcess[str], *wanted: str) -> str:
    told = ended.stderr
    assert ended.returncode == 1, told
    assert "Traceback" not in told
    assert "Errno" not in told, "the library's own wording"
    for words in wanted:
        assert words in told
    return told


def test_a_draft_that_cannot_be_written(locked, closed):
    ended = run("map", closed / "inbox" / "scans" / "1.csv", "--out", locked / "x.toml")
    said_in_words(ended, f"{locked / 'x.toml'} could not be", "Permission denied", "Nothing was written")


def test_the_demo_in_a_folder_that_cannot_be_written(locked):
    ended = run("demo", locked / "demo", "--engine", "plain")
    said_in_words(ended, f"{locked / 'demo'} could not be", "'knockon demo FOLDER' lays the demo out elsewhere")


@pytest.mark.parametrize(
    "words",
    [
        ["schedule"],
        ["backup"],
        *(
            pytest.param(words, marks=pytest.mark.slow)
            for words in (["weekly", "--engine", "plain"], ["weekly"], ["restore"], ["undo"], ["verify"])
        ),
    ],
    ids=" ".join,
)
def test_a_workspace_whose_working_files_cannot_be_written(closed, words):
    told = said_in_words(
        run(words[0], closed, *words[1:]), ".knockon", "Give your user the right to write in the workspace"
    )
    assert told.count("may not be written") == 1, "said once"


@pytest.mark.slow
def test_the_run_that_a_schedule_starts_says_it_too(closed):
    said_in_words(run("schedule", closed, "--once"), "Give your user the right to write in the workspace")


def test_rights_count_for_these_tests(locked):
    told = subprocess.run(["touch", str(locked / "x")], preexec_fn=drop_override, check=False)
    assert told.returncode != 0


@pytest.mark.parametrize("words", [["check"], ["map"]])
def test_settings_that_cannot_be_read(closed, words):
    (closed / "knockon.toml").chmod(0o000)
    said_in_words(run(*words, closed / "inbox" / "scans" / "1.csv"), f"{closed / 'knockon.toml'} could not be read")


@pytest.mark.parametrize(("words", "seen"), [("check", "nothing would be taken"), ("map", "Nothing was written")])
def test_a_pipe_is_not_waited_for(tmp_path, words, seen, capsys):
    os.mkfifo(tmp_path / "pipe")
    assert main([words, str(tmp_path / "pipe")]) == 1
    told = "".join(capsys.readouterr())
    assert "is a device or a pipe; expected a file to look at" in told
    assert seen in told


@pytest.mark.slow
def test_all_that_a_workspace_holds_is_for_its_owner_alone(tmp_path):
    place = dealer(tmp_path / "dealer")
    put(place, "stock/cars.csv", [CAR])
    put(place, "scans/1.csv", scans("P0301"))
    (place.inbox / "scans" / "binary.csv").write_bytes(bytes(range(256)))
    for path in [place.root, *place.root.rglob("*")]:
        path.chmod(0o777 if path.is_dir() else 0o666)
    assert main(["weekly", str(place.root), "--engine", "plain", "--date", "2026-11-23"]) == 0
    assert main(["share", str(place.root)]) == 0
    assert main(["backup", str(place.root)]) == 0
    found = {path.relative_to(place.root).as_posix(): path.stat().st_mode & 0o777 for path in place.root.rglob("*")}
    assert len(found) > 40
    assert {name: oct(mode) for name, mode in found.items() if mode & 0o077} == {}
    assert place.root.stat().st_mode & 0o777 == 0o700


def test_the_umask_is_the_callers_again(tmp_path):
    before = os.umask(0o022)
    try:
        assert main(["init", str(tmp_path / "dealer")]) == 0
        assert os.umask(0o022) == 0o022
    finally:
        os.umask(before)
    assert (tmp_path / "dealer" / "knockon.toml").stat().st_mode & 0o777 == 0o600
