"""How well would the list have done on the visits that are past?

Every past visit with a single part and a known outcome is put before the list as if
it stood on the lift today, and the list may use earlier visits only.  Learning anew
before each visit would be slow, so it is done at a few cut points in time and serves
the visits up to the next.  Families are left out, for they are found in all scans,
later ones too; an earlier visit counts with what is known of its outcome today.

Only the part that was fitted is known to be right or wrong.  So the places on the list
and the costs are judged where it cleared the codes, and the chances where the workshop
fitted what the list would have named first: there the prediction was put to the test.
The workshop chose with its own eyes as well, which makes such visits go a little better.
"""

from collections import Counter
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
import polars as pl

from analysis.diagnosis.decision.expected_cost import in_one_go
from analysis.diagnosis.decision.repair_model import RECHECK, chance_of
from analysis.diagnosis.engine import CarDiagnosis, DiagnosisModel, fit
from analysis.diagnosis.evaluation.holdout import PastVisit, known_before, visits_to_check
from analysis.diagnosis.evaluation.metrics import against_rules, reliability, summarise, tested, trust, unknown_cause
from analysis.diagnosis.inference.calibration import learned_calibration
from analysis.diagnosis.inference.posterior import Car, passed_share, unknown_cause_profile
from analysis.diagnosis.inputs.frames import Costs, DiagnosisFrames
from analysis.diagnosis.inputs.training_data import others_awake
from analysis.evidence.clusters import CLEARED

CUTS = 6
LEARN_FROM = 1500
"""At each cut the latest so many jobs are learned from: more would take long and hardly change the beliefs."""
CHECKED = 600
"""So many of the latest visits are checked at most: older ones say little of the list as it is now."""
TRIES = 3
"""The two plain rules that the list is held against try so many parts, then hand over."""
PREDICTIONS = (
    {"job_id": pl.Int64, "chance": pl.Float64, "held": pl.Boolean, "place": pl.Int64}
    | dict.fromkeys(("cost", "cost_named", "cost_fitted"), pl.Float64)
    | dict.fromkeys(("calibration", "one_minus_max", "if_unknown"), pl.Float64)
    | dict.fromkeys(("named_first", "fitted_first"), pl.Boolean)
)


@dataclass(frozen=True, kw_only=True)
class Backtest:
    """What came of it.

    Attributes:
        summary: One row: n (visits whose part cleared the codes), top1, top3 (shares of them), judged (visits whose
            first chance was put to the test), brier, cost_vs_named, cost_vs_fitted (the list's cost over the
            rule's; null where n is 0), cuts, reserve (the calibration, as the outgoing table names it).
        reliability: One row per tenth with visits: tenth (1 to 10), predicted, observed, low, high (90 %), n.
        predictions: One row per visit: job_id, chance (null where the part is no suspect), held (what it should
            clear stayed away; null where unknown), place (of the line that names the part, rechecks not counted,
            null where none does), cost, cost_named, cost_fitted (cents until it was fitted or handed over; null
            where the part did not clear the codes), calibration (the model's), one_minus_max (of the
            car's posterior), if_unknown (the chance if all were unknown-cause mass), named_first and fitted_first (the
            plain rules would have tried the right part first).
        calibration: Share of one minus the largest posterior chance that is unknown-cause mass from now on.
        notes: Plain sentences for the report.
    """

    summary: pl.DataFrame
    reliability: pl.DataFrame
    predictions: pl.DataFrame
    calibration: float
    notes: list[str]


def backtest(frames: DiagnosisFrames, costs: Costs, cuts: int = CUTS) -> Backtest:
    """Predict the past visits, each from earlier ones only.

    Args:
        frames: The facts about past jobs, parts and codes; the cars in stock are not looked at.
        costs: What work costs here.
        cuts: How often is learned anew; visits on either side of a cut differ in time.

    Returns:
        The result; with no visit to check, empty frames and a sentence that says so.
    """
    visits = visits_to_check(frames)[-CHECKED:]
    times = [visit.done_at for visit in visits]
    starts = sorted({times[k * len(times) // cuts] for k in range(cuts)}) if times else []
    rows: list[tuple[object, ...]] = []
    for start, end in zip(starts, [*starts, None][1:], strict=True):
        block = [visit for visit in visits if visit.done_at >= start and (end is None or visit.done_at < end)]
        rows += _check_block(_model_before(frames, costs, start), block, frames)
    predictions = pl.DataFrame(rows, schema=PREDICTIONS, orient="row").sort("job_id")
    kept = pl.col("calibration") * pl.col("one_minus_max")
    bare = tested(predictions).with_columns((pl.col("chance") - kept * pl.col("if_unknown")) / (1 - kept))
    calibration = learned_calibration(bare, _taught(frames))
    summary = summarise(predictions, len(starts)).with_columns(pl.lit(calibration).alias("reserve"))
    notes = [trust(summary), *against_rules(predictions), unknown_cause(calibration, int(summary["judged"][0]))]
    return Backtest(
        summary=summary,
        reliability=reliability(predictions),
        predictions=predictions,
        calibration=calibration,
        notes=notes,
    )


def _taught(frames: DiagnosisFrames) -> int:
    """Return how many jobs there are to learn from: those with a code before them that is not background."""
    return int(frames.outcomes.filter(pl.col("background").is_null())["job_id"].n_unique())


def _model_before(frames: DiagnosisFrames, costs: Costs, start: datetime) -> DiagnosisModel:
    earlier = known_before(frames, start, LEARN_FROM)
    none = pl.DataFrame(schema={"codes": pl.List(pl.String), "root": pl.String})
    return fit(earlier, none, costs)


def _check_block(model: DiagnosisModel, block: list[PastVisit], frames: DiagnosisFrames) -> list[tuple[object, ...]]:
    place = {part.key: i for i, part in enumerate(model.candidates)}
    cars = {car.vehicle: car for car in _as_stock(model, block, frames).cars()}
    fitted = _fitted_before(model)
    rows = []
    for visit in block:
        car = cars[visit.name]
        failed = {place[key] for key in visit.failed if key in place}
        rows.append(_check(model, replace(car, failed=failed), visit, place.get(visit.part), fitted))
    return rows


def _as_stock(model: DiagnosisModel, block: list[PastVisit], frames: DiagnosisFrames) -> DiagnosisModel:
    """Put the visits where the cars in stock stand, each by itself."""
    named = pl.DataFrame(
        [(visit.job_id, visit.name) for visit in block], schema={"job_id": pl.Int64, "name": pl.String}, orient="row"
    )
    stock = named.join(frames.jobs, on="job_id").select(
        pl.col("name").alias("vehicle"), "make", pl.lit(None, pl.String).alias("model"), "line"
    )
    opened = frames.outcomes.filter(pl.col("code").is_in(model.codes)).drop("vehicle")
    opened = opened.join(named, on="job_id").rename({"name": "vehicle"})
    opened = opened.select("vehicle", "module", "code", _status_before(), "background")
    modules = frames.job_modules.join(named, on="job_id").select(pl.col("name").alias("vehicle"), "module")
    return replace(model, frames=replace(model.frames, stock=stock, open_codes=opened, open_modules=modules))


def _status_before() -> pl.Expr:
    """The status words that the cars in stock would bear: awake, stored beside awake ones, or not known."""
    stored = pl.when(others_awake()).then(pl.lit("confirmed")).otherwise(pl.lit(""))
    return pl.when("awake").then(pl.lit("active")).otherwise(stored).alias("status")


def _fitted_before(model: DiagnosisModel) -> dict[str, Counter[tuple[str, str]]]:
    """Return for each code how often each part was worked on in earlier jobs with that code before it."""
    work = model.frames.job_parts.filter(pl.col("part").is_not_null())
    with_code = model.frames.outcomes.filter(pl.col("background").is_null()).select("job_id", "code").unique()
    seen: dict[str, Counter[tuple[str, str]]] = {}
    pairs = work.select("job_id", "part", pl.col("position").fill_null("")).unique().join(with_code, on="job_id")
    for part, position, code in pairs.select("part", "position", "code").iter_rows():
        seen.setdefault(code, Counter())[part, position] += 1
    return seen


def _check(
    model: DiagnosisModel, car: Car, visit: PastVisit, truth: int | None, fitted: dict[str, Counter[tuple[str, str]]]
) -> tuple[object, ...]:
    diagnosis = model.diagnose(car)
    chance, held, if_unknown = _chance(model, car, diagnosis, visit, truth)
    order = _lines(diagnosis)
    place = next((k for k, line in enumerate(order, 1) if truth in line), None)
    kept = model.calibration, diagnosis.posterior.one_minus_max, if_unknown
    if not visit.cured:
        return visit.job_id, chance, held, place, None, None, None, *kept, None, None
    named = model.prior.named[: len(model.candidates), car.codes].sum(axis=1)
    often: Counter[tuple[str, str]] = Counter()
    for d in car.codes:
        often += fitted.get(model.codes[d], Counter())
    common = np.array([often[part.key] for part in model.candidates])
    plain = (_most(model, named), _most(model, common))
    hits = (way[:1] == [truth] for way in plain)
    costs = (_spent(diagnosis, truth), *(_spent_plainly(model, way, truth) for way in plain))
    return visit.job_id, chance, held, place, *costs, *kept, *hits


def _chance(
    model: DiagnosisModel, car: Car, diagnosis: CarDiagnosis, visit: PastVisit, truth: int | None
) -> tuple[float | None, bool | None, float | None]:
    """Return the fitted part's chance to clear what it should, whether that stayed away, and its chance if unknown."""
    if truth not in diagnosis.posterior.parts:
        return None, None, None
    i = diagnosis.posterior.parts.index(truth)
    ends = {visit.ends[model.codes[d]] for d, yes in zip(car.codes, diagnosis.posterior.clears[i], strict=True) if yes}
    held = False if "returned" in ends else True if ends and ends <= {*CLEARED} else None
    kept_for = replace(diagnosis.repair, chance=unknown_cause_profile(diagnosis.posterior.weights, passed_share(car)))
    chance, if_unknown = (min(max(chance_of(repair, i), 0.0), 1.0) for repair in (diagnosis.repair, kept_for))
    return chance, held, if_unknown


def _lines(diagnosis: CarDiagnosis) -> list[list[int]]:
    """Return the parts that each line of the list names, those that it cannot tell from its own among them."""
    parts, tied = diagnosis.posterior.parts, diagnosis.tied
    steps = [step.part for step in diagnosis.steps if step.part != RECHECK]
    return [[parts[i] for i in (step, *tied.get(step, []))] for step in steps]


def _most(model: DiagnosisModel, counts: np.ndarray) -> list[int]:
    """Return the parts with the highest counts, the cheapest of equals first."""
    order = np.lexsort((np.arange(len(counts)), model.price, -counts))[:TRIES]
    return [int(i) for i in order if counts[i] > 0]


def _spent(diagnosis: CarDiagnosis, truth: int | None) -> float:
    """Return the cents spent on the list until the right part is fitted, or the car handed over with all in vain.

    Each step costs what the plan counts for it; where a check comes first, on average over what it says.
    """
    parts, repair = diagnosis.posterior.parts, diagnosis.repair
    spent, going_on = 0.0, 1.0
    for go, _ in in_one_go(diagnosis.steps):
        right = truth in [parts[step.part] for step in go if step.part != RECHECK]
        cost = sum(step.cost for step in go)
        fitted = 1.0
        if go[0].check is not None:
            work, part = repair.jobs, go[0].part
            fitted = float(1 - work.misses[part] if right else work.false_alarms[part])
            spent += going_on * go[0].check
        spent += going_on * (sum(step.opening for step in go) + fitted * cost)
        going_on *= 1 - fitted if right else 1.0
    return spent + going_on * repair.specialist


def _spent_plainly(model: DiagnosisModel, order: list[int], truth: int | None) -> float:
    """Return the cents spent when parts are fitted straight away, one after the other, and then the car handed over."""
    tried = order[: order.index(truth) + 1] if truth in order else order
    spent = float((model.price + model.work.openings)[tried].sum())
    return spent if truth in order else spent + model.costs.specialist_cents
