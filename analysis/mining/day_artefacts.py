"""Codes that say more about the day than about the cars.

When nearly every car that was scanned on one day shows a code that is rare otherwise, the
likely cause is what the cars had in common that day: a weak charger, a reader's
fault, an update under way.  Such a code is named and left out of the comparison, lest it
make a family with whatever else was there that day.

Days alone are watched: the frames do not say which reader took a scan.  With a column that does, this would group by it
as it does by day.
"""

from __future__ import annotations

import numpy as np
import polars as pl
from scipy.stats import hypergeom

from analysis.mining.episode_arrays import Ints, car_numbers, positions, run_starts, unique_sorted
from analysis.mining.mining_frames import MiningFrames

CARS_A_DAY = 5  # fewer cars on a day prove nothing about the day
NEARLY_ALL = 0.9
CAR_BITS, DAY_BITS = 26, 20  # of a number of 64 bits that packs code, day and car
DAY_ZERO = 1 << (DAY_BITS - 1)  # what the first of January 1970 counts as, so that earlier days have numbers too
LEVEL = 0.001  # chance of one false alarm over all codes and days
ARTEFACT_SCHEMA = pl.Schema(
    {"code": pl.String, "day": pl.Date, "vehicles": pl.Int64, "scanned": pl.Int64, "elsewhere": pl.Int64}
)


def day_artefacts(frames: MiningFrames) -> pl.DataFrame:
    """Find codes that were first seen on nearly all cars of one day and seldom otherwise.

    Args:
        frames: The mining frames; a basket counts for the day it began and each day a code was first seen in it.

    Returns:
        One row per code and day: vehicles with the code first seen that day, vehicles scanned that
        day, vehicles that had it on another day; sorted.
    """
    names = frames.basket_codes["code"].unique().sort()
    scanned, sights = _car_days(frames, names.to_list())
    firsts = np.flatnonzero(run_starts(sights >> CAR_BITS))
    cells, vehicles = sights[firsts] >> CAR_BITS, np.diff(firsts, append=len(sights))
    code, day = cells >> DAY_BITS, cells & ((1 << DAY_BITS) - 1)
    on_day = np.bincount(scanned >> CAR_BITS)[day]
    all_days = np.bincount(sights >> (CAR_BITS + DAY_BITS), minlength=len(names))[code]
    busy = np.flatnonzero((on_day >= CARS_A_DAY) & (vehicles >= NEARLY_ALL * on_day))
    chance = np.asarray(hypergeom.sf(vehicles[busy] - 1, len(scanned), all_days[busy], on_day[busy]), dtype=np.float64)
    odd = busy[chance <= LEVEL / max(len(cells), 1)]
    columns = {
        "code": names.gather(code[odd]),
        "day": pl.Series(day[odd] - DAY_ZERO, dtype=pl.Int32).cast(pl.Date),
        "vehicles": vehicles[odd],
        "scanned": on_day[odd],
        "elsewhere": all_days[odd] - vehicles[odd],
    }
    return pl.DataFrame(columns, schema=ARTEFACT_SCHEMA).sort("code", "day")


def _car_days(frames: MiningFrames, names: list[str]) -> tuple[Ints, Ints]:
    """Return each car and day once, and each car, day and code once, packed into one number each."""
    known, held = frames.baskets, frames.basket_codes
    car_of = car_numbers(known)
    first_seen = (_days(held["first_seen"]) << CAR_BITS) | car_of[held["basket"].to_numpy()]
    began = (_days(known["started_at"]) << CAR_BITS) | car_of[known["basket"].to_numpy()]
    scanned = unique_sorted(np.concatenate([began, first_seen]))
    return scanned, unique_sorted((positions(held["code"], names) << (CAR_BITS + DAY_BITS)) | first_seen)


def _days(column: pl.Series) -> Ints:
    """Return the day of each time as a number that is never negative."""
    return column.dt.date().to_physical().cast(pl.Int64).to_numpy() + DAY_ZERO
