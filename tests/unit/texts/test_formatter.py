"""A dealer who writes miles and the day first: page, sheets, pictures, list and notes follow his settings."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Iterator
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from pypdf import PdfReader

from analysis.charts import draw, page, pictures
from analysis.charts.trend_chart import LONG, trend_chart
from analysis.mining.miner import artefact_notes
from analysis.texts.formatter import Formatter
from pipelines.batch.weekly import run_week
from pipelines.commands.reasons import reasons_for
from pipelines.report.job_sheet import job_sheets
from pipelines.storage.warehouse import Warehouse
from tests.integration.test_warnings import scan, warned
from tests.support.page_reader import Reader, drawn
from tests.support.sample_report import prepared, sample
from tests.support.small_dealer import Rows, build, load, workspace

BRITISH = {"currency": "GBP", "odometer_unit": "mi", "date_style": "day first"}
ISO_DAY = re.compile(r"\d{4}-\d\d-\d\d")
KM = re.compile(r"\bkm\b")


@cache
def told() -> tuple[dict[str, pl.DataFrame], dict[str, Any]]:
    """The sample report's tables, for this dealer; what a file should have held is told as files hold it: left out."""
    tables, run = sample()
    tables["rejects"] = tables["rejects"].clear()
    return tables, run | {"settings": run["settings"] | BRITISH}  # type: ignore[operator]


@cache
def told_charts() -> dict[str, dict[str, Any]]:
    """His charts."""
    tables, run = told()
    return draw(tables, run["settings"])


@pytest.mark.slow
def test_the_page_holds_no_other_day_than_the_dealers():
    tables, run = told()
    shown = Reader(page(tables, run, drawn=told_charts())).shown
    assert "as of 23.11.2026" in shown
    assert ISO_DAY.findall(shown) == []
    assert ISO_DAY.findall(Reader(drawn()).shown), "the same search finds days where they are ISO"


@pytest.mark.slow
def test_the_job_sheets_hold_no_other_day_and_distance_than_the_dealers():
    sheets = job_sheets(*told())
    texts = [
        Reader(content.decode()).shown if name.endswith("html")
        else "".join(part.extract_text() for part in PdfReader(io.BytesIO(content)).pages)
        for name, content in sheets.items()
    ]  # fmt: skip
    driven = [text for text in texts if re.search(r"Driven\s+at\s+least\s+25\s+mi", text)]
    assert len(driven) > len(texts) / 2  # 40 km are 24.9 miles; who hands a car over drives nothing
    assert all(re.search(r"23\.11\.2026", text) for text in texts)
    assert [text for text in texts if ISO_DAY.search(text) or KM.search(text)] == []


def formats(value: Any) -> Iterator[str]:
    """Yield every format of a day that a chart names."""
    if isinstance(value, dict):
        yield from (text for key, text in value.items() if key == "format" and "%" in text and "." not in text[:2])
        for one in value.values():
            yield from formats(one)
    elif isinstance(value, list):
        for one in value:
            yield from formats(one)


@pytest.mark.slow
def test_axes_and_tooltips_write_days_as_the_dealer_does():
    tables, _ = told()
    assert set(formats(told_charts())) == {"%d.%m.%Y", "%m.%Y"}
    assert set(formats(draw(tables, {"date_style": "month first"}))) == {"%m/%d/%Y", "%m/%Y"}
    assert set(formats(draw(*sample()))) == {"%Y-%m-%d", "%Y-%m"}
    trend = pictures({"trend": told_charts()["trend"]})["trend.svg"].decode()
    assert re.findall(r">(\d\d\.20\d\d)<", trend)


def test_where_all_happened_in_a_few_months_the_axis_names_days():
    families = prepared("families", [{"family": "f", "vehicles": 3, "codes": "A:1;B:2"}])
    for days, wanted in ((LONG - 3, "%d.%m.%Y"), (LONG + 4, "%m.%Y")):
        ends = [date(2026, 1, 5), date(2026, 1, 5) + timedelta(days=days)]
        weeks = prepared("family_weeks", [{"family": "f", "week": end, "vehicles": 2} for end in ends])
        drawn = trend_chart(weeks, families, {}, Formatter.of(BRITISH))
        assert drawn is not None
        assert drawn["encoding"]["x"]["axis"]["format"] == wanted


def test_notes_on_single_days_write_them_as_the_dealer_does():
    row = {"code": "ABS:C0031", "day": date(2026, 11, 3), "vehicles": 7, "scanned": 8}
    first, _ = artefact_notes(pl.DataFrame([row]), Formatter.of(BRITISH))
    assert first.startswith("ABS:C0031 was first seen on 7 of the 8 cars scanned on 03.11.2026: ")


STOCK: Rows = [{"vehicle": "A1", "make": "Corvane", "model": "Alder"}]


@pytest.mark.slow
def test_a_week_of_this_dealer_says_miles_throughout(tmp_path: Path):
    odd = [scan("2026-03-01T09:00", 50000), scan("2026-03-05T09:00", 49000), scan("2027-01-05T09:00", 51000)]
    codes = [scan(f"2026-11-0{day}T09:00", 52000, code="C0031", module="ABS", status="history") for day in (2, 9)]
    place = workspace(tmp_path, stock=STOCK, scans=odd + codes)
    lines = [f"{name} = {json.dumps(value)}" for name, value in BRITISH.items()]
    place.settings_file.write_text("\n".join(lines), encoding="utf-8")
    report = run_week(place, date(2026, 11, 23))
    said = "\n".join(report.notes)
    assert "A1: scans/scans.csv row 3 has 49000 mi after 50000 mi in scans/scans.csv row 2" in said
    assert "has a scan of A1 on 05.01.2027, more than a day ahead of this report" in said
    listed = (report.folder / "shortlist.csv").read_text(encoding="utf-8")
    assert "erase, drive 25 mi, scan again" in listed
    shown = Reader((report.folder / "index.html").read_text(encoding="utf-8")).shown
    printed = str([(section.lines, section.head, section.rows) for section in reasons_for(place, "A1")])
    assert "02.11.2026" in printed
    for text in (said, listed, shown, printed):
        assert not re.search(r"\d\s+km\b", text)
        assert ISO_DAY.findall(text) == []


@pytest.mark.slow
def test_odometers_are_told_in_the_dealers_unit_whatever_a_file_says(tmp_path: Path):
    # 31068.6 miles are 50000 km by the definition of the mile, 1.609344 km.
    rows = [scan("2026-03-01T09:00", 50000, odometer_unit="km"), scan("2026-03-05T09:00", 30000, odometer_unit="mi")]
    place = workspace(tmp_path / "mi", stock=STOCK, scans=rows)
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
        miles = build(warehouse, marts=("warnings",), odometer_unit="mi")["warnings"]
    assert "has 30000 mi after 31069 mi in" in miles["detail"][0]
    assert "has 48280 km after 50000 km in" in warned(tmp_path / "km", rows)[0][3]
