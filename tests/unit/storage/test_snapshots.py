"""A snapshot is checked when it is written, checked when it is used, and deleted by its rule alone."""

from __future__ import annotations

import json
from datetime import date, timedelta

import polars as pl
import pytest

from pipelines.errors import WorkspaceError
from pipelines.storage.migrations import VERSION
from pipelines.storage.restore import restore
from pipelines.storage.session import opened
from pipelines.storage.snapshots import keep_weekly, prune, snapshots, verify, write_snapshot
from tests.support.keepers import files_in, held, put, run, scans

DAY = date(2026, 11, 23)


@pytest.fixture
def place(two_files):
    return two_files


def written(place, day=DAY, reason="asked", week=""):
    with opened(place) as warehouse:
        return write_snapshot(place, warehouse, day, reason, week)


def test_a_snapshot_holds_every_row_and_can_be_read_by_any_parquet_reader(place):
    made = written(place)
    assert made.name == "2026-11-23-asked-0001"
    assert pl.read_parquet(made.folder / "scans.parquet")["code"].to_list() == ["P0301", "P0302"]
    told = json.loads((made.folder / "manifest.json").read_text())
    assert told["version"] == VERSION
    assert told["tables"].keys() == held(place).keys() | {"raw.undone"}
    assert told["tables"]["raw.scans"]["content"].startswith("2 rows, ")
    assert files_in(place.backups) == sorted(
        f"{made.name}/{name}"
        for name in ["manifest.json", *(f"{table.removeprefix('raw.')}.parquet" for table in told["tables"])]
    )


def test_the_order_is_by_number_whatever_the_clock_says(place):
    for day in (DAY, date(2062, 1, 1), date(1999, 1, 1)):
        written(place, day)
    assert [snapshot.day for snapshot in snapshots(place)] == ["2026-11-23", "2062-01-01", "1999-01-01"]


@pytest.mark.parametrize("damage", ["a byte", "cut", "gone", "list"])
def test_a_damaged_snapshot_is_refused_and_the_database_stays(place, damage):
    made = written(place)
    before = place.database.read_bytes()
    path = made.folder / ("manifest.json" if damage == "list" else "scans.parquet")
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    if damage == "gone":
        path.unlink()
    else:
        path.write_bytes(content[:100] if damage in ("cut", "list") else content)
    words = r"manifest\.json cannot be read" if damage == "list" else r"scans\.parquet is damaged: its SHA-256 sum is "
    with pytest.raises(WorkspaceError, match=rf"{words}.*Nothing was changed\. 'knockon restore NAME' takes another"):
        restore(place)
    assert place.database.read_bytes() == before
    assert files_in(place.state) == ["lock"]


@pytest.mark.parametrize("name", ["raw.scans; drop table raw.files", "raw.../scans", "marts.jobs"])
def test_a_list_that_names_another_table_is_refused(place, name):
    path = written(place).folder / "manifest.json"
    path.write_text(path.read_text(encoding="utf-8").replace("raw.scans", name), encoding="utf-8")
    with pytest.raises(
        WorkspaceError, match=r"manifest\.json cannot be read \(expected tables of raw, found raw\.background, "
    ):
        restore(place)


def test_what_does_not_read_back_as_it_was_written_becomes_no_snapshot(place, monkeypatch):
    monkeypatch.setattr("pipelines.storage.snapshots.read_table", lambda path: pl.read_parquet(path).clear().to_arrow())
    with pytest.raises(
        WorkspaceError, match=r"background\.parquet|files\.parquet does not read back as it was written"
    ):
        written(place)
    assert files_in(place.backups) == []


def test_a_week_without_news_gets_no_second_snapshot(place):
    with opened(place) as warehouse:
        assert keep_weekly(place, warehouse, DAY, "2026-W48") is not None
        assert keep_weekly(place, warehouse, DAY, "2026-W48") is None
    put(place, "scans/2.csv", scans("P0303"))
    run(place, snapshot=True)
    assert [snapshot.number for snapshot in snapshots(place)] == [2], (
        "the latest of a week takes the earlier one's place"
    )


def test_the_rule_keeps_weeks_and_months_and_what_was_asked_for(place):
    days = [date(2026, 1, 5) + timedelta(weeks=week) for week in range(30)]
    asked = written(place, days[0])
    for day in days:
        (place.backups / f"{day}-weekly-{len(snapshots(place)) + 1:04d}").mkdir()
    for snapshot in snapshots(place)[1:]:
        week = "{}-W{:02d}".format(*date.fromisoformat(snapshot.day).isocalendar()[:2])
        (snapshot.folder / "manifest.json").write_text(json.dumps({"version": 2, "week": week, "tables": {}}))
    gone = prune(place, 4, 6)
    # By hand: the last four Mondays from 5 January on 30 weeks end on 27 July; before them the last of each month.
    kept = ["2026-02-23", "2026-03-30", "2026-04-27", "2026-05-25", "2026-06-29", "2026-07-06", "2026-07-13"]
    kept += ["2026-07-20", "2026-07-27"]
    assert [snapshot.day for snapshot in snapshots(place)] == [asked.day, *kept]
    assert len(gone) == 30 - len(kept)


def test_a_whole_snapshot_verifies(place):
    assert verify(written(place, week="2026-W48")).week == "2026-W48"
