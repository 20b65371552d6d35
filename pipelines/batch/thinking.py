"""The whole week thought through once more without a report, on a copy of the database."""

from __future__ import annotations

from datetime import date

from analysis.diagnosis import DiagnosisModel, fit
from pipelines.batch.marts import costs_of, diagnosis_frames
from pipelines.batch.steps import STEPS, Batch
from pipelines.report.previous import last_reserve
from pipelines.settings import Settings
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace

THINKING = (
    "normalise spellings",
    "build the models",
    "mine faults that show up together",
    "weigh what repairs did",
    "rank what to try first",
)


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
    batch = Batch(workspace, settings, as_of, warehouse, lambda _: None, calibration=last_reserve(workspace))
    for step in STEPS:
        if step.name in THINKING:
            step.work(batch)
    return batch


def model_of(batch: Batch) -> DiagnosisModel:
    """Return the model that the batch's list was made with."""
    assert batch.evidence is not None
    assert batch.findings is not None
    frames, costs = diagnosis_frames(batch.frames), costs_of(batch.settings)
    return fit(frames, batch.evidence, batch.findings.families, costs, batch.calibration)
