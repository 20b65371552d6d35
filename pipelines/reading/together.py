"""Many small files of one table, read together.

A look at a table has its price, however few rows it has; ten thousand files of one row shall not pay it ten thousand
times.  What comes of each file is what ``read_file`` makes of it: the rows of plain files are checked all at once, and
a file in which anything is out of the ordinary is checked by itself, for no row of one file may speak of another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import accumulate
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl

from pipelines.errors import InputFileError
from pipelines.habits import ASKED, Habits
from pipelines.reading.account import LIKE_A_CODE, Found
from pipelines.reading.checks import REJECTS, check_cells, vin_notes
from pipelines.reading.headers import match_header
from pipelines.reading.layouts import Layout
from pipelines.reading.mapping.mapping_file import Mapping
from pipelines.reading.read_table import Reading, check_table, reading_of
from pipelines.reading.recognise import accounted, raw_file
from pipelines.reading.tabular.dialect import check_names, dated_otherwise, mark_of
from pipelines.reading.tabular.raw_table import RawTable, tidy

SMALL = 64 * 2**10
"""Bytes up to which a file is small; a larger one gains nothing here."""
_FEW = 2_000  # rows of a file that is checked together with others
_APART = 10**12  # between the row numbers of two files; no file has more rows
_LEFT = "left out "
Outcome = Reading | InputFileError | OSError


def read_together(
    paths: Sequence[Path],
    layout: Layout,
    zone: ZoneInfo,
    mappings: Sequence[Mapping],
    habits: Habits = ASKED,
) -> list[Outcome]:
    """Read files of one table.

    Args:
        paths: The files, small ones.
        layout: The table they belong to.
        zone: The workspace's time zone.
        mappings: Those of the workspace.
        habits: What the settings say of tables of our own that cannot tell how they are written.

    Returns:
        For each file, in their order, what ``read_file`` returns, or the error that it raises.
    """
    found = _plain_tables(paths, layout, mappings)
    failed: dict[int, InputFileError | OSError] = {}
    for place, path in enumerate(paths):
        if place not in found:
            try:
                found[place] = raw_file(path, layout, mappings, habits)
            except (InputFileError, OSError) as error:
                failed[place] = error
    some = {place: found[place] for place in sorted(found)}
    checked = _checked_at_once(
        {place: table for place, table in some.items() if not table.rejects and 0 < table.frame.height <= _FEW},
        layout,
        zone,
    )
    done: list[Outcome] = []
    for place, path in enumerate(paths):
        if place in failed:
            done.append(failed[place])
            continue
        try:
            reading = checked[place] if place in checked else check_table(some[place], layout, zone)
            done.append(accounted(path, reading))
        except InputFileError as error:
            done.append(error)
    return done


def _checked_at_once(tables: dict[int, RawTable], layout: Layout, zone: ZoneInfo) -> dict[int, Reading]:
    """Check tables as one; those in which a cell was refused or a list has a gap are left out."""
    left = [*tables]
    while left:
        frames = [tables[place].frame for place in left]
        numbers = pl.Series(left, dtype=pl.Int64).repeat_by(pl.Series(frame.height for frame in frames)).explode()
        joined = pl.concat(frames, how="diagonal").with_columns(pl.col("row") + numbers * _APART)
        rows, rejects, notes = check_cells(joined, layout, zone)
        gaps = rows.filter(pl.col("complete") == "false") if "complete" in rows.columns else rows.clear()
        odd = {row // _APART for row in [*rejects["row"], *gaps["row"]]}
        if not odd:
            return _apart(tables, left, rows.with_columns(pl.col("row") % _APART), layout, bool(notes))
        left = [place for place in left if place not in odd]
    return {}


def _apart(
    tables: dict[int, RawTable], places: Sequence[int], rows: pl.DataFrame, layout: Layout, noted: bool
) -> dict[int, Reading]:
    """Give each table its own rows again, and its own notes; not one row was refused."""
    refused = pl.DataFrame(schema=REJECTS)
    heights = [tables[place].frame.height for place in places]
    done = {}
    for place, height, end in zip(places, heights, accumulate(heights), strict=True):
        table, own = tables[place], rows[end - height : end]
        notes = vin_notes(table.frame, own) if noted else []
        done[place] = reading_of(table, own, refused, notes, layout)
    return done


@dataclass
class _Plain:
    """Files of one header: what it says, and the cells of their rows.

    Attributes:
        known: Columns of the layout, with their places.
        width: How many cells a row has.
        notes: What there is to say of the header.
        files: The files' places, with how many rows each has.
        cells: The rows of all of them.
    """

    known: dict[str, int]
    width: int
    notes: list[str]
    files: dict[int, int] = field(default_factory=dict)
    cells: list[list[str]] = field(default_factory=list)


def _plain_tables(paths: Sequence[Path], layout: Layout, mappings: Sequence[Mapping]) -> dict[int, RawTable]:
    """Split the files that are in our own layout without any oddity: commas, UTF-8, no quotation marks, even rows."""
    own = [mapping for mapping in mappings if mapping.table == layout.name]
    headers: dict[str, _Plain | None] = {}
    for place, path in enumerate(paths):
        if path.suffix.lower() != ".csv" or any(mapping.serves_name(path.name) for mapping in own):
            continue
        header, _, body = _plain_text(path).partition("\n")
        if header not in headers:
            headers[header] = _plain_header(path, header, layout)
        plain, lines = headers[header], body.removesuffix("\n").split("\n")
        cells = [line.split(",") for line in lines]
        if plain is not None and len(lines) <= _FEW and all(len(row) == plain.width for row in cells):
            plain.files[place] = len(cells)
            plain.cells += cells
    return {
        place: table
        for plain in headers.values()
        if plain is not None and plain.files
        for place, table in _tables_of(plain, layout).items()
    }


def _plain_text(path: Path) -> str:
    """Return a file's text; blank where it is not plain, or cannot be read: ``read_file`` says why."""
    try:
        content = path.read_bytes()
        text = "" if b'"' in content or b"\0" in content else content.decode("utf-8-sig")
    except (OSError, UnicodeDecodeError):
        return ""
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _plain_header(path: Path, header: str, layout: Layout) -> _Plain | None:
    if not header or mark_of(header) != ",":
        return None
    notes: list[str] = []
    try:
        names = check_names(path, header, ",")
        known = match_header(path, names, layout, notes)
    except InputFileError:
        return None
    return _Plain(known, len(names), notes) if len(names) > 1 else None


def _tables_of(plain: _Plain, layout: Layout) -> dict[int, RawTable]:
    """Make a table of each file; those are left out in which a date or an unknown column has to be looked at."""
    unknown = [place for place in range(plain.width) if place not in plain.known.values()]
    others = {f"{_LEFT}{place}": place for place in unknown} if layout.name == "scans" else {}
    columns = {name: [row[at] for row in plain.cells] for name, at in (plain.known | others).items()}
    numbers = [place * _APART + row for place, height in plain.files.items() for row in range(2, height + 2)]
    schema = {"row": pl.Int64, **dict.fromkeys(columns, pl.String)}
    frame = pl.DataFrame({"row": numbers, **columns}, schema=schema)
    kept = tidy(frame.select("row", *plain.known))
    odd = kept.filter(dated_otherwise(layout, kept.columns))["row"].to_list()
    if others:
        odd += frame.filter(pl.any_horizontal(pl.col(*others).str.contains(LIKE_A_CODE)))["row"].to_list()
    left_out = {row // _APART for row in odd}
    heights = kept.group_by(pl.col("row") // _APART, maintain_order=True).len()
    kept = kept.with_columns(pl.col("row") % _APART)
    tables = {}
    for (place, height), end in zip(heights.iter_rows(), accumulate(heights["len"]), strict=True):
        if place not in left_out:
            found = Found(columns=(len(plain.known), plain.width))
            tables[place] = RawTable(kept[end - height : end], [], [*plain.notes], found)
    return tables
