"""Archive, database and snapshots are held against each other; what differs is named with what to do."""

from __future__ import annotations

import os
import re
import shutil
from datetime import date, timedelta
from pathlib import Path

import pytest

from pipelines.reading.layouts import LAYOUTS
from pipelines.storage.file_archive import archived, content_hash
from pipelines.storage.integrity import Verification, verify_files
from pipelines.storage.restore import restore
from pipelines.storage.session import opened
from pipelines.storage.snapshots import snapshots
from pipelines.workspace import Workspace
from tests.support.keepers import cars, dealer, files_in, held, put, run, scans, undone
from tests.support.small_dealer import AS_OF


@pytest.fixture(scope="module")
def two_weeks(tmp_path_factory) -> Path:
    place = dealer(tmp_path_factory.mktemp("two_weeks"))
    put(place, "scans/october.csv", scans("P0301", "P0302"))
    put(place, "stock/cars.csv", cars(A1="Alder"))
    run(place, snapshot=True)
    put(place, "scans/november.csv", scans("P0303", "P0304", "P0305"))
    run(place, date(2026, 11, 30), snapshot=True)
    return place.root


@pytest.fixture
def place(two_weeks, tmp_path) -> Workspace:
    shutil.copytree(two_weeks, tmp_path, dirs_exist_ok=True)
    return Workspace.open(tmp_path)


def verified(place, *, full: bool = True, day: date = AS_OF) -> Verification:
    with opened(place) as warehouse:
        return verify_files(place, warehouse, day, full=full)


def the(place, name: str) -> Path:
    [path] = (place.archive / "scans").glob(f"*{name}*")
    return path


def same_length(path: Path) -> None:
    """Change a file and leave its length; its time changes with it."""
    path.write_bytes(path.read_bytes().replace(b"P030", b"P037"))


def test_names_in_the_archive_can_be_read(place):
    for path in (place.archive / "scans").iterdir():
        assert re.fullmatch(rf"{date.today()}_(october|november)_{content_hash(path)[:8]}\.csv", path.name)


def test_all_is_well(place):
    done = verified(place)
    assert (done.findings, done.full, done.files) == ((), True, 3)


@pytest.mark.slow
def test_names_of_before_keep_working(place):
    for path in list((place.archive / "scans").iterdir()):
        path.rename(path.with_name(content_hash(path) + path.suffix))
    assert verified(place).findings == ()
    before = held(place)
    restore(place, snapshots(place)[0].name)
    assert run(place, date(2026, 11, 30)).again == ["scans/november.csv"]
    assert held(place) == before


@pytest.mark.parametrize("full", [True, False])
def test_a_file_that_was_deleted_is_named_and_its_copy_mends_it(place, full):
    content = the(place, "november").read_bytes()
    verified(place)
    the(place, "november").unlink()
    [said] = verified(place, full=full).findings
    assert said.startswith("scans/november.csv (SHA-256 ")
    assert "missing from the archive. Its 3 rows are in the database" in said
    assert "Put a copy of the file into inbox/scans" in said
    (place.inbox / "scans" / "found-again.csv").write_bytes(content)
    run(place)
    assert verified(place).findings == ()


@pytest.mark.parametrize("full", [True, False])
def test_a_file_that_was_changed_at_its_length_is_named_and_the_right_one_takes_its_place(place, full):
    path = the(place, "november")
    content = path.read_bytes()
    verified(place)
    same_length(path)
    [said] = verified(place, full=full).findings
    assert f"{path.name}: changed since it came in as scans/november.csv" in said
    assert run(place).again == [], "nothing is read from it"
    (place.inbox / "scans" / "found-again.csv").write_bytes(content)
    run(place)
    assert verified(place).findings == ()
    assert path.read_bytes() == content
    assert len(files_in(place.rejected)) == 2, "the changed one, and why"


def test_a_change_that_kept_length_and_time_is_seen_once_a_month(place):
    path = the(place, "november")
    verified(place)
    times = path.stat()
    same_length(path)
    os.utime(path, ns=(times.st_atime_ns, times.st_mtime_ns))
    assert verified(place, full=False, day=AS_OF + timedelta(27)).findings == ()
    assert len(verified(place, full=False, day=AS_OF + timedelta(28)).findings) == 1
    assert len(verified(place, full=False, day=AS_OF + timedelta(29)).findings) == 1, "a wrong one is never forgotten"


def test_a_file_of_no_run_is_named(place):
    (place.archive / "scans" / "letter.txt").write_text("dear")
    (place.archive / "scans" / "2026-11-01_x_0123abcd.csv").write_text("vehicle\n")
    first, second = verified(place).findings
    assert "2026-11-01_x_0123abcd.csv: has another content than its name says" in first
    assert "letter.txt: is no file that was taken in. Move it into inbox/scans if its rows are wanted" in second


def test_a_file_that_grew_comes_in_again_and_the_one_of_before_stays(place):
    path = the(place, "november")
    before = path.read_bytes()
    with path.open("a", newline="") as handle:
        handle.write(before.splitlines()[-1].decode().replace("P0305", "P0306") + "\r\n")
    assert [file.rows_loaded for file in run(place).loaded] == [1]
    assert path.read_bytes() == before
    assert len(files_in(place.archive / "scans")) == 3
    assert verified(place).findings == ()
    assert run(place).again == []


@pytest.mark.slow
def test_a_restore_takes_nothing_under_a_name_that_its_content_contradicts(place):
    path = the(place, "november")
    content = path.read_bytes()
    same_length(path)
    done = restore(place, snapshots(place)[0].name)
    assert done.again == 0
    [said] = done.lacking
    assert "scans/november.csv (SHA-256" in said
    assert "brought 3 rows that the database now lacks" in said
    assert run(place).again == []
    assert len(held(place)["raw.scans"]) == 2
    assert len(verified(place).findings) == 2, "the rows that are lacking, and the file that is another"
    (place.inbox / "scans" / "november.csv").write_bytes(content)
    run(place)
    assert len(held(place)["raw.scans"]) == 5
    assert verified(place).findings == ()


@pytest.mark.slow
def test_rows_that_an_older_snapshot_lacks_and_no_file_has_are_counted_every_week(place):
    the(place, "november").unlink()
    [said] = restore(place, snapshots(place)[0].name).lacking
    assert "scans/november.csv" in said
    assert "3 rows" in said
    for day in (AS_OF, AS_OF + timedelta(7)):
        run(place, day, snapshot=True)
        assert verified(place, full=False).findings == (said,)
    digits = re.search(r"knockon undo ([0-9a-f]{12})", said)
    assert digits
    assert undone(place, digits[1]).notes == ["scans/november.csv: it is given up; its rows are asked for no longer"]
    assert verified(place).findings == ()


def test_rows_taken_out_of_the_database_by_somebody_else_are_named(place):
    with opened(place) as warehouse:
        warehouse.execute("delete from raw.scans where code = 'P0304'")
    counted, compared = verified(place).findings
    assert "the database holds 2 rows of it and took in 3" in counted
    assert "the database lacks 1 row of it that the snapshot" in compared
    assert len(verified(place, full=False).findings) == 1


def test_a_cell_changed_in_the_database_by_somebody_else_is_named(place):
    with opened(place) as warehouse:
        warehouse.execute("update raw.scans set code = 'P0999' where code = 'P0304'")
    [said] = verified(place).findings
    assert "lacks 0 rows" in said
    assert "has 1 otherwise" in said


def test_a_database_of_before_lacks_what_the_snapshot_has(place):
    the(place, "november").unlink()
    with opened(place) as warehouse:
        warehouse.execute("delete from raw.scans where file_id = 3")
        warehouse.execute("delete from raw.files where file_id = 3")
    [said] = verified(place, full=False).findings
    assert re.search(r"the snapshot \S+-0002 has 3 rows of it, the database none, and it was not taken back", said)


def test_what_was_taken_back_is_not_missed(place):
    undone(place, "scans/november.csv")
    assert verified(place).findings == ()


def test_a_row_of_an_undone_file_that_another_file_holds_is_not_missed(place):
    put(place, "scans/both.csv", scans("P0305", "P0306"))
    run(place, snapshot=True)
    undone(place, "scans/november.csv")
    assert verified(place).findings == ()


@pytest.mark.parametrize("full", [True, False])
def test_a_damaged_snapshot_is_named(place, full):
    verified(place)
    path = snapshots(place)[0].folder / "scans.parquet"
    path.write_bytes(path.read_bytes()[:-1] + b"x")
    [said] = verified(place, full=full).findings
    assert f"{path} is damaged: its SHA-256 sum is" in said
    assert "'knockon backup' makes a new one" in said


def test_the_archive_of_every_file_is_found_by_its_hash(place):
    with opened(place) as warehouse:
        for layout, sha256 in warehouse.query("select layout, sha256 from raw.files").iter_rows():
            path = archived(place, LAYOUTS[layout], sha256)
            assert path is not None
            assert content_hash(path) == sha256
