"""How a car is scanned: with which tool, which modules answer, and what their lists name."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from tests.studies.worlds.cars import Car, Entry, World
from tests.studies.worlds.settings import WorldSettings

YEAR = timedelta(days=365)
TOOLS = ("bench", "pocket")


@dataclass(frozen=True, kw_only=True)
class Found:
    """One code on one list, and what truly set it."""

    module: str
    code: str
    state: str
    count: int
    first_km: float
    causes: frozenset[str]


@dataclass(frozen=True, kw_only=True)
class Scan:
    """One scan as the tool shows it.

    Attributes:
        vehicle: Stock number.
        make: Make of the car.
        at: When it truly was.
        shown_at: What the tool's clock says.
        km: Odometer, None where it is not noted.
        tool: bench or pocket; the second reaches fewer modules.
        asked: all, stored or pending.
        partial: The engine only.
        read: Modules that answered.
        silent: Modules that did not.
        found: The codes.
        twice: It is exported twice.
        km_since_erase: As the car tells it, None where it does not.
        ready: Whether the monitors are complete, None where not told.
        purpose: first, before, after, sale or return.
    """

    vehicle: str
    make: str
    at: datetime
    shown_at: datetime
    km: float | None
    tool: str
    asked: str
    partial: bool
    read: tuple[str, ...]
    silent: tuple[str, ...]
    found: tuple[Found, ...]
    twice: bool
    km_since_erase: float | None
    ready: bool | None
    purpose: str


def reached(world: World, seed: int) -> dict[str, frozenset[str]]:
    """Return for each tool the modules that it can talk to."""
    rng = np.random.default_rng([seed, 3])
    every = sorted({module for line in world.lines for module in line.modules} - {"ECM", "ABS", "SRS", "BCM"})
    few = frozenset(m for m in every if rng.random() < world.settings.reach) | {"ECM", "ABS", "SRS", "BCM"}
    return {"bench": frozenset([*every, *few]), "pocket": few}


def state_of(key: tuple[str, str], entry: Entry) -> str:
    """Return the state of a code: the engine's side waits for a second trip before it confirms."""
    if entry.count < 2 and key[0] in ("ECM", "TCM"):
        return "pending"
    return "active" if entry.active else "history" if entry.count > 6 else "confirmed"


def scan(
    world: World, car: Car, at: datetime, purpose: str, rng: np.random.Generator, reach: dict[str, frozenset[str]]
) -> Scan:
    """Scan the car as it stands."""
    settings = world.settings
    tool = TOOLS[int(rng.random() < settings.second_tool)]
    partial = bool(rng.random() < settings.partial)
    asked = _asked(settings, rng)
    there = [m for m in car.line.modules if m in reach[tool]] if not partial else ["ECM"]
    silent = tuple(m for m in there if rng.random() < settings.silent)
    read = tuple(m for m in there if m not in silent)
    behind = YEAR if rng.random() < settings.wrong_clock else timedelta()
    told = rng.random() < 0.5
    since = None if car.erased_km is None else car.km - car.erased_km
    return Scan(
        vehicle=car.vehicle,
        make=car.make,
        at=at,
        shown_at=at - behind,
        km=None if rng.random() < settings.no_distance else round(car.km),
        tool=tool,
        asked=asked,
        partial=partial,
        read=read,
        silent=silent,
        found=tuple(_found(car, read, asked)),
        twice=bool(rng.random() < settings.twice),
        km_since_erase=round(since, 1) if told and since is not None else None,
        ready=since is None or since > 60 if told else None,
        purpose=purpose,
    )


def _asked(settings: WorldSettings, rng: np.random.Generator) -> str:
    luck = rng.random()
    if luck < settings.stored_only:
        return "stored"
    return "pending" if luck < settings.stored_only + settings.pending_only else "all"


def _found(car: Car, read: tuple[str, ...], asked: str) -> list[Found]:
    found = []
    for key, entry in sorted(car.memory.items()):
        state = state_of(key, entry)
        # A list of pending codes also names a confirmed one that failed in its last test.
        named = {"all": True, "stored": state != "pending", "pending": state in ("pending", "active")}[asked]
        if key[0] in read and named:
            found.append(
                Found(
                    module=key[0], code=key[1], state="pending" if asked == "pending" else state, count=entry.count,
                    first_km=round(entry.first_km), causes=frozenset(entry.causes),
                )
            )  # fmt: skip
    return found
