"""A run that left no report must be told by the next report, once, however it ended."""

import json
import os
import signal
import subprocess
import sys
from datetime import date, timedelta
from pathlib import Path

import pytest

from pipelines.batch import weekly
from pipelines.batch.run_journal import KEPT_DAYS, Journal, kept, logs_of, record_of
from pipelines.batch.step import Step
from pipelines.batch.weekly import run_week
from pipelines.commands.cli import main
from pipelines.errors import BatchError
from tests.support.small_dealer import workspace

ROOT = Path(__file__).parents[3]
AS_OF = date(2026, 11, 23)
SCAN = {"vehicle": "K-1", "scanned_at": "2026-11-20T09:00", "module": "ABS", "code": "C0031"}

# The command line, with a first step that never ends.
NEVER_ENDING = """
import sys, time
from pipelines.batch import weekly
from pipelines.batch.step import Step
from pipelines.commands.cli import main

def wait(*args, **kwargs):
    print("waiting", flush=True)
    time.sleep(600)

weekly.read = Step("wait", wait)
sys.exit(main(["weekly", sys.argv[1], "--engine", "plain"]))
"""


def failing(error: BaseException) -> Step:
    def fail(*_: object, **__: object) -> None:
        raise error

    return Step("take in new files", fail)


@pytest.mark.slow
def test_the_next_report_says_what_failed_and_the_one_after_does_not(tmp_path, monkeypatch) -> None:
    place = workspace(tmp_path / "dealer", scans=[SCAN])
    with monkeypatch.context() as patch:
        for error in (BatchError("the disk is full\nand more"), ValueError(), KeyboardInterrupt()):
            patch.setattr(weekly, "read", failing(error))
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


@pytest.mark.slow
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
    assert Journal(place).begin() == []
    with pytest.raises(BatchError), kept(place, AS_OF):
        raise BatchError("no room")
    [told] = Journal(place).begin()
    assert told.endswith(" left no report: no room")
    Journal(place).end({}, [])
    assert Journal(place).begin() == []


def log_of(place) -> str:
    [path] = logs_of(place).glob("*.log")
    return path.read_text("utf-8")


@pytest.mark.slow
def test_a_run_leaves_a_log_of_its_steps_settings_counts_and_notes(tmp_path) -> None:
    place = workspace(tmp_path / "dealer", scans=[SCAN])
    report = run_week(place, AS_OF)
    said = log_of(place)
    assert f"INFO the week of 2026-11-23 in {place.root}\n" in said
    assert "INFO setting labour_rate = 45\n" in said
    for name, seconds in report.timings.items():
        assert f"INFO {name}: {seconds:.3f} s\n" in said
    for name, count in report.counts.items():
        assert f"INFO count {name} = {count}\n" in said
    assert report.notes
    assert all(f"INFO note: {note}\n" in said for note in report.notes)
    assert said.endswith("INFO the report stands\n")


def test_what_fails_is_logged_and_the_user_is_told_where(tmp_path, monkeypatch, capsys) -> None:
    place = workspace(tmp_path / "dealer", scans=[SCAN])
    monkeypatch.setattr(weekly, "read", failing(BatchError("the disk is full")))
    assert main(["weekly", str(place.root), "--engine", "plain"]) == 1
    [path] = logs_of(place).glob("*.log")
    assert capsys.readouterr().err == f"knockon: the disk is full\nThe details are in {path}.\n"
    assert log_of(place).endswith("ERROR failed: the disk is full\n")
    path.unlink()
    monkeypatch.setattr(weekly, "read", failing(ZeroDivisionError("of nothing")))
    with pytest.raises(ZeroDivisionError) as caught:
        run_week(place, AS_OF)
    assert caught.value.__notes__ == [f"The details are in {next(logs_of(place).glob('*.log'))}."]
    assert "Traceback (most recent call last)" in log_of(place)
    assert log_of(place).endswith("ZeroDivisionError: of nothing\n")


@pytest.mark.slow
def test_a_log_is_kept_for_a_year(tmp_path) -> None:
    place = workspace(tmp_path / "dealer")
    logs_of(place).mkdir(parents=True)
    for days in (KEPT_DAYS - 1, KEPT_DAYS + 1):
        (logs_of(place) / f"{date.today() - timedelta(days=days)}-060000-1.log").touch()
    (logs_of(place) / "notes.txt").touch()
    run_week(place, AS_OF)
    kept_days = sorted(path.name[:10] for path in logs_of(place).glob("*.log"))
    assert kept_days == [f"{date.today() - timedelta(days=KEPT_DAYS - 1)}", f"{date.today()}"]
    assert (logs_of(place) / "notes.txt").exists()


@pytest.mark.slow
def test_a_log_that_cannot_be_written_does_not_stop_the_week(tmp_path) -> None:
    place = workspace(tmp_path / "dealer", scans=[SCAN])
    place.state.mkdir(exist_ok=True)
    logs_of(place).write_text("in the way", "utf-8")
    assert run_week(place, AS_OF).folder.is_dir()
