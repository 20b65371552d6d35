"""What the diagnosis asks for, out of the frames and the settings of a run."""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from analysis.diagnosis import Costs, DiagnosisFrames
from pipelines.settings import Settings


def diagnosis_frames(frames: Mapping[str, pl.DataFrame]) -> DiagnosisFrames:
    """Return the frames that the diagnosis takes in, out of all frames of a run by name."""
    return DiagnosisFrames(**{name: frames[name] for name in DiagnosisFrames.__annotations__})


def costs_of(settings: Settings) -> Costs:
    """Return what work costs at this dealer, money in cents."""
    return Costs(
        labour_rate_cents=settings.cents("labour_rate"),
        specialist_cents=settings.cents("specialist_cost"),
        cheap_limit_cents=settings.cents("cheap_limit"),
        country=settings.country,
        road_test_km=settings.road_test_km,
    )
