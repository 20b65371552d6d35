"""The workspace folder: made once, kept, and held by one run at a time."""

import json
from datetime import date

import pytest

from pipelines.errors import WorkspaceError
from pipelines.report.new_workspace import init_workspace
from pipelines.workspace import Workspace, week_name


def test_init_makes_the_folders_and_keeps_what_is_there(tmp_path):
    (tmp_path / "knockon.toml").write_text("labour_rate = 60\n")
    made = {path.relative_to(tmp_path).as_posix() for path in init_workspace(tmp_path)}
    assert {"inbox/scans", "inbox/repairs", "archive", "rejected", "reports", "docs/columns.md"} <= made
    assert (tmp_path / "knockon.toml").read_text() == "labour_rate = 60\n"
    assert init_workspace(tmp_path) == []


def test_a_folder_that_cannot_be_made_is_named_with_what_to_do(tmp_path):
    (tmp_path / "file").write_text("x")
    words = r"file cannot become a workspace \(Not a directory\)\. Name a folder you may write in\.$"
    with pytest.raises(WorkspaceError, match=words):
        init_workspace(tmp_path / "file")


def test_the_table_schemas_name_every_column(tmp_path):
    init_workspace(tmp_path)
    scans = json.loads((tmp_path / "docs" / "in-scans.schema.json").read_text())
    assert [field["name"] for field in scans["fields"]][:4] == ["vehicle", "vin", "scanned_at", "odometer"]
    shortlist = json.loads((tmp_path / "docs" / "out-shortlist.schema.json").read_text())
    assert [field["name"] for field in shortlist["fields"]][:4] == ["vehicle", "make", "model", "rank"]


def test_a_folder_with_an_inbox_alone_is_a_workspace(tmp_path):
    (tmp_path / "inbox").mkdir()
    assert Workspace.open(tmp_path).database == tmp_path.resolve() / "knockon.duckdb"


def test_any_other_folder_is_named_with_the_way_out(tmp_path):
    with pytest.raises(WorkspaceError, match=r"is no workspace: expected a folder with inbox/ or knockon\.toml in it"):
        Workspace.open(tmp_path)


def test_a_second_run_is_told_that_the_first_holds_the_workspace(tmp_path):
    init_workspace(tmp_path)
    place = Workspace.open(tmp_path)
    with place.lock(), pytest.raises(WorkspaceError, match="another run is using"), place.lock():
        pass
    with place.lock():
        pass


@pytest.mark.parametrize(
    ("day", "starts", "name"),
    [
        # ISO 8601: the week of the year's first Thursday is week 1; 2026 has 53 weeks.
        (date(2026, 11, 23), "monday", "2026-W48"),
        (date(2027, 1, 1), "monday", "2026-W53"),
        (date(2026, 11, 22), "monday", "2026-W47"),
        (date(2026, 11, 22), "sunday", "2026-W48"),
    ],
)
def test_reports_are_named_by_week(day, starts, name):
    assert week_name(day, starts) == name


def test_working_files_are_gone_afterwards_and_those_of_a_killed_process_at_the_next_start(tmp_path):
    place = Workspace(tmp_path)
    with place.scratch_folder() as mine:
        (mine / "copy").write_text("a copy")
        dead = place.scratch / "tmpdead"
        dead.mkdir()
        (dead / "copy").write_text("left behind")
        (place.scratch / "tmpdead.lock").touch()
        (place.scratch / "stray").write_text("left behind")
        place.clear_scratch()
        assert (mine / "copy").exists(), "somebody works in it"
        assert sorted(path.name for path in place.scratch.iterdir()) == [mine.name, f"{mine.name}.lock"]
    assert list(place.scratch.iterdir()) == []


@pytest.mark.parametrize("there", [True, False])
def test_a_slip_in_a_workspaces_name_is_not_offered_to_be_made(tmp_path, there):
    if there:
        init_workspace(tmp_path / "my-dealer")
    with pytest.raises(WorkspaceError) as error:
        Workspace.open(tmp_path / "my-dealr")
    assert ("near it: my-dealer" in str(error.value)) is there
    assert ("knockon init" in str(error.value)) is not there
