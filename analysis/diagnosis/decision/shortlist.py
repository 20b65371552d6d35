"""The list for the workshop: per car the fixes to try, in order, and when to stop.

Everything a row says is worked out here from the weighed sets of parts, the costs
and the reference tables; nothing is rounded, and a cost that is not known stays
blank and is named in the notes.
"""

import numpy as np
import polars as pl

from analysis.diagnosis.decision.car_notes import (
    code_remarks,
    cost_remarks,
    nothing_to_fix,
    opening_remark,
    renewed_remarks,
)
from analysis.diagnosis.decision.policy import RECHECK, Step, World, costs_to_the_end, reached
from analysis.diagnosis.decision.rows import SCHEMA, money, recheck_row, specialist_row
from analysis.diagnosis.engine import Scales, Weighed, set_up, weigh_car
from analysis.diagnosis.inference.posterior import Car, View, interval
from analysis.diagnosis.inputs.frames import Costs, DiagnosisFrames, Shortlist
from analysis.evidence import Evidence
from analysis.mining import Findings
from analysis.texts import notes as say
from analysis.texts.action_text import check_words

GRAVE = frozenset(("ABS", "ESC", "EPB", "BBM", "EPS"))
"""Modules whose codes mean a brake or steering warning."""


def shortlist(
    frames: DiagnosisFrames, evidence: Evidence, findings: Findings, costs: Costs, reserve: float | None = None
) -> Shortlist:
    """Return the fixes to try on every car in stock.

    Args:
        frames: The facts about cars, past jobs, parts and codes, and the reference tables.
        evidence: What ``weigh`` drew from the same past jobs.
        findings: What mining found; its families tie codes to parts that the texts do not.
        costs: What work costs here.
        reserve: Share of the doubt to keep back of every chance, as ``backtest`` learned it; None for the usual one.

    Returns:
        The rows and notes.  A car with nothing but background codes gets no row; a car whose codes no known
        part explains gets the specialist alone.
    """
    return list_cars(set_up(frames, evidence, findings.families, costs, reserve))


def list_cars(scales: Scales, vehicle: str | None = None) -> Shortlist:
    """Return the fixes to try, with the scales made ready before.

    Args:
        scales: What all cars share.
        vehicle: List this car alone; None for every car in stock.
    """
    notes = _general_notes(scales)
    rows: list[dict[str, object]] = []
    cars = [car for car in scales.cars() if vehicle in (None, car.vehicle)]
    for car in cars:
        added, said = _list_car(scales, car)
        rows += added
        notes += said
    asked = pl.lit(True) if vehicle is None else pl.col("vehicle") == vehicle
    notes += nothing_to_fix(scales.frames.open_codes.filter(asked), {car.vehicle for car in cars})
    names = scales.frames.stock.select("vehicle", "make", "model")
    table = pl.DataFrame(rows, schema={name: kind for name, kind in SCHEMA.items() if name not in ("make", "model")})
    return Shortlist(table.join(names, on="vehicle", how="left").select(list(SCHEMA)).sort("vehicle", "rank"), notes)


def _general_notes(scales: Scales) -> list[str]:
    if not scales.visits:
        return [say.NO_REPAIRS]
    return []


def _list_car(scales: Scales, car: Car) -> tuple[list[dict[str, object]], list[str]]:
    weighed = weigh_car(scales, car)
    view, world, steps, groups = weighed.view, weighed.world, weighed.steps, weighed.tied
    notes = (
        _car_notes(scales, car, view) + _work_notes(scales, car, weighed) + _why_none(scales, car, view, world, steps)
    )
    ends = costs_to_the_end(world, steps)
    rows = [
        _row(scales, car, view, step, groups.get(step.part, [])) | {"expected_cost": end}
        for step, end in zip(steps, ends, strict=False)
    ]
    places = [scales.places[d] for d in car.codes]
    rows.append(specialist_row(scales.costs, [scales.codes[d] for d in car.codes]) | _inspection(scales, places))
    return [{"vehicle": car.vehicle, "rank": k} | row for k, row in enumerate(rows, start=1)], notes


def _inspection(scales: Scales, places: list[tuple[str, str]]) -> dict[str, object]:
    return {"inspection": scales.adviser.item(places)}


def _recheck(scales: Scales, car: Car, view: View, chance: float) -> dict[str, object]:
    told = [d for d, yes in zip(car.codes, view.explained, strict=True) if yes]
    places = [scales.places[d] for d in told]
    grave = any(module in GRAVE for module, _ in (scales.places[d] for d in car.codes))
    low, high = interval(chance, float(view.worth.min()))
    left = [scales.codes[d] for d in car.codes if d not in told]
    row = recheck_row(scales.costs, (chance, low, high), [scales.codes[d] for d in told], left, grave)
    return row | _inspection(scales, places)


def _row(scales: Scales, car: Car, view: View, step: Step, ties: list[int]) -> dict[str, object]:
    if step.part == RECHECK:
        return _recheck(scales, car, view, step.chance)
    i = step.part
    candidate = scales.candidates[view.parts[i]]
    mine = [d for d, yes in zip(car.codes, view.clears[i], strict=True) if yes]
    spoken = [" ".join(sorted(w.thing | w.place)) for w in candidate.wordings]
    home = _home(scales, view.parts[i])
    advice = scales.adviser.advise(candidate.part, spoken, home, [scales.places[d] for d in mine])
    jobs, cleared = scales.past.single_jobs(candidate.key, {scales.codes[d] for d in mine})
    low, high = interval(step.chance, float(view.worth[i]))
    costs = money(candidate, scales.costs, step.opening)
    total = costs["total_cost"]
    return costs | {
        "part": candidate.part,
        "position": candidate.position,
        "action": candidate.action,
        "or_else": ";".join(scales.candidates[view.parts[j]].label for j in ties),
        "chance": step.chance,
        "chance_low": low,
        "chance_high": high,
        "clears": ";".join(sorted(scales.codes[d] for d in mine)),
        "leaves": ";".join(sorted(scales.codes[d] for d in car.codes if d not in mine)),
        "jobs": jobs,
        "jobs_cleared": cleared,
        "basis": _basis(scales, view.parts[i], mine, jobs),
        "cheap": isinstance(total, float) and total <= scales.costs.cheap_limit_cents,
        "inspection": advice.inspection,
        "caution": advice.caution,
        "check_first": check_words(None if step.check is None else candidate.check_minutes, advice.check_first),
    }


def _home(scales: Scales, part: int) -> str:
    """The one module whose own codes name the part, blank where none or several do."""
    own = scales.prior.named[part] & ~scales.network
    homes = {scales.places[d][0] for d in np.flatnonzero(own)}
    return homes.pop() if len(homes) == 1 else ""


def _basis(scales: Scales, part: int, clears: list[int], jobs: int) -> str:
    """What most of the codes' pull comes from: own repairs, the company codes keep, or their texts."""
    pull = np.log1p(scales.knowledge.link[part, clears] / scales.knowledge.leak[clears])
    believed = scales.prior.link[part, clears] * scales.prior.visits[part, clears]
    taught = scales.knowledge.learned[part, clears] >= np.maximum(believed, 0.5)
    if pull[taught].sum() >= pull.sum() / 2:
        return "repairs" if jobs else "pattern"
    return "pattern" if scales.prior.pattern[part, clears][~taught].all() else "code"


def _car_notes(scales: Scales, car: Car, view: View) -> list[str]:
    unexplained = [scales.codes[d] for d, told in zip(car.codes, view.explained, strict=True) if not told]
    parts = [scales.candidates[i] for i in view.parts]
    about_costs = cost_remarks(
        car.vehicle, parts, scales.costs.formatter.money(scales.assumed / 100), bool(np.isfinite(scales.total).any())
    )
    return code_remarks(car.vehicle, unexplained, bool(view.explained.any())) + about_costs


def _work_notes(scales: Scales, car: Car, weighed: Weighed) -> list[str]:
    """Say what is counted once for several parts, and what was renewed that nobody has looked at since."""
    named = [scales.candidates[i] for i in weighed.view.parts]
    fits = [step for step in weighed.steps if step.part != RECHECK]
    notes = renewed_remarks(car.vehicle, [named[i].label for i in weighed.world.renewed])
    for step in fits:
        behind = weighed.world.jobs.opening
        more = [named[other.part].label for other in fits if behind[other.part] == behind[step.part] and other != step]
        if step.opening:
            minutes = step.opening / scales.costs.labour_rate_cents * 60
            notes.append(opening_remark(car.vehicle, named[step.part], minutes, more))
    return notes


def _why_none(scales: Scales, car: Car, view: View, world: World, steps: list[Step]) -> list[str]:
    """Say why a car with suspects goes straight to the specialist."""
    if steps or not view.parts:
        return []
    settled = np.array([1 - world.chance @ reached(world, RECHECK, [i]) for i in range(len(view.parts))])
    cost = world.cost + world.jobs.openings
    best = int(np.argmax(np.round(settled / np.maximum(cost, 1e-9), 15)))
    price, part = cost[best] / 100, scales.candidates[view.parts[best]].label
    money = scales.costs.formatter.money
    specialist, left = world.specialist / 100, 1 - float(settled[best])
    costs = {"specialist": money(specialist), "price": money(price), "total": money(round(price + left * specialist))}
    return [say.handed_over(car.vehicle, part=part, left=left, **costs)]
