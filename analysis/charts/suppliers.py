"""What each supplier's parts did: the same jobs as in the clear rates, split by who delivered the part."""

from __future__ import annotations

import re

import polars as pl

# A semicolon ends an entry only behind the counts: a name may hold one.
_ONE = re.compile(r"(.*?) (\d+)/(\d+)(?:;|\Z)", re.DOTALL)
SCHEMA = {"part": pl.String, "family": pl.String, "supplier": pl.String, "cleared": pl.Int64, "jobs": pl.Int64}


def supplier_lines(part_results: pl.DataFrame) -> pl.DataFrame:
    """Split the column ``suppliers`` into one row a supplier.

    Args:
        part_results: The columns of ``part_results.csv``; suppliers holds "NAME cleared/jobs", ``;``-separated.

    Returns:
        part, family, supplier, cleared, jobs of the parts that more than one supplier delivered, sorted; the
        counts are those of the table.
    """
    rows = []
    for part, family, told in part_results.select("part", "family", "suppliers").iter_rows():
        found = each(told)
        if len(found) > 1:
            rows += [(part, family, *one) for one in found]
    return pl.DataFrame(rows, schema=SCHEMA, orient="row").sort("part", "family", "supplier")


def each(told: str | None) -> list[tuple[str, int, int]]:
    """Split the text of one row of ``suppliers`` into name, cleared and jobs of each supplier."""
    return [(name, int(cleared), int(jobs)) for name, cleared, jobs in _ONE.findall(told or "")]


def listed(told: str | None) -> str:
    """Return the text of one row of ``suppliers`` with commas between the suppliers."""
    return ", ".join(f"{name} {cleared}/{jobs}" for name, cleared, jobs in each(told))
