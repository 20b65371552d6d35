"""A run may be cut off anywhere: the next one leaves what a run that was left alone would have left."""

from __future__ import annotations

import hashlib
import multiprocessing
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from pipelines.batch.others import sets_folder
from pipelines.batch.run_journal import record_of
from pipelines.batch.weekly import run_week
from pipelines.storage.session import opened
from pipelines.storage.snapshots import snapshots, verify
from pipelines.workspace import Workspace
from tests.support.keepers import CAR, SCAN, dealer, files_in, held, put, report_bytes, run, scans, tables_of, taken
from tests.support.small_dealer import AS_OF
from tests.support.week_steps import STEPS

CUT = 9
# What moves in the run below, in order; before each, something lasting is done whose other half is not.
MOVES = (
    "the word that a run began",
    "a file whose rows are in",
    "a second one",
    "a refused file, its reason beside it",
    "a file whose bytes were known",
    "the word of what was verified",
    "the older report out of the way",
    "the new report into its place",
    "the new snapshot to its name",
    "the older snapshot off the list",
)
QUICK_MOVES = (2,)
"""Those that the quick tests cut off at: a file between database and archive."""
posix = pytest.mark.skipif(os.name == "nt", reason="there is no fork on Windows")


@pytest.fixture(scope="module")
def start(tmp_path_factory) -> Path:
    """Return a workspace with an earlier report, files of every kind of fate, and a place for others' sets."""
    place = dealer(tmp_path_factory.mktemp("cut") / "start")
    sets_folder(place).mkdir()
    put(place, "scans/0.csv", scans("P0300"))
    put(place, "stock/cars.csv", [CAR])
    run_week(place, AS_OF)
    put(place, "scans/1.csv", scans("P0301", "P0302"))
    put(place, "scans/2.csv", [{**SCAN, "scanned_at": "soon"}, *scans("P0302", "P0303")])
    (place.inbox / "scans" / "3.csv").write_bytes(bytes(range(256)))
    put(place, "scans/same.csv", scans("P0300"))
    return place.root


@pytest.fixture(scope="module")
def whole(start, tmp_path_factory) -> dict[str, object]:
    """Return what a run that was left alone leaves."""
    place = copied(start, tmp_path_factory.mktemp("cut") / "whole")
    run_week(place, AS_OF)
    return all_of(place)


def copied(start: Path, folder: Path) -> Workspace:
    shutil.copytree(start, folder)
    return Workspace.open(folder)


def all_of(place: Workspace) -> dict[str, object]:
    """Return tables, report and files; the snapshots by what the latest holds."""
    found: dict[str, object] = {name: frame.rows() for name, frame in tables_of(place).items()}
    found["report"] = report_bytes(place.reports / "2026-W48")
    found["files"] = [name for name in files_in(place.root) if not name.startswith(("backups/", ".knockon/logs/"))]
    found["folders"] = sorted(path.name for path in [*place.root.iterdir(), *place.reports.iterdir()])
    found["snapshot"] = {name: told["content"] for name, told in verify(snapshots(place)[-1]).tables.items()}
    found["snapshots"] = len(list(place.backups.iterdir()))
    return found


def next_run(place: Workspace) -> None:
    """Finish what was cut off.  Its report would say that a run was cut short; all else is compared without that."""
    record_of(place).unlink(missing_ok=True)
    run_week(place, AS_OF)


def in_a_child(work: Callable[..., None], *about: object) -> int | None:
    """Run a function in a process forked off one that has only imported; return how it ended."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["pipelines.batch.weekly"])
    child = context.Process(target=work, args=about)
    child.start()
    child.join()
    return child.exitcode


def cut_off_at_move(folder: Path, number: int) -> None:
    """In the child: run the week and end without a further word instead of one of its moves."""
    replace, moves = os.replace, []

    def counted(source: Path, target: Path) -> None:
        moves.append(source)
        if len(moves) == number:
            os._exit(CUT)
        replace(source, target)

    os.replace = counted  # Path.replace calls it too
    run_week(Workspace.open(folder), AS_OF)


def cut_off_before_step(folder: Path, number: int) -> None:
    """In the child: run the week and end without a further word where a step should begin."""

    def call(step, *args, **kwargs) -> object:
        if step is list(STEPS.values())[number]:
            os._exit(CUT)
        return step(*args, **kwargs)

    run_week(Workspace.open(folder), AS_OF, call)


@posix
@pytest.mark.parametrize(
    "number",
    [
        pytest.param(k, marks=() if k in QUICK_MOVES else pytest.mark.slow, id=name)
        for k, name in enumerate(MOVES, start=1)
    ],
)
def test_a_run_cut_off_at_a_move_is_finished_by_the_next(start, whole, tmp_path, number):
    place = copied(start, tmp_path / "cut")
    assert in_a_child(cut_off_at_move, place.root, number) == CUT
    next_run(place)
    assert all_of(place) == whole


@pytest.mark.slow
@posix
def test_there_is_no_further_move(start, whole, tmp_path):
    place = copied(start, tmp_path / "cut")
    assert in_a_child(cut_off_at_move, place.root, len(MOVES) + 1) == 0
    assert all_of(place) == whole


@pytest.mark.slow
@posix
@pytest.mark.parametrize("number", [pytest.param(k, id=name) for k, name in enumerate(STEPS)])
def test_a_run_cut_off_before_a_step_is_finished_by_the_next(start, whole, tmp_path, number):
    place = copied(start, tmp_path / "cut")
    assert in_a_child(cut_off_before_step, place.root, number) == CUT
    next_run(place)
    assert all_of(place) == whole


def test_the_first_database_takes_its_place_whole(tmp_path, monkeypatch):
    place = dealer(tmp_path)
    with monkeypatch.context() as cut:
        cut.setattr("pipelines.storage.warehouse.steps", lambda *_: "select no_such_column")
        with pytest.raises(Exception, match="no_such_column"):
            run(place)
    assert not place.database.exists()
    assert run(place).loaded == []
    assert [name for name in files_in(tmp_path) if "duckdb" in name] == ["knockon.duckdb"]


def test_a_report_of_an_earlier_week_that_was_moved_aside_comes_back(tmp_path):
    place = dealer(tmp_path)
    for name in (".2026-W40.old", ".2026-W41.old", "2026-W41", ".2026-W42.new"):
        (place.reports / name).mkdir()
        (place.reports / name / "index.html").write_text(name)
    (place.reports / ".notes").mkdir()
    run(place)
    assert files_in(place.reports) == ["2026-W40/index.html", "2026-W41/index.html"]
    assert (place.reports / "2026-W41" / "index.html").read_text() == "2026-W41"
    assert (place.reports / ".notes").is_dir(), "what is not ours stays"


def test_an_archived_file_that_the_database_does_not_know_comes_in_again(tmp_path):
    place, other = dealer(tmp_path / "a"), dealer(tmp_path / "b")
    taken(place, scans_1=scans("P0301"))
    taken(other, scans_2=scans("P0302"))
    for path in (other.archive / "scans").iterdir():
        shutil.copy(path, place.archive / "scans" / path.name)
    (place.archive / "scans" / "letter.txt").write_text("dear")
    done = run(place)
    assert [file.rows_loaded for file in done.loaded] == [1]
    assert done.again == ["scans/scans_2.csv"], "the name it came with"
    assert run(place).again == []
    assert len(held(place)["raw.scans"]) == 2


def forgotten(place: Workspace) -> Path:
    """Take one file in and out of the database again; return where it is in the archive."""
    taken(place, scans_1=scans("P0301"))
    with opened(place) as warehouse:
        warehouse.execute("delete from raw.files")
        warehouse.execute("delete from raw.scans")
    return next((place.archive / "scans").iterdir())


def test_an_archived_file_that_can_no_longer_be_read_is_set_aside_and_nothing_is_lost(tmp_path):
    place, content = dealer(tmp_path), bytes(range(256))
    path = forgotten(place)
    path.unlink()
    path.with_name(f"2026-11-30_scans_1_{hashlib.sha256(content).hexdigest()[:8]}.csv").write_bytes(content)
    done = run(place)
    assert [file.name for file in done.refused] == ["scans/scans_1.csv"]
    assert files_in(place.archive) == []
    assert (place.rejected / "scans" / "scans_1.csv").read_bytes() == content


def test_an_archived_file_whose_content_is_another_than_its_name_says_is_not_read(tmp_path):
    place = dealer(tmp_path)
    path = forgotten(place)
    path.write_bytes(path.read_bytes().replace(b"P0301", b"P0302"))
    done = run(place)
    assert (done.again, done.loaded, done.refused) == ([], [], [])
    assert path.is_file(), "it stays, and verify names it"
