"""Cars in stock that show no code because their codes were erased not long ago: that proves nothing yet.

After an erase of the dealer's own the codes from before the job are what has to stay away; where the car alone tells of
an erase, whatever cars had when they came in may hide.
"""

from dataclasses import dataclass
from math import ceil, log

import polars as pl

from analysis.diagnosis.engine import DiagnosisModel
from analysis.diagnosis.inputs.frames import DiagnosisFrames
from analysis.diagnosis.unseen import PROVEN, WORTH_SAYING, PastCars, unseen
from analysis.texts.action_text import work
from analysis.texts.formatter import Formatter
from analysis.texts.words import small

STEP_KM = 5
"""A distance still to drive is told in steps of so many km."""
OPEN = ("unproven", "unread")
EVEN = 1.0
"""Before any job tells, the work of a job is as likely to have cleared its codes as not."""


@dataclass(frozen=True, kw_only=True)
class Unproven:
    """A car whose scan cannot tell yet.

    Attributes:
        vehicle: Stock number.
        chance: Chance that nothing comes back.
        codes: What was there before the dealer's own erase and is not proven gone, sorted; blank where only the car
            tells of an erase.
        km: Distance since the erase.
        more_km: How much farther to drive until a scan tells.
        done: What was done at the dealer's own erase, and when, in words; blank where it was not one.
    """

    vehicle: str
    chance: float
    codes: tuple[str, ...]
    km: float
    more_km: float
    done: str = ""


def further(km: float, test_km: float) -> float:
    """Return how much farther to drive until a scan tells, in whole steps and one at least."""
    return float(STEP_KM * max(ceil((test_km - km) / STEP_KM), 1))


def unproven_cars(model: DiagnosisModel, vehicle: str | None = None, past: PastCars | None = None) -> list[Unproven]:
    """Return the cars in stock without an open code that an erase hides, sorted by vehicle.

    Args:
        model: What all cars are diagnosed with.
        vehicle: Look at this car alone; None for every car in stock.
        past: The dealer's cars as they came in, where they are known already.
    """
    frames = model.frames
    usual = frames.return_distances.filter(pl.col("code") == "")["return_km"].to_list()
    test = -usual[0] * log(1 - PROVEN) if usual else model.costs.road_test_km
    fresh = frames.stock_erases.filter(pl.col("km") < test).join(frames.stock, on="vehicle", how="semi")
    fresh = fresh.join(frames.open_codes, on="vehicle", how="anti")
    found, own_jobs = [], _since_own_jobs(frames, fresh.filter("own")["vehicle"], model.costs.formatter)
    for name, km, own in fresh.select("vehicle", "km", "own").sort("vehicle").iter_rows():
        if vehicle not in (None, name):
            continue
        done = ""
        if own:
            if name not in own_jobs:
                continue
            codes, chance, done = own_jobs[name]
        else:
            past = past or PastCars(model)
            codes, chance = (), 1 - unseen(model, past, name).chance
            if 1 - chance < WORTH_SAYING:
                continue
        found.append(Unproven(vehicle=name, chance=chance, codes=codes, km=km, more_km=further(km, test), done=done))
    return found


def _since_own_jobs(
    frames: DiagnosisFrames, vehicles: pl.Series, formatter: Formatter
) -> dict[str, tuple[tuple[str, ...], float, str]]:
    """Return, per car, the codes from before its last erase that no scan has proven gone, the chance, and the job.

    Cars of which no such code is known are left out.
    """
    erased = frames.jobs.filter(pl.col("vehicle").is_in(vehicles.implode()) & pl.col("erased"))
    last = erased.sort("parted_at", "job_id").group_by("vehicle", maintain_order=True).last()
    known = frames.outcomes.filter(pl.col("background").is_null() & pl.col("outcome").is_in(OPEN))
    before = known.join(last.select("job_id", "done_at", of="vehicle"), on="job_id", how="inner")
    ends = frames.outcomes["outcome"]
    gone, back = int((ends == "cleared").sum()) + EVEN, int((ends == "returned").sum()) + EVEN
    works: dict[str, list[str]] = {}
    parts = frames.job_parts.join(before.select("job_id").unique(), on="job_id", how="semi").sort(
        "part", "position", nulls_last=True
    )
    for job, *told in parts.select("job_id", "action", "part", "position").iter_rows():
        works.setdefault(job, []).append(small(work(*told)))
    found: dict[str, tuple[tuple[str, ...], float, str]] = {}
    columns = ("of", "code", "lik_gone", "lik_still", "job_id", "done_at")
    for vehicle, code, yes, no, job, day in before.select(columns).sort("of", "code").iter_rows():
        codes, least, _ = found.get(vehicle, ((), 1.0, ""))
        done = ", ".join([formatter.day(day), *works.get(job, [])])
        # One cause most often sets them all, so they go or come back together.
        least = min(least, gone * yes / (gone * yes + back * no))
        found[vehicle] = tuple(dict.fromkeys([*codes, code])), least, done
    return found
