"""All long studies one after the other, for a night: what each said, how long it took, which ended badly.

``python -m tests.studies.nightly FOLDER [WORD ...]`` writes what every study prints to ``FOLDER/NAME.txt`` and a table
of processor seconds and exit codes to ``FOLDER/nightly.md``; words choose the studies whose names hold one of them.
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
STUDIES: dict[str, str] = {
    "weekly": "benchmark_weekly 500 5000 50000 --pandas",
    "weekly-again": "benchmark_weekly 500 --runs 2",
    "weekly-prefect": "benchmark_weekly 500 --engine prefect --runs 2",
    "reading": "benchmark_reading",
    "page": "benchmark_page",
    "commands": "benchmark_commands",
    "mining": "mining_benchmark 1000 50000",
    "mining-null": "mining_study null 700000 50 300",
    "diagnosis": "diagnosis_study",
    "processes": "process_study",
    "kills": "kill_study 1 200",
    "kills-prefect": "kill_study 2 40 prefect",
    "kills-desk": "desk_kill_study 3 40",
    "faults": "fault_study",
    "check-equals-weekly": "check_equals_weekly",
    "fuzz": "fuzz_readers",
}


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


def main() -> int:
    """Run what was chosen; 1 where a study ended badly."""
    if len(sys.argv) < 2:
        print(__doc__)
        return 2
    folder, chosen = Path(sys.argv[1]).absolute(), sys.argv[2:]
    folder.mkdir(parents=True, exist_ok=True)
    lines = ["| study | processor s | ended with |", "|---|---|---|"]
    bad = False
    with tempfile.TemporaryDirectory() as scratch:
        for room in ROOMS:
            shutil.copytree(ROOT / room, Path(scratch) / room, ignore=shutil.ignore_patterns("__pycache__"))
        for name, words in STUDIES.items():
            if chosen and not any(word in name for word in chosen):
                continue
            seconds, ended = run(name, words, Path(scratch), folder)
            bad = bad or ended != 0
            lines.append(f"| `{words}` | {seconds:.0f} | {ended} |")
            (folder / "nightly.md").write_text("\n".join(lines) + "\n", encoding="utf-8")
            print(lines[-1], flush=True)
    return int(bad)


if __name__ == "__main__":
    sys.exit(main())
