"""Threads, hash seeds and the order of files and rows change nothing in the demo dealer's tables and findings."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
MONTHS = 3
"""The latest scans are enough to mine something, and read in a moment."""

# The batch up to the mining, in a process of its own: both libraries fix their threads when they start.
RUN = """
import hashlib, json, sys
from datetime import date
from pathlib import Path
import duckdb, polars as pl
from pipelines.workspace import Workspace
from analysis import mining

threads, connect = int(sys.argv[2]), duckdb.connect
duckdb.connect = lambda path=":memory:", config=None: connect(path, config=(config or {}) | {"threads": threads})
from pipelines.settings import load_settings
from pipelines.batch import weekly
from pipelines.storage.warehouse import Warehouse

def digests(tables):
    return {name: hashlib.sha256(repr(frame.rows()).encode()).hexdigest() if isinstance(frame, pl.DataFrame) else frame
            for name, frame in sorted(tables.items())}

place = Workspace.open(Path(sys.argv[1]))
with Warehouse(place.database) as warehouse:
    used_settings = load_settings(place.settings_file)
    weekly.read(place, used_settings, warehouse, week="2026-W48", progress=lambda text: None, spread=None)
    weekly.normalise(place, warehouse)
    facts = weekly.state_facts(warehouse, used_settings, date(2026, 11, 23))
    findings = weekly.mine(facts, used_settings, None)
    [(used,)] = warehouse.query("select current_setting('threads') as n").rows()
frames = vars(facts.take(mining.MiningFrames))
mixed = {name: frame.sample(fraction=1, shuffle=True, seed=3) for name, frame in frames.items()}
settings = {"min_vehicles": used_settings.min_vehicles, "q_value": used_settings.q_value}
again = mining.mine(mining.MiningFrames(**mixed), **settings) if threads > 1 else findings  # once will do
families = findings.members["family"].n_unique()
print(json.dumps({"families": families, "threads": [pl.thread_pool_size(), used],
                  "frames": digests(frames), "mixed": digests(mixed),
                  "found": digests(vars(findings)), "again": digests(vars(again))}))
"""


def run_with(threads: int, folder: Path) -> dict[str, dict[str, object]]:
    shutil.copytree(ROOT / "fixtures" / "demo", folder)
    scans = sorted((folder / "inbox" / "scans").iterdir(), reverse=True)
    for place, file in enumerate(scans):
        if place >= MONTHS:
            file.unlink()
        elif threads > 1:  # the same scans, read last file first
            file.rename(file.with_name(f"{place:03d}{file.suffix}"))
    limits = dict.fromkeys(("POLARS_MAX_THREADS", "OPENBLAS_NUM_THREADS", "PYTHONHASHSEED"), str(threads))
    surroundings = os.environ | limits | {"PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-c", RUN, str(folder), str(threads)]
    done = subprocess.run(command, env=surroundings, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def runs(tmp_path_factory) -> list[dict[str, dict[str, object]]]:
    folder = tmp_path_factory.mktemp("threads")
    return [run_with(threads, folder / str(threads)) for threads in (1, 2)]


@pytest.mark.slow
def test_threads_hash_seeds_and_the_order_of_files_change_no_table(runs):
    one, two = runs
    assert (one["threads"], two["threads"]) == ([1, 1], [2, 2])
    assert one["frames"] == two["frames"]
    assert one["found"] == two["found"]
    assert one["families"] > 0, "something was mined, so something could have differed"


@pytest.mark.slow
def test_the_order_of_rows_changes_no_finding(runs):
    one, two = runs
    assert two["mixed"]["basket_codes"] != one["frames"]["basket_codes"]
    assert two["again"] == one["found"]
