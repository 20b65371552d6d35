"""What will it cost to clear this car?

The list is followed many times on a car whose true faults are drawn from what the
codes make likely: a part is checked or fitted only while a code that it should clear
is still there, and whoever reaches the end with any code left hands the car over.  The draws
come from a fixed seed, so the same car always gets the same answer.
"""

import numpy as np
import numpy.typing as npt
import polars as pl

from analysis.diagnosis.decision.expected_cost import in_one_go
from analysis.diagnosis.decision.repair_model import RECHECK, Indices, RepairModel, Step
from analysis.diagnosis.model.noisy_or import Bools, Floats

DRAWS = 20_000
SEED = 20260105


def costs_to_clear(repair: RepairModel, steps: list[Step], draws: int = DRAWS) -> pl.DataFrame:
    """Return what following the list costs, and how often.

    Codes that no part explains count as well: what stays of them is for the specialist.  A car on which nothing has to
    go costs nothing.

    Args:
        repair: The car.
        steps: The steps before handing over; with none the car is handed over at once.
        draws: How many cars are drawn.

    Returns:
        One row per total: cost (in the unit of the repair's costs), share (of the draws, summing to 1), ascending.
    """
    costs, counts = drawn_costs(repair, steps, draws)
    return pl.DataFrame({"cost": costs, "share": counts / draws})


def drawn_costs(repair: RepairModel, steps: list[Step], draws: int) -> tuple[Floats, npt.NDArray[np.int64]]:
    """Return each total of ``costs_to_clear``, ascending, and how many of the drawn cars cost it."""
    if not repair.scope.any():
        return np.zeros(1), np.array([draws])
    if not steps:
        return np.array([float(repair.specialist)]), np.array([draws])
    rng = np.random.default_rng(SEED)
    chosen = rng.choice(len(repair.chance), size=draws, p=repair.chance / repair.chance.sum())
    faulty = repair.sets[chosen].T.copy()
    set_by, lasts = _causes(rng, repair, chosen)
    works = rng.random((draws, repair.sets.shape[1])) >= repair.bad
    # Whatever comes first erases, and that ends what an erase ends.
    for column in (*repair.renewed, *repair.ended):
        _cure(faulty, set_by, column, works[:, column])
    spent, before = np.zeros(draws), np.ones((draws, len(repair.leak)), dtype=bool)
    before_this = set[int]()
    for go, _ in in_one_go(steps):
        wanted = [repair.scope if step.part == RECHECK else repair.clears[step.part] for step in go]
        called = (before & np.any(wanted, axis=0)).any(axis=1)
        for step in go:
            spent += called * step.opening
            fitted = called
            if step.check is not None:
                spent += called * step.check
                misses, alarms = repair.jobs.misses[step.part], repair.jobs.false_alarms[step.part]
                fitted = called & (rng.random(draws) < np.where(faulty[step.part], 1 - misses, alarms))
            spent += fitted * step.cost
            if step.part != RECHECK:
                another = step.part in before_this
                works_now = rng.random(draws) >= repair.bad[step.part] if another else works[:, step.part]
                _cure(faulty, set_by, step.part, fitted & works_now)
                before_this.add(step.part)
        # The first step erases: from then on a code is there where a part that still fails, or a lasting leak, sets it.
        before = set_by.any(axis=0) | lasts
    spent += repair.specialist * (before & repair.scope).any(axis=1)
    costs, counts = np.unique(np.round(spent, 6), return_counts=True)
    return costs, counts


def _cure(faulty: Bools, set_by: Bools, part: int, done: Bools) -> None:
    faulty[part, done] = False
    set_by[part, done] = False


def _causes(rng: np.random.Generator, repair: RepairModel, chosen: Indices) -> tuple[Bools, Bools]:
    """Draw who set each open code, given that somebody did: (columns, n, m) by part, (n, m) by a leak that lasts."""
    # Many cars are drawn of few sets: what a set says is reckoned once.
    drawn, which = np.unique(chosen, return_inverse=True)
    link = np.minimum(repair.link, 1 - 1e-12)[None] * repair.sets[drawn][:, :, None]
    leak = np.broadcast_to(repair.leak, (len(drawn), 1, len(repair.leak)))
    causes = np.concatenate([link, leak], axis=1)
    # What the causes from here on leave unset together, the last one first.
    left = np.cumprod((1 - causes)[:, ::-1], axis=1)[:, ::-1]
    needed = causes / np.maximum(1 - left, 1e-300)
    nobody: Bools = np.ones((len(chosen), len(repair.leak)), dtype=bool)
    found = np.zeros((causes.shape[1], *nobody.shape), dtype=bool)
    every = np.ones((len(drawn), 1), dtype=bool)
    for j, mine in enumerate(np.hstack([repair.sets[drawn], every]).T):
        cars, luck = np.flatnonzero(mine[which]), rng.random(nobody.shape)
        of = which[cars]
        found[j, cars] = luck[cars] < np.where(nobody[cars], needed[of, j], causes[of, j])
        nobody &= ~found[j]
    lasts = found[-1] & (rng.random(nobody.shape) < repair.leak_recurrence)
    return found[:-1], lasts


def quantile(costs: pl.DataFrame, share: float) -> float:
    """Return the smallest total that at least this share of the draws does not exceed.

    Args:
        costs: cost and share, ascending.
        share: Between 0 and 1.
    """
    reached = costs.filter(pl.col("share").cum_sum() >= share - 1e-9)
    return float(reached["cost"][0])


def nearest_quantile(costs: pl.DataFrame, share: float) -> tuple[float, float]:
    """Return the total whose share of the draws that cost no more is nearest to a share, and that share.

    One price, most often the specialist's, is the cost of many draws at once, so no total may leave out just one in
    ten; the smallest one that at least nine in ten keep is then kept by nearly all.

    Args:
        costs: cost and share, ascending.
        share: Between 0 and 1.

    Returns:
        ``(total, share that costs no more)``; of two as near the smaller total.
    """
    kept = costs["share"].cum_sum()
    at = (kept - share).abs().arg_min() or 0
    return float(costs["cost"][at]), min(float(kept[at]), 1.0)


def chance_above(costs: pl.DataFrame, limit: float) -> float:
    """Return the share of the draws that cost more than a limit, in the unit of the costs."""
    return float(costs.filter(pl.col("cost") > limit)["share"].sum())


def mean_cost(costs: pl.DataFrame) -> float:
    """Return the mean total."""
    totals: Floats = costs["cost"].to_numpy()
    return float(totals @ costs["share"].to_numpy())
