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
from analysis.diagnosis.remarks import code_remarks, cost_remarks, nothing_to_fix
from analysis.diagnosis.rows import SCHEMA, drive_cents, money, recheck_row, specialist_row, total_cents
from analysis.diagnosis.safety import Adviser
from analysis.diagnosis.stock import cars_in_stock
from analysis.diagnosis.troubleshooting import RECHECK, Step, World, chance_of, costs_to_the_end, plan
from analysis.diagnosis.visits import gather_visits
from analysis.evidence import Evidence
from analysis.mining import Findings

RECHECK_FROM = 0.25
GRAVE = frozenset(("ABS", "ESC", "EPB", "BBM", "EPS"))
"""Modules whose codes mean a brake or steering warning."""
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
    network: Bools


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
    notes += nothing_to_fix(frames.open_codes, {car.vehicle for car in cars})
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
    total = np.array([total_cents(candidate, costs) for candidate in candidates], dtype=float)
    known = total[~np.isnan(total)]
    assumed = float(median(known)) if known.size else costs.specialist_cents / 4
    desk = Desk(
        frames, costs, candidates, prior, learn(visits, prior), PastJobs(frames, candidates),
        Adviser(frames.cautions, frames.first_checks, frames.inspection, costs.country),
        total, assumed, frames.codes["code"].to_list(),
        list(frames.codes.select("module", pl.col("short").fill_null("")).iter_rows()),
        frames.codes["network"].fill_null(False).to_numpy().astype(bool),
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


def _list_car(desk: Desk, car: Car) -> tuple[list[dict[str, object]], list[str]]:
    view = look_at(car, desk.knowledge, _allowed(desk, car))
    price = np.where(np.isnan(desk.total[view.parts]), desk.assumed, desk.total[view.parts])
    world = world_of(view, price, float(desk.costs.specialist_cents), drive_cents(desk.costs))
    eligible = _eligible(desk, car, view)
    groups = _tied(view, world, eligible)
    behind = [j for others in groups.values() for j in others]
    steps = plan(world, eligible, 0.0 if car.stale.all() else RECHECK_FROM, behind) if view.parts else []
    notes = _car_notes(desk, car, view) + _why_none(desk, car, view, world, steps)
    ends = costs_to_the_end(world, steps)
    rows = [
        _row(desk, car, view, step, groups.get(step.part, [])) | {"expected_cost": end}
        for step, end in zip(steps, ends, strict=False)
    ]
    places = [desk.places[d] for d in car.codes]
    rows.append(specialist_row(desk.costs, [desk.codes[d] for d in car.codes]) | _inspection(desk, places))
    return [{"vehicle": car.vehicle, "rank": k} | row for k, row in enumerate(rows, start=1)], notes


def _inspection(desk: Desk, places: list[tuple[str, str]]) -> dict[str, object]:
    return {"inspection": desk.adviser.item(places)}


def _allowed(desk: Desk, car: Car) -> Bools:
    """A part never fitted is weighed only where some text ties it to an open code."""
    told = desk.prior.link[:, car.codes] > 0.3
    return np.asarray(desk.past.fitted | desk.prior.named[:, car.codes].any(axis=1) | told.any(axis=1))


def _eligible(desk: Desk, car: Car, view: View) -> Bools:
    """Only a part that was fitted before, or that an open code names, may stand first."""
    return np.asarray(desk.past.fitted[view.parts] | desk.prior.named[np.ix_(view.parts, car.codes)].any(axis=1))


def _tied(view: View, world: World, eligible: Bools) -> dict[int, list[int]]:
    """Parts whose chance and codes are the same: the cheapest of each group, and the others it stands for."""
    chance, groups, taken = view.weights.faulty()[0], dict[int, list[int]](), set[int]()
    order = sorted(range(len(view.parts)), key=lambda i: (not eligible[i], world.cost[i], i))
    for head in order:
        if head in taken:
            continue
        groups[head] = [
            i
            for i in order
            if i not in taken | {head}
            and (view.clears[i] == view.clears[head]).all()
            and abs(chance[i] - chance[head]) <= TIE * max(chance[i], chance[head])
        ]
        taken |= {head, *groups[head]}
    return groups


def _recheck(desk: Desk, car: Car, view: View, chance: float) -> dict[str, object]:
    told = [d for d, yes in zip(car.codes, view.explained, strict=True) if yes]
    places = [desk.places[d] for d in told]
    grave = any(module in GRAVE for module, _ in (desk.places[d] for d in car.codes))
    low, high = interval(chance, float(view.visits.min()))
    left = [desk.codes[d] for d in car.codes if d not in told]
    row = recheck_row(desk.costs, (chance, low, high), [desk.codes[d] for d in told], left, grave)
    return row | _inspection(desk, places)


def _row(desk: Desk, car: Car, view: View, step: Step, ties: list[int]) -> dict[str, object]:
    if step.part == RECHECK:
        return _recheck(desk, car, view, step.chance)
    i = step.part
    candidate = desk.candidates[view.parts[i]]
    mine = [d for d, yes in zip(car.codes, view.clears[i], strict=True) if yes]
    spoken = [" ".join(sorted(w.thing | w.place)) for w in candidate.wordings]
    home = _home(desk, view.parts[i])
    advice = desk.adviser.advise(candidate.part, spoken, home, [desk.places[d] for d in mine])
    jobs, cleared = desk.past.single_jobs(candidate.key, {desk.codes[d] for d in mine})
    low, high = interval(step.chance, float(view.visits[i]))
    costs = money(candidate, desk.costs)
    total = costs["total_cost"]
    return costs | {
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
        "cheap": isinstance(total, float) and total <= desk.costs.cheap_limit_cents,
        "inspection": advice.inspection,
        "caution": advice.caution,
        "check_first": advice.check_first,
    }


def _home(desk: Desk, part: int) -> str:
    """The one module whose own codes name the part, blank where none or several do."""
    own = desk.prior.named[part] & ~desk.network
    homes = {desk.places[d][0] for d in np.flatnonzero(own)}
    return homes.pop() if len(homes) == 1 else ""


def _basis(desk: Desk, part: int, clears: list[int], jobs: int) -> str:
    """What most of the codes' pull comes from: own repairs, the company codes keep, or their texts."""
    pull = np.log1p(desk.knowledge.link[part, clears] / desk.knowledge.leak[clears])
    believed = desk.prior.link[part, clears] * desk.prior.visits[part, clears]
    taught = desk.knowledge.learned[part, clears] >= np.maximum(believed, 0.5)
    if pull[taught].sum() >= pull.sum() / 2:
        return "repairs" if jobs else "pattern"
    return "pattern" if desk.prior.pattern[part, clears][~taught].all() else "code"


def _car_notes(desk: Desk, car: Car, view: View) -> list[str]:
    unexplained = [desk.codes[d] for d, told in zip(car.codes, view.explained, strict=True) if not told]
    parts = [desk.candidates[i] for i in view.parts]
    about_costs = cost_remarks(car.vehicle, parts, desk.assumed, bool(np.isfinite(desk.total).any()))
    return code_remarks(car.vehicle, unexplained, bool(view.explained.any())) + about_costs


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
