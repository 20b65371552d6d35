"""Look at an unknown export and draft the mapping that would read it.

What the file is, how its text is encoded, where its header stands and which of its
columns is which are guesses; each comes with its reason, for the user to mend.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from itertools import islice
from pathlib import Path

from pipelines.errors import InputFileError
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.draft_columns import draft_columns
from pipelines.reading.drafting.draft_text import draft_text
from pipelines.reading.drafting.sniffing import (
    MOST_LINES,
    delimiter_of,
    documents_of,
    encoding_of,
    header_row_of,
    paths_of,
)
from pipelines.reading.mapping.pdf_text import read_pdf
from pipelines.reading.mapping.workbook_reader import sheet_names, sheet_rows
from pipelines.reading.source import read_bytes, read_text

_MOST_COLUMNS = 200
_LONGEST_LINE = 10_000
IsModule = Callable[[str], bool]


def draft_mapping(path: Path, is_module: IsModule) -> Draft:
    """Draft the mapping of one file.

    Args:
        path: The file.
        is_module: Whether the vocabulary knows a text as a module.

    Returns:
        The draft; it may lack what could not be guessed, and says so in comments.

    Raises:
        InputFileError: The file cannot be read at all.
        OSError: It cannot be opened.
    """
    content = read_bytes(path)
    draft = Draft()
    ending = path.suffix.lower() or path.name.lower()
    draft.put("serves", [f"*{ending}"], f"files that end as {path.name!r} does; make it narrower where others do too")
    if content.startswith(b"PK"):
        _draft_workbook(draft, path, is_module)
    elif content.lstrip().startswith(b"%PDF-"):
        draft.put("format", "pdf", "it begins as a PDF does")
        draft_text(draft, read_pdf(path).split("\n")[:MOST_LINES], is_module)
    else:
        encoding = encoding_of(content)
        _draft_text_file(draft, read_text(path, encoding), encoding, is_module)
    return draft


def _draft_workbook(draft: Draft, path: Path, is_module: IsModule) -> None:
    draft.put("format", "xlsx", "it is a workbook")
    for sheet in sheet_names(path):
        rows = dict(islice(sheet_rows(path, sheet), MOST_LINES))
        header_row = header_row_of(rows)
        if header_row is not None:
            draft.put("sheet", sheet, "the first sheet with a row of column names")
            _draft_rows(draft, rows, header_row, is_module)
            return
    raise InputFileError(f"{path}: no sheet has a row that could be a header of column names.")


def _draft_text_file(draft: Draft, text: str, encoding: str, is_module: IsModule) -> None:
    lines = [line[:_LONGEST_LINE] for line in text.split("\n", MOST_LINES)[:MOST_LINES]]
    documents = documents_of(text, lines)
    delimiter = None if documents else delimiter_of(lines)
    form = ("json" if len(documents) == 1 else "jsonl") if documents else ("table" if delimiter else "text")
    why = {"json": "it is one JSON document", "jsonl": "each line is JSON", "text": "no header of a table was found"}
    draft.put("format", form, why.get(form, f"most lines are cut alike by {delimiter!r}"))
    if encoding != "utf-8":
        draft.put("encoding", encoding, "the bytes are no UTF-8" if encoding == "cp1252" else "it is marked so")
    if documents:
        draft_columns(draft, paths_of(documents), is_module)
    elif delimiter is not None:
        draft.put("delimiter", delimiter)
        split = {number: _cells(line, delimiter) for number, line in enumerate(lines, 1)}
        rows = {number: cells for number, cells in split.items() if any(cells)}
        _draft_rows(draft, rows, header_row_of(rows) or 1, is_module)
    else:
        draft_text(draft, lines, is_module)


def _cells(line: str, delimiter: str) -> list[str]:
    try:
        return next(csv.reader(io.StringIO(line), delimiter=delimiter), [])
    except csv.Error:
        return []


def _draft_rows(draft: Draft, rows: dict[int, list[str]], header_row: int, is_module: IsModule) -> None:
    draft.put("header_row", header_row, "the first full row that holds names only")
    names = [name.strip() for name in rows.get(header_row, [])[:_MOST_COLUMNS]]
    below: Sequence[list[str]] = [cells for number, cells in rows.items() if number > header_row]
    columns = {name: [cells[at] if at < len(cells) else "" for cells in below] for at, name in enumerate(names) if name}
    draft_columns(draft, columns, is_module)
