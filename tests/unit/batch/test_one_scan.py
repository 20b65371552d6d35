"""A scan that is only looked at: which model answers."""

from dataclasses import fields
from datetime import date, datetime
from pathlib import Path

import polars as pl

from analysis.diagnosis import DiagnosisFrames
from pipelines.batch.marts import Facts, costs_of
from pipelines.batch.one_scan import _model
from pipelines.settings import Settings
from pipelines.storage.model_store import StoredRun
from pipelines.workspace import Workspace
from tests.support.diagnosis_dealer import golden


def test_what_another_version_had_learned_is_learned_anew(tmp_path: Path) -> None:
    learned = golden().model()
    frames = golden().frames()
    tables = {field.name: getattr(frames, field.name) for field in fields(DiagnosisFrames)}
    facts = Facts(tables | {"job_parts": frames.job_parts.with_row_index("work")})
    fitted = learned.fitted()
    families = pl.DataFrame(schema={"codes": pl.List(pl.String), "root": pl.String})

    def answer(lacks: str) -> list[str]:
        kept = {name: array for name, array in fitted.items() if name != lacks}
        run = StoredRun(
            week="2026-W47", as_of=date(2026, 11, 21), made_at=datetime(2026, 11, 21), version="0", fitted=kept,
            tables={"families": families},
        )  # fmt: skip
        model, _ = _model(facts, Settings(), run, Workspace(tmp_path))
        assert model.costs == costs_of(Settings())
        return [candidate.label for candidate in model.candidates]

    assert answer("") == answer("prior_untold") == [candidate.label for candidate in learned.candidates]
