"""Draws fleets whose truth is known, for the miner's tests and its study.

A null fleet has codes that are independent within every model line, though common on some
lines and rare on others, cars that are scanned in several episodes with faults that stay, and
modules that are not always read.  A planted fleet has families on top: a root fault that
sets its own code and others, told by other modules or by its own, some with a twin.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from analysis.mining import MiningFrames
from tests.support.mining_worlds import Basket, mining_frames

MODULES = ("ABS", "BCM", "ECM", "EPS", "IPC", "SRS", "TCM")
LINES = ("corvane alder", "corvane birch", "aldane pilot", "brillon six", "tesmar linnet", "oskany duo")


@dataclass(frozen=True)
class Planted:
    """One planted family: its root code, the chance of each code on a car that has the fault, and the part."""

    root: str
    chances: dict[str, float]
    rate: float
    part: str


@dataclass(frozen=True)
class Fleet:
    """A drawn fleet and its truth."""

    baskets: list[Basket]
    families: list[Planted]
    codes: list[dict[str, object]]
    job_parts: list[dict[str, object]]
    outcomes: list[dict[str, object]]

    def frames(self) -> MiningFrames:
        """Return the miner's frames."""
        return mining_frames(self.baskets, self.codes, self.job_parts, self.outcomes)

    def true_pairs(self) -> set[tuple[str, str]]:
        """Return the pairs of codes that share a planted fault."""
        return {pair for family in self.families for pair in combinations(sorted(family.chances), 2)}


def plant(rng: np.random.Generator, count: int) -> list[Planted]:
    """Draw families: even ones are told by other modules, odd ones live in their own module, some are twins."""
    families = []
    for place in range(count):
        home, *others = (MODULES[at] for at in rng.permutation(len(MODULES)))
        root = f"{home}:C1{place:03d}" if place % 2 == 0 else f"{home}:P1{place:03d}"
        size = int(rng.integers(2, 6))
        tail = (
            [f"{other}:U1{place:03d}" for other in others]
            if place % 2 == 0
            else [f"{home}:P2{place}{n}0" for n in range(6)]
        )
        chances = {root: float(rng.uniform(0.7, 0.95))}
        chances |= {code: float(rng.uniform(0.35, 0.85)) for code in tail[:size]}
        if place % 4 == 2:  # a twin of the family before last: its own root, told by the same codes
            twin = families[-2]
            root = f"{twin.root.split(':')[0]}:C1{place:03d}"
            chances = {root: chances.popitem()[1]} | {
                code: float(rng.uniform(0.35, 0.85)) for code in list(twin.chances)[1:]
            }
        families.append(Planted(root, chances, float(rng.uniform(0.02, 0.08)), f"part {place}"))
    return families


def draw_fleet(
    seed: int, cars: int, families: int = 0, singles: int = 80, stays: float = 0.6, frailty: float = 0.0
) -> Fleet:
    """Draw a fleet.

    Args:
        seed: Seed of the fleet; equal seeds give equal fleets.
        cars: Number of cars.
        families: Number of planted families.
        singles: Number of codes that come alone.
        stays: Chance that a code still stands at the car's next episode.
        frailty: Spread of a factor on all lone codes of a car: some cars are in a worse state than others.
    """
    rng = np.random.default_rng(seed)
    planted = plant(rng, families)
    lone = [f"{MODULES[n % len(MODULES)]}:B{1000 + n}" for n in range(singles)]
    rates = np.clip(rng.uniform(0.005, 0.05, singles) * rng.lognormal(0, 1.2, (len(LINES), singles)), 0.001, 0.5)
    leaning = rng.lognormal(0, 0.7, (len(LINES), families))
    leaks = {code: 0.005 for family in planted for code in list(family.chances)[1:]}
    fleet = Fleet([], planted, _code_rows(planted), [], [])
    shares = rng.dirichlet(np.full(len(LINES), 2.0))
    for car in range(cars):
        line = int(rng.choice(len(LINES), p=shares))
        worn = float(rng.lognormal(-(frailty**2) / 2, frailty)) if frailty else 1.0
        chances = leaks | dict(zip(lone, np.minimum(rates[line] * worn, 0.9), strict=True))
        _draw_car(rng, fleet, f"car {car:04d}", line, chances, leaning[line], stays)
    return fleet


def _code_rows(planted: list[Planted]) -> list[dict[str, object]]:
    rows: list[dict[str, object]] = []
    for family in planted:
        rows.append({"code": family.root, "text": f"{family.part} faulty", "component": family.part})
        reports = [code for code in family.chances if ":U" in code]
        rows += [{"code": code, "points_at": family.root.split(":")[0], "text": "no messages"} for code in reports]
    return rows


def _draw_car(
    rng: np.random.Generator,
    fleet: Fleet,
    car: str,
    line: int,
    lone: dict[str, float],
    leaning: np.ndarray,
    stays: float,
) -> None:
    usual = [module for module in MODULES if rng.random() < 0.85] or ["ECM"]
    there: dict[str, int] = {code: 0 for code, rate in lone.items() if rng.random() < rate}
    faulty = [
        family
        for family, lean in zip(fleet.families, leaning, strict=True)
        if rng.random() < min(family.rate * lean, 0.3)
    ]
    for family in faulty:
        later = rng.random() < 0.4  # in these cars the followers were stored after the root
        for code, chance in family.chances.items():
            if rng.random() < chance:
                there[code] = int(rng.integers(5, 600)) if later and code != family.root else 0
    for episode in range(int(rng.choice([1, 2, 3, 4], p=[0.55, 0.25, 0.12, 0.08]))):
        if episode:
            there = {code: 0 for code in there if rng.random() < stays}
            there |= {code: 0 for code, rate in lone.items() if rng.random() < rate * 0.2}
        read = [module for module in usual if rng.random() < 0.95] or usual[:1]
        seen = {code: minutes for code, minutes in there.items() if code.split(":")[0] in read}
        fleet.baskets.append(Basket(car, LINES[line], seen, read, day=30 * episode))
        if episode == 0 and faulty and rng.random() < 0.5:
            _repair(rng, fleet, car, faulty[0], there)


def _repair(rng: np.random.Generator, fleet: Fleet, car: str, family: Planted, there: dict[str, int]) -> None:
    job = len(fleet.job_parts) + 1
    works = rng.random() < 0.8
    fleet.job_parts.append({"job_id": job, "part": family.part, "position": "", "action": "replace"})
    for code in sorted(there):
        gone = works and code in family.chances
        row = {"job_id": job, "vehicle": car, "module": code.split(":")[0], "code": code}
        fleet.outcomes.append(row | {"outcome": "cleared" if gone else "returned"})
        if gone:
            del there[code]


def as_single_baskets(fleet: Fleet) -> Fleet:
    """Return the fleet with every basket counted as a car of its own."""
    return replace(fleet, baskets=[replace(basket, vehicle=f"{n:05d}") for n, basket in enumerate(fleet.baskets)])


def as_one_line(fleet: Fleet) -> Fleet:
    """Return the fleet with all model lines thrown together."""
    return replace(fleet, baskets=[replace(basket, line="all") for basket in fleet.baskets])
