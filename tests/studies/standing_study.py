"""What does the list do with codes of no fault, at dealers drawn by a process that the diagnosis does not know?

    python -m tests.studies.standing_study KIND CARS SEEDS... [--judged N] [--each]

draws one dealer a seed, has the weekly batch read its files, and prints: how many cars without a fault are listed with
more than leave or recheck; how many needed codes are left alone on cars with a fault (masked faults); and which
groups are proposed, each with how often a fault needs its codes and how often equipment or a quirk sets them on the
judged cars.  ``--each`` names every such car with its codes, their true causes, and its rows.
"""

from __future__ import annotations

import argparse
import csv
import sys
import tempfile
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

from tests.studies.process_study import Week, read_lists, weekly_batch
from tests.studies.worlds import KINDS, CarTruth, Dealer, Step, draw_dealer, write_inbox

Proposal = dict[str, str]


@dataclass(frozen=True, kw_only=True)
class Found:
    """One dealer's judged cars, lists and proposals."""

    dealer: Dealer
    lists: dict[str, list[Step]]
    rows: dict[str, list[dict[str, str]]]
    proposals: list[Proposal]

    @property
    def sound(self) -> list[CarTruth]:
        """Judged cars without a fault."""
        return [car for car in self.dealer.truth.values() if not car.faults and not car.hidden]

    @property
    def worked_on(self) -> list[CarTruth]:
        """Those of them that are listed with more than leave or recheck."""
        rows = self.lists
        return [
            car
            for car in self.sound
            if any(step.action not in ("leave", "recheck") for step in rows.get(car.vehicle, ()))
        ]

    @property
    def masked(self) -> list[tuple[CarTruth, frozenset[str]]]:
        """Cars with a fault whose needed codes stand in a ``leave`` row, and those codes."""
        found = []
        for car in self.dealer.truth.values():
            left = {
                code
                for row in self.rows.get(car.vehicle, ())
                if row["action"] == "leave"
                for code in row["leaves"].split(";")
            }
            if car.needed & left:
                found.append((car, car.needed & left))
        return found

    def judged(self, proposal: Proposal) -> tuple[int, int]:
        """Return how many codes of judged cars that a proposal covers a fault needs, and how many nothing does."""
        codes, needed, alone = set(proposal["codes"].split(";")), 0, 0
        for car in self.dealer.truth.values():
            if proposal["vehicle"] in ("", car.vehicle) and proposal["make"].casefold() == car.make.casefold():
                needed += len(car.needed & codes)
                alone += len(codes & set(car.shown) - car.needed)
        return needed, alone


def find(kind: str, cars: int, seed: int, judged: int | None = None, week: Week = weekly_batch) -> Found:
    """Draw one dealer, run its week and read what it says."""
    dealer = draw_dealer(KINDS[kind], cars, seed, judged)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_inbox(dealer, folder, False)
        week(folder, dealer.today.date())
        return read(dealer, folder)


def read(dealer: Dealer, folder: Path) -> Found:
    """Read the newest report of a workspace."""
    report = max((folder / "reports").glob("*/shortlist.csv")).parent
    rows: dict[str, list[dict[str, str]]] = defaultdict(list)
    for row in _table(report / "shortlist.csv"):
        rows[row["vehicle"]].append(row)
    proposals = [row for row in _table(report / "standing.csv") if row["state"] == "proposed"]
    return Found(dealer=dealer, lists=read_lists(folder), rows=dict(rows), proposals=proposals)


def _table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def report(found: list[Found]) -> list[str]:
    """Return the lines of the whole report."""
    sound, worked = sum(len(one.sound) for one in found), sum(len(one.worked_on) for one in found)
    cars = sum(len(one.dealer.truth) for one in found)
    masked = [pair for one in found for pair in one.masked]
    judged = [one.judged(proposal) for one in found for proposal in one.proposals]
    return [
        f"dealers {len(found)}, judged cars {cars}",
        f"sound cars listed with more than leave or recheck: {worked} of {sound}",
        f"cars with a fault of which a needed code is left alone: {len(masked)} of {cars - sound}",
        f"groups proposed: {len(judged)}; codes on judged cars that nothing needs: {sum(b for _, b in judged)}, "
        f"that a fault needs: {sum(a for a, _ in judged)}, in {sum(a > 0 for a, _ in judged)} of the groups",
    ]


def each(found: Found) -> list[str]:
    """Return every sound car that is worked on, every masked fault and every proposal, in words."""
    lines = [f"seed {found.dealer.seed}"]
    for title, cars in (("sound", found.worked_on), ("masked", [car for car, _ in found.masked])):
        for car in cars:
            lines.append(f"  {title} {car.vehicle} ({car.make})")
            lines += [f"    {code}: {', '.join(sorted(by))}" for code, by in sorted(car.shown.items())]
            lines += [
                f"    -> {row['action']} {row['part']} {row['position']} {row['chance']} {row['basis']} "
                f"clears {row['clears']} leaves {row['leaves']}"
                for row in found.rows.get(car.vehicle, ())
            ]
    for one in found.proposals:
        needed, alone = found.judged(one)
        lines.append(
            f"  proposed {one['kind']} {one['make']} {one['vehicle']} {one['codes']}: {one['cars']} cars, "
            f"{one['reason']} (needed {needed}, not {alone})"
        )
    return lines


def main(words: list[str]) -> None:
    """Run every seed and print the report."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("kind", choices=sorted(KINDS))
    parser.add_argument("cars", type=int)
    parser.add_argument("seeds", type=int, nargs="+")
    parser.add_argument("--judged", type=int)
    parser.add_argument("--each", action="store_true")
    told = parser.parse_args(words)
    found = []
    for seed in told.seeds:
        found.append(find(told.kind, told.cars, seed, told.judged))
        if told.each:
            print("\n".join(each(found[-1])), flush=True)
        print(f"seed {seed} done", file=sys.stderr, flush=True)
    print("\n".join([f"{told.kind}, {told.cars} past cars", *report(found)]))


if __name__ == "__main__":
    main(sys.argv[1:])
