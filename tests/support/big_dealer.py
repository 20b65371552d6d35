"""Draws a dealer group for timing: many sites, each a dealer of the demo's kind, a hundred scan rows a car.

``python -m tests.support.big_dealer 50000 FOLDER`` writes a workspace whose inbox is new.
A site has up to 5,000 cars, files of its own and is drawn by itself, so time
grows with the cars and memory does not.  Beyond the demo's habits the reader
asks 14 more modules of every car, and those hold rare codes of the makes,
2,000 in all, so that a larger group knows more codes.  One car in 25 is in stock.
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from collections.abc import Iterator
from itertools import accumulate
from pathlib import Path
from random import Random

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))

from fixtures.dealer.drawing import draw
from fixtures.dealer.exports import (
    PART_COLUMNS,
    REPAIR_COLUMNS,
    SCAN_COLUMNS,
    STOCK_COLUMNS,
    Row,
    job_rows,
    part_rows,
    scan_rows,
    stock_row,
)
from fixtures.dealer.workshop import Story
from fixtures.dealer.writing import END, SETTINGS, write_table, write_text

SEED = 7
SITE = 5000
ONE_IN_STOCK = 25
MORE_MODULES = ("ESC", "BBM", "SCM", "OCS", "IMMO", "FCAM", "ASU", "PDM", "SEAT", "GPCM", "FPCM", "OBC", "BECM", "MCU")
RARE = [(MORE_MODULES[k % 14], f"B{1000 + 7 * k}") for k in range(400)]  # as each make numbers them: 2,000 codes
_RARITY = list(accumulate(1 / (k + 3) for k in range(len(RARE))))


def write_group(cars: int, folder: Path, seed: int = SEED, one_in_stock: int = ONE_IN_STOCK) -> int:
    """Write a workspace.

    Args:
        cars: Number of cars.
        folder: Where it shall stand.
        seed: Start of every dice.
        one_in_stock: One car of so many is in stock; 1: all are, with an open code most of them.

    Returns:
        Rows of its scan files.
    """
    rows = 0
    for site, first in enumerate(range(1, cars + 1, SITE), 1):
        many = min(SITE, cars - first + 1)
        stories = draw(many, seed=seed * 1000 + site, in_stock=max(many // one_in_stock, 4), first=first)
        rows += _write_site(stories, folder / "inbox", f"site-{site:02d}", seed)
    write_table(folder / "inbox" / "parts" / "price-book.csv", PART_COLUMNS, part_rows())
    write_text(folder / "knockon.toml", SETTINGS)
    return rows


def _write_site(stories: list[Story], inbox: Path, site: str, seed: int) -> int:
    months: dict[str, list[Row]] = defaultdict(list)
    jobs: dict[str, list[Row]] = defaultdict(list)
    for story in stories:
        car = story.life.car
        dice = Random(f"{seed}/rare/{car.vehicle}")
        rare = _rare_codes(dice)
        for scan in story.life.scans:
            rows = scan_rows(car, scan, dice)
            whole = set(car.model.modules) == {*scan.answered, *scan.silent}
            months[f"{scan.at:%Y-%m}"] += [*rows, *(_more_rows(rows[0], rare, dice) if whole else ())]
        for number, visit in enumerate(story.visits, 1):
            jobs[f"{visit.at:%Y}"] += job_rows(car, number, visit)
    for month, rows in months.items():
        write_table(inbox / "scans" / f"{site}-{month}.csv", SCAN_COLUMNS, rows)
    for year, rows in jobs.items():
        write_table(inbox / "repairs" / f"{site}-{year}.csv", REPAIR_COLUMNS, rows)
    write_table(inbox / "stock" / f"{site}-{END}.csv", STOCK_COLUMNS, map(stock_row, stories))
    return sum(map(len, months.values()))


def _rare_codes(dice: Random) -> list[tuple[str, str]]:
    """Half of all cars store one or two rare codes, few codes of them often, most hardly ever."""
    many = dice.choices((0, 1, 2), (0.5, 0.35, 0.15))[0]
    return dice.choices(RARE, cum_weights=_RARITY, k=many)


def _more_rows(head: Row, rare: list[tuple[str, str]], dice: Random) -> Iterator[Row]:
    scan = {name: head[name] for name in SCAN_COLUMNS[:5] if name in head}
    for module in MORE_MODULES:
        shown = sorted({code for place, code in rare if place == module and dice.random() < 0.6})
        yield from (scan | {"module": module, "code": code, "text": f"Rare fault {code}"} for code in shown)
        if not shown:
            yield scan | {"module": module, "module_state": "read"}


def main() -> None:
    """Draw and say how much it is."""
    parser = argparse.ArgumentParser(description="Draw a dealer group for timing.")
    parser.add_argument("cars", type=int)
    parser.add_argument("folder", type=Path)
    given = parser.parse_args()
    print(f"{given.cars} cars, {write_group(given.cars, given.folder)} scan rows in {given.folder}")


if __name__ == "__main__":
    main()
