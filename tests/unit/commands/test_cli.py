"""The commands as a user meets them: words in, words and an exit code out."""

from __future__ import annotations

import platform
import re
import subprocess
import sys
from datetime import date
from importlib.metadata import version
from pathlib import Path

import pytest

from pipelines.batch import weekly
from pipelines.batch.summary import LINES, summary_rows
from pipelines.batch.weekly import WeekReport
from pipelines.commands.cli import main
from pipelines.commands.demo_dealer import lay_out_demo
from pipelines.errors import BatchError, EngineError, WorkspaceError
from pipelines.workspace import Workspace

ROOT = Path(__file__).parents[3]
HEAVY = {"polars", "duckdb", "prefect", "pandas", "scipy", "mlxtend", "altair", "statsmodels", "rich", "numpy"}
SCANS = (
    "vehicle,scanned_at,module,code\nA1,2026-11-01T09:00,ECM,P0300\nA1,23/11/26,ECM,P0301\nA2,2026-11-02,ABS,C0031\n"
)


@pytest.fixture
def dealer(tmp_path) -> Path:
    (tmp_path / "inbox" / "scans").mkdir(parents=True)
    return tmp_path


@pytest.fixture
def week(monkeypatch) -> list[tuple[Workspace, date]]:
    """Stand in for the batch; return what it was asked for."""
    asked: list[tuple[Workspace, date]] = []

    def run(workspace, as_of, progress=None) -> WeekReport:
        asked.append((workspace, as_of))
        counts = {"files_read": 3, "rows_refused": 2, "codes_masked": 0}
        return WeekReport(
            folder=workspace.reports / "2026-W48",
            counts=counts,
            notes=["A1 [bold] was sold"],
            timings={"read": 1.5},
            nothing_readable=False,
        )

    monkeypatch.setattr(weekly, "run_week", run)
    return asked


@pytest.mark.parametrize("command", [[], ["init"], ["demo"], ["weekly"], ["check"], ["log"]], ids=str)
def test_help_ends_with_an_example_that_is_understood(command, capsys) -> None:
    assert main([*command, "--help"]) == 0
    example = capsys.readouterr().out.strip().splitlines()[-1]
    assert example.startswith("  Example: knockon ")
    assert main([example.split()[2], "--help"]) == 0


def test_help_imports_nothing_heavy() -> None:
    code = "import sys; from pipelines.commands.cli import main; main(['--help']); print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert not HEAVY & set(done.stdout.splitlines()[-1].split())


def test_version_names_python_and_the_libraries(capsys) -> None:
    assert main(["--version"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == f"knockon {version('knockon')}"
    assert lines[1].startswith(f"python {platform.python_version()} on ")
    assert {f"{name} {version(name)}" for name in ("polars", "duckdb", "prefect", "mlxtend", "altair")} <= set(lines)
    assert not any(line.startswith("pytest") for line in lines), "only what a user needs"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["mend"], "No such command 'mend'."),
        (["weekly", "--engine", "steam"], "'steam' is not one of 'prefect', 'plain'"),
        (["weekly", "--date", "23.11.2026"], "does not match the format"),
        (["check"], "Missing argument"),
    ],
    ids=["command", "engine", "date", "no file"],
)
def test_what_is_not_understood_ends_with_2(words, message, capsys) -> None:
    assert main(words) == 2
    assert message in capsys.readouterr().err


def test_init_makes_a_workspace_once_and_keeps_what_is_there(tmp_path, capsys) -> None:
    folder = tmp_path / "dealer"
    assert main(["init", str(folder)]) == 0
    assert "made knockon.toml\n" in capsys.readouterr().out
    (folder / "knockon.toml").write_text("currency = 'GBP'", encoding="utf-8")
    assert main(["init", str(folder)]) == 0
    said = capsys.readouterr().out
    assert f"{folder} is complete; nothing was changed" in said
    assert f"Next: put files into {folder / 'inbox'} and run 'knockon weekly {folder}'" in said
    assert (folder / "knockon.toml").read_text(encoding="utf-8") == "currency = 'GBP'"


def test_weekly_ends_with_a_summary_and_where_the_report_is(dealer, week, capsys) -> None:
    assert main(["weekly", str(dealer), "--engine", "plain", "--date", "2026-11-23"]) == 0
    assert week == [(Workspace.open(dealer), date(2026, 11, 23))]
    said = capsys.readouterr()
    assert re.search(r"^ +3 +files read *$", said.out, re.MULTILINE)
    assert re.search(r"^ +2 +rows refused +see rejects.csv", said.out, re.MULTILINE)
    assert re.search(r"^ +0 +codes left alone *$", said.out, re.MULTILINE), "no reason for what did not happen"
    assert "Notes (1 of 1; all are in run.json):\n- A1 [bold] was sold\n" in said.out
    assert f"Report:  {dealer / 'reports' / '2026-W48' / 'index.html'}\n" in said.out
    assert said.err == "", "progress where nobody watches"


def test_weekly_is_for_today_unless_told_otherwise(dealer, week) -> None:
    assert main(["weekly", str(dealer), "--engine", "plain"]) == 0
    assert week[0][1] == date.today()


def test_the_plain_run_takes_over_where_the_engine_cannot_start(dealer, week, monkeypatch, capsys) -> None:
    def refuse(*_) -> WeekReport:
        raise EngineError("the engine's server did not answer within 120 s")

    monkeypatch.setattr("pipelines.batch.flows.run_with_engine", refuse)
    assert main(["weekly", str(dealer)]) == 0
    starting, warning = capsys.readouterr().err.splitlines()
    assert starting.startswith("Starting the engine; ")
    assert warning == ("Warning: the engine's server did not answer within 120 s. The same steps are run without it.")
    assert len(week) == 1


def test_where_nothing_could_be_read_weekly_ends_with_1_after_the_summary(dealer, monkeypatch, capsys) -> None:
    report = WeekReport(
        folder=dealer,
        counts={"files_refused": 1},
        notes=["scans/a.csv: the header lacks code"],
        timings={},
        nothing_readable=True,
    )
    monkeypatch.setattr(weekly, "run_week", lambda *_, **__: report)
    assert main(["weekly", str(dealer), "--engine", "plain"]) == 1
    said = capsys.readouterr()
    assert "- scans/a.csv: the header lacks code" in said.out
    assert said.err == "knockon: There were files, and nothing in them could be read; the reasons stand above.\n"


def test_a_folder_that_is_no_workspace_ends_with_1(tmp_path, capsys) -> None:
    assert main(["weekly", str(tmp_path)]) == 1
    assert capsys.readouterr().err.startswith(f"knockon: {tmp_path} is no workspace: ")


@pytest.mark.parametrize(
    ("raised", "code", "message"),
    [
        (KeyboardInterrupt(), 130, "knockon: interrupted. Files taken in so far stay taken in; run it again.\n"),
        (BatchError("the disk is full"), 1, "knockon: the disk is full\n"),
    ],
    ids=["interrupted", "fault"],
)
def test_how_a_run_breaks_off_is_said_and_in_the_exit_code(dealer, monkeypatch, capsys, raised, code, message) -> None:
    def run(*_, **__) -> WeekReport:
        raise raised

    monkeypatch.setattr(weekly, "run_week", run)
    assert main(["weekly", str(dealer), "--engine", "plain"]) == code
    assert capsys.readouterr().err == message


def test_a_fault_in_the_program_is_not_hidden(dealer, monkeypatch) -> None:
    monkeypatch.setattr(weekly, "run_week", lambda *_, **__: 1 // 0)
    with pytest.raises(ZeroDivisionError):
        main(["weekly", str(dealer), "--engine", "plain"])


def test_check_says_what_would_be_taken_and_loads_nothing(dealer, capsys) -> None:
    path = dealer / "inbox" / "scans" / "november.csv"
    path.write_text(SCANS, encoding="utf-8")
    assert main(["check", str(path)]) == 0
    said = capsys.readouterr().out
    assert f"{path}: scans, 3 rows: 2 taken, 1 refused\n" in said
    assert re.search(r"^ +\d+ +scanned_at +23/11/26 +expected", said, re.MULTILINE)
    assert sorted(file.name for file in dealer.rglob("*") if file.is_file()) == ["november.csv"]


def test_a_value_out_of_a_file_is_shown_as_it_stands(dealer, capsys) -> None:
    path = dealer / "inbox" / "scans" / "odd.csv"
    path.write_text(SCANS.replace("23/11/26", "[red]soon[/red]"), encoding="utf-8")
    assert main(["check", str(path)]) == 0
    assert " [red]soon[/red] " in capsys.readouterr().out


def test_check_knows_the_table_by_its_header_or_is_told(tmp_path, capsys) -> None:
    path = tmp_path / "export.csv"
    path.write_text(SCANS, encoding="utf-8")
    assert main(["check", str(path)]) == 0
    assert f"{path}: scans, 3 rows" in capsys.readouterr().out
    assert main(["check", "--table", "stock", str(path)]) == 1
    said = capsys.readouterr()
    assert f"{path}: nothing would be taken\n" in said.out
    assert said.err == "knockon: 1 of 1 files could not be read. Nothing was loaded.\n"


def test_check_reads_the_other_files_when_one_is_missing(dealer, capsys) -> None:
    path = dealer / "inbox" / "scans" / "november.csv"
    path.write_text(SCANS, encoding="utf-8")
    missing = dealer / "inbox" / "scans" / "december.csv"
    assert main(["check", str(missing), str(path)]) == 1
    said = capsys.readouterr()
    assert f"{missing}: nothing would be taken\n" in said.out
    assert f"{path}: scans, 3 rows" in said.out
    assert said.err == "knockon: 1 of 2 files could not be read. Nothing was loaded.\n"


def test_check_uses_the_settings_of_the_workspace_around_the_file(dealer, capsys) -> None:
    (dealer / "knockon.toml").write_text("labour_rte = 3", encoding="utf-8")
    path = dealer / "inbox" / "scans" / "november.csv"
    path.write_text(SCANS, encoding="utf-8")
    assert main(["check", str(path)]) == 1
    assert (
        f"{dealer / 'knockon.toml'}:1: labour_rte is no setting; did you mean labour_rate?" in capsys.readouterr().err
    )


def test_demo_lays_the_dealer_out_and_runs_its_week(tmp_path, week, capsys) -> None:
    folder = tmp_path / "demo"
    for _ in range(2):  # once more is harmless
        assert main(["demo", str(folder), "--engine", "plain"]) == 0
    assert week == [(Workspace.open(folder), date(2026, 11, 23))] * 2
    shipped = {path.relative_to(ROOT / "fixtures" / "demo") for path in (ROOT / "fixtures" / "demo").rglob("*.csv")}
    assert shipped
    assert {path.relative_to(folder) for path in folder.rglob("*.csv")} == shipped
    assert str(folder / "reports" / "2026-W48" / "index.html") in capsys.readouterr().out


def test_demo_keeps_out_of_a_folder_that_is_in_use(tmp_path) -> None:
    (tmp_path / "letter.txt").write_text("dear", encoding="utf-8")
    with pytest.raises(WorkspaceError, match=rf"^{re.escape(str(tmp_path))} is in use: the demo wants a new or empty"):
        lay_out_demo(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_demo_says_when_its_files_are_missing(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr("pipelines.commands.demo_dealer.files", lambda _: tmp_path)
    monkeypatch.setattr("pipelines.commands.demo_dealer.__file__", str(tmp_path / "pipelines" / "demo_dealer.py"))
    with pytest.raises(WorkspaceError, match=r"^the demo dealer's files are missing from this installation"):
        lay_out_demo(tmp_path / "demo")


def test_the_summary_has_a_line_for_every_count() -> None:
    counts = {name: number for number, (name, _, _) in enumerate(LINES, start=1)}
    rows = list(summary_rows(counts))
    assert [int(count) for count, _, _ in rows] == list(counts.values())
    assert [why for _, _, why in rows] == [why for _, _, why in LINES]
