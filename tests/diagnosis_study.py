"""How good is the list in fleets whose truth is known?  ``python -m tests.diagnosis_study [dirty]`` prints the table.

Every policy gets the same frames and plays its list on the same cars: each part costs what it costs, a step whose
codes are gone already is skipped, and whoever reaches the end hands over.  ``knowing`` runs the same planner with
the planted parameters; no policy can be expected to do better.
"""

import sys
from collections.abc import Callable
from dataclasses import dataclass
from itertools import product

import numpy as np
import polars as pl

from analysis.diagnosis import DiagnosisFrames, shortlist
from analysis.diagnosis.candidates import list_candidates
from analysis.diagnosis.car import Car, View, look_at, world_of
from analysis.diagnosis.knowledge import Knowledge
from analysis.diagnosis.rows import drive_cents
from analysis.diagnosis.stock import cars_in_stock
from analysis.diagnosis.troubleshooting import RECHECK, plan
from analysis.diagnosis.weighing import RECHECK_FROM
from analysis.evidence import EvidenceFrames, weigh
from tests.diagnosis_world import BAD_PART, COSTS, FAULTS, Truth, fleet, nothing_mined, plant

Steps = list[tuple[int, set[str]]]
NUMBERS = np.array(FAULTS)
SIZES = (0, 30, 150, 300, 600)


@dataclass
class Score:
    """Sums over cars: judged, first right, one of three right, cents, cars."""

    judged: int = 0
    first: int = 0
    three: int = 0
    cents: float = 0.0
    cars: int = 0


def our_rows(frames: DiagnosisFrames) -> pl.DataFrame:
    """The list as the workshop gets it."""
    past = EvidenceFrames(frames.jobs, frames.job_parts, frames.job_modules, frames.outcomes, frames.codes)
    return shortlist(frames, weigh(past, nothing_mined().members), nothing_mined(), COSTS).rows


def our_steps(rows: pl.DataFrame) -> dict[str, Steps]:
    steps: dict[str, Steps] = {}
    for vehicle, action, part, clears in rows.select("vehicle", "action", "part", "clears").iter_rows():
        mine = steps.setdefault(vehicle, [])
        if action == "recheck":
            mine.append((RECHECK, set(clears.split(";"))))
        elif action != "specialist":
            mine.append((int(part[6:]), set(clears.split(";"))))
    return steps


def true_knowledge(truth: Truth) -> Knowledge:
    """The planted parameters in the planner's form."""
    fault = np.vstack([truth.fault, truth.fault.mean(axis=0)])
    many = 1e6
    fault = np.clip(fault, 1e-6, 0.9)
    names = [f"make{m}" for m in range(len(truth.fault))]
    return Knowledge(
        truth.link * many, (1 - truth.link) * many + 1e-3, fault * many, (1 - fault) * many, truth.leak, 0.3, NUMBERS,
        np.full(len(truth.link), BAD_PART), truth.link, [*names, ""],
    )  # fmt: skip


def knowing_views(truth: Truth, frames: DiagnosisFrames) -> list[tuple[Car, View, list[int], list[str]]]:
    """Every car in stock weighed with the planted parameters: car, view, the view's planted parts, all code keys."""
    order = np.argsort(truth.codes["code"].to_numpy().astype(str))
    candidates = list_candidates(frames)
    index = [int(c.part[6:]) for c in candidates]
    sorted_truth = true_knowledge(truth)
    where = np.ix_(index, order)
    known = Knowledge(
        sorted_truth.link_yes[where], sorted_truth.link_no[where], sorted_truth.fault_yes[:, index],
        sorted_truth.fault_no[:, index],
        truth.leak[order], 0.3, NUMBERS, sorted_truth.bad[index], truth.link[where], sorted_truth.make_names,
    )  # fmt: skip
    ordered = DiagnosisFrames(**(vars(frames) | {"codes": frames.codes.sort("code")}))
    keys = ordered.codes["code"].to_list()
    views = [
        (car, look_at(car, known, np.ones(len(index), dtype=bool))) for car in cars_in_stock(ordered, candidates, known)
    ]
    return [(car, view, [index[i] for i in view.parts], keys) for car, view in views]


def knowing_steps(truth: Truth, frames: DiagnosisFrames) -> dict[str, Steps]:
    """The same planner with the planted parameters."""
    steps = {}
    for car, view, parts, keys in knowing_views(truth, frames):
        world = world_of(view, truth.total_cents[parts], float(COSTS.specialist_cents), drive_cents(COSTS))
        chosen = plan(world, np.ones(len(parts), dtype=bool), RECHECK_FROM)
        clears = [{keys[d] for d, yes in zip(car.codes, row, strict=True) if yes} for row in view.clears]
        everything = {keys[d] for d in car.codes}
        steps[car.vehicle] = [
            (RECHECK, everything) if s.part == RECHECK else (parts[s.part], clears[s.part]) for s in chosen
        ]
    return steps


def play(truth: Truth, steps: Steps, faults: set[int], causes: dict[str, set]) -> float:
    """Cents spent until the car's codes are gone for good."""
    left, open_codes, cents = set(faults), set(causes), 0.0
    for part, clears in steps:
        if not open_codes & clears:
            continue
        cents += drive_cents(COSTS) if part == RECHECK else float(truth.total_cents[part])
        left -= {part}
        open_codes = {code for code, by in causes.items() if by & left or "leak" in by}
        if not open_codes:
            return cents
    return cents + COSTS.specialist_cents


def named_steps(truth: Truth, frames: DiagnosisFrames) -> dict[str, Steps]:
    """What the codes name: the part named most often, the cheapest of equals first, at most three."""
    return _top_three(truth, frames, lambda present: truth.named[:, present].sum(axis=1).astype(float))


def confidence_steps(truth: Truth, frames: DiagnosisFrames) -> dict[str, Steps]:
    """Pair confidence: how often the code went for good when the part was fitted, of all jobs with the code."""
    fixed, seen = _fixed(truth, frames)
    share = fixed / np.maximum(seen, 1)
    return _top_three(truth, frames, lambda present: share[:, present].max(axis=1))


def bayes_steps(truth: Truth, frames: DiagnosisFrames) -> dict[str, Steps]:
    """Naive Bayes on the jobs after which all codes were gone, with half a count of smoothing."""
    present, fitted, gone = _table(truth, frames)
    label = fitted[gone].astype(float)
    total = label.sum(axis=0)
    rate = (label.T @ present[gone] + 0.5) / (total[:, None] + 1.0)
    prior = np.log((total + 0.5) / (total.sum() + 0.5 * len(total)))

    def score(codes: list[int]) -> np.ndarray:
        mask = np.zeros(rate.shape[1], dtype=bool)
        mask[codes] = True
        logs = np.where(mask, np.log(rate), np.log1p(-rate)).sum(axis=1) + prior
        return np.where(total > 0, np.exp(logs - logs.max()), 0.0)

    return _top_three(truth, frames, score)


def _table(truth: Truth, frames: DiagnosisFrames) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    column = {code: d for d, code in enumerate(truth.codes["code"])}
    jobs = frames.jobs.height
    present = np.zeros((jobs + 1, len(column)))
    fitted, gone = np.zeros((jobs + 1, len(truth.link)), dtype=bool), np.ones(jobs + 1, dtype=bool)
    for job, code, outcome in frames.outcomes.select("job_id", "code", "outcome").iter_rows():
        present[job, column[code]] = 1.0
        gone[job] &= outcome != "returned"
    for job, part in frames.job_parts.select("job_id", "part").iter_rows():
        fitted[job, int(part[6:])] = True
    gone &= fitted.any(axis=1)
    return present, fitted, gone


def _fixed(truth: Truth, frames: DiagnosisFrames) -> tuple[np.ndarray, np.ndarray]:
    present, fitted, gone = _table(truth, frames)
    return fitted[gone].T.astype(float) @ present[gone], present.sum(axis=0)


def _top_three(truth: Truth, frames: DiagnosisFrames, score: Callable[[list[int]], np.ndarray]) -> dict[str, Steps]:
    column = {code: d for d, code in enumerate(truth.codes["code"])}
    steps = {}
    for vehicle, codes in frames.open_codes.group_by("vehicle").agg("code").sort("vehicle").iter_rows():
        values = score([column[code] for code in codes])
        order = np.lexsort((truth.total_cents, -np.round(values, 12)))[:3]
        steps[vehicle] = [(int(i), set(codes)) for i in order if values[i] > 0]
    return steps


def tally(truth: Truth, steps: dict[str, Steps], faults: dict[str, set[int]], causes: dict) -> Score:
    """Play every car's list and count."""
    score = Score()
    for vehicle, true in faults.items():
        mine = steps.get(vehicle, [])
        parts = [part for part, _ in mine if part != RECHECK]
        score.cars += 1
        score.cents += play(truth, mine, true, causes[vehicle])
        if true:
            score.judged += 1
            score.first += bool(set(parts[:1]) & true)
            score.three += bool(set(parts[:3]) & true)
    return score


def study(sizes: tuple[int, ...], worlds: range, stock: int, dirty: bool) -> pl.DataFrame:
    """Return one row per size and policy: top1, top3, cost (euro a car) and ratio to the knowing policy.

    Args:
        sizes: Numbers of past visits.
        worlds: Seeds of the worlds.
        stock: Cars a world.
        dirty: Unread modules, short drives, more leaks.
    """
    rows = []
    for visits in sizes:
        sums: dict[str, list[Score]] = {}
        for seed in worlds:
            truth = plant(seed, dirty)
            frames, faults, causes = fleet(truth, seed + 1000, visits, stock)
            policies = {
                "knowing": knowing_steps(truth, frames),
                "list": our_steps(our_rows(frames)),
                "named": named_steps(truth, frames),
                "confidence": confidence_steps(truth, frames),
                "naive bayes": bayes_steps(truth, frames),
            }
            for name, steps in policies.items():
                sums.setdefault(name, []).append(tally(truth, steps, faults, causes))
        best = sum(s.cents for s in sums["knowing"])
        for name, scores in sums.items():
            judged = sum(s.judged for s in scores)
            cents = sum(s.cents for s in scores)
            rows.append(
                (visits, name, sum(s.first for s in scores) / judged, sum(s.three for s in scores) / judged,
                 cents / sum(s.cars for s in scores) / 100, cents / best)
            )  # fmt: skip
    return pl.DataFrame(rows, schema=["visits", "policy", "top1", "top3", "euro", "ratio"], orient="row")


def true_chance(view: View, column: int, wanted: list[int]) -> float:
    """The planted chance that fitting a part first clears the codes, from the weighed sets and by its own formula."""
    member, case = view.weights.sets.astype(float), view.case
    without = member.copy()
    without[:, column] = 0.0
    never = np.exp(member @ np.log1p(-np.minimum(case.link[0], 1 - 1e-9))) * (1 - case.leak[0])
    gone = []
    for left in (without, member):
        away = np.exp(left @ np.log1p(-np.minimum(case.link[0], 1 - 1e-9))) * (1 - case.leak[0] * case.persist)
        gone.append(((away - never) / np.maximum(1 - never, 1e-12))[:, wanted].clip(0, 1).prod(axis=1))
    return float(view.weights.chance.sum(axis=1)[0] @ ((1 - BAD_PART) * gone[0] + BAD_PART * gone[1]))


def promises(sizes: tuple[int, ...], worlds: range, stock: int, dirty: bool) -> pl.DataFrame:
    """Return one row per size and car whose list begins with a part: what was promised, and what became of it.

    The columns are visits, chance, low, high, true (the planted chance, null where the planted parameters do not
    suspect the part at all) and kept (the codes in ``clears`` went for good, drawn with bad new parts).
    """
    rows = []
    for visits, seed in product(sizes, worlds):
        truth = plant(seed, dirty)
        frames, faults, causes = fleet(truth, seed + 1000, visits, stock)
        views = {car.vehicle: (car, view, parts, keys) for car, view, parts, keys in knowing_views(truth, frames)}
        draw = np.random.default_rng(seed)
        heads = our_rows(frames).filter(pl.col("rank") == 1, pl.col("action") == "replace").sort("vehicle")
        for row in heads.iter_rows(named=True):
            car, view, parts, keys = views[row["vehicle"]]
            part, clears = int(row["part"][6:]), row["clears"].split(";")
            left = faults[car.vehicle] - ({part} if draw.random() > BAD_PART else set())
            kept = not any(causes[car.vehicle][code] & left or "leak" in causes[car.vehicle][code] for code in clears)
            wanted = [j for j, d in enumerate(car.codes) if keys[d] in clears]
            true = true_chance(view, parts.index(part), wanted) if part in parts else None
            rows.append((visits, row["chance"], row["chance_low"], row["chance_high"], true, kept))
    return pl.DataFrame(rows, schema=["visits", "chance", "low", "high", "true", "kept"], orient="row")


def reliability(promised: pl.DataFrame) -> pl.DataFrame:
    """Return one row per size and tenth of the scale: cars, mean promise, share kept, Brier score, interval cover."""
    held = pl.col("true").is_between(pl.col("low") - 1e-9, pl.col("high") + 1e-9)
    measures = (
        pl.len().alias("cars"),
        pl.col("chance").mean().alias("promised"),
        pl.col("kept").mean(),
        ((pl.col("chance") - pl.col("kept").cast(pl.Float64)) ** 2).mean().alias("brier"),
        held.mean().alias("cover"),
    )
    tenth = (pl.col("chance") * 10).floor().clip(0, 9).cast(pl.Int64).alias("tenth")
    whole = promised.group_by("visits").agg(*measures).with_columns(pl.lit(None, dtype=pl.Int64).alias("tenth"))
    each = promised.group_by("visits", tenth).agg(*measures)
    return pl.concat([whole.select(each.columns), each]).sort("visits", "tenth", nulls_last=True)


if __name__ == "__main__":
    pl.Config.set_tbl_rows(80)
    print(study(SIZES, range(100, 106), 60, "dirty" in sys.argv))
    print(reliability(promises((30, 150, 600), range(100, 106), 60, "dirty" in sys.argv)))
