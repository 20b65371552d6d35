"""Headings with a slip of the pen are offered as what they are spelled like; known words are no slips."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipelines.ingest.mapping_draft import draft_of
from pipelines.reading.drafting.near_headings import near_heading
from pipelines.reading.drafting.words import HEADINGS


@pytest.mark.parametrize(
    ("table", "column", "heading"),
    [
        ("repairs", "labour_minutes", "Minits"),
        ("scans", "odometer", "Klometers"),
        ("scans", "odometer", "Odomiter"),
        ("stock", "asking_price", "Asking prize"),
        ("repairs", "supplier", "Suplier"),
    ],
)
def test_a_slip_of_the_pen_is_near_a_known_heading(table, column, heading):
    assert near_heading(table, column, heading) in HEADINGS[table][column]


@pytest.mark.parametrize(
    ("table", "column", "heading"),
    [
        ("repairs", "labour_minutes", "Minutes"),  # known itself
        ("repairs", "labour_minutes", "Miners"),
        ("scans", "status", "Stand"),  # an odometer's heading
        ("stock", "model", "Mod"),
        ("repairs", "part", "Party"),
    ],
)
def test_other_words_are_near_none(table, column, heading):
    assert near_heading(table, column, heading) is None


def test_a_near_heading_is_proposed_and_a_person_is_asked(tmp_path: Path):
    text = "Day;Plate;Action;Part;Minits;Materiel EUR\n"
    text += "".join(f"0{at}.03.2026;LN 41{at} KA;replaced;coil;2{at};129,00\n" for at in range(1, 4))
    (tmp_path / "work.csv").write_text(text, encoding="utf-8")
    draft = draft_of(tmp_path / "work.csv", {}, None)
    asked = {one.key: one for one in draft.questions}
    assert (asked["columns.labour_minutes"].proposal, asked["columns.labour_minutes"].hangs) == ("Minits", True)
    assert "is spelled like 'minutes'" in asked["columns.labour_minutes"].why
    assert (asked["columns.part_cost"].proposal, asked["columns.part_cost"].hangs) == ("Materiel EUR", False)
