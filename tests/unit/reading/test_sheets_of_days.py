"""A workbook with a sheet a day: the title of each sheet tells the day of its rows."""

from pathlib import Path
from zoneinfo import ZoneInfo

import openpyxl
import pytest

from pipelines.ingest.mapping_draft import draft_of
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.recognise import read_mapped


def drafted(folder: Path, titles: list[str]) -> Draft:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for at, title in enumerate(titles):
        sheet = book.create_sheet(f"Sheet {at + 1}")
        sheet.append([title])
        sheet.merge_cells("A1:E1")
        sheet.append(["VEHICLE", None, "FAULT"])
        sheet.append(["Reg", "Clock (km)", "ECU", "DTC", "State"])
        sheet.append([f"HR 20{at} TC", 156_702 + at, "Engine", "P0301", "now"])
        sheet.append([f"LN 36{at} MF", 110_934 + at, "ABS", "C0035", "past"])
    book.save(folder / "days.xlsx")
    return draft_of(folder / "days.xlsx", {}, None)


@pytest.mark.parametrize(
    "titles",
    [
        [f"yard scan {day}" for day in ("Monday 10 August 2026", "Friday 14 August 2026", "Thursday 26 November 2026")],
        ["Montag, 10.08.2026", "Freitag, 14.08.2026", "Donnerstag, 26.11.2026"],
        ["Scans of 10.08.2026", "Scans of 14.08.2026", "Scans of 26.11.2026"],
    ],
)
def test_each_title_tells_the_day_of_its_sheet(tmp_path, titles):
    draft = drafted(tmp_path, titles)
    assert [asked.key for asked in draft.open] == []
    (tmp_path / "drafted.toml").write_text(draft.toml(), encoding="utf-8")
    found = read_mapped(tmp_path / "days.xlsx", load_mapping(tmp_path / "drafted.toml"), ZoneInfo("UTC"))
    assert found.rejects.rows() == []
    days = [moment[:10] for moment in found.rows["scanned_at"]]
    assert days == ["2026-08-10"] * 2 + ["2026-08-14"] * 2 + ["2026-11-26"] * 2


def test_a_sheet_whose_title_tells_no_day_is_asked_about(tmp_path):
    draft = drafted(tmp_path, ["Scans of 10.08.2026", "Scans after the fair", "Scans of 26.11.2026"])
    (asked,) = draft.open
    assert asked.key == "above.scanned_at"
    assert "'Sheet 2'" in asked.asks
    assert "Scans after the fair" in asked.asks
