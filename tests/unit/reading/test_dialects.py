"""Tables of our own in a spreadsheet's dialect: known from the whole file, or asked for, never guessed."""

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from pipelines.errors import InputFileError, UnansweredError
from pipelines.habits import ASKED, Habits
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.read_table import Reading
from pipelines.reading.recognise import read_file
from pipelines.reading.source import encoding_of

ROWS = (("A1", "27.09.2026 09:15", "66.316,5", "ECM", "P0301"), ("A2", "03.09.2026", "7,25", "ABS", ""))
HEADER = ("vehicle", "scanned_at", "odometer", "module", "code")


def read(folder: Path, content: bytes, habits: Habits = ASKED, table: str = "scans") -> Reading:
    path = folder / "own.csv"
    path.write_bytes(content)
    return read_file(path, LAYOUTS[table], ZoneInfo("UTC"), [], habits)


def told(reading: Reading, *names: str) -> list[tuple[object, ...]]:
    return reading.rows.select(names).rows()


@pytest.mark.parametrize("mark", [";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-be", "cp1252"])
def test_marks_and_encodings_of_spreadsheets_are_known_from_the_file(tmp_path, mark, encoding):
    text = "\r\n".join(mark.join(row) for row in (HEADER, *ROWS, ("Ä3", "13.09.2026", "8", "ECM", "")))
    reading = read(tmp_path, text.encode(encoding))
    assert told(reading, "vehicle", "scanned_at", "odometer") == [
        ("A1", "2026-09-27 09:15:00", "66316.5"),
        ("A2", "2026-09-03 00:00:00", "7.25"),
        ("Ä3", "2026-09-13 00:00:00", "8"),
    ]
    assert "dates were read day first: '13.09.2026' can be nothing else" in reading.notes


def test_a_line_that_names_the_separator_is_no_header(tmp_path):
    reading = read(tmp_path, b"sep=;\r\nvehicle;scanned_at;module;code\r\nA1;2026-11-23;ECM;\r\n")
    assert told(reading, "row", "vehicle") == [(3, "A1")]


def test_month_first_is_told_by_one_date_of_the_whole_file(tmp_path):
    content = b"vehicle,scanned_at,module,code\nA1,03/04/2026 1:05 PM,ECM,\nA2,11/23/2026 12:10 AM,ECM,\n"
    assert told(read(tmp_path, content), "scanned_at") == [("2026-03-04 13:05:00",), ("2026-11-23 00:10:00",)]


def test_days_that_may_be_months_wait_and_one_line_answers(tmp_path):
    content = b"vehicle,scanned_at,module,code\nA1,03/04/2026,ECM,\n"
    with pytest.raises(
        UnansweredError, match=r"every one with a day below 13.*date_order = \"day first\".*The file waits"
    ):
        read(tmp_path, content)
    assert told(read(tmp_path, content, Habits(date_order="day first")), "scanned_at") == [("2026-04-03 00:00:00",)]
    assert told(read(tmp_path, content, Habits(date_order="month first")), "scanned_at") == [("2026-03-04 00:00:00",)]


def test_a_mark_that_may_part_thousands_waits_and_one_line_answers(tmp_path):
    content = b"vehicle;scanned_at;odometer;module;code\nA1;2026-11-23;66.316;ECM;\n"
    with pytest.raises(UnansweredError, match=r"'66.316'.*decimal_mark = \"comma\".*The file waits"):
        read(tmp_path, content)
    assert told(read(tmp_path, content, Habits(decimal_mark="comma")), "odometer") == [("66316",)]
    assert told(read(tmp_path, content, Habits(decimal_mark="point")), "odometer") == [("66.316",)]


def test_a_decimal_comma_among_decimal_points_refuses_its_row_alone(tmp_path):
    reading = read(
        tmp_path, b'vehicle,scanned_at,odometer,code,module\nA1,2026-11-23,12.5,,ECM\nA2,2026-11-23,"12,5",,ECM\n'
    )
    assert told(reading, "odometer") == [("12.5",)]
    assert reading.rejects["value"].to_list() == ["12,5"]


def test_prices_with_a_decimal_comma_are_read_in_the_price_book(tmp_path):
    reading = read(tmp_path, "part;part_cost\nbattery;1.250,50\nhose;12,00\n".encode("cp1252"), table="parts")
    assert told(reading, "part", "part_cost") == [("battery", "1250.5"), ("hose", "12")]


def test_windows_code_pages_are_told_apart_by_their_letters():
    # Words of three languages in the code pages that Windows has for them (its code charts, through Python's codecs).
    assert encoding_of("Fühler größer".encode("cp1252")) == "cp1252"
    assert encoding_of("pałąk, wyłącznik".encode("cp1250")) == "cp1250"
    assert encoding_of("датчик скорости".encode("cp1251")) == "cp1251"


def test_codes_in_a_column_that_nobody_reads_are_said(tmp_path):
    rows = "".join(f"A{number},2026-11-23,ECM,P0301,P0{number}\n" for number in (420, 171, 172))
    reading = read(tmp_path, f"vehicle,scanned_at,module,code,second\n{rows}".encode())
    assert (reading.account.codes, reading.account.codes_read) == (6, 3)
    assert "not everything was read: 3 of 6 texts that look like a code were read; 3 were not read" in reading.notes[-1]


def test_a_file_full_of_codes_that_gives_no_row_is_refused(tmp_path):
    rows = "".join(f"A{number},soon,ECM,P0301\n" for number in range(3))
    with pytest.raises(InputFileError, match="found 3 texts that look like a code, and not one row could be read"):
        read(tmp_path, f"vehicle,scanned_at,module,code\n{rows}".encode())
