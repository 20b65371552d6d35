"""Names of cars in tables: a plate is never cut; words behind a number are cut off where they are known as such."""

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from pipelines.ingest.mapping_draft import draft_of
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.recognise import read_mapped


def cars(folder: Path, text: str, **answers: str) -> tuple[list[str], list[str]]:
    """Return the cars that the proposals make of a table, and what stays open."""
    path = folder / "export.csv"
    path.write_text(text, encoding="utf-8")
    draft = draft_of(path, {key.replace("__", "."): told for key, told in answers.items()}, None)
    mapping = folder / "drafted.toml"
    mapping.write_text(draft.toml(), encoding="utf-8")
    found = read_mapped(path, load_mapping(mapping), ZoneInfo("UTC")).rows["vehicle"].to_list()
    return found, [asked.key for asked in draft.open]


def table(names: list[str], makes: list[str]) -> str:
    lines = [
        f"{name};{make};13.04.2026;Motor;P030{at};aktiv"
        for at, (name, make) in enumerate(zip(names, makes, strict=True))
    ]
    return "\n".join(["Kennzeichen;Marke;Tag;Steuergerät;Fehlercode;Status", *lines]) + "\n"


@pytest.mark.parametrize(
    "plates",
    [
        ["LN-733 PB", "GA-803 DK", "LN-620 SH"],
        ["LN-733, PB", "GA-803, DK", "LN-620, SH"],
        ["LN-PB 733", "GA-DK 803", "B-SH 620"],
        ["LN 733 (1)", "GA 803 (2)", "LN 620 (3)"],
        ["AB12 CDE", "AB13 CDF", "AB14 CDG"],
    ],
)
def test_plates_that_all_look_alike_are_kept_whole(tmp_path, plates):
    assert cars(tmp_path, table(plates, ["Kestrin", "Malvo", "Toruga"])) == (plates, [])


def test_the_make_that_stands_in_another_column_is_cut_off(tmp_path):
    names = ["Y-201 TRG", "Y-202 Malvo", "Y-203 TRG"]
    makes = ["TRG", "Malvo", "TRG"]
    assert cars(tmp_path, table(names, makes)) == (["Y-201", "Y-202", "Y-203"], [])


def test_words_that_no_other_column_has_are_asked_about(tmp_path):
    text = table(["Y-201 Kestrin", "Y-202 Malvo"], ["", ""])
    assert cars(tmp_path, text) == (["Y-201", "Y-202"], [])
    assert cars(tmp_path, text, pick__vehicle="cell")[0] == ["Y-201 Kestrin", "Y-202 Malvo"]
    capitals = table(["Y-201 KEST", "Y-202 MALV"], ["", ""])
    assert cars(tmp_path, capitals) == (["Y-201 KEST", "Y-202 MALV"], ["pick.vehicle"])
