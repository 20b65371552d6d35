"""What another dealer shared counts as far as it foretells the own cars, and is gone with its folder."""

from __future__ import annotations

import csv
import re
import shutil
from pathlib import Path

import pytest

from pipelines.batch.others import kept_sets
from pipelines.batch.weekly import run_week
from pipelines.commands.cli import main
from pipelines.sharing.share import share
from pipelines.workspace import Workspace
from tests.support.hand_made import HandMade
from tests.support.small_dealer import AS_OF

pytestmark = pytest.mark.slow

CODE = ("BCM", "B1400", "active", "Window anti-pinch not learned")


def set_of(folder: Path, part: str) -> Path:
    """What a dealer shares whose cars with this code a part cured time and again."""
    dealer = HandMade()
    dealer.past(12, [CODE], [part])
    dealer.past(6, [("ECM", "P0351")], [("ignition coil", "cylinder 1")])
    workspace = dealer.workspace(folder / "elsewhere")
    run_week(workspace, AS_OF)
    return share(workspace, folder / "set").folder


def shortlist(report: Path) -> list[dict[str, str]]:
    with (report / "shortlist.csv").open(encoding="utf-8", newline="") as file:
        return sorted(csv.DictReader(file), key=lambda row: int(row["rank"]))


def first_and_notes(workspace: Workspace) -> tuple[tuple[str, float], list[str]]:
    report = run_week(workspace, AS_OF)
    row = shortlist(report.folder)[0]
    return (row["part"], float(row["chance"])), [note for note in report.notes if "Learned from" in note]


def test_a_newcomer_learns_from_a_set_until_its_folder_is_gone(tmp_path, capsys):
    given = set_of(tmp_path, "door lock")
    dealer = HandMade()
    dealer.past(2, [("ECM", "P0113")], ["intake air temperature sensor"])
    dealer.now(CODE)
    workspace = dealer.workspace(tmp_path / "own")
    (part, _), notes = first_and_notes(workspace)
    assert part != "door lock"
    assert notes == []
    shutil.copytree(given, workspace.root / "others" / "NORTH")
    (part, chance), [note] = first_and_notes(workspace)
    assert part == "door lock"
    assert chance >= 0.5
    assert re.search(r"2 own jobs and from other dealers': 18 of NORTH", note)
    assert list(kept_sets(workspace)) == ["NORTH"]
    # The stored model answers, with the places that only the set knows of.
    assert main(["why", "NEW", str(workspace.root)]) == 0
    assert "door lock" in capsys.readouterr().out
    shutil.rmtree(workspace.root / "others" / "NORTH")
    assert kept_sets(workspace) == {}
    (part, _), notes = first_and_notes(workspace)
    assert part != "door lock"
    assert notes == []


def test_own_jobs_stand_against_a_set_that_they_contradict(tmp_path):
    given = set_of(tmp_path, "door lock")
    dealer = HandMade()
    dealer.past(12, [CODE], ["wheel speed sensor"])
    dealer.past(8, [CODE], ["door lock"], left=[CODE], km=150)
    dealer.now(CODE)
    workspace = dealer.workspace(tmp_path / "own")
    shutil.copytree(given, workspace.root / "others" / "NORTH")
    (part, _), [note] = first_and_notes(workspace)
    assert part == "wheel speed sensor"
    assert not re.search(r"each at 100%", note)


def test_a_set_that_cannot_be_read_is_named_and_left_out(tmp_path):
    dealer = HandMade()
    dealer.past(4, [("ECM", "P0351")], ["ignition coil"])
    dealer.now(("ECM", "P0351"))
    workspace = dealer.workspace(tmp_path / "own")
    bad = workspace.root / "others" / "BAD"
    (bad / "inbox" / "scans").mkdir(parents=True)
    (bad / "inbox" / "scans" / "scans.csv").write_bytes(b"\x00\x01nothing\n")
    (bad / "knockon.toml").write_text("labour_rate = 'much'\n", encoding="utf-8")
    report = run_week(workspace, AS_OF)
    [note] = [note for note in report.notes if "others/BAD" in note]
    assert "The set was left out" in note
    assert shortlist(report.folder)[0]["part"] == "ignition coil"
