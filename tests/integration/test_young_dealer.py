"""Twelve cars and not one repair: the report says plainly what is known and what is not, in this dealer's formatter."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import polars as pl
import pytest

from fixtures.dealer.drawing import SEED
from fixtures.dealer.writing import write
from fixtures.dealer.young import CARS, draw_young
from pipelines.batch.weekly import run_week
from pipelines.workspace import Workspace
from tests.support.page_reader import Reader, charts_of

SETTINGS = """
currency = "GBP"
odometer_unit = "mi"
date_style = "day first"
csv_prefix = false
"""
# A car whose number begins like a formula.
ODD = "vehicle,scanned_at,module,code\n=V13,2026-11-20T09:00,ECM,P0455\n"


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The young dealer's first report."""
    folder = tmp_path_factory.mktemp("young")
    write(draw_young(), folder, SEED)
    (folder / "knockon.toml").write_text(SETTINGS, encoding="utf-8")
    (folder / "inbox" / "scans" / "odd.csv").write_text(ODD, encoding="utf-8")
    return run_week(Workspace.open(folder), date(2026, 11, 23)).folder


def test_the_cars_are_in_stock_and_no_one_worked_on_them():
    stories = draw_young()
    assert len(stories) == CARS == 12
    assert not any(story.visits for story in stories)
    assert [story.life.km for story in stories] == [story.life.km for story in draw_young()]


def test_the_report_has_a_ticket_for_every_car_with_a_code_that_counts(report: Path):
    text = (report / "index.html").read_text(encoding="utf-8")
    opened = pl.read_csv(report / "open_codes.csv").filter(pl.col("background").is_null())["vehicle"].unique()
    assert 5 < opened.len() <= CARS + 1
    assert set(re.findall(r'<article class="ticket[^>]*data-vehicle="([^"]*)"', text)) == set(opened)
    assert list(charts_of(text)) == ["costs"]


def test_it_says_what_it_cannot_know_yet(report: Path):
    shown = " ".join(Reader((report / "index.html").read_text(encoding="utf-8")).shown.split())
    for sentence in (
        "No past repair can check this list yet.",
        "There is no earlier report to compare with.",
        "No past visit can check the list yet: that takes jobs with one part whose outcome is proven.",
        "No group yet: no two codes come together often enough",
        "No job with a single part has a known outcome yet.",
        "no job with this part alone yet.",
    ):
        assert sentence in shown


def test_every_chance_is_wide_and_rests_on_no_repair(report: Path):
    fixes = pl.read_csv(report / "shortlist.csv").filter(pl.col("action").is_in(["replace", "repair"]))
    assert fixes.height > 5
    assert set(fixes["jobs"]) == {0}
    assert "repairs" not in set(fixes["basis"])
    assert (fixes["chance_high"] - fixes["chance_low"]).min() > 0.45  # type: ignore[operator]


def test_the_settings_reach_the_csv_the_page_and_the_job_sheet(report: Path):
    assert "\n=V13," in (report / "shortlist.csv").read_text(encoding="utf-8"), "no mark, as the setting says"
    text = (report / "index.html").read_text(encoding="utf-8")
    assert "as of 23.11.2026" in text
    assert "2026-11-" not in text.split('<section id="aside"')[0]
    assert "£" in text
    assert "€" not in text
    sheet = next((report / "jobsheets").glob("V0*.html")).read_text(encoding="utf-8")
    assert "as of 23.11.2026" in sheet
    assert "Driven at least 25\N{NO-BREAK SPACE}mi" in sheet
