"""The tables of facts have every column that a room of the analysis reads, and a room is handed no other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

import polars as pl
import pytest

from analysis.diagnosis import DiagnosisFrames
from analysis.evidence import EvidenceFrames
from analysis.frames import lacking, needed_columns, select_frames
from analysis.mining import MiningFrames
from pipelines.storage.sql_models import reference_names, reference_table, shipped_models

ROOMS = pytest.mark.parametrize("frames", [MiningFrames, EvidenceFrames, DiagnosisFrames])


@dataclass(frozen=True, kw_only=True)
class Room:
    jobs: Annotated[pl.DataFrame, "job_id done_at"]
    parts: Annotated[pl.DataFrame, "part"]


def declared() -> dict[str, pl.Schema]:
    """The marts as their headers declare them, and the reference tables, which hold text alone."""
    marts = {model.name.removeprefix("marts."): model.schema for model in shipped_models() if "marts." in model.name}
    return marts | {name: reference_table(name).schema for name in reference_names()}


@ROOMS
def test_the_declared_tables_have_what_each_room_reads(frames):
    assert lacking(frames, declared()) == []


@ROOMS
def test_each_room_names_its_columns_once(frames):
    for table, columns in needed_columns(frames).items():
        assert columns, table
        assert len(set(columns)) == len(columns), table


def test_one_name_has_one_type_in_all_marts():
    # So that a reader who knows a column of one frame knows it in every frame.
    kinds: dict[str, set[str]] = {}
    for model in shipped_models():
        if model.name.startswith("marts."):
            for column in model.columns:
                kinds.setdefault(column.name, set()).add(f"{column.type} {column.unit or ''}")
    assert {name: kind for name, kind in kinds.items() if len(kind) > 1} == {}


def test_what_lacks_is_named():
    assert lacking(Room, {"jobs": ["job_id"]}) == ["jobs.done_at", "parts.part"]
    with pytest.raises(ValueError, match=r"Room lacks jobs\.done_at, parts\.part; the tables of facts do not have it"):
        select_frames(Room, {"jobs": pl.DataFrame({"job_id": [1]})})


def test_a_room_is_handed_the_columns_that_it_lists_in_their_order():
    jobs = pl.DataFrame({"done_at": ["d"], "vehicle": ["A1"], "job_id": [1]})
    handed = select_frames(Room, {"jobs": jobs, "parts": pl.DataFrame({"part": ["coil"]}), "stock": pl.DataFrame()})
    assert handed.jobs.to_dict(as_series=False) == {"job_id": [1], "done_at": ["d"]}
    assert handed.parts.columns == ["part"]
