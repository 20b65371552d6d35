"""Draws one dealer: cars come in over about two years, and their stories are told in the order of time."""

import heapq
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from tests.studies.worlds.cars import Car, World, draw_world
from tests.studies.worlds.life import Life
from tests.studies.worlds.scanning import Scan
from tests.studies.worlds.settings import WorldSettings
from tests.studies.worlds.truth import CarTruth, truth_of
from tests.studies.worlds.workshop import Job, Shop, bring_in, story

TODAY = datetime(2026, 11, 27, 18)
FRESH_DAYS = 20
"""Cars to judge came in within so many days, and nobody has repaired them."""
MOST_DRAWN = 30
"""So many cars are drawn at most for each one to judge."""
MOST_JUDGED, FEWEST_JUDGED = 300, 20


@dataclass(frozen=True, kw_only=True)
class Dealer:
    """One dealer, with all that was written down and all that is true.

    Attributes:
        settings: The mechanisms.
        seed: What it was drawn from.
        today: The day of the list.
        world: Lines, parts, prices, codes.
        cars: Every car, by stock number.
        lives: The same cars with their causes.
        scans: Every scan until today, in the order of time.
        jobs: Every job until today, in the order of time.
        truth: The cars to judge, by stock number: in stock today, with open codes, never repaired here.
    """

    settings: WorldSettings
    seed: int
    today: datetime
    world: World
    cars: dict[str, Car]
    lives: dict[str, Life]
    scans: list[Scan]
    jobs: list[Job]
    truth: dict[str, CarTruth]


def draw_dealer(
    settings: WorldSettings, cars: int, seed: int, judged: int | None = None, world: World | None = None
) -> Dealer:
    """Draw a dealer of so many past cars, and the cars to judge.

    Args:
        settings: The mechanisms.
        cars: Cars that came in over ``settings.days``.
        seed: The same seed draws the same dealer.
        judged: Cars to judge beside them; None: half as many as ``cars``, 20 at least and 300 at most.
        world: That of another dealer, for one who has the same makes, parts and codes; None: one of his own.

    Returns:
        The dealer.

    Raises:
        ValueError: ``cars`` or ``judged`` is negative, or hardly any car shows a code with these settings.
    """
    if judged is None:
        judged = min(max(cars // 2, FEWEST_JUDGED), MOST_JUDGED)
    if cars < 0 or judged < 0:
        raise ValueError(f"a dealer has no negative number of cars; got {cars} and {judged}")
    rng = np.random.default_rng([seed, 1])
    world = world or draw_world(settings, rng)
    start = (TODAY - timedelta(days=settings.days)).replace(hour=0)
    shop = Shop(world=world, seed=seed, start=start, rng=rng)
    _tell(shop, _stories(shop, cars, seed))
    truth = _judged(shop, judged, seed)
    shop.scans.sort(key=lambda scan: (scan.at, scan.vehicle))
    shop.jobs.sort(key=lambda job: (job.at, job.vehicle))
    known = {vehicle: life.car for vehicle, life in shop.lives.items()}
    return Dealer(
        settings=settings, seed=seed, today=TODAY, world=world, cars=known, lives=shop.lives, scans=shop.scans,
        jobs=shop.jobs, truth=truth,
    )  # fmt: skip


def _stories(shop: Shop, cars: int, seed: int) -> list[Iterator[datetime]]:
    days = np.sort(np.random.default_rng([seed, 2]).uniform(0, shop.world.settings.days - 3, size=cars))
    stories = []
    for number, day in enumerate(days):
        bought = (shop.start + timedelta(days=float(day))).replace(hour=9, minute=number % 60, second=0, microsecond=0)
        rng = np.random.default_rng([seed, 10, number])
        stories.append(story(shop, f"V{number + 1:04d}", bought, rng))
    return stories


def _tell(shop: Shop, stories: list[Iterator[datetime]]) -> None:
    """Let every story go on in the order of time, until today."""
    due = [(next(one), number, one) for number, one in enumerate(stories)]
    heapq.heapify(due)
    while due:
        at, number, one = heapq.heappop(due)
        if at > TODAY:
            continue
        following = next(one, None)
        if following is not None:
            heapq.heappush(due, (following, number, one))


def _judged(shop: Shop, judged: int, seed: int) -> dict[str, CarTruth]:
    """Draw fresh cars until enough of them show a code.

    Raises:
        ValueError: With these settings hardly any car shows one.
    """
    truth: dict[str, CarTruth] = {}
    number = 0
    while len(truth) < judged:
        if number >= MOST_DRAWN * judged:
            raise ValueError(
                f"only {len(truth)} of {judged} cars to judge show a code in a whole list, of {number} drawn"
            )
        rng = np.random.default_rng([seed, 20, number])
        vehicle = f"W{number + 1:04d}"
        number += 1
        bought = (TODAY - timedelta(days=float(rng.uniform(3, FRESH_DAYS)))).replace(minute=0, second=0, microsecond=0)
        life = bring_in(shop, vehicle, bought, rng)
        at = bought + timedelta(hours=float(rng.uniform(1, 30)))
        shop.scan(life.car, at, "first", rng)
        last = shop.scans[-1]
        if rng.random() < 0.3:
            life.drive(float(rng.uniform(5, 60)), at.month)
            shop.scan(life.car, at + timedelta(hours=20), "before", rng)
            last = shop.scans[-1]
        if last.found and last.asked == "all":
            truth[vehicle] = truth_of(shop.world, life, last, rng)
    return truth
