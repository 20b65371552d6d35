"""A restored database is the snapshot's; what came in later comes in again, and the old database is kept."""

from __future__ import annotations

from datetime import date

import duckdb
import pytest

from pipelines.errors import DamagedError, WorkspaceError
from pipelines.storage.restore import restore
from pipelines.storage.session import opened
from pipelines.storage.snapshots import snapshots, write_snapshot
from tests.support.keepers import cars, files_in, held, put, run, scans, taken, undone


@pytest.fixture
def place(two_files):
    return two_files


def snapshot(place) -> str:
    with opened(place) as warehouse:
        return write_snapshot(place, warehouse, date(2026, 11, 23), "asked").name


@pytest.mark.parametrize("batch", [1, pytest.param(100_000, marks=pytest.mark.slow)])
def test_all_tables_are_equal_after_a_restore(place, batch, monkeypatch):
    monkeypatch.setattr("pipelines.storage.warehouse._BATCH", batch)
    before = held(place)
    name = snapshot(place)
    done = restore(place)
    assert held(place) == before
    assert (done.snapshot.name, done.again, done.notes) == (name, 0, [])
    assert done.kept == place.backups / "replaced" / "knockon-0001.duckdb"
    with duckdb.connect(str(done.kept)) as old:
        assert old.execute("select count(*) from raw.scans").fetchall() == [(2,)]
    assert files_in(place.state) == ["lock"]


@pytest.mark.slow
@pytest.mark.parametrize("damaged", [pytest.param(False, marks=pytest.mark.slow), True])
def test_what_came_in_after_the_snapshot_comes_in_again_in_its_order(place, damaged):
    first = snapshot(place)
    # Latest state by order of coming in, which is not the order of the names.
    taken(place, stock_9=cars(A1="Birch"), stock_2=cars(A1="Coracle"), scans_2=scans("P0302", "P0303"))
    before = held(place)
    snapshot(place)
    if damaged:
        damage(place)
    done = restore(place, first)
    assert done.again == 3
    assert len(held(place)["raw.files"]) == 2
    later = run(place, date(2026, 12, 23))
    assert later.again == ["stock/stock_9.csv", "stock/stock_2.csv", "scans/scans_2.csv"]
    assert held(place) == before, "weeks and runs too"
    assert len(files_in(place.archive)) == 5


def damage(place) -> None:
    content = bytearray(place.database.read_bytes())
    content[4096:4160] = content[8192:8256] = bytes(64)
    place.database.write_bytes(content)


def test_a_damaged_database_is_named_with_the_way_back_and_kept(place):
    snapshot(place)
    damage(place)
    with pytest.raises(
        DamagedError,
        match=r"knockon\.duckdb is damaged or no database \(.*checksum.*\)\. It was left as it"
        r" is, .*'knockon restore' puts the latest snapshot",
    ):
        run(place)
    content = place.database.read_bytes()
    kept = restore(place).kept
    assert kept is not None
    assert kept.read_bytes() == content
    assert run(place).loaded == []


@pytest.mark.slow
def test_a_file_that_was_undone_after_the_snapshot_comes_back_with_it(place):
    before = held(place)
    snapshot(place)
    undone(place, "scans_1.csv")
    assert restore(place).notes == []
    assert held(place) == before
    assert len(files_in(place.archive)) == 2
    assert files_in(place.rejected) == []
    assert run(place).again == []


def test_rows_whose_file_is_nowhere_any_more_stay_and_it_is_said(place):
    snapshot(place)
    for path in (place.archive / "scans").iterdir():
        path.unlink()
    assert restore(place).notes == [
        "scans/scans_1.csv: its rows are in the database, its file is no longer in the archive"
    ]
    assert len(held(place)["raw.scans"]) == 2


@pytest.mark.parametrize(
    "cut", ["pipelines.storage.restore._make_room", "pipelines.storage.restore._fill", "after the old one"]
)
def test_a_restore_that_was_cut_off_can_be_gone_on_from(place, monkeypatch, cut):
    before = held(place)
    snapshot(place)
    with monkeypatch.context() as patch:
        if cut == "after the old one":
            patch.setattr("pipelines.storage.restore._make_room", cut_after_moving)
        else:
            patch.setattr(cut, lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            restore(place)
    assert run(place).loaded == []
    assert held(place) == before
    assert files_in(place.state) == ["lock"]


def cut_after_moving(place) -> None:
    place.database.rename(place.root / "moved.duckdb")
    raise ZeroDivisionError


def test_a_missing_snapshot_or_an_unknown_name_is_said(place):
    with pytest.raises(WorkspaceError, match=r"backups holds no snapshot yet\. Nothing was changed\.$"):
        restore(place)
    name = snapshot(place)
    with pytest.raises(
        WorkspaceError, match=rf"backups has no snapshot '2026'; it has {name}\. Nothing was changed\.$"
    ):
        restore(place, "2026")


@pytest.mark.slow
def test_a_database_that_is_gone_is_not_quietly_begun_anew(place):
    snapshot(place)
    place.database.unlink()
    with pytest.raises(WorkspaceError, match=r"is gone, but backups/ holds snapshots of it: 'knockon restore' puts"):
        run(place)
    assert not place.database.exists()
    restore(place)
    assert run(place).loaded == []


def test_without_snapshots_a_database_that_is_gone_is_filled_from_the_archive(place):
    rows = len(held(place)["raw.scans"])
    place.database.unlink()
    assert len(run(place).again) == 2
    assert len(held(place)["raw.scans"]) == rows
    assert len(files_in(place.archive)) == 2


@pytest.mark.slow
def test_the_numbers_of_snapshots_and_old_databases_go_on(place):
    snapshot(place)
    restore(place)
    kept = restore(place).kept
    assert kept is not None
    assert kept.name == "knockon-0002.duckdb"
    put(place, "scans/3.csv", scans("P0309"))
    run(place, snapshot=True)
    assert [one.number for one in snapshots(place)] == [1, 2]
