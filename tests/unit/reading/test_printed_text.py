"""Printed reports: what stands above a line counts for it, and no line that looks like a code is passed over."""

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from pipelines.errors import InputFileError
from pipelines.reading.mapping import printed_text
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.recognise import read_mapped

HEAD = """\
serves = ["*.txt"]
format = "text"
[text]
scan = ['^Car (?<vehicle>\\S+)$', '^On (?<scanned_at>.+)$', '^At (?<odometer>\\d+) km$']
module = '^Unit (?<module>\\w+)$'
code = '^ (?<code>[PCBU]\\w{4})(?: in (?<module>\\w+))?(?: (?<status>\\w+))?$'
no_codes = '^ none$'
silent = '^ silent$'
"""


def read(tmp_path, text, extra=""):
    path = tmp_path / "a.txt"
    path.write_text(text, encoding="utf-8")
    mapping = tmp_path / "m.toml"
    mapping.write_text(HEAD + extra)
    return read_mapped(path, load_mapping(mapping), ZoneInfo("UTC"))


def cells(reading, *columns):
    return reading.rows.select(*columns).rows()


def test_each_line_takes_what_stands_above_it(tmp_path):
    reading = read(
        tmp_path,
        "Car A1\nOn 2026-11-23 09:00\nUnit ECM\n P0301\n P0302 active\nUnit ABS\n none\nUnit SRS\n silent\n"
        "Car A2\nOn 2026-11-24 09:00\nUnit ECM\n P0420\nAt 500 km\n",
    )
    assert cells(reading, "row", "vehicle", "module", "module_state", "code", "status", "odometer") == [
        (4, "A1", "ECM", None, "P0301", None, None),
        (5, "A1", "ECM", None, "P0302", "active", None),
        (7, "A1", "ABS", None, None, None, None),
        (9, "A1", "SRS", "silent", None, None, None),
        (13, "A2", "ECM", None, "P0420", None, "500"),
    ]
    assert reading.rejects.is_empty()


def test_a_new_car_forgets_the_module_and_the_facts_of_the_one_before(tmp_path):
    reading = read(tmp_path, "Car A1\nOn 2026-11-23\nAt 9 km\nUnit ECM\n P0301\nCar A2\nOn 2026-11-24\n P0302\n")
    assert cells(reading, "vehicle", "code", "odometer") == [("A1", "P0301", "9")]
    assert reading.rejects.rows() == [(8, "module", "", "blank; it must be filled")]


def test_what_a_line_says_of_itself_goes_before_what_stands_above(tmp_path):
    reading = read(tmp_path, "Car A1\nOn 2026-11-23\nUnit ECM\n P0301 in TCM\n P0302\n")
    assert cells(reading, "module", "code") == [("TCM", "P0301"), ("ECM", "P0302")]


def test_a_line_before_any_heading_is_refused_with_its_place(tmp_path):
    reading = read(tmp_path, "Unit ECM\n P0301\nCar A1\nOn 2026-11-23\nUnit ECM\n P0302\n")
    assert cells(reading, "row", "code") == [(6, "P0302")]
    assert {(row, column) for row, column, *_ in reading.rejects.rows()} == {(2, "scanned_at"), (2, "vehicle")}


def test_a_heading_with_nothing_below_says_nothing_unless_the_mapping_says_so(tmp_path):
    text = "Car A1\nOn 2026-11-23\nUnit ECM\nUnit ABS\n C0035\nUnit BCM\n"
    reading = read(tmp_path, text)
    assert cells(reading, "module") == [("ABS",)]
    assert reading.notes[1:] == [
        "2 modules have a heading and nothing below it, so nothing is known of them; the first is line 3"
    ]
    reading = read(tmp_path, text, 'bare_module = "no codes"\n')
    assert cells(reading, "row", "module", "code") == [(3, "ECM", None), (5, "ABS", "C0035"), (6, "BCM", None)]
    assert reading.notes[1:] == []


def test_a_line_that_looks_like_a_code_and_fits_no_pattern_is_refused(tmp_path):
    reading = read(tmp_path, "Car A1\nOn 2026-11-23\nUnit ECM\n P0301\n* P0302 !\nhello\n\nbye\n")
    assert cells(reading, "code") == [("P0301",)]
    assert reading.rejects.rows() == [(5, "code", "* P0302 !", "the line looks like a code and fits no pattern")]
    assert reading.notes[1:] == ["2 lines fit no pattern; the first is line 6: hello"]


def test_a_page_break_counts_as_a_line_and_a_long_line_is_refused(tmp_path):
    reading = read(tmp_path, "Car A1\nOn 2026-11-23\fUnit ECM\n P0301   \n" + "x" * 10_001 + "\n")
    assert cells(reading, "row", "code") == [(4, "P0301")]
    assert reading.rejects.rows() == [(5, None, "x" * 120, "a line of more than 10000 characters")]


def test_a_text_without_any_scan_is_refused(tmp_path):
    with pytest.raises(InputFileError) as caught:
        read(tmp_path, "hello\n")
    assert str(caught.value) == (
        f"{tmp_path / 'a.txt'}: no line fits the pattern text.scan of mappings/m.toml; expected a scan's heading. "
        "The file was not loaded."
    )


def test_the_first_pattern_that_fits_has_the_line(tmp_path):
    reading = read(tmp_path, "Car A1\nOn 2026-11-23\nUnit ECM\n none\n", "")
    assert cells(reading, "code") == [(None,)]
    text = HEAD.replace("no_codes = '^ none$'", "no_codes = '^ '")
    (tmp_path / "m.toml").write_text(text)
    (tmp_path / "b.txt").write_text("Car A1\nOn 2026-11-23\nUnit ECM\n silent\n P0301\n")
    reading = read_mapped(tmp_path / "b.txt", load_mapping(tmp_path / "m.toml"), ZoneInfo("UTC"))
    # silent is tried before no_codes, and no_codes before code
    assert cells(reading, "row", "module_state", "code") == [(4, "silent", None), (5, None, None)]


def test_patterns_that_take_far_too_long_are_stopped(tmp_path, monkeypatch):
    monkeypatch.setattr(printed_text, "_SECONDS_A_BLOCK", 0.0)
    with pytest.raises(
        InputFileError, match=r"a\.txt: the patterns took more than 0 seconds for 20000 lines; simplify them"
    ):
        read(tmp_path, "Car A1\n")


def test_a_pattern_made_to_explode_takes_no_time(tmp_path):
    # In a backtracking engine this takes longer than the age of the universe.
    text = HEAD.replace("code = '^ (?", "code = '^(?:(a+)+)+$|^ (?")
    (tmp_path / "m.toml").write_text(text)
    path = Path(tmp_path / "a.txt")
    path.write_text("Car A1\nOn 2026-11-23\nUnit ECM\n P0301\n" + "a" * 9_000 + "!\n")
    reading = read_mapped(path, load_mapping(tmp_path / "m.toml"), ZoneInfo("UTC"))
    assert cells(reading, "code") == [("P0301",)]
