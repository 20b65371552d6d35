"""Past jobs as numbers: what was there, what was read, what was fitted, what came back.

A code whose module was not read says nothing, neither present nor absent.  A code
that stayed away counts for as much as the car was driven; one that was not looked
for again counts for nothing.
"""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from analysis.diagnosis.candidates import Candidate
from analysis.diagnosis.frames import DiagnosisFrames
from analysis.evidence import Evidence
from analysis.vocabulary.makes import make_key

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
PROVEN_ANYHOW = 0.9
"""How well a code is proven gone when the car's own monitors say so but no distance is known."""


@dataclass(frozen=True)
class Visits:
    """One row per job with a code before it, sorted by job.

    Attributes:
        jobs: Job ids.
        vehicles: Vehicle of each job.
        makes: (n,) index into ``make_names``.
        make_names: Makes, sorted; blank for unknown.
        present: (n, codes) the code was there before the job, background left out.
        read: (n, codes) the code's presence or absence before the job is known.
        fitted: (n, parts) the part was worked on.
        gone: (n, codes) likelihood of what was seen afterwards if the code would stay away.
        back: (n, codes) the same if the code would come back.
        known: (n, codes) how well the outcome is known, 0 to 1.
    """

    jobs: list[int]
    vehicles: list[str]
    makes: NDArray[np.int64]
    make_names: list[str]
    present: Bools
    read: Bools
    fitted: Bools
    gone: Floats
    back: Floats
    known: Floats


def gather_visits(frames: DiagnosisFrames, candidates: list[Candidate], evidence: Evidence) -> Visits:
    """Turn the frames of past jobs into arrays over candidates and codes.

    Args:
        frames: The facts; codes are the columns, in the order of ``frames.codes``.
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
    present, gone, back, known = _afterwards(before.sort("job_id", "code"), line, column, evidence)
    read = _read(frames, line, makes) | present
    return Visits(
        list(line), jobs["vehicle"].to_list(), np.array([names.index(make) for make in makes], dtype=np.int64), names,
        present, read, _fitted(frames.job_parts, line, candidates), gone, back, known,
    )  # fmt: skip


def _afterwards(
    before: pl.DataFrame, line: dict[int, int], column: dict[str, int], evidence: Evidence
) -> tuple[Bools, Floats, Floats, Floats]:
    shape = len(line), len(column)
    present, known = np.zeros(shape, dtype=bool), np.zeros(shape)
    gone, back = np.ones(shape), np.ones(shape)
    tau = dict(evidence.distances.select("code", "tau_km").iter_rows())
    for job, code, outcome, km in before.select("job_id", "code", "outcome", "km_proven").iter_rows():
        at = line[job], column[code]
        present[at] = True
        if outcome == "returned":
            gone[at], known[at] = 0.0, 1.0
        elif outcome in ("cleared", "unproven"):
            proof = _proof(km, tau.get(code, evidence.tau_km), outcome)
            back[at], known[at] = 1 - proof, proof
    return present, gone, back, known


def _proof(km: float | None, tau: float, outcome: str) -> float:
    """The chance that a code which is still there would have shown itself by now: 1 - exp(-km / tau)."""
    driven = 0.0 if km is None or tau <= 0 else 1 - float(np.exp(-km / tau))
    return max(driven, PROVEN_ANYHOW) if outcome == "cleared" else driven


def _read(frames: DiagnosisFrames, line: dict[int, int], makes: list[str]) -> Bools:
    slot = {module: m for m, module in enumerate(frames.codes["module"].unique().sort())}
    seen = np.zeros((len(line), len(slot)), dtype=bool)
    for job, module in frames.job_modules.select("job_id", "module").iter_rows():
        if job in line and module in slot:
            seen[line[job], slot[module]] = True
    return seen[:, [slot[m] for m in frames.codes["module"]]] & can_occur(makes, frames.codes)


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
