"""All long studies one after the other, for a night: what each said, how long it took, which ended badly.

``python -m tests.studies.nightly FOLDER [quick] [WORD ...]`` writes what every study prints to ``FOLDER/NAME.txt``
and a table of processor seconds and exit codes to ``FOLDER/nightly.md``; words choose the studies whose names hold one
of them.  With ``quick`` each is run as small as it goes, some ten minutes in all: whether they still work, no figures.
The studies run in a copy of the program, so that work on it meanwhile changes nothing.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
ROOMS = ("analysis", "pipelines", "sql", "tests", "fixtures")
LONGEST = 2 * 60 * 60
DEMO = "DEMO"
"""Stands for the report of a demo, which is made for the study."""
STUDIES: dict[str, tuple[str, str]] = {
    "table": ("benchmark_table", "benchmark_table 500 --runs 1"),
    "weekly": ("benchmark_weekly 500 5000 50000 --pandas", "benchmark_weekly 200 500 --pandas"),
    "weekly-again": ("benchmark_weekly 500 --runs 2", "benchmark_weekly 200 --runs 2"),
    "weekly-prefect": ("benchmark_weekly 500 --engine prefect --runs 2", "benchmark_weekly 200 --engine prefect"),
    "weekly-open": ("benchmark_weekly 2000 10000 50000 --open", "benchmark_weekly 100 --open"),
    "reading": ("benchmark_reading", "benchmark_reading files"),
    "cluster": ("benchmark_cluster 5000", "benchmark_cluster 200"),
    "sets": ("benchmark_sets", "benchmark_sets 2"),
    "page": (f"benchmark_page {DEMO}", f"benchmark_page {DEMO}"),
    "commands": ("benchmark_commands", "benchmark_commands"),
    "mining": ("mining_benchmark 1000 50000", "mining_benchmark 1000"),
    "mining-null": ("mining_study null 700000 50 300", "mining_study null 700000 2 100"),
    "learning": ("benchmark_diagnosis", "benchmark_diagnosis 200 10 30 5"),
    "diagnosis": ("diagnosis_study", "diagnosis_study 1 predictions"),
    "processes": ("process_study full 200 30001 30002 30003 30004", "process_study full 40 30001 --judged 5"),
    "standing": ("standing_study equipment 60 51 52 53", "standing_study equipment 40 51 --judged 5"),
    "appraisal": ("appraisal_study full 200 61 62", "appraisal_study full 40 61 --offered 4"),
    "kills": ("kill_study 1 200", "kill_study 1 3"),
    "kills-prefect": ("kill_study 2 40 prefect", "kill_study 2 2 prefect"),
    "kills-desk": ("desk_kill_study 3 40", "desk_kill_study 3 2"),
    "faults": ("fault_study", "fault_study"),
    "check-equals-weekly": ("check_equals_weekly", "check_equals_weekly 100"),
    "fuzz": ("fuzz_readers", "fuzz_readers 300"),
}
"""The words of each study, by night and as small as it goes."""


def run(name: str, words: str, copy: Path, folder: Path) -> tuple[float, int | str]:
    """Run one study; return its processor seconds, those of its children among them, and how it ended."""
    before = os.times()
    environment = {**os.environ, "PYTHONPATH": str(copy)}
    with (folder / f"{name}.txt").open("w", encoding="utf-8") as said:
        module, *rest = words.split()
        command = [sys.executable, "-m", f"tests.studies.{module}", *rest]
        try:
            ended: int | str = subprocess.run(
                command, cwd=copy, env=environment, stdout=said, stderr=subprocess.STDOUT, timeout=LONGEST, check=False
            ).returncode
        except subprocess.TimeoutExpired:
            ended = f"not done in {LONGEST} s"
    after = os.times()
    return after.children_user + after.children_system - before.children_user - before.children_system, ended


def demo_report(copy: Path) -> Path:
    """Make a demo and return its report's folder."""
    folder = copy / "demo-dealer"
    if not folder.exists():
        command = [sys.executable, "-m", "pipelines", "demo", str(folder), "--engine", "plain"]
        environment = {**os.environ, "PYTHONPATH": str(copy)}
        subprocess.run(command, cwd=copy, env=environment, stdout=subprocess.DEVNULL, check=True)
    return next((folder / "reports").iterdir())


def main() -> int:
    """Run what was chosen; 1 where a study ended badly."""
    if len(sys.argv) < 2:
        print(__doc__)
        return 2
    folder, chosen = Path(sys.argv[1]).absolute(), [word for word in sys.argv[2:] if word != "quick"]
    folder.mkdir(parents=True, exist_ok=True)
    lines = ["| study | processor s | ended with |", "|---|---|---|"]
    bad = False
    with tempfile.TemporaryDirectory() as scratch:
        copy = Path(scratch)
        for room in ROOMS:
            shutil.copytree(ROOT / room, copy / room, ignore=shutil.ignore_patterns("__pycache__"))
        for name, (long, quick) in STUDIES.items():
            if chosen and not any(word in name for word in chosen):
                continue
            words = quick if "quick" in sys.argv[2:] else long
            given = words.replace(DEMO, str(demo_report(copy))) if DEMO in words else words
            seconds, ended = run(name, given, copy, folder)
            bad = bad or ended != 0
            lines.append(f"| `{words}` | {seconds:.0f} | {ended} |")
            (folder / "nightly.md").write_text("\n".join(lines) + "\n", encoding="utf-8")
            print(lines[-1], flush=True)
    return int(bad)


if __name__ == "__main__":
    sys.exit(main())
