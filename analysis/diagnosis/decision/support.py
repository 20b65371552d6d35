"""The single-part jobs that one row of the list rests on."""

import numpy as np
import polars as pl

from analysis.diagnosis.inputs.candidates import Candidate
from analysis.diagnosis.inputs.frames import DiagnosisFrames
from analysis.evidence.clusters import single_part_jobs


class PastJobs:
    """Answers which jobs with this part alone had these codes, and how they ended."""

    def __init__(self, frames: DiagnosisFrames, candidates: list[Candidate]):
        """Sort the past jobs by part once.

        Args:
            frames: The facts.
            candidates: The parts; ``fitted`` says for each whether it was ever worked on.
        """
        ever = set(frames.job_parts.select("part", pl.col("position").fill_null("")).iter_rows())
        self.fitted = np.array([candidate.key in ever for candidate in candidates], dtype=bool)
        ends: dict[int, dict[str, str]] = {}
        real = frames.outcomes.filter(pl.col("background").is_null())
        for job, code, outcome in real.select("job_id", "code", "outcome").iter_rows():
            ends.setdefault(job, {})[code] = outcome
        alone = single_part_jobs(frames.job_parts).select("job_id", "part", pl.col("position").fill_null(""))
        self._jobs: dict[tuple[str, str], list[dict[str, str]]] = {}
        for job, part, position in alone.iter_rows():
            if job in ends:
                self._jobs.setdefault((part, position), []).append(ends[job])

    def single_jobs(self, key: tuple[str, str], codes: set[str]) -> tuple[int, int]:
        """Count the jobs with this part alone and a known outcome for at least one of the codes.

        Args:
            key: Part and position.
            codes: Keys of the codes that the row should clear.

        Returns:
            ``(jobs, those after which every one of the codes whose outcome is known was proven gone)``.
        """
        jobs = cleared = 0
        for ends in self._jobs.get(key, []):
            known = {outcome for code, outcome in ends.items() if code in codes} & {"cleared", "returned"}
            jobs += bool(known)
            cleared += known == {"cleared"}
        return jobs, cleared
