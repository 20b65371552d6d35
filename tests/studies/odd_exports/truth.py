"""One invented dealer: cars, scans, repairs and parts, from which every odd export is drawn.

Makes, models, numbers and people are invented.  The codes are generic ones, whose meaning
the public standards give; the wording is our own.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from datetime import datetime

MAKES = (("Corvane", "Lista"), ("Dolmen", "Tarn"), ("Ostrava Nord", "Bria"), ("Quillon", "Seto"))
MODULES = ("ECM", "TCM", "ABS", "BCM", "SRS")
CODES = {
    "ECM": (
        ("P0301", "Cylinder 1 misfire detected"),
        ("P0171", "System too lean, bank 1"),
        ("P0420", "Catalyst efficiency below threshold"),
        ("U0121", "Lost communication with brake control"),
    ),
    "TCM": (("P0700", "Transmission control system"), ("P0720", "Output speed sensor circuit")),
    "ABS": (("C0035", "Left front wheel speed sensor"), ("C0040", "Right front wheel speed sensor")),
    "BCM": (("B1317", "Battery voltage high"), ("U0140", "Lost communication with body control")),
    "SRS": (("B0001", "Driver frontal stage 1 deployment control"), ("B0051", "Seat belt, driver side")),
}
STATUSES = ("active", "pending", "confirmed", "history")
_PARTS = ("ignition coil", "wheel speed sensor", "battery", "oxygen sensor", "brake light switch")


@dataclass(frozen=True, kw_only=True)
class Car:
    """A car in stock."""

    number: str
    make: str
    model: str
    year: int
    price: float


@dataclass(frozen=True, kw_only=True)
class Fault:
    """A stored code: the code, its status and its wording."""

    code: str
    status: str
    text: str


@dataclass(frozen=True, kw_only=True)
class Scan:
    """One scan: car, time to the minute, odometer in km, and each module that answered with its codes."""

    car: Car
    when: datetime
    km: int
    modules: tuple[tuple[str, tuple[Fault, ...]], ...]


@dataclass(frozen=True, kw_only=True)
class Job:
    """One action of one job."""

    car: Car
    job: str
    day: datetime
    km: int
    part: str
    cost: float
    minutes: int


@dataclass(frozen=True, kw_only=True)
class Truth:
    """All of it."""

    cars: tuple[Car, ...]
    scans: tuple[Scan, ...]
    jobs: tuple[Job, ...]
    parts: tuple[tuple[str, float, int], ...]


def draw(rng: random.Random, *, first_days_only: bool = False, most_codes: int = 3) -> Truth:
    """Draw a dealer.

    Args:
        rng: Where the chance comes from.
        first_days_only: Every day of every date is below 13, so that it could be a month.
        most_codes: Most codes a module has.

    Returns:
        4 to 6 cars, 12 to 20 scans, 8 jobs and the price book.  Where ``first_days_only`` is not set, one day at
        least lies above 12.
    """
    cars = tuple(
        Car(
            number=f"K{100 + 7 * place + rng.randrange(5)}",
            make=MAKES[place % len(MAKES)][0],
            model=MAKES[place % len(MAKES)][1],
            year=rng.randint(2009, 2022),
            price=rng.randrange(2500, 14000) + rng.choice((0, 0.5)),
        )
        for place in range(rng.randint(4, 6))
    )
    scans = []
    for place in range(rng.randint(12, 20)):
        car = cars[place % len(cars)]
        scans.append(_scan(rng, car, place, first_days_only, most_codes))
    jobs = tuple(
        Job(
            car=rng.choice(cars),
            job=f"J{500 + place}",
            day=_moment(rng, place, first_days_only).replace(hour=0, minute=0),
            km=rng.randrange(20_000, 190_000),
            part=rng.choice(_PARTS),
            cost=rng.randrange(800, 19_000) / 100,
            minutes=rng.choice((15, 30, 45, 90)),
        )
        for place in range(8)
    )
    parts = tuple((part, rng.randrange(500, 150_000) / 100, rng.choice((10, 20, 45))) for part in _PARTS)
    return Truth(cars=cars, scans=tuple(scans), jobs=jobs, parts=parts)


def _moment(rng: random.Random, place: int, first_days_only: bool) -> datetime:
    day = rng.randint(1, 12) if first_days_only else (rng.randint(13, 28) if place == 0 else rng.randint(1, 28))
    return datetime(2025, rng.randint(1, 12), day, rng.randint(0, 23), rng.randint(0, 59))


def _scan(rng: random.Random, car: Car, place: int, first_days_only: bool, most_codes: int) -> Scan:
    modules = []
    for module in rng.sample(MODULES, rng.randint(2, 4)):
        some = rng.sample(CODES[module], min(len(CODES[module]), rng.randint(0, most_codes)))
        faults = tuple(Fault(code=code, status=rng.choice(STATUSES), text=text) for code, text in some)
        modules.append((module, faults))
    if not any(faults for _, faults in modules):
        code, text = CODES[modules[0][0]][0]
        modules[0] = (modules[0][0], (Fault(code=code, status="active", text=text),))
    return Scan(
        car=car, when=_moment(rng, place, first_days_only), km=rng.randrange(20_000, 190_000), modules=tuple(modules)
    )
