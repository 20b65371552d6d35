"""The last week's run opened again for questions: what it stated, what it had learned, and what it listed.

Nothing is built, mined or fitted again: the marts stand in the database as the run built them, the fitted model beside
them.  A question is put to a copy of the database, so it can be asked at any time and changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

import polars as pl

from analysis.diagnosis import DiagnosisFrames, DiagnosisModel
from pipelines.batch.marts import Facts, costs_of, fetch_marts
from pipelines.errors import BatchError, shell_command
from pipelines.settings import Settings
from pipelines.storage.model_store import ModelStore, StoredRun
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace


@dataclass(frozen=True, kw_only=True)
class LastWeek:
    """What the last run left in the database.

    Attributes:
        week: Its week, ``YYYY-Www``.
        as_of: The day its report was made for.
        facts: The marts as it built them.
        model: The model that its list was made with.
        tables: What it had learned and listed, by name, exact, money in cents.
    """

    week: str
    as_of: date
    facts: Facts
    model: DiagnosisModel
    tables: Mapping[str, pl.DataFrame]

    @property
    def shortlist(self) -> pl.DataFrame:
        """The list of all cars."""
        return self.tables["shortlist"]

    def notes_of(self, vehicle: str) -> list[str]:
        """Return what the list says of one car besides its rows."""
        return [note for note in self.tables["notes"]["note"] if note.startswith(f"{vehicle}: ")]


def open_last_week(
    workspace: Workspace, settings: Settings, warehouse: Warehouse, more: Iterable[str] = ()
) -> LastWeek:
    """Open the last run.

    Args:
        workspace: For the message where there is none.
        settings: For what work costs.
        warehouse: A copy of the database.
        more: Tables of ``marts`` that are asked for beside those of the diagnosis.

    Raises:
        BatchError: No run is kept, something was taken in or back since, or another version of the program made it.
    """
    run = ModelStore(warehouse).current()
    again = f"run '{shell_command('weekly', workspace.root)}'"
    if run is None:
        raise BatchError(f"{_why_none(workspace, warehouse)}; {again} first. Nothing was changed.")
    facts = fetch_marts(warehouse, [*DiagnosisFrames.__annotations__, *more])
    try:
        model = refusing(
            DiagnosisModel.restored(facts.take(DiagnosisFrames), costs_of(settings), dict(run.fitted)), run
        )
    except ValueError as error:
        raise BatchError(
            f"what the run of {run.week} had learned does not fit this version of the program ({error}); {again}, "
            "which learns it anew. Nothing was changed."
        ) from error
    return LastWeek(week=run.week, as_of=run.as_of, facts=facts, model=model, tables=run.tables)


def _why_none(workspace: Workspace, warehouse: Warehouse) -> str:
    kept = ModelStore(warehouse).latest()
    if kept is None:
        return f"{workspace.root} keeps no run yet"
    return f"what was read in {workspace.root} has changed since the report of {kept.week}"


def last_run(workspace: Workspace, warehouse: Warehouse) -> StoredRun:
    """Return the run that was kept last.

    Raises:
        BatchError: There is none.
    """
    run = ModelStore(warehouse).latest()
    if run is None:
        raise BatchError(
            f"{workspace.root} keeps no run yet; run '{shell_command('weekly', workspace.root)}' first. "
            "Nothing was changed."
        )
    return run


def refusing(model: DiagnosisModel, run: StoredRun | None) -> DiagnosisModel:
    """Return the model with what the dealer had refused to leave alone at the last run."""
    return model.working_on(run.tables["refused"]) if run and "refused" in run.tables else model
