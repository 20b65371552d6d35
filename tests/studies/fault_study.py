"""Meets the weekly command with real faults and prints what it says; afterwards the workspace must be whole again.

``python -m tests.studies.fault_study`` wants a superuser on Linux: it mounts a small file system for the
full disk and a folder that can only be read.  It is a study, not a test; ``tests/unit/storage/test_storage_errors.py``
holds what needs no such rights.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from pathlib import Path

from tests.studies.kill_study import ROOT, fill_inbox, state

sys.path.insert(0, str(ROOT))

from pipelines.batch.run_journal import record_of
from pipelines.batch.weekly import run_week
from pipelines.workspace import Workspace

DAY = "2026-11-23"
MAIN = "import sys; from pipelines.commands.cli import main; sys.exit(main())"
SIZES = ("600k", "900k", "1200k", "1500k", "1800k", "2100k", "2600k")


def knockon(*words: object) -> subprocess.Popen[str]:
    """Start the command."""
    command = [sys.executable, "-c", MAIN, *map(str, words)]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def weekly(folder: Path, day: str = DAY) -> str:
    """Run the week and print how it ended; return what it said on the output."""
    run = knockon("weekly", folder, "--engine", "plain", "--date", day)
    said, error = run.communicate()
    print(f"   exit code {run.returncode}", *(f"   {line}" for line in error.strip().splitlines()[-3:]), sep="\n")
    return said


@contextmanager
def mounted(place: Path, *options: str) -> Iterator[None]:
    """Mount something at a place for the length of a block."""
    place.mkdir(exist_ok=True)
    subprocess.run(["mount", *options, str(place)], check=True)
    try:
        yield
    finally:
        subprocess.run(["umount", str(place)], check=True)


def told(folder: Path, whole: dict[str, object]) -> None:
    """Run the week once more and say whether all is as a run without a fault leaves it.

    The next report would say that a run left none, as it should; all else is compared without that sentence.
    """
    record_of(Workspace.open(folder)).unlink(missing_ok=True)
    run_week(Workspace.open(folder), date.fromisoformat(DAY))
    now = state(folder)
    differing = sorted(name for name in whole.keys() | now.keys() if whole.get(name) != now.get(name))
    print(f"   after the next run: {'as if nothing had happened' if not differing else f'DIFFERS: {differing[:6]}'}")
    for name in differing[:6]:
        print(f"      {name}: {str(whole.get(name))[:100]} became {str(now.get(name))[:100]}")


def full_disk(home: Path, start: Path, whole: dict[str, object]) -> None:
    for size in SIZES:
        place = home / "small"
        print(f"a disk of {size}", flush=True)
        with mounted(place, "-t", "tmpfs", "-o", f"size={size}", "tmpfs"):
            try:
                shutil.copytree(start, place, dirs_exist_ok=True)
            except (OSError, shutil.Error):
                print("   too small for the inbox itself")
                continue
            weekly(place)
            subprocess.run(["mount", "-o", "remount,size=200m", str(place)], check=True)
            told(place, whole)


def read_only(home: Path, start: Path, whole: dict[str, object]) -> None:
    print("a folder that can only be read", flush=True)
    shutil.copytree(start, home / "ground")
    with mounted(home / "closed", "--bind", str(home / "ground")):
        subprocess.run(["mount", "-o", "remount,ro,bind", str(home / "closed")], check=True)
        weekly(home / "closed")
    told(home / "ground", whole)


def two_at_once(home: Path, start: Path, whole: dict[str, object]) -> None:
    print("two at once", flush=True)
    place = home / "twice"
    shutil.copytree(start, place)
    runs = [knockon("weekly", place, "--engine", "plain", "--date", DAY)]
    while runs[0].poll() is None and not (place / "knockon.duckdb").exists():  # the first one is at work
        time.sleep(0.05)
    runs += [knockon("weekly", place, "--engine", engine, "--date", DAY) for engine in ("plain", "prefect")]
    for run in runs:
        error = run.communicate()[1]
        print(f"   exit code {run.returncode}: {error.strip().splitlines()[-1:]}")
    told(place, whole)


def growing_file(home: Path, start: Path) -> None:
    print("a file that grows the whole time", flush=True)
    place = home / "growing"
    shutil.copytree(start, place)
    path = place / "inbox" / "scans" / "growing.csv"
    path.write_text("vehicle,scanned_at,module,code\n", encoding="utf-8")
    run = knockon("weekly", place, "--engine", "plain", "--date", DAY)
    rows = 0
    with path.open("a", encoding="utf-8") as writer:
        while run.poll() is None:
            rows += 1
            # Every row a scan of its own, of a few cars: thousands of cars would each want a list.
            writer.write(f"G{rows % 9},{datetime(2026, 1, 1) + timedelta(minutes=rows):%Y-%m-%dT%H:%M},ECM,P0301\n")
            writer.flush()
            time.sleep(0.0005)
    said = run.communicate()[0]
    print(
        f"   exit code {run.returncode}",
        *(f"   {line}" for line in said.splitlines() if "growing.csv" in line),
        sep="\n",
    )
    run_week(Workspace.open(place), date.fromisoformat(DAY))
    found = sum(row[4] is not None and str(row[4]).startswith("G") for row in state(place)["table raw.scans"])
    print(f"   {rows} rows were written; after the next run {found} are in the database")


def clock_set_back(home: Path, start: Path) -> None:
    print("a clock that was set back", flush=True)
    place = home / "clock"
    shutil.copytree(start, place)
    weekly(place)
    shutil.copy(ROOT / "fixtures" / "demo" / "inbox" / "scans" / "scans-2025-05.csv", place / "inbox" / "scans")
    print(*(f"   {line}" for line in weekly(place, "2026-01-05").splitlines() if "set this computer's clock" in line))


def damaged(home: Path, start: Path, whole: dict[str, object]) -> None:
    print("a damaged database", flush=True)
    place = home / "damaged"
    shutil.copytree(start, place)
    weekly(place)
    content = bytearray((place / "knockon.duckdb").read_bytes())
    content[len(content) // 2 :] = b""
    (place / "knockon.duckdb").write_bytes(content)
    weekly(place)
    run = knockon("restore", place)
    print(*(f"   {line}" for line in run.communicate()[0].splitlines()), sep="\n")
    told(place, whole)


def main() -> None:
    home = Path(tempfile.mkdtemp(prefix="faults"))
    start, reference = home / "start", home / "whole"
    fill_inbox(start, 0)
    fill_inbox(start, 1)
    shutil.copytree(start, reference)
    run_week(Workspace.open(reference), date.fromisoformat(DAY))
    whole = state(reference)
    for fault in (full_disk, read_only, two_at_once, damaged):
        fault(home, start, whole)
    for other in (growing_file, clock_set_back):
        other(home, start)
    shutil.rmtree(home)


if __name__ == "__main__":
    main()
