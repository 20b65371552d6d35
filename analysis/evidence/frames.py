"""What the evidence room takes in, and what it hands on.

One job is one visit to the workshop.  What was fitted, what was read before and
what became of each code afterwards come in as tables of facts; counts and the
rates drawn from them go out.
"""

from dataclasses import dataclass, field
from typing import Annotated

import polars as pl


@dataclass(frozen=True, kw_only=True)
class EvidenceFrames:
    """The tables of facts about past jobs, as the marts hand them over.

    Attributes:
        jobs: One row per job.
        job_parts: One row per job, part and position that was worked on.
        job_modules: One row per job and module that was read before it.
        outcomes: One row per job and code that was present before it.
        codes: One row per code.
    """

    jobs: Annotated[pl.DataFrame, "job_id done_at erased erase_only"]
    job_parts: Annotated[pl.DataFrame, "job_id part position supplier"]
    job_modules: Annotated[pl.DataFrame, "job_id module"]
    outcomes: Annotated[pl.DataFrame, "job_id code background outcome km_proven days_to_return km_to_return"]
    codes: Annotated[pl.DataFrame, "code vehicles"]


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """What past jobs show.

    Attributes:
        part_results: One row per part and family, the columns of ``part_results.csv``.
        erase_rates: One row per family: family, jobs, cleared, rate (erase-only jobs with a known outcome).
        return_curve: One row per group (``erased``, ``repaired``) and km at which a code came back:
            group, km, at_risk, returned, staying, staying_low, staying_high.
        notes: Plain sentences for the report.
        worse_parts: The parts whose codes return more often than they did or than others' do, as ``worse_parts``
            returns them; empty where nothing stands out.
    """

    part_results: pl.DataFrame
    erase_rates: pl.DataFrame
    return_curve: pl.DataFrame
    notes: list[str]
    worse_parts: pl.DataFrame = field(default_factory=pl.DataFrame)
