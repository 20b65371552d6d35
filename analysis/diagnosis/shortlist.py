"""The list for the workshop: per car the fixes to try, in order, and when to stop.

Everything a row says is worked out here from the weighed sets of parts, the costs
and the reference tables; nothing is rounded, and a cost that is not known stays
blank and is named in the notes.
"""

from math import isnan

import numpy as np
import polars as pl

from analysis.diagnosis.decision.expected_cost import costs_to_the_end, in_one_go
from analysis.diagnosis.decision.operations import drive_cents, total_cents
from analysis.diagnosis.decision.repair_model import RECHECK, RepairModel, Step, reached
from analysis.diagnosis.decision.safety import OpenCode
from analysis.diagnosis.engine import CarDiagnosis, DiagnosisModel
from analysis.diagnosis.inference.posterior import Car, Posterior, interval
from analysis.diagnosis.inputs.candidates import Candidate
from analysis.diagnosis.inputs.frames import Costs, Shortlist
from analysis.diagnosis.unproven import Unproven, unproven_cars
from analysis.diagnosis.unseen import PastCars
from analysis.progress import each, portion
from analysis.texts import notes as say
from analysis.texts.action_text import (
    check_words,
    may_stay,
    not_proven,
    once_again,
    recheck_caution,
    recheck_how,
    waiting_caution,
    with_car,
    with_the_one_before,
)

SCHEMA: dict[str, type[pl.DataType]] = {
    **dict.fromkeys(("vehicle", "make", "model"), pl.String),
    "rank": pl.Int64,
    **dict.fromkeys(("part", "position", "action", "or_else"), pl.String),
    **dict.fromkeys(("chance", "chance_low", "chance_high"), pl.Float64),
    **dict.fromkeys(("part_cost", "labour_cost", "total_cost", "expected_cost"), pl.Float64),
    **dict.fromkeys(("clears", "leaves"), pl.String),
    **dict.fromkeys(("jobs", "jobs_cleared"), pl.Int64),
    "basis": pl.String,
    "cheap": pl.Boolean,
    **dict.fromkeys(("inspection", "caution", "check_first"), pl.String),
}
"""Columns and types, in order; money in cents, chances as fractions."""
NO_SUSPECT_SIZE = 2.0
"""The chance of a recheck on a car without a suspect is worth so many visits in its interval."""
LIKELY_FAULT = 0.25
"""A part is at fault with at least this chance before another supplier is named for it."""
GRAVE = frozenset(("ABS", "ESC", "EPB", "BBM", "EPS"))
"""Modules whose codes speak of brakes or steering."""


def shortlist(model: DiagnosisModel) -> Shortlist:
    """Return the fixes to try on every car in stock.

    Args:
        model: Fitted to the past jobs.

    Returns:
        The rows and notes.  A car with nothing but background codes gets no row; one that shows nothing since its codes
        were erased is rechecked; codes that no fault sets are left
        alone in a last row of their own.
    """
    return list_cars(model)


def list_cars(model: DiagnosisModel, vehicle: str | None = None, past: PastCars | None = None) -> Shortlist:
    """Return the fixes to try on one car or on every car.

    Args:
        model: Fitted to the past jobs.
        vehicle: List this car alone; None for every car in stock.
        past: The dealer's cars as they came in, where they are known already.
    """
    notes = [] if model.jobs or model.others else [say.NO_REPAIRS]
    notes += [say.from_others(model.jobs, model.others)] if model.others else []
    rows: list[dict[str, object]] = []
    cars = [car for car in model.cars() if vehicle in (None, car.vehicle)]
    with portion(0.0, 0.8):
        listed = _list_each(model, cars)
    for added, said in listed:
        rows += added
        notes += said
    rows += [row for car in unproven_cars(model, vehicle, past) for row in _unproven_rows(model, car)]
    asked = pl.lit(True) if vehicle is None else pl.col("vehicle") == vehicle
    notes += nothing_to_fix(model.frames.open_codes.filter(asked), {car.vehicle for car in cars})
    rows = _with_cautions_of_cars(model, rows)
    names = model.frames.stock.select("vehicle", "make", "model")
    table = pl.DataFrame(rows, schema={name: kind for name, kind in SCHEMA.items() if name not in ("make", "model")})
    return Shortlist(table.join(names, on="vehicle", how="left").select(list(SCHEMA)).sort("vehicle", "rank"), notes)


def _with_cautions_of_cars(model: DiagnosisModel, rows: list[dict[str, object]]) -> list[dict[str, object]]:
    """Add to each row what the open codes of its car ask for, those stored only and those looked past too."""
    codes: dict[object, list[OpenCode]] = {row["vehicle"]: [] for row in rows}
    table = model.frames.open_codes.sort("vehicle", "code").select("vehicle", "module", "code", "status")
    for vehicle, module, key, status in table.iter_rows():
        if vehicle in codes:
            codes[vehicle].append(OpenCode(module, key, status or ""))
    told = {vehicle: model.adviser.on_car(mine) for vehicle, mine in codes.items()}
    return [row | {"caution": with_car(str(row["caution"]), told[row["vehicle"]])} for row in rows]


def _list_each(model: DiagnosisModel, cars: list[Car]) -> list[tuple[list[dict[str, object]], list[str]]]:
    """Return the rows and notes of each car, in order; cars with the same evidence are diagnosed once."""
    alike: dict[tuple[object, ...], list[int]] = {}
    for place, car in enumerate(cars):
        alike.setdefault(car.evidence, []).append(place)
    found: list[tuple[list[dict[str, object]], list[str]]] = [([], [])] * len(cars)
    for places in each(alike.values()):
        first = cars[places[0]].vehicle
        rows, notes = _list_car(model, cars[places[0]])
        for place in places:
            mine = cars[place].vehicle
            said = [f"{mine}: {note.removeprefix(f'{first}: ')}" for note in notes]
            found[place] = [row | {"vehicle": mine} for row in rows], said
    return found


def _list_car(model: DiagnosisModel, car: Car) -> tuple[list[dict[str, object]], list[str]]:
    diagnosis = model.diagnose(car)
    posterior, repair, steps, groups = diagnosis.posterior, diagnosis.repair, diagnosis.steps, diagnosis.tied
    notes = (
        _car_notes(model, car, posterior, repair)
        + _work_notes(model, car, diagnosis)
        + _why_none(model, car, posterior, repair, steps)
    )
    ends = costs_to_the_end(repair, steps)
    rows = [
        _row(model, car, diagnosis, number, groups.get(step.part, [])) | {"expected_cost": ends[number]}
        for number, step in enumerate(steps)
    ]
    goes = repair.scope | model.grave[car.codes]
    must, may = ([d for d, yes in zip(car.codes, goes == kind, strict=True) if yes] for kind in (True, False))
    if must:
        row = specialist_row(model.costs, [model.codes[d] for d in must])
        rows.append(row | _inspection(model, [model.places[d] for d in must]))
    if may:
        stays = [model.codes[d] for d in may if model.may_stay[d]]
        row = leave_row([model.codes[d] for d in may], stays)
        rows.append(row | _inspection(model, [model.places[d] for d in may]))
    return [{"vehicle": car.vehicle, "rank": k} | row for k, row in enumerate(rows, start=1)], notes


def _unproven_rows(model: DiagnosisModel, car: Unproven) -> list[dict[str, object]]:
    """Return the rows of a car that shows nothing since its codes were erased: it is not proven yet, or one is back."""
    places = [place for code, place in zip(model.codes, model.places, strict=True) if code in car.codes]
    tell, bounds = model.costs.formatter.distance, interval(car.chance, NO_SUSPECT_SIZE)
    grave = any(module in GRAVE for module, _ in places)
    row = recheck_row(model.costs, (car.chance, *bounds), list(car.codes), [], grave)
    words = {"check_first": not_proven(tell(car.km), tell(car.more_km), car.done), "caution": waiting_caution(grave)}
    cost = drive_cents(model.costs) + (1 - car.chance) * model.costs.specialist_cents
    rows = [row | words | {"expected_cost": cost}, specialist_row(model.costs, list(car.codes))]
    named = {"vehicle": car.vehicle} | _inspection(model, places)
    return [row | named | {"rank": rank} for rank, row in enumerate(rows, start=1)]


def _inspection(model: DiagnosisModel, places: list[tuple[str, str]]) -> dict[str, object]:
    return {"inspection": model.adviser.item(places)}


def _recheck(model: DiagnosisModel, car: Car, diagnosis: CarDiagnosis, chance: float) -> dict[str, object]:
    must = [d for d, yes in zip(car.codes, diagnosis.repair.scope, strict=True) if yes]
    grave = any(module in GRAVE for module, _ in (model.places[d] for d in car.codes))
    low, high = interval(chance, float(min(diagnosis.posterior.effective_sample_size, default=NO_SUSPECT_SIZE)))
    left = [model.codes[d] for d in car.codes if d not in must]
    row = recheck_row(model.costs, (chance, low, high), [model.codes[d] for d in must], left, grave)
    if not diagnosis.explained:
        row |= {"check_first": recheck_how(model.costs.formatter.distance(model.costs.road_test_km), unknown=True)}
    return row | _inspection(model, [model.places[d] for d in must])


def _row(model: DiagnosisModel, car: Car, diagnosis: CarDiagnosis, number: int, ties: list[int]) -> dict[str, object]:
    step = diagnosis.steps[number]
    if step.part == RECHECK:
        return _recheck(model, car, diagnosis, step.chance)
    i, posterior = step.part, diagnosis.posterior
    candidate = model.candidates[posterior.parts[i]]
    mine = [d for d, yes in zip(car.codes, posterior.clears[i], strict=True) if yes]
    spoken = [" ".join(sorted(w.thing | w.place)) for w in candidate.wordings]
    home = _home(model, posterior.parts[i])
    advice = model.adviser.advise(candidate.part, spoken, home, [model.places[d] for d in mine])
    jobs, cleared = model.past.single_jobs(candidate.key, {model.codes[d] for d in mine})
    low, high = interval(step.chance, float(posterior.effective_sample_size[i]))
    costs = money(candidate, model.costs, step.opening)
    total = costs["total_cost"]
    return costs | {
        "part": candidate.part,
        "position": candidate.position,
        "action": candidate.action,
        "or_else": ";".join(model.candidates[posterior.parts[j]].label for j in ties),
        "chance": step.chance,
        "chance_low": low,
        "chance_high": high,
        "clears": ";".join(sorted(model.codes[d] for d in mine)),
        "leaves": ";".join(sorted(model.codes[d] for d in car.codes if d not in mine)),
        "jobs": jobs,
        "jobs_cleared": cleared,
        "basis": _basis(model, car.make, posterior.parts[i], mine, jobs),
        "cheap": isinstance(total, float) and total <= model.costs.cheap_limit_cents,
        "inspection": advice.inspection,
        "caution": advice.caution,
        "check_first": _before(model, diagnosis, number, advice.check_first),
    }


def _before(model: DiagnosisModel, diagnosis: CarDiagnosis, number: int, how: str) -> str:
    """Say what goes before a fit: the part that it goes along with, the check that pays, and how to check."""
    step, parts = diagnosis.steps[number], diagnosis.posterior.parts
    if step.along:
        return with_the_one_before(model.candidates[parts[diagnosis.steps[number - 1].part]].label, how)
    if any(one.part == step.part for one in diagnosis.steps[:number]):
        how = once_again(model.candidates[parts[step.part]].action, how)
    return check_words(None if step.check is None else model.candidates[parts[step.part]].check_minutes, how)


def _home(model: DiagnosisModel, part: int) -> str:
    """The one module whose own codes name the part, blank where none or several do."""
    own = model.prior.named[part] & ~model.network
    homes = {model.places[d][0] for d in np.flatnonzero(own)}
    return homes.pop() if len(homes) == 1 else ""


def _basis(model: DiagnosisModel, make: int, part: int, clears: list[int], jobs: int) -> str:
    """What most of the codes' pull comes from: own repairs, the company codes keep, or their texts."""
    parameters = model.parameters.at(make)
    pull = np.log1p(parameters.link[part, clears] / parameters.leak[clears])
    believed = model.prior.link[part, clears] * model.prior.visits[part, clears]
    taught = parameters.learned[part, clears] >= np.maximum(believed, 0.5)
    if pull[taught].sum() >= pull.sum() / 2:
        return "repairs" if jobs else "pattern"
    return "pattern" if model.prior.pattern[part, clears][~taught].all() else "code"


def _car_notes(model: DiagnosisModel, car: Car, posterior: Posterior, repair: RepairModel) -> list[str]:
    nobodys = repair.scope & ~posterior.explained
    unexplained = [model.codes[d] for d, yes in zip(car.codes, nobodys, strict=True) if yes]
    parts = [model.candidates[i] for i in posterior.parts]
    about_costs = cost_remarks(
        car.vehicle, parts, model.costs.formatter.money(model.assumed / 100), bool(np.isfinite(model.total).any())
    )
    stored = past_remarks(car.vehicle, [model.codes[d] for d in car.past])
    about_costs += _supplier_notes(model, car, posterior)
    return code_remarks(car.vehicle, unexplained, bool(posterior.explained.any())) + stored + about_costs


def _supplier_notes(model: DiagnosisModel, car: Car, posterior: Posterior) -> list[str]:
    """Name, for each likely part, another supplier whose parts clearly cured more often."""
    told, chance = model.parameters, posterior.weights.faulty()[0]
    return [
        say.better_supplier(
            car.vehicle,
            model.candidates[part].label,
            told.better[part],
            1 - float(told.bad_better[part]),
            1 - float(told.bad_today[part]),
        )
        for part, likely in zip(posterior.parts, chance, strict=False)
        if likely >= LIKELY_FAULT and told.better and told.better[part]
    ]


def _work_notes(model: DiagnosisModel, car: Car, diagnosis: CarDiagnosis) -> list[str]:
    """Say what is counted once for several parts, and what was renewed that nobody has looked at since."""
    named = [model.candidates[i] for i in diagnosis.posterior.parts]
    notes = renewed_remarks(car.vehicle, [named[i].label for i in diagnosis.repair.renewed])
    for go, _ in in_one_go(diagnosis.steps):
        if go[0].opening:
            minutes = go[0].opening / model.costs.labour_rate_cents * 60
            more = [named[step.part].label for step in go[1:]]
            notes.append(opening_remark(car.vehicle, named[go[0].part], minutes, more))
    return notes


def _why_none(
    model: DiagnosisModel, car: Car, posterior: Posterior, repair: RepairModel, steps: list[Step]
) -> list[str]:
    """Say why a car with suspects goes to the specialist without a part, a recheck before him counted."""
    if any(step.part != RECHECK for step in steps) or not posterior.parts or not repair.scope.any():
        return []
    called = reached(repair, [RECHECK], repair.after(steps))
    still = [np.minimum(reached(repair, [RECHECK], repair.after([i])), called) for i in range(len(posterior.parts))]
    settled = 1 - np.array(still) @ repair.chance / (called @ repair.chance)
    cost = repair.cost + repair.jobs.openings
    best = int(np.argmax(np.round(settled / np.maximum(cost, 1e-9), 15)))
    price, part = cost[best] / 100, model.candidates[posterior.parts[best]].label
    money = model.costs.formatter.money
    specialist, left = repair.specialist / 100, 1 - float(settled[best])
    total = round(price + left * specialist)
    costs = {"specialist": money(specialist), "price": money(price), "total": money(total)}
    return [say.handed_over(car.vehicle, part=part, left=left, untold=total < round(specialist), **costs)]


def money(candidate: Candidate, costs: Costs, opening: float = 0.0) -> dict[str, object]:
    """Return the three costs of a part in cents, None where not known.

    Args:
        candidate: The part.
        costs: For the price of labour.
        opening: Cents of labour for what must come off first, 0 where that is off already.
    """
    labour, total = candidate.labour_minutes, total_cents(candidate, costs)
    return {
        "part_cost": candidate.part_cents,
        "labour_cost": None if labour is None else labour / 60 * costs.labour_rate_cents + opening,
        "total_cost": None if isnan(total) else total + opening,
    }


def recheck_row(
    costs: Costs, chance: tuple[float, float, float], codes: list[str], leaves: list[str], grave: bool
) -> dict[str, object]:
    """Return the row that says: record, erase, drive, scan again.

    Args:
        costs: For the distance to drive, and labour.
        chance: Chance that the codes stay away, and its interval.
        codes: Keys of the open codes that have to stay away.
        leaves: Keys of the others, which may come back.
        grave: Whether a brake or steering warning is on.

    Returns:
        The row without vehicle, rank, inspection and expected cost.
    """
    drive = drive_cents(costs)
    return _bare("recheck", chance, codes) | {
        "leaves": ";".join(sorted(leaves)),
        "labour_cost": drive,
        "total_cost": drive,
        "cheap": drive <= costs.cheap_limit_cents,
        "caution": recheck_caution(grave),
        "check_first": recheck_how(costs.formatter.distance(costs.road_test_km)),
    }


def specialist_row(costs: Costs, codes: list[str]) -> dict[str, object]:
    """Return the row that hands the car over, flat and all in: the price is until it is fixed, so its chance is 1.

    Args:
        costs: For the price.
        codes: Keys of the car's open codes that have to go.

    Returns:
        The row without vehicle, rank and inspection.
    """
    price = float(costs.specialist_cents)
    return _bare("specialist", (1.0, 1.0, 1.0), codes) | {
        "total_cost": price,
        "expected_cost": price,
        "cheap": price <= costs.cheap_limit_cents,
    }


def leave_row(codes: list[str], stays: list[str]) -> dict[str, object]:
    """Return the row that leaves codes alone which no fault sets, or which may stay: nothing to fit, nothing to pay.

    Args:
        codes: Their keys.
        stays: Keys of those among them that a fault may have set and the dealer does not ask to be gone.

    Returns:
        The row without vehicle, rank and inspection; it clears nothing, so it has no chance.
    """
    free = {"total_cost": 0.0, "expected_cost": 0.0, "cheap": True}
    told = {"leaves": ";".join(sorted(codes)), "check_first": may_stay(sorted(stays)) if stays else ""}
    return _bare("leave", None, []) | free | told


def _bare(action: str, chance: tuple[float, float, float] | None, codes: list[str]) -> dict[str, object]:
    texts = dict.fromkeys(("part", "position", "or_else", "leaves", "caution", "check_first"), "")
    named = ("chance", "chance_low", "chance_high")
    numbers: dict[str, object] = dict(zip(named, chance or (None, None, None), strict=True))
    costs = dict.fromkeys(("part_cost", "labour_cost"))
    clears = {"action": action, "clears": ";".join(sorted(codes)), "basis": "code"}
    return texts | numbers | costs | clears | {"jobs": 0, "jobs_cleared": 0}


def code_remarks(vehicle: str, unexplained: list[str], some_are: bool) -> list[str]:
    """Name the codes that have to go and that no known part explains.

    Args:
        vehicle: Stock number.
        unexplained: Their keys.
        some_are: Whether any other code of the car is explained.

    Returns:
        One sentence, or none.
    """
    if not unexplained:
        return []
    return [(say.unexplained if some_are else say.nothing_explains)(vehicle, sorted(unexplained))]


def past_remarks(vehicle: str, stored: list[str]) -> list[str]:
    """Name the codes that are stored only beside others that are not, and so stand in no row.

    Args:
        vehicle: Stock number.
        stored: Their keys.

    Returns:
        One sentence, or none.
    """
    return [say.mostly_past(vehicle, sorted(stored))] if stored else []


def cost_remarks(vehicle: str, parts: list[Candidate], assumed: str, some_known: bool) -> list[str]:
    """Name the parts whose price or labour is not known, and what was taken instead.

    Args:
        vehicle: Stock number.
        parts: The suspects of the diagnosis.
        assumed: Money that stands for a price that is not known.
        some_known: Whether any part has a known cost; else a share of the specialist's price was assumed.

    Returns:
        At most two sentences.
    """
    blank = sorted(part.label for part in parts if part.part_cents is None)
    bare = sorted(part.label for part in parts if part.part_cents is not None and part.labour_minutes is None)
    notes = [say.no_cost(vehicle, blank, assumed, some_known)] if blank else []
    return [*notes, say.no_labour(vehicle, bare)] if bare else notes


def opening_remark(vehicle: str, part: Candidate, minutes: float, others: list[str]) -> str:
    """Say what must come off first, and for which other parts that is not counted again.

    Args:
        vehicle: Stock number.
        part: The part that it is counted with.
        minutes: What it takes, off and on.
        others: Labels of later parts behind the same opening.
    """
    return say.opening(vehicle, part.opening, minutes, part.label, others)


def renewed_remarks(vehicle: str, parts: list[str]) -> list[str]:
    """Name the parts that were renewed and not looked at since, while the codes from before are all that is known.

    Args:
        vehicle: Stock number.
        parts: Their labels.

    Returns:
        One sentence, or none.
    """
    return [say.renewed(vehicle, sorted(parts))] if parts else []


def nothing_to_fix(open_codes: pl.DataFrame, listed: set[str]) -> list[str]:
    """Name the cars whose open codes are background only.

    Args:
        open_codes: The frame ``marts.open_codes``.
        listed: Cars that have rows on the list.

    Returns:
        One sentence on all of them, or none.
    """
    masked = open_codes.filter(pl.col("background").is_not_null())["vehicle"].unique().sort().to_list()
    unlisted = [vehicle for vehicle in masked if vehicle not in listed]
    return [say.nothing_to_fix(unlisted)] if unlisted else []
