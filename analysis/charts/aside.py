"""What was set aside, and why: refused values, silent modules, unproven repairs, codes looked past.

Nothing disappears without a word: whatever the batch could not use is counted
here, with the reason that stands in the tables.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

MOST_LINES = 200
_WHY = {
    "refused": "These values did not read as their column asks; the rest of each file was used.",
    "unread": "The module did not answer after the job, so nothing is known of its code. "
    "That is not the same as clear.",
    "unproven": "The code is gone, but the car was not driven far enough to tell. It counts neither way.",
    "past": "These codes are explained without a fault. They stay on the sheet and out of the reckoning.",
}


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
        _heap("Refused", _WHY["refused"], ("times", "file", "column", "why"), refused, table="rejects"),
        _heap("Unread", _WHY["unread"], ("times", "module", "code"), unread, table="outcomes"),
        _heap("Unproven", _WHY["unproven"], ("times", "module", "code"), unproven, table="outcomes"),
        _heap("Looked past", _WHY["past"], ("vehicle", "code", "reason"), past, table="open_codes", size=past.height),
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
