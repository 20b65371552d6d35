"""What changed since the report before: read back as written, compared by hand-worked rows."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from pipelines.report import changes, outgoing, publish
from tests.support.sample_report import prepared, sample

MEMBERS = pl.DataFrame({"family": ["F", "F", "N", "N"], "code": ["A:1", "A:2", "B:1", "B:2"]})
CARS = pl.DataFrame({"family": ["F", "F", "N"], "vehicle": ["=1", "K2", "K3"]})


def first(vehicle: str, part: str | None, action: str = "replace", rank: int = 1) -> dict[str, object]:
    """A row of the shortlist."""
    return {"vehicle": vehicle, "rank": rank, "action": action, "part": part, "position": "left" if part else None}


def written(reports: Path, week: str, families: list[dict[str, object]], listed: list[dict[str, object]]) -> None:
    """Publish a report of an earlier week."""
    cars = [{"family": row["family"], "vehicle": car} for row in families for car in ("=1", "K9")]
    tables = {
        "families": prepared("families", families),
        "family_cars": prepared("family_cars", cars),
        "shortlist": prepared("shortlist", listed),
    }
    publish.publish(reports / week, tables, "", {})


@pytest.fixture
def reports(tmp_path: Path) -> Path:
    """Two earlier weeks, and one that is not over yet."""
    old = [{"family": "old", "codes": "Z:1;Z:2"}]
    written(tmp_path, "2026-W01", old, [first("K1", "hose")])
    both = [{"family": "was F", "codes": "A:1;A:2;A:3"}, {"family": "gone", "codes": "C:1;C:2"}]
    listed = [first("=1", "hose"), first("K2", "hose"), first("K2", "relay", rank=2), first("K3", None, "recheck")]
    written(tmp_path, "2026-W47", both, listed)
    written(tmp_path, "2026-W48", old, [first("K1", "hose")])
    (tmp_path / "notes").mkdir()
    return tmp_path


def test_the_report_before_is_the_latest_of_an_earlier_week(reports: Path):
    found = [changes.earlier_report(reports, week) for week in ("2026-W48", "2026-W49", "2026-W47", "2026-W01")]
    assert [report and report.week for report in found] == ["2026-W47", "2026-W48", "2026-W01", None]


def test_text_comes_back_without_the_mark_against_formulas(reports: Path):
    report = changes.earlier_report(reports, "2026-W48")
    assert report is not None
    assert b"'=1" in (reports / "2026-W47" / "shortlist.csv").read_bytes()
    assert report.tables["shortlist"]["vehicle"].to_list() == ["=1", "K2", "K2", "K3"]


@pytest.mark.parametrize("damage", ["missing", "columns", "bytes"])
def test_a_report_that_is_no_longer_whole_is_passed_over(reports: Path, damage: str):
    table = reports / "2026-W47" / "families.csv"
    if damage == "missing":
        table.unlink()
    elif damage == "columns":
        table.write_text("family,codes\nF,A:1\n", encoding="utf-8")
    else:
        table.write_bytes(b"family,codes\xff\xfe\n\xff,\xff,\xff\n")
    report = changes.earlier_report(reports, "2026-W48")
    assert report is not None
    assert report.week == "2026-W01"


def test_families_are_matched_by_their_codes_whatever_their_names(reports: Path):
    changed = changes.family_changes(MEMBERS, CARS, changes.earlier_report(reports, "2026-W48"))
    assert changed.rows() == [
        ("F", "was F", "steady", 2, 2, "K2", "K9"),
        ("N", None, "new", 1, 0, "K3", ""),
        (None, "gone", "vanished", 0, 2, "", "=1;K9"),
    ]


def test_cars_are_new_off_or_have_another_first_try(reports: Path):
    now = prepared(
        "shortlist", [first("=1", "hose"), first("K2", "relay"), first("K2", "hose", rank=2), first("K4", "fuse")]
    )
    assert changes.car_changes(now, changes.earlier_report(reports, "2026-W48")).rows() == [
        ("K2", "other try", "replace relay, left", "replace hose, left"),
        ("K3", "off", None, "record, erase, drive, scan again"),
        ("K4", "new", "replace fuse, left", None),
    ]


def test_with_no_report_before_nothing_is_said_to_have_changed():
    assert outgoing.prepare("family_changes", changes.family_changes(MEMBERS, CARS, None)).is_empty()
    changed = changes.car_changes(sample()[0]["shortlist"], None)
    assert changed.columns == ["vehicle", "change", "first_try", "first_try_before"]
    assert changed.is_empty()
