"""What do the demo and whole dealer groups cost, before and after, beside pandas and mlxtend alone?

``python -m tests.studies.benchmark_table --before FOLDER`` runs the program of another checkout and this one by turns,
on the same machine and the same files: the demo without the engine and with it (the very first time of a user, and
later), a second week of it, and drawn dealer groups (``tests/support/big_dealer.py``).  Without ``--before`` this one
alone is measured.  A line a piece of work: processor seconds with all threads and ended children, the least of some
runs (``--runs``), and the most memory that one process of it held; behind the groups how the seconds grow with the
cars (1: twice the cars, twice the time).  The lines are a table as they stand.  Not a test: figures of one computer on
one day.

``... benchmark_table 500 --runs 1`` takes two minutes a checkout, the whole one some fifteen on a quiet machine.
"""

from __future__ import annotations

import argparse
import math
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

ROOT = Path(__file__).parents[2]
if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))

from tests.support.big_dealer import write_group  # noqa: E402
from tests.support.measuring import Cost, cost_of  # noqa: E402

DAY, NEXT_WEEK = "2026-11-23", "2026-11-30"
PANDAS = "pandas and mlxtend alone: baskets, sets, rules, clear rates"
AIMS = {"demo, plain": 10, "500 cars": 12, "50,000 cars": 200}
"""Processor seconds."""
OVER_PLAIN = {"demo, engine": ("demo, plain", 3), "demo, engine, the very first time": ("demo, plain", 6)}
"""So many more than the plain run."""


@dataclass(frozen=True)
class Checkout:
    """A checkout of the program, and where its files that all workspaces share stand.

    Attributes:
        name: As the table calls it.
        tree: Its folder.
        scratch: A folder of its own.
    """

    name: str
    tree: Path
    scratch: Path

    def run(self, words: Sequence[str], *, first_time: bool = False) -> Cost:
        """Run a command of it.

        Args:
            words: The command's words.
            first_time: As if the user had never run it before.
        """
        shared = Path(tempfile.mkdtemp(dir=self.scratch)) if first_time else self.scratch / "shared"
        places = {"PYTHONPATH": str(self.tree), "KNOCKON_SHARED_FILES": str(shared)}
        environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
        return cost_of([sys.executable, "-m", "pipelines", *words], self.scratch, environment | places)


def demo(checkout: Checkout, engine: str, name: str) -> Iterator[tuple[str, Cost]]:
    """Run the demo the very first time, once more, and a second week of it."""
    for first_time in (True, False):
        with _folder(checkout) as folder:
            cost = checkout.run(["demo", str(folder), "--engine", engine], first_time=first_time)
            yield f"demo, {name}{', the very first time' if first_time else ''}", cost
            if not first_time:
                weekly = ["weekly", str(folder), "--engine", engine, "--date", NEXT_WEEK]
                yield f"a second week of it, {name}", checkout.run(weekly)


def group(checkout: Checkout, drawn: Path) -> Cost:
    """Run the first week of a drawn group."""
    with _folder(checkout) as folder:
        shutil.copytree(drawn, folder, copy_function=os.link)
        return checkout.run(["weekly", str(folder), "--engine", "plain", "--date", DAY])


@contextmanager
def _folder(checkout: Checkout) -> Iterator[Path]:
    with tempfile.TemporaryDirectory(dir=checkout.scratch) as scratch:
        yield Path(scratch) / "dealer"


class Table:
    """The least that each piece of work cost in each column, and how the groups grow."""

    def __init__(self, columns: Sequence[str]) -> None:
        """Begin with nothing measured.

        Args:
            columns: What is measured, in the order of the columns.
        """
        self._columns = columns
        self._least: dict[str, dict[str, Cost]] = {}

    def add(self, line: str, column: str, cost: Cost) -> None:
        """Note a run; of several of the same the one with the fewest seconds stays."""
        costs = self._least.setdefault(line, {})
        costs[column] = min(cost, costs.get(column, cost), key=lambda one: one.cpu)
        print(f"{line}, {column}: {cost.cpu:.1f} s of the processor, {cost.wall:.1f} s by the clock", flush=True)

    def lines(self, sizes: Sequence[int]) -> Iterator[str]:
        """Return the lines of the table.

        Args:
            sizes: Cars of the groups that were measured.
        """
        yield f"| what | {' | '.join(self._columns)} | aim |"
        yield "|---|" + "---|" * (len(self._columns) + 1)
        for line, costs in self._least.items():
            yield f"| {line} | {' | '.join(map(_cell, map(costs.get, self._columns)))} | {self._aim(line)} |"
        for start, end in dict.fromkeys([*pairwise(sizes), (sizes[0], sizes[-1])]):
            if start != end:
                cells = " | ".join(self._exponent(column, start, end) for column in self._columns)
                yield f"| exponent from {start:,} to {end:,} cars | {cells} | 1.10 |"

    def _aim(self, line: str) -> str:
        if line in OVER_PLAIN:
            plain, more = OVER_PLAIN[line]
            return f"that of '{plain}' and {more} s"
        return f"{AIMS[line]} s" if line in AIMS else ""

    def _exponent(self, column: str, start: int, end: int) -> str:
        least, most = (self._least.get(cars(size), {}).get(column) for size in (start, end))
        if least is None or most is None:
            return ""
        return f"{math.log(most.cpu / least.cpu) / math.log(end / start):.2f}"


def cars(many: int) -> str:
    """Name the line of a group."""
    return f"{many:,} cars"


def _cell(cost: Cost | None) -> str:
    return "" if cost is None else f"{cost.cpu:.1f} s, {cost.peak:,} MB"


def main() -> None:
    """Measure by turns and print the table."""
    parser = argparse.ArgumentParser(description="Measure demo and dealer groups, before and after.")
    parser.add_argument("cars", type=int, nargs="*", default=[500, 5_000, 50_000], help="sizes of the groups")
    parser.add_argument("--before", type=Path, help="the folder of another checkout")
    parser.add_argument("--runs", type=int, default=2, help="runs of each but the groups of more than 5,000 cars")
    parser.add_argument("--scratch", type=Path, help="where to draw; else in the folder for temporary files")
    options = parser.parse_args()
    named = {"before": options.before, "after": ROOT}
    with tempfile.TemporaryDirectory(dir=options.scratch) as scratch:
        trees = {name: tree.absolute() for name, tree in named.items() if tree is not None}
        checkouts = [Checkout(name, tree, Path(scratch) / name) for name, tree in trees.items()]
        for checkout in checkouts:
            checkout.scratch.mkdir()
        table = Table([*trees, PANDAS])
        for _ in range(options.runs):
            for engine, name in (("plain", "plain"), ("prefect", "engine")):
                for checkout in checkouts:
                    for line, cost in demo(checkout, engine, name):
                        table.add(line, checkout.name, cost)
        for size in options.cars:
            drawn = Path(scratch) / "drawn"
            print(f"{cars(size)}, {write_group(size, drawn):,} scan rows", flush=True)
            for _ in range(options.runs if size <= 5_000 else 1):
                alone = [sys.executable, str(ROOT / "tests" / "studies" / "benchmark_pandas.py"), str(drawn)]
                table.add(cars(size), PANDAS, cost_of(alone, ROOT, dict(os.environ)))
                for checkout in checkouts:
                    table.add(cars(size), checkout.name, group(checkout, drawn))
            shutil.rmtree(drawn)
    print("\n" + "\n".join(table.lines(options.cars)))


if __name__ == "__main__":
    main()
