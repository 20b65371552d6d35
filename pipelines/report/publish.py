"""Writes the finished report: tables, workbook, page and the record of the run.

Everything goes into a folder beside the real one first, and takes its place as
the last act, so nobody ever opens half a report.  Text that a spreadsheet would
take for a formula is written so that it stays text.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Mapping
from pathlib import Path

import polars as pl

from pipelines.atomic_folder import beside, recover, swap
from pipelines.errors import WorkspaceError, why_refused
from pipelines.report.outgoing_columns import Kind
from pipelines.report.outgoing_tables import TABLES
from pipelines.report.workbook import write_workbook
from pipelines.storage.storage_errors import is_disk_error

# What spreadsheets take for the start of a formula: also the full-width signs, and after spaces.
_FORMULA_START = r"^ *[=+\-@\t\r\n\x00＝＋－＠]"


def publish(
    folder: Path,
    tables: Mapping[str, pl.DataFrame],
    page: str,
    run: Mapping[str, object],
    *,
    csv_prefix: bool = True,
    sheets: Mapping[str, bytes] | None = None,
    week: pl.DataFrame | None = None,
) -> None:
    """Write one report folder, whole or not at all.

    Args:
        folder: Where the report shall stand; an older one there is replaced.
        tables: Outgoing tables as ``outgoing.prepare`` returns them, by name.
        page: The HTML page.
        run: The content of ``run.json``.
        csv_prefix: Mark text in the CSV tables that a spreadsheet would take for a formula.
        sheets: More files by their path below the folder, for instance the job sheets.
        week: The list as the page shows it, which the workbook opens on.

    Raises:
        WorkspaceError: The folder cannot be replaced, for instance because a file in it is open elsewhere.
            The older report is then still there.
        OSError: The disk is full or broken, which is not this folder's own fault.
    """
    fresh, aside = beside(folder)
    try:
        recover(folder)
        fresh.mkdir(parents=True)
        for name, table in tables.items():
            (fresh / f"{name}.csv").write_bytes(csv_bytes(name, table, csv_prefix=csv_prefix))
        write_workbook(fresh / "shortlist.xlsx", tables, week)
        (fresh / "index.html").write_text(page, encoding="utf-8", newline="\n")
        (fresh / "run.json").write_text(_json(run), encoding="utf-8", newline="\n")
        for place, content in (sheets or {}).items():
            (fresh / place).parent.mkdir(exist_ok=True)
            (fresh / place).write_bytes(content)
        swap(folder, fresh, aside)
    except OSError as error:
        if is_disk_error(error):
            raise
        raise WorkspaceError(
            f"{folder} could not be written ({why_refused(error)}). Close whatever has a file of it open, and run "
            "again. The report that stood there is unchanged."
        ) from error
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
    shutil.rmtree(aside, ignore_errors=True)


def csv_bytes(name: str, table: pl.DataFrame, *, csv_prefix: bool = True) -> bytes:
    """Return one table as CSV.

    Args:
        name: The outgoing table's name.
        table: Its rows, as ``outgoing.prepare`` returns them.
        csv_prefix: Mark what looks like a formula.

    Returns:
        UTF-8 without a byte-order mark: a header line, RFC 4180 quoting and line ends, a point for decimals,
        ISO dates, true and false, nothing for null.  Text that starts like a formula, spaces left aside, gets
        a leading ``'``; numbers never do.

    Source:
        RFC 4180; CWE-1236, "Improper Neutralization of Formula Elements in a CSV File".
    """
    cells = [_cell(column.name, column.kind, csv_prefix) for column in TABLES[name].columns]
    return table.select(cells).write_csv(line_terminator="\r\n").encode()


def _cell(name: str, kind: Kind, csv_prefix: bool) -> pl.Expr:
    value = pl.col(name)
    if kind is Kind.TEXT and csv_prefix:
        runs = value.str.contains(_FORMULA_START)
        return pl.when(runs).then(pl.lit("'") + value).otherwise(value).alias(name)
    return value.cast(pl.Decimal(18, 2)) if kind is Kind.MONEY else value


def _json(run: Mapping[str, object]) -> str:
    return json.dumps(run, indent=2, ensure_ascii=False) + "\n"
