"""Read delimited text as rows of cells, numbered as a spreadsheet shows them: the header is row 1.

Our own files have commas; a spreadsheet of another country writes semicolons, tabs or bars.
"""

from __future__ import annotations

from pathlib import Path

from pipelines.errors import InputFileError
from pipelines.habits import Habits
from pipelines.reading.account import Found, codes_of
from pipelines.reading.headers import match_header
from pipelines.reading.layouts import Layout
from pipelines.reading.source import read_any_text
from pipelines.reading.tabular.dialect import MARKS, check_names, in_our_spelling, mark_of
from pipelines.reading.tabular.raw_table import RawTable, tidy
from pipelines.reading.tabular.splitting import split_rows

_LONGEST_HEADER = 65_536


_SEPARATOR_LINE = "sep="
_LEFT = "left out "


def read_header(path: Path, text: str) -> tuple[list[str], str, int]:
    """Return the names of the header, the mark between them, and its row.

    Raises:
        InputFileError: The line is far too long, or its quotes are not closed.
    """
    ends = text.find("\n")
    line = text if ends < 0 else text[:ends]
    if len(line) > _LONGEST_HEADER:
        raise InputFileError(
            f"{path} line 1: found {len(line)} characters; expected a header of at most {_LONGEST_HEADER}. "
            "The file was not loaded."
        )
    if line.lower().startswith(_SEPARATOR_LINE) and line[len(_SEPARATOR_LINE) :].strip("\r ") in MARKS:
        mark = line[len(_SEPARATOR_LINE)]
        below = text[len(line) + 1 :].partition("\n")[0]
        return check_names(path, below, mark), mark, 2
    mark = mark_of(line)
    return check_names(path, line, mark), mark, 1


def read_delimited(path: Path, layout: Layout, habits: Habits) -> RawTable:
    """Read delimited text.

    Args:
        path: The file.
        layout: What it should be.
        habits: What the settings say where the file cannot tell how numbers and dates are written.

    Returns:
        Its rows and the rows that could not be split; the notes say which dialect was chosen, where it is not our own.

    Raises:
        UnansweredError: Nothing in the file can tell how its numbers or dates are meant.
        InputFileError: The file cannot be the layout at all.
    """
    text, encoding = read_any_text(path)
    notes: list[str] = []
    header, mark, row = read_header(path, text)
    known = match_header(path, header, layout, notes)
    body = 0
    for _ in range(row):
        body = text.find("\n", body) + 1 or len(text)
    text = text[body:]
    others = {f"{_LEFT}{place}": place for place in range(len(header)) if place not in known.values()}
    wanted = known | others if layout.name == "scans" else known
    frame, rejects = split_rows(text, len(header), wanted, mark, row + 1)
    found = Found(columns=(len(known), len(header)))
    for name in others.keys() & wanted.keys():
        found.left += codes_of(frame[name])
    table = tidy(frame.select("row", *known))
    table, chosen = in_our_spelling(path, table, layout, habits, mark)
    if (mark, encoding) != (",", "utf-8"):
        chosen.insert(0, f"read as {encoding} with {MARKS[mark]} between the cells, as the header tells")
    return RawTable(table, rejects, notes + chosen, found)
