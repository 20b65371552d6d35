"""The commands backup, restore and undo, as a user meets them."""

from __future__ import annotations

import re

import pytest

from pipelines.commands.cli import main
from tests.support.keepers import dealer, files_in, held, scans, taken


@pytest.fixture
def place(two_files):
    return two_files


def test_backup_says_where_it_is_and_how_to_put_it_back(place, capsys):
    assert main(["backup", str(place.root)]) == 0
    wrote, count, following = capsys.readouterr().out.splitlines()
    name = re.fullmatch(rf"wrote {place.backups}/(\d{{4}}-\d\d-\d\d-asked-0001)", wrote)[1]
    assert count == f"snapshots kept: 1; the files they came from stay in {place.archive}"
    assert following == f"Next: 'knockon restore {name} {place.root}' puts it back"


def test_without_a_name_undo_lists_what_came_in_and_how_to_go_on(place, tmp_path, capsys):
    assert main(["undo", str(place.root)]) == 0
    *_, last = capsys.readouterr().out.splitlines()
    assert last == f"Next: name a run, a file or the beginning of its hash: 'knockon undo NAME {place.root}'"
    assert main(["undo", str(dealer(tmp_path / "new").root)]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == "Nothing was taken in yet, so there is nothing to take back."


def test_a_folder_with_a_blank_is_quoted_in_the_next_command(tmp_path, capsys):
    folder = tmp_path / "my dealer"
    assert main(["init", str(folder)]) == 0
    said = capsys.readouterr().out.splitlines()[-1]
    assert said == f"""Next: put files into {folder / "inbox"} and run 'knockon weekly "{folder}"'"""


def test_restore_says_what_it_took_and_where_the_old_database_is(place, capsys):
    main(["backup", str(place.root)])
    taken(place, scans_2=scans("P0303"))
    capsys.readouterr()
    assert main(["restore", str(place.root)]) == 0
    took, old, again, following = capsys.readouterr().out.splitlines()
    # Two scan rows and one stock row.
    assert re.fullmatch(r"restored \d{4}-\d\d-\d\d-asked-0001: 3 rows", took)
    assert old == f"the old database is now {place.backups / 'replaced' / 'knockon-0001.duckdb'}"
    assert again == "files of the archive that the snapshot does not have: 1; the next run reads them again"
    assert following == f"Next: run 'knockon weekly {place.root}', which makes tables and report anew"


def test_undo_without_a_name_lists_the_latest_first(place, capsys):
    assert main(["undo", str(place.root)]) == 0
    lines = [line.split() for line in capsys.readouterr().out.splitlines()]
    assert lines[0] == ["run", "week", "file", "hash", "rows", "known", "before"]
    assert [(line[0], line[2], line[4]) for line in lines[1:-1]] == [
        ("2026-W48.2", "stock/stock_1.csv", "1"),
        ("2026-W48.1", "scans/scans_1.csv", "2"),
    ]


def test_undo_says_what_went_where(place, capsys):
    assert main(["undo", "2026-W48.1", str(place.root)]) == 0
    assert capsys.readouterr().out.splitlines() == [
        f"took back scans/scans_1.csv; it is in {place.rejected / 'scans'}, the reason beside it",
        "2 rows are gone; rows that other files hold too have stayed",
        f"Next: run 'knockon weekly {place.root}', which makes tables and report without them",
    ]
    assert held(place)["raw.scans"] == []
    assert files_in(place.rejected) == ["scans/scans_1.csv", "scans/scans_1.csv.why.txt"]


def test_what_cannot_be_done_ends_with_1(place, capsys):
    assert main(["undo", "december.csv", str(place.root)]) == 1
    assert capsys.readouterr().err.startswith("knockon: 'december.csv' was not taken in: expected a run, a file's name")
    assert main(["restore", str(place.root)]) == 1
    assert capsys.readouterr().err == f"knockon: {place.backups} holds no snapshot yet. Nothing was changed.\n"


@pytest.mark.slow
def test_in_the_workspace_itself_a_name_alone_is_enough(place, monkeypatch, capsys):
    main(["backup", str(place.root)])
    [snapshot] = [path.name for path in place.backups.iterdir()]
    monkeypatch.chdir(place.root)
    assert main(["restore", snapshot]) == 0
    assert f"restored {snapshot}: 3 rows" in capsys.readouterr().out
    assert main(["undo", "scans/scans_1.csv"]) == 0
    assert held(place)["raw.scans"] == []
    assert main(["undo", "december.csv"]) == 1
    assert "'december.csv' was not taken in" in capsys.readouterr().err


@pytest.mark.slow
def test_a_name_and_a_workspace_that_are_one_word_are_told_apart_or_asked_for(place, monkeypatch, capsys):
    main(["backup", str(place.root)])
    [snapshot] = [path.name for path in place.backups.iterdir()]
    other = dealer(place.root / snapshot)
    monkeypatch.chdir(place.root)
    capsys.readouterr()
    assert main(["restore", snapshot]) == 1
    assert capsys.readouterr().err == (
        f"knockon: '{snapshot}' is a workspace, and a name in the workspace of the current folder; say which is meant: "
        f"'knockon restore ./{snapshot}' or 'knockon restore {snapshot} .'. Nothing was changed.\n"
    )
    assert main(["restore", f"./{snapshot}"]) == 1
    assert capsys.readouterr().err == f"knockon: {other.backups} holds no snapshot yet. Nothing was changed.\n"
    assert main(["restore", snapshot, "."]) == 0
    assert f"restored {snapshot}: 3 rows" in capsys.readouterr().out


def test_a_folder_that_is_no_workspace_is_said_to_be_none(tmp_path, monkeypatch, capsys):
    (tmp_path / "letters").mkdir()
    monkeypatch.chdir(tmp_path)
    for command in ("restore", "undo"):
        assert main([command, "letters"]) == 1
        assert capsys.readouterr().err.startswith("knockon: letters is no workspace: ")


@pytest.mark.parametrize("command", ["backup", "restore", "undo"])
def test_help_ends_with_an_example(command, capsys):
    assert main([command, "--help"]) == 0
    assert capsys.readouterr().out.strip().splitlines()[-1].startswith(f"  Example: knockon {command} ")
