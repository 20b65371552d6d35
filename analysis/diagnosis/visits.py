"""Past jobs as numbers: what was there, what was read, what was fitted, what came back.

A code whose module was not read says nothing, neither present nor absent.  A code
that stayed away counts for as much as the car was driven; one that was not looked
for again counts for nothing.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

import numpy as np
import polars as pl
from numpy.typing import NDArray

from analysis.diagnosis.candidates import Candidate
from analysis.diagnosis.frames import DiagnosisFrames
from analysis.evidence import Evidence
from analysis.vocabulary.makes import make_key

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]
Number = TypeVar("Number", np.float64, np.bool_)
RUN = 4096
"""So many visits are laid out over all codes at once."""
PROVEN_ANYHOW = 0.9
"""How well a code is proven gone when the car's own monitors say so but no distance is known."""


@dataclass(frozen=True)
class Visits:
    """One row per job with a code before it, sorted by job.

    Most visits show a few codes out of thousands, so what became of a code is kept for those that were there only:
    the entries of visit v stand from ``first[v]`` up to ``first[v + 1]``, by code.

    Attributes:
        jobs: Job ids.
        vehicles: Vehicle of each job.
        makes: (n,) index into ``make_names``.
        make_names: Makes, sorted; blank for unknown.
        asked: (n, modules) the module was read before the job.
        module_of: (codes,) place of the code's module among the columns of ``asked``.
        possible: (makes, codes) the code can be there on that make.
        fitted: (n, parts) the part was worked on.
        first: (n + 1,) where the entries of each visit begin.
        code: (entries,) a code that was there before the job, background left out.
        gone: (entries,) likelihood of what was seen afterwards if the code would stay away.
        back: (entries,) the same if the code would come back.
        known: (entries,) how well the outcome is known, 0 to 1.
    """

    jobs: list[int]
    vehicles: list[str]
    makes: Ints
    make_names: list[str]
    asked: Bools
    module_of: Ints
    possible: Bools
    fitted: Bools
    first: Ints
    code: Ints
    gone: Floats
    back: Floats
    known: Floats

    @cached_property
    def reads(self) -> Floats:
        """Return (codes,): the visits in which the code's module was read."""
        told = [self.read(run).sum(axis=0).astype(float) for run in self.runs()]
        return np.asarray(np.sum([np.zeros(len(self.module_of)), *told], axis=0))

    def runs(self) -> list[slice]:
        """Return runs of visits that are few enough to be laid out over all codes."""
        return [slice(at, min(at + RUN, len(self.jobs))) for at in range(0, len(self.jobs), RUN)]

    def present(self, run: slice) -> Bools:
        """Return (visits of the run, codes): the code was there before the job."""
        return self.laid_out(np.ones(len(self.code), dtype=bool), run, False)

    def read(self, run: slice) -> Bools:
        """Return (visits of the run, codes): the code's presence or absence before the job is known."""
        seen = self.asked[run][:, self.module_of] & self.possible[self.makes[run]]
        return np.asarray(seen | self.present(run))

    def laid_out(self, entries: NDArray[Number], run: slice, fill: float) -> NDArray[Number]:
        """Return (visits of the run, codes): what the entries say, and ``fill`` where the code was not there."""
        table = np.full((run.stop - run.start, len(self.module_of)), fill, dtype=entries.dtype)
        low, high = self.first[run.start], self.first[run.stop]
        visit = np.repeat(np.arange(run.stop - run.start), np.diff(self.first[run.start : run.stop + 1]))
        table[visit, self.code[low:high]] = entries[low:high]
        return table


def gather_visits(frames: DiagnosisFrames, candidates: list[Candidate], evidence: Evidence) -> Visits:
    """Turn the frames of past jobs into arrays over candidates and codes.

    Args:
        frames: The facts; codes are numbered in the order of ``frames.codes``.
        candidates: The parts, columns of ``fitted``.
        evidence: For the return distance of each code.

    Returns:
        The visits; jobs without an unmasked code before them are left out.
    """
    column = {code: d for d, code in enumerate(frames.codes["code"])}
    before = frames.outcomes.filter(pl.col("background").is_null() & pl.col("code").is_in(list(column)))
    jobs = frames.jobs.join(before.select("job_id").unique(), on="job_id").sort("job_id")
    line = {job: v for v, job in enumerate(jobs["job_id"])}
    makes = [spelled(make) for make in jobs["make"].fill_null("")]
    names = sorted(set(makes))
    index = {name: m for m, name in enumerate(names)}
    slot = {module: m for m, module in enumerate(frames.codes["module"].unique().sort())}
    return Visits(
        list(line), jobs["vehicle"].to_list(), np.array([index[make] for make in makes], dtype=np.int64), names,
        _asked(frames.job_modules, line, slot),
        np.array([slot[module] for module in frames.codes["module"]], dtype=np.int64),
        can_occur(names, frames.codes), _fitted(frames.job_parts, line, candidates),
        *_afterwards(before, line, column, evidence),
    )  # fmt: skip


def _afterwards(
    before: pl.DataFrame, line: dict[int, int], column: dict[str, int], evidence: Evidence
) -> tuple[Ints, Ints, Floats, Floats, Floats]:
    tau = dict(evidence.distances.select("code", "tau_km").iter_rows())
    rows = before.select("job_id", "code", "outcome", "km_proven").iter_rows()
    places = sorted((line[job], column[code], _what_became(outcome, km, tau.get(code, evidence.tau_km)))
                    for job, code, outcome, km in rows)  # fmt: skip
    ends = np.array([end for _, _, end in places]).reshape(-1, 3).T
    many = np.bincount([visit for visit, _, _ in places], minlength=len(line))
    first = np.concatenate(([0], np.cumsum(many))).astype(np.int64)
    return first, np.array([code for _, code, _ in places], dtype=np.int64), ends[0], ends[1], ends[2]


def _what_became(outcome: str, km: float | None, tau: float) -> tuple[float, float, float]:
    """Return what was seen afterwards, as ``gone``, ``back`` and ``known``."""
    if outcome == "returned":
        return 0.0, 1.0, 1.0
    if outcome not in ("cleared", "unproven"):
        return 1.0, 1.0, 0.0
    proof = _proof(km, tau, outcome)
    return 1.0, 1 - proof, proof


def _proof(km: float | None, tau: float, outcome: str) -> float:
    """The chance that a code which is still there would have shown itself by now: 1 - exp(-km / tau)."""
    driven = 0.0 if km is None or tau <= 0 else 1 - float(np.exp(-km / tau))
    return max(driven, PROVEN_ANYHOW) if outcome == "cleared" else driven


def _asked(job_modules: pl.DataFrame, line: dict[int, int], slot: dict[str, int]) -> Bools:
    asked = np.zeros((len(line), len(slot)), dtype=bool)
    for job, module in job_modules.select("job_id", "module").iter_rows():
        if job in line and module in slot:
            asked[line[job], slot[module]] = True
    return asked


def spelled(make: str) -> str:
    """Return the one spelling of a make, blank where it is not known."""
    return make_key(make) if make.strip() else ""


def can_occur(makes: list[str], codes: pl.DataFrame) -> Bools:
    """Return (makes, codes): a maker's own code can only be there, or be absent, on that make."""
    own = [spelled(make) for make in codes["make"].fill_null("")]
    table = {make: np.array([not maker or maker == make for maker in own], dtype=bool) for make in set(makes)}
    return np.array([table[make] for make in makes], dtype=bool).reshape(len(makes), len(own))


def _fitted(job_parts: pl.DataFrame, line: dict[int, int], candidates: list[Candidate]) -> Bools:
    place = {candidate.key: i for i, candidate in enumerate(candidates)}
    fitted = np.zeros((len(line), len(candidates)), dtype=bool)
    for job, part, position in job_parts.select("job_id", "part", pl.col("position").fill_null("")).iter_rows():
        if job in line and (part, position) in place:
            fitted[line[job], place[part, position]] = True
    return fitted
