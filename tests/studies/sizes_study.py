"""What is a list worth after few repairs and after many, at each kind of drawn dealer?

    python -m tests.studies.sizes_study KIND... [--visits 30 150 300 600] [--seeds 100 6] [--judged 60]
                                                [--apart] [--rates]

draws dealers of so many past jobs, learns from them as the weekly batch does, and follows the list on the judged cars.
One line for a kind and a size: what the list, the plain ways and, with ``--apart``, a list that learns each make by
itself cost as ratios to who knows the faults; the list less what the best plain way costs, and less the list of makes
apart, with the standard error over dealers; how often the first part is right; the Brier score, what was said and what
was kept; first lines that own jobs tried in vain; and how often the 90 % intervals of first lines hold.

An interval is the Beta of a chance that is worth so many visits.  Were it right, of cars whose lists begin with the
same part for the same code at one dealer (that of its codes which it most often clears) as many would be kept as a
beta-binomial says; counted is how often their number lies in its inner 90 %, by the share of it where that cuts a
number in two.  Draw many judged cars for it: ``--judged 600``.

With ``--rates`` as many jobs again as ``KNOWN_BY`` are drawn in the same world, and it is told how often a clear rate's
interval holds the share that these come to.

Source:
    C. Czado, T. Gneiting and L. Held, "Predictive model assessment for count data", Biometrics 65 (2009): the
    probability integral transform of counts.
"""

import argparse
import sys
import tempfile
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import product
from pathlib import Path

import numpy as np
import polars as pl
from scipy.optimize import brentq
from scipy.stats import betabinom

from analysis.diagnosis import Costs, DiagnosisFrames, fit, list_cars
from analysis.diagnosis.evaluation.backtest import backtest
from analysis.diagnosis.inference.calibration import Calibration
from analysis.diagnosis.inference.posterior import interval
from analysis.evidence import EvidenceFrames, weigh
from analysis.mining import Findings
from pipelines.batch import weekly
from pipelines.batch.marts import costs_of
from pipelines.settings import load_settings
from pipelines.storage.session import opened
from pipelines.workspace import Workspace, week_name
from tests.studies.process_study import Outcome, judge, ratio, read_steps
from tests.studies.worlds import KINDS, Dealer, draw_dealer, write_inbox
from tests.studies.worlds.cars import World
from tests.studies.worlds.files import Inbox
from tests.studies.worlds.play import PARTS

JOBS_A_CAR = 1.55
"""So many jobs have a drawn dealer's past cars on average, those that only erase among them."""
SIZES = (30, 150, 300, 600)
FEWEST_ALIKE = 5
"""Of so many cars that begin with the same line it is told whether their interval holds."""
INNER = (0.05, 0.95)
KNOWN_BY, ENOUGH = 4000, 40
"""Past jobs from which true clear rates are taken, and how many of one part and family it takes."""
RIVALS = ("code_book", "most_fitted", "nearest")


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What the week hands to the diagnosis at one drawn dealer.

    Attributes:
        dealer: With its truth.
        inbox: Its files.
        frames: The facts.
        past: The facts that clear rates rest on.
        findings: As mined.
        costs: What work costs.
    """

    dealer: Dealer
    inbox: Inbox
    frames: DiagnosisFrames
    past: EvidenceFrames
    findings: Findings
    costs: Costs


@dataclass(frozen=True, kw_only=True)
class Cell:
    """One dealer of a kind and size.

    Attributes:
        outcome: What each way to choose came to.
        apart: What a list that learns each make by itself came to; None where that was not asked.
        held: For each first line of enough cars how far its interval holds.
        rates: For each clear rate of which the true one is known whether its interval holds it.
    """

    outcome: Outcome
    apart: Outcome | None
    held: list[float]
    rates: list[bool]


def facts_at(kind: str, visits: int, seed: int, judged: int, world: World | None = None) -> Facts:
    """Draw a dealer and read its files as a week does, without a report.

    Args:
        kind: One of ``KINDS``.
        visits: Past jobs, about.
        seed: Of the dealer.
        judged: Cars to judge.
        world: That of another dealer; None: one of his own.
    """
    dealer = draw_dealer(KINDS[kind], round(visits / JOBS_A_CAR), seed, judged, world)
    with tempfile.TemporaryDirectory() as name:
        inbox, workspace, day = write_inbox(dealer, Path(name), False), Workspace.open(Path(name)), dealer.today.date()
        settings = load_settings(workspace.settings_file)
        week = week_name(day, settings.week_starts)
        with opened(workspace) as warehouse:
            weekly.read(workspace, settings, warehouse, week=week, progress=lambda _: None, spread=None)
            weekly.normalise(workspace, warehouse)
            facts = weekly.state_facts(warehouse, settings, day)
        return Facts(
            dealer=dealer,
            inbox=inbox,
            frames=facts.take(DiagnosisFrames),
            past=facts.take(EvidenceFrames),
            findings=weekly.mine(facts, settings, None),
            costs=costs_of(settings),
        )


def rows_of(facts: Facts, calibration: Calibration | None = None) -> pl.DataFrame:
    """Return the list as the week makes it, texts without blanks.

    Args:
        facts: Of the dealer.
        calibration: How far chances are believed; None: as its own past tells.
    """
    told = calibration or backtest(facts.frames, facts.costs).calibration
    rows = list_cars(fit(facts.frames, facts.findings.families, facts.costs, told)).rows
    return rows.with_columns(pl.col(pl.String).fill_null(""))


def rows_apart(facts: Facts) -> pl.DataFrame:
    """Return the list with each make learned from by itself; how far chances are believed all together tell."""
    calibration = backtest(facts.frames, facts.costs).calibration
    makes = facts.frames.stock["make"].unique().sort()
    return pl.concat([rows_of(replace(facts, frames=of_make(facts.frames, make)), calibration) for make in makes])


def of_make(frames: DiagnosisFrames, make: str) -> DiagnosisFrames:
    """Return the facts with the jobs and cars of one make alone.

    Args:
        frames: Of all makes.
        make: As the stock list writes it.
    """
    stock = frames.stock.filter(pl.col("make") == make)
    jobs = frames.jobs.filter(pl.col("make") == make)
    kept = {"stock": stock, "jobs": jobs, "first_codes": frames.first_codes.filter(pl.col("make") == make.lower())}
    by_job, by_car = jobs["job_id"].implode(), pl.concat([stock["vehicle"], jobs["vehicle"]]).unique().implode()
    for name in ("job_parts", "job_modules", "outcomes"):
        kept[name] = getattr(frames, name).filter(pl.col("job_id").is_in(by_job))
    for name in ("open_codes", "open_modules", "stock_erases"):
        kept[name] = getattr(frames, name).filter(pl.col("vehicle").is_in(stock["vehicle"].implode()))
    for name in ("first_modules", "car_modules", "job_checks"):
        kept[name] = getattr(frames, name).filter(pl.col("vehicle").is_in(by_car))
    return replace(frames, **kept)


def cell(facts: Facts, kind: str, *, apart: bool = False, rates: bool = False) -> Cell:
    """Judge the lists of one dealer.

    Args:
        facts: Of the dealer.
        kind: Of the dealer.
        apart: Learn each make by itself, too.
        rates: Hold clear rates against those of many more jobs, too.
    """
    rows = rows_of(facts)
    outcome = judged_on(facts, rows)
    return Cell(
        outcome=outcome,
        apart=judged_on(facts, rows_apart(facts)) if apart else None,
        held=held_by_line(rows, outcome),
        rates=held_rates(facts, kind) if rates else [],
    )


def held_rates(facts: Facts, kind: str) -> list[bool]:
    """Return for each clear rate whether its interval holds what many more jobs of the same world come to."""
    dealer = facts.dealer
    many = facts_at(kind, KNOWN_BY, dealer.seed + 1, 0, dealer.world)
    told, true = (weigh(past, facts.findings.members).part_results for past in (facts.past, many.past))
    both = told.join(true.filter(pl.col("jobs") >= ENOUGH), on=["part", "family"], suffix="_true")
    return both.select(pl.col("rate_true").is_between("rate_low", "rate_high")).to_series().to_list()


def judged_on(facts: Facts, rows: pl.DataFrame) -> Outcome:
    """Follow a list, and the plain ways' lists, on the judged cars."""
    return judge(facts.dealer, read_steps(rows.iter_rows(named=True)), facts.inbox)


def held_by_line(rows: pl.DataFrame, outcome: Outcome) -> list[float]:
    """Return for each first line of enough judged cars how far what was kept lies within what its interval allows.

    Args:
        rows: The list.
        outcome: Of following it.
    """
    first = rows.filter(pl.col("rank") == 1, pl.col("action").is_in(PARTS))
    columns = ("vehicle", "part", "position", "clears", "chance", "chance_low", "chance_high")
    lines = [(*told[:3], told[3].split(";"), *told[4:]) for told in first.select(columns).iter_rows()]
    often = Counter((part, place, code) for _, part, place, clears, *_ in lines for code in clears)
    alike: dict[tuple[str, str, str], list[tuple[float, float, bool]]] = defaultdict(list)
    for vehicle, part, place, clears, chance, low, high in lines:
        told = outcome.played["list"].get(vehicle)
        if told and told.forecasts:
            code = max(clears, key=lambda code: (often[part, place, code], code))
            alike[part, place, code].append((chance, visits_of(chance, low, high), told.forecasts[0].kept))
    return [held(*zip(*cars, strict=True)) for cars in alike.values() if len(cars) >= FEWEST_ALIKE]


def visits_of(chance: float, low: float, high: float) -> float:
    """Return the number of visits that a chance with this interval is worth."""

    def wider(log_size: float) -> float:
        told = interval(chance, float(np.exp(log_size)))
        return told[1] - told[0] - (high - low)

    least, most = -3.0, 12.0
    if high <= low or wider(most) > 0:
        return float(np.exp(most))
    return float(np.exp(brentq(wider, least, most))) if wider(least) > 0 else float(np.exp(least))


def held(chances: Iterable[float], sizes: Iterable[float], kept: Iterable[bool]) -> float:
    """Return the share of the transform of a number of kept cars that lies within ``INNER``."""
    chance, size, ends = float(np.mean(list(chances))), float(np.mean(list(sizes))), list(kept)
    told = betabinom(len(ends), chance * size, (1 - chance) * size)
    below, upto = float(told.cdf(sum(ends) - 1)), float(told.cdf(sum(ends)))
    inside = min(upto, INNER[1]) - max(below, INNER[0])
    return max(inside, 0.0) / (upto - below) if upto > below else 0.0


HEAD = (
    f"{'kind':<16}{'visits':>7}{'cars':>6}{'list':>7}{'book':>7}{'most':>7}{'near':>7}{'apart':>7}"
    f"{'- best':>15}{'- apart':>15}{'top-1':>7}{'book':>6}{'Brier':>7}{'said':>6}{'kept':>6}{'vain':>6}"
    f"{'held':>6}{'of':>5}{'rates':>6}{'of':>5}"
)


def line(kind: str, visits: int, cells: list[Cell]) -> str:
    """Return the line of one kind and size."""
    outcomes = [one.outcome for one in cells]
    best = [outcome.cost("knowing") for outcome in outcomes]
    mine = [outcome.cost("list") for outcome in outcomes]
    costs = [ratio(mine, best)[0], *(ratio((o.cost(name) for o in outcomes), best)[0] for name in RIVALS)]
    ahead = min(RIVALS[:2], key=lambda name: sum(o.cost(name) for o in outcomes))
    behind = _difference(mine, [o.cost(ahead) for o in outcomes], best)
    apart = [one.apart.cost("list") for one in cells if one.apart]
    told = [one for outcome in outcomes for one in outcome.played["list"].values()]
    book = [one for outcome in outcomes for one in outcome.played["code_book"].values()]
    promised = [promise for one in told for promise in one.forecasts]
    off = [(promise.chance - promise.kept) ** 2 for promise in promised]
    held = [share for one in cells for share in one.held]
    rates = [holds for one in cells for holds in one.rates]
    first = [one for one in told if one.begins_fitting]
    cost = "".join(f"{one:>7.3f}" for one in (*costs, ratio(apart, best)[0] if apart else float("nan")))
    shares = (
        *(_mean(one.first_right for one in every if one.has_part) for every in (told, book)),
        *(_mean(some) for some in (off, [p.chance for p in promised], [p.kept for p in promised])),
        _mean(one.begins_in_vain for one in first),
        _mean(held),
    )
    widths = (7, 6, 7, 6, 6, 6, 6)
    return (
        f"{kind:<16}{visits:>7}{len(told):>6}{cost}{behind:>15}{_difference(mine, apart, best) if apart else '':>15}"
        + "".join(f"{share:>{width}.3f}" for share, width in zip(shares, widths, strict=True))
        + f"{len(held):>5}{_mean(rates):>6.3f}{len(rates):>5}"
    )


def _mean(numbers: Iterable[float]) -> float:
    told = list(numbers)
    return float(np.mean(told)) if told else float("nan")


def _difference(mine: list[float], theirs: list[float], best: list[float]) -> str:
    """Say how much dearer one way is than another, in shares of what who knows the faults pays, and the error."""
    value, error = ratio((one - other for one, other in zip(mine, theirs, strict=True)), best)
    return f"{value:+.3f} ({error:.3f})"


def main(words: list[str]) -> None:
    """Draw, judge and print, one line after the other."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("kinds", choices=sorted(KINDS), nargs="+")
    parser.add_argument("--visits", type=int, nargs="+", default=SIZES)
    parser.add_argument("--seeds", type=int, nargs=2, default=(100, 6), metavar=("FIRST", "DEALERS"))
    parser.add_argument("--judged", type=int, default=60)
    parser.add_argument("--apart", action="store_true")
    parser.add_argument("--rates", action="store_true")
    told = parser.parse_args(words)
    print(HEAD, flush=True)
    for kind, visits in product(told.kinds, told.visits):
        seeds = range(told.seeds[0], sum(told.seeds))
        cells = [
            cell(facts_at(kind, visits, seed, told.judged), kind, apart=told.apart, rates=told.rates) for seed in seeds
        ]
        print(line(kind, visits, cells), flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
