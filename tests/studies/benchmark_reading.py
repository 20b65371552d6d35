"""What reading costs: a million rows of scans against the database's own copy, printed text, and many small files.

    python -m tests.studies.benchmark_reading          every case
    python -m tests.studies.benchmark_reading files    the small files alone: read, loaded and archived

Each case runs in a process of its own, so that its peak of memory is its own.
"""

from __future__ import annotations

import csv
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from zoneinfo import ZoneInfo

import duckdb

from pipelines.ingest.intake import take_in
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.read_table import read_table
from pipelines.reading.recognise import read_mapped
from pipelines.report.new_workspace import init_workspace
from pipelines.settings import Settings
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace

ROOT = Path(__file__).parents[2]
ROWS = 1_000_000
MEGABYTES = 40
FILES = 10_000
HEADER = "vehicle,scanned_at,odometer,module,code,failure_type,status,occurrences,text"
MODULES = ("ECM", "ABS", "BCM", "TCM", "SRS", "EPS")
PRINTED = """\
serves = ["*.txt"]
format = "text"
date_formats = ["%d.%m.%Y %H:%M"]
[text]
scan = '^Car (?<vehicle>\\S+) on (?<scanned_at>.{16}) at (?<odometer>\\d+) km$'
module = '^\\[(?<module>\\w+)\\]$'
code = '^  (?<code>[PCBU]\\d{4}) (?<status>\\w+) +(?<text>.+)$'
no_codes = '^  no codes$'
"""


def draw(seed: int = 1):
    """Yield cars' scans: number, day, odometer, and module, code, status and wording of each row."""
    dice = random.Random(seed)
    for scan in range(10**9):
        day = f"{1 + scan % 28:02d}", f"{1 + scan // 28 % 12:02d}", f"{8 + scan % 9:02d}:{scan % 60:02d}"
        rows = []
        for module in MODULES:
            for _ in range(dice.choice((0, 1, 1, 2, 6))):
                number = dice.randrange(2000)
                rows.append(
                    (
                        module,
                        f"P{number:04d}",
                        dice.choice(("active", "pending", "history")),
                        f"Fault number {number} of this module",
                    )
                )
            rows.append((module, "", "", ""))
        yield f"S-{scan % 5000}", day, 40_000 + scan % 90_000, rows


def write_table(path: Path, quoted: bool) -> None:
    """Write ``ROWS`` rows of the scan layout; ``quoted``: one cell in fifty has a comma, so it needs quotes."""
    left = ROWS
    with path.open("w", encoding="utf-8", newline="") as handle:
        handle.write(HEADER + "\n")
        for vehicle, (day, month, clock), odometer, rows in draw():
            for module, code, status, text in rows:
                shown = f'"{text}, bank 1"' if quoted and left % 50 == 0 else text
                handle.write(f"{vehicle},2026-{month}-{day} {clock},{odometer},{module},{code},,{status},,{shown}\n")
                left -= 1
                if not left:
                    return


def write_printed(path: Path) -> None:
    """Write ``MEGABYTES`` of printed scans."""
    with path.open("w", encoding="utf-8") as handle:
        for vehicle, (day, month, clock), odometer, rows in draw():
            handle.write(f"Car {vehicle} on {day}.{month}.2026 {clock} at {odometer} km\n")
            told = ""
            for module, code, status, text in rows:
                if module != told:
                    handle.write(f"[{module}]\n")
                    told = module
                handle.write(f"  {code} {status:10} {text}\n" if code else "  no codes\n")
            if handle.tell() > MEGABYTES * 1_000_000:
                return


def write_files(folder: Path) -> None:
    """Write ``FILES`` files of one row each into the inbox of a new workspace."""
    init_workspace(folder)
    for number, (vehicle, (day, month, clock), odometer, rows) in zip(range(FILES), draw(), strict=False):
        module, code, status, text = rows[0]
        row = f"{vehicle},2026-{month}-{day} {clock},{odometer + number},{module},{code},,{status},,{text}\n"
        path = folder / "inbox" / "scans" / f"scan-{number:05}.csv"
        path.write_text(f"{HEADER}\n{row}", encoding="utf-8")


def timed(case: str, path: Path) -> None:
    """Run one case and print seconds and its rows."""
    zone = ZoneInfo("Europe/Berlin")
    if case == "copy":
        con = duckdb.connect(str(path.with_suffix(".duckdb")))
        columns = ", ".join(f"{name} varchar" for name in HEADER.split(","))
        con.execute(f"create table scans ({columns})")
        begun, used = time.perf_counter(), processor_seconds()
        con.execute(f"copy scans from '{path}' (header true)")
        seconds, rows = time.perf_counter() - begun, con.execute("select count(*) from scans").fetchall()[0][0]
    elif case == "files":
        write_files(path)
        place = Workspace.open(path)
        with Warehouse(place.database) as warehouse:
            begun, used = time.perf_counter(), processor_seconds()
            done = take_in(place, Settings(), warehouse, "2026-W48", lambda _: None)
            seconds = time.perf_counter() - begun
        rows = sum(file.rows_loaded for file in done.loaded)
        shutil.rmtree(path)
    elif case == "table":
        begun, used = time.perf_counter(), processor_seconds()
        reading = read_table(path, LAYOUTS["scans"], zone)
        seconds, rows = time.perf_counter() - begun, reading.rows.height
    else:
        mapping = path.with_name("printed.toml")
        mapping.write_text(PRINTED, encoding="utf-8")
        begun, used = time.perf_counter(), processor_seconds()
        reading = read_mapped(path, load_mapping(mapping), zone)
        seconds, rows = time.perf_counter() - begun, reading.rows.height
    print(f"{seconds} {processor_seconds() - used} {rows} {peak()}")


def processor_seconds() -> float:
    """Return the time that this process has had on all processors, which a busy machine does not stretch."""
    times = os.times()
    return times.user + times.system


def peak() -> float:
    """Return this process's peak of memory in GB."""
    status = Path("/proc/self/status")
    if not status.exists():
        return float("nan")
    return int(re.search(r"VmHWM:\s+(\d+)", status.read_text())[1]) / 1e6


def run(case: str, path: Path) -> tuple[float, float, int, float]:
    """Run a case in a process of its own; of two runs the one that took the processor less."""
    runs = []
    for _ in range(2):
        path.with_suffix(".duckdb").unlink(missing_ok=True)
        done = subprocess.run(
            [sys.executable, __file__, case, str(path)],
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=True,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )
        seconds, processor, rows, gigabytes = done.stdout.split()
        runs.append((float(seconds), float(processor), int(rows), float(gigabytes)))
    return min(runs, key=lambda told: told[1])


def main() -> None:
    """Print the figures."""
    if len(sys.argv) == 3:
        timed(sys.argv[1], Path(sys.argv[2]))
        return
    with tempfile.TemporaryDirectory() as folder:
        out = csv.writer(sys.stdout, delimiter="\t", lineterminator="\n")
        out.writerow(("case", "MB", "rows", "seconds", "MB/s", "processor s", "GB peak", "times a copy"))
        _, processor, rows, gigabytes = run("files", Path(folder) / "many")
        out.writerow((f"{FILES:,} files of one row", "", rows, "", "", f"{processor:.2f}", f"{gigabytes:.2f}", ""))
        if sys.argv[1:] == ["files"]:
            return
        base = 0.0
        for name, case, quoted in (
            ("a bare copy", "copy", False),
            ("our layout", "table", False),
            ("a bare copy, some cells quoted", "copy", True),
            ("our layout, some cells quoted", "table", True),
            ("printed text", "printed", False),
        ):
            path = Path(folder) / f"{case == 'printed'}-{quoted}.csv"
            if not path.exists():
                write_printed(path) if case == "printed" else write_table(path, quoted)
            seconds, processor, rows, gigabytes = run(case, path)
            base = processor if case == "copy" else base
            size = path.stat().st_size / 1e6
            times = f"{processor / base:.2f}" if case == "table" else ""
            speed = f"{size / seconds:.0f}"
            out.writerow(
                (name, f"{size:.0f}", rows, f"{seconds:.2f}", speed, f"{processor:.2f}", f"{gigabytes:.2f}", times)
            )


if __name__ == "__main__":
    main()
