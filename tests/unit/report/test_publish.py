"""A report is written whole, takes its place as the last act, and no cell of it runs."""

from __future__ import annotations

import csv
import gc
import io
import json
import os
import re
import sys
import zipfile
from datetime import date
from pathlib import Path

import polars as pl
import pytest

from analysis.charts import week_list
from analysis.charts.tickets import tickets
from analysis.texts import names
from pipelines.errors import WorkspaceError
from pipelines.report import outgoing, outgoing_tables, publish
from pipelines.report.workbook import write_workbook
from tests.support.sample_report import own_minutes, sample

openpyxl = pytest.importorskip("openpyxl", reason="openpyxl reads the workbook back; it is not installed")

NASTY = [
    "=1+1",
    "+2",
    "-3",
    "@SUM(A1)",
    "\tx",
    "\rx",
    "  =cmd|' /C calc'!A0",
    "＝1",
    'say "no", twice',
    "a\nb",
    "Grün",
    "-",
]


def open_codes(statuses: list[str]) -> pl.DataFrame:
    """One open code a status."""
    size = len(statuses)
    return outgoing.prepare(
        "open_codes",
        pl.DataFrame(
            {
                "vehicle": [f"K-{number}" for number in range(size)],
                "module": ["ABS"] * size,
                "code": ["ABS:C0031"] * size,
                "first_seen": [date(2026, 3, 1)] * size,
                "last_seen": [None] * size,
                "status": statuses,
                "background": [None] * size,
                "family": [None] * size,
            }
        ),
    )


def shortlist() -> pl.DataFrame:
    """One row with money, a share and a Boolean."""
    row: dict[str, object] = {column.name: None for column in outgoing_tables.TABLES["shortlist"].columns}
    row |= {"vehicle": "K-1", "rank": 1, "action": "replace", "chance": 0.8, "total_cost": 123450, "cheap": False}
    return outgoing.prepare("shortlist", pl.DataFrame([row | {"leaves": "https://a.example/x"}]))


TABLES = {"shortlist": shortlist(), "open_codes": open_codes(NASTY)}


@pytest.fixture
def report(tmp_path: Path) -> Path:
    """A published report."""
    folder = tmp_path / "reports" / "2026-W48"
    publish.publish(folder, TABLES, "<p>first</p>", {"week": "2026-W48", "note": "Grün"})
    return folder


def test_the_folder_holds_every_file_and_nothing_lies_beside_it(report: Path):
    names = ["index.html", "open_codes.csv", "run.json", "shortlist.csv", "shortlist.xlsx"]
    assert sorted(path.name for path in report.iterdir()) == names
    assert list(report.parent.iterdir()) == [report]
    assert (report / "index.html").read_bytes() == b"<p>first</p>"
    assert json.loads((report / "run.json").read_text(encoding="utf-8")) == {"week": "2026-W48", "note": "Grün"}


def test_csv_is_plain_and_quoted_as_rfc_4180_says(report: Path):
    # RFC 4180, section 2: CRLF line ends, a header line, quotes doubled inside quotes; read by Python's own reader.
    raw = (report / "open_codes.csv").read_bytes()
    assert raw.startswith(b"vehicle,module,code,")
    assert raw.endswith(b"\r\n")
    rows = list(csv.DictReader(io.StringIO(raw.decode("utf-8"), newline="")))
    assert [row["status"].removeprefix("'") for row in rows] == NASTY
    assert {(row["first_seen"], row["last_seen"], row["background"]) for row in rows} == {("2026-03-01", "", "")}
    assert b'"say ""no"", twice"' in raw


def test_csv_text_that_a_spreadsheet_would_run_gets_a_quote_mark(report: Path):
    # OWASP's page on CSV injection lists = + - @, tab, carriage return, line feed and the full-width signs
    # (from memory); the mark it advises is the leading apostrophe.
    text = (report / "open_codes.csv").read_bytes().decode("utf-8")
    statuses = [row["status"] for row in csv.DictReader(io.StringIO(text, newline=""))]
    marked = [text for text, status in zip(NASTY, statuses, strict=True) if status == "'" + text]
    assert marked == [*NASTY[:8], "-"]


def test_csv_numbers_are_never_marked(report: Path):
    header, row = (report / "shortlist.csv").read_text(encoding="utf-8").splitlines()
    cells = dict(zip(header.split(","), row.split(","), strict=True))
    assert {name: cells[name] for name in ("chance", "total_cost", "cheap", "part_cost", "rank")} == {
        "chance": "0.8",
        "total_cost": "1234.50",
        "cheap": "false",
        "part_cost": "",
        "rank": "1",
    }
    gain = dict.fromkeys(column.name for column in outgoing_tables.TABLES["part_results"].columns)
    table = outgoing.prepare("part_results", pl.DataFrame([gain | {"part": "-x", "family": "f", "gain": -0.25}]))
    assert publish.csv_bytes("part_results", table).splitlines()[1] == b"'-x,f,,,,,,,,,-0.25,,,,,"


def test_workbook_has_sheets_in_the_order_of_the_page_with_words_for_headings(report: Path):
    book = openpyxl.load_workbook(report / "shortlist.xlsx")
    assert book.sheetnames == ["read me", "What to try", "Open codes"]
    sheet = book["Open codes"]
    assert sheet.freeze_panes == "B3"
    assert [table.autoFilter.ref for table in sheet.tables.values()] == [f"A2:H{len(NASTY) + 2}"]
    assert [cell.value for cell in sheet[2]] == [
        "car", "module", "code", "first seen", "last seen", "status", "left alone because", "group",
    ]  # fmt: skip
    assert sheet["D2"].comment.text == "Day of the first scan that showed it.\n\nIn the CSV file: first_seen"
    assert sheet["D3"].number_format == "yyyy-mm-dd"
    formats = {cell.value: book["What to try"].cell(3, cell.column).number_format for cell in book["What to try"][2]}
    assert (formats["chance"], formats["cost"], formats["place"]) == ("0.0%", "#,##0.00", "0")


def test_every_table_has_a_sheet_and_every_column_a_name_of_its_own():
    assert set(names.SHEETS) == set(outgoing_tables.TABLES)
    assert all(len(title) <= 31 for title in names.SHEETS.values()), "a workbook cuts longer ones"
    for name, table in outgoing_tables.TABLES.items():
        heads = [names.column(name, column.name) for column in table.columns]
        assert len(set(heads)) == len(heads)


def test_the_totals_follow_the_filter_and_are_right_as_they_are(tmp_path: Path):
    tables = sample()[0]
    week = week_list(tables, {"labour_rate": 45})
    write_workbook(tmp_path / "book.xlsx", {name: tables[name] for name in outgoing_tables.TABLES}, week)
    first = tables["shortlist"].filter(pl.col("rank") == 1)
    for title, rows in (("This week", first), ("What to try", tables["shortlist"])):
        formulas = openpyxl.load_workbook(tmp_path / "book.xlsx")[title]
        values = openpyxl.load_workbook(tmp_path / "book.xlsx", data_only=True)[title]
        last = rows.height + 2
        heads = {cell.value: cell.column_letter for cell in formulas[2]}
        assert values["A1"].value == f"shown: {rows.height}"
        assert formulas["A1"].value == f'="shown: "&SUBTOTAL(103,A3:A{last})'
        part = "part" if title == "This week" else "price of the part"
        for head, column in ((part, "part_cost"), ("labour", "labour_cost"), ("cost", "total_cost")):
            letter = heads[head]
            assert formulas[f"{letter}1"].value == f"=SUBTOTAL(109,{letter}3:{letter}{last})"
            assert values[f"{letter}1"].value == pytest.approx(rows[column].sum())


def test_the_workbook_opens_on_the_list_in_the_order_and_words_of_the_page_and_prints_on_one_width(tmp_path: Path):
    tables, run = sample()
    made = tickets(tables["shortlist"], tables["open_codes"])
    week = week_list(tables, run["settings"])  # type: ignore[arg-type]
    write_workbook(tmp_path / "book.xlsx", {name: tables[name] for name in outgoing_tables.TABLES}, week)
    book = openpyxl.load_workbook(tmp_path / "book.xlsx")
    assert book.active.title == "This week"
    rows = [dict(zip([cell.value for cell in book.active[2]], line, strict=True))
            for line in book.active.iter_rows(min_row=3, values_only=True)]  # fmt: skip
    assert [row["car"] for row in rows] == [ticket.vehicle for ticket in made]
    first = made[0].first
    assert rows[0]["do this"] == "Replace brake pedal switch"
    assert rows[0]["minutes"] == own_minutes(first)
    asked = dict(tables["cars"].select("vehicle", pl.col("asking_cents") / 100).iter_rows())
    assert [row["asking price"] for row in rows] == [asked[row["car"]] for row in rows]
    assert sum(row["cheap"] == "yes" for row in rows) == sum(ticket.first["cheap"] for ticket in made)
    cars = [line[0] for line in book["What to try"].iter_rows(min_row=3, values_only=True)]
    assert list(dict.fromkeys(cars)) == [ticket.vehicle for ticket in made]
    for sheet in book.worksheets[1:]:
        paper = (
            sheet.page_setup.orientation,
            sheet.page_setup.fitToHeight,
            sheet.sheet_properties.pageSetUpPr.fitToPage,
        )
        assert paper == ("landscape", 0, True), "as many pages as it takes, one page wide"


def test_workbook_cells_are_text_never_formulas_or_links(report: Path):
    book = openpyxl.load_workbook(report / "shortlist.xlsx")
    cells = [row[5] for row in book["Open codes"].iter_rows(min_row=3)]
    assert [cell.value.replace("_x000D_", "\r") for cell in cells] == NASTY
    below = [cell for sheet in book for row in sheet.iter_rows(min_row=2) for cell in row]
    assert {cell.data_type for cell in below} <= {"s", "n", "d", "b"}
    assert not any(cell.hyperlink for sheet in book for row in sheet.iter_rows() for cell in row)
    with zipfile.ZipFile(report / "shortlist.xlsx") as parts:
        found = [one for name in parts.namelist() for one in re.findall(rb"<f>(.*?)</f>", parts.read(name))]
    assert found
    assert all(re.fullmatch(rb'("shown: "&amp;)?SUBTOTAL\(10[39],([A-Z]+)3:\2\d+\)', formula) for formula in found)


def test_first_sheet_explains_every_sheet_and_column(report: Path):
    lines = list(openpyxl.load_workbook(report / "shortlist.xlsx")["read me"].iter_rows(values_only=True))
    told = ("Open codes", str(len(NASTY)), "open_codes.csv", "One row per car in stock and code that is open on it.")
    assert told in lines
    columns = [(line[0], line[1]) for line in lines[lines.index(("sheet", "column", "holds", "meaning")) + 1 :]]
    assert columns == [
        (names.SHEETS[name], names.column(name, column.name))
        for name in TABLES
        for column in outgoing_tables.TABLES[name].columns
    ]


def test_a_cell_too_long_for_a_workbook_is_cut_there_and_whole_in_the_csv(tmp_path: Path):
    folder = tmp_path / "week"
    publish.publish(folder, {"open_codes": open_codes(["x" * 40_000])}, "", {})
    assert len(openpyxl.load_workbook(folder / "shortlist.xlsx")["Open codes"]["F3"].value) == 32_767
    assert "x" * 40_000 in (folder / "open_codes.csv").read_text(encoding="utf-8")


def test_publishing_again_gives_the_same_bytes(report: Path):
    before = {path.name: path.read_bytes() for path in report.iterdir()}
    publish.publish(report, TABLES, "<p>first</p>", {"week": "2026-W48", "note": "Grün"})
    assert {path.name: path.read_bytes() for path in report.iterdir()} == before
    # The hour of the run could hide in two places of a workbook; both hold a fixed day.
    with zipfile.ZipFile(report / "shortlist.xlsx") as parts:
        assert {info.date_time[0] for info in parts.infolist()} == {1980}
        assert parts.read("docProps/core.xml").count(b">2000-01-01T00:00:00Z<") == 2


def test_nothing_is_written_outside_the_folder(tmp_path: Path, monkeypatch):
    # Where libraries put their temporary files is no folder here, so a file there would fail.
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "nowhere"))
    publish.write_workbook(tmp_path / "book.xlsx", TABLES)
    assert [path.name for path in tmp_path.iterdir()] == ["book.xlsx"]


def test_a_sheet_that_is_cut_says_where_the_rest_is(tmp_path: Path, monkeypatch):
    monkeypatch.setattr("pipelines.report.workbook._MOST_ROWS", 3)
    path = tmp_path / "week" / "shortlist.xlsx"
    publish.publish(path.parent, {"open_codes": open_codes(["active"] * 5)}, "", {})
    book = openpyxl.load_workbook(path)
    told = [" ".join(str(cell) for cell in row if cell is not None) for row in book.worksheets[0].values]
    assert [line for line in told if line.endswith("Only the first 3 rows; open_codes.csv has all.")]
    vehicles = [cell.value for cell in book[names.SHEETS["open_codes"]]["A"]]
    assert [name for name in vehicles if str(name).startswith("K-")] == ["K-0", "K-1", "K-2"]
    assert (path.parent / "open_codes.csv").read_text(encoding="utf-8-sig").count("K-") == 5


def test_tables_without_rows_are_published(tmp_path: Path):
    folder = tmp_path / "week"
    publish.publish(folder, {name: table.clear() for name, table in TABLES.items()}, "", {})
    assert (folder / "shortlist.csv").read_bytes().count(b"\r\n") == 1
    assert openpyxl.load_workbook(folder / "shortlist.xlsx")["What to try"]["A2"].value == "car"


def test_an_older_report_is_replaced_whole(report: Path):
    (report / "left-over.csv").write_text("x")
    publish.publish(report, {"open_codes": open_codes(["active"])}, "<p>second</p>", {})
    assert sorted(path.name for path in report.iterdir()) == [
        "index.html",
        "open_codes.csv",
        "run.json",
        "shortlist.xlsx",
    ]
    assert (report / "index.html").read_text() == "<p>second</p>"


def test_a_failure_on_the_way_leaves_the_older_report(report: Path):
    with pytest.raises(TypeError, match="not JSON serializable"):
        publish.publish(report, TABLES, "<p>second</p>", {"bad": object()})
    assert (report / "index.html").read_text() == "<p>first</p>"
    assert list(report.parent.iterdir()) == [report]


def test_a_file_held_open_elsewhere_is_named_and_the_older_report_comes_back(
    report: Path, monkeypatch: pytest.MonkeyPatch
):
    replace = os.replace

    def busy(source: Path, target: Path) -> None:
        if source.name.endswith(".new"):
            raise PermissionError(13, "in use")
        replace(source, target)

    monkeypatch.setattr("os.replace", busy)
    wanted = (
        rf"^{report} could not be written \(in use\)\. Close whatever has a file of it open, "
        r"and run again\. The report that stood there is unchanged\.$"
    )
    with pytest.raises(WorkspaceError, match=wanted):
        publish.publish(report, TABLES, "<p>second</p>", {})
    assert (report / "index.html").read_text() == "<p>first</p>"
    assert list(report.parent.iterdir()) == [report]


def test_a_run_cut_short_between_the_two_renames_is_mended(report: Path):
    # As a power cut leaves it: the older report moved aside, the fresh one not yet in place.
    aside = report.with_name(".2026-W48.old")
    report.rename(aside)
    report.with_name(".2026-W48.new").mkdir()
    with pytest.raises(TypeError, match="not JSON serializable"):
        publish.publish(report, TABLES, "", {"bad": object()})
    assert (report / "index.html").read_text() == "<p>first</p>"
    publish.publish(report, TABLES, "<p>second</p>", {})
    assert (report / "index.html").read_text() == "<p>second</p>"
    assert list(report.parent.iterdir()) == [report]


@pytest.mark.skipif(sys.platform == "win32", reason="the system has no limit on a file's size")
def test_a_workbook_that_finds_no_room_is_an_error_of_the_disk_and_no_more_is_said(tmp_path, monkeypatch):
    import resource  # noqa: PLC0415 - not there on Windows

    loose: list[object] = []
    monkeypatch.setattr(sys, "unraisablehook", loose.append)
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (2_000, before[1]))
    try:
        with pytest.raises(OSError, match="File too large"):
            write_workbook(tmp_path / "shortlist.xlsx", TABLES)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    gc.collect()
    assert loose == []
