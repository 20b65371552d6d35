"""A drawn fleet whose truth is known: parts, codes, visits and cars in stock from a two-layer noisy-OR.

Independent of the demo dealer.  Some parts are named by their codes, some set codes that name other parts, some
set network codes in other modules.  A mechanic mostly fits what a code names, sometimes what is really wrong,
sometimes two parts at once; new parts can be bad; cars are driven too little; in the dirty world modules are not
read and stale codes ride along.
"""

from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np
import polars as pl

from analysis.diagnosis import Costs, DiagnosisFrames
from analysis.mining import Findings
from tests.support.diagnosis_dealer import only_families
from tests.support.settled import settled

MODULES = ["ABS", "BCM", "ECM", "EPS", "GWM", "HVAC", "IPC", "PAM", "SCM", "TCM"]
COSTS = Costs(labour_rate_cents=4500, specialist_cents=30000, cheap_limit_cents=6000, country="DE", road_test_km=40.0)
BAD_PART = 0.05
FAULTS = (0.07, 0.78, 0.12, 0.03)
START = datetime(2026, 1, 5, 9)


@dataclass(frozen=True)
class Truth:
    """The planted parameters: link, named (parts, codes), fault (makes, parts), leak, tau (codes,), total (parts,)."""

    link: np.ndarray
    fault: np.ndarray
    leak: np.ndarray
    tau: np.ndarray
    total_cents: np.ndarray
    named: np.ndarray
    codes: pl.DataFrame
    parts: pl.DataFrame
    dirty: bool


@dataclass
class Book:
    """Rows as they are drawn."""

    jobs: list = field(default_factory=list)
    job_parts: list = field(default_factory=list)
    job_modules: list = field(default_factory=list)
    outcomes: list = field(default_factory=list)
    stock: list = field(default_factory=list)
    open_codes: list = field(default_factory=list)
    open_modules: list = field(default_factory=list)
    faults: dict = field(default_factory=dict)
    causes: dict = field(default_factory=dict)


def plant(seed: int, dirty: bool = False, parts: int = 30, makes: int = 5) -> Truth:
    """Draw the parameters of one world."""
    rng = np.random.default_rng(seed)
    home = [MODULES[i % len(MODULES)] for i in range(parts)]
    rows, own, tells = _own_codes(rng, home)
    link, named = np.zeros((parts, len(rows))), np.zeros((parts, len(rows)), dtype=bool)
    for d, (i, strength) in enumerate(own):
        link[i, d] = strength
        named[tells[d], d] = True
    for i in range(parts):
        for d in rng.choice(len(rows), size=int(rng.integers(0, 4)), replace=False):
            link[i, d] = max(link[i, d], rng.uniform(0.3, 0.9))
        if rng.random() < 0.5:
            link[i, len(own) + MODULES.index(home[i])] = rng.uniform(0.3, 0.9)
    overall = rng.gamma(0.8, size=parts) + 0.05
    fault = np.array([overall * rng.gamma(2.0, 0.5, size=parts) for _ in range(makes)])
    fault = np.clip(fault / fault.sum(axis=1, keepdims=True), 1e-4, 0.6)
    fault /= fault.sum(axis=1, keepdims=True)
    price, minutes = rng.integers(8, 180, size=parts) * 100, rng.integers(5, 90, size=parts)
    leak = rng.uniform(0.001, 0.02 if dirty else 0.006, size=len(rows))
    tau = rng.choice([8.0, 25.0, 60.0], size=len(rows))
    total = price + minutes / 60 * COSTS.labour_rate_cents
    return Truth(link, fault, leak, tau, total, named, _codes(rows), _parts(price, minutes), dirty)


def _own_codes(rng: np.random.Generator, home: list[str]) -> tuple[list, list[tuple[int, float]], list[int]]:
    """Up to three codes a part, three of ten of them naming another part; then one network code a module."""
    rows, own, tells = [], [], []
    for i, module in enumerate(home):
        for k in range(int(rng.integers(1, 4))):
            tells.append(i if rng.random() < 0.7 else int(rng.integers(len(home))))
            rows.append((module, f"P{i:02d}{k:02d}", f"gadget{tells[-1]} {'low' if k else 'high'}", None, False))
            own.append((i, rng.uniform(0.5, 0.97)))
    for m, module in enumerate(MODULES):
        rows.append((MODULES[(m + 3) % len(MODULES)], f"U01{m:02d}", f"no messages from {module}", module, True))
    return rows, own, tells


def _codes(rows: list) -> pl.DataFrame:
    keys = [f"{module}:{short}" for module, short, *_ in rows]
    return pl.DataFrame(
        [
            (key, module, short, None, text, None, points, None, network, 5)
            for key, (module, short, text, points, network) in zip(keys, rows, strict=True)
        ],
        schema={
            "code": pl.String, "module": pl.String, "short": pl.String, "make": pl.String, "text": pl.String,
            "component": pl.String, "points_at": pl.String, "role_hint": pl.String, "network": pl.Boolean,
            "vehicles": pl.Int64,
        },
        orient="row",
    )  # fmt: skip


def _parts(price: np.ndarray, minutes: np.ndarray) -> pl.DataFrame:
    return pl.DataFrame(
        {
            "part": [f"gadget{i}" for i in range(len(price))],
            "also_called": pl.Series([None] * len(price), dtype=pl.String),
            "part_cents": price.astype(int),
            "labour_minutes": minutes.astype(float),
            "check_minutes": pl.Series([None] * len(price), dtype=pl.Float64),
            "opening": pl.Series([None] * len(price), dtype=pl.String),
            "opening_minutes": pl.Series([None] * len(price), dtype=pl.Float64),
            "check_misses": pl.Series([None] * len(price), dtype=pl.Float64),
            "check_false_alarms": pl.Series([None] * len(price), dtype=pl.Float64),
            "price_source": ["price book"] * len(price),
            "positions": pl.Series([None] * len(price), dtype=pl.String),
        }
    )


def fleet(
    truth: Truth, seed: int, visits: int, stock: int
) -> tuple[DiagnosisFrames, dict[str, set[int]], dict[str, dict[str, set]]]:
    """Draw past jobs and cars in stock; returns the frames and, per car in stock, its faults and who set each code."""
    rng = np.random.default_rng(seed)
    book = Book()
    car = 0
    while len(book.jobs) < visits:
        _life(truth, rng, book, f"old{car:05d}", visits)
        car += 1
    for k in range(stock):
        make, faults, present = _new_car(truth, rng)
        vehicle = f"new{k:05d}"
        read = _read(truth, rng, present)
        keys, modules = truth.codes["code"].to_list(), truth.codes["module"].to_list()
        book.stock.append((vehicle, f"make{make}", "model", "line"))
        book.faults[vehicle] = faults
        book.causes[vehicle] = {
            keys[d]: by for d, by in _causes(truth, rng, faults, present).items() if modules[d] in read
        }
        book.open_codes += [
            (vehicle, modules[d], keys[d], START, START, "active", None) for d in present if modules[d] in read
        ]
        book.open_modules += [(vehicle, module) for module in sorted(read)]
    return _frames(truth, book), book.faults, book.causes


def _new_car(truth: Truth, rng: np.random.Generator) -> tuple[int, set[int], list[int]]:
    while True:
        make = int(rng.integers(len(truth.fault)))
        number = int(rng.choice(4, p=FAULTS))
        faults = set(rng.choice(truth.fault.shape[1], size=number, replace=False, p=truth.fault[make]).tolist())
        quiet = (1 - truth.link[sorted(faults)]).prod(axis=0) * (1 - truth.leak)
        present = np.flatnonzero(rng.random(len(quiet)) > quiet).tolist()
        if present:
            return make, faults, present


def _read(truth: Truth, rng: np.random.Generator, present: list[int]) -> set[str]:
    modules = truth.codes["module"].to_list()
    read = {module for module in MODULES if not truth.dirty or rng.random() < 0.85}
    return read | {modules[present[0]]}


def _life(truth: Truth, rng: np.random.Generator, book: Book, vehicle: str, visits: int) -> None:
    """One car's visits until its codes are gone or patience ends."""
    make, faults, present = _new_car(truth, rng)
    causes = _causes(truth, rng, faults, present)
    tried: set[int] = set()
    for _ in range(3):
        if len(book.jobs) >= visits or not present:
            return
        fitted = _choose(truth, rng, faults, present, tried)
        tried |= fitted
        works = rng.random() > BAD_PART
        left = faults - fitted if works else faults
        again = [d for d in present if causes[d] & left or (not causes[d] & faults and "leak" in causes[d])]
        km = float(rng.lognormal(3.6, 1.0)) if truth.dirty else float(rng.lognormal(4.6, 0.6))
        shown = _job(truth, rng, book, vehicle, make, present, fitted, again, km)
        if not shown:
            return
        faults, present = left, shown


def _causes(truth: Truth, rng: np.random.Generator, faults: set[int], present: list[int]) -> dict[int, set]:
    """Who set each present code: drawn from the posterior of the noisy-OR by rejection."""
    causes = {}
    for d in present:
        while True:
            by = {i for i in faults if rng.random() < truth.link[i, d]}
            leak = rng.random() < truth.leak[d]
            if by or leak:
                causes[d] = by | ({"leak"} if leak and rng.random() < 0.3 else set())
                break
    return causes


def _choose(truth: Truth, rng: np.random.Generator, faults: set[int], present: list[int], tried: set[int]) -> set[int]:
    draw = rng.random()
    named = sorted(set(np.flatnonzero(truth.named[:, present].any(axis=1)).tolist()) - tried)
    if draw < 0.08:
        return set()
    if draw < 0.45 and faults:
        chosen = {int(rng.choice(sorted(faults)))}
    elif named:
        chosen = {int(rng.choice(named))}
    else:
        chosen = {int(rng.integers(len(truth.link)))}
    if rng.random() < 0.15 and named:
        chosen |= {int(rng.choice(named))}
    return chosen


def _job(truth, rng, book, vehicle, make, present, fitted, again, km) -> list[int]:
    job = len(book.jobs) + 1
    keys, modules = truth.codes["code"].to_list(), truth.codes["module"].to_list()
    done = START + timedelta(days=job)
    book.jobs.append((job, vehicle, f"J{job}", f"make{make}", "line", done, done, 1000.0 * job, True, not fitted))
    for i in sorted(fitted):
        price = int(truth.parts["part_cents"][i])
        book.job_parts.append((job, f"gadget{i}", "", "replace", None, price, 30.0))
    before = _read(truth, rng, present)
    after = {module for module in MODULES if not truth.dirty or rng.random() < 0.85}
    book.job_modules += [(job, module) for module in sorted(before)]
    shown = []
    for d in present:
        at = float(rng.exponential(truth.tau[d]))
        back = d in again and at <= km
        shown += [d] if back else []
        if modules[d] not in before:
            continue
        outcome, proven, to_return = _outcome(truth, d, back, modules[d] in after, km, at)
        book.outcomes.append(
            (job, vehicle, f"J{job}", modules[d], keys[d], None, outcome, proven, 3.0 if to_return else None, to_return)
        )
    return shown


def _outcome(truth, d, back, read, km, at):
    if not read:
        return "unread", None, None
    if back:
        return "returned", None, km
    return ("cleared" if km >= 2.3 * truth.tau[d] else "unproven"), km, None


def _frames(truth: Truth, book: Book) -> DiagnosisFrames:
    def frame(rows: list, **columns: type) -> pl.DataFrame:
        return pl.DataFrame(rows, schema=columns, orient="row")

    text, number, whole, when, yes = pl.String, pl.Float64, pl.Int64, pl.Datetime, pl.Boolean
    return DiagnosisFrames(
        stock=frame(book.stock, vehicle=text, make=text, model=text, line=text),
        open_codes=frame(
            book.open_codes, vehicle=text, module=text, code=text, first_seen=when, last_seen=when, status=text,
            background=text,
        ),
        open_modules=frame(book.open_modules, vehicle=text, module=text),
        jobs=frame(
            book.jobs, job_id=whole, vehicle=text, job=text, make=text, line=text, done_at=when, parted_at=when,
            odometer=number, erased=yes, erase_only=yes,
        ),
        job_parts=frame(
            book.job_parts, job_id=whole, part=text, position=text, action=text, supplier=text, part_cents=whole,
            labour_minutes=number,
        ),
        job_modules=frame(book.job_modules, job_id=whole, module=text),
        outcomes=settled(
            frame(
                book.outcomes, job_id=whole, vehicle=text, job=text, module=text, code=text, background=text,
                outcome=text, km_proven=number, days_to_return=number, km_to_return=number,
            )
        ),
        codes=truth.codes,
        parts=truth.parts,
        cautions=pl.DataFrame(
            schema=dict.fromkeys(("words", "modules", "codes", "follows", "system", "caution"), text)
        ),
        first_checks=pl.DataFrame(schema={"words": text, "check_first": text}),
        inspection=pl.DataFrame(schema=dict.fromkeys(("countries", "module", "code", "inspection", "warning"), text)),
    )  # fmt: skip


def nothing_mined() -> Findings:
    """What mining finds for a new dealer: nothing."""
    lists = pl.List(pl.String)
    families = pl.DataFrame(schema={"family": pl.String, "codes": lists, "root": pl.String, "knock_on": lists})
    return only_families(families, pl.DataFrame(schema={"family": pl.String, "code": pl.String, "role": pl.String}))
