"""How good is the shortlist at dealers drawn by a process that the diagnosis does not know?

    python -m tests.studies.process_study KIND CARS SEEDS... [--judged N] [--declared] [--both]

draws one dealer a seed, has the weekly batch read its files, follows the shortlist of every judged car and prints: the
cost of a judged car by the list and by the plain ways to choose, as ratios to who knows the faults and to what the
codes name; how often the first part is right; whether the chances hold; and what is done to cars without a
fault.  ``--both`` draws each dealer twice, once as its files tell it and once with all equipment and quirks declared,
and prints what not knowing them costs.  KIND is one of ``tests.studies.worlds.KINDS``; those named ``held_out`` are
for the end.
"""

import argparse
import csv
import sys
import tempfile
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from analysis.texts.action_text import check_pays
from tests.studies.worlds import (
    KINDS,
    POLICIES,
    Dealer,
    Forecast,
    Inbox,
    Played,
    Step,
    draw_dealer,
    facts_of,
    knowing,
    lists_of,
    play,
    price_book,
    write_inbox,
)
from tests.studies.worlds.naming import part_of

Lists = dict[str, list[Step]]
Week = Callable[[Path, date], None]


def weekly_batch(folder: Path, as_of: date) -> None:
    """Run the weekly batch in a workspace: the one place that knows where it is."""
    from pipelines.batch.weekly import run_week  # noqa: PLC0415
    from pipelines.workspace import Workspace  # noqa: PLC0415

    run_week(Workspace.open(folder), as_of)


def read_lists(folder: Path) -> Lists:
    """Return each car's rows of the newest shortlist of a workspace, in order.

    Raises:
        FileNotFoundError: The workspace has no report.
    """
    reports = sorted((folder / "reports").glob("*/shortlist.csv"))
    if not reports:
        raise FileNotFoundError(f"no reports/*/shortlist.csv in {folder}")
    with reports[-1].open(encoding="utf-8", newline="") as file:
        return read_steps(csv.DictReader(file))


def read_steps(rows: Iterable[Mapping[str, Any]]) -> Lists:
    """Return each car's rows of a shortlist as steps, in order."""
    lists: Lists = defaultdict(list)
    for row in sorted(rows, key=lambda row: (row["vehicle"], int(row["rank"]))):
        lists[row["vehicle"]].append(_step(row))
    return dict(lists)


def _step(row: Mapping[str, Any]) -> Step:
    part, place = part_of(row["part"], row["position"]) if row["part"] else ("", "")
    counted = row["action"] not in ("specialist", "leave") and row["chance"]
    return Step(
        action=row["action"],
        part=part,
        place=place,
        or_else=tuple(part_of(other) for other in row["or_else"].split(";") if other),
        clears=frozenset(code for code in row["clears"].split(";") if code),
        chance=float(row["chance"]) if counted else None,
        basis=row["basis"],
        check=check_pays(row.get("check_first")),
        jobs=int(row.get("jobs") or 0),
        cleared=int(row.get("jobs_cleared") or 0),
    )


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """One dealer judged: what each way to choose came to on each car, by policy and car."""

    seed: int
    played: dict[str, dict[str, Played]]

    def cost(self, policy: str) -> float:
        """Return the cost of all its judged cars."""
        return sum(one.cost for one in self.played[policy].values())

    @property
    def cars(self) -> int:
        """Judged cars."""
        return len(self.played["list"])


def judge(dealer: Dealer, lists: Lists, inbox: Inbox) -> Outcome:
    """Follow the shortlist and every plain way's list on the judged cars of a dealer.

    Args:
        dealer: With its truth.
        lists: The shortlist.
        inbox: The ``Inbox`` that the shortlist was made from.
    """
    costs = price_book(dealer.world)
    facts = facts_of(inbox, costs)
    every = {"list": lists, "knowing": {vehicle: knowing(car, costs) for vehicle, car in dealer.truth.items()}}
    every |= {name: lists_of(policy, facts, dealer.truth) for name, policy in POLICIES.items()}
    return Outcome(seed=dealer.seed, played={name: play(rows, dealer.truth, costs) for name, rows in every.items()})


def run_seed(
    kind: str, cars: int, seed: int, judged: int | None = None, declared: bool = False, week: Week = weekly_batch
) -> Outcome:
    """Draw one dealer, run its week and judge its list."""
    dealer = draw_dealer(KINDS[kind], cars, seed, judged)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        inbox = write_inbox(dealer, folder, declared)
        week(folder, dealer.today.date())
        return judge(dealer, read_lists(folder), inbox)


def ratio(mine: Iterable[float], theirs: Iterable[float]) -> tuple[float, float]:
    """Return a ratio of sums over dealers and its linearised standard error; NaN with one dealer."""
    top, low = np.array(list(mine)), np.array(list(theirs))
    whole = float(top.sum() / low.sum())
    if len(top) < 2:
        return whole, float("nan")
    rest = top - whole * low
    return whole, float(np.sqrt(len(top) / (len(top) - 1) * (rest**2).sum()) / low.sum())


def report(outcomes: list[Outcome]) -> list[str]:
    """Return the lines of the whole report."""
    cars = sum(outcome.cars for outcome in outcomes)
    lines = [f"dealers {len(outcomes)}, judged cars {cars}", "", _cost_head()]
    lines += [_cost_line(f"seed {outcome.seed}", [outcome]) for outcome in outcomes]
    lines += [_cost_line("all", outcomes), ""]
    for top, low in (("list", "knowing"), ("code_book", "knowing"), ("list", "code_book"), ("list", "most_fitted")):
        value, error = ratio((o.cost(top) for o in outcomes), (o.cost(low) for o in outcomes))
        lines.append(f"{top} / {low}: {value:.3f} (standard error {error:.3f})")
    return [*lines, "", *_excess_lines(outcomes), "", *_first_lines(outcomes), "", *_forecast_lines(outcomes)]


def _reason(played: Played) -> str:
    """Say in a few words what became of a car that its list was followed on."""
    if played.sound:
        return "no fault"
    if not played.has_part:
        return "only a fault that nobody finds, or that the last scan does not show"
    if not played.names_part:
        return "handed over without a part"
    first = "first part right" if played.first_right else "first part wrong"
    return f"{first}, handed over" if played.handed_over else first


def _excess_lines(outcomes: list[Outcome]) -> list[str]:
    """Say where the money goes: what a car costs beyond who knows the faults, by what became of it under the list."""
    groups: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for outcome in outcomes:
        played = outcome.played
        for vehicle, one in played["list"].items():
            best = played["knowing"][vehicle].cost
            groups[_reason(one)].append((one.cost - best, played["code_book"][vehicle].cost - best))
    cars = sum(len(group) for group in groups.values())
    lines = [f"{'beyond knowing, for each judged car':<60}{'cars':>6}{'list':>9}{'code_book':>11}"]
    for reason, group in sorted(groups.items(), key=lambda one: -sum(mine for mine, _ in one[1])):
        mine, book = (sum(column) / cars for column in zip(*group, strict=True))
        lines.append(f"{reason:<60}{len(group):>6}{mine:>9.1f}{book:>11.1f}")
    return lines


def _cost_head() -> str:
    return f"{'cost a car':<12}" + "".join(f"{name:>13}" for name in ("list", "knowing", *POLICIES))


def _cost_line(title: str, outcomes: list[Outcome]) -> str:
    cars = sum(outcome.cars for outcome in outcomes)
    costs = [sum(outcome.cost(name) for outcome in outcomes) / cars for name in ("list", "knowing", *POLICIES)]
    return f"{title:<12}" + "".join(f"{cost:>13.1f}" for cost in costs)


def _share(hits: int, of: int) -> str:
    if not of:
        return "none"
    return f"{hits} of {of} = {hits / of:.3f} (standard error {(hits / of * (1 - hits / of) / of) ** 0.5:.3f})"


def _first_lines(outcomes: list[Outcome]) -> list[str]:
    lines = []
    for name in ("list", *POLICIES):
        every = [one for outcome in outcomes for one in outcome.played[name].values()]
        right, sound = [one for one in every if one.has_part], [one for one in every if one.sound]
        named = [one for one in right if one.names_part]
        lines += [
            f"{name}: first part right {_share(sum(one.first_right for one in right), len(right))}",
            f"    where it names a part {_share(sum(one.first_right for one in named), len(named))}",
            f"    handed over {_share(sum(one.handed_over for one in every), len(every))}",
            f"    cars without a fault that get more than leave or recheck "
            f"{_share(sum(one.fits_on_sound for one in sound), len(sound))}, "
            f"as the first line {_share(sum(one.begins_on_sound for one in sound), len(sound))}, "
            f"and come to it {_share(sum(one.works_on_sound for one in sound), len(sound))}, "
            f"spent on each {sum(one.cost for one in sound) / max(len(sound), 1):.1f}",
        ]
    played = [one for outcome in outcomes for one in outcome.played["list"].values()]
    begun, vain = sum(one.begins_fitting for one in played), [one for one in played if one.begins_in_vain]
    lines.append(f"list: first lines that fit a part which own jobs tried and none cleared {_share(len(vain), begun)}")
    told = [one.forecasts[0] for one in vain if one.forecasts]
    return [*lines, *([_forecast_line("    of these", told)] if told else [])]


def both_lines(told: list[Outcome], declared: list[Outcome]) -> list[str]:
    """Say what it costs the list not to be told of equipment and quirks, on the same dealers.

    Args:
        told: As their files tell it.
        declared: The same with everything declared.
    """
    pairs = [(one.played["list"], all_told.played["list"]) for one, all_told in zip(told, declared, strict=True)]
    right = [
        np.mean([mine[car].first_right - theirs[car].first_right for car in mine if mine[car].has_part])
        for mine, theirs in pairs
    ]
    error = float(np.std(right, ddof=1) / len(right) ** 0.5) if len(right) > 1 else float("nan")
    lines = [f"first part right, as told less everything declared: {np.mean(right):+.3f} (standard error {error:.3f})"]
    for name, side in (("as told", 0), ("everything declared", 1)):
        every = [one for pair in pairs for one in pair[side].values()]
        has, sound = [one for one in every if one.has_part], [one for one in every if one.sound]
        lines += [
            f"{name}: first part right {_share(sum(one.first_right for one in has), len(has))}",
            f"    cars without a fault: more than leave or recheck as the first line "
            f"{_share(sum(one.begins_on_sound for one in sound), len(sound))}, "
            f"come to {_share(sum(one.works_on_sound for one in sound), len(sound))}, "
            f"somewhere on the list {_share(sum(one.fits_on_sound for one in sound), len(sound))}",
        ]
    value, error = ratio((one.cost("list") for one in told), (one.cost("list") for one in declared))
    return [*lines, f"cost of the list, as told / everything declared: {value:.3f} (standard error {error:.3f})"]


def _forecast_lines(outcomes: list[Outcome]) -> list[str]:
    forecasts = [p for outcome in outcomes for one in outcome.played["list"].values() for p in one.forecasts]
    if not forecasts:
        return ["no chance was put to the test"]
    groups: dict[str, list[Forecast]] = defaultdict(list)
    for forecast in forecasts:
        groups[f"{forecast.action if forecast.action == 'recheck' else 'part'}, {forecast.basis}"].append(forecast)
    lines = [_forecast_line(name, group) for name, group in sorted(groups.items())]
    edges = (0.0, 0.2, 0.4, 0.6, 0.8, 1.01)
    for low, high in pairwise(edges):
        band = [p for p in forecasts if low <= p.chance < high]
        if band:
            lines.append(_forecast_line(f"forecast {low:.1f} to {min(high, 1.0):.1f}", band))
    brier = float(np.mean([(p.chance - p.kept) ** 2 for p in forecasts]))
    return [*lines, _forecast_line("all rows that were reached", forecasts) + f", Brier {brier:.4f}"]


def _forecast_line(name: str, group: list[Forecast]) -> str:
    forecast, kept = np.mean([p.chance for p in group]), np.mean([p.kept for p in group])
    return f"{name}: forecast {forecast:.3f}, kept {kept:.3f}, rows {len(group)}"


def main(words: list[str]) -> None:
    """Run every seed and print the report."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("kind", choices=sorted(KINDS))
    parser.add_argument("cars", type=int)
    parser.add_argument("seeds", type=int, nargs="+")
    parser.add_argument("--judged", type=int)
    parser.add_argument("--declared", action="store_true")
    parser.add_argument("--both", action="store_true")
    told = parser.parse_args(words)
    outcomes, declared = [], []
    for seed in told.seeds:
        outcomes.append(run_seed(told.kind, told.cars, seed, told.judged, told.declared))
        if told.both:
            declared.append(run_seed(told.kind, told.cars, seed, told.judged, declared=True))
        print(f"seed {seed} done", file=sys.stderr, flush=True)
    print(f"{told.kind}, {told.cars} past cars" + (", everything declared" if told.declared else ""))
    print("\n".join([*report(outcomes), *(["", *both_lines(outcomes, declared)] if declared else [])]))


if __name__ == "__main__":
    main(sys.argv[1:])
