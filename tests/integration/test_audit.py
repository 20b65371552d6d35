"""The audit of installed packages: a known vulnerability fails it, a lost network is said aloud."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).parents[2] / ".ci" / "audit.py"
GOOD = {"name": "polars", "version": "2.1.0", "vulns": []}
BAD = {"name": "jinja2", "version": "2.4", "vulns": [{"id": "CVE-2019-10906", "fix_versions": ["2.10.1"]}]}
SKIPPED = {"name": "knockon", "skip_reason": "not found"}


def audit(tmp_path: Path, text: str | None) -> subprocess.CompletedProcess[str]:
    path = tmp_path / "findings.json"
    if text is not None:
        path.write_text(text)
    return subprocess.run([sys.executable, SCRIPT, path], capture_output=True, text=True, check=False)


def test_a_known_vulnerability_fails_and_is_named(tmp_path) -> None:
    ended = audit(tmp_path, json.dumps({"dependencies": [GOOD, BAD, SKIPPED]}))
    assert ended.returncode == 1
    assert ended.stdout.splitlines() == [
        "jinja2 2.4: CVE-2019-10906; mended in 2.10.1",
        "2 of 3 packages looked up, 1 known vulnerabilities",
    ]


def test_no_known_vulnerability_passes_without_a_warning(tmp_path) -> None:
    ended = audit(tmp_path, json.dumps({"dependencies": [GOOD]}))
    assert (ended.returncode, ended.stdout) == (0, "1 of 1 packages looked up, 0 known vulnerabilities\n")


@pytest.mark.parametrize("text", [None, "", "[]", '{"dependencies": [{"name": "polars", "skip_reason": "404"}]}'])
def test_what_could_not_be_looked_up_is_said_aloud_and_does_not_fail(tmp_path, text) -> None:
    ended = audit(tmp_path, text)
    assert ended.returncode == 0
    assert ended.stdout.splitlines()[-1].startswith("WARNING: NOT AUDITED: ")
