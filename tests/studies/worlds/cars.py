"""Makes, lines and cars: what a car is, before anything happens to it."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np

from tests.studies.worlds.codes import CodeBook, Spec
from tests.studies.worlds.faults import EQUIPMENT, PARTS, Part
from tests.studies.worlds.settings import WorldSettings

MAKES = ("Halvet", "Brunmar", "Tiskano", "Orrelin", "Quenby", "Dostrel")
MODELS = (
    "Larch",
    "Teasel",
    "Sorrel",
    "Yarrow",
    "Tansy",
    "Burdock",
    "Sedge",
    "Rowanby",
    "Fescue",
    "Bracken",
    "Vetch",
    "Comfrey",
)
ALWAYS = ("ECM", "ABS", "BCM", "SRS", "IPC", "HVAC")
SOMETIMES = ("TCM", "EPS", "TPMS", "PAM", "HLL", "EPB", "RADIO", "TEL", "IMMO", "DDM", "PDM", "SEAT", "ASU", "GWM")
WINTER = (11, 12, 1, 2, 3)


@dataclass(frozen=True, kw_only=True)
class Line:
    """One model line.

    Attributes:
        make: Its make.
        model: Its name.
        modules: The control units of all its cars, engine first.
        listeners: For each module those that miss it on the bus.
        common: How often it is bought, a weight.
        from_day: First day it can be bought.
        quirk: What one of its modules stores on most cars; None for most lines.
    """

    make: str
    model: str
    modules: tuple[str, ...]
    listeners: dict[str, tuple[str, ...]]
    common: float
    from_day: int
    quirk: Spec | None = None


@dataclass(frozen=True, kw_only=True)
class World:
    """What is drawn once a dealer, and does not change.

    Attributes:
        settings: The mechanisms.
        parts: The parts that can fail, commonest first.
        rates: For each part's name how common its fault is, a weight.
        price: For each part's name the price at this dealer.
        book: What modules say.
        lines: The model lines.
    """

    settings: WorldSettings
    parts: tuple[Part, ...]
    rates: dict[str, float]
    price: dict[str, float]
    book: CodeBook
    lines: tuple[Line, ...]

    def weights(self, car: "Car", month: int) -> tuple[list[Part], np.ndarray]:
        """Return the parts that can fail on ``car`` and how likely each is the next, by distance and season."""
        fits = [part for part in self.parts if part.home in car.line.modules and part.fuel in ("", car.fuel)]
        cold = self.settings.seasons and month in WINTER
        weights = [
            self.rates[part.name] * (car.km / 120_000) ** part.worn * (part.cold if cold else 1.0) for part in fits
        ]
        return fits, np.array(weights) / sum(weights)


@dataclass(kw_only=True)
class Entry:
    """What one module holds of one code: who set it, how often it failed, whether its last test failed."""

    causes: set[str]
    count: int
    first_km: float
    active: bool = True


@dataclass(kw_only=True)
class Car:
    """One car, as it changes.

    Attributes:
        vehicle: Stock number.
        line: Its line.
        year: Model year.
        fuel: petrol or diesel.
        km: Odometer.
        bought: When it came.
        equipment: What was fitted later, by name.
        declared: Whether the stock list tells it.
        memory: What the modules hold, by module and code.
        erased_km: Odometer at the last erase, None: never here.
        low_voltage: It once had low voltage before it was bought.
        seller_erased: The seller erased before the first scan.
        sold: When it left, None while in stock.
    """

    vehicle: str
    line: Line
    year: int
    fuel: str
    km: float
    bought: datetime
    equipment: tuple[str, ...] = ()
    declared: bool = False
    memory: dict[tuple[str, str], Entry] = field(default_factory=dict)
    erased_km: float | None = None
    low_voltage: bool = False
    seller_erased: bool = False
    old_stored: bool = False
    sold: datetime | None = None

    @property
    def make(self) -> str:
        """Its make."""
        return self.line.make

    def erase(self) -> None:
        """Erase every module's memory."""
        self.memory.clear()
        self.erased_km = self.km


def draw_world(settings: WorldSettings, rng: np.random.Generator) -> World:
    """Draw makes, lines, parts, prices and codes of one dealer."""
    makes = MAKES[: settings.makes]
    parts = tuple(PARTS[i] for i in rng.permutation(len(PARTS))[: settings.parts])
    rates = {part.name: (rank + 1.0) ** -settings.zipf for rank, part in enumerate(parts)}
    price = {part.name: round(part.cost * float(rng.uniform(0.8, 1.25)), 2) for part in parts}
    book = CodeBook(rng, settings, parts, makes)
    return World(settings=settings, parts=parts, rates=rates, price=price, book=book, lines=_lines(settings, rng, book))


def _lines(settings: WorldSettings, rng: np.random.Generator, book: CodeBook) -> tuple[Line, ...]:
    lines = []
    quirky = int(rng.integers(settings.lines)) if settings.quirk else -1
    for i in range(settings.lines):
        extra = int(rng.integers(2, len(SOMETIMES) + 1))
        modules = ALWAYS + tuple(SOMETIMES[j] for j in sorted(rng.permutation(len(SOMETIMES))[:extra]))
        hears = {m: tuple(o for o in modules if o != m and rng.random() < 0.35)[:5] for m in modules}
        line = Line(
            make=MAKES[i % settings.makes],
            model=MODELS[i],
            modules=modules,
            listeners={m: heard or (("IPC",) if m != "IPC" else ("BCM",)) for m, heard in hears.items()},
            common=float(rng.gamma(2.0)) + 0.2,
            from_day=settings.days // 2 if settings.new_line and i == settings.lines - 1 else 0,
            quirk=book.quirk[str(rng.choice(list(book.quirk)))] if i == quirky else None,
        )
        lines.append(line)
    return tuple(lines)


def draw_car(world: World, rng: np.random.Generator, vehicle: str, bought: datetime, day: int) -> Car:
    """Draw one car as it is bought, without its faults."""
    lines = [line for line in world.lines if line.from_day <= day]
    share = np.array([line.common for line in lines])
    line = lines[int(rng.choice(len(lines), p=share / share.sum()))]
    age = int(rng.integers(3, 16))
    car = Car(
        vehicle=vehicle,
        line=line,
        year=bought.year - age,
        fuel="petrol" if rng.random() < 0.6 else "diesel",
        km=float(np.clip(age * rng.uniform(8_000, 20_000), 40_000, 220_000)),
        bought=bought,
    )
    if rng.random() < world.settings.equipment:
        fits = [name for name in EQUIPMENT if len(equipment_specs(world, name, line.modules)) >= 2]
        car.equipment = (str(rng.choice(fits)),)
        car.declared = bool(rng.random() < world.settings.declared)
    return car


def equipment_specs(world: World, name: str, modules: Iterable[str]) -> list[Spec]:
    """Return what the modules of a car store for one equipment."""
    return [spec for spec in world.book.equipment[name] if spec.module in modules]
