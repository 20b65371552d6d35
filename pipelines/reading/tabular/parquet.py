"""Read a Parquet file, brought to the same text a comma file would hold.

The file is taken apart by Arrow: of all readers at hand it is the one that meets
damage with an error.  Others end the whole program on a few spoiled bytes.
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl
import pyarrow as pa

from pipelines.errors import InputFileError
from pipelines.library_words import in_our_words
from pipelines.reading.headers import match_header
from pipelines.reading.layouts import Layout
from pipelines.reading.source import read_bytes
from pipelines.reading.tabular.raw_table import RawTable, tidy

if TYPE_CHECKING:
    import pyarrow.parquet as pq

MOST_ROWS = 5_000_000
LARGEST_UNPACKED = 2 * 2**30
# Arrow's own errors, and what its answers can still meet: bytes that are no text, a decoder of the frames that panics.
_DAMAGE = (pa.ArrowException, OSError, ValueError, pl.exceptions.PolarsError, pl.exceptions.PanicException)


def read_parquet(path: Path, layout: Layout) -> RawTable:
    """Read a Parquet file; its first record is row 2, as under a header.

    Args:
        path: The file.
        layout: What it should be.

    Returns:
        Its rows.  Numbers, days and times become text without loss; a code stored as a number is noted, because
        leading zeros are already gone.

    Raises:
        InputFileError: It is no whole Parquet file, unpacks to too much, or cannot be the layout at all.
        OSError: It cannot be opened.
    """
    file, header = _opened(path)
    _check_unpacked(path, file)
    notes: list[str] = []
    known = match_header(path, header, layout, notes)
    try:
        table = file.read(columns=[header[place] for place in known.values()])
        table.validate(full=True)
        stored = {name: pl.Series(name, pl.from_arrow(table.column(header[place]))) for name, place in known.items()}
        columns = [_as_text(path, cells) for cells in stored.values()]
    except _DAMAGE as error:
        raise _unreadable(path, error) from error
    if "code" in stored and stored["code"].dtype.is_numeric():
        notes.append("code is stored as numbers: leading zeros, if there were any, are lost; store it as text")
    rows = pl.int_range(2, table.num_rows + 2, dtype=pl.Int64, eager=True).alias("row")
    return RawTable(tidy(pl.DataFrame([rows, *columns])), notes=notes)


def parquet_names(path: Path) -> list[str]:
    """Return the names of a Parquet file's columns.

    Raises:
        InputFileError: It is no Parquet file.
        OSError: It cannot be opened.
    """
    return _opened(path)[1]


def _opened(path: Path) -> tuple[pq.ParquetFile, list[str]]:
    from pyarrow.parquet import ParquetFile  # noqa: PLC0415 - loaded for such files only

    content = read_bytes(path)
    try:
        file = ParquetFile(io.BytesIO(content))
        return file, list(file.schema_arrow.names)
    except _DAMAGE as error:
        raise _unreadable(path, error) from error


def _unreadable(path: Path, error: BaseException) -> InputFileError:
    return InputFileError(
        f"{path}: it cannot be read as Parquet ({in_our_words(error)}); "
        "expected a whole Parquet file. The file was not loaded."
    )


def _check_unpacked(path: Path, file: pq.ParquetFile) -> None:
    """Refuse a small file that unpacks to very much, by what it says of itself."""
    told = file.metadata
    size = sum(told.row_group(place).total_byte_size for place in range(told.num_row_groups))
    if told.num_rows > MOST_ROWS or size > LARGEST_UNPACKED:
        raise InputFileError(
            f"{path}: the file unpacks to {told.num_rows} rows and {size / 2**20:.0f} MB; expected at most {MOST_ROWS} "
            f"rows and {LARGEST_UNPACKED // 2**20} MB. Split it. The file was not loaded."
        )


def _as_text(path: Path, cells: pl.Series) -> pl.Series:
    """Return typed cells as the text a comma file would hold."""
    kind = cells.dtype
    if isinstance(kind, pl.Datetime):
        # Fractions are kept here and cut by the check, as they are in text.
        return cells.dt.to_string("%Y-%m-%d %H:%M:%S%.f" + ("%:z" if kind.time_zone else ""))
    if kind.is_float():
        # A column of whole numbers with gaps is stored as 1001.0 by some writers.
        return cells.cast(pl.String).str.replace(r"\.0$", "").replace("NaN", None)
    if kind in (pl.String, pl.Boolean, pl.Date, pl.Null, pl.Categorical, pl.Enum) or kind.is_numeric():
        return cells.cast(pl.String)
    raise InputFileError(
        f"{path}: the column {cells.name} holds {kind}; expected text, numbers, days or times. The file was not loaded."
    )
