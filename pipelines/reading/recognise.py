"""Which mapping, or which layout of our own, reads a file?

A mapping reads a file whose name it serves, whose beginning holds its signature
and whose header has its columns.  Two that fit are one too many: neither is guessed.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl

from pipelines.errors import InputFileError
from pipelines.reading.layouts import LAYOUTS, Layout
from pipelines.reading.mapping.mapped_json import read_mapped_json
from pipelines.reading.mapping.mapped_tables import (
    first_cells,
    lacking,
    read_mapped_sheet,
    read_mapped_table,
    sheet_header,
    split_header,
)
from pipelines.reading.mapping.mapping_file import Mapping
from pipelines.reading.mapping.pdf_text import read_pdf
from pipelines.reading.mapping.printed_text import read_printed
from pipelines.reading.mapping.translating import to_layout
from pipelines.reading.read_table import SUFFIXES, Reading, check_table, guess_layout, read_table
from pipelines.reading.source import read_text

_LOOK = 65_536
_ROWS = 20


def read_file(path: Path, layout: Layout, zone: ZoneInfo, mappings: Sequence[Mapping]) -> Reading:
    """Read one file by the mapping that fits it, else as the layout.

    Args:
        path: The file.
        layout: The table it belongs to; mappings serve scans alone.
        zone: The workspace's time zone.
        mappings: Those of the workspace.

    Returns:
        Its good rows and its refused ones; the notes name the mapping.

    Raises:
        InputFileError: It cannot be read at all; the message says what was found and what was wanted.
        OSError: It cannot be opened.
    """
    mapping = choose(path, mappings) if layout.name == "scans" else None
    if mapping is not None:
        return read_mapped(path, mapping, zone)
    try:
        return read_table(path, layout, zone)
    except InputFileError as error:
        if layout.name != "scans":
            raise
        raise InputFileError(f"{error} No mapping fits it either; 'knockon map FILE' drafts one.") from error


def read_mapped(path: Path, mapping: Mapping, zone: ZoneInfo) -> Reading:
    """Read one file by a mapping; its rows are checked like those of any other file.

    Raises:
        InputFileError: It cannot be read so.
        OSError: It cannot be opened.
    """
    if mapping.format == "table":
        found = read_mapped_table(path, mapping)
    elif mapping.format == "xlsx":
        found = read_mapped_sheet(path, mapping)
    elif mapping.format in ("json", "jsonl"):
        found = read_mapped_json(path, mapping)
    else:
        text = read_pdf(path) if mapping.format == "pdf" else read_text(path, mapping.encoding)
        found = read_printed(path, text, mapping)
    found.notes.insert(0, f"read by {mapping.name}")
    return check_table(to_layout(found, mapping), LAYOUTS["scans"], zone)


def choose(path: Path, mappings: Sequence[Mapping]) -> Mapping | None:
    """Return the mapping that reads a file, or None where none does.

    Raises:
        InputFileError: Two fit, or the only one that serves the file cannot read it and no layout does.
        OSError: It cannot be opened.
    """
    serving = [mapping for mapping in mappings if mapping.serves_name(path.name) and _has_signature(path, mapping)]
    fitting = [mapping for mapping in serving if _has_columns(path, mapping)]
    if len(fitting) > 1:
        raise InputFileError(
            f"{path}: fits {' and '.join(mapping.name for mapping in fitting)}; expected one. Give each a signature, "
            "or narrower file patterns. The file was not loaded."
        )
    if fitting:
        return fitting[0]
    own = path.suffix.lower() in SUFFIXES and _is_scans(path)
    return None if own or not serving else serving[0]


def _is_scans(path: Path) -> bool:
    # The folder's name would decide; here the header must.
    return guess_layout(path, by_folder=False) == "scans"


def _has_signature(path: Path, mapping: Mapping) -> bool:
    if mapping.signature is None:
        return True
    try:
        if mapping.format == "xlsx":
            return any(mapping.signature in cell for cell in first_cells(path, mapping, _ROWS))
        return mapping.signature in (read_pdf(path) if mapping.format == "pdf" else beginning(path, mapping.encoding))
    except InputFileError:
        return False


def _has_columns(path: Path, mapping: Mapping) -> bool:
    """Say whether the file's header has the mapping's columns; formats without a header fit."""
    try:
        if mapping.format == "table":
            lines = beginning(path, mapping.encoding).split("\n")[: mapping.header_row]
            return len(lines) == mapping.header_row and not lacking(split_header(path, lines[-1], mapping), mapping)
        if mapping.format == "xlsx":
            return not lacking(sheet_header(path, mapping), mapping)
    except (InputFileError, pl.exceptions.PolarsError):
        return False
    return True


def beginning(path: Path, encoding: str) -> str:
    """Return the beginning of a file's text; what cannot be decoded is left out.

    Raises:
        OSError: It cannot be opened.
    """
    with path.open("rb") as handle:
        start = handle.read(_LOOK)
    if encoding.startswith("utf-16"):
        mark = "utf-16" if start[:2] in (b"\xff\xfe", b"\xfe\xff") else encoding.replace("utf-16", "utf-16-le", 1)[:9]
        return start.decode(mark, errors="ignore").replace("\r\n", "\n").replace("\r", "\n")
    plain = "utf-8-sig" if encoding.startswith("utf-8") else encoding
    return start.decode(plain, errors="ignore").replace("\r\n", "\n").replace("\r", "\n")
