"""What can the last scan of a car not show: faults whose codes were erased, or sit in a module that was not read?

An erase takes every code, and a code comes back only once the car was driven far enough.  So a missing code is not
known to be absent: it is still missing with a chance that falls with the distance since the erase.  What may hide is
what the dealer's own cars had when they came in, each as far as it would not have shown here: a past car whose faults
would have shown by now says nothing, one whose codes take long to wake says much.  Cars of the same line count in full.
"""

from collections import defaultdict
from dataclasses import dataclass
from math import exp, log

import numpy as np
import polars as pl

from analysis.diagnosis.decision.appraisal import costs_to_clear
from analysis.diagnosis.decision.policy import plan_after_erase
from analysis.diagnosis.decision.repair_model import RECHECK, Step, chance_of
from analysis.diagnosis.engine import DiagnosisModel
from analysis.diagnosis.inference.posterior import Car
from analysis.diagnosis.inputs.frames import DiagnosisFrames
from analysis.diagnosis.inputs.training_data import can_occur, known_make

PROVEN = 0.9
"""Nine of ten causes have shown: as far as that a car is to be driven before a scan tells (as for a road test)."""
LONG_SINCE_KM = 300.0
"""A first scan that was taken so far behind an erase shows what there is."""
OTHERS = 20.0
"""Cars of other lines count as so many of this one together."""
MOST_PAST = 400
"""So many past cars are looked at most, every so-manieth of them where there are more."""
FEWEST_JOBS = 5
"""With fewer jobs than this, cars of the line do not tell which modules they have."""
DRAWS = 2000
WORTH_SAYING = 0.02
"""Something that hides with less chance than this is not spoken of."""


@dataclass(frozen=True, kw_only=True)
class Unseen:
    """What a car's last scan cannot show.

    Attributes:
        chance: Chance that some code which has to go is missing from it.
        costs: What that costs: cost in cents, share (summing to 1), ascending; most often mainly 0.
        km: Distance since the erase, None where none is known.
        more_km: How much farther to drive until a scan shows nine of ten faults; 0 where no erase is known.
        unread: Modules that cars like it have and that were not read, sorted.
    """

    chance: float
    costs: pl.DataFrame
    km: float | None
    more_km: float
    unread: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class _PastCar:
    """What one past car had when it came in.

    Attributes:
        line: Its line.
        codes: What it showed that has to go, by key; empty: nothing.
        passed: Chance that an erase alone ends it all.
        two: Chance that it has more than one fault, given that it has one.
        costs: (draws,) what it costs once the codes are back after the erase, in cents.
    """

    line: str
    codes: tuple[str, ...]
    passed: float
    two: float
    costs: np.ndarray


class PastCars:
    """The dealer's cars as they came in, each diagnosed once."""

    def __init__(self, model: DiagnosisModel):
        """Diagnose what past cars showed before their first job.

        Args:
            model: What all cars are diagnosed with.
        """
        self._model = model
        frames = model.frames
        self._column = {code: d for d, code in enumerate(model.codes)}
        fresh = pl.col("erased_km") < LONG_SINCE_KM
        known = frames.first_codes.filter(~fresh.fill_null(False))
        self._fresh = _fresh_erases(frames.first_codes)
        shown: dict[tuple[str, str, str], list[str]] = defaultdict(list)
        for vehicle, make, line, code in known.select("vehicle", "make", "line", "code").sort("vehicle").iter_rows():
            shown[vehicle, make or "", line or ""] += [code] if code in self._column else []
        step = -(-len(shown) // MOST_PAST)
        chosen = [car for number, car in enumerate(sorted(shown)) if number % max(step, 1) == 0]
        seen: dict[tuple[str, tuple[str, ...]], _PastCar] = {}
        self._cars: list[tuple[str, _PastCar]] = []
        for car in chosen:
            _, make, line = car
            codes = tuple(sorted(shown[car]))
            if (make, codes) not in seen:
                seen[make, codes] = self._diagnosed(make, line, codes)
            self._cars.append((line, seen[make, codes]))
        told = frames.return_distances.select("code", "return_km").iter_rows()
        self._km: dict[str, float] = {code: float(km) for code, km in told}

    def _diagnosed(self, make: str, line: str, codes: tuple[str, ...]) -> _PastCar:
        nothing = _PastCar(line=line, codes=(), passed=1.0, two=0.0, costs=np.zeros(1))
        if not codes:
            return nothing
        model = self._model
        columns = sorted(self._column[code] for code in codes)
        absent = can_occur([known_make(make)], model.frames.codes)[0]
        absent[columns] = False
        names = model.parameters.make_names
        row = names.index(known_make(make)) if make and known_make(make) in names else len(names) - 1
        car = Car(
            vehicle="", make=row, codes=columns, absent=absent, stale=np.zeros(len(columns), dtype=bool), failed=set()
        )
        posterior, repair, eligible = model.weigh(car)
        if not repair.scope.any():
            return nothing
        steps = [Step(part=RECHECK, chance=0.0, cost=0.0), *plan_after_erase(repair, eligible)]
        costs = costs_to_clear(repair, steps, draws=DRAWS).filter(pl.col("cost") > 0)
        spent = np.repeat(costs["cost"].to_numpy(), np.round(costs["share"].to_numpy() * DRAWS).astype(int))
        sizes = posterior.weights.sizes()[0]
        return _PastCar(
            line=line,
            codes=tuple(model.codes[d] for d, yes in zip(columns, repair.scope, strict=True) if yes),
            passed=chance_of(repair, RECHECK),
            two=float(sizes[2:].sum() / max(sizes[1:].sum(), 1e-9)),
            costs=spent if len(spent) else np.zeros(1),
        )

    def return_km(self, code: str) -> float:
        """Return the mean distance in km at which a code wakes again."""
        usual = self._model.costs.road_test_km / -log(1 - PROVEN)
        return self._km.get(code, self._km.get("", usual))

    def silent(self, code: str, km: float | None) -> float:
        """Return the chance that a code whose cause is there is missing so far behind an erase; None: no erase."""
        return 0.0 if km is None else exp(-km / self.return_km(code))

    def hidden(
        self, line: str, erase: tuple[float | None, bool], read: set[str], shown: set[str]
    ) -> tuple[float, np.ndarray]:
        """Return the chance that something hides, and what it costs where it does.

        Args:
            line: The car's line.
            erase: Distance since the erase, None where none is known; and whether the car tells what it knows of that.
            read: Modules that were read.
            shown: Codes that the scan does show.

        Returns:
            ``(chance, costs (some draws,))``; with nothing known of past cars ``(0, (0,))``.
        """
        weight, has = self._weights(line), self.modules(line)

        km, tells = erase

        def silent(codes: tuple[str, ...]) -> float:
            homes = [code.split(":", maxsplit=1)[0] for code in codes]
            there = float(np.prod([has.get(home, 0.0) for home in set(homes) - read]))
            seen = [code for code, home in zip(codes, homes, strict=True) if home in read]
            if km is None and not tells and seen:
                # Erased or not: all of its codes alike, and one cause most often sets them all.
                share, distances = self._fresh
                away = [min(self.silent(code, one) for code in seen) for one in distances]
                return there * share * float(np.mean(away)) if share else 0.0
            return there * min((self.silent(code, km) for code in seen), default=1.0)

        faulty = float(weight @ [1 - car.passed for _, car in self._cars]) if self._cars else 0.0
        if faulty <= 0:
            return 0.0, np.zeros(1)
        # A car that shows a fault has another one less often than any car has one.
        rarer = 1.0
        if shown:
            two = float(weight @ [(1 - car.passed) * car.two for _, car in self._cars]) / faulty
            rarer = min(two / max(1 - two, 1e-9) * (1 - faulty) / faulty, 1.0)
        unseen = np.array([(1 - car.passed) * rarer * silent(car.codes) if car.codes else 0.0 for _, car in self._cars])
        blank = np.array([car.passed + (1 - rarer) * (1 - car.passed) for _, car in self._cars])
        hides, total = weight * unseen, float(weight @ (unseen + blank))
        if hides.sum() <= 0:
            return 0.0, np.zeros(1)
        rng = np.random.default_rng(len(self._cars))
        which = rng.choice(len(self._cars), size=DRAWS, p=hides / hides.sum())
        costs = [float(rng.choice(self._cars[i][1].costs)) for i in which]
        return float(hides.sum() / total), np.array(costs)

    def _weights(self, line: str) -> np.ndarray:
        same = np.array([bool(line) and mine == line for mine, _ in self._cars])
        others = max(int((~same).sum()), 1)
        return np.where(same, 1.0, min(1.0, OTHERS / others)) if len(same) else np.empty(0)

    def modules(self, line: str) -> dict[str, float]:
        """Return how often each module was read on cars of a line before their jobs; on all cars for a line unknown."""
        jobs = self._model.frames.jobs.select("job_id", "line")
        mine = jobs.filter(pl.col("line") == line)
        mine = mine if mine.height >= FEWEST_JOBS else jobs
        read = self._model.frames.job_modules.join(mine, on="job_id").group_by("module").len()
        return {module: count / max(mine.height, 1) for module, count in read.iter_rows()}


def unseen(model: DiagnosisModel, past: PastCars, vehicle: str) -> Unseen:
    """Return what a car's last scan cannot show.

    Args:
        model: What all cars are diagnosed with.
        past: The dealer's cars as they came in.
        vehicle: A car in stock.
    """
    frames = model.frames
    km, tells = _erased(frames, vehicle)
    read = set(frames.open_modules.filter(pl.col("vehicle") == vehicle)["module"])
    shown = set(frames.open_codes.filter((pl.col("vehicle") == vehicle) & pl.col("background").is_null())["code"])
    line = _line(frames, vehicle)
    chance, costs = past.hidden(line, (km, tells), read, shown)
    told = np.where(np.arange(len(costs)) < round(chance * len(costs)), costs, 0.0)
    some, counts = np.unique(np.round(told), return_counts=True)
    test = -past.return_km("") * log(1 - PROVEN)
    return Unseen(
        chance=chance,
        costs=pl.DataFrame({"cost": some, "share": counts / len(costs)}),
        km=km,
        more_km=0.0 if km is None else max(test - km, 0.0),
        unread=tuple(sorted(m for m, share in past.modules(line).items() if share >= 0.5 and m not in read)),
    )


def _erased(frames: DiagnosisFrames, vehicle: str) -> tuple[float | None, bool]:
    """Return the distance since a car's last known erase, and whether it tells what it knows of that."""
    told = frames.stock_erases.filter(pl.col("vehicle") == vehicle).select("km", "tells", "monitors_ready").rows()
    km, tells, ready = told[0] if told else (None, False, None)
    # Monitors that are open tell of an erase, and not how far ago.
    return km, bool(tells) and ready is not False


def _fresh_erases(first_codes: pl.DataFrame) -> tuple[float, list[float]]:
    """Return how often cars that tell were erased shortly before they came in, and how far before."""
    told = first_codes.filter("tells").unique("vehicle").sort("vehicle")
    fresh = told.filter(pl.col("erased_km") < LONG_SINCE_KM)["erased_km"].to_list()
    return (len(fresh) / told.height, fresh) if told.height else (0.0, [])


def _line(frames: DiagnosisFrames, vehicle: str) -> str:
    """Return the line as past cars' are called: a car that is only looked at is in no line of its own."""
    rows = frames.stock.filter(pl.col("vehicle") == vehicle).select("make", "model", "line").rows()
    if not rows:
        return ""
    make, model, line = rows[0]
    name = f"{known_make(make or '')} {(model or '').strip().casefold()}"
    return name if name in set(frames.first_codes["line"]) else line or ""
