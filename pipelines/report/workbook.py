"""The same tables as one workbook: a sheet a table in the order of the page, and a first sheet that explains.

Headings are in words, the column's name stands in the heading's note.  Above the headings stand sums and a count of the
rows that a filter leaves; these are the only formulas.  Text is written as text: whatever it looks like, it is neither
a formula nor a link.  The same tables give the same bytes.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

import polars as pl
import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.utility import xl_col_to_name
from xlsxwriter.worksheet import Worksheet

from analysis.texts import names
from analysis.texts import workbook_text as say
from pipelines.report.outgoing_columns import KIND_WORDS, Kind
from pipelines.report.outgoing_tables import TABLES

# The zip and the properties would else carry the hour of the run.
_CREATED = datetime(2000, 1, 1, tzinfo=UTC).replace(tzinfo=None)
_PLAIN = {
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
    "nan_inf_to_errors": True,
}
_MOST_ROWS = 1_000_000
_WIDEST_COLUMN = 330
_FORMATS = {
    Kind.COUNT: "0",
    Kind.FRACTION: "0.0%",
    Kind.MEASURE: "0.00",
    Kind.SMALL: "0.0E+00",
    Kind.MONEY: "#,##0.00",
    Kind.DATE: "yyyy-mm-dd",
    Kind.KM: "#,##0.0",
    Kind.DAYS: "0.0",
}
# Columns whose sum means something; of every table the rows are counted.
_SUMMED = {
    "shortlist": ("part_cost", "labour_cost", "total_cost"),
    "part_results": ("jobs", "cleared", "returned"),
    "ledger": ("part_cost", "labour_cost"),
    "standing": ("cars",),
    "family_weeks": ("vehicles",),
    "reliability": ("n",),
}
_HEAD = {"bold": True, "bottom": 1, "bg_color": "#E8ECEF"}


def write_workbook(path: Path, tables: Mapping[str, pl.DataFrame]) -> None:
    """Write the workbook.

    Args:
        path: The .xlsx file.
        tables: Outgoing tables as ``outgoing.prepare`` returns them, by name; sheets stand in the order of the page.

    Raises:
        OSError: The file cannot be written.
    """
    # Its temporary files stand beside it, where the next run clears what a killed one has left.
    with xlsxwriter.Workbook(path, {**_PLAIN, "tmpdir": str(path.parent)}) as book:
        book.set_properties({"created": _CREATED, "title": say.TITLE})
        head = book.add_format(_HEAD)
        ordered = {name: tables[name] for name in names.SHEETS if name in tables}
        _explain(book, head, ordered)
        if "shortlist" in ordered:
            _fill(book, say.THIS_WEEK, "shortlist", ordered["shortlist"].filter(pl.col("rank") == 1).head(_MOST_ROWS))
        for name, table in ordered.items():
            _fill(book, names.SHEETS[name], name, table.head(_MOST_ROWS))


def _explain(book: xlsxwriter.Workbook, head: Format, tables: Mapping[str, pl.DataFrame]) -> None:
    sheet = book.add_worksheet(say.FIRST_SHEET)
    sheet.set_column(0, 0, 16)
    sheet.set_column(1, 2, 24)
    sheet.set_column(3, 3, 100)
    lines: list[tuple[str, ...]] = [(text,) for text in say.EXPLAINS]
    lines += [(), say.TABLE_HEADS]
    for name, table in tables.items():
        doc = TABLES[name].doc
        told = doc if table.height <= _MOST_ROWS else say.cut(doc, _MOST_ROWS, name)
        lines.append((names.SHEETS[name], str(table.height), f"{name}.csv", told))
    lines += [(), say.COLUMN_HEADS]
    for name in tables:
        lines += [
            (names.SHEETS[name], names.column(name, column.name), KIND_WORDS[column.kind], column.doc)
            for column in TABLES[name].columns
        ]
    for row, line in enumerate(lines):
        for place, text in enumerate(line):
            sheet.write_string(row, place, text, head if line in (say.TABLE_HEADS, say.COLUMN_HEADS) else None)


def _fill(book: xlsxwriter.Workbook, title: str, name: str, table: pl.DataFrame) -> None:
    columns = TABLES[name].columns
    heads = {column.name: names.column(name, column.name) for column in columns}
    sheet: Worksheet = book.add_worksheet(title)
    table.rename(heads).write_excel(
        book,
        title,
        position=(1, 0),
        column_formats={heads[column.name]: _FORMATS[column.kind] for column in columns if column.kind in _FORMATS},
        header_format=_HEAD,
        table_style={"style": "Table Style Light 1", "banded_rows": False},
        freeze_panes=(2, 1),
        autofilter=True,
        autofit=True,
    )
    for place, column in enumerate(columns):
        sheet.write_comment(1, place, say.note(column.name, column.doc), {"x_scale": 2})
    sheet.autofit(_WIDEST_COLUMN)
    if table.height:
        _totals(book, sheet, name, table)


def _totals(book: xlsxwriter.Workbook, sheet: Worksheet, name: str, table: pl.DataFrame) -> None:
    """Write above the headings what a filter leaves: the number of rows, and sums."""
    last = table.height + 2
    bold = {"bold": True, "bg_color": "#F4F6F7"}
    columns = TABLES[name].columns
    filled = next(column.name for column in columns if column.required)
    letter = xl_col_to_name(table.get_column_index(filled))
    formula = f'="{say.SHOWN}"&SUBTOTAL(103,{letter}3:{letter}{last})'
    sheet.write_formula(0, 0, formula, book.add_format(bold), f"{say.SHOWN}{table.height}")
    for column in columns:
        if column.name in _SUMMED.get(name, ()):
            place = table.get_column_index(column.name)
            letter = xl_col_to_name(place)
            look = book.add_format({**bold, "num_format": _FORMATS[column.kind]})
            summed = table[column.name].sum() or 0
            sheet.write_formula(0, place, f"=SUBTOTAL(109,{letter}3:{letter}{last})", look, summed)
