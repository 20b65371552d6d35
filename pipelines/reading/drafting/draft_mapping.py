"""Look at an unknown export and draft the mapping that would read it.

What the file is, how its text is encoded, where its header stands and which of its
columns is which are guesses; each is a question with a proposal and its reason, and
what nothing in the file can decide is asked.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import islice
from pathlib import Path

from pipelines.errors import InputFileError
from pipelines.reading.account import codes_in
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.draft_columns import draft_columns
from pipelines.reading.drafting.draft_text import draft_text
from pipelines.reading.drafting.sniffing import (
    MOST_LINES,
    delimited_rows,
    delimiter_of,
    documents_of,
    guess_named,
    header_row_of,
    paths_of,
    table_of,
)
from pipelines.reading.drafting.words import MODULES, known_in
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.fixed_width import cells_of, columns_of, header_names, sections
from pipelines.reading.mapping.html_tables import Page, looks_like_html
from pipelines.reading.mapping.mapping_file import EVERY_SHEET
from pipelines.reading.mapping.packed import is_packed, unpacked
from pipelines.reading.mapping.pdf_text import read_pdf
from pipelines.reading.mapping.workbook_reader import hidden_rows, sheet_names, sheet_rows
from pipelines.reading.source import encoding_of, read_bytes, read_text

_MOST_COLUMNS = 200
_LONGEST_LINE = 10_000
_FEWEST_NAMES = 3
IsModule = Callable[[str], bool]


def draft_mapping(path: Path, is_module: IsModule, answers: Mapping[str, str] | None = None) -> Draft:
    """Draft the mapping of one file.

    Args:
        path: The file.
        is_module: Whether the vocabulary knows a text as a module.
        answers: What the user has answered so far, by the key of each question; they count before any guess.

    Returns:
        The draft; what could not be guessed stands in its open questions, and in comments.

    Raises:
        InputFileError: The file cannot be read at all.
        OSError: It cannot be opened.
    """
    draft = Draft(answers or {})
    ending = path.suffix.lower() or path.name.lower()
    draft.put("serves", [f"*{ending}"], f"files that end as {path.name!r} does; make it narrower where others do too")
    _draft_file(draft, path, lambda text: is_module(text) or known_in(MODULES, text) is not None)
    return draft


def _draft_file(draft: Draft, path: Path, is_module: IsModule) -> None:
    content = read_bytes(path)
    if is_packed(path):
        _draft_packed(draft, path, is_module)
    elif content.startswith(b"PK"):
        _draft_workbook(draft, path, is_module)
    elif content.lstrip().startswith(b"%PDF-"):
        _draft_lines(draft, read_pdf(path), is_module, "pdf")
    else:
        encoding = encoding_of(content)
        text = read_text(path, encoding)
        if encoding != "utf-8":
            why = "it is marked so" if encoding.startswith("utf-16") else "the bytes are no UTF-8"
            draft.put("encoding", encoding, why)
        _draft_text_file(draft, text, is_module)


def _draft_packed(draft: Draft, path: Path, is_module: IsModule) -> None:
    """Draft by the file of a zip in which most looks like a code."""
    with unpacked(path) as members:
        if not members:
            raise InputFileError(f"{path}: the zip holds no files.")
        coded = {name: codes_in([member.read_bytes().decode("latin-1")]).total() for name, member in members}
        name, member = max(members, key=lambda found: (coded[found[0]], found[1].stat().st_size))
        draft.reasons.append(f"it is a zip of {len(members)} files; each that is like {name!r} is read")
        _draft_file(draft, member, is_module)


def _draft_workbook(draft: Draft, path: Path, is_module: IsModule) -> None:
    draft.put("format", "xlsx", "it is a workbook")
    found: dict[str, tuple[int, dict[int, list[str]]]] = {}
    for sheet in sheet_names(path):
        rows = dict(islice(sheet_rows(path, sheet), MOST_LINES))
        header_row = header_row_of(rows)
        if header_row is not None:
            found[sheet] = header_row, rows
    if not found:
        raise InputFileError(f"{path}: no sheet has a row that could be a header of column names.")
    main = max(found, key=lambda name: (_told(found[name]), -list(found).index(name)))
    header = _names(found[main])
    alike = [name for name in found if _names(found[name]) == header and found[name][0] == found[main][0]]
    others = [name for name in sheet_names(path) if name not in alike]
    why = f"sheets {', '.join(alike)} have the same columns" if len(alike) > 1 else f"{main!r} has the columns"
    if others:
        why += f"; {', '.join(others)} {'have' if len(others) > 1 else 'has'} not"
    chosen = draft.ask(
        "sheet", "Which sheet (* for every one that has the columns)?", EVERY_SHEET, why, [EVERY_SHEET, *found]
    )
    main = chosen if chosen in found else main
    draft.put("sheet", chosen or EVERY_SHEET, why)
    hidden = sum(hidden_rows(path, name) for name in alike)
    if hidden:
        why = f"{hidden} rows are hidden, by a filter most likely, and are rows like the others"
        answer = draft.ask("hidden", "What becomes of hidden rows?", "read", why, ("read", "left out"))
        draft.put("hidden", answer or "read", why)
    header_row, rows = found[main]
    for name in alike:
        if name != main:
            extra = {
                number + MOST_LINES * 100: cells for number, cells in found[name][1].items() if number > found[name][0]
            }
            rows = rows | extra
    _draft_rows(draft, rows, header_row, is_module)


def _told(found: tuple[int, dict[int, list[str]]]) -> int:
    header_row, rows = found
    known = max(len(guess_named([name for name in rows[header_row] if name.strip()], table)) for table in LAYOUTS)
    return known * 10_000 + len(rows)


def _names(found: tuple[int, dict[int, list[str]]]) -> list[str]:
    return [name.strip() for name in found[1][found[0]]]


def _draft_text_file(draft: Draft, text: str, is_module: IsModule) -> None:
    lines = [line[:_LONGEST_LINE] for line in text.split("\n", MOST_LINES)[:MOST_LINES]]
    documents = documents_of(text, lines)
    if documents:
        form = "json" if len(documents) == 1 else "jsonl"
        draft.put("format", form, "it is one JSON document" if form == "json" else "each line is JSON")
        _draft_table(draft, paths_of(documents), is_module)
    elif looks_like_html(text):
        _draft_html(draft, text, is_module)
    elif (delimiter := delimiter_of(lines)) is not None:
        draft.put("format", "table", f"most lines are cut alike by {delimiter!r}")
        draft.put("delimiter", delimiter)
        rows = delimited_rows(text, delimiter)
        _draft_rows(draft, rows, header_row_of(rows) or 1, is_module)
    else:
        _draft_lines(draft, text, is_module, "text")


def _draft_html(draft: Draft, text: str, is_module: IsModule) -> None:
    page = Page(text)
    tables = [
        (header, dict(enumerate(rows, 1)))
        for rows in page.tables
        if (header := header_row_of(dict(enumerate(rows, 1))))
    ]
    good = [table for table in tables if table[0] and len(_known(table)) >= _FEWEST_NAMES]
    if good:
        draft.put("format", "html", "it is a page with a table that has known headings")
        header_row, rows = max(good, key=_told)
        _draft_rows(draft, rows, header_row, is_module, number=False)
    else:
        draft.put("format", "text", "it is a page without a table of known headings, so its lines are read")
        draft_text(draft, page.lines, is_module)


def _known(found: tuple[int, dict[int, list[str]]]) -> list[str]:
    return max((guess_named([name for name in _names(found) if name], table) for table in LAYOUTS), key=len)


def _draft_lines(draft: Draft, text: str, is_module: IsModule, form: str) -> None:
    """Draft a text as columns of a fixed width where a line of headings stands in it, else by patterns."""
    lines = text.replace("\f", "\n").split("\n", MOST_LINES)[:MOST_LINES]
    numbered = [(number, line.expandtabs()[:_LONGEST_LINE]) for number, line in enumerate(lines, 1)]
    for at, (_, line) in enumerate(numbered[:40]):
        below = [text for _, text in numbered[at + 1 : at + 200] if text.strip(" -=_+|")]
        names = header_names(line, below) if "  " in line.strip() and below else []
        found = max((guess_named(names, table) for table in LAYOUTS), key=len)
        if len(found) >= _FEWEST_NAMES and len(found) >= 0.5 * len(names):
            rows: dict[int, list[str]] = {}
            for _, section in sections(numbered, names):
                columns = columns_of(section[0][1], [text for _, text in section[1:]], names)
                rows |= {number: cells_of(text, columns) for number, text in section[bool(rows) :]}
            draft.put(
                "format", "fixed", f"the line {' '.join(line.split())!r} has headings, and blanks part what is below"
            )
            _draft_rows(draft, rows, min(rows), is_module, number=False)
            return
    why = "it begins as a PDF does" if form == "pdf" else "no header of a table was found"
    draft.put("format", form, why)
    draft_text(draft, lines, is_module)


def _draft_rows(
    draft: Draft, rows: dict[int, list[str]], header_row: int, is_module: IsModule, *, number: bool = True
) -> None:
    if number:
        draft.put("header_row", header_row, "the row in which most headings are known")
    names = [" ".join(name.split()) for name in rows.get(header_row, [])[:_MOST_COLUMNS]]
    below: Sequence[list[str]] = [cells for place, cells in rows.items() if place > header_row]
    columns = {name: [cells[at] if at < len(cells) else "" for cells in below] for at, name in enumerate(names) if name}
    _draft_table(draft, columns, is_module)


def _draft_table(draft: Draft, columns: Mapping[str, list[str]], is_module: IsModule) -> None:
    guess, why = table_of(dict(columns), is_module)
    table = draft.ask("table", "Which table do the rows belong to?", guess, why, tuple(LAYOUTS)) or guess
    if table != "scans":
        draft.put("table", table, why)
    draft_columns(draft, columns, table, is_module)
