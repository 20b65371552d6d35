"""Are the list's chances calibrated, and do its intervals cover the planted chances?"""

from itertools import product

import numpy as np
import polars as pl

from analysis.diagnosis.inference.posterior import Posterior
from tests.studies.diagnosis_knowing import knowing_posteriors
from tests.support.diagnosis_play import our_rows
from tests.support.diagnosis_world import BAD_PART, fleet, plant


def true_chance(posterior: Posterior, column: int, wanted: list[int]) -> float:
    """The planted chance that fitting a part first clears the codes, from the weighed sets and by its own formula."""
    member, case = posterior.weights.sets.astype(float), posterior.case
    without = member.copy()
    without[:, column] = 0.0
    never = np.exp(member @ np.log1p(-np.minimum(case.link[0], 1 - 1e-9))) * (1 - case.leak[0])
    gone = []
    for left in (without, member):
        away = np.exp(left @ np.log1p(-np.minimum(case.link[0], 1 - 1e-9))) * (1 - case.leak[0] * case.leak_recurrence)
        gone.append(((away - never) / np.maximum(1 - never, 1e-12))[:, wanted].clip(0, 1).prod(axis=1))
    return float(posterior.weights.chance.sum(axis=1)[0] @ ((1 - BAD_PART) * gone[0] + BAD_PART * gone[1]))


def predictions(sizes: tuple[int, ...], worlds: range, stock: int, dirty: bool) -> pl.DataFrame:
    """Return one row per size and car whose list begins with a part: what was predicted, and what became of it.

    The columns are visits, world (its seed), chance, low, high, true (the planted chance, null where the planted
    parameters do not suspect the part at all) and kept (the codes in ``clears`` went for good, drawn with bad new
    parts).
    """
    rows = []
    for visits, seed in product(sizes, worlds):
        truth = plant(seed, dirty)
        frames, faults, causes = fleet(truth, seed + 1000, visits, stock)
        posteriors = {
            car.vehicle: (car, posterior, parts, keys)
            for car, posterior, parts, keys in knowing_posteriors(truth, frames)
        }
        draw = np.random.default_rng(seed)
        heads = our_rows(frames).filter(pl.col("rank") == 1, pl.col("action") == "replace").sort("vehicle")
        for row in heads.iter_rows(named=True):
            car, posterior, parts, keys = posteriors[row["vehicle"]]
            part, clears = int(row["part"][6:]), row["clears"].split(";")
            left = faults[car.vehicle] - ({part} if draw.random() > BAD_PART else set())
            kept = not any(causes[car.vehicle][code] & left or "leak" in causes[car.vehicle][code] for code in clears)
            wanted = [j for j, d in enumerate(car.codes) if keys[d] in clears]
            true = true_chance(posterior, parts.index(part), wanted) if part in parts else None
            rows.append((visits, seed, row["chance"], row["chance_low"], row["chance_high"], true, kept))
    return pl.DataFrame(rows, schema=["visits", "world", "chance", "low", "high", "true", "kept"], orient="row")


def reliability(predicted: pl.DataFrame) -> pl.DataFrame:
    """Return one row per size, or all sizes, and tenth of the scale, or all tenths.

    The columns are cars, predicted (mean), planted (mean of the planted chance, or of what held where no planted
    parameter suspects the part), kept (share), error (standard error of planted less predicted; cars of one world
    share what was learned, so worlds are taken as the independent pieces), brier and cover (of the intervals).
    """
    held = pl.col("true").is_between(pl.col("low") - 1e-9, pl.col("high") + 1e-9)
    planted = pl.coalesce("true", pl.col("kept").cast(pl.Float64))
    one = predicted.with_columns(
        tenth=(pl.col("chance") * 10).floor().clip(0, 9).cast(pl.Int64),
        planted=planted,
        off=planted - pl.col("chance"),
        held=held,
    )
    none = pl.lit(None, dtype=pl.Int64)
    cuts = (one, one.with_columns(tenth=none), one.with_columns(visits=none), one.with_columns(visits=none, tenth=none))
    return pl.concat(map(_measures, cuts)).sort("visits", "tenth", nulls_last=True)


def _measures(one: pl.DataFrame) -> pl.DataFrame:
    by = ("visits", "tenth")
    off = pl.col("off")
    worlds = one.group_by(*by, "world").agg(off.sum()).group_by(by).agg(off.pow(2).sum().sqrt().alias("error"))
    cars = one.group_by(by).agg(
        pl.len().alias("cars"),
        pl.col("chance").mean().alias("predicted"),
        pl.col("planted").mean(),
        pl.col("kept").mean(),
        (pl.col("kept").cast(pl.Float64) - pl.col("chance")).pow(2).mean().alias("brier"),
        pl.col("held").mean().alias("cover"),
    )
    joined = cars.join(worlds, on=by, nulls_equal=True)
    return joined.select(
        *by, "cars", "predicted", "planted", "kept", pl.col("error") / pl.col("cars"), "brier", "cover"
    )
