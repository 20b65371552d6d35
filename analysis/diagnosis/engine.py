"""The one path to a diagnosis: fit a model to the past jobs, diagnose a car with it, explain the diagnosis.

The list, the reasons behind a row, the cost of clearing a car, the trace of a number and the check on past visits
all diagnose with one model: its parameters, its calibration and its prices are made ready once and kept together here.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from statistics import median
from typing import Any

import numpy as np
import polars as pl

from analysis.diagnosis.decision.operations import drive_cents, total_cents, work_of
from analysis.diagnosis.decision.order_of_work import plan
from analysis.diagnosis.decision.repair_model import (
    RECHECK,
    RepairModel,
    Step,
    Work,
    chance_of,
    repair_model_of,
    under_one_name,
)
from analysis.diagnosis.decision.safety import Adviser, OpenCode
from analysis.diagnosis.inference.calibration import Calibration, usual_calibration
from analysis.diagnosis.inference.observations import cars_in_stock
from analysis.diagnosis.inference.posterior import Car, Posterior, infer
from analysis.diagnosis.inference.weights_of_evidence import weights_of_evidence
from analysis.diagnosis.inputs.candidates import Candidate, list_candidates
from analysis.diagnosis.inputs.frames import Costs, DiagnosisFrames
from analysis.diagnosis.inputs.past_checks import past_checks
from analysis.diagnosis.inputs.past_jobs import VISITS, PastJobs, past_jobs
from analysis.diagnosis.inputs.text_matching import Reader
from analysis.diagnosis.inputs.training_data import known_make, stored_and_erased
from analysis.diagnosis.learning.elsewhere import Elsewhere
from analysis.diagnosis.learning.fit import fit_parameters
from analysis.diagnosis.learning.prepared import Prepared, in_order, prepare
from analysis.diagnosis.model.noisy_or import Bools, Floats
from analysis.diagnosis.model.parameters import STANDING_PRIOR, UNHEARD_OF, NoisyOrParameters
from analysis.diagnosis.model.priors import (
    PAST,
    PAST_JOBS,
    POINTED,
    Prior,
)

ONCE_MORE = 0.5
"""A new part is changed for another new one only where that is likelier than not to end it (common practice, no source:
the first is taken back)."""
LEAST_GAIN = 0.05
"""After a first step the next one has to save a twentieth of handing over: it takes another drive and another scan."""
RECHECK_FROM = 0.10
"""Erase, drive and look again comes first only where erasing alone settles a car with at least this chance."""
TAUGHT = 1.0
"""So many visits must have taught a part's link to a code before that alone makes it a line."""
TAUGHT_NEARBY = 0.35
"""A link as strong as this was taught by jobs, of another make for instance: half a visit takes .05 there, no less."""
FITTED_BESIDE = 2
"""So many jobs with a part alone on cars with the code tie it to that, though what came of them is not known."""
NEVER = 2.0
"""No chance is so high: a part that nothing ties to the car's codes is no line; handing over comes before it."""
ALWAYS = -1.0
"""Where no code is active nothing can be measured on the car: a part is bought once an erase and a drive brought one
back.  Where nothing known sets any code that has to go, it is looked at again and for what was fitted later, before
the car is handed over: more than a third of such cars have no fault, on dealers drawn by a process of their own
(common practice, no source)."""
TIE = 0.05
"""Two parts whose chances differ by less than this share, for the same codes, cannot be told apart."""
BEYOND_DOUBT = 4
"""A standing cause is beyond doubt where its codes outlived a job, or are looked past, on so many cars."""
UNPRICED = 0.25
"""Where no part has a price, trying one is taken to cost this share of handing over."""

_PART = {"part": pl.String, "position": pl.String}
WEIGHTS_OF_EVIDENCE = _PART | {"state": pl.String, "code": pl.String, "log_ratio": pl.Float64}
LOG_ODDS = _PART | {"prior": pl.Float64, "posterior": pl.Float64}
WITHOUT = _PART | {"code": pl.String, "chance": pl.Float64, "without": pl.Float64}


@dataclass(frozen=True, kw_only=True)
class CarDiagnosis:
    """The diagnosis of one car.

    Attributes:
        posterior: What its codes say of its suspects.
        repair: What the order of work depends on.
        steps: The steps before handing over; none for a car without suspects.
        tied: For each part that a step names, the others that the evidence cannot tell from it, those left out that
            an earlier step named.
    """

    posterior: Posterior
    repair: RepairModel
    steps: list[Step]
    tied: dict[int, list[int]]

    @property
    def explained(self) -> bool:
        """Tell whether some known part sets one of the codes that have to go."""
        return _explained(self.posterior, self.repair)


@dataclass(frozen=True, kw_only=True)
class Explanation:
    """The reasoning about one car; parts stand in the order of the list.

    Attributes:
        codes: The rows of ``open_codes`` of this car, with the code's text, sorted by code; ``background`` is why a
            code is masked, or null.
        unread: Modules that some known code belongs to and that were not read on this car, sorted.
        rows: The rows of the list, as they came in.
        log_odds: part, position, prior and posterior (natural log odds that the part is at fault, before anything is
            known of the car and after all that is).
        weights_of_evidence: part, position, state (a name of ``inference.weights_of_evidence``), code (blank where the
            step is none), log_ratio (natural); the loudest first for each part.  Those of a part sum to its
            posterior less its prior.
        visits: part, position, vehicle, job, done_at, codes (those that the row should clear, ``;``-separated),
            outcome (``returned``, ``cleared``, ``unproven`` or ``unread``), km (to the return, else driven without
            it; null where unknown); jobs with this part alone, the latest first.
        without: part, position, code, chance (of the part if tried first now), without (the same if that code
            were absent).
    """

    codes: pl.DataFrame
    unread: list[str]
    rows: pl.DataFrame
    log_odds: pl.DataFrame
    weights_of_evidence: pl.DataFrame
    visits: pl.DataFrame
    without: pl.DataFrame


@dataclass(frozen=True, kw_only=True)
class DiagnosisModel:
    """What all cars are diagnosed with.

    Attributes:
        frames: The facts, codes in order.
        costs: What work costs here.
        candidates: The parts in their places.
        prior: The beliefs from texts alone, (parts, codes).
        parameters: The beliefs with past jobs.
        jobs: Past jobs that were learned from.
        calibration: How far its chances are believed.
        past: The single-part jobs that a row rests on.
        adviser: What must be said beside a fix.
        total: (parts,) cents of trying each part; not a number where none is known.
        assumed: Cents that stand for an unknown price.
        work: Checks and openings of the parts.
        codes: The code of each column.
        places: Module and code without it, of each column.
        network: (codes,) whether the code tells that another module is not heard.
        others: Other dealers whose sets were looked at: name, jobs, and how much each of these counts.
        kept: Stock number, make and code of what the dealer refused to leave alone; a blank is every one.
    """

    frames: DiagnosisFrames
    costs: Costs
    candidates: list[Candidate]
    prior: Prior
    parameters: NoisyOrParameters
    jobs: int
    calibration: Calibration
    past: PastJobs
    adviser: Adviser
    total: Floats
    assumed: float
    work: Work
    codes: list[str]
    places: list[tuple[str, str]]
    network: Bools
    others: tuple[tuple[str, int, float], ...] = ()
    kept: tuple[tuple[str, str, str], ...] = ()

    @cached_property
    def worked_on(self) -> Bools:
        """(parts,) whether the part was worked on before, here or at a dealer whose jobs are learned from."""
        elsewhere = self.parameters.elsewhere
        return self.past.fitted | elsewhere[: len(self.candidates)] if len(elsewhere) else self.past.fitted

    @cached_property
    def price(self) -> Floats:
        """(parts,) cents of trying each part; the assumed price where none is known."""
        return np.where(np.isnan(self.total), self.assumed, self.total)

    @cached_property
    def grave(self) -> Bools:
        """(codes,) the code speaks of brakes, steering, restraint or high voltage: it has to go whatever sets it."""
        spoken = zip(self.places, self.codes, strict=True)
        return np.array([self.adviser.grave(OpenCode(module, key)) for (module, _), key in spoken], dtype=bool)

    @cached_property
    def may_stay(self) -> Bools:
        """(codes,) the dealer asks only for what the inspection looks at, and it does not look at this code."""
        looked_at = np.array([self.adviser.item([place]) != "none" for place in self.places], dtype=bool)
        return ~(looked_at | self.grave) if self.costs.inspection_only else np.zeros(len(self.codes), dtype=bool)

    def cars(self) -> list[Car]:
        """Return the cars in stock that have a code to explain, sorted by vehicle."""
        cars = cars_in_stock(self.frames, self.candidates, self.parameters)
        if not self.kept:
            return cars
        makes = self.frames.stock.select("vehicle", pl.col("make").fill_null(""))
        make = {vehicle: known_make(name) for vehicle, name in makes.iter_rows()}
        return [replace(car, kept=self._kept_on(car, make[car.vehicle])) for car in cars]

    def _kept_on(self, car: Car, make: str) -> frozenset[int]:
        refused = {code for vehicle, of, code in self.kept if vehicle in ("", car.vehicle) and of in ("", make)}
        return frozenset(d for d in car.codes if self.codes[d] in refused)

    def working_on(self, refused: pl.DataFrame) -> "DiagnosisModel":
        """Return the same, with nothing left alone that the dealer wants worked on.

        Args:
            refused: vehicle, make and codes (``;``-separated) of what he refused to leave alone; a blank is every one.
        """
        rows = refused.select("vehicle", "make", "codes").fill_null("").iter_rows()
        kept = ((vehicle, known_make(make), code) for vehicle, make, codes in rows for code in codes.split(";"))
        return replace(self, kept=tuple(sorted(set(kept))))

    def diagnose(self, car: Car) -> CarDiagnosis:
        """Weigh what can be wrong with one car and plan its steps.

        Args:
            car: What is open on it.
        """
        posterior, repair, first = self.weigh(car)
        recheck_from = RECHECK_FROM if _explained(posterior, repair) and not car.stale.all() else ALWAYS
        floors = _floors(self, car, posterior)
        steps = []
        if repair.scope.any():
            steps = plan(
                repair, first, recheck_from, self.costs.least_chance, floors, once_more=ONCE_MORE, least_gain=LEAST_GAIN
            )
        return CarDiagnosis(posterior=posterior, repair=repair, steps=steps, tied=_tied(repair, steps))

    def weigh(self, car: Car) -> tuple[Posterior, RepairModel, Bools]:
        """Weigh what can be wrong with one car without planning: also (k,) the parts that may stand first.

        Args:
            car: What is open on it.
        """
        posterior, repair = _repair_model(self, car)
        first, twins = _eligible(self, car, posterior), _twins(self, posterior)
        for bare, placed in twins.items():
            first[placed] |= first[bare]
            first[bare] = False
        return posterior, repair, first

    def explain(self, vehicle: str, rows: pl.DataFrame) -> Explanation:
        """Lay open the reasoning about one car.

        Args:
            vehicle: A vehicle in stock.
            rows: The list that was made with this model; other vehicles' rows are passed over.

        Returns:
            The explanation; a car without a code to explain has only codes and unread modules.

        Raises:
            ValueError: The vehicle is not in stock.
        """
        frames = self.frames
        if vehicle not in set(frames.stock["vehicle"]):
            raise ValueError(f"{vehicle} is not among the {frames.stock.height} vehicles in stock")
        mine = rows.filter(pl.col("vehicle") == vehicle).sort("rank")
        opened = frames.open_codes.filter(pl.col("vehicle") == vehicle)
        opened = opened.join(frames.codes.select("code", "text"), on="code", how="left").sort("code")
        read = set(frames.open_modules.filter(pl.col("vehicle") == vehicle)["module"])
        # A part may stand on the list twice: fitted where a check finds it faulty, and later without one.
        listed = _listed(self, mine.unique(["part", "position"], keep="first", maintain_order=True))
        odds: list[tuple[object, ...]] = []
        weights: list[tuple[object, ...]] = []
        without: list[tuple[object, ...]] = []
        for car in (car for car in self.cars() if car.vehicle == vehicle and listed):
            odds, weights = _weighed_evidence(self, car, [part for part, _ in listed])
            without = [row for part, _ in listed for row in _without(self, car, part)]
        visits = [past_jobs(frames, self.candidates[part], clears) for part, clears in listed]
        return Explanation(
            codes=opened,
            unread=sorted(set(frames.codes["module"]) - read),
            rows=mine,
            log_odds=pl.DataFrame(odds, schema=LOG_ODDS, orient="row"),
            weights_of_evidence=pl.DataFrame(weights, schema=WEIGHTS_OF_EVIDENCE, orient="row"),
            visits=pl.concat([pl.DataFrame(schema=VISITS), *visits]),
            without=pl.DataFrame(without, schema=WITHOUT, orient="row"),
        )

    def fitted(self) -> dict[str, np.ndarray]:
        """Return all that fitting learned, to be kept and given to ``restored``.

        Returns:
            ``parts``, ``positions`` and ``codes`` (text, to align by), ``jobs`` (one number), ``calibration`` (two),
            the fields of ``NoisyOrParameters`` as ``parameters_...`` and those of ``Prior`` as ``prior_...``.
        """
        named = {
            "parts": np.array([part.part for part in self.candidates], dtype=np.str_),
            "positions": np.array([part.position for part in self.candidates], dtype=np.str_),
            "codes": np.array(self.codes, dtype=np.str_),
            "jobs": np.array(self.jobs),
            "calibration": np.array(self.calibration),
        }
        for label, learned in (("parameters", self.parameters), ("prior", self.prior)):
            named |= {f"{label}_{field.name}": np.array(getattr(learned, field.name)) for field in fields(learned)}
        return named

    @classmethod
    def restored(cls, frames: DiagnosisFrames, costs: Costs, fitted: dict[str, np.ndarray]) -> "DiagnosisModel":
        """Return the model again that ``fitted`` came from, without fitting.

        Args:
            frames: The facts, with the same parts and codes.
            costs: What work costs here.
            fitted: What ``fitted`` returned.

        Returns:
            A model with identical diagnoses.

        Raises:
            ValueError: Something is missing from ``fitted``, or its parts or codes are not those of the frames.
        """
        wanted = ["parts", "positions", "codes", "jobs", "calibration"]
        wanted += [f"parameters_{field.name}" for field in fields(NoisyOrParameters)]
        wanted += [f"prior_{field.name}" for field in fields(Prior)]
        missing = sorted(set(wanted) - set(fitted))
        if missing:
            raise ValueError(f"the fitted model lacks {', '.join(missing)}; fit it anew")
        frames = in_order(frames)
        reader = Reader(frames.trade_words)
        keys = list(zip(fitted["parts"].tolist(), fitted["positions"].tolist(), strict=True))
        candidates = list_candidates(frames, reader)
        if fitted["parameters_elsewhere"].any():
            # Other dealers' jobs told of further places.
            candidates = list_candidates(frames, reader, [key for key in keys if key[1]])
        _align("parts", [" ".join(key).strip() for key in keys], [part.label for part in candidates])
        _align("codes", fitted["codes"].tolist(), frames.codes["code"].to_list())
        told: dict[str, Any] = {field.name: fitted[f"parameters_{field.name}"] for field in fields(NoisyOrParameters)}
        told |= {
            "leak_strength": float(told["leak_strength"]),
            "past": np.resize(told["past"], 2),
            "make_names": told["make_names"].tolist(),
            "better": told["better"].tolist(),
        }
        learned = _Learned(
            candidates=candidates,
            prior=Prior(**{field.name: fitted[f"prior_{field.name}"] for field in fields(Prior)}),
            parameters=NoisyOrParameters(**told),
            jobs=int(fitted["jobs"]),
            calibration=stored_calibration(fitted),
        )
        return _priced(frames, costs, learned)


def fit(
    frames: DiagnosisFrames,
    families: pl.DataFrame,
    costs: Costs,
    calibration: Calibration | None = None,
    elsewhere: Elsewhere | None = None,
) -> DiagnosisModel:
    """Learn from the past jobs and lay prices beside the parts.

    Args:
        frames: The facts.
        families: One row per family: codes (list of text) and root; may be empty.
        costs: What work costs here.
        calibration: How far its chances are believed, as ``backtest`` learned it; None for the usual one.
        elsewhere: What the jobs of other dealers teach of the parts and codes known here.

    Returns:
        The model that every question about a car is answered with.
    """
    made = prepare(frames, families, elsewhere.used if elsewhere else [])
    told = elsewhere.over(made) if elsewhere and elsewhere.used else None
    jobs = made.visits.many_jobs
    gone, known = (stored_and_erased(made.frames) + (told.erased if told else 0.0)).T
    fitted = fit_parameters(made.visits, made.prior, told=told.counts if told else None)
    parameters = replace(
        fitted,
        taught=_with_survivors(fitted, made.survivors, len(made.candidates)),
        past=(PAST * PAST_JOBS + gone) / (PAST_JOBS + known),
        elsewhere=told.worked_on > 0 if told else np.zeros(0, dtype=bool),
        doubt=_doubt(made, len(fitted.standing)),
    )
    counted = jobs + (round(elsewhere.jobs) if elsewhere else 0)
    learned = _Learned(
        candidates=made.candidates,
        prior=made.prior,
        parameters=parameters,
        jobs=jobs,
        calibration=usual_calibration(counted) if calibration is None else calibration,
    )
    return replace(_priced(made.frames, costs, learned), others=elsewhere.looked if elsewhere else ())


def _with_survivors(fitted: NoisyOrParameters, survivors: list[int], parts: int) -> Floats:
    """Return how many visits taught each link, a standing cause's codes by no fewer than the cars it was seen on."""
    taught = fitted.taught.copy()
    for row, cars in enumerate(survivors, start=parts):
        taught[row] = np.where(fitted.link[row] > 0, np.maximum(taught[row], cars), taught[row])
    return taught


def _doubt(made: Prepared, rows: int) -> Floats:
    """Return (rows,): on how many cars each standing cause has to be seen before it is as likely none as not.

    The fewer, the more cars are known to show codes that no fault sets: by what the dealer declared or agreed to, and
    by the other standing causes that are beyond doubt.
    """
    past, now = (
        table.filter(pl.col("background").is_not_null()) for table in (made.frames.outcomes, made.frames.open_codes)
    )
    told = pl.concat([past["vehicle"], now["vehicle"]]).n_unique()
    sure = np.array([cars if cars >= BEYOND_DOUBT else 0 for cars in made.survivors], dtype=float)
    doubt = np.full(rows, STANDING_PRIOR)
    first = len(made.candidates)
    doubt[first : first + len(sure)] += UNHEARD_OF / (1 + told + sure.sum() - sure) ** 2
    return doubt


def stored_calibration(fitted: Mapping[str, np.ndarray]) -> Calibration:
    """Return the calibration that a model was fitted with; one that was stored as a share alone is as sharp as it was.

    Args:
        fitted: What ``DiagnosisModel.fitted`` returned.
    """
    return Calibration(*np.atleast_1d(fitted["calibration"]).tolist())


@dataclass(frozen=True, kw_only=True)
class _Learned:
    """The fields of ``DiagnosisModel`` that fitting makes."""

    candidates: list[Candidate]
    prior: Prior
    parameters: NoisyOrParameters
    jobs: int
    calibration: Calibration


def _priced(frames: DiagnosisFrames, costs: Costs, learned: _Learned) -> DiagnosisModel:
    """Lay beside what was learned all that the facts and prices say without learning."""
    candidates = learned.candidates
    total = np.array([total_cents(candidate, costs) for candidate in candidates], dtype=float)
    known = total[~np.isnan(total)]
    bad = {part.part: float(share) for part, share in zip(candidates, learned.parameters.bad, strict=False)}
    return DiagnosisModel(
        frames=frames,
        costs=costs,
        **vars(learned),
        past=PastJobs(frames, candidates),
        adviser=Adviser(frames.cautions, frames.first_checks, frames.inspection, costs.country),
        total=total,
        assumed=float(median(known)) if known.size else costs.specialist_cents * UNPRICED,
        work=work_of(candidates, costs, past_checks(frames, bad)),
        codes=frames.codes["code"].to_list(),
        places=list(frames.codes.select("module", pl.col("short").fill_null("")).iter_rows()),
        network=frames.codes["network"].fill_null(False).to_numpy().astype(bool),
    )


def _align(kind: str, fitted: list[str], found: list[str]) -> None:
    if fitted == found:
        return
    new, gone = (", ".join(sorted(set(one) - set(other))[:5]) for one, other in ((found, fitted), (fitted, found)))
    told = "; ".join(f"{word}: {names}" for word, names in (("new", new), ("gone", gone)) if names)
    raise ValueError(
        f"the fitted model knows {len(fitted)} {kind}, the facts {len(found)}"
        f" ({told or 'in another order'}); fit it anew"
    )


def _repair_model(model: DiagnosisModel, car: Car) -> tuple[Posterior, RepairModel]:
    """Return what can be wrong with a car, and what the order of work depends on."""
    strange = {d: model.places[d][0] for d in car.codes if len(model.prior.strange) and model.prior.strange[d]}
    posterior = infer(replace(car, strange=strange), model.parameters, _allowed(model, car), model.calibration)
    specialist, drive = float(model.costs.specialist_cents), drive_cents(model.costs)
    plain = repair_model_of(posterior, model.price[posterior.parts], specialist, drive)
    renewed = tuple(k for k, part in enumerate(posterior.parts) if part in car.renewed)
    kept = np.array([d in car.kept for d in car.codes], dtype=bool)
    scope = (plain.scope | kept) & ~model.may_stay[car.codes]
    if not scope.any():
        # What no fault seems to set is no reason to hand a car over while a fault is to be mended; alone it is.
        scope = model.grave[car.codes]
    repair = replace(plain, scope=scope, work=model.work.only(posterior.parts), renewed=renewed)
    repair = under_one_name(repair, _twins(model, posterior))
    return replace(posterior, clears=repair.clears), repair


def _explained(posterior: Posterior, repair: RepairModel) -> bool:
    return bool(posterior.explained[repair.scope].any())


def _twins(model: DiagnosisModel, posterior: Posterior) -> dict[int, int]:
    """Return for each suspect without a place the likeliest of the same part that has one, where there is one."""
    chance, keys = posterior.weights.faulty()[0], [model.candidates[i].key for i in posterior.parts]
    twins = {}
    for bare, (part, place) in enumerate(keys):
        placed = [i for i, key in enumerate(keys) if not place and key[0] == part and key[1]]
        if placed:
            twins[bare] = max(placed, key=lambda i: (chance[i], -i))
    return twins


def _allowed(model: DiagnosisModel, car: Car) -> Bools:
    """A part never fitted is weighed only where some text ties it to an open code."""
    parts = len(model.candidates)
    told = model.prior.link[:parts, car.codes] >= POINTED
    return np.asarray(model.worked_on | model.prior.named[:parts, car.codes].any(axis=1) | told.any(axis=1))


def _eligible(model: DiagnosisModel, car: Car, posterior: Posterior) -> Bools:
    """Only a part that was fitted before, or that an open code names, may stand first."""
    parts = posterior.parts
    return np.asarray(model.worked_on[parts] | model.prior.named[np.ix_(parts, car.codes)].any(axis=1))


def _floors(model: DiagnosisModel, car: Car, posterior: Posterior) -> Floats:
    """Return (k,): with how much chance each suspect may be a line, by what ties it to something it should clear.

    A job with it alone, a visit's worth of what was learned, or a code that names it: any chance.  Only that a code
    speaks of its module or its family, that another make's jobs tie them, or that it was fitted on such cars without a
    known end: the least chance of a first line.
    Nothing: none will do.
    """
    floors = []
    for part, clears in zip(posterior.parts, posterior.clears, strict=True):
        mine = [d for d, yes in zip(car.codes, clears, strict=True) if yes]
        jobs, _ = model.past.single_jobs(model.candidates[part].key, {model.codes[d] for d in mine})
        named = (model.prior.named[part, mine] & ~model.network[mine]).any()
        learned = (model.parameters.learned[part, mine] >= TAUGHT).any()
        # A lost module points at all of its parts, so at none where the part should clear codes of other kinds too.
        own = [d for d in mine if not model.network[d]] or mine
        # What another make's jobs taught of the same number stands in the fitted link alone.
        taught = (model.parameters.link[part, own] >= TAUGHT_NEARBY).any()
        pointed = taught or (model.prior.link[part, own] >= POINTED).any()
        # Whoever fits a part alone on such cars again and again has a reason, though nobody looked what came of it.
        pointed |= model.past.open_jobs(model.candidates[part].key, {model.codes[d] for d in own}) >= FITTED_BESIDE
        floors.append(0.0 if jobs or named or learned else model.costs.least_chance if pointed else NEVER)
    return np.array(floors)


def _tied(repair: RepairModel, steps: Sequence[Step]) -> dict[int, list[int]]:
    """For each part on the list the others whose chance and codes are the same, those left out that stand before it."""
    parts = len(repair.cost)
    chance, clears = repair.chance @ repair.sets[:, :parts], repair.clears
    tied: dict[int, list[int]] = {}
    for part in dict.fromkeys(step.part for step in steps if step.part != RECHECK):
        tied[part] = [
            i
            for i in range(parts)
            if i != part and i not in tied and chance[i] > 0
            and (clears[i] == clears[part]).all()
            and abs(chance[i] - chance[part]) <= TIE * max(chance[i], chance[part])
        ]  # fmt: skip
    return tied


def _listed(model: DiagnosisModel, rows: pl.DataFrame) -> list[tuple[int, list[str]]]:
    """Return the candidates on the list, each with the codes that it should clear."""
    place = {candidate.key: i for i, candidate in enumerate(model.candidates)}
    lines = rows.select("part", pl.col("position").fill_null(""), "clears").iter_rows()
    return [(place[part, position], clears.split(";")) for part, position, clears in lines if (part, position) in place]


def _weighed_evidence(
    model: DiagnosisModel, car: Car, parts: list[int]
) -> tuple[list[tuple[object, ...]], list[tuple[object, ...]]]:
    """Return the rows of ``log_odds`` and of ``weights_of_evidence`` for some of the car's suspects."""
    posterior, _ = _repair_model(model, car)
    told = weights_of_evidence(car, model.parameters, posterior, model.calibration)
    odds: list[tuple[object, ...]] = []
    weights: list[tuple[object, ...]] = []
    for part in parts:
        at, key = posterior.parts.index(part), model.candidates[part].key
        odds.append((*key, float(told.prior[at]), float(told.log_odds[at])))
        said = [
            (state, "" if code < 0 else model.codes[code], float(ratio))
            for (state, code), ratio in zip(told.steps, told.log_ratio[:, at], strict=True)
        ]
        weights += [(*key, *step) for step in sorted(said, key=lambda step: (-abs(step[2]), step[1], step[0]))]
    return odds, weights


def _without(model: DiagnosisModel, car: Car, part: int) -> list[tuple[object, ...]]:
    now = chance_first(model, car, part)
    rows: list[tuple[object, ...]] = []
    for at, d in enumerate(car.codes):
        absent = car.absent.copy()
        absent[d] = True
        kept = [code for code in car.codes if code != d]
        other = replace(car, codes=kept, absent=absent, stale=np.delete(car.stale, at))
        then = chance_first(model, other, part) if kept else 0.0
        rows.append((*model.candidates[part].key, model.codes[d], now, then))
    return rows


def chance_first(model: DiagnosisModel, car: Car, part: int) -> float:
    """Return the chance that a part clears what it should if it is tried first; 0 where it is no suspect.

    Args:
        model: What all cars are diagnosed with.
        car: What is open.
        part: Index of the candidate.
    """
    posterior, repair = _repair_model(model, car)
    return chance_of(repair, posterior.parts.index(part)) if part in posterior.parts else 0.0
