"""What can the last scan of a car not show: faults whose codes were erased, or sit in a module that was not read?

An erase takes every code, and a code comes back only once the car was driven far enough.  So a missing code is not
known to be absent: it is still missing with a chance that falls with the distance since the erase.  What may hide is
what the dealer's own cars had when they came in, each as far as it would not have shown here: a past car whose faults
would have shown by now says nothing, one whose codes take long to wake says much.  Cars of the same line count in full.
Their own scans had not read every module either: a fault counts the more, the seldomer its modules were read.
"""

from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from functools import cached_property
from math import exp, log

import numpy as np
import polars as pl

from analysis.diagnosis.decision.appraisal import drawn_costs
from analysis.diagnosis.decision.order_of_work import plan_after_erase
from analysis.diagnosis.decision.repair_model import RECHECK, Step, chance_of
from analysis.diagnosis.engine import DiagnosisModel
from analysis.diagnosis.inference.posterior import PAST_RETURNS, Car
from analysis.diagnosis.inputs.frames import DiagnosisFrames
from analysis.diagnosis.inputs.training_data import can_occur, known_make, stored_beside
from analysis.diagnosis.model.priors import NUMBERS, NUMBERS_VISITS, PAST_JOBS
from analysis.evidence.clusters import CLEARED
from analysis.progress import each

PROVEN = 0.9
"""Nine of ten causes have shown: as far as that a car is to be driven before a scan tells (as for a road test)."""
LONG_SINCE_KM = 300.0
"""A first scan that was taken so far behind an erase shows what there is."""
WIDE = 0.5
"""Cars of which scans met at least so much of what the widest of their line met tell which modules the line has."""
OTHERS = 20.0
"""Cars of other lines count as so many of this one together."""
MOST_PAST = 400
"""So many past cars are looked at most, every so-manieth of them where there are more."""
FEWEST_CARS = 5
"""Fewer cars of a line than this do not tell which modules it has."""
MOST_FAULTY = 0.95
"""More cars than this are not taken to come with a fault."""
DRAWS = 2000
NEVER = 1e-12
"""A smaller chance that something hides is none."""
PAST_CARS: dict[str, pl.DataType | type[pl.DataType]] = {
    "make": pl.String, "shown": pl.List(pl.String), "codes": pl.List(pl.String), "passed": pl.Float64,
    "costs": pl.List(pl.Float64), "counts": pl.List(pl.Int64),
}  # fmt: skip
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
        codes: What it showed that has to go, by key; empty: nothing.
        passed: Chance that an erase alone ends it all.
        costs: What it can cost once the codes are back after the erase, in cents.
        counts: How many of the drawn cars cost that.
    """

    codes: tuple[str, ...] = ()
    passed: float = 1.0
    costs: tuple[float, ...] = (0.0,)
    counts: tuple[int, ...] = (1,)

    @cached_property
    def drawn(self) -> np.ndarray:
        """(draws,) what the drawn cars cost, in cents."""
        return np.repeat(np.array(self.costs), self.counts)


class PastCars:
    """The dealer's cars as they came in, each diagnosed once."""

    def __init__(self, model: DiagnosisModel, known: pl.DataFrame | None = None):
        """Look up what past cars showed before their first job; they are diagnosed when first asked about.

        Args:
            model: What all cars are diagnosed with.
            known: What ``table`` returned of the same model; its cars are not diagnosed again.
        """
        self._model = model
        self._known = {
            (make, tuple(shown)): _PastCar(codes=tuple(codes), passed=passed, costs=tuple(costs), counts=tuple(counts))
            for make, shown, codes, passed, costs, counts in (
                () if known is None else known.select(list(PAST_CARS)).iter_rows()
            )
        }
        self._absent: dict[str, np.ndarray] = {}
        frames = model.frames
        self._column = {code: d for d, code in enumerate(model.codes)}
        fresh = pl.col("erased_km") < LONG_SINCE_KM
        looked = frames.first_codes.filter(~fresh.fill_null(False))
        self._fresh = _fresh_erases(frames.first_codes)
        self._has, self._read = _by_vehicle(frames.car_modules), _by_vehicle(frames.first_modules)
        self._lines = dict(frames.first_codes.select("vehicle", pl.col("line").fill_null("")).iter_rows())
        self.lines = frozenset(frames.first_codes["line"])
        self._often_read: dict[frozenset[str], float] = {}
        self._modules: dict[str, dict[str, float]] = {}
        shown: dict[tuple[str, str, str], list[str]] = defaultdict(list)
        for vehicle, make, line, code in looked.select("vehicle", "make", "line", "code").sort("vehicle").iter_rows():
            shown[vehicle, make or "", line or ""] += [code] if code in self._column else []
        step = -(-len(shown) // MOST_PAST)
        chosen = [car for number, car in enumerate(sorted(shown)) if number % max(step, 1) == 0]
        self._shown = [(line, (make, tuple(sorted(shown[car, make, line])))) for car, make, line in chosen]
        self.several = chance_of_several(frames)
        back, jobs = stored_beside(frames)
        self._stored = (PAST_RETURNS * PAST_JOBS + back) / (PAST_JOBS + jobs)
        told = frames.return_distances.select("code", "return_km").iter_rows()
        self._km: dict[str, float] = {code: float(km) for code, km in told}

    @cached_property
    def _cars(self) -> list[tuple[str, _PastCar]]:
        """Line and diagnosis of each past car."""
        for key in each(dict.fromkeys(key for _, key in self._shown)):
            if key not in self._known:
                self._known[key] = self._diagnosed(*key)
        return [(line, self._known[key]) for line, key in self._shown]

    def table(self) -> pl.DataFrame:
        """Return the diagnoses, to be kept and given to the next ``PastCars`` of the same model.

        Returns:
            One row per make and what cars of it showed: make, shown (keys), codes (those that have to go), passed,
            costs and counts, as ``_PastCar`` has them.
        """
        told = {key: self._known[key] for key in sorted({key for _, key in self._shown})} if self._cars else {}
        rows = [(*key, car.codes, car.passed, car.costs, car.counts) for key, car in told.items()]
        return pl.DataFrame(rows, schema=PAST_CARS, orient="row")

    def _diagnosed(self, make: str, codes: tuple[str, ...]) -> _PastCar:
        nothing = _PastCar()
        if not codes:
            return nothing
        model = self._model
        columns = sorted(self._column[code] for code in codes)
        if make not in self._absent:
            self._absent[make] = can_occur([known_make(make)], model.frames.codes)[0]
        absent = self._absent[make].copy()
        absent[columns] = False
        names = model.parameters.make_names
        row = names.index(known_make(make)) if make and known_make(make) in names else len(names) - 1
        car = Car(
            vehicle="", make=row, codes=columns, absent=absent, stale=np.zeros(len(columns), dtype=bool), failed=set()
        )
        _, repair, eligible = model.weigh(car)
        if not repair.scope.any():
            return nothing
        steps = [Step(part=RECHECK, chance=0.0, cost=0.0), *plan_after_erase(repair, eligible)]
        costs, counts = drawn_costs(repair, steps, DRAWS)
        spent = costs > 0
        must = tuple(model.codes[d] for d, yes in zip(columns, repair.scope, strict=True) if yes)
        found = _PastCar(codes=must, passed=chance_of(repair, RECHECK))
        return replace(found, costs=tuple(costs[spent]), counts=tuple(counts[spent])) if spent.any() else found

    def _found(self, codes: tuple[str, ...]) -> float:
        """Return how often a first look at a car that has the modules of some codes read one of them; 1 for none."""
        homes = frozenset(map(_home, codes))
        if not homes:
            return 1.0
        if homes not in self._often_read:
            looks = [bool(self._read[car] & homes) for car in self._lines if self._has[car] & homes]
            self._often_read[homes] = max(sum(looks), 1) / max(len(looks), 1)
        return self._often_read[homes]

    def stored(self, make: str, codes: tuple[str, ...]) -> pl.DataFrame:
        """Return what codes cost that are stored beside active ones: cost in cents, share (summing to 1), ascending.

        They tell of the past most often, and nothing on the list clears them; how often they are back all the same is
        learned from jobs that cleared the active ones.

        Args:
            make: The car's make.
            codes: The codes; without any they cost nothing.
        """
        mine = self._diagnosed(make, codes)
        return _often(self._stored if mine.codes else 0.0, mine.drawn)

    def return_km(self, code: str) -> float:
        """Return the mean distance in km at which a code wakes again."""
        usual = self._model.costs.road_test_km / -log(1 - PROVEN)
        return self._km.get(code, self._km.get("", usual))

    def silent(self, code: str, km: float | None) -> float:
        """Return the chance that a code whose cause is there is missing so far behind an erase; None: no erase."""
        return 0.0 if km is None else exp(-km / self.return_km(code))

    def hidden(
        self, line: str, erase: tuple[float | None, bool], modules: tuple[set[str], set[str]], faulty: float
    ) -> tuple[float, np.ndarray]:
        """Return the chance that something hides, and what it costs where it does.

        Args:
            line: The car's line.
            erase: Distance since the erase, None where none is known; and whether the car tells what it knows of that.
            modules: Modules that were read, and those that the car is known to have.
            faulty: Chance that a fault set some of what the scan does show: such a car has another as often as those
                with one have several, and as it shows the one, it was seldom erased a moment ago.

        Returns:
            ``(chance, costs (some draws,))``; with nothing known of past cars ``(0, (0,))``.
        """
        if not self._cars:
            return 0.0, np.zeros(1)
        weight, cars, (read, own) = self._weights(line), [car for _, car in self._cars], modules
        has, (km, tells) = self.modules(line) | dict.fromkeys(own, 1.0), erase

        def silent(codes: tuple[str, ...], one_shows: bool) -> float:
            homes = [_home(code) for code in codes]
            there = float(np.prod([has.get(home, 0.0) for home in set(homes) - read]))
            seen = [code for code, home in zip(codes, homes, strict=True) if home in read]
            if km is None and not tells and seen:
                # Erased or not: all of its codes alike, and one cause most often sets them all.
                share, distances = self._fresh
                away = np.array([min(self.silent(code, one) for code in seen) for one in distances])
                shows = np.array([1 - self.silent("", one) if one_shows else 1.0 for one in distances])
                erased = share * float(np.mean(shows)) if share else 0.0
                fresh = share * float(np.mean(shows * away)) if share else 0.0
                return there * fresh / (erased + 1 - share)
            return there * min((self.silent(code, km) for code in seen), default=1.0)

        has_it = weight * [(1 - car.passed) / self._found(car.codes) for car in cars]
        share = float(has_it.sum() / weight.sum())
        if share <= 0:
            return 0.0, np.zeros(1)
        share, which = min(share, MOST_FAULTY), has_it / has_it.sum()
        ways = [
            which * [silent(car.codes, one_shows=shows) if car.codes else 0.0 for car in cars]
            for shows in (False, True)
        ]
        often = _hides(share, float(ways[0].sum())), _beside(self.several, float(ways[1].sum()))
        hides = np.array([(1 - faulty) * often[0], faulty * often[1]])
        if hides.sum() < NEVER:
            return 0.0, np.zeros(1)
        told = sum(much * way / max(float(way.sum()), NEVER) for much, way in zip(hides, ways, strict=True))
        rng = np.random.default_rng(len(cars))
        drawn = rng.choice(len(cars), size=DRAWS, p=told / told.sum())
        costs = [float(rng.choice(cars[i].drawn)) for i in drawn]
        return float(hides.sum()), np.array(costs)

    def _weights(self, line: str) -> np.ndarray:
        same = np.array([bool(line) and mine == line for mine, _ in self._cars])
        others = max(int((~same).sum()), 1)
        return np.where(same, 1.0, min(1.0, OTHERS / others)) if len(same) else np.empty(0)

    def modules(self, line: str) -> dict[str, float]:
        """Return how many of the cars of a line have each module, as far as any scan met it; of all for one unknown."""
        if line not in self._modules:
            mine = [car for car, other in self._lines.items() if other == line]
            mine = mine if len(mine) >= FEWEST_CARS else list(self._lines)
            # A scan of the engine alone asks for nothing else, whatever the car has.
            widest = max((len(self._has[car]) for car in mine), default=0)
            mine = [car for car in mine if len(self._has[car]) >= WIDE * widest]
            met = Counter(module for car in mine for module in self._has[car])
            self._modules[line] = {module: count / max(len(mine), 1) for module, count in met.items()}
        return self._modules[line]


def _hides(share: float, silent: float) -> float:
    """Return how often a car that shows no fault has one, by Bayes' rule.

    Args:
        share: Chance that a car has a fault.
        silent: Chance that one does not show.
    """
    return share * silent / (share * silent + 1 - share)


def _beside(several: float, silent: float) -> float:
    """Return how often a car that shows a fault has another that does not show, by Bayes' rule.

    Of two faults either may be the one that shows, and a car with two shows one more often than a car with one does:
    2 s h (1 - h) against (1 - s) (1 - h) and s (1 - h) ^ 2 of cars that hide nothing.

    Args:
        several: Chance s that a car with a fault has two.
        silent: Chance h that one does not show.
    """
    return 2 * several * silent / (1 + several * silent)


def chance_of_several(frames: DiagnosisFrames) -> float:
    """Return how often a car that has a fault has more than one, as the dealer's own repairs tell.

    A car had two where work cleared codes that earlier work on it had left, while that had cleared others.  Of the work
    that might have shown it only so much was ever proven, and a car counts for so much.

    Args:
        frames: For the past jobs and what became of the codes.

    Returns:
        The mean of a beta posterior whose prior is what most dealers see.
    """
    worked = set(frames.job_parts["job_id"])
    jobs = frames.jobs.sort("done_at", "job_id").select("job_id", "vehicle").iter_rows()
    ends: dict[int, dict[str, str]] = defaultdict(dict)
    for job, code, outcome in (
        frames.outcomes.filter(pl.col("background").is_null()).select("job_id", "code", "outcome").iter_rows()
    ):
        ends[job][code] = outcome
    left: dict[str, set[str]] = {}
    several, tried, proven = set(), 0, 0
    for job, vehicle in jobs:
        if job not in worked or job not in ends:
            continue
        told = ends[job]
        gone, back = ({code for code, end in told.items() if end in kind} for kind in (CLEARED, ("returned",)))
        tried, proven = tried + 1, proven + bool(gone or back)
        if gone:
            if gone & left.get(vehicle, set()):
                several.add(vehicle)
            left.setdefault(vehicle, set()).update(back)
    _, one, two, three = NUMBERS
    prior = (two + three) / (one + two + three)
    exposed = len(left) * proven / max(tried, 1)
    return (NUMBERS_VISITS * prior + len(several)) / (NUMBERS_VISITS + max(exposed, len(several)))


def unseen(model: DiagnosisModel, past: PastCars, vehicle: str, faulty: float = 0.0) -> Unseen:
    """Return what a car's last scan cannot show.

    Args:
        model: What all cars are diagnosed with.
        past: The dealer's cars as they came in.
        vehicle: A car in stock.
        faulty: Chance that a fault set some of what the scan does show.
    """
    frames = model.frames
    km, tells = _erased(frames, vehicle)
    read, own = (
        set(table.filter(pl.col("vehicle") == vehicle)["module"]) for table in (frames.open_modules, frames.car_modules)
    )
    line = _line(frames, vehicle, past)
    chance, costs = past.hidden(line, (km, tells), (read, own), faulty)
    test = -past.return_km("") * log(1 - PROVEN)
    return Unseen(
        chance=chance,
        costs=_often(chance, costs),
        km=km,
        more_km=0.0 if km is None else max(test - km, 0.0),
        unread=tuple(sorted(({m for m, share in past.modules(line).items() if share >= 0.5} | own) - read)),
    )


def _often(chance: float, costs: np.ndarray) -> pl.DataFrame:
    """Return the costs of what is there with a chance: cost, share, ascending."""
    some, place = np.unique(np.append(np.round(costs), 0.0), return_inverse=True)
    share = np.bincount(place, np.append(np.full(len(costs), chance / len(costs)), 1 - chance))
    return pl.DataFrame({"cost": some, "share": share}).filter(pl.col("share") > 0)


def _home(code: str) -> str:
    return code.split(":", maxsplit=1)[0]


def _by_vehicle(table: pl.DataFrame) -> defaultdict[str, set[str]]:
    found: defaultdict[str, set[str]] = defaultdict(set)
    for vehicle, module in table.select("vehicle", "module").iter_rows():
        found[vehicle].add(module)
    return found


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


def _line(frames: DiagnosisFrames, vehicle: str, past: PastCars) -> str:
    """Return the line as past cars' are called: a car that is only looked at is in no line of its own."""
    rows = frames.stock.filter(pl.col("vehicle") == vehicle).select("make", "model", "line").rows()
    if not rows:
        return ""
    make, model, line = rows[0]
    name = f"{known_make(make or '')} {(model or '').strip().casefold()}"
    return name if name in past.lines else line or ""
