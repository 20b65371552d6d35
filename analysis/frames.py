"""What a room says it takes in: the tables of facts, and the columns of each that it reads.

A room lists them in a dataclass, one field a table, the columns beside the type:
``jobs: Annotated[pl.DataFrame, "job_id done_at"]``.  Only names stand there:
types and units are declared once, with the SQL that makes the columns, and a test
holds the two together.  What is not listed is not handed over, so no list can
fall behind what its room reads.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TypeVar, get_type_hints

import polars as pl

Frames = TypeVar("Frames")


def needed_columns(frames: type[object]) -> dict[str, tuple[str, ...]]:
    """Return the columns that a room reads, by table.

    Args:
        frames: A dataclass whose fields are annotated as the module says.
    """
    hints = get_type_hints(frames, include_extras=True)
    return {table: tuple(hint.__metadata__[0].split()) for table, hint in hints.items()}


def lacking(frames: type[object], tables: Mapping[str, Iterable[str]]) -> list[str]:
    """Return what a room reads and is not there, as ``jobs.done_at``; no entry where nothing lacks.

    Args:
        frames: As in ``needed_columns``.
        tables: The columns that there are, by table.
    """
    needed = needed_columns(frames)
    return [
        f"{table}.{column}"
        for table, columns in needed.items()
        for column in columns
        if column not in tables.get(table, ())
    ]


def select_frames(frames: type[Frames], tables: Mapping[str, pl.DataFrame]) -> Frames:
    """Return a room's tables with the columns that it reads, in the order in which it lists them.

    Args:
        frames: As in ``needed_columns``.
        tables: All tables by name; they may have more columns, and there may be more of them.

    Raises:
        ValueError: A column lacks; each is named.
    """
    lost = lacking(frames, {name: table.columns for name, table in tables.items()})
    if lost:
        raise ValueError(f"{frames.__name__} lacks {', '.join(lost)}; the tables of facts do not have it")
    return frames(**{name: tables[name].select(columns) for name, columns in needed_columns(frames).items()})
