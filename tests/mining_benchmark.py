"""How long does mining take, and how much memory, beside other ways of doing it?

Each way runs in a process of its own, on the same drawn baskets, and prints seconds,
processor seconds and the process's peak memory beyond the baskets themselves.

    python tests/mining_benchmark.py 1000 50000 1000000
"""

from __future__ import annotations

import multiprocessing
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import polars as pl
from efficient_apriori import itemsets_from_transactions
from mining_worlds import code_table
from mlxtend.frequent_patterns import fpgrowth
from scipy.sparse import csr_matrix

from analysis.mining import MiningFrames, mine, run
from analysis.mining.counts import car_counts, pair_cars
from analysis.mining.pairs import describe_pairs, find_verdicts, reachable_levels
from analysis.mining.spells import spells

MODULES = 20
FEW_CODES = 300  # up to 50,000 baskets; above 3,000


def draw(baskets: int) -> dict[str, pl.DataFrame]:
    """Draw baskets: two a car, 20 lines, 20 modules of which four in five are read, a few codes each."""
    rng = np.random.default_rng(42)
    codes = FEW_CODES if baskets <= 50_000 else 10 * FEW_CODES
    lines, cars = rng.integers(0, 20, baskets // 2 + 1), np.arange(baskets) // 2
    read = rng.random((baskets, MODULES)) < 0.8
    at = np.repeat(np.arange(baskets), 4)
    code = (codes * rng.random(len(at)) ** 3).astype(np.int64)
    families = np.flatnonzero(rng.random(baskets) < 0.3)
    first = 7 * rng.integers(0, codes // 8, len(families))
    together = [(families, first + step) for step in (0, 1, 2)]
    at = np.concatenate([at, *(one for one, _ in together)])
    code = np.concatenate([code, *(other for _, other in together)])
    seen = read[at, code % MODULES]
    held = pl.DataFrame({"basket": at[seen], "number": code[seen]}).unique().sort("basket", "number")
    names = pl.DataFrame({"number": range(codes)}).with_columns(
        code=pl.format("M{}:P{}", pl.col("number") % MODULES, pl.col("number"))
    )
    start = pl.datetime(2026, 1, 5) + pl.duration(minutes=pl.col("basket"))
    table = pl.DataFrame({"basket": range(baskets), "number": cars, "line": lines[cars]})
    place, module = np.nonzero(read)
    return {
        "baskets": table.select(
            "basket",
            vehicle=pl.format("v{}", "number"),
            line=pl.format("l{}", "line"),
            started_at=start,
            ended_at=start,
        ),
        "basket_codes": held.join(names, on="number").select(
            "basket", "code", first_seen=start, first_odometer=pl.lit(None, dtype=pl.Float64)
        ),
        "basket_modules": pl.DataFrame({"basket": place, "module": module}).select(
            "basket", pl.format("M{}", "module").alias("module")
        ),
        "codes": code_table(names["code"].to_list(), []),
    }


def frames_of(drawn: dict[str, pl.DataFrame]) -> MiningFrames:
    """Return the miner's frames; tables of jobs are empty."""
    empty = pl.DataFrame(schema={"job_id": pl.Int64, "part": pl.String})
    outcomes = dict.fromkeys(("vehicle", "code", "module", "outcome", "background"), pl.String)
    return MiningFrames(
        **drawn, jobs=empty, job_parts=empty, outcomes=pl.DataFrame(schema={"job_id": pl.Int64, **outcomes})
    )


def pairs_as_built(drawn: dict[str, pl.DataFrame]) -> object:
    """Count the cars on which two codes met, as the miner does, from texts on; modules that were read come along."""
    return pair_cars(spells(frames_of(drawn)))


def codes_alone(drawn: dict[str, pl.DataFrame]) -> object:
    """Count the same without the modules, which the other ways are not told either."""
    few = drawn["basket_modules"].clear()
    return pair_cars(spells(frames_of(drawn | {"basket_modules": few})))


def numbers_of(drawn: dict[str, pl.DataFrame]) -> tuple[np.ndarray, np.ndarray]:
    """Return basket and code number of each row."""
    held = drawn["basket_codes"]
    return held["basket"].to_numpy(), held["code"].cast(pl.Categorical).to_physical().to_numpy()


def pairs_by_sparse_product(drawn: dict[str, pl.DataFrame]) -> object:
    """Count baskets over all lines, no cars, as the product of the sparse basket table with itself."""
    baskets, codes = numbers_of(drawn)
    table = csr_matrix((np.ones(len(codes), dtype=np.int32), (baskets, codes)))
    return table.T @ table


def pairs_by_product_per_line(drawn: dict[str, pl.DataFrame]) -> object:
    """Count baskets per line by one sparse product a line; a product cannot count a car with two baskets once."""
    baskets, codes = numbers_of(drawn)
    table = csr_matrix((np.ones(len(codes), dtype=np.int32), (baskets, codes)))
    lines = drawn["baskets"].sort("basket")["line"].cast(pl.Categorical).to_physical().to_numpy()
    parts = [table[lines == line] for line in np.unique(lines)]
    return [part.T @ part for part in parts]


def pairs_by_product_on_cars(drawn: dict[str, pl.DataFrame]) -> object:
    """Count the same as the miner by sparse products: a table of cars and the pairs that met on them, summed."""
    baskets, codes = numbers_of(drawn)
    cars = drawn["baskets"].sort("basket")["vehicle"].cast(pl.Categorical).to_physical().to_numpy()
    many = int(codes.max()) + 1
    table = csr_matrix((np.ones(len(codes), dtype=np.int32), (baskets, codes)))
    row, step, met = np.arange(len(codes)), 0, []
    inside = np.repeat(np.arange(len(cars)), np.diff(table.indptr))
    while len(row):
        step += 1
        row = row[row + step < len(codes)]
        row = row[inside[row] == inside[row + step]]
        met.append((cars[inside[row]], table.indices[row].astype(np.int64) * many + table.indices[row + step]))
    pairs, column = np.unique(np.concatenate([pair for _, pair in met]), return_inverse=True)
    owner = np.concatenate([car for car, _ in met])
    on_car = csr_matrix((np.ones(len(owner), dtype=np.int32), (owner, column)))
    on_car.data[:] = 1
    return pairs, np.ones(on_car.shape[0], dtype=np.int32) @ on_car


def pairs_by_mlxtend(drawn: dict[str, pl.DataFrame]) -> object:
    """Mine the sets of one or two in at least 0.5 % of the baskets with the pattern miner alone, on a sparse table."""
    codes = drawn["basket_codes"]["code"].cast(pl.Categorical).to_physical().to_numpy()
    table = csr_matrix((np.ones(len(codes), dtype=bool), (drawn["basket_codes"]["basket"].to_numpy(), codes)))
    frame = pd.DataFrame.sparse.from_spmatrix(table).astype(pd.SparseDtype(bool, False))
    frame.columns = [str(column) for column in frame.columns]
    return fpgrowth(frame, min_support=0.005, max_len=2)


def pairs_by_apriori(drawn: dict[str, pl.DataFrame]) -> object:
    """Mine the same sets with a second miner."""
    grouped = drawn["basket_codes"].group_by("basket").agg("code")
    baskets = [tuple(codes) for codes in grouped["code"].to_list()]
    return itemsets_from_transactions(baskets, min_support=0.005, max_length=2)


def tests_of_pairs(drawn: dict[str, pl.DataFrame]) -> object:
    """Count cars, test and describe all pairs."""
    frames = frames_of(drawn)
    started = time.perf_counter()
    arrays = spells(frames)
    counts = car_counts(arrays)
    counted = time.perf_counter()
    least = reachable_levels(counts)
    verdicts = find_verdicts(counts, least, 3, 0.05)
    pairs = describe_pairs(arrays, counts, verdicts)
    print(f"    of these: cars counted {counted - started:.1f} s, {len(least)} pairs tested ", end="")
    print(f"{time.perf_counter() - counted:.1f} s, {pairs.height} listed")
    return pairs


def without_shuffling(drawn: dict[str, pl.DataFrame]) -> object:
    """Run the miner without its shuffled copies, which no other way has anything like."""
    run.null_check = lambda *_: pl.DataFrame({"copy": [1], "listed": [0], "confirmed": [0]})
    return everything(drawn)


def everything(drawn: dict[str, pl.DataFrame]) -> object:
    """Run the whole miner."""
    return mine(frames_of(drawn), min_vehicles=3, q_value=0.05)


WAYS: dict[str, Callable[[dict[str, pl.DataFrame]], object]] = {
    "cars by pair, as built": codes_alone,
    "the same, with the modules read": pairs_as_built,
    "cars by pair, sparse products": pairs_by_product_on_cars,
    "baskets by line, sparse products": pairs_by_product_per_line,
    "baskets, one sparse product": pairs_by_sparse_product,
    "sets in 0.5 %, mlxtend fpgrowth": pairs_by_mlxtend,
    "sets in 0.5 %, efficient-apriori": pairs_by_apriori,
    "pairs counted and tested": tests_of_pairs,
    "whole miner, no shuffled copies": without_shuffling,
    "whole miner": everything,
}


def memory(what: str) -> int:
    """Return a line of Linux's account of this process's memory, in MB: VmRSS now, VmHWM at its peak."""
    status = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return int(next(line for line in status if line.startswith(what)).split()[1]) // 1024


def measure(way: str, baskets: int) -> None:
    """Run one way and print its figures; called in a process of its own."""
    drawn = draw(baskets)
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")  # forget the peak of the drawing
    before = memory("VmRSS")
    started, worked = time.perf_counter(), time.process_time()
    WAYS[way](drawn)
    seconds, work = time.perf_counter() - started, time.process_time() - worked
    more = memory("VmHWM") - before
    print(f"{baskets:>9,} baskets  {way:<34} {seconds:8.2f} s  {work:8.2f} s of work  {more:6,} MB", flush=True)


if __name__ == "__main__":
    spawn = multiprocessing.get_context("spawn")
    for size in map(int, sys.argv[1:]):
        for name in WAYS:
            process = spawn.Process(target=measure, args=(name, size))
            process.start()
            process.join()
