"""Several ways of mining the same drawn baskets, ours and others', for the benchmark.

What each way does and does not do stands with it.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
import pandas as pd
import polars as pl
from efficient_apriori import itemsets_from_transactions
from mlxtend.frequent_patterns import fpgrowth
from scipy.sparse import csr_matrix

from analysis.mining import MiningFrames, mine, run
from analysis.mining.counts import car_counts, pair_cars
from analysis.mining.episodes import episode_arrays
from analysis.mining.null_check import copies_of
from analysis.mining.pairs import describe_pairs, find_verdicts, reachable_levels
from analysis.mining.stability import RESAMPLES
from tests.support.mining_worlds import code_table

MODULES = 20
FEW_CODES = 300  # up to so many baskets; above, 3,000
FEW_BASKETS = 50_000
MIN_SHARE, MIN_COUNT = 0.005, 3


def draw(baskets: int) -> dict[str, pl.DataFrame]:
    """Draw baskets: two a car, 20 lines, 20 modules of which four in five are read, a few codes each."""
    rng = np.random.default_rng(42)
    codes = FEW_CODES if baskets <= FEW_BASKETS else 10 * FEW_CODES
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
    return MiningFrames(**drawn, job_parts=empty, outcomes=pl.DataFrame(schema={"job_id": pl.Int64, **outcomes}))


def pairs_as_built(drawn: dict[str, pl.DataFrame]) -> object:
    """Count the cars on which two codes met, as the miner does, from texts on; modules that were read come along."""
    return pair_cars(episode_arrays(frames_of(drawn)))


def codes_alone(drawn: dict[str, pl.DataFrame]) -> object:
    """Count the same without the modules, which the other ways are not told either."""
    few = drawn["basket_modules"].clear()
    return pair_cars(episode_arrays(frames_of(drawn | {"basket_modules": few})))


def numbers_of(drawn: dict[str, pl.DataFrame]) -> tuple[np.ndarray, np.ndarray]:
    """Return basket and code number of each row."""
    held = drawn["basket_codes"]
    return held["basket"].to_numpy(), held["code"].cast(pl.Categorical).to_physical().to_numpy()


def numbered(drawn: dict[str, pl.DataFrame], what: str) -> np.ndarray:
    """Return a number for the vehicle or the line of each basket."""
    return drawn["baskets"].sort("basket")[what].cast(pl.Categorical).to_physical().to_numpy()


def table_of(rows: np.ndarray, columns: np.ndarray) -> csr_matrix:
    """Return the sparse table that holds how often each row and column come together."""
    return csr_matrix((np.ones(len(columns), dtype=np.int32), (rows, columns)))


def pairs_by_sparse_product(drawn: dict[str, pl.DataFrame]) -> object:
    """Count baskets over all lines, no cars, as the product of the sparse basket table with itself."""
    return numbers_to_product(drawn)()


def numbers_to_pairs(drawn: dict[str, pl.DataFrame]) -> Callable[[], object]:
    """Number texts, cars and modules once, as the miner does for all that it counts; return what counts the cars."""
    return partial(pair_cars, episode_arrays(frames_of(drawn)))


def numbers_to_product(drawn: dict[str, pl.DataFrame]) -> Callable[[], object]:
    """Number the codes; return what makes the sparse table of baskets and its product with itself, cars left out."""
    baskets, codes = numbers_of(drawn)

    def product() -> object:
        table = table_of(baskets, codes)
        return table.T @ table

    return product


def pairs_by_product_per_line(drawn: dict[str, pl.DataFrame]) -> object:
    """Count baskets per line by one sparse product a line; a product cannot count a car with two baskets once."""
    baskets, codes = numbers_of(drawn)
    table, lines = table_of(baskets, codes), numbered(drawn, "line")
    parts = [table[lines == line] for line in np.unique(lines)]
    return [part.T @ part for part in parts]


def pairs_by_product_on_cars(drawn: dict[str, pl.DataFrame]) -> object:
    """Count the same as the miner by sparse products: a table of cars and the pairs that met on them, summed."""
    baskets, codes = numbers_of(drawn)
    cars = numbered(drawn, "vehicle")
    many = int(codes.max()) + 1
    table = table_of(baskets, codes)
    row, step, met = np.arange(len(codes)), 0, []
    inside = np.repeat(np.arange(len(cars)), np.diff(table.indptr))
    while len(row):
        step += 1
        row = row[row + step < len(codes)]
        row = row[inside[row] == inside[row + step]]
        met.append((cars[inside[row]], table.indices[row].astype(np.int64) * many + table.indices[row + step]))
    pairs, column = np.unique(np.concatenate([pair for _, pair in met]), return_inverse=True)
    owner = np.concatenate([car for car, _ in met])
    on_car = table_of(owner, column)
    on_car.data[:] = 1
    return pairs, np.ones(on_car.shape[0], dtype=np.int32) @ on_car


def sets_by_mlxtend(drawn: dict[str, pl.DataFrame], fewest: float, longest: int | None) -> object:
    """Mine the sets of codes in so many baskets (or in such a share of them, below 1) with the pattern miner alone."""
    return fpgrowth(frame_of(*numbers_of(drawn)), min_support=share_of(fewest, drawn), max_len=longest)


def frame_of(baskets: np.ndarray, codes: np.ndarray) -> pd.DataFrame:
    """Return the table of baskets and codes that mlxtend takes: the plain one where it is small, else a sparse one."""
    if len(codes) <= 5 * FEW_BASKETS:
        dense = np.zeros((baskets.max() + 1, codes.max() + 1), dtype=bool)
        dense[baskets, codes] = True
        return pd.DataFrame(dense)
    table = csr_matrix((np.ones(len(codes), dtype=bool), (baskets, codes)))
    frame = pd.DataFrame.sparse.from_spmatrix(table).astype(pd.SparseDtype(bool, False))
    frame.columns = [str(column) for column in frame.columns]
    return frame


def share_of(fewest: float, drawn: dict[str, pl.DataFrame]) -> float:
    """Return the least share of the baskets; half a basket less than a whole count, lest it be rounded up."""
    return fewest if fewest < 1 else (fewest - 0.5) / drawn["baskets"].height


def sets_by_apriori(drawn: dict[str, pl.DataFrame], fewest: float, longest: int) -> object:
    """Mine the same sets with a second miner, which lists those of each length."""
    grouped = drawn["basket_codes"].group_by("basket").agg("code")
    baskets = [tuple(codes) for codes in grouped["code"].to_list()]
    baskets += [()] * (drawn["baskets"].height - len(baskets))
    return itemsets_from_transactions(baskets, min_support=share_of(fewest, drawn), max_length=longest)


def copies_by_mlxtend(drawn: dict[str, pl.DataFrame]) -> list[int]:
    """Mine sets of one or two in three baskets, on the data and on as many shuffled copies as the miner makes.

    The copies are cheap ones: the codes of a line are dealt out anew, a code that falls twice into a basket counts
    once there, and modules that were not read get codes.  Nothing is tested and nothing is made of the sets.
    """
    rng, (baskets, codes) = np.random.default_rng(1), numbers_of(drawn)
    line = numbered(drawn, "line")[baskets]
    order = np.argsort(line, kind="stable")
    found = [sets_by_mlxtend(drawn, MIN_COUNT, 2)]
    for _ in range(copies_of(drawn["baskets"].height)):
        mixed = rng.permutation(len(codes))
        mixed = mixed[np.argsort(line[mixed], kind="stable")]
        dealt = frame_of(baskets[order], codes[mixed])
        found.append(fpgrowth(dealt, min_support=share_of(MIN_COUNT, drawn), max_len=2))
    return [len(each) for each in found]


def full_job_by_mlxtend(drawn: dict[str, pl.DataFrame]) -> list[int]:
    """Mine those sets on the data, on the shuffled copies, and on as many redraws of the baskets as the miner makes.

    What the miner asks of every pair and family, put as plainly as can be: is it there, would it be there by chance,
    would it be there again.
    """
    rng, (baskets, codes) = np.random.default_rng(2), numbers_of(drawn)
    order = np.argsort(baskets, kind="stable")
    codes, many = codes[order], drawn["baskets"].height
    held = np.bincount(baskets, minlength=many)
    starts, found = np.cumsum(held) - held, copies_by_mlxtend(drawn)
    for _ in range(RESAMPLES):
        again = rng.integers(0, many, many)
        rows = np.repeat(starts[again] - np.cumsum(held[again]) + held[again], held[again])
        dealt = frame_of(np.repeat(np.arange(many), held[again]), codes[rows + np.arange(len(rows))])
        found.append(len(fpgrowth(dealt, min_support=share_of(MIN_COUNT, drawn), max_len=2)))
    return found


def tests_of_pairs(drawn: dict[str, pl.DataFrame]) -> object:
    """Count cars with the modules read, test every pair that could pass, and describe those that do."""
    arrays = episode_arrays(frames_of(drawn))
    counts = car_counts(arrays)
    verdicts = find_verdicts(counts, reachable_levels(counts), 3, 0.05)
    return describe_pairs(arrays, counts, verdicts)


def without_shuffling(drawn: dict[str, pl.DataFrame]) -> object:
    """Run the miner without its shuffled copies, which no other way has anything like."""
    run.null_check = lambda *_: pl.DataFrame({"copy": [1], "listed": [0], "confirmed": [0]})
    return everything(drawn)


def everything(drawn: dict[str, pl.DataFrame]) -> object:
    """Run the whole miner."""
    return mine(frames_of(drawn), min_vehicles=3, q_value=0.05)


PREPARED: dict[str, Callable[[dict[str, pl.DataFrame]], Callable[[], object]]] = {
    "from numbers: cars by pair, as built": numbers_to_pairs,
    "from numbers: baskets, sparse product": numbers_to_product,
}
"""Ways whose texts are numbered beforehand, out of the count."""
WAYS: dict[str, Callable[[dict[str, pl.DataFrame]], object]] = {
    "cars by pair, as built": codes_alone,
    "the same, with the modules read": pairs_as_built,
    "cars by pair, sparse products": pairs_by_product_on_cars,
    "baskets by line, sparse products": pairs_by_product_per_line,
    "baskets, one sparse product": pairs_by_sparse_product,
    "pairs counted and tested": tests_of_pairs,
    "whole miner, no shuffled copies": without_shuffling,
    "whole miner": everything,
    "one or two in 0.5 %, mlxtend": partial(sets_by_mlxtend, fewest=MIN_SHARE, longest=2),
    "one or two in 0.5 %, apriori": partial(sets_by_apriori, fewest=MIN_SHARE, longest=2),
    "one or two in 3 baskets, mlxtend": partial(sets_by_mlxtend, fewest=MIN_COUNT, longest=2),
    "one or two in 3 baskets, apriori": partial(sets_by_apriori, fewest=MIN_COUNT, longest=2),
    "up to five in 3 baskets, mlxtend": partial(sets_by_mlxtend, fewest=MIN_COUNT, longest=5),
    "up to five in 3 baskets, apriori": partial(sets_by_apriori, fewest=MIN_COUNT, longest=5),
    "one or two, and in copies, mlxtend": copies_by_mlxtend,
    "one or two, copies, redraws, mlxtend": full_job_by_mlxtend,
}


def ready(way: str, drawn: dict[str, pl.DataFrame]) -> Callable[[], object]:
    """Return the way's work, to be called and timed."""
    return PREPARED[way](drawn) if way in PREPARED else partial(WAYS[way], drawn)
