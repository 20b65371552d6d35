"""Mapping files: what each line must say, how cells are translated, and which file a mapping reads."""

import json
from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl
import pytest

from pipelines.errors import InputFileError, SettingsError
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import load_mapping, load_mappings
from pipelines.reading.mapping.patterns import groups_of, steps, why_bad
from pipelines.reading.recognise import choose, read_file, read_mapped
from pipelines.toml_file import line_of

BERLIN = ZoneInfo("Europe/Berlin")
TABLE = """\
serves = ["*.csv"]
format = "table"
{top}
[columns]
vehicle = "Car"
scanned_at = "When"
module = "Unit"
code = "Code"
{columns}
"""


def mapping_of(tmp_path, text, name="lift.toml"):
    path = tmp_path / "mappings" / name
    path.parent.mkdir(exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return load_mapping(path)


def fault(tmp_path, text):
    with pytest.raises(SettingsError) as caught:
        mapping_of(tmp_path, text)
    return str(caught.value)


def read(tmp_path, content, top="", columns="", name="a.csv"):
    path = tmp_path / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_mapped(path, mapping_of(tmp_path, TABLE.format(top=top, columns=columns)), BERLIN)


def cells(reading, *columns):
    return reading.rows.select(*columns).rows()


def rejects(reading):
    return reading.rejects.rows()


@pytest.mark.parametrize(
    ("top", "columns", "message"),
    [
        ('delimter = ";"', "", "3: delimter is no key of a mapping; did you mean delimiter?"),
        ("delimiter = 'ab'", "", "3: delimiter: expected one character that is no letter, digit, quotation mark or "),
        (
            'encoding = "latin"',
            "",
            "3: encoding: expected one of 'utf-8', 'utf-8-sig', 'utf-16', 'utf-16-le', 'utf-16-",
        ),
        ("header_row = 0", "", "3: header_row: expected a whole number from 1 to 1000, found 0"),
        ("header_row = true", "", "3: header_row: expected a whole number from 1 to 1000, found True"),
        ('decimal = ";"', "", "3: decimal: expected one of '.', ',', found ';'"),
        ('thousands = "."', "", "3: thousands: is '.', the same as the decimal mark"),
        (
            'date_formats = ["%H:%M"]',
            "",
            '3: date_formats: expected a list of forms like ["%d.%m.%Y %H:%M"] that name ',
        ),
        ('date_formats = "%d.%m.%Y"', "", "3: date_formats: expected a list"),
        ('time_zone = "Berlin"', "", "3: time_zone: expected a time zone's name like Europe/Berlin, found 'Berlin'"),
        ('time_zone = ["a"]', "", "3: time_zone: expected a time zone's name"),
        ('time_zone = "Europe/Berlin"', "", "3: time_zone: needs date_formats beside it"),
        ('sheet = "x"', "", "3: sheet: has no meaning with format 'table'; it goes with xlsx"),
        ("", 'odometr = "Km"', "9: columns.odometr: odometr is no column of scans; did you mean odometer?"),
        (
            "",
            "odometer = 3",
            "9: columns.odometer: expected a text, or a list of texts that are joined by a space, found 3",
        ),
        ("", '[constants]\nvin = ""', "10: constants.vin: expected a text, found ''"),
        ("", "[pick]\ncode = '('", "10: pick.code: the pattern '(' cannot be used: unclosed group"),
        ("", "[pick]\ncode = '(?=x)'", "10: pick.code: the pattern '(?=x)' cannot be used: look-around, including"),
        ("", "[values]\nstatus = 3", "10: values.status is no key of a mapping"),
        ("", '[codes]\nblank = "maybe"', "10: codes.blank: expected one of 'no codes', 'not read', found 'maybe'"),
        ("", '[wide]\nA = "ABS"', "9: wide: a column a module leaves no room for columns.module or columns.code"),
        (
            "",
            "[text]\nscan = 'x'\ncode = '(?<code>x)'",
            "9: text: has no meaning with format 'table'; it goes with text, ",
        ),
    ],
)
def test_a_line_that_is_wrong_is_named(tmp_path, top, columns, message):
    found = fault(tmp_path, TABLE.format(top=top, columns=columns))
    assert found.startswith(f"mappings/lift.toml:{message}")
    assert found.endswith("Nothing was run.")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            'format = "table"\nserve = ["*"]',
            "mappings/lift.toml:2: serve is no key of a mapping; did you mean serves? Nothing was run.",
        ),
        ('format = "table"', "mappings/lift.toml:1: serves: is missing; every mapping has it. Nothing was run."),
        (
            'serves = ["in/*.csv"]\nformat = "table"',
            'mappings/lift.toml:1: serves: expected a list of file name patterns like ["*.txt"], without folders, '
            "found ['in/*.csv']. Nothing was run.",
        ),
        (
            'serves = ["*"]\nformat = "table"\n[columns]\nvehicle = "Car"\nmodule = "Unit"',
            "mappings/lift.toml:2: format: nothing in the mapping fills scanned_at. Nothing was run.",
        ),
        (
            'serves = ["*"]\nformat = "text"',
            "mappings/lift.toml:1: text: is missing; format 'text' needs its patterns. Nothing was run.",
        ),
        (
            'serves = ["*"]\nformat = "text"\n[text]\nscan = "x"',
            "mappings/lift.toml:3: text.code: is missing; every mapping of a printed text has it. Nothing was run.",
        ),
        (
            "serves = ['*']\nformat = 'text'\n[text]\nscan = '(?<wagen>x)'\ncode = '(?<code>x)'",
            "mappings/lift.toml:4: text.scan: the group wagen is no column of scans (vehicle, vin, scanned_at, "
            "odometer, odometer_unit, module, module_state, asked, code, failure_type, status, occurrences, "
            "first_odometer, text, km_since_erase, warmups_since_erase, monitors_ready). Nothing was run.",
        ),
        (
            "serves = ['*']\nformat = 'text'\n[text]\nscan = '(?<vehicle>x)'\ncode = 'x'",
            "mappings/lift.toml:5: text.code: the pattern has no group named code, like (?<code>[PCBU][0-9A-F]{4}). "
            "Nothing was run.",
        ),
    ],
)
def test_what_is_missing_is_named(tmp_path, text, message):
    assert fault(tmp_path, text) == message


def test_text_that_is_no_toml_is_refused_with_its_line(tmp_path):
    assert "mappings/lift.toml: expected TOML text in UTF-8; " in fault(tmp_path, "serves = [\n")


def test_keys_are_found_in_tables_and_in_dotted_names():
    text = 'serves = 1\ncolumns.code = "x"\n[values.status]\n"fest, klar" = "confirmed"\n[values]\ntext.a = "b"\n'
    assert line_of(text, ("columns", "code")) == 2
    assert line_of(text, ("values", "status", "fest, klar")) == 4
    assert line_of(text, ("values", "text", "a")) == 6
    assert line_of(text, ("nowhere",)) == 1


@pytest.mark.parametrize(
    ("pattern", "why"),
    [
        (r"(a)\1", "backreferences are not supported"),
        ("(?:(?:a{40}){40}){40}", "its counted repeats make more than 2000 steps"),
        ("x" * 1001, "it is longer than 1000 characters"),
        ("(?x) a {9}", "the flag x is not allowed"),
        (r"^(?P<code>[PCBU]\d{4})\s+(?<text>.*)$", None),
    ],
)
def test_patterns_that_could_hang_are_refused(pattern, why):
    assert why_bad(pattern) == why


def test_steps_multiply_inside_each_other_and_groups_have_names():
    counted = {
        "abc": 3,
        "a{5}": 5,
        "[a-z]{4}": 4,
        r"\d{2,7}": 7,
        "(a{3}b){2}": 8,
        r"\p{L}{3}x": 4,
        "((a{2}){3}){4}": 24,
    }
    assert {pattern: steps(pattern) for pattern in counted} == counted
    assert groups_of(r"(?<code>a)(b)(?P<text>c)") == ("code", "text")


def test_decimal_commas_and_thousands_are_read_strictly(tmp_path):
    rows = ["120.500,5", "88210", "1.234.567", "12.50", "1,5", "12.5000", "1.2345,0"]
    content = "Car;When;Unit;Code;Km\n" + "".join(f"A{n};2026-11-23;ECM;;{km}\n" for n, km in enumerate(rows))
    top = 'delimiter = ";"\ndecimal = ","\nthousands = "."'
    reading = read(tmp_path, content, top, 'odometer = "Km"')
    assert cells(reading, "odometer") == [("120500.5",), ("88210",), ("1234567",), ("1.5",)]
    why = "expected a number with the decimal mark ','"
    assert rejects(reading) == [
        (5, "odometer", "12.50", why),
        (7, "odometer", "12.5000", why),
        (8, "odometer", "1.2345,0", why),
    ]


def test_dates_are_read_in_the_declared_forms_only_and_brought_to_local_time(tmp_path):
    given = ["23.11.2026 09:15", "23.07.2026 09:15", "23/11/26 9am", "2026-11-23 09:15", "31.02.2026 10:00"]
    content = "Car,When,Unit,Code\n" + "".join(f"A{n},{day},ECM,\n" for n, day in enumerate(given))
    top = 'date_formats = ["%d.%m.%Y %H:%M", "%d/%m/%y %I%p"]\ntime_zone = "Europe/Lisbon"'
    reading = read(tmp_path, content, top)
    # Lisbon is one hour behind Berlin all year.
    assert cells(reading, "scanned_at") == [
        ("2026-11-23 10:15:00",),
        ("2026-07-23 10:15:00",),
        ("2026-11-23 10:00:00",),
    ]
    why = "expected a date of the form %d.%m.%Y %H:%M or %d/%m/%y %I%p"
    no_day = "there is no such day or time: read by the form %d.%m.%Y %H:%M"  # February has 28 days in 2026
    assert rejects(reading) == [(5, "scanned_at", given[3], why), (6, "scanned_at", given[4], no_day)]


def test_codes_in_one_cell_are_split_at_the_declared_mark_only(tmp_path):
    content = (
        'Car,When,Unit,Code\nA1,2026-11-23,ECM,"P0301; P0302;"\nA1,2026-11-23,ABS,C0035 C0040\nA1,2026-11-23,BCM,\n'
    )
    reading = read(tmp_path, content, columns='[codes]\nseparator = ";"')
    assert cells(reading, "row", "code") == [(2, "P0301"), (2, "P0302"), (4, None)]
    (refused,) = reading.rejects.rows()
    assert refused[:3] == (3, "code", "C0035 C0040")
    assert refused[3].startswith("two codes in one cell")


def test_words_in_the_place_of_codes_mean_no_codes_or_no_answer(tmp_path):
    content = "Car,When,Unit,Code\nA1,2026-11-23,ECM,OK\nA1,2026-11-23,ABS,No Answer\nA1,2026-11-23,BCM,\n"
    columns = '[codes]\nno_codes = ["ok"]\nsilent = ["no answer"]\nblank = "not read"'
    reading = read(tmp_path, content, columns=columns)
    assert cells(reading, "module", "module_state", "code") == [("ECM", None, None), ("ABS", "silent", None)]


def test_values_picks_and_constants(tmp_path):
    content = 'Car,When,Unit,Code,State,Km\nA1,2026-11-23,"ECM (7E8)",P0301,Fest,12 km\nA2,2026-11-23,ABS,,,n/a\n'
    top = 'date_formats = ["%Y-%m-%d"]'
    columns = (
        'status = "State"\nodometer = "Km"\n[constants]\nodometer_unit = "km"\n[values.status]\nfest = "confirmed"\n'
        "[values.odometer]\n'n/a' = \"\"\n[pick]\nmodule = '^(\\w+)'\nodometer = '^(\\d+) km$'\n"
    )
    reading = read(tmp_path, content, top, columns)
    assert cells(reading, "module", "status", "odometer", "odometer_unit") == [
        ("ECM", "confirmed", "12", "km"),
        ("ABS", None, None, "km"),
    ]
    reading = read(tmp_path, content.replace("12 km", "12 mi"), top, columns)
    assert rejects(reading) == [(2, "odometer", "12 mi", r"expected a cell that fits ^(\d+) km$")]


def test_a_blank_cell_of_a_wide_table_is_a_module_that_was_not_read(tmp_path):
    text = (
        'serves = ["*"]\nformat = "table"\n[columns]\nvehicle = "Car"\nscanned_at = "When"\n'
        '[wide]\n"Engine box" = "ECM"\n"Brakes" = "ABS"\n[codes]\nno_codes = ["-"]\n{blank}'
    )
    path = tmp_path / "wide.csv"
    path.write_text("Car,When,Engine box,Brakes\nA1,2026-11-23,P0301,\nA2,2026-11-23,-,C0035\n")
    reading = read_mapped(path, mapping_of(tmp_path, text.format(blank="")), BERLIN)
    assert cells(reading, "row", "module", "code") == [(2, "ECM", "P0301"), (3, "ECM", None), (3, "ABS", "C0035")]
    reading = read_mapped(path, mapping_of(tmp_path, text.format(blank='blank = "no codes"')), BERLIN)
    assert cells(reading, "row", "module", "code")[1] == (2, "ABS", None)


def test_a_row_that_does_not_come_out_even_keeps_its_number_below_a_deep_header(tmp_path):
    content = "title\n\nCar|When|Unit|Code\nA1|2026-11-23|ECM|P0301\nA2|2026-11-23\n"
    reading = read(tmp_path, content, 'delimiter = "|"\nheader_row = 3')
    assert cells(reading, "row", "code") == [(4, "P0301")]
    assert rejects(reading) == [(5, None, "A2|2026-11-23", "expected 4 cells as in the header, found 2")]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_every_encoding_gives_the_same_text(tmp_path, encoding):
    content = "Car,When,Unit,Code,Says\nA1,2026-11-23,ECM,P0301,Zündung – später\n".encode(encoding)
    reading = read(tmp_path, content, f'encoding = "{encoding}"', 'text = "Says"')
    assert cells(reading, "text") == [("Zündung – später",)]


def test_another_encoding_than_promised_is_refused_with_its_line(tmp_path):
    content = "Car,When,Unit,Code\nA1,2026-11-23,ECM,Zündung\n"
    with pytest.raises(
        InputFileError, match=r"a\.csv line 2: found the byte 0xFC, which is no UTF-8 text; expected UTF-8"
    ):
        read(tmp_path, content.encode("cp1252"))
    with pytest.raises(InputFileError, match=r"a\.csv line 2: found the byte 0x81, which is no Windows-1252 text"):
        read(tmp_path, content.encode("cp1252").replace(b"\xfc", b"\x81"), 'encoding = "cp1252"')
    with pytest.raises(InputFileError, match=r"a\.csv: the text is UTF-16; expected UTF-8\."):
        read(tmp_path, content.encode("utf-16"))


def test_a_header_that_lacks_a_column_names_mapping_and_columns(tmp_path):
    with pytest.raises(InputFileError) as caught:
        read(tmp_path, "Car,When,Unit\nA1,2026-11-23,ECM\n")
    assert str(caught.value) == (
        f"{tmp_path / 'a.csv'} row 1: the header lacks Code, which mappings/lift.toml needs; it has Car, When, Unit. "
        "The file was not loaded."
    )
    with pytest.raises(InputFileError, match="the header has code more than once; expected it once"):
        read(tmp_path, "Car,When,Unit,Code,code\nA1,2026-11-23,ECM,,\n")


JSON = """\
serves = ["*.json"]
format = "{form}"
[columns]
vehicle = "car"
scanned_at = "at"
module = "units[].name"
code = "units[].faults[]"
"""


def read_json(tmp_path, text, form="json", mapping=JSON):
    path = tmp_path / f"a.{form}"
    path.write_text(text)
    return read_mapped(path, mapping_of(tmp_path, mapping.format(form=form)), BERLIN)


def test_lists_inside_lists_become_rows_and_an_empty_one_a_row_without_codes(tmp_path):
    units = [{"name": "ECM", "faults": ["P0301", "P0302"]}, {"name": "ABS", "faults": []}, {"name": "BCM"}]
    scan = {"car": "A1", "at": "2026-11-23", "units": units}
    reading = read_json(tmp_path, json.dumps(scan))
    wanted = [("A1", "ECM", "P0301"), ("A1", "ECM", "P0302"), ("A1", "ABS", None), ("A1", "BCM", None)]
    assert cells(reading, "vehicle", "module", "code") == wanted
    assert reading.rows["row"].to_list() == [1, 2, 3, 4]
    lines = json.dumps(scan) + "\n{broken\n\n" + json.dumps({**scan, "car": "A2"})
    reading = read_json(tmp_path, lines, "jsonl")
    assert reading.rows["row"].to_list() == [1] * 4 + [4] * 4
    assert reading.rejects.select("row", "value").rows() == [(2, "{broken")]


def test_numbers_keep_the_digits_they_are_written_with(tmp_path):
    mapping = JSON + 'odometer = "km"\n'
    reading = read_json(
        tmp_path, '{"car":1001,"at":"2026-11-23","km":120500.50,"units":[{"name":"ECM"}]}', mapping=mapping
    )
    assert cells(reading, "vehicle", "odometer") == [("1001", "120500.5")]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("{", "it cannot be read as JSON"),
        ("[" * 100_000, "it cannot be read as JSON"),
        ('{"a": NaN}', "it cannot be read as JSON (NaN is no number)"),
    ],
)
def test_json_that_is_none_is_refused(tmp_path, text, why):
    with pytest.raises(InputFileError) as caught:
        read_json(tmp_path, text)
    assert why in str(caught.value)


def test_half_a_character_refuses_its_row_only(tmp_path):
    text = '{"car":"A1","at":"2026-11-23","units":[{"name":"ECM"},{"name":"\\ud800"}]}'
    reading = read_json(tmp_path, text)
    assert cells(reading, "module") == [("ECM",)]
    assert rejects(reading) == [(2, "units[].name", r"'\ud800'", "it holds half of a character")]
    path = tmp_path / "own.jsonl"
    row = '{"vehicle":"A1","scanned_at":"2026-11-23","code":"","module":"ECM"}\n'
    path.write_text(row + row.replace("ECM", "\\udfff"))
    [(line, _, _, why)] = read_file(path, LAYOUTS["scans"], BERLIN, []).rejects.rows()
    assert (line, why) == (2, "expected one flat JSON object: 'module' holds half of a character")


def test_lists_side_by_side_are_refused(tmp_path):
    mapping = JSON + 'text = "notes[].words"\n'
    with pytest.raises(
        InputFileError, match=r"walks through two lists side by side, notes\[\] and units\[\]\.faults\[\]"
    ):
        read_json(tmp_path, "{}", mapping=mapping)


def test_the_mapping_is_chosen_by_name_signature_and_header(tmp_path):
    base = TABLE.format(top='signature = "LIFT 2"', columns="")
    mapping_of(tmp_path, base, "b.toml")
    mapping_of(tmp_path, TABLE.format(top="", columns='text = "Says"'), "c.toml")
    mappings = load_mappings(tmp_path)
    path = tmp_path / "X.CSV"

    def chosen(content):
        path.write_text(content)
        found = choose(path, mappings)
        return found.name if found else None

    assert chosen("Car,When,Unit,Code,LIFT 2\n") == "mappings/b.toml"
    assert chosen("Car,When,Unit,Code,Says\n") == "mappings/c.toml"
    assert chosen("vehicle,scanned_at,module,code\n") is None
    with pytest.raises(InputFileError, match=r"X\.CSV: fits mappings/b\.toml and mappings/c\.toml; expected one\."):
        chosen("Car,When,Unit,Code,Says,LIFT 2\n")


def test_workbooks_are_told_apart_by_their_header_row_even_below_blank_rows():
    fixtures = Path(__file__).parents[3] / "fixtures"
    good = load_mapping(fixtures / "mappings" / "workbook.toml")
    other = replace(good, name="mappings/other.toml", columns={**good.columns, "vin": ("Frame no.",)})
    signed = replace(good, name="mappings/signed.toml", signature="another shop")
    above = replace(good, name="mappings/above.toml", header_row=3)
    path = fixtures / "exports" / "workbook.xlsx"
    assert choose(path, [above, other, signed, good]) == good
    titled = replace(good, signature="Readings of the week")
    assert choose(path, [other, titled]) == titled
    with pytest.raises(InputFileError, match=r"fits mappings/workbook\.toml and mappings/workbook\.toml"):
        choose(path, [titled, good])


def test_a_mapping_that_serves_a_file_it_cannot_read_says_what_is_lacking(tmp_path):
    mapping = mapping_of(tmp_path, TABLE.format(top="", columns=""))
    path = tmp_path / "a.csv"
    path.write_text("Car,When,Unit\nA1,2026-11-23,ECM\n")
    with pytest.raises(InputFileError, match=r"the header lacks Code, which mappings/lift\.toml needs"):
        read_file(path, LAYOUTS["scans"], BERLIN, [mapping])


def test_mappings_serve_scans_alone_and_files_of_our_own_layout_stay_ours(tmp_path):
    mapping = mapping_of(tmp_path, TABLE.format(top="", columns=""))
    path = tmp_path / "a.csv"
    path.write_text("vehicle,make,model,Car,When,Unit,Code\nA1,Corvane,Alder,,,,\n")
    assert read_file(path, LAYOUTS["stock"], BERLIN, [mapping]).rows["make"].to_list() == ["Corvane"]
    path.write_text("vehicle,scanned_at,module,code\nA1,2026-11-23,ECM,P0301\n")
    reading = read_file(path, LAYOUTS["scans"], BERLIN, [mapping])
    assert reading.rows.filter(pl.col("code") == "P0301").height == 1
    assert reading.notes == []


def test_a_workspace_without_mappings_has_none():
    assert load_mappings(Path("nowhere")) == []
