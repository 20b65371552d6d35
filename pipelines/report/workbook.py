"""The same tables as one workbook: a sheet a table in the order of the page, and a first sheet that explains.

Headings are in words, the column's name stands in the heading's note.  Above the headings stand sums and a count of the
rows that a filter leaves; these are the only formulas.  Text is written as text: whatever it looks like, it is neither
a formula nor a link.  The same tables give the same bytes.
"""

from __future__ import annotations

import gc
import io
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import polars as pl
import xlsxwriter
from xlsxwriter.exceptions import FileCreateError
from xlsxwriter.format import Format
from xlsxwriter.utility import xl_col_to_name
from xlsxwriter.worksheet import Worksheet

from analysis.progress import each, portion
from analysis.texts import list_text, names
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
_MOST_ROWS = 50_000
"""A sheet holds the first so many rows, the file beside it all: more of them nobody scrolls through, and all of a large
group's would take most of a gigabyte to write and to open."""
_MANY_ROWS = 100_000
_A4 = 9
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


def write_workbook(path: Path, tables: Mapping[str, pl.DataFrame], week: pl.DataFrame | None = None) -> None:
    """Write the workbook.

    Args:
        path: The .xlsx file.
        tables: Outgoing tables as ``outgoing.prepare`` returns them, by name; sheets stand in the order of the page.
        week: The list as the page shows it, a row a car, headings in words; the workbook opens on it, and all lines of
            the list follow its order of cars.

    Raises:
        OSError: The file cannot be written.
    """
    # Packed in memory, and let go of at once: a packer that a full disk stops fails again when it is thrown away.
    packed = io.BytesIO()
    try:
        # Its temporary files stand beside it, where the next run clears what a killed one has left.
        with xlsxwriter.Workbook(packed, {**_PLAIN, "tmpdir": str(path.parent)}) as book:
            _fill_all(book, tables, week)
    except FileCreateError as error:
        raise error.args[0].with_traceback(None) from None
    if sum(table.height for table in tables.values()) > _MANY_ROWS:
        # Sheets and book hold each other; of a large group their cells are most of a gigabyte.
        del book
        gc.collect()
    path.write_bytes(packed.getvalue())


def _fill_all(book: xlsxwriter.Workbook, tables: Mapping[str, pl.DataFrame], week: pl.DataFrame | None) -> None:
    book.set_properties({"created": _CREATED, "title": say.TITLE})
    head = book.add_format(_HEAD)
    ordered = {name: tables[name] for name in names.SHEETS if name in tables}
    _explain(book, head, ordered)
    if week is not None:
        _fill_week(book, week.head(_MOST_ROWS))
        place = week.select(pl.col(names.CAR).alias("vehicle")).with_row_index("place")
        ordered["shortlist"] = (
            ordered["shortlist"].join(place, on="vehicle", how="left").sort("place", "rank").drop("place")
        )
    with portion(0.0, 0.7):  # the rest is packing
        for name, table in each(ordered.items()):
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


def _fill_week(book: xlsxwriter.Workbook, week: pl.DataFrame) -> None:
    """Write the list as the page shows it, with no notes: its headings are the page's words."""
    formats = dict.fromkeys(list_text.SAVE_SHARES, "0%") | dict.fromkeys(list_text.SAVE_MONEY, _FORMATS[Kind.MONEY])
    formats["minutes"] = "0"
    sheet = _sheet(
        book, say.THIS_WEEK, week, formats=formats, summed=("cost", "part", "labour", "minutes"), filled=names.CAR
    )
    sheet.activate()


def _fill(book: xlsxwriter.Workbook, title: str, name: str, table: pl.DataFrame) -> None:
    columns = TABLES[name].columns
    heads = {column.name: names.column(name, column.name) for column in columns}
    formats = {heads[column.name]: _FORMATS[column.kind] for column in columns if column.kind in _FORMATS}
    filled = next(heads[column.name] for column in columns if column.required)
    summed = tuple(heads[column] for column in _SUMMED.get(name, ()))
    sheet = _sheet(book, title, table.rename(heads), formats=formats, summed=summed, filled=filled)
    for place, column in enumerate(columns):
        sheet.write_comment(1, place, say.note(column.name, column.doc), {"x_scale": 2})


def _sheet(
    book: xlsxwriter.Workbook,
    title: str,
    table: pl.DataFrame,
    *,
    formats: Mapping[Any, str],
    summed: tuple[str, ...],
    filled: str,
) -> Worksheet:
    """Write one sheet, ready to print: headings that filter, above them what the filter leaves.

    Args:
        book: The workbook.
        title: The sheet's name.
        table: Its rows, with the headings in words.
        formats: How the numbers of a column are shown.
        summed: Columns whose sum stands above.
        filled: A column that is never blank, by which rows are counted.
    """
    sheet: Worksheet = book.add_worksheet(title)
    table.write_excel(
        book,
        title,
        position=(1, 0),
        column_formats=formats,
        header_format=_HEAD,
        table_style={"style": "Table Style Light 1", "banded_rows": False},
        freeze_panes=(2, 1),
        autofilter=True,
    )
    sheet.autofit(_WIDEST_COLUMN)
    sheet.set_landscape()
    sheet.set_paper(_A4)
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(1)
    sheet.set_footer("&L&A&R&P / &N")
    if not table.height:
        return sheet
    last = table.height + 2
    bold = {"bold": True, "bg_color": "#F4F6F7"}
    letter = xl_col_to_name(table.get_column_index(filled))
    formula = f'="{say.SHOWN}"&SUBTOTAL(103,{letter}3:{letter}{last})'
    sheet.write_formula(0, 0, formula, book.add_format(bold), f"{say.SHOWN}{table.height}")
    for name in summed:
        place = table.get_column_index(name)
        letter = xl_col_to_name(place)
        look = book.add_format({**bold, **({"num_format": formats[name]} if name in formats else {})})
        sheet.write_formula(0, place, f"=SUBTOTAL(109,{letter}3:{letter}{last})", look, table[name].sum() or 0)
    return sheet
