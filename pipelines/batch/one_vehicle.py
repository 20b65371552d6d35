"""One car thought through as the weekly run does it, on a copy of the database that is thrown away.

Nothing in the workspace is changed, so a question about a car can be asked at any time.  What takes a week's run long
and says nothing of one car is left out: which codes form families, and how far past promises held, stands in the last
report.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import polars as pl

from analysis.diagnosis import list_cars
from analysis.diagnosis.engine import Scales, set_up
from analysis.evidence import Evidence
from analysis.evidence.returns import return_distances
from analysis.texts.words import listed, small
from analysis.texts.work import check_pays, check_then, work
from pipelines.batch.marts import build, costs_of, diagnosis_frames, normalise
from pipelines.report.previous import last_families, last_reserve
from pipelines.settings import Settings
from pipelines.storage.storage_errors import disk_errors
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace

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


@dataclass(frozen=True)
class OneCar:
    """One car as the list sees it.

    Attributes:
        frames: The facts of the whole workspace, by name.
        scales: What all cars are weighed with.
        rows: The car's rows of the list, money in cents.
        notes: What there is to say of it.
    """

    frames: dict[str, pl.DataFrame]
    scales: Scales
    rows: pl.DataFrame
    notes: list[str]


@contextmanager
def copied_warehouse(workspace: Workspace) -> Iterator[Warehouse]:
    """Open a copy of the workspace's database, an empty one where there is none; it is gone afterwards.

    Raises:
        WorkspaceError: Another run is using the workspace, or the disk refuses something.
    """
    with disk_errors(workspace.root), tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / workspace.database.name
        if workspace.database.is_file():
            with workspace.lock():
                shutil.copyfile(workspace.database, copy)
                log = workspace.database.with_name(workspace.database.name + ".wal")
                if log.is_file():
                    shutil.copyfile(log, copy.with_name(log.name))
        with Warehouse(copy) as warehouse:
            yield warehouse


def weigh_one(workspace: Workspace, settings: Settings, as_of: date, warehouse: Warehouse, vehicle: str) -> OneCar:
    """Weigh one car with all that is known.

    Args:
        workspace: For the last report's families, and the dealer's own names of modules.
        settings: The settings.
        as_of: The day that says what is in stock.
        warehouse: A copy of the database; its models are built anew.
        vehicle: The car; it may have nothing to list.

    Returns:
        The car, as a week's run would list it with the families of the last report.
    """
    normalise(workspace, warehouse)
    frames = build(warehouse, settings, as_of)
    tau_km, distances = return_distances(frames["outcomes"])
    none = pl.DataFrame()
    past = Evidence(none, none, distances, tau_km, none, [])
    reserve = last_reserve(workspace)
    scales = set_up(diagnosis_frames(frames), past, last_families(workspace), costs_of(settings), reserve)
    listed = list_cars(scales, vehicle)
    return OneCar(frames, scales, listed.rows, [note for note in listed.notes if note.startswith(f"{vehicle}: ")])


def list_section(rows: pl.DataFrame, currency: str) -> Section:
    """Return the list of one car as a table.

    Args:
        rows: The rows of the shortlist, money in cents.
        currency: Three letters.
    """
    cells = [
        (
            str(row["rank"]),
            _tried(row),
            *_chances(row),
            "?" if row["total_cost"] is None else f"{row['total_cost'] / 100:.2f}",
            (row["clears"] or "").replace(";", ", "),
            f"{row['jobs_cleared']} of {row['jobs']} cleared" if row["jobs"] else "none",
        )
        for row in rows.sort("rank").iter_rows(named=True)
    ]
    return Section(f"The list (cost in {currency})", (), LIST_HEAD, cells, LIST_NUMBERS)


def _tried(row: dict[str, str]) -> str:
    """What a row tries, and first of all its check where that comes first."""
    words = what(row["action"], row["part"], row["position"], row["or_else"])
    return small(check_then(words)) if check_pays(row["check_first"]) else words


def _chances(row: dict[str, Any]) -> tuple[str, str]:
    """Return a row's chance and its interval; a specialist is paid until it is fixed, so his row has none."""
    if row["chance"] is None or row["action"] == "specialist":
        return "", ""
    return f"{row['chance']:.0%}", f"{row['chance_low']:.0%} to {row['chance_high']:.0%}"


def what(action: str, part: str, position: str, or_else: str = "") -> str:
    """Say in words what a row tries: ``replace battery`` or ``hand over to a specialist``."""
    words = small(work(action, part, position))
    return f"{words}, or else {listed(or_else)}" if or_else else words
