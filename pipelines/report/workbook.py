"""The same tables as one workbook: a sheet a table, and a first sheet that explains.

Text is written as text: nothing in a cell is a formula or a link, whatever it
looks like.  The same tables give the same bytes.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

import polars as pl
import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from analysis.texts import workbook_text as say
from pipelines.report.outgoing_tables import KIND_WORDS, TABLES, Kind

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
_HEAD = {"bold": True, "bottom": 1, "bg_color": "#E8ECEF"}


def write_workbook(path: Path, tables: Mapping[str, pl.DataFrame]) -> None:
    """Write the workbook.

    Args:
        path: The .xlsx file.
        tables: Outgoing tables as ``outgoing.prepare`` returns them, by name; sheets follow this order.

    Raises:
        OSError: The file cannot be written.
    """
    # Its temporary files stand beside it, where the next run clears what a killed one has left.
    with xlsxwriter.Workbook(path, {**_PLAIN, "tmpdir": str(path.parent)}) as book:
        book.set_properties({"created": _CREATED, "title": say.TITLE})
        head = book.add_format(_HEAD)
        _explain(book, head, tables)
        for name, table in tables.items():
            _fill(book, name, table.head(_MOST_ROWS))


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
        lines.append((name, str(table.height), "", told))
    lines += [(), say.COLUMN_HEADS]
    for name in tables:
        lines += [(name, column.name, KIND_WORDS[column.kind], column.doc) for column in TABLES[name].columns]
    for row, line in enumerate(lines):
        for place, text in enumerate(line):
            sheet.write_string(row, place, text, head if line in (say.TABLE_HEADS, say.COLUMN_HEADS) else None)


def _fill(book: xlsxwriter.Workbook, name: str, table: pl.DataFrame) -> None:
    columns = TABLES[name].columns
    sheet: Worksheet = book.add_worksheet(name)
    table.write_excel(
        book,
        name,
        column_formats={column.name: _FORMATS[column.kind] for column in columns if column.kind in _FORMATS},
        header_format=_HEAD,
        table_style={"style": "Table Style Light 1", "banded_rows": False},
        freeze_panes=(1, 0),
        autofilter=True,
        autofit=True,
    )
    for place, column in enumerate(columns):
        sheet.write_comment(0, place, column.doc, {"x_scale": 2})
    sheet.autofit(_WIDEST_COLUMN)
