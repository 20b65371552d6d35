"""What is each piece of the method worth?  The list as it is, and without one piece at a time.

Every world here also has codes of old modifications on some cars, which the batch has found out to be background.
A piece is taken away by hiding from the list what it lives on.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import polars as pl

from analysis.diagnosis import DiagnosisFrames
from tests.support.diagnosis_play import Played, play_ours
from tests.support.diagnosis_world import START, Truth
from tests.support.settled import settled

MODIFIED = 0.3
"""Share of cars with the code of an old modification."""
OLD_CODES = ("BCM:B1001", "IPC:B1002")
FAR = 1e6


def _with_old_codes(frames: DiagnosisFrames) -> DiagnosisFrames:
    """Give some cars a code that is there before and after every job, marked as background."""
    codes = pl.DataFrame(
        [(key, *key.split(":"), None, "accessory not recognised", None, None, None, False, 9) for key in OLD_CODES],
        schema=frames.codes.schema,
        orient="row",
    )
    jobs = frames.jobs.join(_modified(frames.jobs["vehicle"]), on="vehicle")
    stock = frames.stock.join(_modified(frames.stock["vehicle"]), on="vehicle")
    past = jobs.select(
        "job_id", "vehicle", "job", "module", "code", pl.lit("modification").alias("background"),
        pl.lit("returned").alias("outcome"), pl.lit(None, pl.Float64).alias("km_proven"),
        pl.lit(1.0).alias("days_to_return"), pl.lit(5.0).alias("km_to_return"),
    )  # fmt: skip
    opened = stock.select(
        "vehicle", "module", "code", pl.lit(START).alias("first_seen"), pl.lit(START).alias("last_seen"),
        pl.lit("active").alias("status"), pl.lit("modification").alias("background"),
    )  # fmt: skip
    return replace(
        frames,
        codes=pl.concat([frames.codes, codes]).sort("code"),
        outcomes=settled(pl.concat([frames.outcomes.select(past.columns), past])),
        open_codes=pl.concat([frames.open_codes, opened.select(frames.open_codes.columns)]),
        job_modules=pl.concat([frames.job_modules, jobs.select("job_id", "module")]).unique().sort("job_id", "module"),
        open_modules=pl.concat([frames.open_modules, stock.select("vehicle", "module")]).unique().sort(pl.all()),
    )


def _modified(vehicles: pl.Series) -> pl.DataFrame:
    names = vehicles.unique().sort()
    rng = np.random.default_rng(len(names))
    chosen = names.filter(pl.Series(rng.random(len(names)) < MODIFIED))
    keys = [OLD_CODES[k % len(OLD_CODES)] for k in range(len(chosen))]
    modules = [key.split(":")[0] for key in keys]
    return pl.DataFrame({"vehicle": chosen, "module": modules, "code": keys}, schema=dict.fromkeys(
        ("vehicle", "module", "code"), pl.String
    ))  # fmt: skip


def _unmasked(frames: DiagnosisFrames) -> DiagnosisFrames:
    """Nothing is background: the codes of modifications take part like any other."""
    bare = pl.lit(None, pl.String).alias("background")
    return replace(frames, outcomes=frames.outcomes.with_columns(bare), open_codes=frames.open_codes.with_columns(bare))


def _without_texts(frames: DiagnosisFrames) -> DiagnosisFrames:
    """No code says what it is about: only repairs teach."""
    blank = [pl.lit(None, pl.String).alias(name) for name in ("text", "component", "points_at")]
    return replace(frames, codes=frames.codes.with_columns(blank))


def _without_distances(frames: DiagnosisFrames) -> DiagnosisFrames:
    """A code that was not seen again counts as gone, however little the car was driven."""
    away = pl.col("outcome").is_in(["cleared", "unproven"])
    outcomes = frames.outcomes.with_columns(
        pl.when(away).then(pl.lit("cleared")).otherwise("outcome").alias("outcome"),
        pl.when(away).then(FAR).otherwise("km_proven").alias("km_proven"),
    )
    return replace(frames, outcomes=settled(outcomes))


def _without_after_scans(frames: DiagnosisFrames) -> DiagnosisFrames:
    """Nobody scans again after a job: every job is taken to have cured all codes before it."""
    outcomes = frames.outcomes.with_columns(
        pl.lit("cleared").alias("outcome"), pl.lit(FAR).alias("km_proven"),
        *(pl.lit(None, pl.Float64).alias(name) for name in ("days_to_return", "km_to_return")),
    )  # fmt: skip
    return replace(frames, outcomes=settled(outcomes))


def _make_by_make(truth: Truth, frames: DiagnosisFrames) -> Played:
    """Each make learns from its own jobs only."""
    steps, ranking = {}, {}
    for make in frames.stock["make"].unique().sort():
        jobs = frames.jobs.filter(pl.col("make") == make)
        own = jobs["job_id"].implode()
        stock = frames.stock.filter(pl.col("make") == make)
        cars = stock["vehicle"].implode()
        part = replace(
            frames,
            jobs=jobs,
            stock=stock,
            **{
                name: getattr(frames, name).filter(pl.col("job_id").is_in(own))
                for name in ("job_parts", "job_modules", "outcomes")
            },
            **{
                name: getattr(frames, name).filter(pl.col("vehicle").is_in(cars))
                for name in ("open_codes", "open_modules")
            },
        )
        played = play_ours(truth, part)
        steps |= played.steps
        ranking |= played.ranking
    return Played(steps, ranking)


def _hiding(hide: Callable[[DiagnosisFrames], DiagnosisFrames]) -> Callable[[Truth, DiagnosisFrames], Played]:
    return lambda truth, frames: play_ours(truth, hide(frames))


ABLATIONS: dict[str, Callable[[Truth, DiagnosisFrames], Played]] = {
    "all pieces": play_ours,
    "no masking": _hiding(_unmasked),
    "no code texts": _hiding(_without_texts),
    "no distances": _hiding(_without_distances),
    "no scans after": _hiding(_without_after_scans),
    "no pooling over makes": _make_by_make,
}


def play_without(name: str, truth: Truth, frames: DiagnosisFrames) -> Played:
    """Play the list with or without one piece, in a world with codes of old modifications."""
    return ABLATIONS[name](truth, _with_old_codes(frames))
