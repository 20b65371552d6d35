"""What happens to a car at the dealer: scanned, repaired by somebody, driven, scanned again, sold, and seen again.

Each car's story is a generator that yields the moment of its next event; whoever runs the stories takes them in the
order of time, so that what the people learn on one car is known when the next comes in.
"""

from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import numpy as np

from tests.studies.worlds.cars import Car, World, draw_car
from tests.studies.worlds.faults import BY_NAME, LOOM_COST, LOOM_MINUTES
from tests.studies.worlds.life import ALONE, Life
from tests.studies.worlds.people import Choice, Chooser, Mechanic, draw_mechanics
from tests.studies.worlds.scanning import Found, Scan, reached, scan
from tests.studies.worlds.settings import WorldSettings

SUPPLIERS = (("Halvard Parts", 0.5, 0.6), ("Nordkette", 0.3, 1.0), ("Depot Nine", 0.2, 2.0))
"""Name, share of orders, bad parts in terms of the average (.5 * .6 + .3 + .2 * 2 = 1)."""
DRIFTS, DRIFTS_FROM = "Nordkette", 0.55
"""The supplier that gets worse, and from which share of the days on."""
ROUNDS = 4
KNOWS_EQUIPMENT = 0.5
TRIES_A_STORED_CODE = 0.5


@dataclass(frozen=True, kw_only=True)
class JobRow:
    """One row of a job: what was written down, and what was truly done.

    Attributes:
        action: As in the repair log.
        written: The part as it was written down.
        written_place: Its place as it was written down.
        supplier: Who sold it.
        cost: What was paid, None where not noted.
        minutes: Labour, None where not noted.
        part: The part that was truly fitted.
        place: Where.
        good: Whether the new part is.
        misplaced: It was meant for another place.
        lasts_km: How far the repair lasts, None: for good.
    """

    action: str
    written: str = ""
    written_place: str = ""
    supplier: str = ""
    cost: float | None = None
    minutes: int | None = None
    part: str = ""
    place: str = ""
    good: bool = True
    misplaced: bool = False
    lasts_km: float | None = None


@dataclass(frozen=True, kw_only=True)
class Job:
    """One visit to the workshop.

    Attributes:
        vehicle: Stock number.
        job: Its number.
        at: When it truly was.
        logged_at: The day that is written down.
        km: Odometer.
        rows: What was written down.
        erased: Codes were erased.
        twice: It is in the log twice.
        way: How the part was chosen; blank where none was.
        ended: The causes that it ended.
        unplugged: A module was unplugged meanwhile.
        note: In the log.
    """

    vehicle: str
    job: str
    at: datetime
    logged_at: datetime
    km: float
    rows: tuple[JobRow, ...]
    erased: bool
    twice: bool
    way: str
    ended: tuple[str, ...]
    unplugged: bool = False
    note: str = ""


@dataclass(kw_only=True)
class Shop:
    """The dealer while it is drawn: what was scanned and done so far."""

    world: World
    seed: int
    start: datetime
    rng: np.random.Generator
    scans: list[Scan] = field(default_factory=list)
    jobs: list[Job] = field(default_factory=list)
    lives: dict[str, Life] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.reach = reached(self.world, self.seed)
        self.people = draw_mechanics(self.world, self.rng)
        self.chooser = Chooser(self.world)

    def scan(self, car: Car, at: datetime, purpose: str, rng: np.random.Generator) -> list[Found]:
        """Scan a car; return the codes shown."""
        taken = scan(self.world, car, at, purpose, rng, self.reach)
        self.scans.append(taken)
        return list(taken.found)


def bring_in(shop: Shop, vehicle: str, bought: datetime, rng: np.random.Generator) -> Life:
    """Buy a car with its past: what its modules hold, and what the seller did about it."""
    settings = shop.world.settings
    car = draw_car(shop.world, rng, vehicle, bought, (bought - shop.start).days)
    life = Life(shop.world, car, rng, bought.month)
    shop.lives[vehicle] = life
    life.drive(150.0, bought.month)
    if rng.random() < settings.old_stored:
        car.old_stored = True
        fits, weights = shop.world.weights(car, bought.month)
        part = fits[int(rng.choice(len(fits), p=weights))]
        shown = life.manifest(part, str(rng.choice(part.places)))
        life.store({(module, code) for module, code, _ in shown}, "old stored")
    if rng.random() < settings.low_voltage:
        car.low_voltage = True
        dips = {(m, "U3003") for m in car.line.modules if m not in ("ECM", "ABS") and rng.random() < 0.6}
        dips |= {("ECM", "P0562")} | ({("ABS", "C0564")} if rng.random() < 0.7 else set())
        asleep = str(rng.choice(car.line.modules))
        code = shop.world.book.lost(asleep, "lost")
        dips |= {(other, code) for other in car.line.listeners[asleep] if code}
        life.store(dips, "low voltage")
    if rng.random() < settings.seller_erases:
        car.seller_erased = True
        car.erase()
    life.drive(float(rng.uniform(5, 80)), bought.month)
    return life


def story(shop: Shop, vehicle: str, bought: datetime, rng: np.random.Generator) -> Iterator[datetime]:
    """Tell a car's time at the dealer; yields when each event is due, which then happens."""
    yield bought
    life = bring_in(shop, vehicle, bought, rng)
    now = bought + timedelta(hours=float(rng.uniform(1, 30)))
    yield now
    found = shop.scan(life.car, now, "first", rng)
    now = yield from _worked_off(shop, life, found, now, rng)
    now = _at_work(now + timedelta(days=float(rng.uniform(5, 50))))
    yield now
    if rng.random() < 0.4:
        life.drive(float(rng.uniform(2, 40)), now.month)
        shop.scan(life.car, now, "sale", rng)
    life.car.sold = now
    if rng.random() < shop.world.settings.comes_back:
        now = _at_work(now + timedelta(days=float(rng.uniform(60, 400))))
        yield now
        life.drive(float(rng.uniform(3_000, 20_000)), now.month)
        found = shop.scan(life.car, now, "return", rng)
        yield from _worked_off(shop, life, found, now, rng)


def _at_work(moment: datetime) -> datetime:
    return moment.replace(hour=8 + moment.minute % 9)


def _worked_off(
    shop: Shop, life: Life, found: list[Found], now: datetime, rng: np.random.Generator
) -> Generator[datetime, None, datetime]:
    """Repair until the codes are gone, nobody looks any more, or the car is handed over; returns the moment."""
    settings, tried, only_erase = shop.world.settings, set[Choice](), rng.random() < shop.world.settings.erase_first
    for attempt in range(ROUNDS):
        person = shop.people[int(rng.integers(len(shop.people)))]
        cared_for = _cared_for(life, found, rng)
        if not cared_for:
            break
        now = _at_work(now + timedelta(days=float(rng.uniform(0.5, 9))))
        yield now
        life.drive(float(rng.uniform(1, 30)), now.month)
        if rng.random() < 0.35:
            cared_for = _cared_for(life, shop.scan(life.car, now, "before", rng), rng) or cared_for
        now += timedelta(hours=float(rng.uniform(0.5, 3)))
        if only_erase and attempt == 0:
            parts: list[str] = []
            _log(shop, life, now, [], True, rng, note="erased, to see what comes back")
        elif attempt == ROUNDS - 1:
            _hand_over(shop, life, now, rng)
            parts = []
        else:
            parts = _repair(shop, life, person, cared_for, tried, now, rng)
        now += timedelta(days=float(rng.uniform(0.05, 6)))
        yield now
        life.drive(float(rng.uniform(0, 300)) if rng.random() < 0.8 else float(rng.uniform(0, 5)), now.month)
        if rng.random() < settings.no_scan_after:
            break
        found = shop.scan(life.car, now, "after", rng)
        if parts and not {(f.module, f.code) for f in found} & {(f.module, f.code) for f in cared_for}:
            person.remember(life.car.make, cared_for, parts)
    return now


def _cared_for(life: Life, found: list[Found], rng: np.random.Generator) -> list[Found]:
    """The codes that somebody would work on: equipment is often known for what it is, an old code often ignored."""
    alone = {key for cause in life.causes if cause.kind in ALONE for key in cause.codes}
    return [
        code
        for code in found
        if not ((code.module, code.code) in alone and rng.random() < KNOWS_EQUIPMENT)
        and not (code.state == "history" and rng.random() > TRIES_A_STORED_CODE)
    ]


def _repair(
    shop: Shop, life: Life, person: Mechanic, found: list[Found], tried: set[Choice], now: datetime,
    rng: np.random.Generator,
) -> list[str]:  # fmt: skip
    """One job: choose, fit, mostly erase; returns the parts that were fitted."""
    settings = shop.world.settings
    choice, way = shop.chooser.choose(person, life, found, tried, rng)
    if choice is None:
        _log(shop, life, now, [], rng.random() < person.erases, rng, note="looked, nothing found")
        return []
    chosen = [choice]
    tried.add(choice)
    if rng.random() < settings.two_at_once:
        second, _ = shop.chooser.choose(person, life, found, tried, rng)
        if second is not None and second not in chosen:
            chosen.append(second)
            tried.add(second)
    rows, ended = [], []
    for wanted in chosen:
        put = shop.chooser.misplaced(wanted, rng)
        row = replace(_fitted(shop, life, put, now, rng), misplaced=put != wanted)
        rows.append(row)
        ended += [cause.name for cause in life.fit(row.part, row.place, row.good, row.lasts_km)]
    unplugged = bool(rng.random() < settings.unplugged)
    _log(shop, life, now, rows, bool(rng.random() < person.erases), rng, way=way, ended=ended, unplugged=unplugged)
    if unplugged:
        module = str(rng.choice(life.car.line.modules))
        code = shop.world.book.lost(module, "lost")
        life.store({(other, code) for other in life.car.line.listeners[module] if code}, "unplugged")
    return [part for part, _ in chosen]


def bad_today(settings: WorldSettings) -> float:
    """Return how often a new part is bad that is bought where this dealer buys, after one supplier got worse."""
    drifts = {DRIFTS: settings.drift} if settings.drift else {}
    return sum(share * drifts.get(name, settings.bad_new * bad) for name, share, bad in SUPPLIERS)


def _fitted(shop: Shop, life: Life, choice: Choice, now: datetime, rng: np.random.Generator) -> JobRow:
    settings, (part, place) = shop.world.settings, choice
    lasts = float(rng.uniform(5_000, 15_000)) if rng.random() < settings.short_lived else None
    if part not in BY_NAME:
        minutes = round(LOOM_MINUTES * float(rng.uniform(0.7, 1.4)))
        return JobRow(action="repair", written=part, cost=LOOM_COST, minutes=minutes, part=part, lasts_km=lasts)
    name, _, bad = SUPPLIERS[int(rng.choice(len(SUPPLIERS), p=[share for _, share, _ in SUPPLIERS]))]
    drifted = settings.drift and name == DRIFTS and (now - shop.start).days > DRIFTS_FROM * settings.days
    good = rng.random() >= (settings.drift if drifted else settings.bad_new * bad)
    written, written_place = part, place
    if rng.random() < settings.alias:
        written = str(rng.choice(BY_NAME[part].also))
    if rng.random() < settings.free_text:
        written, written_place = f"new {written} {place}".strip() + " fitted", ""
    return JobRow(
        action="replace", written=written, written_place=written_place, supplier=name,
        cost=round(shop.world.price[part] * float(rng.uniform(0.92, 1.08)), 2) if rng.random() < 0.9 else None,
        minutes=round(BY_NAME[part].minutes * float(rng.uniform(0.8, 1.4))), part=part, place=place, good=bool(good),
        lasts_km=lasts,
    )  # fmt: skip


def _hand_over(shop: Shop, life: Life, now: datetime, rng: np.random.Generator) -> None:
    """A specialist ends every fault."""
    faults = life.open_faults()
    for cause in faults:
        cause.fixed = True
    _log(shop, life, now, [], True, rng, ended=[c.name for c in faults], note="handed over to the specialist")


def _log(
    shop: Shop, life: Life, now: datetime, rows: list[JobRow], erased: bool, rng: np.random.Generator,
    way: str = "", ended: Sequence[str] = (), unplugged: bool = False, note: str = "",
) -> None:  # fmt: skip
    """Write the job down, a week late now and then; erase where that was done."""
    settings, car = shop.world.settings, life.car
    late = timedelta(days=float(rng.uniform(4, 9))) if rng.random() < settings.late else timedelta()
    written = list(rows) or ([] if erased and not note.startswith("handed") else [JobRow(action="inspect")])
    if erased:
        written.append(JobRow(action="erase"))
        car.erase()
    shop.jobs.append(
        Job(
            vehicle=car.vehicle, job=f"J{len(shop.jobs) + 1:05d}", at=now, logged_at=now + late,
            km=round(car.km), rows=tuple(written), erased=erased, twice=bool(rng.random() < settings.logged_twice),
            way=way, ended=tuple(ended), unplugged=unplugged, note=note,
        )
    )  # fmt: skip
