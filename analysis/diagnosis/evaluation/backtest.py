"""How well would the list have done on the visits that are past?

Every past visit with a single part and a known outcome is put before the list as if
it stood on the lift today, and the list may use earlier visits only.  Learning anew
before each visit would be slow, so it is done at a few cut points in time and serves
the visits up to the next.  Families are left out, for they are found in all scans,
later ones too; an earlier visit counts with what is known of its outcome today.  What other
dealers' sets teach is used as the list uses it, each set as far as the earlier visits speak for it.

Places on the list and costs are judged where the part that was fitted cleared the codes.
The chance of the first line is judged wherever the end tells whether its part was it: it
was fitted, then or at a later attempt, or the codes went without it.  Such promises
teach how far the chances are to be believed; each is shown as the promises on all other
faults would have made it, so that the check does not flatter itself.
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
import polars as pl

from analysis.diagnosis.decision.expected_cost import in_one_go
from analysis.diagnosis.decision.repair_model import RECHECK
from analysis.diagnosis.engine import CarDiagnosis, DiagnosisModel, fit
from analysis.diagnosis.evaluation.holdout import (
    PastVisit,
    attempts,
    known_before,
    promise_kept,
    promise_log_ratio,
    visits_to_check,
)
from analysis.diagnosis.evaluation.metrics import (
    against_rules,
    reliability,
    sharpness,
    summarise,
    trust,
    unknown_cause,
)
from analysis.diagnosis.inference.calibration import (
    SHARPNESSES,
    Calibration,
    Promises,
    learned_calibration,
    left_out_chances,
)
from analysis.diagnosis.inference.posterior import Car, as_sharp_as, passed_share, unknown_cause_profile
from analysis.diagnosis.inputs.frames import Costs, DiagnosisFrames
from analysis.diagnosis.inputs.training_data import others_awake
from analysis.diagnosis.learning.elsewhere import Elsewhere
from analysis.diagnosis.model.noisy_or import Floats
from analysis.progress import each, portion

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
    | dict.fromkeys(("named_first", "fitted_first"), pl.Boolean)
)
Row = tuple[object, ...]


@dataclass(frozen=True, kw_only=True)
class _Promise:
    """What the first line of one visit promised, a row of ``Promises``; ``held`` is None where no end is proven."""

    chance: Floats
    one_minus_max: Floats
    if_unknown: float
    log_ratio: float
    held: bool | None
    fault: int


@dataclass(frozen=True, kw_only=True)
class Backtest:
    """What came of it.

    Attributes:
        summary: One row: n (visits whose part cleared the codes), top1, top3 (shares of them), judged (visits
            whose first chance was put to the test), brier, cost_vs_named, cost_vs_fitted (the list's cost over the
            rule's; null where n is 0), cuts, reserve (the calibration's share, as the outgoing table names it).
        reliability: One row per tenth with visits: tenth (1 to 10), predicted, observed, low, high (90 %), n.
        predictions: One row per visit: job_id, chance (of the first line, as the promises on all other faults make it;
            null where the list has none or where it is not known what became of it), held (what it should
            clear went; null where unknown), place (of the line that names the part that was fitted, rechecks not
            counted, null where none does), cost, cost_named, cost_fitted (cents until it was fitted or handed over;
            null where the part did not clear the codes), named_first and fitted_first (the plain rules would have
            tried the right part first).
        calibration: How far chances are believed from now on.
        notes: Plain sentences for the report.
    """

    summary: pl.DataFrame
    reliability: pl.DataFrame
    predictions: pl.DataFrame
    calibration: Calibration
    notes: list[str]


def cut_moments(frames: DiagnosisFrames, cuts: int = CUTS) -> list[datetime]:
    """Return the moments at which the past is learned from anew, earliest first; none with no visit to check.

    Args:
        frames: The facts about past jobs.
        cuts: How often; visits on either side of a cut differ in time.
    """
    times = [visit.done_at for visit in visits_to_check(frames)[-CHECKED:]]
    return sorted({times[k * len(times) // cuts] for k in range(cuts)}) if times else []


def backtest(
    frames: DiagnosisFrames,
    costs: Costs,
    cuts: int = CUTS,
    elsewhere: Mapping[datetime | None, Elsewhere] | None = None,
) -> Backtest:
    """Predict the past visits, each from earlier ones only.

    Args:
        frames: The facts about past jobs, parts and codes; the cars in stock are not looked at.
        costs: What work costs here.
        cuts: How often is learned anew.
        elsewhere: What other dealers' jobs teach, as far as was known at each of ``cut_moments``, and today.

    Returns:
        The result; with no visit to check, empty frames and a sentence that says so.
    """
    every = visits_to_check(frames)
    after, visits = attempts(every), every[-CHECKED:]
    starts, told_elsewhere = cut_moments(frames, cuts), elsewhere or {}
    rows: list[Row] = []
    made: list[tuple[int, _Promise]] = []
    for start, end in each([*zip(starts, [*starts, None][1:], strict=True)]):
        block = [visit for visit in visits if visit.done_at >= start and (end is None or visit.done_at < end)]
        with portion(0.0, 0.5):
            model = _model_before(frames, costs, start, told_elsewhere.get(start))
        with portion(0.5, 1.0):
            checked = _check_block(model, block, frames, after)
        for row, promise in checked:
            rows.append(row)
            if promise is not None:
                made.append((len(rows) - 1, promise))
    today = told_elsewhere.get(None)
    promises = _promises([promise for _, promise in made])
    taught = _taught(frames) + (round(today.jobs) if today else 0)
    calibration = learned_calibration(promises, taught)
    told = {
        k: (chance, promise.held)
        for (k, promise), chance in zip(made, left_out_chances(promises, taught).tolist(), strict=True)
    }
    predictions = pl.DataFrame(
        [(row[0], *told.get(k, (None, None)), *row[1:]) for k, row in enumerate(rows)], schema=PREDICTIONS, orient="row"
    ).sort("job_id")
    summary = summarise(predictions, len(starts)).with_columns(pl.lit(calibration.share).alias("reserve"))
    judged = int(summary["judged"][0])
    notes = [trust(summary), *against_rules(predictions), *sharpness(calibration, judged)]
    notes.append(unknown_cause(calibration.share, judged))
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


def _model_before(
    frames: DiagnosisFrames, costs: Costs, start: datetime, elsewhere: Elsewhere | None
) -> DiagnosisModel:
    earlier = known_before(frames, start, LEARN_FROM)
    none = pl.DataFrame(schema={"codes": pl.List(pl.String), "root": pl.String})
    return fit(earlier, none, costs, elsewhere=elsewhere)


def _promises(made: list[_Promise]) -> Promises:
    rows = len(made)
    return Promises(
        chance=np.array([one.chance for one in made]).reshape(rows, len(SHARPNESSES)),
        one_minus_max=np.array([one.one_minus_max for one in made]).reshape(rows, len(SHARPNESSES)),
        if_unknown=np.array([one.if_unknown for one in made], dtype=float),
        log_ratio=np.array([one.log_ratio for one in made], dtype=float),
        fault=np.array([one.fault for one in made], dtype=np.int64),
    )


def _check_block(
    model: DiagnosisModel, block: list[PastVisit], frames: DiagnosisFrames, after: dict[int, list[PastVisit]]
) -> list[tuple[Row, _Promise | None]]:
    place = {part.key: i for i, part in enumerate(model.candidates)}
    cars = {car.vehicle: car for car in _as_stock(model, block, frames).cars()}
    fitted = _fitted_before(model)
    told = []
    for visit in each(block):
        failed = {place[key] for key in visit.failed if key in place}
        car = replace(cars[visit.name], failed=failed)
        diagnosis = model.diagnose(car)
        row = _check(model, car, diagnosis, (visit, place.get(visit.part)), fitted)
        told.append((row, _promise(model, car, diagnosis, after[visit.job_id])))
    return told


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
    model: DiagnosisModel,
    car: Car,
    diagnosis: CarDiagnosis,
    what: tuple[PastVisit, int | None],
    fitted: dict[str, Counter[tuple[str, str]]],
) -> Row:
    """Return a row of the predictions, all but what was promised and held, for a visit and the part fitted."""
    visit, truth = what
    order = _lines(diagnosis)
    place = next((k for k, line in enumerate(order, 1) if truth in line), None)
    if not visit.cured:
        return visit.job_id, place, None, None, None, None, None
    named = model.prior.named[: len(model.candidates), car.codes].sum(axis=1)
    often: Counter[tuple[str, str]] = Counter()
    for d in car.codes:
        often += fitted.get(model.codes[d], Counter())
    common = np.array([often[part.key] for part in model.candidates])
    plain = (_most(model, named), _most(model, common))
    hits = (way[:1] == [truth] for way in plain)
    costs = (_spent(diagnosis, truth), *(_spent_plainly(model, way, truth) for way in plain))
    return visit.job_id, place, *costs, *hits


def _promise(model: DiagnosisModel, car: Car, diagnosis: CarDiagnosis, visits: list[PastVisit]) -> _Promise | None:
    """Return what the first line that fits a part promises, were it tried first, under every sharpness."""
    posterior, repair = diagnosis.posterior, diagnosis.repair
    first = next((step.part for step in diagnosis.steps if step.part != RECHECK), None)
    if first is None:
        return None
    codes = {model.codes[d] for d, yes in zip(car.codes, posterior.clears[first], strict=True) if yes}
    # The chance of a first step is the mean over the sets of faults of how often it clears what it should.
    clears = (repair.left(repair.after([first])) * repair.goes[first]).sum(axis=1)
    ways, left = as_sharp_as(posterior.bare, car, model.parameters, len(posterior.parts), SHARPNESSES)
    profile = unknown_cause_profile(posterior.bare, passed_share(car))
    promised = model.candidates[posterior.parts[first]].key, codes, visits
    return _Promise(
        chance=ways.chance.sum(axis=1) @ clears,
        one_minus_max=left,
        if_unknown=float(profile @ clears),
        log_ratio=promise_log_ratio(*promised),
        held=promise_kept(*promised),
        fault=visits[-1].job_id,
    )


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
