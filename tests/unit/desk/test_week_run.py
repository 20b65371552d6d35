"""The week that the desk runs: watched step by step, refused while another runs, and a failure said with its log."""

from __future__ import annotations

import json
import threading
import time
from datetime import date
from datetime import time as clock_time
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from pipelines.batch import run_journal, schedule
from pipelines.desk import week_run
from pipelines.desk.week_page import resume
from pipelines.desk.week_run import Progress, Waiter, WeekRun, hear
from pipelines.workspace import Workspace
from tests.support.desk_visitor import TODAY, Visitor, tree
from tests.support.small_dealer import workspace
from tests.support.week_steps import STEPS

SCANS = [{"vehicle": "K-1", "scanned_at": "2026-11-20T09:00", "module": "ABS", "code": "C0031"}]
PATIENCE = 300


@pytest.mark.slow
def test_a_week_is_run_and_watched_to_its_report(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    heard: list[int] = []

    def listening(progress: Progress, kind: str, what: Any) -> None:
        hear(progress, kind, what)
        heard.append(progress.step)

    monkeypatch.setattr(week_run, "hear", listening)
    guest = Visitor(workspace(tmp_path / "dealer", scans=SCANS).root)
    assert guest.post("/week/run").status_code == 303
    assert 'data-watch="/week/now"' in guest.get("/week").text
    refused = guest.post("/week/run")
    assert refused.status_code == 409
    seen: list[tuple[int, int]] = []
    progress = guest.desk.run.progress
    assert progress is not None
    while guest.desk.run.running:
        state = guest.get("/week/now").text
        seen.append((progress.step, progress.share))
        assert 'data-state="running"' in state or not guest.desk.run.running
        time.sleep(0.05)
    assert progress.why == ""
    assert progress.steps == [step.name for step in STEPS.values()]
    assert seen == sorted(seen)
    assert heard == sorted(heard), "no step begins after one that comes later in the list"
    assert len(set(seen)) > 3
    assert progress.share == 100
    assert progress.result["week"] == "2026-W48"
    page = guest.get("/week").text
    assert "The report is ready" in page
    assert 'src="/report/2026-W48/index.html"' in page
    assert guest.get("/report/2026-W48/index.html").status_code == 200


@pytest.mark.slow
def test_a_week_that_fails_says_why_and_where_its_log_is(tmp_path: Path):
    place = workspace(tmp_path / "dealer", scans=SCANS)
    place.settings_file.write_text("labour_rate = 'much'\n", encoding="utf-8")
    run = WeekRun()
    run.start(place, TODAY)
    assert run.wait(PATIENCE)
    assert run.progress is not None
    assert "knockon.toml" in run.progress.why
    assert str(run_journal.logs_of(place)) in run.progress.why
    place.settings_file.write_text("", encoding="utf-8")
    guest = Visitor(place.root)
    page = guest.get("/week").text
    assert "The last run left no report" in page
    assert "labour_rate" in page
    assert "failed" in guest.get("/week/log").text


def test_while_another_run_holds_the_folder_no_week_is_started(tmp_path: Path):
    guest = Visitor(workspace(tmp_path / "dealer", scans=SCANS).root)
    before = tree(guest.desk.folder)
    with guest.desk.workspace.lock():
        answer = guest.post("/week/run")
    assert answer.status_code == 409
    assert guest.desk.run.progress is None
    assert tree(guest.desk.folder) == before


def test_what_a_run_says_is_how_far_it_is():
    progress = Progress(TODAY)
    hear(progress, "steps", ["take in new files", "mine", "write the report", "keep"])
    hear(progress, "doing", "take in new files")
    hear(progress, "doing", "scans/november.csv, 3 of 7")
    assert (progress.step, progress.doing, progress.share) == (0, "scans/november.csv, 3 of 7", 0)
    hear(progress, "doing", "write the report")
    assert (progress.step, progress.doing, progress.share) == (2, "", 50)
    hear(progress, "failed", "the disk is full")
    assert progress.why == "the disk is full"


def test_a_run_that_ends_without_a_word_is_said_to_have_failed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(week_run, "COMMAND", ("python3", "-c", "import sys; print('noise'); sys.exit(9)"))
    run = WeekRun()
    run.start(workspace(tmp_path / "dealer"), TODAY)
    assert run.wait(PATIENCE)
    assert run.progress is not None
    assert run.progress.why == "It ended without a report (exit code 9)."


class Runs:
    """A run that ends at once, as often as it is asked; it leaves no report."""

    running = False

    def __init__(self) -> None:
        self.days: list[date] = []
        self.enough = threading.Event()

    def start(self, _workspace: Workspace, day: date) -> None:
        self.days.append(day)
        if len(self.days) == 3:
            self.enough.set()

    def wait(self, _seconds: float) -> bool:
        return True


def plan() -> schedule.Plan:
    return schedule.Plan("monday", clock_time(6), ZoneInfo("UTC"))


def test_a_week_that_was_missed_is_caught_up_and_tried_again_a_few_times(tmp_path: Path):
    place, runs = workspace(tmp_path / "dealer"), Runs()
    waiter: Any = Waiter(runs)  # type: ignore[arg-type]
    waiter.begin(place, plan(), lambda: TODAY, look=0.01)
    assert runs.enough.wait(PATIENCE)
    time.sleep(0.1)
    assert waiter.waiting
    waiter.end()
    assert runs.days == [TODAY] * 3


def test_where_a_schedule_waits_already_the_desk_does_not(tmp_path: Path):
    place, runs = workspace(tmp_path / "dealer"), Runs()
    waiter: Any = Waiter(runs)  # type: ignore[arg-type]
    with place.lock("waiting"):
        waiter.begin(place, plan(), lambda: TODAY, look=0.01)
        end = time.monotonic() + PATIENCE
        while waiter.waiting and time.monotonic() < end:
            time.sleep(0.01)
    assert runs.days == []
    assert waiter.why.startswith("knockon schedule is using")


def test_a_plan_is_kept_and_said_and_taken_up_by_the_next_start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    begun: list[str] = []
    monkeypatch.setattr(Waiter, "begin", lambda _self, _place, chosen, _today: begun.append(str(chosen)))
    guest = Visitor(workspace(tmp_path / "dealer").root)
    assert guest.post("/week/plan", day="friday", at="17:30").status_code == 303
    assert "every Friday at 17:30 (UTC)" in guest.get("/week").text
    kept = guest.desk.folder / ".knockon" / "desk" / "plan.json"
    assert json.loads(kept.read_text(encoding="utf-8")) == {"day": "friday", "at": "17:30"}
    resume(Visitor(guest.desk.folder).desk)
    assert begun == ["every Friday at 17:30 (UTC)"] * 2
    guest.post("/week/plan", end="1", day="friday", at="17:30")
    assert not kept.exists()
    assert "Nothing is planned." in guest.get("/week").text


def test_what_to_enter_so_that_it_runs_without_the_desk_is_what_schedule_says(tmp_path: Path):
    guest = Visitor(workspace(tmp_path / "dealer").root)
    guest.post("/week/plan", day="friday", at="17:30")
    guest.desk.waiter.end()
    page = guest.get("/week").text
    lines = list(
        schedule.autostart("cron", guest.desk.workspace, schedule.Plan("friday", clock_time(17, 30), ZoneInfo("UTC")))
    )
    assert lines[-1].replace("'", "&#39;") in page
