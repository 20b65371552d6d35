"""One car's story, and what changed: hand-worked rows, place by place."""

from __future__ import annotations

from datetime import datetime

import polars as pl

from analysis.charts.page_sections import changes
from analysis.charts.tickets import MOST_VISITS, Story, Visit, stories
from tests.support.sample_report import sample

MONDAY, TUESDAY, WEDNESDAY, THURSDAY = (datetime(2026, 11, day, 9) for day in (2, 3, 4, 5))


def frames(
    seen: list[tuple[object, ...]], read: list[tuple[object, ...]], work: list[tuple[object, ...]]
) -> dict[str, pl.DataFrame]:
    """The three frames of rows by hand."""
    places = {"vehicle": pl.String, "scanned_at": pl.Datetime, "module": pl.String, "code": pl.String}
    works = {"vehicle": pl.String, "done_at": pl.Datetime, "job": pl.String, "erased": pl.Boolean}
    works |= dict.fromkeys(("action", "part", "position"), pl.String)
    return {
        "seen": pl.DataFrame(seen, schema=places, orient="row"),
        "read": pl.DataFrame(read, schema=dict(list(places.items())[:3]), orient="row"),
        "work": pl.DataFrame(work, schema=works, orient="row"),
    }


def test_a_module_that_was_not_read_leaves_a_blank_and_one_that_was_read_says_gone():
    told = stories(
        frames(
            [("K", MONDAY, "ECM", "ECM:P1"), ("K", WEDNESDAY, "ABS", "ABS:C1"), ("K", WEDNESDAY, "ECM", "ECM:P0")],
            [("K", MONDAY, "ECM"), ("K", WEDNESDAY, "ECM"), ("K", WEDNESDAY, "ABS")],
            [
                ("K", TUESDAY, "J1", True, "replace", "hose", "left"), ("K", TUESDAY, "J1", True, "clean", "valve", ""),
                ("K", THURSDAY, "J2", True, None, None, None),
            ],
        )
    )  # fmt: skip
    assert told["K"].visits == [
        Visit(MONDAY, ""),
        Visit(TUESDAY, "Replace hose, left; Clean valve; erased"),
        Visit(WEDNESDAY, ""),
        Visit(THURSDAY, "erased"),
    ]
    assert told["K"].codes == [
        ("ECM:P1", ["seen", "work", "gone", "work"]),
        ("ABS:C1", ["unread", "work", "seen", "work"]),
        ("ECM:P0", ["gone", "work", "seen", "work"]),
    ]


def test_a_car_scanned_clean_has_visits_and_no_codes():
    assert stories(frames([], [("K", MONDAY, "ECM")], [])) == {"K": Story([Visit(MONDAY, "")], 0, [])}


def test_only_the_latest_visits_are_shown_and_the_others_counted():
    days = [datetime(2026, 1, day) for day in range(1, 21)]
    read = [("K", day, "ECM") for day in days]
    told = stories(frames([("K", days[0], "ECM", "ECM:P9"), ("K", days[-1], "ECM", "ECM:P1")], read, []))["K"]
    assert [visit.at for visit in told.visits] == days[-MOST_VISITS:]
    assert told.earlier == 20 - MOST_VISITS
    assert told.codes == [("ECM:P1", ["gone"] * (MOST_VISITS - 1) + ["seen"])]


def test_steady_families_are_counted_and_the_others_named_new_first():
    tables = sample()[0]
    told = changes(tables["family_changes"], tables["car_changes"], "2026-W47")
    assert [row["change"] for row in told.families] == ["new", "growing", "fading", "vanished"]
    assert told.steady == (tables["family_changes"]["change"] == "steady").sum() == 4
    assert [[row["vehicle"] for row in rows] for rows in (told.new, told.off, told.other)] == [
        ["K-1004"],
        ["K-0998"],
        ["K-1011"],
    ]
