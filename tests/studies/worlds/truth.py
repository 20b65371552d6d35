"""What is truly wrong with the cars to judge: kept apart from every file."""

from dataclasses import dataclass, field

import numpy as np

from tests.studies.worlds.cars import World
from tests.studies.worlds.codes import label
from tests.studies.worlds.faults import BY_NAME, LOOM_COST, LOOM_MINUTES
from tests.studies.worlds.life import FAULTS, Life
from tests.studies.worlds.scanning import Scan
from tests.studies.worlds.workshop import bad_today


@dataclass(frozen=True, kw_only=True)
class FaultTruth:
    """One true fault of a car.

    Attributes:
        name: Unlike any other of the car.
        kind: part, loom or unknown.
        part: The part, or what people call the loom; blank for an unknown cause, which only a specialist ends.
        place: Where it sits, blank where it has one place only.
        codes: What it sets on this car, as the outgoing tables write codes.
        dead: The first new part for it will be bad.
    """

    name: str
    kind: str
    part: str
    place: str
    codes: frozenset[str]
    dead: bool


@dataclass(frozen=True, kw_only=True)
class CarTruth:
    """One car to judge.

    Attributes:
        vehicle: Stock number.
        make: Its make.
        shown: The codes of its last scan, each with the names of its causes: a fault's name, ``equipment ...``,
            ``quirk``, ``low voltage`` or ``old stored``.
        alone: Codes of ``shown`` that equipment or a quirk sets, and no fault: they come back and need not go.
        faults: Its true faults that set at least one code of ``shown``.
        hidden: How many true faults it has beside them: an earlier scan may have shown them, so that they are listed.
    """

    vehicle: str
    make: str
    shown: dict[str, frozenset[str]]
    alone: frozenset[str]
    faults: tuple[FaultTruth, ...]
    hidden: int = 0

    @property
    def passing(self) -> frozenset[str]:
        """Codes of ``shown`` that an erase ends for good."""
        return frozenset(self.shown) - self.alone - self.needed

    @property
    def needed(self) -> frozenset[str]:
        """Codes of ``shown`` that have to go: a fault brings them back."""
        return self.kept_by({fault.name for fault in self.faults})

    def cleared_by(self, fault: FaultTruth) -> frozenset[str]:
        """Return the codes that go for good with this fault alone: an erase ends the passing ones too."""
        others = {other.name for other in self.faults if other is not fault}
        return frozenset(self.shown) - self.alone - self.kept_by(others)

    def kept_by(self, faults: set[str]) -> frozenset[str]:
        """Return the codes that are back after an erase while the named faults are there."""
        return frozenset(code for code, by in self.shown.items() if by & faults)


@dataclass(frozen=True, kw_only=True)
class PriceBook:
    """What a try costs, in the workspace's currency.

    Attributes:
        parts: Price of each part.
        minutes: Labour of each part.
        labour_rate: Per hour.
        specialist: Flat.
        drive_minutes: Labour of a recheck's drive.
        checks: Labour of proving each part faulty, in minutes.
    """

    parts: dict[str, float]
    minutes: dict[str, float]
    labour_rate: float = 45.0
    specialist: float = 300.0
    drive_minutes: float = 20.0
    checks: dict[str, float] = field(default_factory=dict)

    def total(self, part: str) -> float:
        """Return part and labour; a part that no book has costs nothing to buy and an hour of labour."""
        return self.parts.get(part, 0.0) + self.minutes.get(part, 60.0) / 60 * self.labour_rate

    def check(self, part: str) -> float:
        """Return the labour of proving a part faulty."""
        return self.checks.get(part, 0.0) / 60 * self.labour_rate

    @property
    def recheck(self) -> float:
        """What it costs to erase and drive."""
        return self.drive_minutes / 60 * self.labour_rate


def price_book(world: World) -> PriceBook:
    """Return the dealer's prices; mended looms too, which its own price book has not."""
    looms = {f"wiring {module}" for line in world.lines for module in line.modules}
    return PriceBook(
        parts=world.price | dict.fromkeys(sorted(looms), LOOM_COST),
        minutes={part.name: float(part.minutes) for part in world.parts}
        | dict.fromkeys(sorted(looms), float(LOOM_MINUTES)),
        checks={part.name: float(part.check) for part in world.parts},
    )


def truth_of(world: World, life: Life, last: Scan, rng: np.random.Generator) -> CarTruth:
    """Return the truth of one car after its last scan."""
    make = life.car.make
    shown = {label(found.module, found.code, make): found.causes for found in last.found}
    lasting = {label(*key, make) for cause in life.causes if cause.kind not in FAULTS for key in cause.codes}
    alone = frozenset(lasting & set(shown))
    faults = []
    for cause in life.open_faults():
        if any(cause.name in by for by in shown.values()):
            dead = cause.part in BY_NAME and rng.random() < bad_today(world.settings)
            codes = frozenset(label(*key, make) for key in cause.codes)
            fault = FaultTruth(
                name=cause.name, kind=cause.kind, part=cause.part, place=cause.place, codes=codes, dead=bool(dead)
            )
            faults.append(fault)
    hidden = len(life.open_faults()) - len(faults)
    return CarTruth(vehicle=life.car.vehicle, make=make, shown=shown, alone=alone, faults=tuple(faults), hidden=hidden)
