"""What changed since the week before: compared with what its run had kept, by hand-worked rows."""

from __future__ import annotations

from datetime import date

import polars as pl
import pytest

from pipelines.report import changes, outgoing
from pipelines.storage.model_store import ModelStore, StoredRun
from pipelines.storage.warehouse import Warehouse
from tests.support.sample_report import sample
from tests.support.stored_runs import stored_run

MEMBERS = pl.DataFrame({"family": ["F", "F", "N", "N"], "code": ["A:1", "A:2", "B:1", "B:2"]})
CARS = pl.DataFrame({"family": ["F", "F", "N"], "vehicle": ["=1", "K2", "K3"]})


def shortlist(*tries: tuple[str, str | None]) -> pl.DataFrame:
    """A list by car and part, the second line of a car with the next rank; a car without a part is looked at again."""
    rows: list[dict[str, object]] = []
    for vehicle, part in tries:
        rank = 1 + sum(row["vehicle"] == vehicle for row in rows)
        action, position = ("replace", "left") if part else ("recheck", "")
        rows.append({"vehicle": vehicle, "rank": rank, "action": action, "part": part or "", "position": position})
    return pl.DataFrame(rows)


@pytest.fixture
def before() -> StoredRun:
    """The week before: one family of today under another name, one that is gone, and a list of three cars."""
    return stored_run(
        "2026-W47",
        date(2026, 11, 16),
        members=pl.DataFrame({"family": ["was F"] * 3 + ["gone"] * 2, "code": ["A:1", "A:2", "A:3", "C:1", "C:2"]}),
        family_cars=pl.DataFrame({"family": ["was F"] * 2 + ["gone"] * 2, "vehicle": ["=1", "K9"] * 2}),
        shortlist=shortlist(("=1", "hose"), ("K2", "hose"), ("K2", "relay"), ("K3", None)),
    )


def test_the_week_before_is_the_latest_earlier_one_that_is_kept(tmp_path):
    with Warehouse(tmp_path / "knockon.duckdb") as warehouse:
        store = ModelStore(warehouse)
        for week in ("2026-W01", "2026-W48", "2026-W47", "2026-W48"):
            store.save(stored_run(week, date(2026, 11, 23)))
        found = [store.before(week) for week in ("2026-W48", "2026-W49", "2026-W47", "2026-W01")]
    assert [run and run.week for run in found] == ["2026-W47", "2026-W48", "2026-W01", None]


def test_families_are_matched_by_their_codes_whatever_their_names(before: StoredRun):
    changed = changes.family_changes(MEMBERS, CARS, before)
    assert changed.rows() == [
        ("F", "was F", "steady", 2, 2, "K2", "K9"),
        ("N", None, "new", 1, 0, "K3", ""),
        (None, "gone", "vanished", 0, 2, "", "=1;K9"),
    ]


def test_cars_are_new_off_or_have_another_first_try(before: StoredRun):
    now = shortlist(("=1", "hose"), ("K2", "relay"), ("K2", "hose"), ("K4", "fuse"))
    assert changes.car_changes(now, before).rows() == [
        ("K2", "other try", "replace relay, left", "replace hose, left"),
        ("K3", "off", None, "record, erase, drive, scan again"),
        ("K4", "new", "replace fuse, left", None),
    ]


def test_with_no_report_before_nothing_is_said_to_have_changed():
    assert outgoing.prepare("family_changes", changes.family_changes(MEMBERS, CARS, None)).is_empty()
    changed = changes.car_changes(sample()[0]["shortlist"], None)
    assert changed.columns == ["vehicle", "change", "first_try", "first_try_before"]
    assert changed.is_empty()
