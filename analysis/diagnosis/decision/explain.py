"""Why does the list say what it says about one car?

For every part on the list: the codes that speak for it and against it, the past jobs
behind it, and what its chance would be if one of the open codes were not there.  How
loudly a code speaks is the natural logarithm of how many times more often it is seen
with the part faulty than without: 2.3 is ten times, 0 says nothing, below 0 speaks
against.
"""

from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from analysis.diagnosis.decision.policy import chance_of
from analysis.diagnosis.engine import Scales, weigh_car
from analysis.diagnosis.inference.posterior import HISTORY_LEAK, Car
from analysis.diagnosis.inputs.candidates import Candidate
from analysis.diagnosis.model.priors import BAD_NEW_PART
from analysis.evidence.clusters import single_part_jobs

LOUD = 0.05
"""A code that speaks less than this says nothing worth a line."""
_PART = {"part": pl.String, "position": pl.String}
VOICES = _PART | {"code": pl.String, "state": pl.String, "log_ratio": pl.Float64}
WITHOUT = _PART | {"code": pl.String, "chance": pl.Float64, "without": pl.Float64}
VISITS = _PART | {
    "vehicle": pl.String, "job": pl.String, "done_at": pl.Datetime, "codes": pl.String, "outcome": pl.String,
    "km": pl.Float64,
}  # fmt: skip


@dataclass(frozen=True)
class Reasons:
    """The reasoning about one car; parts stand in the order of the list.

    Attributes:
        codes: The rows of ``open_codes`` of this car, with the code's text, sorted by code; ``background`` is why a
            code is masked, or null.
        unread: Modules that some known code belongs to and that were not read on this car, sorted.
        rows: The rows of the list, as they came in.
        voices: part, position, code, state (``open``, ``absent``, or with a blank code ``fitted in vain`` or ``renewed,
            no scan since``), log_ratio (natural); the loudest first for each part.
        visits: part, position, vehicle, job, done_at, codes (those that the row should clear, ``;``-separated),
            outcome (``returned``, ``cleared``, ``unproven`` or ``unread``), km (to the return, else driven without
            it; null where unknown); jobs with this part alone, the latest first.
        without: part, position, code, chance (of the part if tried first now), without (the same if that code
            were absent).
    """

    codes: pl.DataFrame
    unread: list[str]
    rows: pl.DataFrame
    voices: pl.DataFrame
    visits: pl.DataFrame
    without: pl.DataFrame


def explain(scales: Scales, rows: pl.DataFrame, vehicle: str) -> Reasons:
    """Lay open the reasoning about one car.

    Args:
        scales: The knowledge that the list was made with.
        rows: The list; other vehicles' rows are passed over.
        vehicle: A vehicle in stock.

    Returns:
        The reasons; a car without a code to explain has only codes and unread modules.

    Raises:
        ValueError: The vehicle is not in stock.
    """
    frames = scales.frames
    if vehicle not in set(frames.stock["vehicle"]):
        raise ValueError(f"{vehicle} is not among the {frames.stock.height} vehicles in stock")
    mine = rows.filter(pl.col("vehicle") == vehicle).sort("rank")
    opened = frames.open_codes.filter(pl.col("vehicle") == vehicle)
    opened = opened.join(frames.codes.select("code", "text"), on="code", how="left").sort("code")
    read = set(frames.open_modules.filter(pl.col("vehicle") == vehicle)["module"])
    unread = sorted(set(frames.codes["module"]) - read)
    car = next((car for car in scales.cars() if car.vehicle == vehicle), None)
    voices, without, visits = [], [], [pl.DataFrame(schema=VISITS)]
    for i, clears in _listed(scales, mine):
        assert car is not None, "only a car with a code to explain is on the list"
        voices += _voices(scales, car, i)
        without += _without(scales, car, i)
        visits.append(past_jobs(scales, scales.candidates[i], clears))
    return Reasons(
        opened, unread, mine, pl.DataFrame(voices, schema=VOICES, orient="row"),
        pl.concat(visits), pl.DataFrame(without, schema=WITHOUT, orient="row"),
    )  # fmt: skip


def _listed(scales: Scales, rows: pl.DataFrame) -> list[tuple[int, list[str]]]:
    """Return the candidates on the list, each with the codes that it should clear."""
    place = {candidate.key: i for i, candidate in enumerate(scales.candidates)}
    lines = rows.select("part", pl.col("position").fill_null(""), "clears").iter_rows()
    return [(place[part, position], clears.split(";")) for part, position, clears in lines if (part, position) in place]


def _voices(scales: Scales, car: Car, part: int) -> list[tuple[object, ...]]:
    known, key = scales.knowledge, scales.candidates[part].key
    leak = known.leak[car.codes]
    leak = np.where(car.stale, np.minimum(HISTORY_LEAK * leak, 0.5), leak)
    speaks = np.log((1 - (1 - known.link[part, car.codes]) * (1 - leak)) / leak)
    said = [(scales.codes[d], "open", float(ratio)) for d, ratio in zip(car.codes, speaks, strict=True)]
    quiet = known.quiet[part]
    said += [(scales.codes[d], "absent", float(quiet[d])) for d in np.flatnonzero(car.absent)]
    if part in car.failed:
        said.append(("", "fitted in vain", float(np.log(BAD_NEW_PART))))
    if part in car.renewed:
        said.append(("", "renewed, no scan since", float(np.log(known.bad[part]))))
    loud = [voice for voice in said if abs(voice[2]) >= LOUD]
    return [(*key, *voice) for voice in sorted(loud, key=lambda voice: (-abs(voice[2]), voice[0]))]


def _without(scales: Scales, car: Car, part: int) -> list[tuple[object, ...]]:
    now = chance_first(scales, car, part)
    rows: list[tuple[object, ...]] = []
    for at, d in enumerate(car.codes):
        absent = car.absent.copy()
        absent[d] = True
        kept = [code for code in car.codes if code != d]
        other = replace(car, codes=kept, absent=absent, stale=np.delete(car.stale, at))
        then = chance_first(scales, other, part) if kept else 0.0
        rows.append((*scales.candidates[part].key, scales.codes[d], now, then))
    return rows


def chance_first(scales: Scales, car: Car, part: int) -> float:
    """Return the chance that a part clears what it should if it is tried first; 0 where it is no suspect.

    Args:
        scales: What all cars share.
        car: What is open.
        part: Index of the candidate.
    """
    weighed = weigh_car(scales, car)
    return chance_of(weighed.world, weighed.view.parts.index(part), []) if part in weighed.view.parts else 0.0


def past_jobs(scales: Scales, candidate: Candidate, codes: list[str]) -> pl.DataFrame:
    """Return the jobs with one part alone that had one of the codes before them.

    Args:
        scales: For the past jobs.
        candidate: The part and its place.
        codes: Keys of the codes that the row should clear.

    Returns:
        The columns of ``Reasons.visits``, the latest job first.
    """
    frames = scales.frames
    alone = single_part_jobs(frames.job_parts).with_columns(pl.col("position").fill_null(""))
    alone = alone.filter((pl.col("part") == candidate.part) & (pl.col("position") == candidate.position))
    ends = (
        frames.outcomes.filter(pl.col("background").is_null() & pl.col("code").is_in(codes))
        .sort("job_id", "code")
        .group_by("job_id", maintain_order=True)
        .agg(
            pl.col("code").str.join(";").alias("codes"),
            _worst().alias("outcome"),
            pl.coalesce(
                pl.col("km_to_return").filter(pl.col("outcome") == "returned").min(), pl.col("km_proven").min()
            ).alias("km"),
        )
    )
    jobs = frames.jobs.select("job_id", "vehicle", "job", "done_at")
    found = alone.join(ends, on="job_id").join(jobs, on="job_id")
    found = found.sort("done_at", "job_id", descending=True)
    return found.select(*VISITS).cast({"done_at": pl.Datetime, "km": pl.Float64})


def _worst() -> pl.Expr:
    """Of several codes the one that fared worst speaks for the job."""
    outcome = pl.col("outcome")
    ends: pl.Expr = pl.lit("cleared")
    for word in ("unread", "unproven", "returned"):
        ends = pl.when((outcome == word).any()).then(pl.lit(word)).otherwise(ends)
    return ends
