"""One car thought through by the same steps as the weekly run, on a copy of the database that is thrown away.

Nothing in the workspace is changed, so a question about a car can be asked at any time.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

import polars as pl

from analysis.diagnosis.weighing import Scales, set_up
from pipelines.facts import costs_of, diagnosis_frames
from pipelines.settings import Settings
from pipelines.steps import STEPS, Batch
from pipelines.warehouse import Warehouse
from pipelines.workspace import Workspace

THINKING = (
    "normalise spellings",
    "build the models",
    "mine faults that show up together",
    "weigh what repairs did",
    "rank what to try first",
)
LIST_HEAD = ("rank", "what", "chance", "between", "cost", "clears", "own jobs")
LIST_NUMBERS = (0, 2, 4)


@dataclass(frozen=True)
class Section:
    """A piece of what is printed: a title, lines, and a table.

    Attributes:
        title: One line.
        lines: Sentences below it.
        head: Names of the table's columns.
        rows: Cells as text.
        numbers: Columns that are set to the right.
    """

    title: str
    lines: Sequence[str] = ()
    head: Sequence[str] = ()
    rows: Sequence[Sequence[str]] = field(default=())
    numbers: Sequence[int] = ()


@contextmanager
def copied_warehouse(workspace: Workspace) -> Iterator[Warehouse]:
    """Open a copy of the workspace's database, an empty one where there is none; it is gone afterwards.

    Raises:
        WorkspaceError: Another run is using the workspace.
    """
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / workspace.database.name
        if workspace.database.is_file():
            with workspace.lock():
                shutil.copyfile(workspace.database, copy)
                log = workspace.database.with_name(workspace.database.name + ".wal")
                if log.is_file():
                    shutil.copyfile(log, copy.with_name(log.name))
        with Warehouse(copy) as warehouse:
            yield warehouse


def think(workspace: Workspace, settings: Settings, as_of: date, warehouse: Warehouse) -> Batch:
    """Run the steps of the week that read no file and write no report.

    Args:
        workspace: For the dealer's own names of modules.
        settings: The settings.
        as_of: The day that says what is in stock.
        warehouse: A copy of the database; its models are built anew.

    Returns:
        The batch with its frames, findings, evidence and list.
    """
    batch = Batch(workspace, settings, as_of, warehouse, lambda _: None)
    for step in STEPS:
        if step.name in THINKING:
            step.work(batch)
    return batch


def scales_of(batch: Batch) -> Scales:
    """Return the scales that the batch's list was made with."""
    assert batch.evidence is not None
    assert batch.findings is not None
    return set_up(diagnosis_frames(batch.frames), batch.evidence, batch.findings.families, costs_of(batch.settings))


def list_section(rows: pl.DataFrame, currency: str) -> Section:
    """Return the list of one car as a table.

    Args:
        rows: The rows of the shortlist, money in cents.
        currency: Three letters.
    """
    cells = [
        (
            str(row["rank"]),
            what(row["action"], row["part"], row["position"], row["or_else"]),
            _percent(row["chance"]),
            "" if row["chance"] is None else f"{_percent(row['chance_low'])} to {_percent(row['chance_high'])}",
            "?" if row["total_cost"] is None else f"{row['total_cost'] / 100:.2f}",
            (row["clears"] or "").replace(";", ", "),
            f"{row['jobs_cleared']} of {row['jobs']} cleared" if row["jobs"] else "none",
        )
        for row in rows.sort("rank").iter_rows(named=True)
    ]
    return Section(f"The list (cost in {currency})", (), LIST_HEAD, cells, LIST_NUMBERS)


def _percent(share: float | None) -> str:
    return "" if share is None else f"{share:.0%}"


def what(action: str, part: str, position: str, or_else: str = "") -> str:
    """Say in words what a row tries: ``replace battery`` or ``specialist``."""
    words = " ".join(word for word in (action, part, position) if word)
    return f"{words}, or else {or_else.replace(';', ', ')}" if or_else else words
