"""In which order to try the parts, and when to hand the car over.

Everything that may be done stands side by side: to record, erase, drive and scan again; to
fit a part; to check it first and fit it where it is found faulty; to fit several behind one
cover in one go.  After each of them the chances of the others are those of the cars whose
codes are still there, and a part that the evidence cannot tell from another one is a step
like any other; so is a second new one of a part where the first may have been bad.  Handing
over costs a flat price and may come after every step.  Of all courses the cheapest on
average is taken, all of them compared.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import prod

import numpy as np

from analysis.diagnosis.decision.held_karp import EQUAL, Lattice, Move, cheapest_course, follow, lattice
from analysis.diagnosis.decision.outlook import outlook
from analysis.diagnosis.decision.repair_model import RECHECK, Done, RepairModel, Step, also, chance_of, merit_of
from analysis.diagnosis.model.noisy_or import Bools, Floats

LEAST = 0.01
"""A part with less chance than this is not worth a line."""
STATES = 4096
"""So many states of the work are compared at most; with more parts and checks than that, the best for their cost."""
TOGETHER = 4
"""Of the parts behind one cover so many, the best for their cost, are thought of in one go."""


MUCH = 2.0
"""A part is much likelier than another where its chance is so many times as large."""

CHECK, FIT, TWICE = "check", "fit", "twice"
Ways = tuple[str, ...]
"""How far a part may be done, a digit each: fitted where a check finds it faulty, fitted straight away, both; without a
check, two fitted one after the other."""


@dataclass(frozen=True, kw_only=True)
class _Deed:
    """Something that may be done between two scans.

    Attributes:
        parts: Indices of the parts.
        check: It is one part that is fitted only where a check finds it faulty.
        move: The digits that it raises, and from where.
        seen: Row of the outlook: how often all that it should clear stays away.
        faulty: Row of the outlook of a check: how often the part is at fault and the check called for; else -1.
        at_once: What is spent wherever it is called for.
        then: What is spent as well where a check says faulty.
    """

    parts: tuple[int, ...]
    check: bool
    move: Move
    seen: int
    faulty: int
    at_once: float
    then: float

    @property
    def again(self) -> bool:
        """Tell whether its part was worked on before."""
        return self.move[0][1] > 0


@dataclass(frozen=True, kw_only=True)
class _Limits:
    """What a step needs to be one.

    Attributes:
        floors: (k,) the chance that each part needs.
        once_more: The chance that a part needs to be worked on a second time.
        gain: The share of handing over that going on has to save, and a check before a much likelier part.
    """

    floors: Floats
    once_more: float = 0.0
    gain: float = 0.0


@dataclass(frozen=True, kw_only=True)
class _Choice:
    """A way to begin, and what follows it; the cost is over all cars."""

    cost: float
    deed: int
    """Number of the first deed, -1 for none."""
    recheck: bool


def plan(
    repair: RepairModel,
    eligible: Bools,
    recheck_from: float,
    least_chance: float = 0.0,
    floors: Floats | None = None,
    *,
    once_more: float = 0.0,
    least_gain: float = 0.0,
) -> list[Step]:
    """Choose the steps before handing over.

    Args:
        repair: The car.
        eligible: (k,) parts that may stand first.
        recheck_from: Recheck first only where erasing alone settles it with at least this chance, and it pays; where
            nobody has looked since parts were renewed, wherever it pays.  Below 0: always, whatever it costs.
        least_chance: A part that is fitted straight away stands first only with at least this chance of its own; where
            only a less likely one is worth it, a recheck comes before it, whatever it settles.
        floors: (k,) with how much chance each part may be a step at all; None: with any that is worth a line.
        once_more: A part that was worked on comes a second time only with this chance.
        least_gain: After the first step it is gone on only where that saves this share of handing over there; and
            before a much likelier part another one is checked first only where that saves this share of handing over.

    Returns:
        The steps in order, possibly none; handing over follows the last.

    Source:
        D. Heckerman, J. Breese and K. Rommelse, "Decision-theoretic troubleshooting", Communications of the ACM 38
        (1995); H. Warnquist, Troubleshooting Trucks: Automated Planning and Diagnosis (2015).
    """
    least = np.maximum(np.zeros(len(eligible)) if floors is None else floors, LEAST)
    return _courses(repair, eligible, _Limits(floors=least, once_more=once_more, gain=least_gain)).steps(
        recheck_from, least_chance
    )


def plan_after_erase(repair: RepairModel, eligible: Bools) -> list[Step]:
    """Choose the steps before handing over for the cars whose codes came back after an erase and a drive.

    Args:
        repair: The car.
        eligible: (k,) parts that may be fitted before any other was.

    Returns:
        The steps in order, possibly none.
    """
    return _courses(repair, eligible, _Limits(floors=np.full(len(eligible), LEAST))).cheapest()


class _Courses:
    """All courses of the work on one car, and what each costs from every state on."""

    def __init__(self, repair: RepairModel, eligible: Bools, limits: _Limits, ways: dict[int, Ways]):
        self.repair, self.eligible, self.limits = repair, eligible, limits
        self.deeds = _deeds(repair, ways)
        sizes = tuple(1 + len(way) for way in ways.values())
        self.space: Lattice = lattice(sizes, tuple(deed.move for deed in self.deeds))
        self.seen = self._outlook(ways)
        self.charge, self.stop = self._charges(), repair.specialist * (1 - self.seen[self.scope])
        self.least = cheapest_course(self.space, self.charge, self.stop, limits.gain)
        # From the first state on: the way of each deed that may come next.
        begin = self.space.ways_from(0)
        self.first = {int(self.space.move[way]): int(way) for way in begin[np.isfinite(self.charge[begin])]}

    def _outlook(self, ways: dict[int, Ways]) -> Floats:
        """Return (rows, states): what each deed should clear stays away; all in scope does; a checked part is it."""
        repair = self.repair
        unions = {deed.seen: repair.clears[list(deed.parts)].any(axis=0) for deed in self.deeds}
        self.scope = len(unions)
        goes = repair.all_go(np.array([*(unions[row] for row in range(self.scope)), repair.scope]))
        checked = [deed for deed in self.deeds if deed.check and not deed.again]
        faulty = [(1 - goes[deed.seen]) * repair.still[deed.parts[0]] for deed in checked]
        now = repair.untouched.cured
        cured = [
            [now[part], *(now[part] or _cured(repair, part, kind, way) for kind in way)] for part, way in ways.items()
        ]
        return outlook(repair, np.stack([*goes, *faulty]), list(ways), cured)

    def _charges(self) -> Floats:
        """Return (ways,): what each way costs on average over all cars; infinite where it may not be gone."""
        start, end, move_of = self.space.start, self.space.end, self.space.move
        if not self.deeds:
            return np.empty(0)
        work, row = self.repair.jobs, np.array([deed.seen for deed in self.deeds])[move_of]
        before = self.seen[row, start]
        called = 1 - before
        charge = np.array([deed.at_once for deed in self.deeds])[move_of] * called
        looks = np.flatnonzero(np.array([deed.check for deed in self.deeds])[move_of])
        if len(looks):
            faulty, then, misses, alarms = np.array(
                [
                    (deed.faulty, deed.then, work.misses[deed.parts[0]], work.false_alarms[deed.parts[0]])
                    for deed in self.deeds
                ]
            )[move_of[looks]].T
            there = self.seen[faulty.astype(np.intp), start[looks]]
            charge[looks] += then * ((1 - misses) * there + alarms * (called[looks] - there))
        floors = [self.limits.floors[list(deed.parts)].max() for deed in self.deeds]
        once_more = [self.limits.once_more if deed.again else 0.0 for deed in self.deeds]
        least = np.maximum(floors, once_more)[move_of]
        worth = self.seen[row, end] - before >= least * called
        may = np.array([self.eligible[deed.parts[0]] for deed in self.deeds])[move_of] | (start > 0)
        return np.where(worth & may, charge, np.inf)

    def cheapest(self) -> list[Step]:
        """Return the steps of the cheapest course on the cars that an erase leaves, whatever may be begun."""
        return self._listed(_Choice(cost=0.0, deed=-1, recheck=True))[1:]

    def named(self) -> list[int]:
        """Return the parts of the steps of ``cheapest``, in order."""
        return [part for number in self._followed(0) for part in self.deeds[number].parts]

    def _followed(self, state: int) -> Sequence[int]:
        """Return the numbers of the deeds of the cheapest course from a state on."""
        return follow(self.space, self.charge, self.stop, self.least, state, gain=self.limits.gain)

    def steps(self, recheck_from: float, least_chance: float) -> list[Step]:
        """Return the steps of the cheapest course that may be begun; with a negative share that of a recheck."""
        repair, settled = self.repair, float(self.seen[self.scope, 0])
        ways = [_Choice(cost=repair.specialist, deed=-1, recheck=False)]
        begun = {number: self._begun_with(number) for number in self.first}
        ways += [way for number, way in begun.items() if self._likely(number, least_chance)]
        checked = _Choice(cost=repair.recheck + float(self.least[0]), deed=-1, recheck=True)
        if settled >= max(0.0 if repair.renewed else recheck_from, LEAST):
            ways.append(checked)
        best = min(ways, key=lambda way: way.cost)
        best = next(way for way in ways if way.cost <= best.cost + EQUAL)
        faint = min((way.cost for way in begun.values()), default=np.inf)
        if recheck_from < 0 or max(faint, checked.cost) < best.cost - EQUAL:
            best = checked
        return self._listed(self._likelier(best, ways))

    def _likelier(self, best: _Choice, ways: list[_Choice]) -> _Choice:
        """Return the best way to begin; in place of a check that saves little one that begins with a likelier part."""
        if best.deed < 0 or not self.deeds[best.deed].check:
            return best
        merit = {
            way.deed: merit_of(self.repair, self.deeds[way.deed].parts[0], self.repair.untouched)
            for way in ways
            if way.deed >= 0
        }
        most = best.cost + self.limits.gain * self.repair.specialist
        before = [way for way in ways if way.deed >= 0 and merit[way.deed] >= MUCH * merit[best.deed]]
        return min((way for way in before if way.cost <= most), key=lambda way: way.cost, default=best)

    def _likely(self, number: int, least_chance: float) -> bool:
        """Tell whether a deed may begin: it checks, or its first part is likely enough without the erase."""
        deed = self.deeds[number]
        return deed.check or merit_of(self.repair, deed.parts[0], self.repair.untouched) >= least_chance

    def _begun_with(self, number: int) -> _Choice:
        """Return what a course costs that begins with a deed: it is called for on every car."""
        deed, repair = self.deeds[number], self.repair
        cost = deed.at_once
        if deed.check:
            part = deed.parts[0]
            faulty = float(repair.chance @ (repair.left(repair.untouched) * repair.still[part]).sum(axis=1))
            alarms = repair.jobs.false_alarms[part] * (1 - faulty)
            cost += deed.then * ((1 - repair.jobs.misses[part]) * faulty + alarms)
        end = self.space.end[self.first[number]]
        return _Choice(cost=cost + float(self.least[end]), deed=number, recheck=False)

    def _listed(self, begin: _Choice) -> list[Step]:
        """Put a course into steps, with their chances."""
        steps: list[Step] = []
        state, numbers = 0, list[int]()
        if begin.recheck:
            steps.append(Step(part=RECHECK, chance=chance_of(self.repair, RECHECK), cost=self.repair.recheck))
        elif begin.deed >= 0:
            numbers.append(begin.deed)
            state = int(self.space.end[self.first[begin.deed]])
        else:
            return []
        numbers += self._followed(state)
        for number in numbers:
            steps += self._steps_of(self.deeds[number], steps)
        return steps

    def _steps_of(self, deed: _Deed, before: list[Step]) -> list[Step]:
        repair, steps = self.repair, list[Step]()
        for place, part in enumerate(deed.parts):
            done = repair.after([*before, *steps])
            step = Step(
                part=part,
                chance=chance_of(repair, part, done, deed.check),
                cost=float(repair.cost[part]),
                check=float(repair.jobs.check[part]) if deed.check else None,
                opening=0.0 if place else float(repair.jobs.openings[part]),
                along=place > 0,
            )
            steps.append(step)
        return steps


def _cured(repair: RepairModel, part: int, kind: str, way: Ways) -> float:
    """Return the chance that a part at fault is cured once it was done so far."""
    if kind != TWICE:
        return repair.cures(part, checked=kind == CHECK)
    return also(repair.cures(part), repair.cures(part, checked=CHECK in way))


def _courses(repair: RepairModel, eligible: Bools, limits: _Limits) -> _Courses:
    """Return all courses of the work on a car; where there are too many states, those around a first, rougher plan.

    Fitting a part that costs as much as handing over never pays, a check that costs as much as fitting neither.  For
    the rougher plan each part is either fitted straight or checked first, whichever costs less.
    """
    work, faulty = repair.jobs, repair.chance @ repair.sets[:, : len(repair.cost)]
    checked = work.check + repair.cost * ((1 - work.misses) * faulty + work.false_alarms * (1 - faulty))
    worth = faulty / np.maximum(np.minimum(repair.cost, checked) + work.openings, EQUAL)
    free = [i for i in range(len(repair.cost)) if faulty[i] > 0 and repair.cost[i] < repair.specialist]
    free.sort(key=lambda i: (-round(float(worth[i]), 15), i))
    once: dict[int, Ways] = {i: (CHECK, FIT) if work.check[i] < repair.cost[i] else (FIT,) for i in free}
    again = _may_come_again(repair, once, limits.once_more)
    ways: dict[int, Ways] = {i: (*way, TWICE) if i in again else way for i, way in once.items()}
    if _states(ways) > STATES:
        rough: dict[int, Ways] = {
            i: (CHECK,) if checked[i] < repair.cost[i] else (FIT,) for i in free[: int(np.log2(STATES))]
        }
        named = _Courses(repair, eligible, limits, rough).named()
        # What the rougher plan names in all its ways for as long as there is room, then the others.
        kept = {i: rough[i] for i in named}
        for told in ({i: ways[i] for i in kept}, {i: ways[i] for i in free if i not in kept}, rough):
            for i, way in told.items():
                more = kept | {i: way}
                kept = more if len(way) >= len(kept.get(i, ())) and _states(more) <= STATES else kept
        ways = kept
    return _Courses(repair, eligible, limits, ways)


def _may_come_again(repair: RepairModel, ways: dict[int, Ways], least: float) -> set[int]:
    """Return the parts that can be worked on a second time with some chance: where all others were fitted, the most."""
    fails = {part: 1 - repair.cures(part, checked=CHECK in way) for part, way in ways.items()}
    able = {part for part, share in fails.items() if share > 0}
    if least <= 0:
        return able
    cured = repair.untouched.cured.copy()
    for part in ways:
        cured[part] = cured[part] or repair.cures(part)
    weight = repair.chance[:, None] * repair.left(Done(cured=cured, erased=True))
    found = set[int]()
    for part in able:
        called = weight * (1 - repair.goes[part])
        faulty = float(called[repair.still[part]].sum())
        others = float(called.sum()) - faulty
        faulty *= fails[part] / (1 - repair.cures(part)) if repair.bad[part] > 0 else 0.0
        if repair.bad[part] <= 0 or faulty * repair.cures(part) >= least * (faulty + others):
            found.add(part)
    return found


def _states(ways: dict[int, Ways]) -> int:
    return prod(1 + len(way) for way in ways.values())


def _deeds(repair: RepairModel, ways: dict[int, Ways]) -> list[_Deed]:
    """Return all that may be done to the parts, fitting one first, then checking one, then several in one go."""
    work, digit = repair.jobs, {part: j for j, part in enumerate(ways)}
    fits, checks = ([part for part, way in ways.items() if kind in way] for kind in (FIT, CHECK))
    far = {(part, kind): value for part, way in ways.items() for value, kind in enumerate(way, 1)}
    sets = [(part,) for part in ways] + _in_one_go(repair, fits)
    row = {told: number for number, told in enumerate(sets)}
    fitted = [
        _Deed(
            parts=told, check=False, move=tuple((digit[part], 0, far[part, FIT]) for part in told),
            seen=row[told], faulty=-1, at_once=float(repair.cost[list(told)].sum() + work.openings[told[0]]), then=0.0,
        )
        for told in sets
        if len(told) > 1 or FIT in ways[told[0]]
    ]  # fmt: skip
    looked = [
        _Deed(
            parts=(part,), check=True, move=((digit[part], 0, far[part, CHECK]),), seen=row[part,],
            faulty=len(sets) + 1 + number, at_once=float(work.check[part] + work.openings[part]),
            then=float(repair.cost[part]),
        )
        for number, part in enumerate(checks)
    ]  # fmt: skip
    # What was done one way may be done the other way as well; without a check, the same once more.
    other = {part: CHECK if CHECK in way else FIT for part, way in ways.items()}
    again = [
        replace(deed, move=((digit[part], far[part, FIT if deed.check else other[part]], far[part, TWICE]),))
        for deed in (*fitted[: len(fits)], *looked)
        for part in deed.parts
        if TWICE in ways[part]
    ]
    return [*fitted[: len(fits)], *looked, *fitted[len(fits) :], *again]


def _in_one_go(repair: RepairModel, parts: list[int]) -> list[tuple[int, ...]]:
    """Return the groups of parts behind one cover, each with the likeliest for its cost first."""
    faulty = repair.chance @ repair.sets[:, : len(repair.cost)]
    groups: list[tuple[int, ...]] = []
    for door in range(len(repair.jobs.opening_cost)):
        behind = [part for part in parts if repair.jobs.opening[part] == door]
        if repair.jobs.opening_cost[door] <= 0:
            continue
        behind = sorted(behind, key=lambda part: -faulty[part] / max(float(repair.cost[part]), EQUAL))[:TOGETHER]
        groups += [told for size in range(2, len(behind) + 1) for told in combinations(behind, size)]
    return groups
