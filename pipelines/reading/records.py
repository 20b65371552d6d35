"""Read the two kinds of file that name each cell: Parquet, and JSON with one object a line.

Both are brought to the same text a comma file would hold, so that the same cell
reads the same wherever it came from.
"""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from pathlib import Path

import polars as pl

from pipelines.errors import InputFileError
from pipelines.reading.delimited import RawTable, Reject, tidy
from pipelines.reading.headers import match_header
from pipelines.reading.layouts import Layout
from pipelines.reading.sources import is_whole, read_bytes, read_text

_SHOWN = 120
MOST_ROWS = 5_000_000


def read_parquet(path: Path, layout: Layout) -> RawTable:
    """Read a Parquet file; its first record is row 2, as under a header.

    Args:
        path: The file.
        layout: What it should be.

    Returns:
        Its rows.  Numbers, days and times become text without loss; a code stored as a number is noted, because
        leading zeros are already gone.

    Raises:
        InputFileError: It is no whole Parquet file, or cannot be the layout at all.
    """
    content = read_bytes(path)
    notes: list[str] = []
    try:
        header = list(pl.read_parquet_schema(io.BytesIO(content)))
        _check_rows(path, content)
        known = match_header(path, header, layout, notes)
        stored = pl.read_parquet(io.BytesIO(content), columns=[header[place] for place in known.values()])
    except (pl.exceptions.PolarsError, pl.exceptions.PanicException) as error:
        # Some damage inside the file ends in a panic of the decoder, which is no PolarsError.
        reason = str(error).splitlines()[0]
        raise InputFileError(
            f"{path}: it cannot be read as Parquet ({reason}); expected a whole Parquet file. The file was not loaded."
        ) from error
    columns = [_as_text(path, stored[header[place]].alias(name)) for name, place in known.items()]
    if "code" in known and stored[header[known["code"]]].dtype.is_numeric():
        notes.append("code is stored as numbers: leading zeros, if there were any, are lost; store it as text")
    rows = pl.int_range(2, stored.height + 2, dtype=pl.Int64, eager=True).alias("row")
    return RawTable(tidy(pl.DataFrame([rows, *columns])), notes=notes)


def _check_rows(path: Path, content: bytes) -> None:
    """Refuse a small file that unpacks to very many rows, by what it says of itself."""
    rows = int(pl.scan_parquet(io.BytesIO(content)).select(pl.len()).collect().item())
    if rows > MOST_ROWS:
        raise InputFileError(
            f"{path}: the file has {rows} rows; expected at most {MOST_ROWS} rows. Split it. The file was not loaded."
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


def read_json_lines(path: Path, layout: Layout) -> RawTable:
    """Read one JSON object a line; a row is known by its line, the first being 1.

    Args:
        path: The file.
        layout: What it should be.

    Returns:
        Its rows, and the lines that are no flat object.  A number keeps the digits it is written with.

    Raises:
        InputFileError: It is no text, or no line has a required column.
    """
    rejects: list[Reject] = []
    records = dict(_objects(read_text(path), rejects))
    header = list(dict.fromkeys(name for record in records.values() for name in record))
    if not records:
        raise InputFileError(f"{path}: no line is a JSON object; expected one a line. The file was not loaded.")
    notes: list[str] = []
    known = match_header(path, header, layout, notes)
    columns = {name: [record.get(header[place]) for record in records.values()] for name, place in known.items()}
    schema = {"row": pl.Int64, **dict.fromkeys(columns, pl.String)}
    return RawTable(tidy(pl.DataFrame({"row": list(records), **columns}, schema=schema)), rejects, notes)


def json_names(text: str) -> list[str]:
    """Return every name that the objects of the text use, in the order they turn up."""
    return list(dict.fromkeys(name for _, record in _objects(text, []) for name in record))


def _objects(text: str, rejects: list[Reject]) -> Iterator[tuple[int, dict[str, str | None]]]:
    decode = json.JSONDecoder(object_pairs_hook=_flat, parse_float=str, parse_int=str, parse_constant=_no_number).decode
    for row, line in enumerate(text.split("\n"), 1):
        if not line.strip():
            continue
        try:
            found = decode(line)
            if not isinstance(found, dict):
                raise ValueError("it is no object")
        except (ValueError, RecursionError) as error:
            rejects.append((row, None, line[:_SHOWN], f"expected one flat JSON object: {error}"))
        else:
            yield row, found


def _flat(pairs: list[tuple[str, object]]) -> dict[str, str | None]:
    """Make the pairs of one object a dictionary of texts."""
    found: dict[str, str | None] = {}
    for name, value in pairs:
        if name in found:
            raise ValueError(f"{name!r} stands twice")
        if not (value is None or isinstance(value, str | bool)):
            raise ValueError(f"{name!r} holds a list or an object")
        if not (is_whole(name) and is_whole(str(value))):
            raise ValueError(f"{name!r} holds half of a character")
        found[name] = str(value).lower() if isinstance(value, bool) else value
    return found


def _no_number(name: str) -> str:
    raise ValueError(f"{name} is no number")
