"""Read a comma file as rows of cells, numbered as a spreadsheet shows them: the header is row 1."""

from __future__ import annotations

import csv
from pathlib import Path

from pipelines.errors import InputFileError
from pipelines.reading.headers import match_header
from pipelines.reading.layouts import Layout
from pipelines.reading.source import read_text
from pipelines.reading.tabular.raw_table import RawTable, tidy
from pipelines.reading.tabular.splitting import split_rows

_LONGEST_HEADER = 65_536


def read_header(path: Path, text: str) -> list[str]:
    """Return the names of the first line.

    Raises:
        InputFileError: The line is far too long, is split by semicolons or tabs, or its quotes are not closed.
    """
    line = text.partition("\n")[0]
    if len(line) > _LONGEST_HEADER:
        raise InputFileError(
            f"{path} line 1: found {len(line)} characters; expected a header of at most {_LONGEST_HEADER}. "
            "The file was not loaded."
        )
    for mark, name in ((";", "semicolons"), ("\t", "tabs")):
        if mark in line and "," not in line:
            raise InputFileError(f"{path}: the header is split by {name}; expected commas. The file was not loaded.")
    try:
        return next(csv.reader([line], strict=True), [])
    except csv.Error as error:
        raise InputFileError(f"{path}: the header cannot be split ({error}). The file was not loaded.") from error


def read_delimited(path: Path, layout: Layout) -> RawTable:
    """Read a comma file.

    Args:
        path: The file.
        layout: What it should be.

    Returns:
        Its rows and the rows that could not be split.

    Raises:
        InputFileError: The file cannot be the layout at all.
    """
    text = read_text(path)
    notes: list[str] = []
    header = read_header(path, text)
    known = match_header(path, header, layout, notes)
    body = text.partition("\n")[2]
    frame, rejects = split_rows(body, len(header), known)
    return RawTable(tidy(frame), rejects, notes)
