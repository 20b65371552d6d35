"""Sets of codes that were on many cars at once, found with a pattern miner.

A miner answers "which sets of up to five codes were together at least k times" quickly.  It
finds; it does not judge: whether a set is luck is for the tests of association.

The only module that knows the miner and the table library it needs.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
import numpy.typing as npt
import pandas as pd
import polars as pl
from mlxtend.frequent_patterns import fpgrowth
from scipy.linalg import block_diag

Bools = npt.NDArray[np.bool_]
CELLS = 4_000_000  # of a table that is mined at once
Counted = dict[frozenset[str], int]


def frequent_sets(rows: pl.DataFrame, min_count: int, max_codes: int) -> Counted:
    """Return every set of codes that is present in enough rows.

    Args:
        rows: One row per basket (or car), one Boolean column per code, no nulls.
        min_count: Rows a set must be present in, at least 1.
        max_codes: Largest size of a set, at least 1.

    Returns:
        The number of rows of each set of 1..``max_codes`` codes; empty for a frame without rows or columns.

    Raises:
        ValueError: ``min_count`` or ``max_codes`` is below 1.

    Source:
        J. Han, J. Pei and Y. Yin, "Mining frequent patterns without candidate generation",
        SIGMOD 2000, 1-12.
    """
    if min_count < 1 or max_codes < 1:
        raise ValueError(f"min_count and max_codes must be at least 1; got {min_count} and {max_codes}")
    if rows.height < min_count or rows.width == 0:
        return {}
    table = pd.DataFrame({code: rows[code].to_numpy() for code in rows.columns})
    # Half a row below the count: min_count / height itself can round up inside the
    # miner to one row more (7 of 25 does) and lose every set at exactly the minimum.
    found = fpgrowth(table, min_support=(min_count - 0.5) / rows.height, use_colnames=True, max_len=max_codes)
    shares = zip(found["itemsets"], found["support"], strict=True)
    return {frozenset(codes): round(share * rows.height) for codes, share in shares}


def frequent_sets_of(tables: Mapping[str, Bools], min_count: int, max_codes: int) -> dict[str, list[list[int]]]:
    """Return the frequent sets of several tables; small ones are mined together, as the miner's start is dear.

    Args:
        tables: Name to [baskets, codes] which codes are present.
        min_count: As for :func:`frequent_sets`.
        max_codes: As for :func:`frequent_sets`.

    Returns:
        Name to the sets, each as sorted positions of its codes.
    """
    found: dict[str, list[list[int]]] = {name: [] for name in tables}
    for names in _portions(tables):
        joint = block_diag(*(tables[name] for name in names))  # no row holds codes of two tables, so no set does
        columns = [(name, place) for name in names for place in range(tables[name].shape[1])]
        rows = pl.DataFrame(joint, schema=[str(column) for column in range(len(columns))], orient="row")
        for each in frequent_sets(rows, min_count, max_codes):
            owned = [columns[column] for column in sorted(map(int, each))]
            found[owned[0][0]].append([place for _, place in owned])
    return found


def _portions(tables: Mapping[str, Bools]) -> Iterator[list[str]]:
    """Return the names of the tables in portions that fit in memory side by side."""
    portion: list[str] = []
    rows = columns = 0
    for name, table in tables.items():
        rows, columns = rows + table.shape[0], columns + table.shape[1]
        if portion and rows * columns > CELLS:
            yield portion
            portion, (rows, columns) = [], table.shape
        portion.append(name)
    yield portion


def closed_sets(counted: Counted) -> Counted:
    """Keep the sets that no larger set matches in count: the larger one says it all.

    Args:
        counted: Sets with their counts, complete up to the largest size in it.

    Returns:
        The closed sets with their counts.  At the largest size a set counts as closed, as no larger is known.

    Source:
        N. Pasquier, Y. Bastide, R. Taouil and L. Lakhal, "Discovering frequent closed itemsets
        for association rules", ICDT 1999, 398-416.
    """
    covered = {
        codes - {code} for codes, count in counted.items() for code in codes if counted.get(codes - {code}) == count
    }
    return {codes: count for codes, count in counted.items() if codes not in covered}
