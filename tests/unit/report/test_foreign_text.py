"""Script and markup in any field that comes from outside appear as text: on page, job sheet, PDF, picture, workbook."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from functools import cache
from pathlib import Path

import polars as pl
import pytest
from defusedxml import ElementTree
from pypdf import PdfReader

from analysis.charts import page
from analysis.charts.page import draw
from analysis.charts.pictures import pictures
from analysis.texts import names
from pipelines.report import outgoing, publish
from pipelines.report.job_sheet import job_sheets
from pipelines.report.outgoing_columns import Kind
from pipelines.report.outgoing_tables import TABLES
from pipelines.report.workbook import write_workbook
from tests.support.page_reader import Reader, drawn
from tests.support.sample_report import sample
from tests.support.spoiled_report import KINDS, spoiled

openpyxl = pytest.importorskip("openpyxl", reason="openpyxl reads the workbook back; it is not installed")

NASTY = "</script><img src=x onerror=\"run('KIND')\">&amp"
TAME = "(KIND)"
# What the page and the sheet do not show at all; they are in the tables.
NOT_ON_PAGE = {"value", "status", "job", "VIN", "year", "week", "line"}
ON_SHEET = {
    "vehicle", "make", "model", "part", "position", "code", "wording", "status", "reason", "caution", "check",
    "warning", "supplier", "VIN", "year",
}  # fmt: skip
IN_PICTURES = {"part", "family", "code"}
CELLS = [
    (name, column.name)
    for name, table in TABLES.items()
    for column in table.columns
    if column.kind is Kind.TEXT and not column.allowed
]


@cache
def seen(text: str) -> Reader:
    """The page as a browser reads it, with ``text`` in every field."""
    return Reader(page(*spoiled(text)))


@cache
def sheets(text: str) -> dict[str, bytes]:
    """The job sheets, with ``text`` in every field."""
    return job_sheets(*spoiled(text))


@cache
def drawings() -> dict[str, bytes]:
    """The pictures, with foreign text in every field."""
    tables, run = spoiled(NASTY)
    return pictures(draw(tables, run["settings"]))  # type: ignore[arg-type]


def test_every_field_of_every_table_has_foreign_text():
    tables, plain = spoiled(NASTY)[0], sample()[0]
    assert {name for name, _ in CELLS} <= set(tables)
    for name, column in CELLS:
        before, after = plain[name][column].drop_nulls(), tables[name][column].drop_nulls()
        assert after.str.contains("onerror", literal=True).all()
        assert before.len() == after.len()


@pytest.mark.parametrize("kind", sorted(set(KINDS) - NOT_ON_PAGE))
def test_the_page_shows_it_as_it_stands(kind: str):
    assert NASTY.replace("KIND", kind) in seen(NASTY).shown


@pytest.mark.slow
def test_the_page_gets_no_tag_and_no_attribute_from_it():
    nasty, tame = seen(NASTY), seen(TAME)
    assert nasty.tags == tame.tags
    assert [name for name, _ in nasty.attributes] == [name for name, _ in tame.attributes]
    assert "img" not in nasty.tags
    assert nasty.shown.count("onerror=") == tame.shown.count("(") - seen_without()
    assert "<" not in next(body for kind, body in nasty.scripts if kind == "application/json")


def seen_without() -> int:
    """How many brackets the page has of its own."""
    return Reader(drawn()).shown.count("(")


@pytest.mark.parametrize("kind", sorted(ON_SHEET))
def test_a_job_sheet_shows_it_as_it_stands(kind: str):
    pages = {name: sheet.decode() for name, sheet in sheets(NASTY).items() if name.endswith(".html")}
    assert any(NASTY.replace("KIND", kind) in Reader(sheet).shown for sheet in pages.values())


@pytest.mark.slow
def test_a_job_sheet_gets_no_tag_from_it_and_runs_nothing():
    def tags(text: str) -> list[list[str]]:
        return [Reader(sheet.decode()).tags for name, sheet in sheets(text).items() if name.endswith(".html")]

    assert sorted(tags(NASTY)) == sorted(tags(TAME))
    assert not any({"script", "img"} & set(found) for found in tags(NASTY))
    assert all(re.fullmatch(r"jobsheets(?:\.html|/[A-Za-z0-9._-]+)", name) for name in sheets(NASTY))


@pytest.mark.parametrize("kind", sorted(ON_SHEET))
def test_a_pdf_shows_it_as_it_stands(kind: str):
    wanted = re.sub(r"\s", "", NASTY.replace("KIND", kind))
    found = (text_of(sheet) for name, sheet in sheets(NASTY).items() if name.endswith(".pdf"))
    assert any(wanted in text for text in found)


def test_a_pdf_holds_no_link_and_no_script():
    for name, sheet in sheets(NASTY).items():
        if name.endswith(".pdf"):
            reader = PdfReader(io.BytesIO(sheet))
            assert not any("/Annots" in one for one in reader.pages)
            assert not {"/OpenAction", "/Names", "/AA"} & set(reader.trailer["/Root"])


def text_of(pdf: bytes) -> str:
    """All text of a PDF, spaces and line ends taken out."""
    return re.sub(r"\s+", "", "".join(one.extract_text() for one in PdfReader(io.BytesIO(pdf)).pages))


@pytest.mark.slow
@pytest.mark.parametrize("kind", sorted(IN_PICTURES))
def test_a_picture_shows_it_as_it_stands(kind: str):
    texts = [text for drawing in trees() for one in drawing.iter() for text in (one.text or "",)]
    assert any(f"run('{kind}')" in text or text.endswith("…") for text in texts)
    assert any("onerror" in text for text in texts)


def test_a_picture_is_made_of_shapes_and_letters_alone():
    tags = {one.tag.partition("}")[2] for drawing in trees() for one in drawing.iter()}
    assert tags <= {"svg", "g", "path", "text", "rect", "line", "defs", "clipPath", "linearGradient", "stop", "style"}
    names = {name for drawing in trees() for one in drawing.iter() for name in one.attrib}
    assert not [name for name in names if name.lower().startswith("on") or name.endswith("href")]


def trees() -> list[ElementTree.Element]:  # type: ignore[name-defined]
    """The drawings, read by a parser that takes no notice of what they would fetch."""
    return [ElementTree.fromstring(content) for name, content in drawings().items() if name.endswith(".svg")]


@pytest.mark.slow
def test_a_mark_that_no_file_of_letters_can_hold_breaks_no_picture_and_no_sheet():
    tables, run = spoiled("\x01\x1f")
    made = pictures(draw(tables, run["settings"]))  # type: ignore[arg-type]
    assert all(ElementTree.fromstring(made[name]) is not None for name in made if name.endswith(".svg"))
    few = tables["shortlist"].head(4)
    assert all(sheet for sheet in job_sheets(tables | {"shortlist": few}, run).values())


@pytest.fixture(scope="module")
def formulas(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, pl.DataFrame]]:
    """A workbook and the tables it was written from: every free text begins like a formula."""
    tables = {}
    for name, table in TABLES.items():
        row: dict[str, object] = {column.name: None for column in table.columns}
        row |= {column.name: f"=HYPERLINK({column.name})" for column in table.columns if (name, column.name) in CELLS}
        row |= {column.name: column.allowed[0] for column in table.columns if column.allowed}
        filled = {
            column.name: {Kind.DATE: "2026-11-23", Kind.BOOLEAN: True}.get(column.kind, 1)
            for column in table.columns
            if column.required and row[column.name] is None
        }
        frame = pl.DataFrame([row | filled]).with_columns(
            pl.col(column.name).cast(pl.String).str.to_date() for column in table.columns if column.kind is Kind.DATE
        )
        tables[name] = outgoing.prepare(name, frame)
    path = tmp_path_factory.mktemp("book") / "shortlist.xlsx"
    write_workbook(path, tables)
    return path, tables


@pytest.fixture(scope="module")
def book(formulas: tuple[Path, dict[str, pl.DataFrame]]) -> openpyxl.Workbook:
    """The workbook, read back."""
    return openpyxl.load_workbook(formulas[0])


@pytest.mark.parametrize(("name", "column"), CELLS)
def test_text_that_begins_like_a_formula_is_text_in_the_workbook(book: openpyxl.Workbook, name: str, column: str):
    sheet = book[names.SHEETS[name]]
    heads = {cell.value: cell.column for cell in sheet[2]}
    cell = sheet.cell(3, heads[names.column(name, column)])
    assert (cell.data_type, cell.value, cell.hyperlink) == ("s", f"=HYPERLINK({column})", None)


@pytest.mark.parametrize(("name", "column"), CELLS)
def test_text_that_begins_like_a_formula_is_marked_in_the_csv_unless_the_setting_says_no(
    formulas: tuple[Path, dict[str, pl.DataFrame]], name: str, column: str
):
    def cell(*, csv_prefix: bool) -> str:
        text = publish.csv_bytes(name, formulas[1][name], csv_prefix=csv_prefix).decode()
        return next(csv.DictReader(io.StringIO(text, newline="")))[column]

    assert cell(csv_prefix=True) == f"'=HYPERLINK({column})"
    assert cell(csv_prefix=False) == f"=HYPERLINK({column})"


def test_no_part_of_the_workbook_holds_a_link_or_a_formula_but_the_totals(
    formulas: tuple[Path, dict[str, pl.DataFrame]],
):
    with zipfile.ZipFile(formulas[0]) as parts:
        for name in parts.namelist():
            content = parts.read(name)
            assert b"<hyperlink" not in content
            assert all(b"SUBTOTAL(10" in formula for formula in re.findall(rb"<f>.*?</f>", content))
            assert not re.search(rb"<f>[^<]*HYPERLINK", content)
