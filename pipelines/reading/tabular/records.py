"""Read JSON with one object a line, brought to the same text a comma file would hold."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import polars as pl

from pipelines.errors import InputFileError
from pipelines.library_words import in_our_words
from pipelines.reading.headers import match_header
from pipelines.reading.layouts import Layout
from pipelines.reading.source import is_whole, read_text
from pipelines.reading.tabular.raw_table import RawTable, Reject, tidy

_SHOWN = 120


_WANTED = "expected one flat JSON object: "


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
        row, _, found, why = rejects[0] if rejects else (1, None, "", "")
        shown = f" (line {row}, {why.removeprefix(_WANTED)}: {found!r})" if rejects else ""
        raise InputFileError(
            f"{path}: no line is a JSON object of plain values{shown}; expected one a line. The file was not loaded."
        )
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
            rejects.append((row, None, line[:_SHOWN], f"{_WANTED}{in_our_words(error)}"))
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
