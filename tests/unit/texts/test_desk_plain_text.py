"""Messages as the desk says them: no names of columns, no terms of the program, quotations untouched."""

from __future__ import annotations

import pytest

from analysis.texts.desk_file_text import answer_words
from analysis.texts.desk_plain_text import plain, row_in, sheets_of


@pytest.mark.parametrize(
    ("told", "said"),
    [
        (
            "Which column is scanned_at (start of the scan)?",
            "Which column is when it was scanned (day and time of the scan)?",
        ),
        (
            "Which column is status (ISO 14229-1 status byte as 2 hex digits, or one of active, pending)?",
            "Which column is status (active, pending, stored or the like)?",
        ),
        (
            "Which column is code (fault code as the scan shows it (`P0301-00` and `0x4045` are read)?",
            "Which column is code (the fault codes; blank: read, and none stored)?",
        ),
        (
            "Which column is status ('A', 'B' may tell it; - for none)?",
            "Which column is status ('A', 'B' may tell it)?",
        ),
        ("Which state have the codes in 'Old' (- for none)?", "Which state have the codes in 'Old'?"),
        ("expected 2 hex digits", "expected two signs from 0 to 9 and A to F"),
        ("left out, not in the layout of stock: Plate", "Not used: Plate"),
        ("Which column is make (as known)?", "Which column is make (as known)?"),
        ("the heading 'scanned_at' says odometer_unit", "the heading 'scanned_at' says km or miles"),
        (
            "18 lines fit no pattern; the first is line 3: x",
            "18 lines look like none that is read, and were left out; the first is line 3: x",
        ),
        (
            "x.csv: no table, or let 'knockon map x.csv' draft a mapping",
            "x.csv: no table, or have it ask you line by line",
        ),
        (
            "The draft cannot read the file yet: draft:2: format: nothing in the mapping fills scanned_at and vehicle "
            "or vin. Nothing was run.",
            "It is not clear yet where it tells when it was scanned and car (stock number).",
        ),
        (
            "The draft cannot read the file yet: draft:4: text.scan: is missing; every mapping has it.",
            "It is not clear yet where a scan begins: which car it was, and when.",
        ),
        (
            "x.csv: the content is binary; expected UTF-8 text. The file was not loaded.",
            "x.csv: it holds no text that can be read, and is no workbook, PDF or zip. The file was not loaded.",
        ),
        ("the module was not read again", "the control unit (module) was not read again"),
        ("scans/module.csv is taken in: 1 row.", "scans/module.csv is taken in: 1 row."),
        ("baskets of masked codes", "times between two jobs with a reading of left alone codes"),
        (
            "Which column is module (its name)?",
            "Which column is control unit (the control unit that was read: engine, brakes, airbag)?",
        ),
    ],
)
def test_the_programs_terms_are_said_in_plain_words(told: str, said: str):
    assert plain(told) == said


@pytest.mark.parametrize(
    ("told", "plainly"),
    [
        ("read by mappings/autoprobe_prints.toml", "Read as you answered before for autoprobe_prints"),
        ("K-1: BCM:B1325@malvo is left alone", "K-1: B1325 (BCM) is left alone"),
        ("scans/yard_days-e5c1fd9e.xlsx row 10000004: no code", "scans/yard_days.xlsx row 4 of sheet 2: no code"),
        ("scans/yard.csv row 4", "scans/yard.csv row 4"),
        (
            "2 likely and 1 confirmed (corrections after Benjamini-Yekutieli and after Holm).",
            "2 likely and 1 confirmed.",
        ),
    ],
)
def test_a_programmers_word_of_a_note_is_a_plain_one(told: str, plainly: str):
    assert plain(told) == plainly


def test_a_row_is_told_by_its_sheet():
    notes = ["read by yard", "rows of the sheet '14 Aug 2026' are numbered from 10000001",
             "rows of the sheet 'Sheet 3' are numbered from 20000001"]  # fmt: skip
    sheets = sheets_of(notes)
    assert sheets == {1: "14 Aug 2026", 2: "Sheet 3"}
    assert [row_in(at, sheets) for at in (7, "10000004", 20000012, 30000002, "")] == [
        "7", "row 4 of '14 Aug 2026'", "row 12 of 'Sheet 3'", "row 2 of sheet 4", "",
    ]  # fmt: skip


def test_no_pattern_and_no_name_of_a_format_is_put_before_a_dealer():
    asked = "Lines like 'no pattern' stand below codes and no pattern takes them; may they be left out?"
    assert (
        plain(asked) == "Lines like 'no pattern' stand below codes and nothing here reads them; may they be left out?"
    )
    assert plain("Which sheet (* for every one that has the columns)?") == "Which sheet?"
    assert answer_words("sheet", "*") == "every sheet with these columns"
    assert answer_words("format", "lines") == "line by line, each line one row"
