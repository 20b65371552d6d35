"""Does ``appraise`` tell before buying what clearing a car will cost?

    python -m tests.studies.appraisal_study KIND CARS SEEDS... [--offered N]

draws one dealer a seed, has the weekly batch read its files, and has it appraise N freshly drawn cars (100), of which
the seller erased a sixth: that many kilometres ago, and only half of the cars tell.  What a car truly costs is found by
following its list as it is printed, checks before buying among it, then driving on until the rest shows and following
the list for that.  Printed: the mean that was appraised over the mean that was paid, the chance of more than the
specialist's price against how often it was more, and how often the price that nine in ten such cars keep was kept,
beside how often the appraisals themselves say so; all of it for every car, and apart for those that were erased and for
those that show nothing.
"""

import argparse
import sys
import tempfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

import numpy as np
import polars as pl

from analysis.diagnosis import list_cars
from analysis.diagnosis.appraise import Appraisal, appraise
from analysis.diagnosis.decision.appraisal import chance_above, nearest_quantile
from pipelines.batch.one_scan import model_of_scan
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.read_table import Reading
from pipelines.reading.recognise import read_file
from pipelines.settings import load_settings
from pipelines.storage.file_archive import content_hash
from pipelines.storage.file_loader import LoadedFile, load_file
from pipelines.storage.session import reading
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace
from tests.studies.process_study import read_steps, weekly_batch
from tests.studies.worlds import KINDS, PriceBook, Step, draw_dealer, play_car, price_book, write_inbox
from tests.studies.worlds.drawing import TODAY, Dealer
from tests.studies.worlds.files import SCAN_COLUMNS, scan_rows
from tests.studies.worlds.life import Life
from tests.studies.worlds.scanning import Scan
from tests.studies.worlds.truth import truth_of
from tests.studies.worlds.workshop import Shop, bring_in

UNTIL_ALL_SHOWS = 300.0
"""Driven between the first list and the second, in km: nearly every fault has shown by then."""


@dataclass(frozen=True, kw_only=True)
class Offered:
    """One car that is offered.

    Attributes:
        life: What it truly has.
        scan: What the dealer sees before buying.
        rng: For all that happens to it from then on.
    """

    life: Life
    scan: Scan
    rng: np.random.Generator


@dataclass(frozen=True, kw_only=True)
class Appraised:
    """What was told of a car and what it came to, in the workspace's currency.

    Attributes:
        mean: Appraised on average.
        above: Appraised chance of more than the limit.
        nine_in_ten: The total whose share of such cars that cost no more is nearest to nine in ten.
        keeps: Appraised chance of no more than that: seldom nine in ten, as one price is often many cars'.
        paid: What it came to.
        at_once: How much of that for what the first scan showed.
        erased: The seller erased.
        blank: Its scan shows no code.
    """

    mean: float
    above: float
    nine_in_ten: float
    keeps: float
    paid: float
    at_once: float
    erased: bool
    blank: bool


def offered_cars(dealer: Dealer, count: int) -> tuple[Shop, dict[str, Offered]]:
    """Draw cars that are offered to a dealer today, and scan each once with a whole list."""
    rng = np.random.default_rng([dealer.seed, 40])
    start = (TODAY - timedelta(days=dealer.settings.days)).replace(hour=0)
    shop = Shop(world=dealer.world, seed=dealer.seed, start=start, rng=rng)
    cars: dict[str, Offered] = {}
    for number in range(100 * count):
        if len(cars) == count:
            break
        mine = np.random.default_rng([dealer.seed, 50, number])
        life = bring_in(shop, f"X{number + 1:04d}", TODAY - timedelta(days=1), mine)
        shop.scan(life.car, TODAY - timedelta(hours=3), "first", mine)
        taken = shop.scans[-1]
        # A list that could not have named a standing fault is not what one buys by.
        if taken.asked == "all" and not taken.partial and taken.at == taken.shown_at:
            cars[life.car.vehicle] = Offered(life=life, scan=taken, rng=mine)
    return shop, cars


def lists_of(
    folder: Path, dealer: Dealer, scans: Iterable[Scan], name: str
) -> tuple[dict[str, list[Step]], Callable[[str], Appraisal]]:
    """Have the workspace look at scans that it does not load: each car's list, and its appraisal."""
    workspace = Workspace.open(folder)
    settings = load_settings(workspace.settings_file)
    path = folder / f"{name}.csv"
    rows = [row for scan in scans for row in scan_rows(dealer, scan)]
    pl.DataFrame(rows, schema=dict.fromkeys(SCAN_COLUMNS, pl.String)).write_csv(path)
    read = read_file(path, LAYOUTS["scans"], settings.zone, ())

    def load(copy: Warehouse) -> None:
        load_file(copy, LoadedFile(path.name, "scans", content_hash(path), ""), read.rows, read.rejects)
        _into_stock(copy, dealer, {scan.vehicle: scan.make for scan in scans}, read)

    with reading(workspace) as warehouse:
        _, model, past = model_of_scan(workspace, settings, TODAY.date(), warehouse, load)
    rows_of = list_cars(model).rows.with_columns(pl.col(pl.String).fill_null(""))
    return read_steps(rows_of.iter_rows(named=True)), partial(appraise, model, past=past)


def _into_stock(copy: Warehouse, dealer: Dealer, makes: dict[str, str], read: Reading) -> None:
    columns = [column.name for column in LAYOUTS["stock"].kept]
    models = {vehicle: dealer.lives[vehicle].car.line.model for vehicle in makes if vehicle in dealer.lives}
    rows = [{"vehicle": vehicle, "make": make, "model": models.get(vehicle)} for vehicle, make in makes.items()]
    stock = pl.DataFrame([{n: row.get(n) for n in columns} for row in rows], schema=dict.fromkeys(columns, pl.String))
    numbered = stock.with_columns(row=pl.int_range(2, pl.len() + 2, dtype=pl.Int64))
    load_file(copy, LoadedFile("offered", "stock", "offered", ""), numbered, read.rejects.clear())


def first_round(one: Offered, steps: list[Step], dealer: Dealer, costs: PriceBook) -> float:
    """Follow the list of what was seen; what it names is done then, and the codes are erased.

    Where it says to check a part first, only what the check finds faulty is bought; a car that shows nothing, and is to
    be driven before a scan tells, is driven.
    """
    if not one.scan.found:
        return costs.recheck if any(step.action == "recheck" for step in steps) else 0.0
    truth = truth_of(dealer.world, one.life, one.scan, one.rng)
    played = play_car(steps, truth, costs, one.rng)
    for cause in one.life.open_faults():
        if cause.name in {fault.name for fault in truth.faults}:
            cause.fixed = True
    return played.cost


def judge(folder: Path, dealer: Dealer, count: int) -> list[Appraised]:
    """Appraise the offered cars, and find what each of them costs."""
    shop, cars = offered_cars(dealer, count)
    dealer.lives.update({vehicle: one.life for vehicle, one in cars.items()})
    costs = price_book(dealer.world)
    lists, appraisal = lists_of(folder, dealer, [one.scan for one in cars.values()], "offered")
    answers = {vehicle: appraisal(vehicle) for vehicle in cars}
    told = {vehicle: answer.costs for vehicle, answer in answers.items()}
    paid = {vehicle: first_round(one, lists.get(vehicle, []), dealer, costs) for vehicle, one in cars.items()}
    at_once = dict(paid)
    later = {vehicle: _driven_on(shop, one) for vehicle, one in cars.items() if one.life.open_faults()}
    more, _ = lists_of(folder, dealer, later.values(), "later")
    for vehicle, scan in later.items():
        seen = Offered(life=cars[vehicle].life, scan=scan, rng=cars[vehicle].rng)
        paid[vehicle] += first_round(seen, more.get(vehicle, []), dealer, costs) if scan.found else 0.0
    return [
        Appraised(
            mean=answers[vehicle].mean / 100,
            above=chance_above(told[vehicle], round(costs.specialist * 100)),
            nine_in_ten=nearest_quantile(told[vehicle], 0.9)[0] / 100,
            keeps=nearest_quantile(told[vehicle], 0.9)[1],
            paid=paid[vehicle],
            at_once=at_once[vehicle],
            erased=one.life.car.seller_erased,
            blank=not one.scan.found,
        )
        for vehicle, one in cars.items()
    ]


def _driven_on(shop: Shop, one: Offered) -> Scan:
    """Erase, drive until what is left has shown, and scan all of it."""
    now: datetime = TODAY
    one.life.car.erase()
    one.life.drive(UNTIL_ALL_SHOWS, now.month)
    while True:
        shop.scan(one.life.car, now, "after", one.rng)
        taken = shop.scans[-1]
        if taken.asked == "all" and not taken.partial and taken.at == taken.shown_at:
            return taken


def line(title: str, cars: list[Appraised], limit: float) -> str:
    """Return one line of the report."""
    if not cars:
        return f"{title}: none"
    mean, paid, at_once = (float(np.mean([getattr(one, name) for one in cars])) for name in ("mean", "paid", "at_once"))
    above, more = float(np.mean([one.above for one in cars])), float(np.mean([one.paid > limit for one in cars]))
    kept = float(np.mean([one.paid <= one.nine_in_ten + 0.005 for one in cars]))
    keeps = float(np.mean([one.keeps for one in cars]))
    error = float(np.std([one.mean - one.paid for one in cars]) / np.sqrt(len(cars)))
    return (
        f"{title}: {len(cars)} cars, appraised {mean:.1f}, paid {paid:.1f}, {at_once:.1f} of it at once "
        f"(difference {mean - paid:+.1f}, standard error {error:.1f}), more than {limit:.0f} appraised {above:.3f}, "
        f"came to {more:.3f}, nine in ten kept {kept:.3f}, appraised {keeps:.3f}"
    )


def report(cars: list[Appraised], limit: float) -> list[str]:
    """Return the lines of the whole report."""
    return [
        line("all", cars, limit),
        line("erased by the seller", [one for one in cars if one.erased], limit),
        line("not erased", [one for one in cars if not one.erased], limit),
        line("no code shown", [one for one in cars if one.blank], limit),
        line("codes shown", [one for one in cars if not one.blank], limit),
    ]


def main(words: list[str]) -> None:
    """Run every seed and print the report."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("kind", choices=sorted(KINDS))
    parser.add_argument("cars", type=int)
    parser.add_argument("seeds", type=int, nargs="+")
    parser.add_argument("--offered", type=int, default=100)
    told = parser.parse_args(words)
    every: list[Appraised] = []
    for seed in told.seeds:
        dealer = draw_dealer(KINDS[told.kind], told.cars, seed)
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            write_inbox(dealer, folder)
            weekly_batch(folder, dealer.today.date())
            every += judge(folder, dealer, told.offered)
        print(f"seed {seed} done", file=sys.stderr, flush=True)
    print(f"{told.kind}, {told.cars} past cars, seeds {told.seeds}")
    print("\n".join(report(every, 300.0)))


if __name__ == "__main__":
    main(sys.argv[1:])
