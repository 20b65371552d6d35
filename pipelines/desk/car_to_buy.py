"""Make and model of a car that is not the dealer's: as the stock list has it, or as its scan's file names them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from pipelines.errors import BatchError

if TYPE_CHECKING:
    from pipelines.desk.desk import Desk
    from pipelines.reading.read_table import Reading

Stock = Sequence[dict[str, str | None]]
_STOCK = """
select vehicle, max_by(vin, row) as vin, max_by(make, row) as make, max_by(model, row) as model
from raw.stock group by vehicle order by vehicle
"""


def known_models(desk: Desk) -> Stock:
    """Return vehicle, vin, make and model of the cars that the stock lists have named; none where a run holds them."""
    if not desk.workspace.database.exists():
        return []
    try:
        with desk.looking() as warehouse:
            return warehouse.query(_STOCK).to_dicts()
    except BatchError:
        return []


def told_of(path: Path, reading: Reading, stock: Stock) -> tuple[str, str]:
    """Return make and model of the scanned car, blank where nothing tells them.

    Args:
        path: The scan's file.
        reading: Its rows.
        stock: The cars that the stock lists have named.
    """
    from pipelines.desk.look import words_of

    numbers = {str(cell) for name in ("vehicle", "vin") for cell in reading.rows[name].drop_nulls().unique()}
    own = next((row for row in stock if {row["vehicle"], row["vin"]} & numbers), None)
    if own is not None:
        return own["make"] or "", own["model"] or ""
    words = words_of(path)
    make = _named({row["make"] for row in stock}, words)
    return make, _named({row["model"] for row in stock if row["make"] == make}, words)


def _named(names: set[str | None], words: str) -> str:
    """Return the longest of some names that stands in a text as a word of its own."""
    found = (name for name in names if name and re.search(rf"(?i)(?<!\w){re.escape(name)}(?!\w)", words))
    return max(found, key=lambda name: (len(name), name), default="")
