"""Reads one file as the weekly run would and says what would be taken and refused; loads nothing.

It is the weekly run's own first step, with every cast that a later one does: what it
takes, the week loads.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import polars as pl

from analysis.vocabulary.codes import read_code
from pipelines.errors import InputFileError, refused, shell_command
from pipelines.reading.drafting.guessing import Source, guess_columns
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import FOLDER, load_mapping, load_mappings
from pipelines.reading.read_table import Reading, guess_layout, nearest_layout
from pipelines.reading.recognise import choose, read_file, read_mapped
from pipelines.settings import Settings

FIRST = 10
"""Rows that are shown of a file."""


@dataclass(frozen=True)
class FileCheck:
    """What ``check`` found in one file; nothing is loaded.

    Attributes:
        path: The file.
        table: The layout it was read as, or None where none fits.
        rows_read: Rows found.
        rows_taken: Rows that would be loaded, those among them whose code is no code: they tell that a module was read.
        rejects: ``row``, ``column``, ``value``, ``why``: the cells that would be refused, such codes among them.
        notes: What else the reader noticed.
        account: What became of everything in the file, in words; blank where there is nothing to say.
        refused: Why the whole file would be refused, or None.
        first: The first rows as they were read, ``FIRST`` at most.
        whole: Every text that looks like a code came into a row that is kept.
    """

    path: Path
    table: str | None
    rows_read: int
    rows_taken: int
    rejects: pl.DataFrame
    notes: tuple[str, ...]
    refused: str | None
    account: str = ""
    first: pl.DataFrame = field(default_factory=pl.DataFrame)
    whole: bool = True


def check_file(path: Path, settings: Settings, table: str | None = None, mapping: Path | None = None) -> FileCheck:
    """Read one file as ``weekly`` would and say what would be taken and refused.

    Args:
        path: The file.
        settings: For the time zone of local times.
        table: The layout to read it as; None guesses from the folder's name, a mapping that fits, or the header.
        mapping: A mapping file to read it by, whatever its name; None: those of the workspace the file lies in.

    Returns:
        The findings; ``refused`` is filled where nothing could be read.
    """
    empty = pl.DataFrame(schema={"row": pl.Int64, "column": pl.String, "value": pl.String, "why": pl.String})
    if not path.is_file():
        found = "is a folder" if path.is_dir() else "is a device or a pipe" if path.exists() else "is not there"
        return FileCheck(path, None, 0, 0, empty, (), f"{path} {found}; expected a file to look at")
    by = load_mapping(mapping) if mapping else None
    name = by.table if by else table
    mappings = load_mappings(_workspace_of(path)) if mapping is None else []
    try:
        fits = None if name else choose(path, mappings)
        name = name or (fits.table if fits else None) or guess_layout(path)
        if name is None:
            return FileCheck(path, None, 0, 0, empty, (), _unlike(path))
        if by is not None:
            reading = read_mapped(path, by, settings.zone)
        else:
            reading = read_file(path, LAYOUTS[name], settings.zone, mappings, settings.habits)
    except InputFileError as error:
        return FileCheck(path, name, 0, 0, empty, (), str(error))
    except OSError as error:
        return FileCheck(path, name, 0, 0, empty, (), refused(path, error))
    return found_in(path, name, reading)


def found_in(path: Path, table: str, reading: Reading) -> FileCheck:
    """Return what there is to say of a file that was read.

    Args:
        path: The file.
        table: The layout it was read as.
        reading: Its rows and its refused ones.
    """
    codes = _refused_codes(reading)
    rejects = pl.concat([reading.rejects, codes]).sort("row", "column", nulls_last=False)
    return FileCheck(
        path,
        table,
        reading.rows_read,
        reading.rows.height,
        rejects,
        tuple(reading.notes),
        None,
        reading.account.sentence(),
        reading.rows.head(FIRST),
        reading.account.whole,
    )


def _unlike(path: Path) -> str:
    """Say which table a file looks like most, and what it lacks for it; where it looks like none, say that."""
    by_mapping = f"or let '{shell_command('map', path)}' draft a mapping"
    near = nearest_layout(path)
    if near is None:
        return f"{path}: fits none of the tables {', '.join(LAYOUTS)}; name one with --table, {by_mapping}"
    table, missing, names = near
    ends = ("s", "are") if len(missing) > 1 else ("", "is")
    lacks = f"the column{ends[0]} {' and '.join(missing)} {ends[1]} missing"
    offered = "".join(
        f"; {guess.source!r} may be {guess.column}"
        for guess in guess_columns([Source(name, ()) for name in names if name], table, lambda _: False)
        if guess.source.strip().lower() != guess.column
    )
    return f"{path}: looks like {table}; {lacks}. It has {', '.join(names)}{offered}. Name the columns so, {by_mapping}"


def _workspace_of(path: Path) -> Path:
    """Return the nearest folder above a file that looks like a workspace, else the working folder."""
    homes = path.resolve().parents
    return next((home for home in homes if (home / "inbox").is_dir() or (home / FOLDER).is_dir()), Path())


def _refused_codes(reading: Reading) -> pl.DataFrame:
    """Return the rows whose code is no code, as the week's rejects name them."""
    columns = {"row": pl.Int64, "column": pl.String, "value": pl.String, "why": pl.String}
    if "code" not in reading.rows.columns:
        return pl.DataFrame(schema=columns)
    named = reading.rows.filter(pl.col("code").is_not_null())
    kinds = "failure_type" if "failure_type" in named.columns else None
    why: dict[tuple[str, str | None], str | None] = {}
    bad = []
    for row, code, kind in named.select("row", "code", pl.col(kinds) if kinds else pl.lit(None)).iter_rows():
        if (code, kind) not in why:
            why[code, kind] = read_code(code, kind).why
        if why[code, kind]:
            bad.append((row, "code", code, f"{why[code, kind]}. The row counts as read, without a code"))
    return pl.DataFrame(bad, schema=columns, orient="row")
