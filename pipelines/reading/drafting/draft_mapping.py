"""Look at an unknown export and draft the mapping that would read it.

What the file is, how its text is encoded, where its header stands and which of its
columns is which are guesses; each is a question with a proposal and its reason, and
what nothing in the file can decide is asked.  Where a file can be read in several ways
(as a table, as lines), the first that leaves no column open is taken.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import islice, takewhile
from pathlib import Path

from pipelines.errors import InputFileError
from pipelines.reading.account import codes_in
from pipelines.reading.drafting.draft import Draft, literal
from pipelines.reading.drafting.draft_rows import Sample, card_of, draft_paths, draft_rows, sample_of
from pipelines.reading.drafting.guessing import Guess, Source, guess_columns, holds_code
from pipelines.reading.drafting.left_out import ask_modules
from pipelines.reading.drafting.listed_cars import ask_list, cars_in
from pipelines.reading.drafting.listed_jobs import jobs_in
from pipelines.reading.drafting.log_lines import cuts_of
from pipelines.reading.drafting.other_lists import NO_TABLE
from pipelines.reading.drafting.scan_lines import fields, is_job, is_labelled
from pipelines.reading.drafting.sniffing import (
    MOST_LINES,
    delimited_rows,
    documents_of,
    guess_named,
    paths_of,
)
from pipelines.reading.drafting.table_shape import delimiter_of
from pipelines.reading.drafting.unit_addresses import draft_printed
from pipelines.reading.drafting.words import Modules
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.cut_lines import rows_of
from pipelines.reading.mapping.fixed_width import cells_of, columns_of, header_names, sections, titles_of_pages
from pipelines.reading.mapping.html_tables import Page, looks_like_html
from pipelines.reading.mapping.letters import letter_text
from pipelines.reading.mapping.mapping_file import EVERY_SHEET
from pipelines.reading.mapping.marked_text import without_marks
from pipelines.reading.mapping.named_values import Row, grid_of, pairs_in, records_in
from pipelines.reading.mapping.packed import is_packed, unpacked
from pipelines.reading.mapping.pdf_text import read_pdf
from pipelines.reading.mapping.printed_text import without_branches
from pipelines.reading.mapping.reshaping import with_joined
from pipelines.reading.mapping.workbook_reader import hidden_rows, sheet_names, sheet_rows
from pipelines.reading.mapping.xml_tree import looks_like_xml, read_tree
from pipelines.reading.source import encoding_of, read_bytes, read_text

_LONGEST_LINE = 10_000
_FEWEST_NAMES, _FEWEST_CELLS = 3, 5
_MOST_MEMBERS, _MOST_PDFS, _MOST_ABOVE = 200, 20, 40


@dataclass(frozen=True)
class _Way:
    """One way to read a file: the format's name, why it may be so, and what drafts it."""

    form: str
    why: str
    draft: Callable[[Draft], None]


def draft_mapping(
    path: Path,
    is_module: Callable[[str], bool],
    answers: Mapping[str, str] | None = None,
    labour_rate: float | None = None,
    odometer_unit: str | None = None,
) -> Draft:
    """Draft the mapping of one file.

    Args:
        path: The file.
        is_module: Whether the vocabulary knows a text as a module.
        answers: What the user has answered so far, by the key of each question; they count before any guess.
        labour_rate: What an hour of work costs by the settings; None: it is asked where it is needed.
        odometer_unit: What a mileage counts whose file does not say it, by the settings; None: it is asked.

    Returns:
        The draft; what could not be guessed stands in its open questions, and in comments.

    Raises:
        InputFileError: The file cannot be read at all.
        OSError: It cannot be opened.
    """
    draft = Draft(answers or {}, labour_rate=labour_rate, odometer_unit=odometer_unit)
    ending = path.suffix.lower() or path.name.lower()
    draft.put("serves", [f"*{ending}"], f"files that end as {path.name!r} does; make it narrower where others do too")
    modules = Modules(is_module)
    return _packed(draft, path, modules) if is_packed(path) else _of_files(draft, [(path.name, path)], modules)


def _packed(draft: Draft, path: Path, is_module: Modules) -> Draft:
    """Draft by the files of a zip that end as the one in which most looks like a code."""
    with unpacked(path) as members:
        if not members:
            raise InputFileError(f"{path}: the zip holds no files.")
        coded = {name: codes_in([member.read_bytes().decode("latin-1")]).total() for name, member in members}
        name, main = max(members, key=lambda found: (coded[found[0]], found[1].stat().st_size))
        draft.reasons.append(f"it is a zip of {len(members)} files; each that is like {name!r} is read")
        alike = [found for found in members if found[1].suffix == main.suffix and found[1] != main]
        files = [(name, main), *sorted(alike, key=lambda found: -coded[found[0]])[:_MOST_MEMBERS]]
        return _of_files(draft, [(name.rsplit("/", 1)[-1], member) for name, member in files], is_module)


def _of_files(draft: Draft, files: Sequence[tuple[str, Path]], is_module: Modules) -> Draft:
    """Draft by one file, or by several that are alike, the first being the one that counts."""
    path = files[0][1]
    names = [name for name, _ in files]
    content = read_bytes(path)
    letter = letter_text(path)
    if letter is not None:
        return _first_whole(draft, _text_ways([letter], names, is_module))
    if content.startswith(b"PK"):
        return _draft_workbook(draft, path, names, is_module)
    if content.lstrip().startswith(b"%PDF-"):
        texts = [read_pdf(member) for _, member in files[:_MOST_PDFS]]
        return _first_whole(draft, _line_ways(texts, names, is_module, "pdf"))
    encoding = encoding_of(content)
    if encoding != "utf-8":
        why = "it is marked so" if encoding.startswith("utf-16") else "the bytes are no UTF-8"
        draft.put("encoding", encoding, why)
    texts = [read_text(path, encoding), *_others(files[1:], encoding)]
    return _first_whole(draft, _text_ways(texts, names, is_module))


def _others(files: Sequence[tuple[str, Path]], encoding: str) -> list[str]:
    found = []
    for _, path in files:
        try:
            found.append(read_text(path, encoding))
        except InputFileError:
            continue  # the reading itself will name it
    return found


def _first_whole(draft: Draft, ways: Sequence[_Way]) -> Draft:
    """Draft in the first way that leaves no column open, else in the one that leaves the fewest."""
    tried = []
    if draft.answers.get("table", "scans") != "scans":  # lines are read as scans alone
        ways = [way for way in ways if way.form not in ("text", "pdf")] or ways
    for way in ways:
        if draft.answers.get("format") in (None, way.form) or len(ways) == 1:
            one = draft.copy()
            one.put("format", way.form, way.why)
            way.draft(one)
            tried.append((way, one))
            if not _left_open(one):
                break
    if not tried:
        forms = ", ".join(way.form for way in ways)
        raise InputFileError(f"format: found {draft.answers['format']!r}; expected one of {forms}.")
    way, best = min(tried, key=lambda found: _left_open(found[1]))
    if len(ways) > 1 and (len(tried) > 1 or "format" in draft.answers):
        lost = "; ".join(f"as {other.form} it leaves open {_left_open(one)}" for other, one in tried if one is not best)
        best.ask_first("format", "How is the file read?", way.form, f"{way.why}; {lost}", [way.form for way in ways])
    return best


def _left_open(draft: Draft) -> int:
    """Return how many of a draft's open questions are about where things stand, not about what they mean."""
    if any(asked.key == NO_TABLE for asked in draft.open):
        return _NOT_AT_ALL
    return sum(asked.key.startswith(("columns.", "text.")) for asked in draft.open)


_NOT_AT_ALL = 1_000


def _draft_workbook(draft: Draft, path: Path, names: Sequence[str], is_module: Modules) -> Draft:
    draft.put("format", "xlsx", "it is a workbook")
    found: dict[str, Sample] = {}
    for sheet in sheet_names(path):
        rows = dict(islice(sheet_rows(path, sheet), MOST_LINES))
        sample = sample_of(rows, is_module)
        if sample is not None:
            found[sheet] = sample
    if not found:
        raise InputFileError(f"{path}: no sheet has a row that could be a header of column names.")
    joined = _draft_join(draft, found, is_module)
    if joined is not None:
        name, sample = joined
        draft.put("sheet", name, "its rows hold the codes")
        draft_rows(draft, [sample], is_module, names, [name])
        return draft
    main = max(found, key=lambda name: (_told(found[name]), -list(found).index(name)))
    header = found[main].names
    alike = [
        name for name in found if _alike(found[name].names, header) and found[name].header_row == found[main].header_row
    ]
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
    sheets = [name for name in alike if chosen in (EVERY_SHEET, None, name)] or [main]
    sheets = sorted(sheets, key=lambda name: name != main)
    draft_rows(draft, [found[name] for name in sheets], is_module, names, sheets)
    return draft


def _draft_join(draft: Draft, found: Mapping[str, Sample], is_module: Modules) -> tuple[str, Sample] | None:
    """Draft that the rows of one sheet belong to rows of another, where it has codes and the other cars or days.

    A column of both sheets ties them: each of its cells in the one is in the other, there once.
    """
    coded = [name for name, one in found.items() if any(holds_code(cell) for row in one.below for cell in row)]
    if len(found) < 2 or len(coded) != 1 or any(one.header != "row" for one in found.values()):
        return None
    own = found[coded[0]]
    has = {guess.column for guess in _guesses(own, is_module)}
    for name, other in found.items():
        more = {guess.column for guess in _guesses(other, is_module)} - has
        key = _tie(own, other) if name != coded[0] and more & {"vehicle", "vin", "scanned_at", "odometer"} else None
        if key is None:
            continue
        lacks = {"vehicle", "vin", "scanned_at"} & more
        if not lacks or (has & {"vehicle", "vin"} and not {"scanned_at", "vehicle", "vin"} & lacks):
            continue
        asks = f"Do the rows of {coded[0]!r} belong to those of {name!r}, by {key[0]!r}?"
        why = f"{key[0]!r} names a row of {name!r} in each of them, and only there stands {', '.join(sorted(more))}"
        if draft.ask("join.sheet", asks, "yes", why, ("yes", "no")) != "yes":
            continue
        draft.put("sheet", name, why, "join")
        if other.header_row != 1:
            draft.put("header_row", other.header_row, table="join")
        draft.put(key[0], key[1], table="join.keys")
        rows = with_joined(
            [*own.rows.items()], own.header_row, dict([key]), [other.rows[other.header_row], *other.below]
        )
        return coded[0], replace(own, rows=dict(rows))
    return None


def _guesses(sample: Sample, is_module: Modules) -> list[Guess]:
    cells = {
        name: [row[at] if at < len(row) else "" for row in sample.below] for at, name in enumerate(sample.names) if name
    }
    return guess_columns([Source(name, tuple(column)) for name, column in cells.items()], "scans", is_module)


def _tie(own: Sample, other: Sample) -> tuple[str, str] | None:
    """Return the columns of two tables that tie a row of the one to one row of the other; named alike before others."""
    pairs = []
    for at, name in enumerate(own.names):
        cells = [row[at].strip().lower() for row in own.below if at < len(row) and row[at].strip()]
        for place, named in enumerate(other.names):
            keys = [row[place].strip().lower() for row in other.below if place < len(row) and row[place].strip()]
            if name and named and len({*cells}) > 1 and {*cells} <= {*keys} and len({*keys}) == len(keys):
                pairs.append((name.lower() != named.lower(), name, named))
    return min(pairs)[1:] if pairs else None


def _alike(names: Sequence[str], others: Sequence[str]) -> bool:
    """Say whether two headers have the same names; km may be mi in one of them."""
    return [re.sub(r"\b(?:km|mi|miles)\b", "", name) for name in names] == [
        re.sub(r"\b(?:km|mi|miles)\b", "", name) for name in others
    ]


def _told(found: Sample) -> int:
    known = max(len(guess_named([name for name in found.names if name], table)) for table in LAYOUTS)
    return known * 10_000 + len(found.rows)


def _text_ways(texts: Sequence[str], names: Sequence[str], is_module: Modules) -> list[_Way]:
    text = texts[0]
    lines = [line[:_LONGEST_LINE] for line in _lines_of(text)]
    documents = documents_of(text, lines)
    if documents:
        form = "json" if len(documents) == 1 else "jsonl"
        why = "it is one JSON document" if form == "json" else "each line is JSON"
        for other in texts[1:]:
            documents = [*documents, *documents_of(other, other.split("\n", MOST_LINES))]

        def draft_json(draft: Draft) -> None:
            draft_paths(draft, paths_of(documents, is_module), is_module, names, documents)
            _refuse_events(draft, documents)

        return [_Way(form, why, draft_json)]
    if looks_like_html(text):
        return _html_ways(texts, names, is_module)
    if looks_like_xml(text):
        trees = _trees(texts)
        if trees:
            why = "it is XML"

            def draft_trees(draft: Draft) -> None:
                draft_paths(draft, paths_of(trees, is_module), is_module, names, trees)

            return [_Way("xml", why, draft_trees)]
    return _plain_ways(texts, lines, names, is_module)


def _refuse_events(draft: Draft, documents: Sequence[object]) -> None:
    """Let no line of JSON pass for a car that was read and is clean, where its kind names neither module nor code."""
    columns = tomllib.loads("\n".join(draft.tables.get("columns", ())))
    named = [columns[name] for name in ("module", "code") if isinstance(columns.get(name), str)]
    paths = {re.split(r"[.\[{]", name)[0] for name in named}
    records = [one for one in documents if isinstance(one, dict)]
    apart = [one for one in records if not paths & one.keys()]
    told = [one for one in records if paths <= one.keys()]
    kinds = {
        name
        for one in apart[:1]
        for name, kind in one.items()
        if isinstance(kind, str) and kind not in {str(other.get(name)) for other in told}
    }
    session = _session(apart, told, {str(columns.get("vehicle")), str(columns.get("vin"))})
    if session is not None:
        why = f"lines of one {session!r} are of one scan, and only one of them tells the car"
        asks = f"Does {session!r} number the scans?"
        if draft.ask("session", asks, "yes", why, ("yes", "no")) == "yes":
            draft.put("session", session, why)
            return
    if len(paths) == 2 and len(apart) + len(told) == len(records) > len(told) > 0 and kinds:
        lines = draft.tables.get("codes", [])
        draft.tables["codes"] = [line for line in lines if not line.startswith("whole_car = ")]
        draft.reasons.append(f"codes: lines of another kind, by {min(kinds)!r}, name no module and are refused")


def _session(apart: Sequence[dict[str, object]], told: Sequence[dict[str, object]], cars: set[str]) -> str | None:
    """Return the name whose values tie lines that name units to one line each that tells their car; None: none does."""
    heads = [one for one in apart if cars & one.keys()]
    if not heads or not told or any(cars & one.keys() for one in told):
        return None
    for name in heads[0]:
        values = [str(one.get(name)) for one in heads]
        ties = all(name in one for one in (*heads, *told)) and len({*values}) == len(values)
        if ties and {str(one[name]) for one in told} <= {*values}:
            return name
    return None


def _plain_ways(texts: Sequence[str], lines: Sequence[str], names: Sequence[str], is_module: Modules) -> list[_Way]:
    """Draft a text as pairs, as a table, as columns of a fixed width, by patterns, or by a name and a value a line."""
    texts = [without_marks(text) for text in texts]
    lines = without_marks("\n".join(lines)).split("\n")
    ways = _pair_ways(texts, names, is_module) or _cut_ways(texts, names, is_module)
    delimiter = delimiter_of(lines)
    if not ways and (delimiter is None or len(_known(_by_itself(texts[0], is_module))) < _FEWEST_NAMES):
        ways = _listed_ways(texts, names, is_module)
        delimiter = None if ways else delimiter
    if delimiter is not None:
        samples = []
        for one in texts:
            rows = delimited_rows(one, delimiter)
            samples.append(sample_of(rows, is_module) or Sample(1, rows))
        alike = [sample for sample in samples if sample.names == samples[0].names]
        others = [
            _by_itself(text, is_module) for text, sample in zip(texts, samples, strict=True) if sample not in alike
        ]
        others = [sample for sample in others if len(_known(sample)) >= _FEWEST_NAMES]
        others = [sample for sample in others if any(holds_code(cell) for row in sample.below for cell in row)]

        def draft_delimited(draft: Draft) -> None:
            draft.put("delimiter", delimiter)
            draft_rows(draft, alike, is_module, names)
            if others:
                asks = (
                    f"{len(others)} of {len(samples)} files hold codes and have other headings, "
                    f"{', '.join(others[0].names)[:200]} for instance; may they be left out?"
                )
                why = "one mapping reads files with the same headings; unpack the others and map them by themselves"
                draft.ask_leave("files", asks, why)

        if len(_known(alike[0])) >= _FEWEST_NAMES and not any(map(holds_code, alike[0].names)):
            # Cut line by line, what stands under a heading that is known would go into the wording.
            ways = [way for way in ways if way.form != "lines"]
        ways.append(_Way("table", f"most lines are cut alike by {delimiter!r}", draft_delimited))
    records = _record_ways(texts, names, is_module)
    by_lines = _line_ways(texts, names, is_module, "text")
    if (ways or records) and not any(codes_in([text]) for text in texts):
        by_lines = by_lines[:-1]  # patterns are for scans
    return [*ways, *by_lines, *records]


def _lines_of(text: str) -> list[str]:
    """Return the first lines of a text: so many tell what it is."""
    return text.split("\n", MOST_LINES)[:MOST_LINES]


def _pair_ways(texts: Sequence[str], names: Sequence[str], is_module: Modules) -> list[_Way]:
    """Draft a text whose lines are pairs of names and values."""
    found = [rows for text in texts if (rows := pairs_in(_lines_of(text)))]
    return _named_way("pairs", "its lines are names and values with = between them", found, names, is_module)


def _cut_ways(texts: Sequence[str], names: Sequence[str], is_module: Modules) -> list[_Way]:
    """Draft a text each of whose lines tells a car, a day and codes, without names."""
    how = cuts_of([line for text in texts for line in _lines_of(text)], is_module)
    if how is None:
        return []
    found = [rows_of(_lines_of(text), how) for text in texts]
    [way] = _named_way("lines", "each line tells car, day and codes", found, names, is_module)

    def draft(one: Draft) -> None:
        way.draft(one)
        one.line(f"cut = {literal(how.cut)}", "lines")
        if how.between is not None and how.piece is not None:
            one.put("between", how.between, table="lines")
            one.line(f"piece = {literal(how.piece)}", "lines")

    return [replace(way, draft=draft)]


def _listed_ways(texts: Sequence[str], names: Sequence[str], is_module: Modules) -> list[_Way]:
    """Draft a text that lists cars, or jobs, in words, a line each."""
    lines = [line for text in texts for line in _lines_of(text)]
    how = None if codes_in(texts) else jobs_in(lines) or cars_in(lines)
    if how is None:
        return []
    found = [rows_of(_lines_of(text), how) for text in texts]
    [way] = _named_way("lines", "each line tells of one car, or of one job", found, names, is_module)

    def draft(one: Draft) -> None:
        way.draft(one)
        one.line(f"cut = {literal(how.cut)}", "lines")
        ask_list(one, lines, how)

    return [replace(way, draft=draft)]


def _record_ways(texts: Sequence[str], names: Sequence[str], is_module: Modules) -> list[_Way]:
    """Draft a text with a name and its value a line."""
    found = [rows for text in texts if (rows := records_in(_lines_of(text)))]
    return _named_way("records", "its lines are a name and a value each, again and again", found, names, is_module)


def _named_way(form: str, why: str, found: Sequence[list[Row]], names: Sequence[str], is_module: Modules) -> list[_Way]:
    if not found:
        return []
    rows = [row for one in found for row in one]
    samples = [Sample(0, dict(grid_of([(number, row) for number, (_, row) in enumerate(rows, 1)])))]
    return [_Way(form, why, lambda draft: draft_rows(draft, samples, is_module, names, number=False))]


def _by_itself(text: str, is_module: Modules) -> Sample:
    """Return the table of a text, cut by what cuts it best."""
    delimiter = delimiter_of([line[:_LONGEST_LINE] for line in _lines_of(text)])
    rows = delimited_rows(text, delimiter) if delimiter is not None else {}
    return sample_of(rows, is_module) or Sample(1, rows)


def _trees(texts: Sequence[str]) -> list[object]:
    found: list[object] = []
    for text in texts:
        try:
            found.append(read_tree(text))
        except (ValueError, RecursionError):
            continue
    return found


def _html_ways(texts: Sequence[str], names: Sequence[str], is_module: Modules) -> list[_Way]:
    """Draft a page by its tables, those of the same headings being one, or by its lines."""
    pages = [Page(text) for text in texts]
    found: dict[tuple[str, ...], list[Sample]] = {}
    between: list[str] = []
    # Beside a table of codes a table of names and one value each tells of the scan, not of a car for itself.
    cards = not any(holds_code(cell) for page in pages for table in page.tables for row in table for cell in row)
    for page in pages:
        for before, table in zip(page.before, page.tables, strict=True):
            rows = dict(enumerate(table, 1))
            between += before
            sample = (card_of(rows) if cards else None) or sample_of(rows, is_module)
            if sample is None or len(_known(sample)) < _FEWEST_NAMES - 1:
                between += [" ".join(filter(None, cells)) for cells in table]
                continue
            sample = replace(sample, before=[*between, *sample.before])
            found.setdefault(tuple(sample.names), []).append(sample)
            between = []
        between += page.after
    ways = []
    if found:
        alike = max(found.values(), key=lambda samples: (len(_known(samples[0])), sum(map(_told, samples))))
        alike[-1] = replace(alike[-1], after=between)
        why = "it is a page with a table that has known headings"
        others = [one for samples in found.values() if samples is not alike for one in samples]
        others = [one for one in others if one.header == alike[0].header == "first column"]

        def draft_tables(draft: Draft) -> None:
            draft_rows(draft, alike, is_module, names, number=False)
            if others:
                asks = f"{len(others)} of {len(others) + len(alike)} cards have other names; may they be left out?"
                lacks = sorted({*alike[0].names} ^ {*others[0].names})
                why = f"one mapping reads cards with the same names, and not all have {', '.join(lacks)[:200]}"
                draft.ask_leave("tables", asks, why)

        ways.append(_Way("html", why, draft_tables))
    lines = [line for page in pages for line in page.lines]
    why = "it is a page, read line by line"
    if not found:
        ways += _line_ways(["\n".join(page.lines) for page in pages], names, is_module, "text")[:-1]
    return [*ways, _Way("text", why, lambda draft: draft_printed(draft, lines, is_module, names))]


def _draft_sample(sample: Sample, is_module: Modules, names: Sequence[str], lost: Sequence[str], draft: Draft) -> None:
    draft_rows(draft, [sample], is_module, names, number=False)
    ask_modules(draft, lost)


def _known(found: Sample) -> list[str]:
    return max((guess_named([name for name in found.names if name], table) for table in LAYOUTS), key=len)


def _below(header: str, lines: Sequence[str]) -> list[str]:
    """Return the rows below a header, down to the next page: the same headings may stand at other places there."""
    page = takewhile(lambda text: text.split() != header.split(), lines)
    return [text for text in page if text.strip(" -=_+|") and not _tells_a_scan(text)]


def _tells_a_scan(line: str) -> bool:
    """Say whether a line tells something of a scan, with a word in front of it, and no code: no row of a table."""
    told = bool(fields(line)) and is_labelled(line)
    return (told or (is_job(line) and "  " not in line.strip())) and not holds_code(line)


def _is_full_row(line: str, headings: int) -> bool:
    """Say whether a line has about as many cells as a table has headings, none with a label: a day is of its row."""
    cells = re.split(r"\s{2,}", line.strip())
    return len(cells) >= max(_FEWEST_CELLS, 0.75 * headings) and not any(re.search(r":(?!\d)", cell) for cell in cells)


def _line_ways(texts: Sequence[str], names: Sequence[str], is_module: Modules, form: str) -> list[_Way]:
    """Draft a text as columns of a fixed width where a line of headings stands in it, else by patterns."""
    texts = [without_branches(text) for text in texts]
    lines = [line for text in texts for line in _lines_of(text.replace("\f", "\n"))]
    numbered = [(number, line.expandtabs()[:_LONGEST_LINE]) for number, line in enumerate(lines, 1)]
    ways = []
    for at, (_, line) in enumerate(numbered[:_MOST_ABOVE]):
        pages = [place for place, (_, other) in enumerate(numbered) if other.split() == line.split() != []]
        titles = titles_of_pages(lines, pages) if len(pages) > 1 else set()
        below = _below(
            line, [text for place, (_, text) in enumerate(numbered[: at + 200]) if place > at and place not in titles]
        )
        headings = header_names(line, below) if "  " in line.strip() and below else []
        found = max((guess_named(headings, table) for table in LAYOUTS), key=len)
        if len(found) >= _FEWEST_NAMES and len(found) >= 0.5 * len(headings):
            told = {n for n, text in numbered if _tells_a_scan(text) and not _is_full_row(text, len(headings))}
            outside = [(number, text) for number, text in numbered if number in told]
            inside = [(number, text) for number, text in numbered if number not in told]
            rows: dict[int, list[str]] = {}
            for _, section in sections(inside, headings):
                columns = columns_of(section[0][1], [text for _, text in section[1:]], headings)
                rows |= {number: cells_of(text, columns) for number, text in section[bool(rows) :]}
            first = min(rows)
            rows = dict(sorted([*rows.items(), *((number, [text]) for number, text in outside if number > first)]))
            sample = Sample(first, rows, [text for _, text in numbered[:at]])
            why = f"the line {' '.join(line.split())!r} has headings, and blanks part what is below"
            lost = [text for number, text in inside[at:] if number not in rows and is_module(text.strip())]
            ways.append(_Way("fixed", why, partial(_draft_sample, sample, is_module, names, lost)))
            break
    why = "it begins as a PDF does" if form == "pdf" else "it is read line by line"
    return [*ways, _Way(form, why, lambda draft: draft_printed(draft, lines, is_module, names))]
