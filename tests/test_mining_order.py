"""Threads and the order of rows change nothing: the demo dealer's tables, and what is mined from them."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent

# The batch up to the mining, in a process of its own: both libraries fix their threads when they start.
RUN = """
import hashlib, json, sys
from datetime import date
from pathlib import Path
import duckdb, polars as pl
from pipelines.workspace import Workspace
from analysis import mining

threads, connect = int(sys.argv[2]), duckdb.connect
duckdb.connect = lambda path, config: connect(path, config=config | {"threads": threads})
from pipelines.settings import load_settings
from pipelines.steps import STEPS, Batch
from pipelines.warehouse import Warehouse

def digests(tables):
    return {name: hashlib.sha256(repr(frame.rows()).encode()).hexdigest() if isinstance(frame, pl.DataFrame) else frame
            for name, frame in sorted(tables.items())}

place = Workspace.open(Path(sys.argv[1]))
with Warehouse(place.database) as warehouse:
    batch = Batch(place, load_settings(place.settings_file), date(2026, 11, 23), warehouse, lambda text: None)
    for step in STEPS:
        step.work(batch)
        if batch.findings is not None:
            break
    [(used,)] = warehouse.query("select current_setting('threads') as n").rows()
frames = {name: batch.frames[name] for name in mining.MiningFrames.__annotations__}
mixed = {name: frame.sample(fraction=1, shuffle=True, seed=3) for name, frame in frames.items()}
settings = {"min_vehicles": batch.settings.min_vehicles, "q_value": batch.settings.q_value}
again = mining.mine(mining.MiningFrames(**mixed), **settings)
print(json.dumps({"threads": [pl.thread_pool_size(), used], "frames": digests(frames), "mixed": digests(mixed),
                  "found": digests(vars(batch.findings)), "again": digests(vars(again))}))
"""


def run_with(threads: int, folder: Path) -> dict[str, dict[str, object]]:
    shutil.copytree(ROOT / "fixtures" / "demo", folder)
    surroundings = os.environ | {"POLARS_MAX_THREADS": str(threads), "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-c", RUN, str(folder), str(threads)]
    done = subprocess.run(command, env=surroundings, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def runs(tmp_path_factory) -> list[dict[str, dict[str, object]]]:
    folder = tmp_path_factory.mktemp("threads")
    return [run_with(threads, folder / str(threads)) for threads in (1, 2)]


def test_the_number_of_threads_changes_no_table(runs):
    one, two = runs
    assert (one["threads"], two["threads"]) == ([1, 1], [2, 2])
    assert one["frames"] == two["frames"]
    assert one["found"] == two["found"]


def test_the_order_of_rows_changes_no_finding(runs):
    for run in runs:
        assert run["mixed"]["basket_codes"] != run["frames"]["basket_codes"]
        assert run["again"] == run["found"]
