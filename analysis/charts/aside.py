"""What was set aside, and why: refused values, silent modules, unproven repairs, codes looked past.

Nothing disappears without a word: whatever the batch could not use is counted
here, with the reason that stands in the tables.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from analysis.texts import page as say

MOST_LINES = 200


@dataclass(frozen=True)
class Aside:
    """One heap of things set aside.

    Attributes:
        title: What was set aside.
        why: In one sentence, why.
        size: How many there are in the table.
        heads: Headings of the columns.
        lines: The first ``MOST_LINES`` rows.
        more: How many distinct rows are not shown.
        table: The outgoing table that holds them all.
    """

    title: str
    why: str
    size: int
    heads: tuple[str, ...]
    lines: list[tuple[object, ...]]
    more: int
    table: str


def asides(outcomes: pl.DataFrame, open_codes: pl.DataFrame, rejects: pl.DataFrame) -> list[Aside]:
    """Gather what was set aside.

    Args:
        outcomes: The columns of ``outcomes.csv``.
        open_codes: The columns of ``open_codes.csv``.
        rejects: The columns of ``rejects.csv``.

    Returns:
        Four heaps, empty ones too: refused, unread, unproven, looked past.
    """
    refused = _counted(rejects, "file", "column", "why")
    unread, unproven = (
        _counted(outcomes.filter(pl.col("outcome") == kind), "module", "code") for kind in ("unread", "unproven")
    )
    masked = open_codes.filter(pl.col("background").is_not_null())
    past = masked.select("vehicle", "code", "background").sort("vehicle", "code")
    return [
        _heap(say.REFUSED, say.REFUSED_WHY, say.REFUSED_HEADS, refused, table="rejects"),
        _heap(say.UNREAD, say.UNREAD_WHY, say.MODULE_HEADS, unread, table="outcomes"),
        _heap(say.UNPROVEN, say.UNPROVEN_WHY, say.MODULE_HEADS, unproven, table="outcomes"),
        _heap(say.PAST, say.PAST_WHY, say.PAST_HEADS, past, table="open_codes", size=past.height),
    ]


def _counted(frame: pl.DataFrame, *by: str) -> pl.DataFrame:
    counts = frame.group_by(by).agg(pl.len().cast(pl.Int64).alias("times"))
    return counts.select("times", *by).sort("times", *by, descending=[True, *(False for _ in by)])


def _heap(
    title: str, why: str, heads: tuple[str, ...], rows: pl.DataFrame, *, table: str, size: int | None = None
) -> Aside:
    total = int(rows["times"].sum()) if size is None else size
    lines = list(rows.head(MOST_LINES).iter_rows())
    return Aside(title, why, total, heads, lines, more=rows.height - len(lines), table=table)
