"""Kills the desk at drawn moments of a day's work, starts it anew, goes on, and compares with a day left alone.

``python -m tests.studies.desk_kill_study SEED KILLS`` drops files, takes them in, writes jobs, runs the week and does
the same once more with the rest, all by the requests that the desk's own pages send.  Each of these is aimed at equally
often, the moment inside it is drawn evenly over its length; every other kill takes the week's process along.  What the
desk had said yes to must be there at once; then somebody does again what it had not said yes to, a plain week follows,
and all that the workspace holds is compared.  It is a study, not a test: it takes a while.
"""

from __future__ import annotations

import hashlib
import http.client
import os
import random
import shutil
import signal
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from datetime import date
from itertools import pairwise
from pathlib import Path
from urllib.parse import urlencode

from pipelines.batch.run_journal import record_of
from pipelines.batch.weekly import run_week
from pipelines.errors import BusyError
from pipelines.report.new_workspace import init_workspace
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace
from tests.studies.kill_study import fill_inbox
from tests.support.desk_process import Started

FORM = "application/x-www-form-urlencoded"
KEPT = ("inbox", "archive", "rejected", ".knockon/desk/tray")
PLACE_OF_ROW = ("file_id", "row", "nth", "ordinal", "content")
PATIENCE = 300
FIRST, JOBS = 8, 4


class Day:
    """A day's work at the desk: what is done, and what the desk said yes to."""

    def __init__(self, files: list[Path], jobs: list[dict[str, str]]) -> None:
        self.files, self.jobs = files, jobs
        self.kept: set[str] = set()  # sums of the files that it keeps
        self.written: set[str] = set()  # numbers of the jobs that it wrote
        self.stages: list[tuple[float, str]] = []
        self.reached = threading.Condition()

    def work(self, desk: Started) -> None:
        """Do all of it; ends where the desk does."""
        try:
            token = desk.enter()
            for name, stage in self._stages(desk, token):
                self._now(name)
                stage()
        except (OSError, http.client.HTTPException):
            pass
        self._now("end")

    def _stages(self, desk: Started, token: str) -> list[tuple[str, Callable[[], None]]]:
        early, late = self.files[:FIRST], self.files[FIRST:]
        return [
            ("drop", lambda: self.drop(desk, token, early)),
            ("take in", lambda: answered(desk.post("/files/take", token))),
            ("jobs", lambda: self.write(desk, token, self.jobs[:JOBS])),
            ("week", lambda: week(desk, token)),
            ("drop more", lambda: self.drop(desk, token, late)),
            ("more jobs", lambda: self.write(desk, token, self.jobs[JOBS:])),
            ("take in more", lambda: answered(desk.post("/files/take", token))),
        ]

    def _now(self, name: str) -> None:
        with self.reached:
            self.stages.append((time.monotonic(), name))
            self.reached.notify_all()

    def wait_for(self, name: str) -> None:
        with self.reached:
            self.reached.wait_for(lambda: {name, "end"} & {stage for _, stage in self.stages}, PATIENCE)

    def lengths(self) -> dict[str, float]:
        return {name: after - at for (at, name), (after, _) in pairwise(self.stages)}

    def drop(self, desk: Started, token: str, files: list[Path]) -> None:
        """Drop those files that the desk did not say yes to yet."""
        for path in files:
            content = path.read_bytes()
            if digest(content) not in self.kept:
                kind = "application/octet-stream"
                given = {"X_Desk_Token": token, "X_File_Name": path.name, "Content_Type": kind}
                status = desk.ask("POST", "/files/upload", content, **given)[0]
                if status != 200:
                    raise SystemExit(f"{path.name} was answered with {status}")
                self.kept.add(digest(content))

    def write(self, desk: Started, token: str, jobs: list[dict[str, str]]) -> None:
        """Write those jobs that the desk did not say yes to yet; one that stands there already is one."""
        for job in jobs:
            if job["job"] not in self.written:
                body = urlencode({"token": token, "new": "1", "scanned": "1", **job}).encode()
                status, _, said = desk.ask("POST", "/jobs", body, Content_Type=FORM)
                if status != 303 and not (status == 400 and "is there already" in said):
                    raise SystemExit(f"job {job['job']} was answered with {status}")
                self.written.add(job["job"])

    def lost(self, folder: Path) -> list[str]:
        """Return what the desk said yes to and what is nowhere."""
        there = [path for place in KEPT for path in (folder / place).rglob("*") if path.is_file()]
        sums = {digest(path.read_bytes()) for path in there}
        texts = "".join(path.read_text("utf-8") for path in there if "job-" in path.name)
        return sorted(self.kept - sums) + [job for job in sorted(self.written) if f",{job}," not in texts]


def digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def answered(status: int) -> None:
    if status not in (303, 400):  # 400: nothing was left to take in
        raise SystemExit(f"the desk answered with {status}")


def week(desk: Started, token: str) -> None:
    """Run the week and wait for its end."""
    answered(desk.post("/week/run", token))
    end = time.monotonic() + PATIENCE
    while 'data-state="running"' in desk.ask("GET", "/week/now")[2] and time.monotonic() < end:
        time.sleep(0.1)


def free(workspace: Workspace) -> None:
    """Wait until no run holds the workspace: a week goes on when only its desk was killed."""
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        try:
            with workspace.lock():
                return
        except BusyError:
            time.sleep(0.1)


def children_of(parent: int) -> list[int]:
    found = Path(f"/proc/{parent}/task").glob("*/children")
    return [int(child) for path in found for child in path.read_text().split()]


def kill(desk: Started, with_week: bool) -> None:
    children = children_of(desk.process.pid)
    desk.process.kill()
    for child in children if with_week else ():
        try:
            os.kill(child, signal.SIGKILL)
        except ProcessLookupError:
            continue
    desk.process.wait(PATIENCE)


def stop(desk: Started) -> None:
    desk.process.terminate()
    desk.process.communicate(timeout=PATIENCE)


def finish(day: Day, folder: Path) -> None:
    """Start the desk anew, do what it had not said yes to, close it, and run a plain week."""
    workspace = Workspace.open(folder)
    free(workspace)
    desk = Started(folder)
    token = desk.enter()
    day.drop(desk, token, day.files)
    day.write(desk, token, day.jobs)
    answered(desk.post("/files/take", token))
    stop(desk)
    record_of(workspace).unlink(missing_ok=True)  # the next report would say that a run was cut short, as it should
    run_week(workspace, date.today())


def state(folder: Path) -> dict[str, object]:
    """Return all rows that were read, whatever file brought them first, all files, the report's tables, leftovers."""
    found: dict[str, object] = {}
    with Warehouse(folder / "knockon.duckdb") as warehouse:
        for table in ("scans", "stock", "repairs", "parts", "background"):
            rows = warehouse.query(f"select * from raw.{table}").drop(PLACE_OF_ROW)
            found[f"rows of {table}"] = sorted(map(repr, rows.iter_rows()))
        found["files"] = sorted(warehouse.query("select sha256 from raw.files")["sha256"])
        found["pending"] = warehouse.number("select count(*) from raw.pending")
    for place in KEPT:
        found[place] = sorted(digest(path.read_bytes()) for path in (folder / place).rglob("*") if path.is_file())
    [report] = [path.parent for path in folder.glob("reports/*/run.json")]
    for path in sorted(report.glob("*.csv")):
        found[path.name] = sorted(path.read_text("utf-8").splitlines())
    left = [*folder.glob("reports/.*"), *folder.glob(".knockon/tmp/*"), *folder.glob("*.new"), *folder.glob("*.wal")]
    found["left behind"] = sorted(path.name for path in left)
    return found


def begun(folder: Path, day: Day) -> tuple[Started, threading.Thread]:
    shutil.rmtree(folder, ignore_errors=True)
    init_workspace(folder)
    desk = Started(folder)
    thread = threading.Thread(target=day.work, args=(desk,), daemon=True)
    thread.start()
    return desk, thread


def main(seed: int, kills: int) -> None:
    rng, home = random.Random(seed), Path(tempfile.mkdtemp(prefix="deskkills"))
    fill_inbox(home / "source", 0)
    fill_inbox(home / "more", 1)
    found = [path for one in ("source", "more") for path in sorted((home / one / "inbox").rglob("*.csv"))]
    files = [path for path in found if "-0.csv" in path.name or "scans" not in path.parts]
    files = [path for path in files if not path.name.startswith(("binary", "rows", "same"))]
    files.sort(key=lambda path: path.parent.name == "repairs")
    jobs = [
        {"vehicle": f"D{number % 3}", "job": f"d-{number}", "done_at": f"2026-11-{10 + number}", "erased": "1"}
        | {"actiona0": "replace", "parta0": "main relay", "part_costa0": str(20 + number)}
        for number in range(2 * JOBS)
    ]
    day, place = Day(files, jobs), home / "dealer"
    desk, thread = begun(place, day)
    thread.join()
    lengths = day.lengths()
    stop(desk)
    finish(day, place)
    whole = state(place)
    print(f"{len(files)} files, {len(jobs)} jobs; seconds:", {name: round(at, 2) for name, at in lengths.items()})
    # A comparison that cannot fail proves nothing: a day without its last job must differ.
    short = Day(files, jobs[:-1])
    shutil.rmtree(place)
    init_workspace(place)
    finish(short, place)
    print("without the last job these differ:", differing(whole, state(place)), flush=True)
    hit: Counter[str] = Counter()
    wrong = lost = 0
    for number in range(kills):
        aim, with_week = list(lengths)[number % len(lengths)], number // len(lengths) % 2 == 0
        moment = rng.random() * lengths[aim]
        day = Day(files, jobs)
        desk, thread = begun(place, day)
        day.wait_for(aim)
        time.sleep(moment)
        step = day.stages[-1][1]
        kill(desk, with_week)
        thread.join()
        # On a busy computer the first day may have been slow: aim within what was seen since.
        seen = list(day.lengths().items())[:-1]
        lengths.update({name: min(length, lengths[name]) for name, length in seen})
        free(Workspace.open(place))
        gone = day.lost(place)
        finish(day, place)
        unlike = differing(whole, state(place))
        hit[step] += 1
        wrong += bool(unlike)
        lost += len(gone)
        said = f"LOST {gone} DIFFERS {unlike}" if gone or unlike else "nothing lost, equal"
        what = "desk and week" if with_week else "desk"
        print(f"{number + 1:3} {what}, {step} ({aim} + {moment:.2f} s): {said}", flush=True)
    print("kills by step:", dict(hit))
    print(f"{kills} kills, {lost} things lost that were said yes to, {wrong} workspaces that differ")
    shutil.rmtree(home)


def differing(one: dict[str, object], other: dict[str, object]) -> list[str]:
    return sorted(name for name in one.keys() | other.keys() if one.get(name) != other.get(name))


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
