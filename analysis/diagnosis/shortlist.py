"""The list for the workshop: per car the fixes to try, in order, and when to stop.

Everything a row says is worked out here from the weighed sets of parts, the costs
and the reference tables; nothing is rounded, and a cost that is not known stays
blank and is named in the notes.
"""

from dataclasses import dataclass
from statistics import median

import numpy as np
import polars as pl

from analysis.diagnosis.candidates import Candidate, list_candidates
from analysis.diagnosis.car import Car, View, interval, look_at, world_of
from analysis.diagnosis.frames import Costs, DiagnosisFrames, Shortlist
from analysis.diagnosis.knowledge import Knowledge
from analysis.diagnosis.learning import learn
from analysis.diagnosis.noisy_or import Bools, Floats
from analysis.diagnosis.past import PastJobs
from analysis.diagnosis.priors import Prior, text_priors
from analysis.diagnosis.rows import SCHEMA, recheck_row, specialist_row
from analysis.diagnosis.safety import Adviser
from analysis.diagnosis.stock import cars_in_stock
from analysis.diagnosis.troubleshooting import RECHECK, Step, World, chance_of, costs_to_the_end, plan
from analysis.diagnosis.visits import gather_visits
from analysis.evidence import Evidence
from analysis.mining import Findings

RECHECK_FROM = 0.25
TIE = 0.05
"""Two parts whose chances differ by less than this share, for the same codes, cannot be told apart."""


@dataclass(frozen=True)
class Desk:
    """Everything that the rows of all cars share."""

    frames: DiagnosisFrames
    costs: Costs
    candidates: list[Candidate]
    prior: Prior
    knowledge: Knowledge
    past: PastJobs
    adviser: Adviser
    total: Floats
    assumed: float
    codes: list[str]
    places: list[tuple[str, str]]


def shortlist(frames: DiagnosisFrames, evidence: Evidence, findings: Findings, costs: Costs) -> Shortlist:
    """Return the fixes to try on every car in stock.

    Args:
        frames: The facts about cars, past jobs, parts and codes, and the reference tables.
        evidence: What ``weigh`` drew from the same past jobs.
        findings: What mining found; its families tie codes to parts that the texts do not.
        costs: What work costs here.

    Returns:
        The rows and notes.  A car with nothing but background codes gets no row; a car whose codes no known
        part explains gets the specialist alone.
    """
    desk, notes = _prepare(frames, evidence, findings.families, costs)
    rows: list[dict[str, object]] = []
    cars = cars_in_stock(desk.frames, desk.candidates, desk.knowledge)
    for car in cars:
        added, said = _list_car(desk, car)
        rows += added
        notes += said
    notes += _nothing_to_fix(frames, {car.vehicle for car in cars})
    names = frames.stock.select("vehicle", "make", "model")
    table = pl.DataFrame(rows, schema={name: kind for name, kind in SCHEMA.items() if name not in ("make", "model")})
    return Shortlist(table.join(names, on="vehicle", how="left").select(list(SCHEMA)).sort("vehicle", "rank"), notes)


def _prepare(
    frames: DiagnosisFrames, evidence: Evidence, families: pl.DataFrame, costs: Costs
) -> tuple[Desk, list[str]]:
    frames = _in_order(frames)
    candidates = list_candidates(frames)
    prior = text_priors(candidates, frames.codes, families)
    visits = gather_visits(frames, candidates, evidence)
    total = np.array([_total(candidate, costs) for candidate in candidates], dtype=float)
    known = total[~np.isnan(total)]
    assumed = float(median(known)) if known.size else costs.specialist_cents / 4
    desk = Desk(
        frames, costs, candidates, prior, learn(visits, prior), PastJobs(frames, candidates),
        Adviser(frames.cautions, frames.first_checks, frames.inspection, costs.country),
        total, assumed, frames.codes["code"].to_list(),
        list(frames.codes.select("module", pl.col("short").fill_null("")).iter_rows()),
    )  # fmt: skip
    return desk, _general_notes(desk, len(visits.jobs))


def _in_order(frames: DiagnosisFrames) -> DiagnosisFrames:
    """Every open or past code has a column, in a fixed order."""
    known = frames.codes.sort("code")
    return DiagnosisFrames(**(vars(frames) | {"codes": known}))


def _general_notes(desk: Desk, visits: int) -> list[str]:
    if not visits:
        return ["No repair with scans around it is known yet: every chance rests on code texts only."]
    return []


def _total(candidate: Candidate, costs: Costs) -> float:
    if candidate.part_cents is None or candidate.labour_minutes is None:
        return float("nan")
    return candidate.part_cents + candidate.labour_minutes / 60 * costs.labour_rate_cents


def _list_car(desk: Desk, car: Car) -> tuple[list[dict[str, object]], list[str]]:
    view = look_at(car, desk.knowledge, _allowed(desk, car))
    price = np.where(np.isnan(desk.total[view.parts]), desk.assumed, desk.total[view.parts])
    world = world_of(view, price, float(desk.costs.specialist_cents))
    stale = bool(car.stale.all()) and len(car.codes) > 0
    steps = plan(world, _eligible(desk, car, view), 0.0 if stale else RECHECK_FROM) if view.parts else []
    notes = _car_notes(desk, car, view) + _why_none(desk, car, view, world, steps)
    ends = costs_to_the_end(world, steps)
    shown, rows = set[int](), []
    for step, end in zip(steps, ends, strict=False):
        if step.part in shown:
            continue
        ties = _ties(view, world, step.part)
        shown |= {step.part, *ties}
        rows.append(_row(desk, car, view, step, ties) | {"expected_cost": end})
    rows.append(specialist_row(desk.costs, [desk.codes[d] for d in car.codes]))
    return [{"vehicle": car.vehicle, "rank": k} | row for k, row in enumerate(rows, start=1)], notes


def _allowed(desk: Desk, car: Car) -> Bools:
    """A part never fitted is weighed only where some text ties it to an open code."""
    told = desk.prior.link[:, car.codes] > 0.3
    return np.asarray(desk.past.fitted | desk.prior.named[:, car.codes].any(axis=1) | told.any(axis=1))


def _eligible(desk: Desk, car: Car, view: View) -> Bools:
    """Only a part that was fitted before, or that an open code names, may stand first."""
    return np.asarray(desk.past.fitted[view.parts] | desk.prior.named[np.ix_(view.parts, car.codes)].any(axis=1))


def _ties(view: View, world: World, part: int) -> list[int]:
    """Parts whose chance and codes are the same as this one's, cheapest first."""
    if part == RECHECK:
        return []
    chance = view.weights.faulty()[0]
    same = [
        i
        for i in range(len(view.parts))
        if i != part
        and (view.clears[i] == view.clears[part]).all()
        and abs(chance[i] - chance[part]) <= TIE * max(chance[i], chance[part])
    ]
    return sorted(same, key=lambda i: (world.cost[i], i))


def _row(desk: Desk, car: Car, view: View, step: Step, ties: list[int]) -> dict[str, object]:
    if step.part == RECHECK:
        told = [desk.codes[d] for d, yes in zip(car.codes, view.explained, strict=True) if yes]
        return recheck_row(desk.costs, step, told, [desk.codes[d] for d in car.codes if desk.codes[d] not in told])
    i = step.part
    candidate = desk.candidates[view.parts[i]]
    mine = [d for d, yes in zip(car.codes, view.clears[i], strict=True) if yes]
    spoken = [" ".join(sorted(w.thing | w.place)) for w in candidate.wordings]
    advice = desk.adviser.advise(candidate.part, spoken, [desk.places[d] for d in mine])
    jobs, cleared = desk.past.single_jobs(candidate.key, {desk.codes[d] for d in mine})
    low, high = interval(step.chance, float(view.visits[i]))
    total = _known(desk.total[view.parts[i]])
    return _money(candidate, desk.costs, total) | {
        "part": candidate.part,
        "position": candidate.position,
        "action": candidate.action,
        "or_else": ";".join(desk.candidates[view.parts[j]].label for j in ties),
        "chance": step.chance,
        "chance_low": low,
        "chance_high": high,
        "clears": ";".join(sorted(desk.codes[d] for d in mine)),
        "leaves": ";".join(sorted(desk.codes[d] for d in car.codes if d not in mine)),
        "jobs": jobs,
        "jobs_cleared": cleared,
        "basis": _basis(desk, view.parts[i], mine, jobs),
        "cheap": total is not None and total <= desk.costs.cheap_limit_cents and not advice.never_cheap,
        "inspection": advice.inspection,
        "caution": advice.caution,
        "check_first": advice.check_first,
    }


def _money(candidate: Candidate, costs: Costs, total: float | None) -> dict[str, object]:
    labour = candidate.labour_minutes
    return {
        "part_cost": candidate.part_cents,
        "labour_cost": None if labour is None else labour / 60 * costs.labour_rate_cents,
        "total_cost": total,
    }


def _known(number: float) -> float | None:
    return None if np.isnan(number) else float(number)


def _basis(desk: Desk, part: int, clears: list[int], jobs: int) -> str:
    """What most of the codes' pull comes from: own repairs, the company codes keep, or their texts."""
    pull = np.log1p(desk.knowledge.link[part, clears] / desk.knowledge.leak[clears])
    taught = desk.knowledge.learned[part, clears] >= 0.5
    if jobs and pull[taught].sum() >= pull.sum() / 2:
        return "repairs"
    return "pattern" if desk.prior.pattern[part, clears][~taught].all() and not taught.all() else "code"


def _car_notes(desk: Desk, car: Car, view: View) -> list[str]:
    notes = []
    unexplained = [desk.codes[d] for d, told in zip(car.codes, view.explained, strict=True) if not told]
    if not view.parts or not view.explained.any():
        notes.append(f"{car.vehicle}: no known part explains {', '.join(sorted(unexplained))}: for the specialist.")
    elif unexplained:
        notes.append(f"{car.vehicle}: nothing known explains {', '.join(sorted(unexplained))}.")
    blank = sorted(desk.candidates[i].label for i in view.parts if np.isnan(desk.total[i]))
    if blank:
        notes.append(
            f"{car.vehicle}: no cost is known for {', '.join(blank)}; "
            f"for the order {desk.assumed / 100:.2f} was assumed, the middle of the known ones."
        )
    return notes


def _why_none(desk: Desk, car: Car, view: View, world: World, steps: list[Step]) -> list[str]:
    """Say why a car with suspects goes straight to the specialist."""
    if steps or not view.parts:
        return []
    chance = np.array([chance_of(world, i, []) for i in range(len(view.parts))])
    best = int(np.argmax(np.round(chance / np.maximum(world.cost, 1e-9), 15)))
    price, part = world.cost[best] / 100, desk.candidates[view.parts[best]].label
    return [
        f"{car.vehicle}: handing over is cheaper than the best try, {part} ({price:.2f}, chance {chance[best]:.0%})"
    ]


def _nothing_to_fix(frames: DiagnosisFrames, listed: set[str]) -> list[str]:
    masked = frames.open_codes.filter(pl.col("background").is_not_null())["vehicle"].unique().sort().to_list()
    return [
        f"{vehicle}: nothing to fix: its open codes are background only." for vehicle in masked if vehicle not in listed
    ]
