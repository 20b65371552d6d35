"""Which mapping, or which layout of our own, reads a file?

A mapping reads a file whose name it serves, whose beginning holds its signature
and whose header has its columns.  Of two that fit, the one that names all columns of the other and more reads it, and
of two for printed text the one whose first pattern stands in it; else they are one too many, and neither is guessed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl

from pipelines.errors import InputFileError, UnansweredError
from pipelines.habits import ASKED, Habits
from pipelines.reading.account import FULL_OF_CODES, NOT_ALL, Found, codes_in
from pipelines.reading.layouts import Layout
from pipelines.reading.mapping.html_tables import Page, looks_like_html
from pipelines.reading.mapping.letters import letter_text
from pipelines.reading.mapping.mapped_json import read_mapped_json
from pipelines.reading.mapping.mapped_tables import (
    PART_ROWS,
    first_cells,
    has_header,
    lacking,
    read_mapped_columns,
    read_mapped_html,
    read_mapped_sheets,
    read_mapped_table,
    read_named_values,
    sheets_with_columns,
    split_header,
)
from pipelines.reading.mapping.mapping_file import Mapping
from pipelines.reading.mapping.marked_text import without_marks
from pipelines.reading.mapping.packed import is_packed, unpacked
from pipelines.reading.mapping.pdf_text import read_pdf
from pipelines.reading.mapping.printed_text import read_printed, without_branches, without_leaders
from pipelines.reading.mapping.table_surroundings import named
from pipelines.reading.mapping.translating import to_layout
from pipelines.reading.mapping.years import with_year
from pipelines.reading.read_table import SUFFIXES, Reading, check_table, guess_layout, split_table
from pipelines.reading.source import encoding_of, read_text
from pipelines.reading.tabular.raw_table import RawTable, Reject

_LOOK = 65_536
_ROWS = 20
_MOST_NOTES = 20


def read_file(
    path: Path, layout: Layout, zone: ZoneInfo, mappings: Sequence[Mapping], habits: Habits = ASKED
) -> Reading:
    """Read one file by the mapping that fits it, else as the layout.

    Args:
        path: The file.
        layout: The table it belongs to; mappings of other tables are passed over.
        zone: The workspace's time zone.
        mappings: Those of the workspace.
        habits: What the settings say of tables of our own that cannot tell how they are written.

    Returns:
        Its good rows and its refused ones; the notes name the mapping, and say where texts that look like a code were
        not read.

    Raises:
        UnansweredError: Nothing in it can decide how it is meant; it waits for an answer.
        InputFileError: It cannot be read at all, or is full of codes and none was read; the message says what was found
            and what was wanted.
        OSError: It cannot be opened.
    """
    return accounted(path, check_table(raw_file(path, layout, mappings, habits), layout, zone))


def raw_file(path: Path, layout: Layout, mappings: Sequence[Mapping], habits: Habits = ASKED) -> RawTable:
    """Split one file into rows of the layout's cells, which are not checked yet; the first half of ``read_file``.

    Raises:
        UnansweredError: Nothing in it can decide how it is meant.
        InputFileError: It cannot be read at all.
        OSError: It cannot be opened.
    """
    mapping = choose(path, [mapping for mapping in mappings if mapping.table == layout.name])
    if mapping is not None:
        return _by_mapping(path, mapping)
    try:
        return split_table(path, layout, habits)
    except UnansweredError:
        raise
    except InputFileError as error:
        raise InputFileError(f"{error} No mapping fits it either; 'knockon map FILE' drafts one.") from error


def read_mapped(path: Path, mapping: Mapping, zone: ZoneInfo) -> Reading:
    """Read one file by a mapping; its rows are checked like those of any other file.

    Raises:
        InputFileError: It cannot be read so, or is full of codes and none was read.
        OSError: It cannot be opened.
    """
    return accounted(path, check_table(_by_mapping(path, mapping), mapping.layout, zone))


def _by_mapping(path: Path, mapping: Mapping) -> RawTable:
    found = _packed_table(path, mapping) if is_packed(path) else _raw_table(path, mapping, path.name)
    found.notes.insert(0, f"read by {mapping.name}")
    table = to_layout(found, mapping)
    headed = mapping.layout.headed
    if headed and not any(name in table.frame.columns for name in headed):
        raise InputFileError(
            f"{path}: {mapping.name} says of no column that it is code, so every module would count as read and "
            "without a code; expected columns.code, or a pattern that takes it. The file was not loaded."
        )
    return table


def accounted(path: Path, reading: Reading) -> Reading:
    """Say what was not read; refuse a file that is full of codes and gave no row.

    Raises:
        InputFileError: It is one.
    """
    account = reading.account
    if account.codes >= FULL_OF_CODES and reading.rows.is_empty():
        first = next(iter(reading.rejects.iter_rows()), None)
        why = f" The first refused row is {first[0]}, {first[1] or 'the whole row'}: {first[3]}." if first else ""
        raise InputFileError(
            f"{path}: found {account.codes} texts that look like a code, and not one row could be read.{why} "
            "The file was not loaded."
        )
    if account.codes >= FULL_OF_CODES and "code" in reading.rows.columns and not reading.rows["code"].count():
        raise InputFileError(
            f"{path}: found {account.codes} texts that look like a code ({', '.join(account.shown)}), and no row has "
            "one in its column code. The file was not loaded."
        )
    if account.codes_left or account.unread:
        reading.notes.append(NOT_ALL + account.sentence())
    return reading


def text_of(path: Path, encoding: str) -> str:
    """Return the text of a text file, of a PDF, or of an HTML page without its marks.

    Raises:
        InputFileError: It cannot be read so.
        OSError: It cannot be opened.
    """
    with path.open("rb") as handle:
        if handle.read(1024).lstrip().startswith(b"%PDF-"):
            return read_pdf(path)
    text = _text_or_letter(path, encoding)
    return "\n".join(Page(text).lines) if looks_like_html(text) else without_marks(text)


def _text_for(path: Path, mapping: Mapping) -> str:
    """Return the text of a file as a mapping reads it, with the year that it gives to days without one."""
    text = read_pdf(path) if mapping.format == "pdf" else text_of(path, mapping.encoding)
    return text if mapping.year is None else with_year(text, mapping.year)


def _named_text(path: Path, mapping: Mapping) -> str:
    text = _text_for(path, mapping)
    return without_leaders(text) if mapping.format == "records" else text


def _text_or_letter(path: Path, encoding: str) -> str:
    """Return the text of a file, with the marks of a page; of a document or mail what it prints."""
    letter = letter_text(path)
    return read_text(path, encoding) if letter is None else letter


def _raw_table(path: Path, mapping: Mapping, name: str) -> RawTable:
    """Read one file by the reader of the mapping's format, and add what its name tells."""
    table = _read_format(path, mapping)
    if mapping.file_name is None:
        return table
    told = named(name, mapping.file_name)
    if not told:
        raise InputFileError(
            f"{path}: the file's name does not fit the pattern names.file of {mapping.name}, {mapping.file_name}; "
            "expected a name that tells what the rows do not. The file was not loaded."
        )
    for column, text in told.items():
        own = pl.col(column) if column in table.frame.columns else pl.lit(None, pl.String)
        filled = pl.when(own.str.strip_chars() != "").then(own).otherwise(pl.lit(text)).alias(column)
        table.frame = table.frame.with_columns(filled)
    return table


def _read_format(path: Path, mapping: Mapping) -> RawTable:
    if mapping.format == "table":
        return read_mapped_table(path, mapping)
    if mapping.format == "xlsx":
        return read_mapped_sheets(path, mapping)
    if mapping.format in ("json", "jsonl", "xml"):
        return read_mapped_json(path, mapping)
    if mapping.format in ("pairs", "records", "lines"):
        return read_named_values(path, _named_text(path, mapping), mapping)
    if mapping.format == "html":
        return read_mapped_html(path, _text_or_letter(path, mapping.encoding), mapping)
    text = without_branches(_text_for(path, mapping))
    return read_mapped_columns(path, text, mapping) if mapping.format == "fixed" else read_printed(path, text, mapping)


def _packed_table(path: Path, mapping: Mapping) -> RawTable:
    """Read every file of a zip that a mapping can read, as one table; the others are counted and named."""
    found = Found(Counter(), part="file")
    notes: list[str] = []
    rejects: list[Reject] = []
    frames: list[pl.DataFrame] = []
    first: InputFileError | None = None
    with unpacked(path) as members:
        found.parts = 0, len(members)
        for place, (name, member) in enumerate(members):
            assert found.codes is not None
            try:
                table = _raw_table(member, mapping, name.rsplit("/", 1)[-1])
            except InputFileError as error:
                first = first or InputFileError(str(error).replace(str(member), f"{path}: {name}"))
                found.unread.append(name)
                found.codes += codes_in([_bare_text(member)])
                continue
            start = place * PART_ROWS
            frames.append(table.frame.with_columns(pl.col("row") + start))
            rejects += [
                (None if row is None else row + start, column, value, why) for row, column, value, why in table.rejects
            ]
            notes += table.notes
            if start:
                notes.append(f"rows of the file {name!r} are numbered from {start + 1}")
            found.parts = found.parts[0] + 1, found.parts[1]
            if table.found is not None and table.found.codes is not None:
                found.codes += table.found.codes
                found.columns = table.found.columns
    if not frames:
        raise first or InputFileError(f"{path}: the zip holds no files. The file was not loaded.")
    if len(notes) > _MOST_NOTES:
        notes[_MOST_NOTES:] = [f"{len(notes) - _MOST_NOTES} more notes on files of the zip"]
    return RawTable(pl.concat(frames, how="diagonal"), rejects, notes, found)


def _bare_text(path: Path) -> str:
    """Return what can be read of a file as plain text, to look for codes in it."""
    try:
        return text_of(path, encoding_of(path.read_bytes()))
    except InputFileError:
        return ""


def table_of(path: Path, mappings: Sequence[Mapping]) -> str | None:
    """Return the table that a file holds, whatever its folder: by the one mapping that fits, else by its header.

    Raises:
        OSError: It cannot be opened.
    """
    try:
        mapping = choose(path, mappings)
    except InputFileError:
        return None
    return mapping.table if mapping is not None else guess_layout(path, by_folder=False)


def choose(path: Path, mappings: Sequence[Mapping]) -> Mapping | None:
    """Return the mapping that reads a file, or None where none does.

    Raises:
        InputFileError: Two fit, or the only one that serves the file cannot read it and no layout does.
        OSError: It cannot be opened.
    """
    serving = _serving(path, mappings)
    fitting = _closest(path, [mapping for mapping in serving if _has_columns(path, mapping)])
    if len(fitting) > 1:
        raise InputFileError(
            f"{path}: fits {' and '.join(mapping.name for mapping in fitting)}; expected one. Give each a signature, "
            "or narrower file patterns. The file was not loaded."
        )
    if fitting:
        return fitting[0]
    # The folder's name would decide what it is; here the header must.
    own = path.suffix.lower() in SUFFIXES and serving and guess_layout(path, by_folder=False) == serving[0].table
    return None if own or not serving else serving[0]


def rivals(path: Path, mappings: Sequence[Mapping], mapping: Mapping) -> list[Mapping]:
    """Return the mappings that would keep another one from reading a file: those that fit it as well or better.

    Raises:
        OSError: It cannot be opened.
    """
    others = [other for other in _serving(path, mappings) if _has_columns(path, other)]
    return [other for other in others if _closest(path, [mapping, other]) != [mapping]]


def _serving(path: Path, mappings: Sequence[Mapping]) -> list[Mapping]:
    return [mapping for mapping in mappings if mapping.serves_name(path.name) and _has_signature(path, mapping)]


def _closest(path: Path, fitting: list[Mapping]) -> list[Mapping]:
    """Return of several mappings that fit a file those that fit it best."""
    if len(fitting) < 2:
        return fitting
    fitting = [mapping for mapping in fitting if _begins_scan(path, mapping)] or fitting
    names = {mapping.name: {*mapping.source_names()} for mapping in fitting}

    def yields(one: Mapping) -> bool:
        bare = [other for other in fitting if one.signature in (None, other.signature)]
        return any(names[one.name] < names[other.name] for other in bare)

    return [mapping for mapping in fitting if not yields(mapping)]


def _begins_scan(path: Path, mapping: Mapping) -> bool:
    """Say whether a line of a printed text begins a scan; what is no printed text may always."""
    if mapping.text is None or is_packed(path):
        return True
    try:
        lines = pl.Series(_text_for(path, mapping).split("\n"))
    except InputFileError:
        return False
    return bool(lines.str.contains(mapping.text.scan[0]).any())


def _has_signature(path: Path, mapping: Mapping) -> bool:
    if mapping.signature is None:
        return True
    try:
        if is_packed(path):
            with unpacked(path) as members:
                return any(_has_signature(member, mapping) for _, member in members)
        if mapping.format == "xlsx":
            return any(mapping.signature in cell for cell in first_cells(path, mapping, _ROWS))
        if mapping.format in ("text", "fixed", "pdf"):
            return mapping.signature in text_of(path, mapping.encoding)
        return mapping.signature in beginning(path, mapping.encoding)
    except InputFileError:
        return False


def _has_columns(path: Path, mapping: Mapping) -> bool:
    """Say whether the file's header has the mapping's columns; formats without a header fit."""
    try:
        if is_packed(path):
            with unpacked(path) as members:
                return any(_has_columns(member, mapping) for _, member in members)
        if mapping.format == "table":
            return _has_header(path, beginning(path, mapping.encoding).split("\n"), mapping)
        if mapping.format == "xlsx":
            return bool(sheets_with_columns(path, mapping))
        if mapping.format == "html":
            page = Page(_text_or_letter(path, mapping.encoding))
            return any(not lacking(row, mapping) for table in page.tables for row in table)
    except (InputFileError, pl.exceptions.PolarsError):
        return False
    return True


def _has_header(path: Path, lines: list[str], mapping: Mapping) -> bool:
    if mapping.above:
        return has_header(lines, mapping)
    lines = lines[: mapping.header_row]
    return len(lines) == mapping.header_row and not lacking(split_header(path, lines[-1], mapping), mapping)


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
