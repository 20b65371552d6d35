"""What stands around a table, in a name, in merged cells, below a code: told for the rows it belongs to, or asked."""

import io
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl
import pytest
import xlsxwriter

from analysis.vocabulary.modules import ModuleIndex
from pipelines.errors import InputFileError, SettingsError
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.draft_mapping import draft_mapping
from pipelines.reading.mapping.html_tables import Page
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.mapping.workbook_reader import sheet_rows
from pipelines.reading.mapping.xml_tree import read_tree
from pipelines.reading.read_table import Reading
from pipelines.reading.recognise import read_mapped
from pipelines.storage.sql_models import reference_table

INDEX = ModuleIndex.from_rows(reference_table("modules").iter_rows(named=True))
COLUMNS = "[columns]\nmodule = 'Unit'\ncode = 'Code'\n"


def by(folder: Path, name: str, content: str | bytes, mapping: str) -> Reading:
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    (folder / "one.toml").write_text(f"serves = ['*']\n{mapping}", encoding="utf-8")
    return read_mapped(path, load_mapping(folder / "one.toml"), ZoneInfo("UTC"))


def cells(reading: Reading, *names: str) -> list[tuple[object, ...]]:
    return reading.rows.select(names).rows()


def drafted(folder: Path, name: str, text: str, answers: dict[str, str]) -> Draft:
    (folder / name).write_text(text, encoding="utf-8")
    return draft_mapping(folder / name, lambda one: INDEX.canonical(one)[1], answers)


def read(folder: Path, name: str, draft: Draft) -> pl.DataFrame:
    (folder / "drafted.toml").write_text(draft.toml(), encoding="utf-8")
    return read_mapped(folder / name, load_mapping(folder / "drafted.toml"), ZoneInfo("UTC")).rows


def open_keys(folder: Path, name: str, text: str) -> list[str]:
    (folder / name).write_text(text, encoding="utf-8")
    return [asked.key for asked in draft_mapping(folder / name, lambda one: INDEX.canonical(one)[1]).open]


ABOVE = (
    "format = 'table'\ndelimiter = ';'\nskip = '^Total'\n"
    "above = ['^Car (?<vehicle>\\w+)$', '^Day (?<scanned_at>[0-9-]+)$']\n" + COLUMNS
)


def test_lines_above_a_table_count_for_its_rows_until_the_next_car(tmp_path):
    text = "Car;A1\nDay;2026-03-01\nUnit;Code\nECM;P0301\nCar;A2\nUnit;Code\nABS;\nDay;2026-03-02\nABS;C0035\nTotal;2\n"
    reading = by(tmp_path, "a.csv", text, ABOVE)
    # The day of the first car is not that of the second, whose own comes a line too late: that row is refused.
    assert cells(reading, "vehicle", "scanned_at", "module", "code") == [
        ("A1", "2026-03-01 00:00:00", "ECM", "P0301"),
        ("A2", "2026-03-02 00:00:00", "ABS", "C0035"),
    ]
    assert reading.rejects.select("row", "column").rows() == [(7, "scanned_at")]
    assert "1 rows were passed over, as mappings/one.toml says under skip" in reading.notes


def test_the_name_of_a_file_or_a_sheet_tells_the_car_and_one_that_does_not_fit_is_refused(tmp_path):
    mapping = "format = 'table'\nnames.file = '^(?<vehicle>[A-Z][0-9]+)_(?<scanned_at>[0-9-]+)'\n" + COLUMNS
    reading = by(tmp_path, "A1_2026-03-01.csv", "Unit,Code\nECM,P0301\n", mapping)
    assert cells(reading, "vehicle", "scanned_at") == [("A1", "2026-03-01 00:00:00")]
    with pytest.raises(InputFileError, match="name does not fit the pattern names"):
        by(tmp_path, "scan.csv", "Unit,Code\nECM,P0301\n", mapping)


def test_a_group_that_is_no_column_is_refused_wherever_it_stands(tmp_path):
    for line in ("above = '(?<wagon>x)'", "names.sheet = '(?<wagon>x)'"):
        with pytest.raises(SettingsError, match="the group wagon is no column of scans"):
            by(tmp_path, "a.xlsx", b"", f"format = 'xlsx'\n{line}\n{COLUMNS}")


def test_empty_cells_mean_what_stands_above_only_where_the_mapping_says_so(tmp_path):
    text = "Car,Date,Unit,Code\nA1,2026-03-01,ECM,P0301\n,,ABS,C0035\n"
    mapping = "format = 'table'\n{}[columns]\nvehicle = 'Car'\nscanned_at = 'Date'\n" + COLUMNS[10:]
    whole = by(tmp_path, "a.csv", text, mapping.format("fill_down = ['Car', 'Date']\n"))
    assert cells(whole, "vehicle", "code") == [("A1", "P0301"), ("A1", "C0035")]
    assert by(tmp_path, "a.csv", text, mapping.format("")).rows.height == 1


def test_a_heading_says_the_state_of_the_codes_below_it(tmp_path):
    text = "Car,Date,Unit,Now,Before\nA1,2026-03-01,ECM,P0301,P0171\nA1,2026-03-01,ABS,,\n"
    mapping = (
        "format = 'table'\n[columns]\nvehicle = 'Car'\nscanned_at = 'Date'\nmodule = 'Unit'\n"
        "code = ['Now', 'Before']\n[states]\nNow = 'active'\nBefore = 'history'\n"
    )
    assert cells(by(tmp_path, "a.csv", text, mapping), "module", "code", "status") == [
        ("ECM", "P0301", "active"),
        ("ECM", "P0171", "history"),
        ("ABS", None, None),
    ]


def test_columns_of_codes_whose_headings_differ_are_asked_about(tmp_path):
    text = "Car,Date,Module,Group A,Group B\nA1,2026-03-01,ECM,P0301,P0171\nA1,2026-03-14,ABS,C0035,\n"
    assert open_keys(tmp_path, "a.csv", text) == ["states.all"]


@pytest.mark.parametrize(
    ("answers", "states"),
    [
        ({"states.all": "not known"}, {None}),
        ({"states.all": "active"}, {"active"}),
        ({"states.all": "one by one", "states.Group A": "active", "states.Group B": "not known"}, {"active", None}),
    ],
)
def test_one_answer_tells_the_state_of_all_columns_of_codes(tmp_path, answers, states):
    text = "Car,Date,Module,Group A,Group B\nA1,2026-03-01,ECM,P0301,P0171\nA1,2026-03-14,ABS,C0035,\n"
    draft = drafted(tmp_path, "a.csv", text, answers)
    assert [asked.key for asked in draft.open] == []
    found = read(tmp_path, "a.csv", draft)
    assert {*found.filter(found["code"].is_not_null())["status"]} == states


@pytest.mark.parametrize("heads", ["Fault A,Fault B,Fault C", "Code 1,Code 2,Code 3"])
def test_a_fellow_of_a_fault_column_is_one_even_while_it_is_empty(tmp_path, heads):
    text = f"Car,Date,Module,{heads},Remark\nA1,2026-03-01,ECM,P0301,P0171,,\nA1,2026-03-14,ABS,C0035,,,\n"
    draft = drafted(tmp_path, "a.csv", text, {})
    assert [asked.key for asked in draft.open] == []
    assert read(tmp_path, "a.csv", draft)["code"].to_list() == ["P0301", "P0171", "C0035"]
    later = text.replace("P0171,,", "P0171,U0100,")
    (tmp_path / "a.csv").write_text(later, encoding="utf-8")
    assert read(tmp_path, "a.csv", draft)["code"].to_list() == ["P0301", "P0171", "U0100", "C0035"]


def test_lines_below_a_code_belong_to_it_and_to_no_other(tmp_path):
    mapping = (
        "format = 'text'\n[text]\nscan = '^Car (?<vehicle>\\S+) (?<scanned_at>\\S+)$'\nmodule = '^ (?<module>\\w+)$'\n"
        "code = '^  (?<code>[PCBU]\\w+)$'\nbelow = '^   State: (?<status>\\w+)$'\nno_codes = '^  nothing$'\n"
    )
    text = "Car A1 2026-03-01\n ECM\n  P0301\n   State: active\n  P0171\n ABS\n   State: pending\n  nothing\n"
    assert cells(by(tmp_path, "a.txt", text, mapping), "module", "code", "status") == [
        ("ECM", "P0301", "active"),
        ("ECM", "P0171", None),
        ("ABS", None, None),
    ]


def test_two_codes_that_nothing_parts_are_refused(tmp_path):
    text = "Car,Date,Unit,Code\nA1,2026-03-01,ECM,P0301 P0171\nA1,2026-03-01,ABS,C0035\n"
    mapping = "format = 'table'\n[columns]\nvehicle = 'Car'\nscanned_at = 'Date'\n" + COLUMNS[10:]
    reading = by(tmp_path, "a.csv", text, mapping)
    assert cells(reading, "code") == [("C0035",)]
    assert reading.rejects.select("row", "value").rows() == [(2, "P0301 P0171")]


def test_a_file_full_of_codes_that_none_of_its_rows_has_as_its_code_is_refused(tmp_path):
    rows = "".join(f"A1,2026-03-01,ECM,,P030{n}\n" for n in range(4))
    mapping = "format = 'table'\n[columns]\nvehicle = 'Car'\nscanned_at = 'Date'\nmodule = 'Unit'\n"
    mapping += "code = 'Item'\ntext = 'Value'\n"
    with pytest.raises(InputFileError, match="no row has one in its column code"):
        by(tmp_path, "a.csv", "Car,Date,Unit,Item,Value\n" + rows, mapping)


@pytest.mark.parametrize(
    ("line", "key"),
    [("  P0301 Misfire, seen now at 81000 km", "columns.odometer"), ("Reading at 81.000 km", "columns.odometer")],
)
def test_a_distance_that_nothing_reads_is_asked_about(tmp_path, line, key):
    # The distance stands where no heading of a scan has it: below the codes of the first one.
    text = f"Car: A1\nDate: 2026-03-01 09:15\n[01] Engine\n  P0171 Lean\n{line}\n"
    assert key in open_keys(tmp_path, "a.txt", text)


def test_a_module_that_no_pattern_takes_is_asked_about(tmp_path):
    text = "Car: A1\nDate: 2026-03-01 09:15\n[01] Engine\n  P0171 Lean\n  Gearbox\n"
    assert open_keys(tmp_path, "a.txt", text) == ["text.modules"]


def test_cells_over_several_rows_count_for_each_of_them(tmp_path):
    # HTML Living Standard, 4.9.11: a cell with rowspan=2 takes its place in the next row too.
    page = Page("<table><tr><td rowspan=2>A1<td>x<tr><td>y<tr><td>B<td>z</table>")
    assert page.tables == [[["A1", "x"], ["A1", "y"], ["B", "z"]]]
    content = io.BytesIO()
    book = xlsxwriter.Workbook(content, {"in_memory": True})
    sheet = book.add_worksheet()
    sheet.merge_range("A1:A2", "A1")
    for at, cell in enumerate(("x", "y", "z")):
        sheet.write(at, 1, cell)
    book.close()
    (tmp_path / "a.xlsx").write_bytes(content.getvalue())
    assert list(sheet_rows(tmp_path / "a.xlsx", None)) == [(1, ["A1", "x"]), (2, ["A1", "y"]), (3, ["", "z"])]


def test_xml_is_read_by_paths_and_one_that_declares_entities_is_refused(tmp_path):
    text = "<a><scan car='A1' at='2026-03-01'><u><n>ECM</n><c>P0301</c><c>P0171</c></u><u><n>ABS</n></u></scan></a>"
    mapping = (
        "format = 'xml'\n[columns]\nvehicle = 'a.scan[].car'\nscanned_at = 'a.scan[].at'\n"
        "module = 'a.scan[].u[].n'\ncode = 'a.scan[].u[].c[]'\n"
    )
    wanted = [("ECM", "P0301"), ("ECM", "P0171"), ("ABS", None)]
    assert cells(by(tmp_path, "a.xml", text, mapping), "module", "code") == wanted
    # The document that grows to a billion texts: entities inside one another.
    bomb = '<!DOCTYPE a [<!ENTITY x "xxxxxxxxxx"><!ENTITY y "&x;&x;&x;">]><a>&y;</a>'
    with pytest.raises(ValueError, match="declares entities"):
        read_tree(bomb)


def test_names_of_an_object_that_are_modules_are_walked_through(tmp_path):
    text = '[{"car": "A1", "at": "2026-03-01", "units": {"ECM": ["P0301"], "ABS": []}}]'
    mapping = (
        "format = 'json'\n[columns]\nvehicle = '[].car'\nscanned_at = '[].at'\nmodule = '[].units{}.name'\n"
        "code = '[].units{}.value[]'\n"
    )
    assert cells(by(tmp_path, "a.json", text, mapping), "module", "code") == [("ECM", "P0301"), ("ABS", None)]
    assert open_keys(tmp_path, "a.json", text) == []
