"""Taking an import back leaves what the other files say, and nothing else: as if the file had never come."""

from __future__ import annotations

import shutil

import pytest

from pipelines.errors import BatchError
from pipelines.storage.file_archive import content_hash
from pipelines.storage.session import opened
from pipelines.storage.undo import taken_in
from tests.support.keepers import CAR, SCAN, cars, dealer, files_in, held, put, run, scans, taken, undone
from tests.support.small_dealer import Rows


def more(rows: Rows) -> Rows:
    """Return rows that say the same in other bytes."""
    return [{**row, "text" if "code" in row else "fuel": ""} for row in rows]


COIL = {"vehicle": "A1", "job": "J1", "done_at": "2026-03-02", "action": "replace", "part": "ignition coil"}


@pytest.mark.slow
@pytest.mark.parametrize(
    "files",
    [
        {"scans_1": scans("P0301"), "scans_2": scans("P0302")},
        {"scans_1": scans("P0301"), "scans_2": scans("P0301", "P0302"), "scans_3": scans("P0303")},
        {"scans_1": scans("P0301"), "scans_2": scans("P0302"), "scans_3": scans("P0302", "P0301")},
        {
            "scans_1": scans("P0301"),
            "scans_2": scans("P0302"),
            "scans_3": more(scans("P0302")),
            "scans_4": scans("P0302", "P0304"),
        },
        {"repairs_1": [COIL], "repairs_2": [COIL, COIL], "repairs_3": [COIL, COIL, COIL]},
        {"stock_1": cars(A1="Alder"), "stock_2": cars(A1="Birch"), "stock_3": more(cars(A1="Alder"))},
        {"stock_1": cars(A1="Alder"), "stock_2": cars(A1="Birch"), "stock_3": cars(A1="Birch", A2="Six")},
        {
            "stock_1": cars(A1="Alder", A2="Six"),
            "stock_2": cars(A2="Duo", A3="Duo"),
            "stock_3": cars(A2="Six", A3="Duo"),
        },
        {"stock_1": cars(A1="Alder"), "scans_2": [{**SCAN, "scanned_at": "soon"}, SCAN], "scans_3": scans("P0301")},
    ],
    ids=[
        "alone",
        "holds more",
        "held later",
        "held by two",
        "equal rows",
        "back again",
        "said again",
        "many cars",
        "rejects",
    ],
)
@pytest.mark.parametrize("place_of_it", [0, 1], ids=["the first", "the second"])
def test_after_an_undo_all_is_as_if_the_file_had_never_come(tmp_path, files, place_of_it):
    wrong = list(files)[place_of_it]
    place, other = dealer(tmp_path / "a"), dealer(tmp_path / "b")
    taken(place, **files)
    taken(other, **{name: rows for name, rows in files.items() if name != wrong})
    undone(place, f"{wrong.partition('_')[0]}/{wrong}.csv")
    assert held(place, without=("run",)) == held(other, without=("run",))
    run(place)
    assert held(place, without=("run",)) == held(other, without=("run",)), "the next run changes nothing of it"
    assert files_in(place.archive) == files_in(other.archive)


def test_a_file_that_came_twice_under_two_endings_does_not_come_back_by_itself(tmp_path):
    place = dealer(tmp_path)
    shutil.copyfile(put(place, "scans/a.csv", scans("P0301")), place.inbox / "scans" / "a.txt")
    assert run(place).skipped == ["scans/a.txt"]
    [name] = files_in(place.archive)
    path = place.archive / name
    shutil.copyfile(path, path.with_name(f"{content_hash(path)}.txt"))  # as archives of before have it
    undone(place, "a.csv")
    assert files_in(place.archive) == []
    assert run(place).again == []
    assert held(place)["raw.scans"] == []


def test_an_undone_file_that_the_archive_has_lost_is_told(tmp_path):
    place = dealer(tmp_path)
    taken(place, scans_1=scans("P0301"))
    shutil.rmtree(place.archive / "scans")
    told = "scans/scans_1.csv: its file is no longer in the archive, so it is not in rejected/ either"
    assert undone(place, "scans_1.csv").notes == [told]
    assert held(place)["raw.scans"] == []


def test_the_file_moves_aside_with_the_reason_and_can_come_in_again(tmp_path):
    place = dealer(tmp_path)
    taken(place, scans_1=scans("P0301"), scans_2=scans("P0302"))
    before = held(place)
    done = undone(place, "scans/scans_2.csv")
    assert ([file.name for file in done.files], done.removed, done.notes) == (["scans/scans_2.csv"], 1, [])
    assert files_in(place.rejected) == ["scans/scans_2.csv", "scans/scans_2.csv.why.txt"]
    assert (place.rejected / "scans" / "scans_2.csv.why.txt").read_text() == (
        "scans/scans_2.csv: came in with the files of run 2026-W48.2 and was taken back by 'knockon undo "
        "scans/scans_2.csv'. Put it into the inbox again to take it in once more.\n"
    )
    (place.rejected / "scans" / "scans_2.csv").rename(place.inbox / "scans" / "scans_2.csv")
    assert [file.rows_loaded for file in run(place).loaded] == [1]
    assert held(place) == before


@pytest.mark.slow
def test_a_run_is_taken_back_whole(tmp_path):
    place = dealer(tmp_path / "a")
    taken(place, scans_1=scans("P0301"))
    put(place, "scans/two.csv", scans("P0301", "P0302"))
    put(place, "stock/cars.csv", cars(A1="Alder"))
    run(place)
    with opened(place) as warehouse:
        assert [(file.name, file.run) for file in taken_in(warehouse)] == [
            ("scans/scans_1.csv", "2026-W48.1"),
            ("stock/cars.csv", "2026-W48.2"),
            ("scans/two.csv", "2026-W48.2"),
        ]
    assert undone(place, "2026-W48.2").removed == 2
    other = dealer(tmp_path / "b")
    taken(other, scans_1=scans("P0301"))
    assert held(place) == held(other)


def test_nothing_else_of_the_database_is_touched_when_it_cannot_be_done(tmp_path):
    place = dealer(tmp_path)
    taken(place, scans_1=scans("P0301"), scans_2=scans("P0301", "P0302"))
    before = held(place)
    for path in (place.archive / "scans").iterdir():
        if "P0302" in path.read_text():
            path.unlink()
    with pytest.raises(
        BatchError,
        match=r"^scans/scans_2\.csv \([0-9a-f]{12}\) may hold the same rows and would have "
        r"to keep them, but the archive does not have it as it was; where the last run was cut off, 'knockon weekly' "
        r"first puts it there\. Nothing was changed\.$",
    ):
        undone(place, "scans/scans_1.csv")
    assert held(place) == before
    assert files_in(place.rejected) == []


def test_a_file_that_now_reads_differently_is_no_witness(tmp_path):
    place = dealer(tmp_path)
    mapping = place.root / "mappings" / "odd.toml"
    mapping.parent.mkdir(exist_ok=True)
    lines = 'serves = ["*.csv"]\nformat = "table"\n[columns]\nvehicle = "vehicle"\nscanned_at = "when"\ncode = "code"\n'
    mapping.write_text(lines + '[constants]\nmodule = "ECM"\n')
    told = [{"vehicle": "A1", "when": f"2026-03-01T{hour}:00", "code": "P0301"} for hour in ("09", "12")]
    taken(place, scans_1=told[:1], scans_2=told)
    before = held(place)
    mapping.write_text(lines + '[constants]\nmodule = "ABS"\n')
    with pytest.raises(BatchError, match=r"it reads differently now; were the mappings or the time zone changed\?"):
        undone(place, "scans/scans_1.csv")
    assert held(place) == before


def test_a_changed_time_zone_makes_no_row_another_one(tmp_path):
    place = dealer(tmp_path)
    stamped = [{**SCAN, "scanned_at": "2026-03-01T09:00+00:00"}]
    taken(place, scans_1=stamped, scans_2=[*stamped, {**SCAN, "scanned_at": "2026-03-01T12:00Z"}])
    place.settings_file.write_text('time_zone = "Europe/Berlin"\n')
    assert undone(place, "scans/scans_1.csv").removed == 0


@pytest.mark.parametrize("target", ["scans_1.csv", "scans/scans_1.csv", "my-dealer/inbox/scans/scans_1.csv", "hash"])
def test_a_file_can_be_named_in_several_ways(tmp_path, target):
    place = dealer(tmp_path)
    taken(place, scans_1=scans("P0301"))
    with opened(place) as warehouse:
        sha256 = taken_in(warehouse)[0].sha256
    assert undone(place, sha256[:8] if target == "hash" else target).removed == 1


def test_a_name_that_means_two_files_or_none_changes_nothing(tmp_path):
    place = dealer(tmp_path)
    taken(place, scans_1=scans("P0301"))
    taken(place, scans_1=scans("P0302"))
    before = held(place)
    with pytest.raises(BatchError, match=r"^'scans_1\.csv' means 2 files \(scans/scans_1\.csv of run 2026-W48\.1: "):
        undone(place, "scans_1.csv")
    with pytest.raises(BatchError, match=r"^'2026-W47\.1' was not taken in: expected a run, a file's name or the f"):
        undone(place, "2026-W47.1")
    assert held(place) == before


def test_an_undo_that_was_cut_off_before_the_file_moved_is_finished_by_the_next_run(tmp_path, monkeypatch):
    place = dealer(tmp_path)
    taken(place, scans_1=scans("P0301"), scans_2=scans("P0302"))
    with monkeypatch.context() as cut:
        cut.setattr("pipelines.storage.undo.settle", lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            undone(place, "scans_2.csv")
    assert len(files_in(place.archive)) == 2
    run(place)
    assert len(files_in(place.archive)) == 1
    assert files_in(place.rejected) == ["scans/scans_2.csv", "scans/scans_2.csv.why.txt"]
    assert len(held(place)["raw.scans"]) == 1


@pytest.mark.slow
def test_the_price_book_keeps_the_price_that_a_later_file_said_again(tmp_path):
    place = dealer(tmp_path / "a")
    coil, dear = {"part": "coil", "part_cost": "10"}, {"part": "coil", "part_cost": "99"}
    taken(place, parts_1=[coil], parts_2=[dear], parts_3=[{**coil, "supplier": ""}])
    undone(place, "parts_2.csv")
    other = dealer(tmp_path / "b")
    taken(other, parts_1=[coil], parts_3=[{**coil, "supplier": ""}])
    assert held(place, without=("run",)) == held(other, without=("run",))


def test_a_copy_for_reading_is_not_left_behind(tmp_path):
    place = dealer(tmp_path)
    taken(place, stock_1=[CAR], stock_2=[CAR, {**CAR, "vehicle": "A2"}])
    undone(place, "stock_1.csv")
    assert not (place.state / "again").exists()
    shutil.rmtree(place.state)
    assert [file.name for file in run(place).loaded] == []
