"""Files of every kind and every kind of damage: good rows come out alike, bad ones with their place."""

import csv
import io
import json
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipelines.errors import InputFileError
from pipelines.reading.cell_values import LONGEST_CELL
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.read_table import guess_layout, read_table

BERLIN = ZoneInfo("Europe/Berlin")
SCANS_HEADER = "vehicle,scanned_at,module,code"
ROW = "A1,2026-11-23 09:15,ECM,P0301"


def read(tmp_path, content, table="scans", name="w47.csv", zone=BERLIN):
    path = tmp_path / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_table(path, LAYOUTS[table], zone)


def refused(tmp_path, content, name="w47.csv"):
    """Return the message that refuses the file, without its folder."""
    with pytest.raises(InputFileError) as caught:
        read(tmp_path, content, name=name)
    return str(caught.value).replace(str(tmp_path) + "/", "")


def one_cell(tmp_path, column, cell, table="scans"):
    """Return what one cell becomes, or why it is refused."""
    row = {"vehicle": "A1", "scanned_at": "2026-11-23 09:15", "module": "ECM", "code": ""}
    if table == "repairs":
        row = {"vehicle": "A1", "job": "J1", "done_at": "2026-11-23", "action": "erase"}
    if table == "stock":
        row = {"vehicle": "A1", "make": "Corvane", "model": "Alder"}
    row[column] = cell
    out = io.StringIO()
    writer = csv.DictWriter(out, row)
    writer.writeheader()
    writer.writerow(row)
    reading = read(tmp_path, out.getvalue(), table)
    if reading.rejects.height:
        [(row_number, where, value, why)] = reading.rejects.rows()
        assert (row_number, where, value, reading.rows.height) == (2, column, cell.strip(), 0)
        return why
    return reading.rows[column].item()


def test_a_plain_file_comes_out_with_every_column_of_the_layout(tmp_path):
    reading = read(tmp_path, f"{SCANS_HEADER}\n{ROW}\nA2,2026-11-23T10:00:05,abs, \n")
    assert reading.rows.columns == ["row", *(column.name for column in LAYOUTS["scans"].kept)]
    assert reading.rows.schema == {"row": pl.Int64, **dict.fromkeys(reading.rows.columns[1:], pl.String)}
    assert reading.rows.select("row", "vehicle", "scanned_at", "module", "code", "text").rows() == [
        (2, "A1", "2026-11-23 09:15:00", "ECM", "P0301", None),
        (3, "A2", "2026-11-23 10:00:05", "abs", None, None),
    ]
    assert (reading.rows_read, reading.rejects.height, reading.notes) == (2, 0, [])


@pytest.mark.parametrize(
    ("cell", "becomes"),
    [
        ("2026-11-23", "2026-11-23 00:00:00"),
        ("2026-11-23T09:15", "2026-11-23 09:15:00"),
        ("2026-11-23 09:15:30.75", "2026-11-23 09:15:30"),
        # Berlin is one hour ahead of universal time in winter and two in summer.
        ("2026-11-23T09:15:00Z", "2026-11-23 10:15:00"),
        ("2026-07-23T09:15:00Z", "2026-07-23 11:15:00"),
        ("2026-07-23 09:15+05:30", "2026-07-23 05:45:00"),
        ("2026-12-31 23:30:00-0500", "2027-01-01 05:30:00"),
        ("2026-01-01 00:15:00 +03", "2025-12-31 22:15:00"),
        ("23/11/26", "expected a date and time like 2026-11-23 09:15"),
        ("2026-02-30 09:00", "expected a date and time like 2026-11-23 09:15"),
        ("2026-11-23 24:01", "expected a date and time like 2026-11-23 09:15"),
        ("0026-11-23 09:00", "expected a date and time like 2026-11-23 09:15"),
    ],
)
def test_times_are_brought_to_local_time(tmp_path, cell, becomes):
    assert one_cell(tmp_path, "scanned_at", cell) == becomes


def test_offsets_agree_with_the_standard_library_over_a_year(tmp_path):
    moments = [
        datetime(2026, 1, 1, 2, 30, tzinfo=ZoneInfo("UTC")).timestamp() + hours * 3600 for hours in range(0, 8760, 7)
    ]
    given = [datetime.fromtimestamp(moment, ZoneInfo("America/St_Johns")).isoformat() for moment in moments]
    local = [datetime.fromtimestamp(moment, BERLIN).strftime("%Y-%m-%d %H:%M:%S") for moment in moments]
    reading = read(tmp_path, "\n".join([SCANS_HEADER, *(f"A1,{text},ECM," for text in given)]))
    assert reading.rows["scanned_at"].to_list() == local


@pytest.mark.parametrize(
    ("table", "column", "cell", "becomes"),
    [
        ("scans", "odometer", "0120500.50", "120500.5"),
        ("scans", "odometer", "+12.", "12"),
        ("scans", "odometer", "1.2e5", "120000"),
        ("scans", "odometer", "-1", "expected a number with a decimal point from 0 to 10000000"),
        ("scans", "odometer", "12,5", "12.5"),
        ("scans", "odometer", "1,2,5", "expected a number with a decimal point from 0 to 10000000"),
        ("scans", "odometer", "1 200", "expected a number with a decimal point from 0 to 10000000"),
        ("scans", "odometer", "nan", "expected a number with a decimal point from 0 to 10000000"),
        ("scans", "odometer", "inf", "expected a number with a decimal point from 0 to 10000000"),
        ("scans", "occurrences", "007", "7"),
        ("scans", "occurrences", "3.0", "3"),
        ("scans", "occurrences", "3.5", "expected a whole number from 0 to 1000000000"),
        ("scans", "monitors_ready", "YES", "true"),
        ("scans", "monitors_ready", "0", "false"),
        ("scans", "monitors_ready", "maybe", "expected true or false"),
        ("scans", "module_state", "Silent", "silent"),
        ("scans", "module_state", "asleep", "expected one of read, silent"),
        ("scans", "failure_type", "0x1a", "1A"),
        ("scans", "failure_type", "1", "expected 2 hex digits"),
        ("scans", "status", "af", "AF"),
        ("scans", "status", "Active", "active"),
        ("scans", "status", "9", "expected 2 hex digits or one of active, pending, confirmed, permanent, history"),
        ("scans", "text", "</script><script>alert(1)", "</script><script>alert(1)"),
        ("scans", "text", ' two\nlines, "quoted" ', 'two\nlines, "quoted"'),
        ("scans", "text", "=1+1", "=1+1"),
        ("scans", "vin", "1m8gdm9axkp042788", "1M8GDM9AXKP042788"),
        ("scans", "vin", "1M8GDM9AXKPO42788", None),  # the car has a number of its own beside it
        (
            "stock",
            "vin",
            "1M8GDM9AXKPO42788",
            "this VIN has a letter O, which no VIN has; perhaps 1M8GDM9AXKP042788 is meant",
        ),
        ("repairs", "done_at", "2026-11-23", "2026-11-23"),
        ("repairs", "done_at", "2026-11-23 16:00", "2026-11-23 16:00:00"),
        ("repairs", "done_at", "2026-02-30", "expected a date like 2026-11-23, or with a time like 2026-11-23 09:15"),
        ("repairs", "part_cost", "19.90", "19.9"),
        ("repairs", "action", "swap", "expected one of replace, repair, clean, adjust, software, inspect, erase"),
        ("stock", "bought_on", "2026-11-23 00:00:00", "2026-11-23"),
        ("stock", "bought_on", "2026-11-23 09:00:00", "expected a date like 2026-11-23"),
        ("stock", "bought_on", "2026-13-01", "expected a date like 2026-11-23"),
        ("stock", "model_year", "1899", "expected a whole number from 1900 to 2100"),
    ],
)
def test_one_spelling_of_every_kind_of_cell(tmp_path, table, column, cell, becomes):
    assert one_cell(tmp_path, column, cell, table) == becomes


@pytest.mark.parametrize("code", ["0301", "00532", "1E05", "2E-03", "p0301", "PO301", "1.0"])
def test_a_code_stays_as_it_was_written(tmp_path, code):
    assert one_cell(tmp_path, "code", f" {code} ") == code


def test_numbers_keep_every_digit(tmp_path):
    given = [0.1, 1 / 3, 123456.789, 1e-7, 9999999.999999998]
    reading = read(
        tmp_path, "\n".join(["part,part_cost", *(f"p{n},{cost!r}" for n, cost in enumerate(given[:4]))]), "parts"
    )
    assert [float(cost) for cost in reading.rows["part_cost"]] == given[:4]
    reading = read(tmp_path, f"{SCANS_HEADER},odometer\n{ROW},{given[4]!r}")
    assert float(reading.rows["odometer"].item()) == given[4]


def test_each_bad_cell_is_named_and_its_row_left_out_once(tmp_path):
    lines = [
        "vehicle,scanned_at,module,code,odometer",
        "A1,23/11/26,,,x",
        "A1,2026-11-23,ECM,,5",
        ",2026-11-23,ECM,,5",
        "A1,x,ECM,,",
    ]
    reading = read(tmp_path, "\n".join(lines))
    assert reading.rejects.rows() == [
        (2, "scanned_at", "23/11/26", "expected a date and time like 2026-11-23 09:15"),
        (2, "odometer", "x", "expected a number with a decimal point from 0 to 10000000"),
        (2, "module", "", "blank; it must be filled"),
        (4, "vehicle", "", "blank; vehicle or vin must be filled"),
        (5, "scanned_at", "x", "expected a date and time like 2026-11-23 09:15"),
    ]
    assert (reading.rows["row"].to_list(), reading.rows_read) == ([3], 4)


def test_a_part_is_wanted_only_for_work_on_a_part(tmp_path):
    lines = ["vehicle,job,done_at,action,part", "A1,1,2026-11-23,Replace,", "A1,1,2026-11-23,software,"]
    reading = read(tmp_path, "\n".join(lines), "repairs")
    why = "blank; part must be filled where action is replace, repair, clean, adjust"
    assert reading.rejects.rows() == [(2, "part", "", why)]
    assert reading.rows["action"].to_list() == ["software"]


QUOTES = pytest.mark.parametrize("quoted", [False, True], ids=["plain", "quoted"])


def with_quotes(text, quoted):
    """Put one quoted cell into the first data row, which sends the file down the other path."""
    return text.replace("\nA1", '\n"A1"', 1) if quoted else text


@QUOTES
def test_rows_with_too_few_or_too_many_cells_are_set_aside(tmp_path, quoted):
    text = f"{SCANS_HEADER}\n{ROW}\nA2,2026-11-23,ECM\nA3,2026-11-23,ECM,P0301,more\n{ROW}"
    reading = read(tmp_path, with_quotes(text, quoted))
    assert reading.rejects.rows() == [
        (3, None, "A2,2026-11-23,ECM", "expected 4 cells as in the header, found 3"),
        (4, None, "A3,2026-11-23,ECM,P0301,more", "expected 4 cells as in the header, found 5"),
    ]
    assert (reading.rows["row"].to_list(), reading.rows_read) == ([2, 5], 4)


@QUOTES
def test_blank_lines_count_as_rows_of_the_sheet_but_not_as_rows_read(tmp_path, quoted):
    reading = read(tmp_path, with_quotes(f"{SCANS_HEADER}\n{ROW}\n\n , ,,\n,,\n{ROW}\n\n", quoted))
    assert (reading.rows["row"].to_list(), reading.rows_read, reading.rejects.height) == ([2, 6], 2, 0)


@QUOTES
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_every_line_end_and_a_byte_order_mark_are_taken(tmp_path, quoted, end):
    text = with_quotes(f"{SCANS_HEADER}\n{ROW}\n{ROW}\n", quoted).replace("\n", end)
    reading = read(tmp_path, b"\xef\xbb\xbf" + text.encode())
    assert reading.rows.select("vehicle", "code").rows() == [("A1", "P0301")] * 2


@QUOTES
def test_a_header_alone_has_no_rows(tmp_path, quoted):
    header = SCANS_HEADER.replace("code", '"code"') if quoted else SCANS_HEADER
    reading = read(tmp_path, header)
    assert (reading.rows.height, reading.rows_read, reading.rejects.height) == (0, 0, 0)


def test_header_names_may_have_capitals_and_spaces_and_unknown_ones_are_noted(tmp_path):
    reading = read(tmp_path, f" Vehicle ,SCANNED_AT,Module,Mood,,Code\n{ROW.replace('ECM', 'ECM,good,')}")
    assert reading.rows.select("vehicle", "module", "code").rows() == [("A1", "ECM", "P0301")]
    assert reading.notes == ["left out, not in the layout of scans: Mood"]


def test_a_file_cut_off_inside_quotes_loses_its_last_row_only(tmp_path):
    reading = read(tmp_path, f'{SCANS_HEADER},text\n{ROW},"one, two"\n{ROW},ok\nA2,2026-11-23,ECM,P0302,"cut o')
    why = "a quotation mark is opened and never closed"
    assert reading.rejects.rows() == [(4, None, 'A2,2026-11-23,ECM,P0302,"cut o', why)]
    assert reading.rows["text"].to_list() == ["one, two", "ok"]


def test_a_stray_quote_spoils_its_own_row_and_no_other(tmp_path):
    lines = [
        f"{SCANS_HEADER},text",
        f'{ROW},"5 inch',
        f"{ROW},b",
        f'{ROW},"c"',
        f'{ROW},d"e',
        f'{ROW},"f"g',
        f"{ROW},h",
    ]
    reading = read(tmp_path, "\n".join(lines))
    why = "text stands behind a closing quotation mark; expected a comma"
    assert reading.rejects.select("row", "why").rows() == [(2, why), (6, why)]
    assert reading.rows.select("row", "text").rows() == [(3, "b"), (4, "c"), (5, 'd"e'), (7, "h")]


@QUOTES
def test_a_huge_cell_is_set_aside(tmp_path, quoted):
    text = f"{SCANS_HEADER}\n{ROW}\nA2,2026-11-23,ECM,{'9' * (LONGEST_CELL + 1)}\n{ROW}"
    reading = read(tmp_path, with_quotes(text, quoted))
    assert reading.rows["row"].to_list() == [2, 4]
    [(row, value, why)] = reading.rejects.select("row", "value", "why").rows()
    assert (row, len(value) <= 200, str(LONGEST_CELL) in why) == (3, True, True)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "w47.csv: the file is empty; expected a header line. The file was not loaded."),
        (b"\n \n", "w47.csv: the file is empty; expected a header line. The file was not loaded."),
        (
            bytes(range(256)) * 40,
            "w47.csv: the content is binary; expected UTF-8 text. The file was not loaded.",
        ),
        (
            b"PK\x03\x04 a workbook",
            "w47.csv: the content is binary; expected UTF-8 text. The file was not loaded.",
        ),
        (
            b"vehicle,when,module,code\nA1,2026-11-23,ECM,P0301",
            "w47.csv: it looks like scans; the header lacks scanned_at; it has vehicle, when, module, code. "
            "The file was not loaded.",
        ),
        (
            b"scanned_at,,code\n",
            "w47.csv: it looks like scans; the header lacks module and vehicle or vin; it has scanned_at, a blank "
            "name, code. "
            "The file was not loaded.",
        ),
        (
            b"vehicle,scanned_at,module,Code, code\n",
            "w47.csv: the header has code more than once; expected each column once. The file was not loaded.",
        ),
        (
            b'vehicle,scanned_at,"module\nA1,2026-11-23,ECM',
            "w47.csv: the header cannot be split (a quotation mark is opened and not closed). The file was not loaded.",
        ),
    ],
)
def test_files_that_are_refused_as_a_whole(tmp_path, content, message):
    assert refused(tmp_path, content) == message


@pytest.mark.parametrize(
    ("name", "found"), [("w47.xlsx", "a file that ends in .xlsx"), ("w47", "a file without an ending")]
)
def test_other_endings_are_refused(tmp_path, name, found):
    message = f"{name}: found {found}; expected .csv, .parquet, .jsonl, .hex, .log, .txt. The file was not loaded."
    assert refused(tmp_path, "x", name) == message


def parquet(frame):
    out = io.BytesIO()
    frame.write_parquet(out)
    return out.getvalue()


def test_typed_columns_of_parquet_become_the_same_text(tmp_path):
    frame = pl.DataFrame(
        {
            "vehicle": [1001.0, None],
            "scanned_at": [datetime(2026, 11, 23, 9, 15, 0, 250_000), None],
            "module": ["ECM", None],
            "code": ["00532", None],
            "odometer": [Decimal("120500.50"), None],
            "occurrences": pl.Series([7, None], dtype=pl.UInt8),
            "monitors_ready": [True, None],
            "km_since_erase": pl.Series([0.1, None], dtype=pl.Float32),
            "extra": [1, 2],
        }
    )
    reading = read(tmp_path, parquet(frame), name="w47.parquet")
    assert reading.rows.select(frame.columns[:-1]).rows() == [
        ("1001", "2026-11-23 09:15:00", "ECM", "00532", "120500.5", "7", "true", "0.1")
    ]
    assert (reading.rows["row"].to_list(), reading.rows_read) == ([2], 1)
    assert reading.notes == ["left out, not in the layout of scans: extra"]


def test_parquet_times_with_a_zone_and_days_are_brought_to_local_time(tmp_path):
    moment = datetime(2026, 7, 23, 9, 15, tzinfo=ZoneInfo("UTC"))
    frame = pl.DataFrame({"vehicle": ["A1"], "scanned_at": [moment], "module": ["ECM"], "code": [None]})
    assert read(tmp_path, parquet(frame), name="a.parquet").rows["scanned_at"].item() == "2026-07-23 11:15:00"
    frame = frame.with_columns(scanned_at=pl.lit(date(2026, 7, 23)))
    assert read(tmp_path, parquet(frame), name="a.parquet").rows["scanned_at"].item() == "2026-07-23 00:00:00"


def test_codes_stored_as_numbers_are_noted(tmp_path):
    frame = pl.DataFrame({"vehicle": ["A1"], "scanned_at": ["2026-11-23"], "module": ["ECM"], "code": [5321]})
    reading = read(tmp_path, parquet(frame), name="a.parquet")
    assert reading.rows["code"].item() == "5321"
    assert reading.notes == ["code is stored as numbers: leading zeros, if there were any, are lost; store it as text"]


def test_a_parquet_column_of_lists_is_refused(tmp_path):
    frame = pl.DataFrame({"vehicle": ["A1"], "scanned_at": ["2026-11-23"], "module": [["ECM"]], "code": [None]})
    message = "a.parquet: the column module holds List(String); expected text, numbers, days or times."
    assert refused(tmp_path, parquet(frame), "a.parquet") == message + " The file was not loaded."


@pytest.mark.parametrize("kept", [0, 3, 0.3, 0.7, -1])
def test_a_cut_parquet_file_is_refused(tmp_path, kept):
    content = parquet(
        pl.DataFrame(
            {"vehicle": ["A1"] * 99, "scanned_at": ["2026-11-23"] * 99, "module": ["ECM"] * 99, "code": [""] * 99}
        )
    )
    cut = content[: int(len(content) * kept)] if isinstance(kept, float) else content[:kept]
    message = refused(tmp_path, cut, "a.parquet")
    assert message.startswith("a.parquet: it cannot be read as Parquet (")
    assert message.endswith("); expected a whole Parquet file. The file was not loaded.")


def test_a_decoder_that_gives_up_on_damage_refuses_the_file(tmp_path, monkeypatch):
    def panic(*_, **__):
        raise pl.exceptions.PanicException("range end out of range")

    monkeypatch.setattr(pl, "from_arrow", panic)
    content = parquet(
        pl.DataFrame({"vehicle": ["A1"], "scanned_at": ["2026-11-23"], "module": ["ECM"], "code": [None]})
    )
    message = "a.parquet: it cannot be read as Parquet (range end out of range); expected a whole Parquet file."
    assert refused(tmp_path, content, "a.parquet") == message + " The file was not loaded."


def test_json_lines_are_known_by_their_line_and_keep_written_digits(tmp_path):
    lines = [
        '{"vehicle": "A1", "scanned_at": "2026-11-23", "module": "ECM", "odometer": 1.50, "monitors_ready": true}',
        "",
        '{"vehicle": 1001, "scanned_at": "2026-11-23", "module": "ECM", "code": null, "mood": "good"}',
        '{"vehicle": "A3", "scanned_at": "2026-11',
        '["A4"]',
        '{"vehicle": "A5", "module": ["ECM"]}',
        '{"vehicle": "A6", "vehicle": "A7"}',
        '{"vehicle": NaN}',
    ]
    reading = read(tmp_path, "\n".join(lines), name="w47.jsonl")
    assert reading.rows.select("row", "vehicle", "odometer", "monitors_ready").rows() == [
        (1, "A1", "1.5", "true"),
        (3, "1001", None, None),
    ]
    assert reading.notes == ["left out, not in the layout of scans: mood"]
    assert reading.rejects["row"].to_list() == [4, 5, 6, 7, 8]
    wanted = "expected one flat JSON object: "
    assert reading.rejects["why"].to_list()[1:] == [
        wanted + "it is no object",
        wanted + "'module' holds a list or an object",
        wanted + "'vehicle' stands twice",
        wanted + "NaN is no number",
    ]


def test_json_lines_without_a_column_or_any_object_are_refused(tmp_path):
    message = (
        "a.jsonl: it looks like scans; the header lacks scanned_at and module; it has vehicle. The file was not loaded."
    )
    assert refused(tmp_path, '{"vehicle": "A1"}', "a.jsonl") == message
    message = "a.jsonl: no line is a JSON object of plain values (line 1, "
    assert refused(tmp_path, "vehicle,module", "a.jsonl").startswith(message)


@given(
    st.lists(
        st.tuples(*[st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=8)] * 3),
        max_size=20,
    )
)
def test_every_format_gives_the_same_rows(tmp_path_factory, cells):
    # The standard library writes the comma file; what it wrote must come back whole, trimmed, blank as null.
    tmp_path = tmp_path_factory.mktemp("formats")
    names = ["part", "also_called", "supplier"]
    out = io.StringIO()
    csv.writer(out).writerows([names, *cells])
    frame = pl.DataFrame(cells, schema=dict.fromkeys(names, pl.String), orient="row")
    objects = "\n".join(json.dumps(dict(zip(names, row, strict=True))) for row in cells)
    kept = [tuple(cell.strip() or None for cell in row) for row in cells]
    expected = [row for row in kept if row[0]]
    for content, name in ((out.getvalue(), "a.csv"), (parquet(frame), "a.parquet"), (objects, "a.jsonl")):
        if cells or name != "a.jsonl":
            reading = read(tmp_path, content, "parts", name)
            assert reading.rows.select(names).rows() == expected
            assert reading.rejects.height == sum(row[0] is None and any(row) for row in kept)


@given(st.lists(st.text(st.sampled_from("A,\n 1"), max_size=12), max_size=12))
def test_both_ways_of_splitting_agree(tmp_path_factory, lines):
    # One quoted cell in the first row sends the same file down the other path.
    tmp_path = tmp_path_factory.mktemp("paths")
    text = "\n".join(["part,supplier", "A1,B", *lines])
    plain, quoted = (read(tmp_path, with_quotes(text, quoted), "parts") for quoted in (False, True))
    assert plain.rows.equals(quoted.rows)
    assert plain.rejects.equals(quoted.rejects)
    assert plain.rows_read == quoted.rows_read == plain.rows.height + plain.rejects["row"].n_unique()


def test_vehicle_numbers_that_look_wrong_are_noted_and_kept(tmp_path):
    lines = ["vehicle,make,model,model_year,vin", "A1,Corvane,Alder,1989,1M8GDM9AXKP042878"]
    lines += ["A2,Corvane,Alder,2012,1J9RP1A36A1644345", "A3,Corvane,Alder,1979,AB12345"]
    reading = read(tmp_path, "\n".join(lines), "stock")
    assert reading.rows.height == 3
    assert reading.notes == [
        "vehicle number 1M8GDM9AXKP042878: its check digit is X; 0 would fit",
        "vehicle number AB12345: it has 7 characters, not 17",
        "vehicle number 1J9RP1A36A1644345: it names model year 2010, model_year says 2012",
    ]


def test_many_doubtful_vehicle_numbers_are_counted(tmp_path):
    lines = ["vehicle,make,model,vin", *(f"A{n},Corvane,Alder,AB1234{n}" for n in range(8))]
    notes = read(tmp_path, "\n".join(lines), "stock").notes
    assert (len(notes), notes[-1]) == (6, "vehicle numbers: 3 more look wrong")


@pytest.mark.parametrize(
    ("header", "name"),
    [
        (SCANS_HEADER, "scans"),
        ("Vehicle,make,model,engine", "stock"),
        ("vehicle,job,done_at,action,part,part_cost", "repairs"),
        ("part,part_cost,supplier", "parts"),
        ("module,reason", "background"),
        ("one,two", None),
        ("", None),
    ],
)
def test_a_header_tells_the_table(tmp_path, header, name):
    path = tmp_path / "export.csv"
    path.write_text(header + "\n")
    assert guess_layout(path) == name


def test_the_folder_tells_the_table_before_the_header_does(tmp_path):
    (tmp_path / "repairs").mkdir()
    path = tmp_path / "repairs" / "export.csv"
    path.write_text(SCANS_HEADER)
    assert guess_layout(path) == "repairs"
    assert guess_layout(tmp_path / "missing.csv") is None


def test_parquet_and_json_headers_tell_the_table_too(tmp_path):
    (tmp_path / "a.parquet").write_bytes(parquet(pl.DataFrame({"part": ["coil"]})))
    (tmp_path / "a.jsonl").write_text('{"reason": "known", "code": "P0301"}')
    (tmp_path / "b.parquet").write_bytes(b"PAR1")
    guessed = [guess_layout(tmp_path / name) for name in ("a.parquet", "a.jsonl", "b.parquet")]
    assert guessed == ["parts", "background", None]
