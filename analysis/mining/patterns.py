"""Sets of codes that were on many cars at once, found with a pattern miner.

A miner answers "which sets of up to five codes were together at least k times" quickly.  It
finds; it does not judge: whether a set is luck is for the tests of association.

The only module that knows the miner and the table library it needs.
"""

from __future__ import annotations

import pandas as pd
import polars as pl
from mlxtend.frequent_patterns import fpgrowth

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
