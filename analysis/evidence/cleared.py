"""After a job, is the cause of a code gone or still there?  One likelihood ratio for each job and code.

A code whose cause is still there wakes again after an exponential distance of its own, some at the first start,
others after a hundred kilometres.  A code whose cause is gone stays away, until a new fault of the same kind sets
it: at a rate of new faults per kilometre that all codes share.  So a code that was missing for 300 km and is back
after 9,000 was cleared and has *recurred*; one that is back after 30 km has *returned*.  A code that was awake at the
job, was not erased and is awake still is *kept*: its module may not have tested since, the longer the drive the less
likely, and until then it shows what it showed before.  What else was seen after a job
is one interval: the longest distance after which a list that could have named the code did not, and the first after
which it stood there awake.  The share that is gone, the distances and the rate are fitted together.

What the label of an outcome says, what a clear rate counts and what the diagnosis learns from is the one number
made here.  Pure functions of frames: no files, no database.

Source:
    J. Berkson and R. P. Gage, "Survival curve for cancer patients following treatment", Journal of the American
    Statistical Association 47 (1952): the cure model, here with a hazard of new events for the cured.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import polars as pl
from numpy.typing import NDArray

from analysis.statistics.shrinkage import beta_from_moments, shrink_rate, shrinkage_weights

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

PROVEN = 0.9
"""A road test shows nine of ten causes that are still there; so does a monitor that ran."""
PRIOR_RETURNS = 4.0
"""The pooled distance counts as so many returns of a code, until enough codes tell how much they differ."""
SLIGHT_RETURNS = 0.5
RETURNS_NEEDED, CODES_NEEDED = 8, 10
"""Fewer codes with eight returns do not tell how much the distances of codes differ."""
FEWEST_RETURNS, MOST_RETURNS = 1.0, 40.0
CURED_DEVIATION = 0.2
"""The share of outcomes that stay away for good differs about so much from code to code."""
NEW_FAULT_KM, NEW_FAULTS = 40_000.0, 1.0
"""Before the data tell, the same code is set anew by another fault once in so many km; worth one such event (common
practice, no source)."""
KM_A_DAY = 25.0
"""A car whose distance is not known is taken to be driven so far a day where no other car tells (no source)."""
SUREST = 1e-3
"""No outcome is surer than this: one scan in so many is of another car, or written down wrongly (no source)."""
ROUNDS = 60
SETTLED = (
    *("outcome", "km_proven", "days_to_return", "km_to_return"),
    *("lik_gone", "lik_still", "cleared_chance"),
)


@dataclass(frozen=True, kw_only=True)
class CureModel:
    """How far codes are driven until they come back, fitted to what was seen after jobs.

    Attributes:
        return_km: Mean distance in km at which each code wakes again while its cause is there.
        pooled_km: The same over all codes; it answers for a code that is not among ``return_km``.
        returns: Expected number of returns behind each code's distance.
        cured: Share of all outcomes whose cause is gone.
        new_fault_km: Mean distance in km until a new fault sets a code whose cause was gone.
        km_a_day: Distance that stands for a day where the odometer is not known.
    """

    return_km: Mapping[str, float]
    pooled_km: float
    returns: Mapping[str, float]
    cured: float
    new_fault_km: float
    km_a_day: float

    def road_test_km(self, code: str) -> float:
        """Return the distance in km after which nine of ten causes of a code that are still there have shown."""
        return -self.return_km.get(code, self.pooled_km) * math.log(1 - PROVEN)


def fit_cure_model(seen_after: pl.DataFrame, road_test_km: float) -> CureModel:
    """Fit return distances, the cured share and the rate of new faults to what was seen after jobs.

    Args:
        seen_after: One row per job and code, as ``settle`` takes it.
        road_test_km: The distance that counts as a road test before any return was seen, in km; the mean return
            distance that is believed then is the one of which so much shows nine in ten.

    Returns:
        The model; codes lean on all codes together, the more the less their distances differ (empirical Bayes).
    """
    km_a_day = _km_a_day(seen_after)
    told = pl.col("background").is_null() & pl.col("looked") & ~pl.col("lost") & ~pl.col("kept")
    rows = _intervals(seen_after.filter(told), km_a_day)
    first = -road_test_km / math.log(1 - PROVEN)
    if not rows["seen"].any():
        # Where nothing came back, a slow return and a cure look alike: the road test stands as it is set.
        return CureModel(
            return_km={}, pooled_km=first, returns={}, cured=0.5, new_fault_km=NEW_FAULT_KM, km_a_day=km_a_day
        )
    codes = rows["code"].unique().sort()
    group = rows["code"].cast(pl.Enum(codes)).to_physical().cast(pl.Int64).to_numpy()
    spans = _spans(rows)
    alike = np.zeros(len(group), dtype=np.int64)
    pooled = _em(spans, alike, 1, _Prior(first, PRIOR_RETURNS, (1.0, 1.0)))
    km, cured = float(pooled.km[0]), float(pooled.cured[0])
    elsewhere = beta_from_moments(cured, min(CURED_DEVIATION, math.sqrt(cured * (1 - cured) / 2)))
    alone = _em(spans, group, len(codes), _Prior(km, SLIGHT_RETURNS, (1.0, 1.0)))
    worth = _shrinkage(alone.km, alone.returns)
    fitted = _em(spans, group, len(codes), _Prior(km, worth, elsewhere))
    return CureModel(
        return_km=dict(zip(codes.to_list(), fitted.km.tolist(), strict=True)),
        pooled_km=km,
        returns=dict(zip(codes.to_list(), fitted.returns.tolist(), strict=True)),
        cured=cured,
        new_fault_km=fitted.new_km,
        km_a_day=km_a_day,
    )


def settle(seen_after: pl.DataFrame, model: CureModel) -> pl.DataFrame:
    """Return what became of each code after each job, with the likelihood ratio behind the word.

    Args:
        seen_after: One row per job and code that was there before: code, looked (a later list could have named it, or
            it was seen), absent_km (longest distance after which a complete list that could have named it did not, or
            listed it as stored only although it was awake before and nothing was erased; null: none, or not known how
            far), tested (a monitor or test that ran said it is gone), seen (awake again), seen_km, seen_days (when
            first; null where not known), kept (it was awake before and nothing was erased; ``seen_km`` and
            ``seen_days`` are those of the last such reading), background (null for codes that are reckoned with), lost
            (before it was awake again a list was not understood wholly), lost_km, lost_days (when the first such list
            was read), lost_after_km (the longest distance before it after which it was known absent).
        model: The fitted distances.

    Returns:
        The same rows in the same order with ``outcome``, ``km_proven``, ``days_to_return``, ``km_to_return``,
        ``lik_gone`` and ``lik_still`` (likelihood of what was seen if the cause is gone, and if it is still there, the
        larger of the two 1), and ``cleared_chance`` (the first's share of both, that is the chance that the cause is
        gone at even odds beforehand; null where nobody looked).  ``outcome`` is ``unread`` where nobody looked; where
        it was seen again ``recurred`` if the chance is .5 or more, else ``returned``; where it was kept, ``returned``
        up to .1, else ``unproven``; where it was not seen, ``cleared`` from .9 on, else ``unproven``.  Where a list
        was lost, ``cleared_chance`` is no higher than had that list named the code, or .5 where that would be a
        return: whether it is gone is not known.
    """
    rows = _intervals(seen_after, model.km_a_day)
    spans = _spans(rows)
    km = np.array([model.return_km.get(code, model.pooled_km) for code in rows["code"]], dtype=float)
    still, gone = _likelihoods(spans, km, model.new_fault_km)
    kept = rows["kept"].to_numpy().astype(bool)
    untested = np.exp(-spans.high / km)
    anew = -np.expm1(-spans.high / model.new_fault_km)
    still, gone = np.where(kept, 1.0, still), np.where(kept, untested + (1 - untested) * anew, gone)
    largest = np.maximum(still, gone)
    still, gone = np.maximum(still / largest, SUREST), np.maximum(gone / largest, SUREST)
    looked, highest = rows["looked"].to_numpy().astype(bool), _highest_ratio(seen_after, km, model)
    still = np.maximum(still, gone / highest)
    still, gone = np.where(looked, still, 1.0), np.where(looked, gone, 1.0)
    chance = gone / (gone + still)
    again = np.isfinite(spans.high)
    doubtful, proven = kept & (chance > 1 - PROVEN), ~again & (chance >= PROVEN - 1e-9)
    words = np.select(
        [~looked, doubtful, again & (chance < 0.5), again & (highest > 1), proven],
        ["unread", "unproven", "returned", "recurred", "cleared"],
        "unproven",
    )
    return seen_after.with_columns(
        pl.Series("outcome", words, dtype=pl.String),
        km_proven=pl.col("absent_km"),
        days_to_return=pl.when(pl.Series(words != "unproven")).then("seen_days"),
        km_to_return=pl.when(pl.Series(words != "unproven")).then("seen_km"),
        lik_gone=pl.Series(gone),
        lik_still=pl.Series(still),
        cleared_chance=pl.when(pl.col("looked")).then(pl.Series(chance)),
    )


def _highest_ratio(seen_after: pl.DataFrame, km: Floats, model: CureModel) -> Floats:
    """Return how often likelier gone than still there each code can be: 1 or more, infinite where no list was lost."""
    had_it = seen_after.with_columns(
        seen="lost", seen_km="lost_km", seen_days="lost_days", absent_km="lost_after_km", tested=pl.lit(False)
    )
    still, gone = _likelihoods(_spans(_intervals(had_it, model.km_a_day)), km, model.new_fault_km)
    return np.where(seen_after["lost"].to_numpy().astype(bool), np.maximum(gone / still, 1.0), np.inf)


def outcomes_of(seen_after: pl.DataFrame, model: CureModel) -> pl.DataFrame:
    """Return what became of each code after each job.

    Args:
        seen_after: The frame ``marts.seen_after``.
        model: Fitted to all of it.

    Returns:
        job_id, code, and what ``settle`` adds; one row per row, in the same order.
    """
    return settle(seen_after, model).select("job_id", "code", *SETTLED)


def distances_of(model: CureModel) -> pl.DataFrame:
    """Return how far each code is driven until it wakes again: code and return_km in km, "" for all codes together."""
    told = {"": model.pooled_km, **model.return_km}
    columns = {"code": list(told), "return_km": list(told.values())}
    return pl.DataFrame(columns, schema={"code": pl.String, "return_km": pl.Float64})


@dataclass(frozen=True, kw_only=True)
class _Fit:
    """Groups of codes fitted: (groups,) mean return distance, cured share, expected returns; km to a new fault."""

    km: Floats
    cured: Floats
    returns: Floats
    new_km: float


class _Intervals(NamedTuple):
    """(rows,) last known absent and first seen awake, in km (infinite: never); whether a monitor says it is gone."""

    low: Floats
    high: Floats
    tested: Bools


@dataclass(frozen=True)
class _Prior:
    """Mean return distance in km, how many returns it is worth, and outcomes (gone, still there) as if seen before."""

    km: float
    returns: float
    cured: tuple[float, float]


def _km_a_day(seen_after: pl.DataFrame) -> float:
    """Return the usual distance of a day between a job and a later sighting, in km."""
    known = seen_after.filter((pl.col("seen_days") >= 1) & (pl.col("seen_km") > 0))
    usual = known.select((pl.col("seen_km") / pl.col("seen_days")).median()).item() if known.height else None
    return KM_A_DAY if usual is None else float(usual)


def _intervals(seen_after: pl.DataFrame, km_a_day: float) -> pl.DataFrame:
    """Add ``low`` and ``high`` in km: last known absent, and first seen awake (infinite where it was not)."""
    guessed = pl.coalesce(pl.col("seen_km"), pl.col("seen_days") * km_a_day).fill_null(1.0).clip(0.1)
    high = pl.when("seen").then(guessed).otherwise(float("inf"))
    low = pl.col("absent_km").cast(pl.Float64).fill_null(0.0).clip(0.0)
    return seen_after.with_columns(high.cast(pl.Float64).alias("high")).with_columns(
        pl.min_horizontal(low, pl.col("high") * 0.999).alias("low")
    )


def _spans(rows: pl.DataFrame) -> _Intervals:
    return _Intervals(rows["low"].to_numpy(), rows["high"].to_numpy(), rows["tested"].to_numpy().astype(bool))


def _likelihoods(spans: _Intervals, km: Floats, new_km: float) -> tuple[Floats, Floats]:
    """Return the likelihood of each interval if the cause is still there, and if it is gone."""
    low, high, tested = spans
    still = np.exp(-low / km) * np.where(np.isfinite(high), -np.expm1(-(high - low) / km), 1.0)
    gone = np.exp(-low / new_km) * np.where(np.isfinite(high), -np.expm1(-(high - low) / new_km), 1.0)
    still = np.where(tested, np.minimum(still, (1 - PROVEN) / PROVEN * gone), still)
    return np.maximum(still, 1e-300), np.maximum(gone, 1e-300)


def _em(spans: _Intervals, group: Ints, groups: int, prior: _Prior) -> _Fit:
    """Fit by expectation and maximisation: each row's cause is gone or still there; the rows of a group share both."""
    low, high, _ = spans
    size, seen = np.bincount(group, minlength=groups).astype(float), np.isfinite(high)
    none = np.zeros(groups)
    km, cured, new_km = np.full(groups, prior.km), shrink_rate(none, none, prior.cured), NEW_FAULT_KM
    width = np.where(seen, high - low, 0.0)
    due = np.zeros(len(low))
    for _ in range(ROUNDS):
        still, gone = _likelihoods(spans, km[group], new_km)
        due = still * (1 - cured[group]) / (still * (1 - cured[group]) + gone * cured[group])
        driven = np.where(seen, low + _within(width, km[group]), low + km[group])
        due_in_all = np.bincount(group, due, groups)
        km = (prior.returns * prior.km + np.bincount(group, due * driven, groups)) / (prior.returns + due_in_all)
        cured = shrink_rate(size - due_in_all, size, prior.cured)
        anew = np.where(seen, low + _within(width, np.full(len(low), new_km)), low)
        new_km = (NEW_FAULTS * NEW_FAULT_KM + float((1 - due) @ anew)) / (NEW_FAULTS + float((1 - due) @ seen))
    return _Fit(
        km=km, cured=cured, returns=np.bincount(group, due * seen, groups).astype(np.float64), new_km=float(new_km)
    )


def _within(width: Floats, km: Floats) -> Floats:
    """The mean of an exponential distance that is known to be below ``width``."""
    reach = width / km
    # Beyond 500 means the bound says nothing, and the power would be too large for a number.
    inside = km - width / np.expm1(np.clip(reach, 1e-6, 500))
    return np.where(reach < 1e-6, width / 2, np.where(reach > 500, km, inside))


def _shrinkage(km: Floats, returns: Floats) -> float:
    """Return how many returns the pooled distance is worth, from how much the distances of codes differ.

    The logarithm of a mean of n exponential distances has a variance of about 1 / n.
    """
    known = returns >= RETURNS_NEEDED
    if known.sum() < CODES_NEEDED:
        return PRIOR_RETURNS
    _, kept = shrinkage_weights(np.log(km[known]), 1 / returns[known])
    # n returns of its own and w of the others keep n / (n + w).
    worth = returns[known] * (1 - kept) / np.maximum(kept, 1e-9)
    return float(np.clip(np.median(worth), FEWEST_RETURNS, MOST_RETURNS))
