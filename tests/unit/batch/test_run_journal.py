"""A run that left no report must be told by the next report, once, however it ended."""

import json
import os
import signal
import subprocess
import sys
from datetime import date, datetime
from pathlib import Path

import pytest

from pipelines.batch import weekly
from pipelines.batch.run_journal import begin, forget, record_of, remembered
from pipelines.batch.weekly import Step, run_week
from pipelines.commands.cli import main
from pipelines.errors import BatchError
from tests.support.small_dealer import workspace

ROOT = Path(__file__).parents[3]
AS_OF = date(2026, 11, 23)
NOW = datetime(2026, 11, 23, 6, 0)
SCAN = {"vehicle": "K-1", "scanned_at": "2026-11-20T09:00", "module": "ABS", "code": "C0031"}

# The command line, with a first step that never ends.
NEVER_ENDING = """
import sys, time
from pipelines.batch import weekly
from pipelines.commands.cli import main

def wait(batch):
    print("waiting", flush=True)
    time.sleep(600)

weekly.STEPS = (weekly.Step("wait", wait), *weekly.STEPS)
sys.exit(main(["weekly", sys.argv[1], "--engine", "plain"]))
"""


def failing(error: BaseException) -> tuple[Step, ...]:
    def fail(_batch: object) -> None:
        raise error

    return (Step("fail", fail),)


def test_the_next_report_says_what_failed_and_the_one_after_does_not(tmp_path, monkeypatch) -> None:
    place = workspace(tmp_path / "dealer", scans=[SCAN])
    with monkeypatch.context() as patch:
        for error in (BatchError("the disk is full\nand more"), ValueError(), KeyboardInterrupt()):
            patch.setattr(weekly, "STEPS", failing(error))
            with pytest.raises(type(error)):
                run_week(place, AS_OF)
    said = [note for note in run_week(place, AS_OF).notes if "left no report" in note]
    assert [note.partition(" left ")[2] for note in said] == [
        "no report: the disk is full",
        "no report: ValueError",
        "no report: it was interrupted",
    ]
    assert all(note.startswith(f"The run of {date.today():%Y-%m-%d} ") for note in said)
    report = place.reports / "2026-W48"
    assert [note for note in json.loads((report / "run.json").read_text("utf-8"))["warnings"] if note in said] == said
    assert said[0] in (report / "index.html").read_text("utf-8")
    assert not record_of(place).exists()
    assert not [note for note in run_week(place, AS_OF).notes if "left no report" in note]


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="Windows has no such signal")
def test_a_run_that_was_killed_outright_is_told_too(tmp_path) -> None:
    place = workspace(tmp_path / "dealer", scans=[SCAN])
    process = subprocess.Popen(
        [sys.executable, "-c", NEVER_ENDING, str(place.root)],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "waiting\n"
    assert main(["weekly", str(place.root), "--engine", "plain"]) == 1, "the other run holds the workspace"
    process.send_signal(signal.SIGKILL)
    process.wait()
    [note] = [note for note in run_week(place, AS_OF).notes if "left no report" in note]
    assert note.endswith(" left no report: it was cut short")


def test_a_fault_in_the_settings_counts_and_ends_with_1(tmp_path, capsys) -> None:
    place = workspace(tmp_path / "dealer", scans=[SCAN])
    place.settings_file.write_text("labour_rate = 'much'\n")
    assert main(["weekly", str(place.root), "--engine", "plain"]) == 1
    place.settings_file.unlink()
    [note] = [note for note in run_week(place, AS_OF).notes if "left no report" in note]
    assert "labour_rate: expected a number" in note
    assert "labour_rate: expected a number" in capsys.readouterr().err


@pytest.mark.parametrize("damage", ["", "{", "[1, 2]", '{"began": 1}'])
def test_a_damaged_record_is_no_obstacle(tmp_path, damage) -> None:
    place = workspace(tmp_path / "dealer")
    place.state.mkdir()
    record_of(place).write_text(damage)
    assert begin(place, NOW) == []
    with pytest.raises(BatchError), remembered(place):
        raise BatchError("no room")
    assert begin(place, NOW) == ["The run of 2026-11-23 06:00 left no report: no room"]
    forget(place)
    assert begin(place, NOW) == []
