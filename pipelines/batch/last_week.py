"""The last week opened again for questions: why, at what cost, and from which rows.

A question is put to a copy of the database that is thrown away, so it can be asked at any time and changes nothing.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import polars as pl

from analysis.diagnosis import Shortlist, list_cars
from analysis.diagnosis.engine import Scales, set_up
from analysis.evidence import Evidence, weigh
from analysis.evidence.returns import return_distances
from analysis.mining import Findings
from pipelines.batch import weekly
from pipelines.batch.marts import Facts, costs_of
from pipelines.report.previous import last_families, last_reserve
from pipelines.settings import Settings
from pipelines.storage.storage_errors import disk_faults
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace


@contextmanager
def copied_warehouse(workspace: Workspace) -> Iterator[Warehouse]:
    """Open a copy of the workspace's database, an empty one where there is none; it is gone afterwards.

    Raises:
        WorkspaceError: Another run is using the workspace, or the disk refuses something.
    """
    with disk_faults(workspace.root), tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / workspace.database.name
        if workspace.database.is_file():
            with workspace.lock():
                shutil.copyfile(workspace.database, copy)
                log = workspace.database.with_name(workspace.database.name + ".wal")
                if log.is_file():
                    shutil.copyfile(log, copy.with_name(log.name))
        with Warehouse(copy) as warehouse:
            yield warehouse


@dataclass(frozen=True, kw_only=True)
class Analysis:
    """A week's analysis without its report.

    Attributes:
        facts: What the models say.
        findings: Rules and families.
        weighed: What repairs did.
        model: What the cars were diagnosed with.
        listed: The list of all cars, money in cents.
    """

    facts: Facts
    findings: Findings
    weighed: Evidence
    model: Scales
    listed: Shortlist


def analyse(workspace: Workspace, settings: Settings, as_of: date, warehouse: Warehouse) -> Analysis:
    """Do the steps of the week that read no file and write no report.

    Args:
        workspace: For the dealer's own names of modules.
        settings: The settings.
        as_of: The day that says what is in stock.
        warehouse: A copy of the database; its models are built anew.
    """
    weekly.normalise(workspace, warehouse)
    facts = weekly.state_facts(warehouse, settings, as_of)
    findings = weekly.mine(facts, settings, None)
    weighed = weigh(facts.for_evidence(), findings.members)
    reserve = last_reserve(workspace)
    model = set_up(facts.for_diagnosis(), weighed, findings.families, costs_of(settings), reserve)
    return Analysis(facts=facts, findings=findings, weighed=weighed, model=model, listed=list_cars(model))


@dataclass(frozen=True, kw_only=True)
class OneCar:
    """One car as the list sees it.

    Attributes:
        facts: The facts of the whole workspace.
        model: What all cars are diagnosed with.
        rows: The car's rows of the list, money in cents.
        notes: What there is to say of it.
    """

    facts: Facts
    model: Scales
    rows: pl.DataFrame
    notes: list[str]


def diagnose_one(workspace: Workspace, settings: Settings, as_of: date, warehouse: Warehouse, vehicle: str) -> OneCar:
    """Diagnose one car with all that is known.

    Args:
        workspace: For the last report's families, and the dealer's own names of modules.
        settings: The settings.
        as_of: The day that says what is in stock.
        warehouse: A copy of the database; its models are built anew.
        vehicle: The car; it may have nothing to list.
    """
    weekly.normalise(workspace, warehouse)
    facts = weekly.state_facts(warehouse, settings, as_of)
    tau_km, distances = return_distances(facts["outcomes"])
    none = pl.DataFrame()
    weighed = Evidence(none, none, distances, tau_km, none, [])
    reserve = last_reserve(workspace)
    model = set_up(facts.for_diagnosis(), weighed, last_families(workspace), costs_of(settings), reserve)
    listed = list_cars(model, vehicle)
    notes = [note for note in listed.notes if note.startswith(f"{vehicle}: ")]
    return OneCar(facts=facts, model=model, rows=listed.rows, notes=notes)
