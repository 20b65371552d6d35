"""How long does a week take, step by step, and how much memory does it need?

``python tests/benchmark_weekly.py`` draws an invented dealer and runs his week
in a fresh process.  Not a test: a figure of one computer on one day.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parent.parent

# The command as it is, which also tells the steps' seconds and the memory's peaks: its own, and its server's.
RUN = """
import json, sys
from pipelines import cli, console

def tell(report, next_command):
    print(json.dumps(report.timings))

console.show_summary = tell
code = cli.main(["weekly", *sys.argv[1:]])
peaks = []
if sys.platform != "win32":
    import resource
    unit = 1024 * 1024 if sys.platform == "darwin" else 1024
    peaks = [resource.getrusage(who).ru_maxrss // unit for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
print(json.dumps(peaks))
sys.exit(code)
"""


def main() -> None:
    """Draw, run and print."""
    parser = argparse.ArgumentParser(description="Time the weekly batch on an invented dealer.")
    parser.add_argument("--cars", type=int, default=500, help="number of cars (500: about 20,000 scan rows)")
    parser.add_argument("--engine", choices=["plain", "prefect"], default="plain")
    parser.add_argument("--date", default="2026-11-23", help="the report's day")
    parser.add_argument(
        "--runs", type=int, default=1, help="runs on the same folder; from the second on nothing is new"
    )
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "dealer"
        draw = [sys.executable, str(ROOT / "fixtures" / "draw_demo.py"), "--cars", str(options.cars)]
        subprocess.run([*draw, "--out", str(folder)], check=True, stdout=subprocess.DEVNULL)
        scans = [path.read_text(encoding="utf-8") for path in folder.glob("inbox/scans/*.csv")]
        rows = sum(len(text.splitlines()) - 1 for text in scans)
        print(f"{options.cars} cars, {rows} scan rows, engine {options.engine}")
        for _ in range(options.runs):
            run_once(folder, options.engine, options.date)


def run_once(folder: Path, engine: str, day: str) -> None:
    """Run one week in a fresh process and print the seconds of its steps."""
    started = time.perf_counter()
    words = [str(folder), "--engine", engine, "--date", day]
    done = subprocess.run([sys.executable, "-c", RUN, *words], cwd=ROOT, capture_output=True, text=True, check=False)
    whole = time.perf_counter() - started
    if done.returncode:
        sys.exit(done.stdout + done.stderr)
    timings, peaks = map(json.loads, done.stdout.splitlines())
    for step, seconds in timings.items():
        print(f"{seconds:8.2f} s  {step}")
    print(f"{whole - sum(timings.values()):8.2f} s  start, imports and engine")
    print(f"{whole:8.2f} s  in all")
    for name, peak in zip(("peak", "peak of the engine's server"), peaks, strict=False):
        if peak:
            print(f"{peak:8} MB {name}")


if __name__ == "__main__":
    main()
