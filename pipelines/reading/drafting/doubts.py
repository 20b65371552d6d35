"""Does a draft read all that its file holds?  What it tells of codes and of cars is counted against its rows.

A question can only be asked of what was noticed; what a draft passes over in silence shows here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from collections.abc import Mapping as Mapping_
from itertools import islice
from pathlib import Path

from pipelines.errors import InputFileError
from pipelines.reading.drafting.date_guesses import looks_like_date
from pipelines.reading.drafting.scan_lines import DATE, fields
from pipelines.reading.drafting.sniffing import guess_named, header_row_of
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.letters import letter_text
from pipelines.reading.mapping.mapping_file import Mapping
from pipelines.reading.mapping.packed import is_packed, unpacked
from pipelines.reading.mapping.workbook_reader import sheet_names, sheet_rows
from pipelines.reading.read_table import Reading
from pipelines.reading.recognise import text_of
from pipelines.reading.source import encoding_of

_VIN = re.compile(r"(?<![A-Za-z0-9])(?=[A-Z0-9]*\d)(?=[A-Z0-9]*[A-Z])[A-HJ-NPR-Z0-9]{17}(?![A-Za-z0-9])")
_SHOWN, _FEWEST, _LOOKED = 3, 3, 100
_TABLES = (".csv", ".tsv", ".xlsx", ".ods", ".json", ".jsonl", ".xml", ".htm", ".html")


def doubts_of(path: Path, mapping: Mapping, reading: Reading) -> list[str]:
    """Return in words what a file holds and its reading has not; none where everything that is counted came through.

    Args:
        path: The file.
        mapping: The draft, as a mapping.
        reading: What it reads.

    Raises:
        OSError: It cannot be opened.
    """
    found = []
    if reading.account.codes_left:
        found.append(reading.account.sentence())
    text = "\n".join(_texts(path, mapping.encoding))
    vins = {*_VIN.findall(text)}
    read = _cells(reading, "vin") | _cells(reading, "vehicle")
    refused = {value or "" for value in reading.rejects["value"].to_list()}
    lost = sorted(vins - read - refused)
    if lost and "vin" in reading.rows.columns and vins & read:
        found.append(
            f"{len(vins) - len(lost)} of {len(vins)} vehicle numbers came into a row (not {', '.join(lost[:_SHOWN])})"
        )
    parts = _other_tables(path, reading)
    if parts:
        found.append(f"of another kind, each to be mapped by itself: {', '.join(parts)}")
    if mapping.table == "scans" and mapping.format in ("text", "pdf"):
        found += _lost_days(text, reading)
    return found


def _other_tables(path: Path, reading: Reading) -> list[str]:
    """Return the unread sheets of a workbook, or files of a zip, that look like tables of ours."""
    unread = reading.account.unread
    if not unread:
        return []
    if is_packed(path):
        return [name for name in unread if Path(name).suffix.lower() in _TABLES]
    try:
        sheets = {name: dict(islice(sheet_rows(path, name), _LOOKED)) for name in unread if name in sheet_names(path)}
    except InputFileError:
        return []
    found = []
    read = {name for name in sheet_names(path) if name not in unread}
    for name, rows in sheets.items():
        if _is_index(rows, read):
            continue
        header = header_row_of(rows)
        names = [cell for cell in rows.get(header or 0, ()) if cell.strip()]
        if len(rows) > _FEWEST and max((len(guess_named(names, table)) for table in LAYOUTS), default=0) >= _FEWEST:
            found.append(name)
    return found


def _is_index(rows: Mapping_[int, Sequence[str]], sheets: set[str]) -> bool:
    """Say whether rows list the other sheets, one a row, and tell no day of any: an index of the workbook."""
    cells = [{cell.strip() for cell in row} for row in rows.values()]
    listed = {cell for row in cells for cell in row} & sheets
    return (
        len(listed) > 1
        and listed == sheets
        and not any(looks_like_date(cell) for row in cells for cell in row if cell not in sheets)
    )


def _lost_days(text: str, reading: Reading) -> list[str]:
    """Say where a printed text tells more days of scans than its rows have."""
    days = {
        line[field.start : field.end]
        for line in text.split("\n")
        for field in fields(line)
        if field.column == "scanned_at"
    }
    days = {match[0] for day in days if (match := DATE.search(day))}
    read = {moment[:10] for moment in _cells(reading, "scanned_at")}
    plain = {re.split(r"[ T,]\s*\d{1,2}[:h.]", day)[0] for day in days}
    return [f"the text tells {len(plain)} days, and {len(read)} came into rows"] if len(plain) > len(read) + 1 else []


def _cells(reading: Reading, name: str) -> set[str]:
    return {*reading.rows[name].drop_nulls().to_list()} if name in reading.rows.columns else set()


def _texts(path: Path, encoding: str) -> Iterator[str]:
    """Yield what can be read of a file as plain text."""
    try:
        if is_packed(path):
            with unpacked(path) as members:
                for _, member in members:
                    yield from _texts(member, encoding_of(member.read_bytes()))
        elif path.read_bytes()[:2] == b"PK" and letter_text(path) is None:
            for sheet in sheet_names(path):
                yield from ("\t".join(cells) for _, cells in sheet_rows(path, sheet))
        else:
            yield text_of(path, encoding)
    except InputFileError:
        return  # the reading itself says so
