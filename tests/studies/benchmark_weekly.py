"""What does a week cost, step by step, and how does that grow with the dealer?

``python -m tests.studies.benchmark_weekly 500 5000 50000`` draws invented dealer groups
and runs the week of each in a fresh process.  Processor seconds are those of all
threads and ended children; the exponent is that of the last two sizes (1: twice
the cars, twice the time; n log n from 5,000 to 50,000 cars: 1.10).  ``--pandas``
does the same job with pandas and mlxtend alone beside it.  Not a test: figures of
one computer on one day.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))

from tests.support.big_dealer import ONE_IN_STOCK, write_group  # noqa: E402

# The command as it is, with every step measured.
RUN = """
import sys
from pipelines.commands import cli, console
from tests.support.measuring import measured
from tests.support.week_steps import watch_all

def watched(name, work):
    def measured_work(*args, **kwargs):
        with measured(name):
            return work(*args, **kwargs)
    return measured_work

watch_all(watched)
console.show_summary = lambda *_: None
sys.exit(cli.main(["weekly", *sys.argv[1:]]))
"""
Costs = dict[str, dict[str, float]]


def main() -> None:
    """Draw, run and print."""
    parser = argparse.ArgumentParser(description="Measure the weekly batch on invented dealer groups.")
    parser.add_argument("cars", type=int, nargs="*", default=[500], help="sizes (500: about 50,000 scan rows)")
    parser.add_argument("--engine", choices=["plain", "prefect"], default="plain")
    parser.add_argument("--date", default="2026-11-23", help="the report's day")
    parser.add_argument("--runs", type=int, default=1, help="runs of each folder; from the second on nothing is new")
    parser.add_argument("--pandas", action="store_true", help="do the same job with pandas and mlxtend alone, too")
    parser.add_argument("--open", action="store_true", help="every car is in stock, most of them with open codes")
    parser.add_argument("--scratch", type=Path, help="where to draw; else in the folder for temporary files")
    options = parser.parse_args()
    found: dict[str, list[Costs]] = {}
    for cars in options.cars:
        with tempfile.TemporaryDirectory(dir=options.scratch) as scratch:
            folder = Path(scratch) / "group"
            rows = write_group(cars, folder, one_in_stock=1 if options.open else ONE_IN_STOCK)
            print(f"{cars} cars, {rows} scan rows", flush=True)
            if options.pandas:
                alone = [sys.executable, str(ROOT / "tests" / "studies" / "benchmark_pandas.py"), str(folder)]
                found.setdefault("pandas and mlxtend alone", []).append(measure(alone))
            week = [sys.executable, "-c", RUN, str(folder), "--engine", options.engine, "--date", options.date]
            for run in range(1, options.runs + 1):
                found.setdefault(f"knockon weekly, run {run}", []).append(measure(week))
        for name, costs in found.items():
            print("\n".join(table(name, options.cars, costs)), flush=True)


def measure(command: list[str]) -> Costs:
    """Run one command and return what its steps and the whole of it cost."""
    before, started = os.times(), time.perf_counter()
    done = subprocess.run(
        command, cwd=ROOT, capture_output=True, text=True, check=False, env={**os.environ, "PYTHONPATH": str(ROOT)}
    )
    after = os.times()
    if done.returncode:
        sys.exit(done.stdout + done.stderr)
    steps: Costs = {}
    for line in done.stdout.splitlines():
        if line.startswith('{"step"'):
            cost = json.loads(line)
            steps[cost.pop("step")] = cost
    cpu = after.children_user + after.children_system - before.children_user - before.children_system
    whole = {"cpu": cpu, "wall": time.perf_counter() - started, "peak": max(cost["peak"] for cost in steps.values())}
    rest = {name: whole[name] - sum(cost[name] for cost in steps.values()) for name in ("cpu", "wall")}
    return {**steps, "start, imports and engine": rest, "in all": whole}


def table(name: str, sizes: list[int], costs: list[Costs]) -> list[str]:
    """Return the lines of a table: one a step, processor and wall seconds and peak of each size, the exponent."""
    heads = [f"{size:,} cars: processor s, wall s, peak MB" for size in sizes[: len(costs)]]
    lines = ["", f"| {name} | {' | '.join(heads)} | exponent |", "|---|" + "---|" * (len(heads) + 1)]
    for step in costs[-1]:
        cells = [_cell(cost.get(step, {})) for cost in costs]
        lines.append(f"| {step} | {' | '.join(cells)} | {_exponent(sizes, [cost.get(step, {}) for cost in costs])} |")
    return lines


def _cell(cost: dict[str, float]) -> str:
    if not cost:
        return ""
    return f"{cost['cpu']:.1f}, {cost['wall']:.1f}" + (f", {cost['peak']:,.0f}" if "peak" in cost else "")


def _exponent(sizes: list[int], costs: list[dict[str, float]]) -> str:
    seconds = [cost.get("cpu", 0.0) for cost in costs]
    if len(costs) < 2 or min(seconds[-2:]) < 0.05:
        return ""
    return f"{math.log(seconds[-1] / seconds[-2]) / math.log(sizes[len(costs) - 1] / sizes[len(costs) - 2]):.2f}"


if __name__ == "__main__":
    main()
