"""How a car lives: parts break, modules notice while it is driven, and keep what they noticed until it is erased.

A module tests for a code now and then while the car is driven; how often is the code's own distance.  A fault that is
there when the test runs is stored; one that has gone is kept as history.
"""

from dataclasses import dataclass
from math import exp

import numpy as np

from tests.studies.worlds.cars import WINTER, Car, Entry, World, equipment_specs
from tests.studies.worlds.codes import Spec
from tests.studies.worlds.faults import BY_NAME, Part

TRIP_KM, LONG_TRIP_KM = 15.0, 400.0
SHOWS, SHOWS_IN_THE_COLD = 0.35, 0.65
"""Chance that an intermittent fault shows on a drive."""
KILLED_AGAIN_KM = 500.0
ALONE = ("equipment", "quirk")
"""Kinds of cause that no repair ends and that are no fault."""
FAULTS = ("part", "loom", "unknown")
"""Kinds of cause that have to be found."""

Shown = tuple[tuple[str, str, float], ...]
"""Module, code and mean distance to return, of what one cause sets on one car."""


@dataclass(kw_only=True)
class Cause:
    """Something that sets codes on one car, until it is ended.

    Attributes:
        name: Unlike any other cause of the car.
        kind: part, loom, unknown, equipment or quirk.
        part: The faulty part, or what people call the loom; blank for the others.
        place: Where it sits, blank where it has one place only.
        shown: What it sets.
        intermittent: It shows on some drives only.
        behind: The fault that brought this one about.
        fixed: It is gone.
        back_km: Odometer at which a repair that does not last gives in.
    """

    name: str
    kind: str
    part: str = ""
    place: str = ""
    shown: Shown
    intermittent: bool = False
    behind: "Cause | None" = None
    fixed: bool = False
    back_km: float | None = None

    @property
    def codes(self) -> set[tuple[str, str]]:
        """Module and code of all that it sets."""
        return {(module, code) for module, code, _ in self.shown}


class Life:
    """One car's causes and drives.

    Attributes:
        car: The car; its odometer and memory change.
        causes: Every cause so far, ended ones too.
        bought_with: How many independent faults it came with, the unknown cause left out.
    """

    def __init__(self, world: World, car: Car, rng: np.random.Generator, month: int):
        self.world, self.car, self.rng = world, car, rng
        self.causes: list[Cause] = []
        for name in car.equipment:
            specs = equipment_specs(world, name, car.line.modules)
            self.causes.append(Cause(name=f"equipment {name}", kind="equipment", shown=self._shown(specs)))
        if car.line.quirk and rng.random() < world.settings.quirk:
            self.causes.append(Cause(name="quirk", kind="quirk", shown=self._shown([car.line.quirk])))
        self._bought_with(month)

    def _shown(self, specs: list[Spec]) -> Shown:
        book, make = self.world.book, self.car.make
        return tuple((spec.module, book.code(spec, make), spec.every_km) for spec in specs)

    def _bought_with(self, month: int) -> None:
        settings, rng = self.world.settings, self.rng
        luck = rng.random()
        faults = 0 if luck < settings.sound else 2 if luck > 1 - settings.two_faults else 1
        self.bought_with = faults
        for _ in range(faults):
            self.break_one(month)
        if rng.random() < settings.unknown:
            self._add_unknown()

    def break_one(self, month: int) -> None:
        """A part breaks, or a loom; a part that can kill another may have done so."""
        settings, rng = self.world.settings, self.rng
        if rng.random() < settings.looms and self._add_loom():
            return
        fits, weights = self.world.weights(self.car, month)
        part = fits[int(rng.choice(len(fits), p=weights))]
        place = str(rng.choice(part.places))
        if any(c.part == part.name and c.place == place and not c.fixed for c in self.causes):
            return
        fault = self._add(part, place)
        victim = BY_NAME.get(part.kills)
        if victim and victim in fits and rng.random() < settings.chains:
            self._add(victim, place if place in victim.places else victim.places[0], behind=fault)

    def _add(self, part: Part, place: str, behind: Cause | None = None) -> Cause:
        cause = Cause(
            name=f"{part.name} {place} {len(self.causes)}",
            kind="part",
            part=part.name,
            place=place,
            shown=self.manifest(part, place),
            intermittent=bool(self.rng.random() < self.world.settings.intermittent),
            behind=behind,
        )
        self.causes.append(cause)
        return cause

    def manifest(self, part: Part, place: str) -> Shown:
        """Return what the modules of this car say of the faulty part; its own module says at least one thing."""
        book, car, rng = self.world.book, self.car, self.rng
        specs = [s for s in book.specs[part.name] if s.place in ("", place) and s.module in car.line.modules]
        own = [s for s in specs if s.module == part.home and book.says(s, car.make) > 0]
        said = [s for s in own if rng.random() < book.says(s, car.make)]
        if not said and own:
            said = [own[int(rng.integers(len(own)))]]
        missed: list[tuple[str, str, float]] = []
        if rng.random() < book.network[part.name]:
            said += [s for s in specs if s.module != part.home and book.says(s, car.make) > 0]
            code = book.lost(part.home, part.network) if part.network else ""
            if code:
                missed = [(other, code, 5.0) for other in car.line.listeners[part.home]]
        return self._shown(said) + tuple(missed)

    def _specs_at(self, module: str) -> list[Spec]:
        fits, _ = self.world.weights(self.car, 6)
        book, make = self.world.book, self.car.make
        return [s for p in fits for s in book.specs[p.name] if s.module == module and book.says(s, make) > 0]

    def _add_loom(self) -> bool:
        """Two or three parts of one module lose their signals together; False where no module has so many."""
        fits, _ = self.world.weights(self.car, 6)
        homes = sorted({p.home for p in fits if sum(o.home == p.home for o in fits) >= 2})
        if not homes:
            return False
        home = str(self.rng.choice(homes))
        mates = [p for p in fits if p.home == home]
        count = min(len(mates), int(self.rng.integers(2, 4)))
        shown: dict[tuple[str, str], float] = {}
        for i in self.rng.choice(len(mates), size=count, replace=False):
            specs = [s for s in self._specs_at(home) if s.part == mates[i].name]
            if specs:
                module, code, every = self._shown([specs[int(self.rng.integers(len(specs)))]])[0]
                shown[module, code] = every
        told = tuple((module, code, every) for (module, code), every in shown.items())
        bad_now_and_then = bool(self.rng.random() < self.world.settings.intermittent)
        name = f"loom {home} {len(self.causes)}"
        self.causes.append(
            Cause(name=name, kind="loom", part=f"wiring {home}", shown=told, intermittent=bad_now_and_then)
        )
        return True

    def _add_unknown(self) -> None:
        """One or two codes of one module come back for good, and nobody finds out why."""
        specs = self._specs_at(str(self.rng.choice(["ECM", "ABS", "BCM", "SRS"]))) or self._specs_at("ECM")
        count = min(len(specs), int(self.rng.integers(1, 3)))
        chosen = [specs[i] for i in self.rng.choice(len(specs), size=count, replace=False)]
        self.causes.append(Cause(name=f"unknown {len(self.causes)}", kind="unknown", shown=self._shown(chosen)))

    def store(self, codes: set[tuple[str, str]], cause: str) -> None:
        """Put codes into memory that are not tested again: of the past, of low voltage, of a pulled plug."""
        for key in sorted(codes):
            entry = self.car.memory.setdefault(key, Entry(causes=set(), count=2, first_km=self.car.km, active=False))
            entry.causes.add(cause)

    def fit(self, part: str, place: str, good: bool, lasts_km: float | None) -> list[Cause]:
        """Fit a new part; return the causes that it ended.

        Args:
            part: Its name, or what people call a loom.
            place: Where.
            good: Whether the new part is.
            lasts_km: How far it lasts, None: for good.
        """
        ended = [
            c for c in self.causes if good and not c.fixed and (c.part, c.place) == (part, place) and c.kind in FAULTS
        ]
        for cause in ended:
            cause.fixed = True
            cause.back_km = None if lasts_km is None else self.car.km + lasts_km
        return ended

    def open_faults(self) -> list[Cause]:
        """Return the faults that are still there."""
        return [cause for cause in self.causes if cause.kind in FAULTS and not cause.fixed]

    def drive(self, km: float, month: int) -> None:
        """Drive ``km`` in a month of the year: parts wear, modules test."""
        trip_km = TRIP_KM if km <= LONG_TRIP_KM else LONG_TRIP_KM
        left = km
        while left > 1e-9:
            trip = min(trip_km, left)
            left -= trip
            self.car.km += trip
            self._wear(trip, month)
            for cause in self.causes:
                self._test(cause, trip, month)

    def _wear(self, km: float, month: int) -> None:
        if self.rng.random() < self.world.settings.new_faults * km / 10_000:
            self.break_one(month)
        for cause in self.causes:
            given_in = cause.back_km is not None and self.car.km >= cause.back_km
            killed = cause.behind is not None and not cause.behind.fixed and self.rng.random() < km / KILLED_AGAIN_KM
            if cause.fixed and (given_in or killed):
                cause.fixed, cause.back_km = False, None

    def _test(self, cause: Cause, km: float, month: int) -> None:
        showing = not cause.fixed
        if showing and cause.intermittent:
            cold = self.world.settings.seasons and month in WINTER
            showing = bool(self.rng.random() < (SHOWS_IN_THE_COLD if cold else SHOWS))
        for module, code, every in cause.shown:
            key = (module, code)
            if (not showing and key not in self.car.memory) or self.rng.random() > 1 - exp(-km / every):
                continue
            entry = self.car.memory.get(key)
            if not showing:
                if entry and entry.causes == {cause.name}:
                    entry.active = False
            elif entry is None:
                self.car.memory[key] = Entry(causes={cause.name}, count=1, first_km=self.car.km)
            else:
                entry.causes.add(cause.name)
                entry.count, entry.active = entry.count + 1, True
