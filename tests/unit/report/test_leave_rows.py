"""Codes that are left alone: on the page, the job sheets, in the workbook and on the terminal they are named, free."""

from __future__ import annotations

import io
import re
from functools import cache
from pathlib import Path
from typing import Any

import polars as pl
from openpyxl import load_workbook
from pypdf import PdfReader

from analysis.charts import page
from analysis.charts.cost_chance import first_tries
from analysis.charts.job_page import jobs
from analysis.texts.action_text import may_stay
from pipelines.report.job_sheet import job_sheets
from pipelines.report.outgoing import prepare
from pipelines.report.sections import list_section
from pipelines.report.workbook import write_workbook
from tests.support.page_reader import Reader
from tests.support.sample_report import sample

QUIRK, DO = "BCM:B1455", "Nothing to do, if you agree: no fault seems to set these codes"
LEFT: dict[str, Any] = {
    "action": "leave", "total_cost": 0, "expected_cost": 0, "leaves": QUIRK, "jobs": 0, "jobs_cleared": 0,
    "basis": "code", "cheap": True, "inspection": "none",
}  # fmt: skip


@cache
def week() -> tuple[dict[str, pl.DataFrame], dict[str, object], str, str]:
    """The sample with a car whose list ends with codes left alone, and one that has nothing else; their names."""
    tables, run = sample()
    listed, opened = tables["shortlist"], tables["open_codes"]
    first, only = sorted(listed["vehicle"].unique())[:2]
    rows = [
        {**LEFT, "vehicle": first, "rank": listed.filter(pl.col("vehicle") == first).height + 1},
        {**LEFT, "vehicle": only, "rank": 1},
    ]
    # All of both cars' codes are open; the quirk beside them.
    more = pl.DataFrame(
        [{"vehicle": car, "module": "BCM", "code": QUIRK} for car in (first, only)], schema=opened.schema
    )
    made = pl.concat([listed.filter(pl.col("vehicle") != only), pl.DataFrame(rows, schema=listed.schema)])
    codes = pl.concat([opened.filter(pl.col("vehicle") != only), more])
    return tables | {"shortlist": made, "open_codes": codes}, run, first, only


def test_the_report_takes_the_row_and_keeps_its_chance_blank():
    blank = {"vehicle": "K-1", "rank": 2, "part": "", "position": ""} | LEFT
    columns = prepare("shortlist", sample()[0]["shortlist"].head(0)).columns
    told = pl.DataFrame([{name: blank.get(name) for name in columns}], infer_schema_length=None)
    row = prepare("shortlist", told).row(0, named=True)
    assert (row["action"], row["chance"], row["total_cost"], row["leaves"]) == ("leave", None, 0.0, QUIRK)


def test_the_page_names_the_codes_and_draws_no_mark():
    tables, run, first, only = week()
    shown = " ".join(Reader(page(tables, run, drawn={})).shown.split())
    assert shown.count(DO) >= 2
    assert QUIRK in shown
    points = first_tries(tables["shortlist"])
    assert points.filter(pl.col("vehicle") == only)["point"].to_list() == [None]
    assert points.filter(pl.col("vehicle") == first).height == 1


def test_a_job_sheet_names_the_codes_and_gives_nothing_to_tick():
    tables, run, _, only = week()
    [job] = [job for job in jobs(tables, run["settings"]) if job.vehicle == only]  # type: ignore[arg-type]
    [one] = job.tries
    assert (one.title, one.boxes, one.clears, one.then) == (DO, [], [], [])
    assert f"stay as they are: {QUIRK}" in one.facts
    assert "%" not in one.facts
    sheets = job_sheets(tables | {"shortlist": tables["shortlist"].filter(pl.col("vehicle") == only)}, run)
    pdf = "".join(page.extract_text() for page in PdfReader(io.BytesIO(sheets[f"jobsheets/{only}.pdf"])).pages)
    for text in (pdf, Reader(sheets[f"jobsheets/{only}.html"].decode()).shown):
        assert f"stayastheyare:{QUIRK}" in re.sub(r"\s+", "", text)


def test_the_workbook_holds_the_row(tmp_path: Path):
    tables, _, first, only = week()
    write_workbook(tmp_path / "week.xlsx", {"shortlist": tables["shortlist"]})
    book = load_workbook(tmp_path / "week.xlsx")
    cells = [tuple(cell.value for cell in row) for sheet in book for row in sheet.iter_rows()]
    assert {car for car in (first, only) for row in cells if car in row and "leave" in row} == {first, only}


def test_the_terminal_names_the_codes_and_tells_no_chance():
    tables, _, first, _ = week()
    rows = tables["shortlist"].filter(pl.col("vehicle") == first)
    last = list_section(rows, "EUR").rows[-1]
    assert last[1:] == (
        f"nothing to do, if you agree: no fault seems to set these codes, {QUIRK}",
        "",
        "",
        "0.00",
        "",
        "none",
    )


def test_codes_that_may_stay_are_told_as_such_on_page_paper_and_terminal():
    tables, run, first, only = week()
    why = may_stay([QUIRK])
    told = pl.when(action="leave").then(pl.lit(why)).otherwise("check_first").alias("check_first")
    tables = tables | {"shortlist": tables["shortlist"].with_columns(told)}
    shown = " ".join(Reader(page(tables, run, drawn={})).shown.split())
    assert DO not in shown
    assert shown.count(why) == 2
    sheets = {job.vehicle: job for job in jobs(tables, run["settings"])}  # type: ignore[arg-type]
    assert sheets[only].tries[0].title == "Nothing to do, if you agree: these codes may stay"
    assert why in sheets[only].tries[0].facts
    assert sheets[first].left == f"Leave alone, if you agree: no fault seems to set, or may stay: {QUIRK}. {why}"
    last = list_section(tables["shortlist"].filter(pl.col("vehicle") == only), "EUR").rows[-1]
    assert last[1] == f"nothing to do, if you agree: these codes may stay, {QUIRK}"
