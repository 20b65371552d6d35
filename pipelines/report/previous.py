"""What does the latest report say: its week and day, its families, and how far past promises held?"""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import polars as pl

from pipelines.errors import BatchError, shell_command
from pipelines.workspace import Workspace


def last_run(workspace: Workspace) -> tuple[str, date]:
    """Return week and day of the latest report.

    Raises:
        BatchError: There is none yet, or it cannot be read.
    """
    path = _latest(workspace, "run.json")
    if path is not None:
        try:
            run = json.loads(path.read_text(encoding="utf-8"))
            return str(run["week"]), date.fromisoformat(run["as_of"])
        except (OSError, ValueError, KeyError, TypeError) as error:
            raise BatchError(
                f"{path} cannot be read ({error}); 'knockon weekly' makes that week's report anew. Nothing was changed."
            ) from error
    raise BatchError(f"{workspace.root} has no report yet; run '{shell_command('weekly', workspace.root)}' first.")


def last_families(workspace: Workspace) -> pl.DataFrame:
    """Return the families of the latest report, none where there is no report yet: codes as lists, and the root."""
    table = _last(workspace, "families")
    if table is None:
        return pl.DataFrame(schema={"codes": pl.List(pl.String), "root": pl.String})
    return table.select(pl.col("codes").str.split(";"), pl.col("root").replace("", None))


def last_reserve(workspace: Workspace) -> float | None:
    """Return the share of the doubt that the latest report kept back, None where no report says."""
    table = _last(workspace, "backtest")
    if table is None or "reserve" not in table.columns or table.is_empty():
        return None
    return float(table["reserve"][0])


def _last(workspace: Workspace, table: str) -> pl.DataFrame | None:
    path = _latest(workspace, f"{table}.csv")
    return None if path is None else pl.read_csv(path, infer_schema=False)


def _latest(workspace: Workspace, name: str) -> Path | None:
    """Return a file of the latest report; what a run that was cut short has left beside the reports is none."""
    return max(workspace.reports.glob(f"[!.]*/{name}"), default=None)
