"""Codes that say more about the day than about the cars.

When nearly every car that was scanned on one day shows a code that is rare otherwise, the
likely cause is what the cars had in common that day: a weak charger, a reader's
fault, an update under way.  Such a code is named and left out of the comparison, lest it
make a family with whatever else was there that day.
"""

from __future__ import annotations

import numpy as np
import polars as pl
from scipy.stats import hypergeom

from analysis.mining.frames import MiningFrames

CARS_A_DAY = 5  # fewer cars on a day prove nothing about the day
NEARLY_ALL = 0.9
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
    days = frames.baskets.select("basket", "vehicle", day=pl.col("started_at").dt.date())
    sights = frames.basket_codes.join(days.select("basket", "vehicle"), on="basket").select(
        "vehicle", "code", day=pl.col("first_seen").dt.date()
    )
    scanned = pl.concat([days.select("vehicle", "day"), sights.select("vehicle", "day")]).unique()
    per_day = scanned.group_by("day").agg(pl.len().cast(pl.Int64).alias("scanned"))
    seen = sights.unique().group_by("code", "day").agg(pl.len().cast(pl.Int64).alias("vehicles"))
    total = sights.unique().group_by("code").agg(pl.len().cast(pl.Int64).alias("all_days"))
    busy = (
        seen.join(per_day, on="day")
        .join(total, on="code")
        .with_columns(elsewhere=pl.col("all_days") - pl.col("vehicles"))
    )
    busy = busy.filter((pl.col("scanned") >= CARS_A_DAY) & (pl.col("vehicles") >= NEARLY_ALL * pl.col("scanned")))
    drawn = (busy[name].to_numpy() for name in ("vehicles", "all_days", "scanned"))
    vehicles, all_days, on_day = drawn
    chance = np.asarray(hypergeom.sf(vehicles - 1, scanned.height, all_days, on_day), dtype=np.float64)
    odd = busy.filter(pl.Series(chance <= LEVEL / max(seen.height, 1), dtype=pl.Boolean))
    return odd.select(ARTEFACT_SCHEMA.names()).sort("code", "day")
