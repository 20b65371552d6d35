"""What lists had promised, held against jobs: each case worked by hand."""

from __future__ import annotations

from datetime import date, datetime

import polars as pl

from pipelines.report import outgoing
from pipelines.report.ledger import ledger

LINE = {"week": "2026-W40", "as_of": date(2026, 9, 28), "last_file": 5, "action": "replace", "part": "hose",
        "position": "", "chance": 0.8, "clears": "E:1;E:2"}  # fmt: skip


def given(*lines: dict[str, object]) -> pl.DataFrame:
    """First lines of earlier lists."""
    return pl.DataFrame([LINE | line for line in lines])


def facts(
    jobs: list[tuple[int, str, datetime, int]], parts: list[tuple[object, ...]], outcomes: list[tuple[int, str, str]]
) -> dict[str, pl.DataFrame]:
    """The marts.

    Jobs are number, vehicle, when and file; parts are job, part, position, supplier, cents and minutes.
    """
    numbers = {"job_id": pl.Int64, "vehicle": pl.String, "done_at": pl.Datetime, "file_id": pl.Int64}
    all_jobs = pl.DataFrame(jobs, schema=numbers, orient="row")
    works = {"job_id": pl.Int64, "part": pl.String, "position": pl.String, "supplier": pl.String,
             "part_cents": pl.Int64, "labour_minutes": pl.Float64}  # fmt: skip
    fitted = pl.DataFrame(parts, schema=works, orient="row")
    bare = ~pl.col("job_id").is_in(fitted["job_id"].to_list())
    return {
        "jobs": all_jobs.drop("file_id").with_columns(job=pl.format("J{}", "job_id"), erase_only=bare),
        "job_files": all_jobs.select("job_id", "file_id"),
        "job_parts": fitted,
        "outcomes": pl.DataFrame(
            outcomes, schema={"job_id": pl.Int64, "code": pl.String, "outcome": pl.String}, orient="row"
        ),
    }


def test_a_followed_line_worked_came_back_or_is_not_proven():
    days = [datetime(2026, 10, day, 9) for day in (1, 2, 3, 4)]
    told = facts(
        [(k + 1, car, days[k], 9) for k, car in enumerate("ABCD")],
        [(1, "hose", "", "Depot", 4200, 30.0), (2, "hose", "", None, None, None), (3, "hose", "", "Nord", 4100, None),
         (4, "battery", "", "Nord", 9000, 10.0)],
        [(1, "E:1", "cleared"), (1, "E:2", "recurred"), (1, "E:9", "returned"), (2, "E:1", "cleared"),
         (2, "E:2", "unproven"), (3, "E:1", "cleared"), (3, "E:2", "returned"), (4, "E:1", "cleared")],
    )  # fmt: skip
    rows = ledger(given(*({"vehicle": car} for car in "ABCD")), told, 45.0)
    # E:9 is no code of the line: it speaks for nothing.  30 minutes at 45 an hour are 22.50.
    assert rows.select("vehicle", "followed", "outcome", "part_cost", "labour_cost", "supplier").rows() == [
        ("A", True, "worked", 4200.0, 2250.0, "Depot"),
        ("B", True, "not proven", None, None, None),
        ("C", True, "came back", 4100.0, None, "Nord"),
        ("D", False, None, None, None, None),
    ]
    assert set(rows["first_try"]) == {"replace hose"}
    assert set(rows["month"]) == {date(2026, 10, 1)}
    assert outgoing.prepare("ledger", rows).height == 4


def test_only_a_list_that_cannot_have_known_the_job_promises_and_the_latest_of_them():
    lines = given(
        {"vehicle": "A", "week": "2026-W38", "as_of": date(2026, 9, 14), "chance": 0.3},
        {"vehicle": "A", "chance": 0.6},
        {"vehicle": "A", "week": "2026-W41", "as_of": date(2026, 10, 5)},
    )
    told = facts([(1, "A", datetime(2026, 10, 1, 9), 9)], [(1, "hose", "", None, None, None)], [])
    assert ledger(lines, told, 45.0).select("list_week", "chance").rows() == [("2026-W40", 0.6)]
    # A list of the same day as the job, or made when the job's file was known, promises nothing.
    same_day = facts([(1, "A", datetime(2026, 9, 14, 9), 9)], [], [])
    assert ledger(lines, same_day, 45.0).is_empty()
    known = facts([(1, "A", datetime(2026, 10, 1, 9), 5)], [], [])
    assert ledger(lines, known, 45.0).is_empty()


def test_a_position_counts_and_a_recheck_is_followed_by_erasing_alone():
    lines = given(
        {"vehicle": "A", "position": "left"},
        {"vehicle": "B", "action": "recheck", "part": None, "position": None},
        {"vehicle": "C", "action": "specialist", "part": None},
        {"vehicle": "D", "action": "leave", "part": None},
    )
    days = datetime(2026, 10, 1, 9)
    told = facts([(k + 1, car, days, 9) for k, car in enumerate("ABCD")], [(1, "hose", "right", None, None, None)], [])
    assert ledger(lines, told, 45.0).select("vehicle", "followed").rows() == [("A", False), ("B", True)]


def test_without_an_earlier_list_there_is_no_row():
    none = given({"vehicle": "A"}).clear()
    assert ledger(none, facts([(1, "A", datetime(2026, 10, 1), 9)], [], []), 45.0).is_empty()
    assert outgoing.prepare("ledger", ledger(none, facts([], [], []), 45.0)).is_empty()
    assert outgoing.prepare("standing", outgoing.no_rows("standing")).is_empty()
