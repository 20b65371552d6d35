"""Does it pay to have worker processes read the files and count the pairs?

``python -m tests.studies.benchmark_cluster 5000`` draws a dealer group, takes it in and
counts the pairs of codes, once in one process and once with two workers (the
extra ``cluster``), holds every table of the one database against the other, and
prints what both cost.  Wall seconds are what counts here, so let nothing else run.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))

from tests.support.big_dealer import write_group  # noqa: E402

# The steps up to the counting; then a digest of every table and of the counts.
RUN = """
import hashlib, json, sys
from datetime import date
from pathlib import Path
from analysis.mining import MiningFrames
from analysis.mining.episode_arrays import episode_arrays
from pipelines.batch.counting import counter
from pipelines.batch import weekly
from pipelines.ingest.cluster import working
from pipelines.settings import load_settings
from pipelines.storage.session import opened
from pipelines.workspace import Workspace
from tests.support.measuring import measured

digests = {}

def call(step, *args, **kwargs):
    with measured(step.name):
        return step(*args, **kwargs)

def main():
    place = Workspace.open(Path(sys.argv[1]))
    settings = load_settings(place.settings_file)
    with opened(place) as warehouse, working(settings.workers) as spread:
        call(weekly.read, place, settings, warehouse, week="2026-W48", progress=lambda _: None, spread=spread)
        call(weekly.normalise, place, warehouse)
        facts = call(weekly.state_facts, warehouse, settings, date(2026, 11, 23))
        arrays = episode_arrays(facts.take(MiningFrames))
        with measured("count pairs of codes"):
            counts = counter(spread)(arrays)
        for name in ("both_read", "present", "first", "second", "vehicles"):
            digests[name] = hashlib.sha256(getattr(counts, name).tobytes()).hexdigest()
        tables = warehouse.query(
            "select table_schema || '.' || table_name as name from information_schema.tables "
            "where table_schema in ('raw', 'spelling', 'fitted', 'staging', 'core', 'marts') order by all"
        )
        digests.update({name: warehouse.digest(name) for name in tables["name"]})
    print(json.dumps({"digests": digests}))

if __name__ == "__main__":
    main()
"""


def main() -> None:
    """Draw, run both ways, compare and print."""
    parser = argparse.ArgumentParser(description="Hold two workers against one process.")
    parser.add_argument("cars", type=int, nargs="*", default=[5000])
    parser.add_argument("--workers", default="2")
    options = parser.parse_args()
    for cars in options.cars:
        with tempfile.TemporaryDirectory() as scratch:
            one, many = Path(scratch) / "one", Path(scratch) / "many"
            rows = write_group(cars, one)
            shutil.copytree(one, many)
            with (many / "knockon.toml").open("a", encoding="utf-8") as settings:
                settings.write(f'workers = "{options.workers}"\n')
            script = Path(scratch) / "run.py"
            script.write_text(RUN, encoding="utf-8")
            print(f"{cars} cars, {rows} scan rows", flush=True)
            told = [_run(script, folder, name) for folder, name in ((one, "one process"), (many, "two workers"))]
            unequal = [name for name in told[0] if told[0][name] != told[1].get(name)]
            print(f"{len(told[0])} tables and counts compared; unequal: {', '.join(unequal) or 'none'}", flush=True)


def _run(script: Path, folder: Path, name: str) -> dict[str, str]:
    """Run the steps in a fresh process, print what they cost and return the digests."""
    paths = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])
    done = subprocess.run(
        [sys.executable, str(script), str(folder)],
        cwd=ROOT, capture_output=True, text=True, check=False, env={**os.environ, "PYTHONPATH": paths},
    )  # fmt: skip
    if done.returncode:
        sys.exit(done.stdout + done.stderr)
    found = [json.loads(line) for line in done.stdout.splitlines() if line.startswith("{")]
    for cost in (line for line in found if "step" in line):
        print(f"{name}: {cost['step']}: {cost['cpu']:.1f} s processor here, {cost['wall']:.1f} s", flush=True)
    digests: dict[str, str] = found[-1]["digests"]
    return digests


if __name__ == "__main__":
    main()
