"""The sample report with foreign text in every field that text from outside can come into."""

from __future__ import annotations

import polars as pl

from pipelines.report.outgoing_tables import TABLES
from tests.support.sample_report import Row, sample

_KINDS = {
    "file": "file name", "why": "why", "value": "value", "column": "column", "warning": "warning", "line": "line",
    "make": "make", "model": "model", "position": "position", "caution": "caution", "check_first": "check",
    "status": "status", "background": "reason", "job": "job", "module": "module", "text": "wording",
    **dict.fromkeys(("vehicle", "came", "left"), "vehicle"), **dict.fromkeys(("family", "before"), "family"),
    **dict.fromkeys(("part", "or_else", "best_part"), "part"), **dict.fromkeys(("supplier", "suppliers"), "supplier"),
    **dict.fromkeys(("first_try", "first_try_before"), "first try"),
    "reason": "reason", "vin": "VIN", "plate": "plate", "model_year": "year", "list_week": "week", "since": "week",
    **dict.fromkeys(("code", "clears", "leaves", "codes", "root", "knock_on", "antecedent", "consequent"), "code"),
}  # fmt: skip
KINDS = sorted({*_KINDS.values(), "note"})
_JOINED = {"codes", "knock_on", "clears", "leaves", "or_else", "came", "left"}


def spoiled(text: str) -> tuple[dict[str, pl.DataFrame], Row]:
    """The sample with foreign text in every field that it can come into.

    Args:
        text: Put behind every free text of every table, and of the run's notes and file names; ``KIND`` in it
            becomes the kind of the field, one of ``KINDS``.
    """
    tables, run = sample()
    for name, table in tables.items():
        known = TABLES.get(name)
        fixed = {column.name for column in known.columns if column.allowed} if known else {"action"}
        free = [column for column, kind in table.schema.items() if kind == pl.String and column not in fixed]
        tables[name] = table.with_columns(_behind(column, text.replace("KIND", _KINDS[column])) for column in free)
    name, note = text.replace("KIND", "file name"), text.replace("KIND", "note")
    run["files"] = [file | {"name": file["name"] + name, "refused": file["refused"] + note} for file in run["files"]]  # type: ignore[attr-defined]
    return tables, run | {"warnings": [warning + note for warning in run["warnings"]]}  # type: ignore[attr-defined]


def _behind(column: str, text: str) -> pl.Expr:
    if column == "suppliers":
        return pl.col(column).str.replace(r" (\d+/\d+)$", text.replace("$", "$$") + " ${1}")
    if column in _JOINED:
        return pl.col(column).str.replace_all(";", f"{text};", literal=True) + text
    return pl.col(column) + text
