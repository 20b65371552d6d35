"""Printed texts with an address in front of each unit's name, and with a model's name that looks like a day."""

from __future__ import annotations

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from pipelines.ingest.mapping_draft import draft_of
from pipelines.reading.drafting.scan_lines import fields
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.read_table import Reading
from pipelines.reading.recognise import read_mapped

PRINT = """  VEHICLE REPORT
  Chassis  ZZB73UL5J54H37801
  Vehicle  Corvane Dune 2, 2017
  Read on  14 Jan 2025   09:18        Clock 63 223 km
  [01] MOTOR ....................... 1 fault
      > U0101  Lost communication with gearbox unit
        state: present
  [02] GEARBOX ..................... no fault
  [03] BRAKES ...................... 2 faults
      > U0101  Lost communication with gearbox unit
        state: present
      > C0460  Steering angle sensor signal
        state: present
  [A5] CAMERA ...................... no fault
  End of report
"""
READ = [("MOTOR", "U0101"), ("GEARBOX", None), ("BRAKES", "U0101"), ("BRAKES", "C0460"), ("CAMERA", None)]


def read(folder: Path, text: str) -> Reading:
    path = folder / "report.txt"
    path.write_text(text, encoding="utf-8")
    draft = draft_of(path, {}, None)
    assert [asked.key for asked in draft.open] == []
    (folder / "drafted.toml").write_text(draft.toml(), encoding="utf-8")
    return read_mapped(path, load_mapping(folder / "drafted.toml"), ZoneInfo("UTC"))


@pytest.mark.parametrize(
    ("was", "now"),
    [
        ("[0", "[0"),
        ("[", ""),  # without any brackets
        (" ....................... ", ": "),
        (" .", " : ."),
        ("    > ", "    "),
    ],
)
def test_an_address_in_front_of_a_unit_is_passed_over(tmp_path, was, now):
    text = PRINT.replace(was, now)
    text = text.replace("] ", " ") if now == "" else text
    found = read(tmp_path, text)
    named = [("MOTOR" if one == "ECM" else one, code) for one, code in found.rows.select("module", "code").rows()]
    assert named == READ
    assert found.rows["scanned_at"].unique().to_list() == ["2025-01-14 09:18:00"]
    assert found.account.codes_left == 0


def test_a_heading_without_a_count_beside_clean_ones(tmp_path):
    text = PRINT.replace(" ....................... 1 fault", "").replace(" ...................... 2 faults", "")
    found = read(tmp_path, text)
    named = [("MOTOR" if one == "ECM" else one, code) for one, code in found.rows.select("module", "code").rows()]
    assert named == READ


@pytest.mark.parametrize("line", ["Vehicle  Corvane Dune 2, 2017", "Vehicle: Tesmar 2 Heron 2016", "Car Brisk 1, 2015"])
def test_a_model_with_a_number_and_a_year_is_no_day(line):
    assert not any(field.column == "scanned_at" for field in fields(line))


@pytest.mark.parametrize("line", ["Read on March 2, 2017", "Read on 2 Mar. 2017", "gelesen am 2. Oktober 2017"])
def test_a_named_month_is_a_day(line):
    assert any(field.column == "scanned_at" for field in fields(line))
