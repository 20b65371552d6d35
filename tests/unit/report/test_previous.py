"""Which report is the latest, and what is said of one that cannot be read."""

from __future__ import annotations

import json
from datetime import date

import pytest

from pipelines.errors import BatchError
from pipelines.report.previous import last_families, last_run
from tests.support.keepers import dealer


def report(place, week: str, as_of: str) -> None:
    folder = place.reports / week
    folder.mkdir()
    (folder / "run.json").write_text(json.dumps({"week": week.strip("."), "as_of": as_of}), encoding="utf-8")
    (folder / "families.csv").write_text(f"codes,root\n{week},\n", encoding="utf-8")


def test_the_latest_week_counts_and_a_half_made_report_does_not(tmp_path):
    place = dealer(tmp_path)
    report(place, ".2026-W48.new", "2026-11-23")
    with pytest.raises(BatchError, match=r"has no report yet; run 'knockon weekly .*' first\."):
        last_run(place)
    assert last_families(place).is_empty()
    report(place, "2026-W09", "2026-02-23")
    report(place, "2026-W10", "2026-03-02")
    assert last_run(place) == ("2026-W10", date(2026, 3, 2))
    assert last_families(place)["codes"].to_list() == [["2026-W10"]]


@pytest.mark.parametrize("text", ["{", "[]", "{}", '{"week": "2026-W10", "as_of": "soon"}'])
def test_a_report_that_cannot_be_read_is_named_with_what_to_do(tmp_path, text):
    place = dealer(tmp_path)
    report(place, "2026-W10", "2026-03-02")
    (place.reports / "2026-W10" / "run.json").write_text(text, encoding="utf-8")
    words = r"2026-W10/run\.json cannot be read \(.+\); 'knockon weekly' makes that week's report anew\. Nothing was"
    with pytest.raises(BatchError, match=words):
        last_run(place)
