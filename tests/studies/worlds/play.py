"""Follows a list on cars whose faults are known: what does it cost until the codes are gone that have to go?

Every try of a part costs part and labour.  A step whose codes are gone already is skipped.  Whoever reaches the end of
a list with a fault left hands the car over, and pays for that.  Equipment's codes need not go: a car with a fault is
done without them.  On a car without a fault nobody sees that it has none: its list is followed for as long as it shows
a code that the list would clear, to the specialist if the list says so.  Codes that only an erase ends go with the
first repair or recheck; where a list has none, one recheck is paid.

A row that says to check first is a try like any other, unless chances are drawn: then the check is paid each time, and
only what it finds faulty is bought.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from tests.studies.worlds.faults import BY_NAME
from tests.studies.worlds.truth import CarTruth, FaultTruth, PriceBook

PARTS = ("replace", "repair", "clean", "adjust", "software")
CHECK_ERRS = 0.05
"""A check calls a faulty part good so often, and a good one faulty: as the trade takes it, no source."""


@dataclass(frozen=True, kw_only=True)
class Step:
    """One row of a list.

    Attributes:
        action: replace, repair, recheck, specialist or leave.
        part: The part's name.
        place: Its place, blank where the list names none.
        or_else: Others that cannot be told from it, name and place; they are tried where a row of their own says so.
        clears: Codes that it is said to clear; empty: all.
        chance: The chance that is forecast, None where none is.
        basis: What the chance rests on.
        check: It says to prove the part faulty before it is bought.
        jobs: Past jobs with the part alone on cars with its codes, whose end is known.
        cleared: Those of them after which all of these were gone.
    """

    action: str
    part: str = ""
    place: str = ""
    or_else: tuple[tuple[str, str], ...] = ()
    clears: frozenset[str] = frozenset()
    chance: float | None = None
    basis: str = ""
    check: bool = False
    jobs: int = 0
    cleared: int = 0


@dataclass(frozen=True, kw_only=True)
class Forecast:
    """One chance that was forecast and put to the test.

    Attributes:
        chance: As forecast.
        kept: Whether the codes went for good.
        basis: What it rested on.
        action: Of its row.
    """

    chance: float
    kept: bool
    basis: str
    action: str


@dataclass(frozen=True, kw_only=True)
class Played:
    """What following a list came to on one car.

    Attributes:
        cost: Spent.
        has_part: The car has a fault that a part or a mended loom ends.
        names_part: Its list holds a row that fits something.
        first_right: The first such row named one of them; a row without a place does if the part is right.
        sound: It has no fault at all.
        fits_on_sound: It has no fault, and its list holds a row that fits something or hands it over.
        begins_on_sound: It has no fault, and such a row is the first.
        begins_fitting: The first row fits something.
        begins_in_vain: It does, and past jobs with that part alone on such cars never cleared them.
        works_on_sound: It has no fault, and such a row was reached: rows behind a recheck that cleared it are not.
        handed_over: A specialist ended it.
        forecasts: Of the rows that were reached.
    """

    cost: float
    has_part: bool
    names_part: bool
    first_right: bool
    sound: bool
    fits_on_sound: bool
    begins_on_sound: bool
    begins_fitting: bool
    begins_in_vain: bool
    works_on_sound: bool
    handed_over: bool
    forecasts: tuple[Forecast, ...]


class _Bench:
    """One car while a list is followed."""

    def __init__(self, truth: CarTruth, costs: PriceBook):
        self.truth, self.costs, self.cost = truth, costs, 0.0
        self.left = {fault.name: fault for fault in truth.faults}
        self.bad_ones = {(fault.part, fault.place) for fault in truth.faults if fault.dead}
        self.erased = False

    def there(self) -> frozenset[str]:
        """Codes that a scan would show now, those of equipment too."""
        return frozenset(self.truth.shown) if not self.erased else self.truth.kept_by(set(self.left)) | self.truth.alone

    def done(self) -> bool:
        """Nothing that has to go is left; a car without a fault has to show nothing at all."""
        return not self.there() - (self.truth.alone if self.truth.faults else frozenset())

    def fit(self, part: str, place: str, check: np.random.Generator | None = None) -> None:
        """Pay for and fit a part; without a place, at one place after the other until the faulty one is found.

        Args:
            part: Its name.
            place: Where.
            check: Prove it faulty first, and buy only what is found so; None: fit it straight away.
        """
        places = [place] if place or part not in BY_NAME else list(BY_NAME[part].places)
        for where in places:
            self.erased = True
            if check is not None and not self._found_faulty(part, where, check):
                continue
            self.cost += self.costs.total(part)
            if (part, where) in self.bad_ones:
                self.bad_ones.discard((part, where))
                continue
            ended = [fault.name for fault in self.left.values() if (fault.part, fault.place) == (part, where) and part]
            for name in ended:
                del self.left[name]
            if ended:
                return

    def _found_faulty(self, part: str, place: str, rng: np.random.Generator) -> bool:
        """Pay for a check; return what it says."""
        self.cost += self.costs.check(part)
        faulty = any((fault.part, fault.place) == (part, place) for fault in self.left.values())
        return faulty != bool(rng.random() < CHECK_ERRS)


def play_car(
    steps: Sequence[Step], truth: CarTruth, costs: PriceBook, rng: np.random.Generator | None = None
) -> Played:
    """Follow one car's list.

    Args:
        steps: In order; may be empty, which hands over a car with a fault.
        truth: What is wrong with it.
        costs: The prices.
        rng: Draws what checks say; None: every try fits the part straight away.

    Returns:
        What it came to.
    """
    bench, forecasts, handed_over, worked = _Bench(truth, costs), [], False, False
    for step in steps:
        if bench.done():
            break
        told = step.clears & set(truth.shown)
        if step.action == "leave" or (told and not told & bench.there()):
            continue
        if step.action == "specialist":
            handed_over = True
            break
        _take(bench, step, rng)
        worked = worked or step.action != "recheck"
        if step.chance is not None:
            kept = not (told or truth.needed) & bench.there()
            forecasts.append(Forecast(chance=step.chance, kept=kept, basis=step.basis, action=step.action))
    if handed_over or (bench.left and not bench.done()):
        handed_over = True
        bench.cost += costs.specialist
    elif bench.there() & truth.passing:
        bench.cost += costs.recheck
    right = {(fault.part, fault.place) for fault in truth.faults if fault.part}
    tried = next((step for step in steps if step.action in PARTS), None)
    first = next((step for step in steps[:1] if step.action in PARTS), None)
    sound, works = not truth.faults and not truth.hidden, [step.action not in ("leave", "recheck") for step in steps]
    return Played(
        cost=bench.cost,
        has_part=bool(right),
        names_part=tried is not None,
        first_right=tried is not None and _names(tried, right),
        sound=sound,
        fits_on_sound=sound and any(works),
        begins_on_sound=sound and works[:1] == [True],
        begins_fitting=first is not None,
        begins_in_vain=first is not None and first.jobs > 0 and not first.cleared,
        works_on_sound=sound and (worked or handed_over),
        handed_over=handed_over,
        forecasts=tuple(forecasts),
    )


def _take(bench: _Bench, step: Step, rng: np.random.Generator | None) -> None:
    if step.action == "recheck":
        bench.cost += bench.costs.recheck
        bench.erased = True
        return
    bench.fit(step.part, step.place, rng if step.check else None)


def _names(step: Step, right: set[tuple[str, str]]) -> bool:
    return (step.part, step.place) in right or (not step.place and step.part in {part for part, _ in right})


def play(lists: Mapping[str, Sequence[Step]], truth: Mapping[str, CarTruth], costs: PriceBook) -> dict[str, Played]:
    """Follow the list of every judged car; a car without a list is left alone, and handed over where it has a fault."""
    return {vehicle: play_car(lists.get(vehicle, ()), car, costs) for vehicle, car in truth.items()}


def knowing(car: CarTruth, costs: PriceBook) -> list[Step]:
    """Return what somebody who knows the faults does: exactly the parts, or the specialist where that is cheaper.

    A part whose first new one is bad is fitted twice.  A car without a fault is erased and driven where a code would
    otherwise stay that need not.
    """
    parts = [Step(action="replace", part=f.part, place=f.place) for f in car.faults for _ in range(1 + f.dead)]
    if any(not fault.part for fault in car.faults):
        return [Step(action="specialist")]
    if parts:
        total = sum(costs.total(step.part) for step in parts)
        return parts if total <= costs.specialist else [Step(action="specialist")]
    return [Step(action="recheck")] if car.passing else [Step(action="leave")]


def knowing_cost(car: CarTruth, costs: PriceBook) -> float:
    """Return what that costs, reckoned from the faults and not by following the rows."""

    def price(fault: FaultTruth) -> float:
        return costs.total(fault.part) * (2 if fault.dead else 1) if fault.part else float("inf")

    if car.faults:
        return min(sum(price(fault) for fault in car.faults), costs.specialist)
    return costs.recheck if car.passing else 0.0
