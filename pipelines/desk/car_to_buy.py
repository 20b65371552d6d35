"""Make and model of a car that is not the dealer's: as the stock list has it, or as its scan's file names them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from pipelines.errors import BatchError, InputFileError

if TYPE_CHECKING:
    from pipelines.desk.desk import Desk
    from pipelines.reading.read_table import Reading

Stock = Sequence[dict[str, str | None]]
_ROWS = 40  # of each sheet, and as many thousand signs of a text: make and model stand at its beginning
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
    numbers = {str(cell) for name in ("vehicle", "vin") for cell in reading.rows[name].drop_nulls().unique()}
    own = next((row for row in stock if {row["vehicle"], row["vin"]} & numbers), None)
    if own is not None:
        return own["make"] or "", own["model"] or ""
    words = _words_of(path)
    make = _named({row["make"] for row in stock}, words)
    return make, _named({row["model"] for row in stock if row["make"] == make}, words)


def _named(names: set[str | None], words: str) -> str:
    """Return the longest of some names that stands in a text as a word of its own."""
    found = (name for name in names if name and re.search(rf"(?i)(?<!\w){re.escape(name)}(?!\w)", words))
    return max(found, key=lambda name: (len(name), name), default="")


def _words_of(path: Path) -> str:
    """Return the words at the beginning of a file, blank where it has none that can be read."""
    from pipelines.reading.mapping.pdf_text import read_pdf
    from pipelines.reading.mapping.workbook_reader import sheet_names, sheet_rows
    from pipelines.reading.source import encoding_of, read_bytes, read_text

    try:
        content = read_bytes(path)
        if content.startswith(b"PK"):
            rows = (cells for name in sheet_names(path) for at, cells in sheet_rows(path, name) if at <= _ROWS)
            return "\n".join(" ".join(cells) for cells in rows)
        if content.lstrip().startswith(b"%PDF-"):
            return read_pdf(path)
        return read_text(path, encoding_of(content))[: _ROWS * 1000]
    except (InputFileError, OSError):
        return ""
