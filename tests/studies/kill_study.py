"""Kills the weekly command at drawn moments, lets the next run finish, and compares with a run that was left alone.

``python -m tests.studies.kill_study SEED KILLS [prefect] [--first N]`` prints which step was under way at each kill
and what differed afterwards.  It is a study, not a test: it takes a while.  Every step is aimed at equally often, the
moment inside it is drawn evenly over its length; ``--first`` goes on with the steps where a study of N kills ended.
Half of the kills meet a new workspace, half one that has an earlier week behind it.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import json
import os
import queue
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from datetime import date
from itertools import pairwise
from pathlib import Path

import polars as pl

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from pipelines.batch.run_journal import record_of  # noqa: E402
from pipelines.batch.weekly import run_week  # noqa: E402
from pipelines.report.new_workspace import init_workspace  # noqa: E402
from pipelines.sharing.share import share  # noqa: E402
from pipelines.storage.file_archive import hash_in_name  # noqa: E402
from pipelines.storage.snapshots import snapshots, verify  # noqa: E402
from pipelines.storage.warehouse import Warehouse  # noqa: E402
from pipelines.workspace import Workspace  # noqa: E402
from tests.support.week_steps import STEPS  # noqa: E402

DEMO = ROOT / "fixtures" / "demo" / "inbox"
CARS = 16
START = "start"
AIMS = (START, *(step.name for step in STEPS.values()))
# The real command; only what a person would watch on a terminal comes as lines here.
COMMAND = """
import contextlib, sys
from pipelines.commands import console

@contextlib.contextmanager
def progress():
    yield lambda doing: print(doing, file=sys.stderr, flush=True)

console.progress = progress
from pipelines.commands.cli import main
sys.exit(main(sys.argv[1:]))
"""


def fill_inbox(folder: Path, part: int) -> None:
    """Put the rows of some demo cars into the inbox: part 0 the first half of the scans, part 1 all the rest."""
    init_workspace(folder)
    if part == 0:
        for name in ("stock/stock-2026-11-20.csv", "parts/price-book.csv", "background/background.csv"):
            _copy(folder, name, name, None)
    with (DEMO / "stock" / "stock-2026-11-20.csv").open(encoding="utf-8", newline="") as handle:
        cars = [row["vehicle"] for row in csv.DictReader(handle)][-CARS:]
    if part == 1:
        _copy(folder, "repairs/repairs-2026.csv", "repairs/repairs-2026.csv", cars)
    for path in sorted((DEMO / "scans").glob("scans-2026-*.csv"))[part::2]:
        for place in range(0, CARS, 4):
            _copy(folder, f"scans/{path.name}", f"scans/{path.stem}-{place}.csv", cars[place : place + 4])
    scans = folder / "inbox" / "scans"
    (scans / f"binary-{part}.csv").write_bytes(bytes(range(256)) * (9 + part))
    (scans / f"rows-{part}.csv").write_text(
        f"vehicle,scanned_at,module,code\n{cars[0]},23/11/26,ECM,P0301\n{cars[0]},2026-11-0{part + 1}T08:00,ECM,P0301\n"
    )
    shutil.copy(scans / f"rows-{part}.csv", scans / f"same-{part}.csv")


def another_dealers(home: Path) -> Path:
    """Return a set as another dealer shares it: what the same cars taught there a week before."""
    fill_inbox(home / "elsewhere", 0)
    fill_inbox(home / "elsewhere", 1)
    workspace = Workspace.open(home / "elsewhere")
    run_week(workspace, date(2026, 11, 16))
    return share(workspace, home / "set").folder


def _copy(folder: Path, source: str, target: str, cars: list[str] | None) -> None:
    with (DEMO / source).open(encoding="utf-8", newline="") as handle:
        head, *rows = csv.reader(handle)
    place = head.index("vehicle") if cars and "vehicle" in head else None
    kept = [row for row in rows if place is None or row[place] in (cars or ())]
    with (folder / "inbox" / target).open("w", encoding="utf-8", newline="") as handle:
        csv.writer(handle).writerows([head, *kept])


class Run:
    """One run of the weekly command in its own process group."""

    def __init__(self, folder: Path, day: str, engine: str) -> None:
        self.started = time.monotonic()
        self.child = subprocess.Popen(
            [sys.executable, "-c", COMMAND, "weekly", str(folder), "--engine", engine, "--date", day],
            cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )
        self.lines: queue.SimpleQueue[tuple[float, str] | None] = queue.SimpleQueue()
        self.seen: list[tuple[float, str]] = [(self.started, START)]
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        assert self.child.stderr is not None
        for line in self.child.stderr:
            self.lines.put((time.monotonic(), line.strip()))
        self.lines.put(None)

    def read(self, until: str | None) -> bool:
        """Read lines until one says ``until``; False where the command ended before."""
        while until is None or self.seen[-1][1] != until:
            line = self.lines.get()
            if line is None:
                return False
            self.seen.append(line)
        return True

    def under_way(self) -> str:
        return [name for _, name in self.seen if name in AIMS][-1]

    def lengths(self) -> dict[str, float]:
        steps = [(at, name) for at, name in self.seen if name in AIMS] + [(time.monotonic(), "end")]
        return {name: after - at for (at, name), (after, _) in pairwise(steps)}


def run_through(folder: Path, day: str, engine: str = "plain") -> dict[str, float]:
    run = Run(folder, day, engine)
    run.read(None)
    if run.child.wait() != 0:
        raise SystemExit(f"a run that was left alone failed: {run.seen[-5:]}")
    return run.lengths()


def kill_one(folder: Path, day: str, engine: str, aim: str, moment: float) -> str:
    """Kill a run ``moment`` seconds after it began a step; return the step under way, or "" where it was too fast."""
    run = Run(folder, day, engine)
    if not run.read(aim):
        run.child.wait()
        return ""
    time.sleep(moment)
    if run.child.poll() is not None:
        return ""
    os.killpg(run.child.pid, signal.SIGKILL)
    run.child.wait()
    run.read(None)
    return run.under_way()


def state(folder: Path) -> dict[str, object]:
    """Return all that a workspace holds: tables, report, files, and what should not be there."""
    found: dict[str, object] = {}
    with Warehouse(folder / "knockon.duckdb") as warehouse:
        names = warehouse.query(
            "select table_schema || '.' || table_name as name from information_schema.tables order by all"
        )["name"]
        weeks = dict(warehouse.query("select number, week from fitted.runs").iter_rows())
        files = dict(warehouse.query("select file_id, name from raw.files").iter_rows())
        for name in names:
            found[f"table {name}"] = _told(warehouse.fetch(name), weeks, files)
    for place in ("inbox", "archive", "rejected", "reports", "backups"):
        for path in sorted(file for file in (folder / place).rglob("*") if file.is_file()):
            content: object = hashlib.sha256(path.read_bytes()).hexdigest()
            if path.name == "run.json":
                content = {k: v for k, v in json.loads(path.read_text(encoding="utf-8")).items() if k != "timings"}
            if place == "archive" and not str(content).startswith(hash_in_name(path) or "-"):
                content = "not the bytes that its name says"
            if place != "backups" and path.suffix not in (".xlsx", ".pdf"):
                found[path.relative_to(folder).as_posix()] = content
    kept = snapshots(Workspace.open(folder))
    # The mark of a table's rows holds the files' numbers: rows are counted, that they are right is verified.
    found["latest snapshot"] = {
        table: str(told["content"]).split(",")[0] for table, told in verify(kept[-1]).tables.items()
    }
    left = [
        *folder.glob("reports/.*"),
        *folder.glob("backups/.*"),
        *folder.glob(".knockon/again"),
        *folder.glob(".knockon/tmp/*"),
        *folder.glob("*.new"),
    ]
    found["left behind"] = sorted(path.name for path in [*left, *folder.glob(".*.new"), *folder.glob("*.wal")])
    return found


def _told(table: pl.DataFrame, weeks: dict[int, str], files: dict[int, str]) -> list[tuple[object, ...]]:
    """Return a table's rows; when a run was made is left out, and that it is the second of its week.

    A file stands under its name: which number it gets depends on what the killed run had taken in before it.
    """
    if "made_at" in table.columns:
        return table.drop("made_at", "number").rows()
    if table.schema.get("run") == pl.Int64:
        table = table.with_columns(pl.col("run").replace_strict(weeks, return_dtype=pl.String))
    if table.schema.get("file_id") == pl.Int64:
        named = pl.col("file_id").replace_strict(files, return_dtype=pl.String, default=None)
        return sorted(table.with_columns(named).rows(), key=repr)
    return table.rows()


def main(seed: int, kills: int, engine: str, first: int) -> None:
    rng, home = random.Random(seed), Path(tempfile.mkdtemp(prefix="kills"))
    day = "2026-11-23"
    starts, wholes, lengths = [], [], []
    elsewhere = another_dealers(home)
    for kind in (0, 1):
        start, whole = home / f"start{kind}", home / f"whole{kind}"
        fill_inbox(start, 0)
        shutil.copytree(elsewhere, start / "others" / "NORTH")
        if kind:
            run_through(start, "2026-11-16")
        fill_inbox(start, 1)
        shutil.copytree(start, whole)
        run_through(whole, day)
        lengths.append(_steady(start, home / "timed", day, engine))
        starts.append(start)
        wholes.append(state(whole))
    print("seconds of each step:", {name: round(length, 2) for name, length in lengths[0].items()}, flush=True)
    hit: Counter[str] = Counter()
    wrong = told = 0
    for number in range(first, first + kills):
        kind, aim = number % 2, AIMS[number // 2 % len(AIMS)]
        place = home / "killed"
        step = ""
        while not step:
            shutil.rmtree(place, ignore_errors=True)
            shutil.copytree(starts[kind], place)
            moment = rng.random() * lengths[kind].get(aim, 0.1)
            step = kill_one(place, day, engine, aim, moment)
        # The next report would say that a run was cut short, as it should; all else is compared without that sentence.
        record = record_of(Workspace.open(place))
        told += record.is_file()
        record.unlink(missing_ok=True)
        run_week(Workspace.open(place), date.fromisoformat(day))
        now = state(place)
        differing = sorted(name for name in wholes[kind].keys() | now.keys() if wholes[kind].get(name) != now.get(name))
        hit[step] += 1
        wrong += bool(differing)
        said = f"DIFFERS: {differing[:8]}" if differing else "equal"
        print(f"{number + 1:3} {'later' if kind else 'first'} week, {step} + {moment:.2f} s: {said}", flush=True)
    print("kills by step:", dict(hit))
    print(f"{kills} kills, {wrong} workspaces that differ from the run that was left alone; {told} left word of it")
    shutil.rmtree(home)


def _steady(start: Path, place: Path, day: str, engine: str) -> dict[str, float]:
    shutil.copytree(start, place)
    lengths = run_through(place, day, engine)
    shutil.rmtree(place)
    return lengths


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Kill the weekly command, let it finish, compare.")
    parser.add_argument("seed", type=int)
    parser.add_argument("kills", type=int)
    parser.add_argument("engine", nargs="?", choices=["plain", "prefect"], default="plain")
    parser.add_argument("--first", type=int, default=0, help="the number of the first kill")
    asked = parser.parse_args()
    main(asked.seed, asked.kills, asked.engine, asked.first)
