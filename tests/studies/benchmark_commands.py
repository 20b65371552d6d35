"""What does a question on the command line cost?

``python -m tests.studies.benchmark_commands [DEMO]``

Asks ``why`` about some listed cars of the demo, ``appraise`` about the last scan of each, ``trace`` about one code of
each, ``check`` about a file of scans, and ``--help``, each in a process of its own.  Each question is put three times,
and its least seconds of processor time (user and system) count; printed are those of the cheapest and of the dearest
car.  DEMO is a folder that ``knockon demo`` made; without it one is made first, in a folder that is gone afterwards.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
from pathlib import Path

import polars as pl

CARS = 5
TIMES = 3
KNOCKON = [sys.executable, "-m", "pipelines"]


def cost(*words: str) -> float:
    """Return the seconds of processor time of one command, the least of some runs."""
    taken = []
    for _ in range(TIMES):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([*KNOCKON, *words], check=True, stdout=subprocess.DEVNULL)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        taken.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(taken)


def last_scans(demo: Path) -> pl.DataFrame:
    """Return the rows of the last scan of every car, as its file has them."""
    rows = pl.concat(pl.read_csv(path, infer_schema=False) for path in sorted((demo / "archive/scans").glob("*.csv")))
    return rows.filter(pl.col("scanned_at") == pl.col("scanned_at").max().over("vehicle"))


def measure(demo: Path, scratch: Path) -> dict[str, list[float]]:
    """Return the seconds of each command.

    Args:
        demo: A folder that ``knockon demo`` made.
        scratch: Where the scans that are appraised may be written.
    """
    report = max((demo / "reports").iterdir())
    codes = dict(pl.read_csv(report / "open_codes.csv").sort("code", descending=True)["vehicle", "code"].iter_rows())
    listed = pl.read_csv(report / "shortlist.csv").unique("vehicle").sort("vehicle")
    cars = listed.filter(pl.col("vehicle").is_in([*codes])).head(CARS)
    scans, found = last_scans(demo), dict[str, list[float]]()
    for vehicle, make in cars["vehicle", "make"].iter_rows():
        scan = scratch / f"{vehicle}.csv"
        scans.filter(pl.col("vehicle") == vehicle).write_csv(scan)
        asked = (("why", vehicle), ("appraise", str(scan), "--make", make), ("trace", vehicle, codes[vehicle]))
        for words in asked:
            found.setdefault(words[0], []).append(cost(*words, str(demo)))
    some = min((demo / "archive/scans").glob("*.csv"))
    return found | {"check": [cost("check", str(some))], "--help": [cost("--help")]}


def main() -> None:
    """Measure the commands on a demo."""
    with tempfile.TemporaryDirectory() as folder:
        demo = Path(sys.argv[1]) if sys.argv[1:] else Path(folder) / "demo"
        if not sys.argv[1:]:
            subprocess.run([*KNOCKON, "demo", str(demo), "--engine", "plain"], check=True, stdout=subprocess.DEVNULL)
        for command, seconds in measure(demo, Path(folder)).items():
            told = f"{min(seconds):.2f} s" if len(seconds) == 1 else f"{min(seconds):.2f} to {max(seconds):.2f} s"
            print(f"{command}: {told}", flush=True)


if __name__ == "__main__":
    main()
