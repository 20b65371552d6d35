"""The tables that leave the house, made ready by their declaration, and the pages that describe them.

The CSV files, the workbook, the machine-readable schemas and the column pages all follow ``outgoing_tables``.
Numbers are rounded here and nowhere else; inside, money is whole cents and a
count stays a count.
"""

from __future__ import annotations

import polars as pl

from pipelines.errors import ModelError
from pipelines.report.outgoing_columns import KIND_WORDS, Column, Kind, Table
from pipelines.report.outgoing_tables import TABLES

_SCHEMA_TYPES = {
    Kind.TEXT: "string",
    Kind.COUNT: "integer",
    Kind.DATE: "date",
    Kind.BOOLEAN: "boolean",
}
_DECIMALS = {Kind.FRACTION: 4, Kind.MEASURE: 4, Kind.MONEY: 2, Kind.KM: 1, Kind.DAYS: 1}


def prepare(name: str, frame: pl.DataFrame) -> pl.DataFrame:
    """Select, check and round one outgoing table.

    Args:
        name: A table of ``TABLES``, for instance "shortlist".
        frame: At least the declared columns.  Money columns are in cents (whole or not), shares are
            fractions, lists are joined by ``;``, dates may carry a time of day.  Row order is kept.

    Returns:
        The declared columns in their declared order: String, Int64, Float64 (money in units), Date or
        Boolean.  A number without a finite value, and a text of no characters, is null.

    Raises:
        ModelError: The table is not declared, or a column is missing, has the wrong type, is null where it
            must be filled, or holds a value outside its range; the message names table, column and value.
    """
    table = _table(name)
    missing = [column.name for column in table.columns if column.name not in frame.columns]
    if missing:
        raise ModelError(f"outgoing table {name} lacks the column {', '.join(missing)}; it has {frame.columns}.")
    for column in table.columns:
        if not _fits(frame.schema[column.name], column.kind):
            raise ModelError(
                f"outgoing table {name}, column {column.name}: expected {KIND_WORDS[column.kind]}, "
                f"found the type {frame.schema[column.name]}."
            )
    ready = frame.select(_rounded(column) for column in table.columns)
    for column in table.columns:
        _check(name, column, ready[column.name])
    return ready


def _table(name: str) -> Table:
    if name not in TABLES:
        raise ModelError(f"{name} is no outgoing table; the tables are {', '.join(TABLES)}.")
    return TABLES[name]


def _fits(dtype: pl.DataType, kind: Kind) -> bool:
    if dtype == pl.Null:
        return True
    if kind is Kind.TEXT:
        return dtype == pl.String or isinstance(dtype, pl.Categorical | pl.Enum)
    if kind is Kind.COUNT:
        return dtype.is_integer()
    if kind is Kind.DATE:
        return isinstance(dtype, pl.Date | pl.Datetime)
    return dtype == pl.Boolean if kind is Kind.BOOLEAN else dtype.is_numeric()


def _rounded(column: Column) -> pl.Expr:
    value = pl.col(column.name)
    if column.kind is Kind.TEXT:
        text = value.cast(pl.String)
        return pl.when(text != "").then(text).alias(column.name)
    if column.kind is Kind.COUNT:
        return value.cast(pl.Int64)
    if column.kind is Kind.DATE:
        return value.cast(pl.Date)
    if column.kind is Kind.BOOLEAN:
        return value.cast(pl.Boolean)
    number = value.cast(pl.Float64)
    number = pl.when(number.is_finite()).then(number)
    if column.kind is Kind.SMALL:
        return number.round_sig_figs(4).alias(column.name)
    units = number / 100 if column.kind is Kind.MONEY else number
    # Adding zero turns a rounded -0.0 into 0.0, so that no table prints a minus sign before nothing.
    return (units.round(_DECIMALS[column.kind]) + 0.0).alias(column.name)


def _check(table: str, column: Column, values: pl.Series) -> None:
    place = f"outgoing table {table}, column {column.name}"
    if column.required and values.null_count():
        row = values.is_null().arg_true()[0] + 1
        raise ModelError(f"{place}: row {row} is blank, and this column must be filled.")
    if column.kind is Kind.FRACTION:
        _refuse(values.filter((values < 0) | (values > 1)), f"{place}: expected a share from 0 to 1")
    if column.allowed:
        strange = values.filter(values.is_not_null() & ~values.is_in(list(column.allowed)))
        _refuse(strange, f"{place}: expected one of {', '.join(column.allowed)}")


def _refuse(wrong: pl.Series, message: str) -> None:
    if wrong.len():
        raise ModelError(f"{message}, found {wrong.sort()[0]!r}.")


def no_rows(name: str) -> pl.DataFrame:
    """Return one outgoing table without rows, for :func:`prepare`.

    Args:
        name: A table of ``TABLES``.

    Raises:
        ModelError: The table is not declared.
    """
    return pl.DataFrame(schema=dict.fromkeys((column.name for column in _table(name).columns), pl.Null))


def table_schema(name: str) -> dict[str, object]:
    """Return one outgoing table as an open Table Schema.

    Args:
        name: A table of ``TABLES``.

    Returns:
        A mapping that JSON can hold: name, description, fields, missingValues.

    Raises:
        ModelError: The table is not declared.
    """
    table = _table(name)
    return {
        "name": name,
        "description": table.doc,
        "fields": [_field(column) for column in table.columns],
        "missingValues": [""],
    }


def _field(column: Column) -> dict[str, object]:
    limits: dict[str, object] = {}
    if column.required:
        limits["required"] = True
    if column.allowed:
        limits["enum"] = list(column.allowed)
    if column.kind is Kind.FRACTION:
        limits |= {"minimum": 0, "maximum": 1}
    field: dict[str, object] = {
        "name": column.name,
        "type": _SCHEMA_TYPES.get(column.kind, "number"),
        "description": column.doc,
    }
    return {**field, "constraints": limits} if limits else field


def table_schemas() -> dict[str, dict[str, object]]:
    """Return the Table Schema of every outgoing table, by name."""
    return {name: table_schema(name) for name in TABLES}


def column_docs() -> str:
    """Return a Markdown page of every outgoing table: one heading a table, one row a column."""
    head = ["| column | type | meaning |", "|---|---|---|"]
    parts = []
    for name, table in TABLES.items():
        rows = [f"| {column.name} | {KIND_WORDS[column.kind]} | {column.doc} |" for column in table.columns]
        parts.append("\n".join([f"## {name}.csv", "", table.doc, "", *head, *rows, ""]))
    return "\n".join(parts)
