"""When a run is due and whether one was missed; and that the text for the system starts this very command."""

import configparser
import os
import shlex
import subprocess
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipelines.batch import schedule
from pipelines.batch.schedule import DAYS, Plan, autostart, is_late, run_weekly
from pipelines.commands.cli import main
from pipelines.storage.model_store import strike_runs
from pipelines.storage.session import opened
from pipelines.workspace import Workspace
from tests.support.small_dealer import workspace
from tests.support.stored_runs import keep_run

BERLIN = ZoneInfo("Europe/Berlin")
MONDAY = Plan("monday", time(6), BERLIN)
MOMENTS = st.datetimes(datetime(2020, 1, 1), datetime(2030, 1, 1)).map(lambda when: when.replace(tzinfo=UTC))


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=BERLIN)


@pytest.mark.parametrize(
    ("now", "last", "following"),
    [
        ("2026-11-23T05:59", "2026-11-16T06:00", "2026-11-23T06:00"),  # 2026-11-23 is a monday
        ("2026-11-23T06:00", "2026-11-23T06:00", "2026-11-30T06:00"),
        ("2026-11-29T23:59", "2026-11-23T06:00", "2026-11-30T06:00"),
        ("2026-10-25T12:00", "2026-10-19T06:00", "2026-10-26T06:00"),  # the clocks went back in between
    ],
)
def test_it_is_due_once_a_week_by_the_clock_on_the_wall(now, last, following) -> None:
    assert MONDAY.last_due(at(now)) == at(last)
    assert MONDAY.next_due(at(now)) == at(following)


@given(now=MOMENTS, day=st.sampled_from(DAYS), clock=st.times().map(lambda t: t.replace(second=0, microsecond=0)))
def test_now_lies_between_the_last_and_the_next_time(now, day, clock) -> None:
    plan = Plan(day, clock, BERLIN)
    last, following = plan.last_due(now), plan.next_due(now)
    assert last <= now < following or following - last < timedelta(days=6, hours=22)
    assert {DAYS[last.weekday()], DAYS[following.weekday()]} == {day}
    assert (following.date() - last.date()).days == 7


@pytest.mark.parametrize(("day", "field"), [("sunday", "0"), ("monday", "1"), ("saturday", "6")])
def test_the_five_fields_say_the_same(day, field) -> None:
    assert Plan(day, time(18, 5), BERLIN).cron == f"5 18 * * {field}"
    assert str(Plan(day, time(18, 5), BERLIN)) == f"every {day.capitalize()} at 18:05 (Europe/Berlin)"


@pytest.mark.parametrize(
    ("as_of", "late"), [("2026-11-22", True), ("2026-11-23", False), ("2026-11-25", False), (None, True)]
)
def test_a_report_older_than_the_day_it_was_due_is_late(tmp_path, as_of, late) -> None:
    place = workspace(tmp_path)
    if as_of:
        keep_run(place, "2026-W47", date.fromisoformat(as_of))
    assert is_late(place, MONDAY, at("2026-11-25T10:00")) is late
    if as_of:
        (place.reports / "2026-W47").rmdir()
        assert is_late(place, MONDAY, at("2026-11-25T10:00")), "the report was deleted"


def test_after_an_undo_or_a_restore_the_report_is_no_longer_there(tmp_path) -> None:
    place = workspace(tmp_path)
    keep_run(place, "2026-W47", date(2026, 11, 23))
    assert not is_late(place, MONDAY, at("2026-11-25T10:00"))
    with opened(place) as warehouse, warehouse.transaction():
        strike_runs(warehouse, 1_000_000)  # what is taken back came in after the run
    assert is_late(place, MONDAY, at("2026-11-25T10:00"))


def test_the_week_runs_in_a_process_whose_exit_code_counts(tmp_path, capfd) -> None:
    assert run_weekly(Workspace(tmp_path)) == 1
    assert f"{tmp_path} is no workspace" in capfd.readouterr().err


@pytest.fixture
def odd(tmp_path) -> Workspace:
    """A workspace whose path holds what each of the systems would read as something else."""
    place = workspace(tmp_path / 'O\'Neil 100% "cars" $HOME')
    return Workspace.open(place.root)


def started(words: list[str], place: Workspace) -> bool:
    return words[-6:] == ["schedule", str(place.root), "--day", "monday", "--at", "06:00"]


def test_the_unit_for_systemd_starts_this_command(odd, tmp_path) -> None:
    lines = list(autostart("linux", odd, MONDAY))
    unit = configparser.ConfigParser(interpolation=None)
    unit.optionxform = str  # type: ignore[assignment,method-assign]
    unit.read_string("\n".join(lines[2 : lines.index("Then run:")]))
    assert unit["Install"]["WantedBy"] == "default.target"
    assert unit["Service"]["Restart"] == "on-failure"
    # systemd.syntax(7) and systemd.service(5): backslashes as in C, %% is %, $$ is $; read from memory.
    command = unit["Service"]["ExecStart"]
    assert not set("%$") & set(command.replace("%%", "").replace("$$", ""))
    words = [word.replace("%%", "%").replace("$$", "$") for word in shlex.split(command)]
    assert started(words, odd)
    name = lines[0].rpartition("/")[2].rstrip(":")
    assert f"systemctl --user enable --now {name}" in lines
    assert 'loginctl enable-linger "$USER"' in lines


def test_the_line_for_cron_starts_this_command(odd) -> None:
    line = list(autostart("cron", odd, MONDAY))[-1]
    when, _, command = line.partition(" ")
    assert when == "@reboot"
    # crontab(5): an unescaped % ends the command; read from memory.
    assert "%" not in command.replace(r"\%", "")
    assert started(shlex.split(command.replace(r"\%", "%")), odd)


def test_the_lines_for_windows_start_this_command(tmp_path) -> None:
    place = workspace(tmp_path / "O'Neil cars")
    text = "\n".join(autostart("windows", place, MONDAY))
    [argument] = [line.partition("-Argument ")[2] for line in text.splitlines() if "-Argument" in line]
    assert argument[0] == argument[-1] == "'"
    inner = argument[1:-1].replace("''", "'")
    assert inner == f'schedule "{place.root}" --day monday --at 06:00'
    assert "New-ScheduledTaskTrigger -AtLogOn" in text
    assert "StartWhenAvailable = $true" in text


def test_two_workspaces_of_one_name_have_entries_of_their_own(tmp_path) -> None:
    names = {next(iter(autostart("linux", workspace(tmp_path / side / "cars"), MONDAY))) for side in "ab"}
    assert len(names) == 2


def test_the_command_prints_the_text_and_runs_only_what_is_late(tmp_path, monkeypatch, capsys) -> None:
    place = workspace(tmp_path / "cars")
    ran: list[Path] = []
    monkeypatch.setattr(schedule, "run_weekly", lambda it: ran.append(it.root) or 1)
    assert main(["schedule", str(place.root), "--autostart", "cron"]) == 0
    assert capsys.readouterr().out.splitlines() == list(
        autostart("cron", place, Plan("monday", time(6), ZoneInfo("UTC")))
    )
    assert not ran
    assert main(["schedule", str(place.root), "--once"]) == 1, "the exit code of the run"
    assert ran == [place.root]
    keep_run(place, "2099-W01", date(2099, 1, 5))
    assert main(["schedule", str(place.root), "--once", "--day", "friday", "--at", "18:30"]) == 0
    assert ran == [place.root]
    assert " is there; next due " in capsys.readouterr().out


def test_the_program_is_found_from_any_folder(tmp_path) -> None:
    ended = subprocess.run(
        [*schedule._program(), "--version"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[3])},
        capture_output=True,
        text=True,
        check=False,
    )
    assert ended.returncode == 0, ended.stderr
    assert ended.stdout.startswith("knockon ")
    assert Path(schedule._program()[0]).is_absolute()
