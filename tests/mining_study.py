"""How often does the miner find what is there, and how often what is not?

Draws fleets whose truth is known.  A null fleet has codes that are independent within every
model line, though common on some lines and rare on others, cars that are scanned in several
spells with faults that stay, and modules that are not always read.  A planted fleet has
families on top: a root fault that sets its own code and others.

    python tests/mining_study.py null 200 300        200 null fleets of 300 cars
    python tests/mining_study.py mixed 100 300       100 planted fleets: false share of what is listed
    python tests/mining_study.py planted 20 200 400 800
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import polars as pl
from mining_worlds import Basket, mining_frames

from analysis.mining import Findings, MiningFrames, mine
from analysis.mining.intervals import clopper_pearson

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
    jobs: list[dict[str, object]]
    job_parts: list[dict[str, object]]
    outcomes: list[dict[str, object]]

    def frames(self) -> MiningFrames:
        """Return the miner's frames."""
        return mining_frames(self.baskets, self.codes, self.jobs, self.job_parts, self.outcomes)

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
        stays: Chance that a code still stands at the car's next spell.
        frailty: Spread of a factor on all lone codes of a car: some cars are in a worse state than others.
    """
    rng = np.random.default_rng(seed)
    planted = plant(rng, families)
    lone = [f"{MODULES[n % len(MODULES)]}:B{1000 + n}" for n in range(singles)]
    rates = np.clip(rng.uniform(0.005, 0.05, singles) * rng.lognormal(0, 1.2, (len(LINES), singles)), 0.001, 0.5)
    leaning = rng.lognormal(0, 0.7, (len(LINES), families))
    leaks = {code: 0.005 for family in planted for code in list(family.chances)[1:]}
    fleet = Fleet([], planted, _code_rows(planted), [], [], [])
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
    for spell in range(int(rng.choice([1, 2, 3, 4], p=[0.55, 0.25, 0.12, 0.08]))):
        if spell:
            there = {code: 0 for code in there if rng.random() < stays}
            there |= {code: 0 for code, rate in lone.items() if rng.random() < rate * 0.2}
        read = [module for module in usual if rng.random() < 0.95] or usual[:1]
        seen = {code: minutes for code, minutes in there.items() if code.split(":")[0] in read}
        fleet.baskets.append(Basket(car, LINES[line], seen, read, day=30 * spell))
        if spell == 0 and faulty and rng.random() < 0.5:
            _repair(rng, fleet, car, faulty[0], there)


def _repair(rng: np.random.Generator, fleet: Fleet, car: str, family: Planted, there: dict[str, int]) -> None:
    job = len(fleet.jobs) + 1
    works = rng.random() < 0.8
    fleet.jobs.append({"job_id": job, "vehicle": car, "job": f"J{job}"})
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


def listed_pairs(findings: Findings, verdict: str | None = None) -> set[tuple[str, str]]:
    """Return the listed pairs, of one verdict or of both."""
    pairs = findings.pairs if verdict is None else findings.pairs.filter(pl.col("verdict") == verdict)
    return set(pairs.select("code_a", "code_b").iter_rows())


def false_share(found: set[tuple[str, str]], true: set[tuple[str, str]]) -> float:
    """Return the share of the found pairs that are not true; none found is no false one."""
    return len(found - true) / len(found) if found else 0.0


def share(hits: int, of: int) -> str:
    """Return a share with its exact interval, as text."""
    low, high = clopper_pearson(hits, of)
    return f"{hits}/{of} = {hits / of:.3f} ({low:.3f}-{high:.3f})"


def mean_of(values: list[float]) -> str:
    """Return a mean with a normal 95 % interval, as text."""
    half = 1.96 * float(np.std(values, ddof=1)) / len(values) ** 0.5 if len(values) > 1 else float("nan")
    return f"{np.mean(values):.3f} (+-{half:.3f})"


def null_study(fleets: int, cars: int, first_seed: int = 10_000) -> dict[str, tuple[int, int]]:
    """Return, per way of counting, in how many null fleets a pair was confirmed and in how many one was likely."""
    ways = {"as built": lambda fleet: fleet, "every basket a car": as_single_baskets, "no lines": as_one_line}
    hits = {way: [0, 0] for way in ways}
    for seed in range(first_seed, first_seed + fleets):
        fleet = draw_fleet(seed, cars)
        for way, change in ways.items():
            found = mine(change(fleet).frames(), min_vehicles=3, q_value=0.05)
            hits[way][0] += bool(listed_pairs(found, "confirmed"))
            hits[way][1] += bool(listed_pairs(found))
    return {way: (confirmed, listed) for way, (confirmed, listed) in hits.items()}


def mixed_study(fleets: int, cars: int, first_seed: int = 20_000) -> dict[str, tuple[list[float], list[float]]]:
    """Return, per way of counting, the false share of the listed and of the confirmed pairs in planted fleets."""
    ways = {"as built": lambda fleet: fleet, "every basket a car": as_single_baskets, "no lines": as_one_line}
    shares: dict[str, tuple[list[float], list[float]]] = {way: ([], []) for way in ways}
    for seed in range(first_seed, first_seed + fleets):
        fleet = draw_fleet(seed, cars, families=6)
        for way, change in ways.items():
            found = mine(change(fleet).frames(), min_vehicles=3, q_value=0.05)
            shares[way][0].append(false_share(listed_pairs(found), fleet.true_pairs()))
            shares[way][1].append(false_share(listed_pairs(found, "confirmed"), fleet.true_pairs()))
    return shares


@dataclass(frozen=True)
class Score:
    """How one planted fleet was read: recall of pairs seen in six cars or more, precision, families, roots."""

    seen: int
    found: int
    listed: int
    false: int
    agreement: float
    roots: tuple[int, int, int]


def score(fleet: Fleet, findings: Findings, frames: MiningFrames) -> Score:
    """Compare what was found with what was planted."""
    met = frames.pair_counts.group_by("code_a", "code_b").agg(pl.col("vehicles").sum())
    seen = set(met.filter(pl.col("vehicles") >= 6).select("code_a", "code_b").iter_rows()) & fleet.true_pairs()
    listed = listed_pairs(findings)
    visible = {code for pair in seen for code in pair}
    planted = [set(family.chances) & visible for family in fleet.families if len(set(family.chances) & visible) > 1]
    found = [set(codes) for codes in findings.families["codes"].to_list()]
    any_size = [set(family.chances) for family in fleet.families]
    return Score(
        len(seen),
        len(seen & listed),
        len(listed),
        len(listed - fleet.true_pairs()),
        float(np.mean([*best_matches(planted, found), *best_matches(found, any_size)])),
        root_marks(fleet, findings),
    )


def best_matches(groups: list[set[str]], others: list[set[str]]) -> list[float]:
    """Return for each group the F1 of the other group that fits it best."""
    return [max((2 * len(g & o) / (len(g) + len(o)) for o in others), default=0.0) for g in groups]


def root_marks(fleet: Fleet, findings: Findings) -> tuple[int, int, int]:
    """Count the found families, matched to planted ones, whose root is right, wrong and undetermined."""
    marks = [0, 0, 0]
    for codes, root in findings.families.select("codes", "root").iter_rows():
        fit = best_matches([set(codes)], [set(family.chances) for family in fleet.families])
        if fit[0] < 0.5:
            continue
        shares = [2 * len(set(codes) & set(f.chances)) / (len(codes) + len(f.chances)) for f in fleet.families]
        true = fleet.families[int(np.argmax(shares))].root
        marks[2 if root is None else 0 if root == true else 1] += 1
    return marks[0], marks[1], marks[2]


def planted_study(fleets: int, cars: int, first_seed: int = 30_000) -> list[Score]:
    """Draw planted fleets of one size and score the miner on each."""
    scores = []
    for seed in range(first_seed, first_seed + fleets):
        fleet = draw_fleet(seed, cars, families=8)
        frames = fleet.frames()
        scores.append(score(fleet, mine(frames, min_vehicles=3, q_value=0.05), frames))
    return scores


def print_null(fleets: int, cars: int) -> None:
    """Print the null study of one size."""
    for way, (confirmed, listed) in null_study(fleets, cars).items():
        print(
            f"{cars} cars, {way}: a confirmed pair in {share(confirmed, fleets)}, any pair in {share(listed, fleets)}"
        )


def print_mixed(fleets: int, cars: int) -> None:
    """Print the study of the false share of one size."""
    for way, (listed, confirmed) in mixed_study(fleets, cars).items():
        print(f"{cars} cars, {way}: false share listed {mean_of(listed)}, confirmed {mean_of(confirmed)}")


def print_planted(fleets: int, cars: int) -> None:
    """Print the planted study of one size."""
    scores = planted_study(fleets, cars)
    total = [sum(getattr(one, name) for one in scores) for name in ("seen", "found", "listed", "false")]
    right, wrong, open_ = (sum(one.roots[place] for one in scores) for place in range(3))
    print(
        f"{cars} cars: recall {share(total[1], total[0])}, precision {share(total[2] - total[3], total[2])}, "
        f"families F1 {mean_of([one.agreement for one in scores])}, "
        f"roots right {right} wrong {wrong} undetermined {open_}"
    )


if __name__ == "__main__":
    what, fleets, *sizes = sys.argv[1], *map(int, sys.argv[2:])
    for size in sizes:
        {"null": print_null, "mixed": print_mixed, "planted": print_planted}[what](fleets, size)
