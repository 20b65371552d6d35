"""The ways to read a text: JSON, XML, a page, pairs, records, a table, a list, columns of a width, patterns."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from itertools import takewhile

from pipelines.reading.account import codes_in
from pipelines.reading.drafting.draft import Draft, literal
from pipelines.reading.drafting.draft_rows import Sample, card_of, draft_paths, draft_rows, known_names, sample_of
from pipelines.reading.drafting.guessing import coded_share, holds_code
from pipelines.reading.drafting.job_cards import tells_work
from pipelines.reading.drafting.job_lines import is_job
from pipelines.reading.drafting.json_events import refuse_events
from pipelines.reading.drafting.json_names import put_names_of_keys
from pipelines.reading.drafting.left_out import ask_modules
from pipelines.reading.drafting.listed_cars import ask_list, cars_in
from pipelines.reading.drafting.listed_jobs import jobs_in
from pipelines.reading.drafting.listed_parts import parts_in
from pipelines.reading.drafting.log_lines import cuts_of
from pipelines.reading.drafting.scan_lines import fields, is_labelled
from pipelines.reading.drafting.sniffing import (
    MOST_LINES,
    delimited_rows,
    documents_of,
    paths_of,
)
from pipelines.reading.drafting.table_shape import delimiter_of
from pipelines.reading.drafting.unit_addresses import draft_printed
from pipelines.reading.drafting.ways import Way
from pipelines.reading.drafting.words import Modules
from pipelines.reading.drafting.workbook_drafts import told_by
from pipelines.reading.mapping.cut_lines import LineCuts, rows_of
from pipelines.reading.mapping.fixed_width import cells_of, columns_of, header_names, sections, titles_of_pages
from pipelines.reading.mapping.html_tables import Page, looks_like_html
from pipelines.reading.mapping.marked_text import without_marks
from pipelines.reading.mapping.named_values import Row, grid_of, pairs_in, records_in
from pipelines.reading.mapping.printed_text import without_branches, without_leaders
from pipelines.reading.mapping.xml_tree import looks_like_xml, read_tree

_LONGEST_LINE = 10_000
_FEWEST_NAMES, _FEWEST_CELLS, _MOST_ABOVE = 3, 5, 40
_MOSTLY_CODES = 0.6


def text_ways(texts: Sequence[str], names: Sequence[str], is_module: Modules) -> list[Way]:
    """Return the ways to read some texts that are alike, the likeliest first."""
    text = texts[0]
    lines = [line[:_LONGEST_LINE] for line in _lines_of(text)]
    documents = documents_of(text, lines)
    if documents:
        form = "json" if len(documents) == 1 else "jsonl"
        why = "it is one JSON document" if form == "json" else "each line is JSON"
        for other in texts[1:]:
            documents = [*documents, *documents_of(other, other.split("\n", MOST_LINES))]

        def draft_json(draft: Draft) -> None:
            columns = paths_of(documents, is_module)
            put_names_of_keys(draft, documents, columns, is_module)
            draft_paths(draft, columns, is_module, names, documents)
            refuse_events(draft, documents)

        return [Way(form, why, draft_json)]
    if looks_like_html(text):
        return _html_ways(texts, names, is_module)
    if looks_like_xml(text):
        trees = _trees(texts)
        if trees:
            why = "it is XML"

            def draft_trees(draft: Draft) -> None:
                draft_paths(draft, paths_of(trees, is_module), is_module, names, trees)

            return [Way("xml", why, draft_trees)]
    return _plain_ways(texts, lines, names, is_module)


def _plain_ways(texts: Sequence[str], lines: Sequence[str], names: Sequence[str], is_module: Modules) -> list[Way]:
    """Draft a text as pairs, as a table, as columns of a fixed width, by patterns, or by a name and a value a line."""
    texts = [without_marks(text) for text in texts]
    lines = without_marks("\n".join(lines)).split("\n")
    ways = _pair_ways(texts, names, is_module) or _cut_ways(texts, names, is_module)
    delimiter = delimiter_of(_whole_rows(lines)) or delimiter_of(lines)
    headings = _by_itself(texts[0], is_module).names if delimiter is not None and not ways else []
    values = any(re.search(r"\d{3}", name) for name in headings)  # a line of a list, and no headings
    if not ways and (values or len(known_names(headings)) < _FEWEST_NAMES):
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
        others = [sample for sample in others if len(known_names(sample.names)) >= _FEWEST_NAMES]
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

        if len(known_names(alike[0].names)) >= _FEWEST_NAMES and not any(map(holds_code, alike[0].names)):
            # Cut line by line, what stands under a heading that is known would go into the wording.
            ways = [way for way in ways if way.form != "lines"]
        ways.append(Way("table", f"most lines are cut alike by {delimiter!r}", draft_delimited))
    records = _record_ways(texts, names, is_module)
    by_lines = line_ways(texts, names, is_module, "text")
    works = sum(bool(_BULLET_OF_WORK.match(line)) and tells_work(line) for line in lines) > 1
    if (ways or records) and not works and not any(codes_in([text]) for text in texts):
        by_lines = by_lines[:-1]  # patterns are for scans, and for works in lists
    return [*ways, *by_lines, *records]


_BULLET_OF_WORK = re.compile(r"\s*[-*•·>–+]\s+[^\W\d_]")


def _whole_rows(lines: Sequence[str]) -> list[str]:
    """Return lines with those joined that a quotation mark holds together, as a cell of several lines has them."""
    made, open_row = list[str](), ""
    for line in lines:
        row = f"{open_row} {line}" if open_row else line
        open_row = row if row.count('"') % 2 and len(row) < _LONGEST_LINE else ""
        if not open_row:
            made.append(row)
    return [*made, *filter(None, [open_row])]


def _lines_of(text: str) -> list[str]:
    """Return the first lines of a text: so many tell what it is."""
    return text.split("\n", MOST_LINES)[:MOST_LINES]


def _pair_ways(texts: Sequence[str], names: Sequence[str], is_module: Modules) -> list[Way]:
    """Draft a text whose lines are pairs of names and values."""
    found = [rows for text in texts if (rows := pairs_in(_lines_of(text)))]
    return _named_way("pairs", "its lines are names and values with = between them", found, names, is_module)


def _cut_ways(texts: Sequence[str], names: Sequence[str], is_module: Modules) -> list[Way]:
    """Draft a text each of whose lines tells a car, a day and codes, without names."""
    how = cuts_of([line for text in texts for line in _lines_of(text)], is_module)
    if how is None:
        return []
    found = [rows_of(_lines_of(text), how) for text in texts]
    [way] = _named_way("lines", "each line tells car, day and codes", found, names, is_module)

    def more(one: Draft) -> None:
        if how.between is not None and how.piece is not None:
            one.put("between", how.between, table="lines")
            one.line(f"piece = {literal(how.piece)}", "lines")

    return [_lines_way(way, how, more)]


def _listed_ways(texts: Sequence[str], names: Sequence[str], is_module: Modules) -> list[Way]:
    """Draft a text that lists cars, or jobs, in words, a line each."""
    lines = [line for text in texts for line in _lines_of(text)]
    how = None if codes_in(texts) else jobs_in(lines) or cars_in(lines) or parts_in(lines)
    if how is None:
        return []
    found = [rows_of(_lines_of(text), how) for text in texts]
    [way] = _named_way("lines", "each line tells of one car, one job or one part", found, names, is_module)
    return [_lines_way(way, how, lambda one: ask_list(one, lines, how))]


def _lines_way(way: Way, how: LineCuts, more: Callable[[Draft], None]) -> Way:
    """Return a way that also says how its lines are cut, and then what else there is to say of them."""

    def draft(one: Draft) -> None:
        way.draft(one)
        one.line(f"cut = {literal(how.cut)}", "lines")
        more(one)

    return replace(way, draft=draft)


def _record_ways(texts: Sequence[str], names: Sequence[str], is_module: Modules) -> list[Way]:
    """Draft a text with a name and its value a line."""
    found = [rows for text in texts if (rows := records_in(_lines_of(without_leaders(text))))]
    return _named_way("records", "its lines are a name and a value each, again and again", found, names, is_module)


def _named_way(form: str, why: str, found: Sequence[list[Row]], names: Sequence[str], is_module: Modules) -> list[Way]:
    if not found:
        return []
    rows = [row for one in found for row in one]
    samples = [Sample(0, dict(grid_of([(number, row) for number, (_, row) in enumerate(rows, 1)])))]
    return [Way(form, why, lambda draft: draft_rows(draft, samples, is_module, names, number=False))]


def named_ways(texts: Sequence[str], names: Sequence[str], is_module: Modules) -> list[Way]:
    """Draft lines that hold no table as a list, or as a name and its value a line."""
    return _listed_ways(texts, names, is_module) or _record_ways(texts, names, is_module)


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


def _html_ways(texts: Sequence[str], names: Sequence[str], is_module: Modules) -> list[Way]:
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
            if sample is None or len(known_names(sample.names)) + _coded_columns(sample) < _FEWEST_NAMES - 1:
                between += [" ".join(filter(None, cells)) for cells in table]
                continue
            sample = replace(sample, before=[*between, *sample.before])
            found.setdefault(tuple(sample.names), []).append(sample)
            between = []
        between += page.after
    ways = []
    if found:
        alike = max(
            found.values(), key=lambda samples: (len(known_names(samples[0].names)), sum(map(told_by, samples)))
        )
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

        ways.append(Way("html", why, draft_tables))
    lines = [line for page in pages for line in page.lines]
    why = "it is a page, read line by line"
    if not found:
        plain = ["\n".join(page.lines) for page in pages]
        ways += named_ways(plain, names, is_module) + line_ways(plain, names, is_module, "text")[:-1]
    return [*ways, Way("text", why, lambda draft: draft_printed(draft, lines, is_module, names))]


def _modules_and_codes(headings: Sequence[str], header: str, below: Sequence[str]) -> bool:
    """Say whether one of a few headings names the modules, and below the last of them stand codes and nothing else."""
    if len(headings) not in (2, 3) or "module" not in known_names(headings):
        return False
    columns = columns_of(header, below, headings)
    cells = [cells_of(line, columns)[-1] for line in below]
    return coded_share([cell for cell in cells if cell.strip()]) == 1.0


def _coded_columns(sample: Sample) -> int:
    """Return how many columns with a heading that says nothing hold codes, or words that say that there are none."""
    columns = zip(sample.names, zip(*sample.below, strict=False), strict=False)
    return sum(not known_names([name]) and coded_share(cells) >= _MOSTLY_CODES for name, cells in columns)


def _draft_sample(sample: Sample, is_module: Modules, names: Sequence[str], lost: Sequence[str], draft: Draft) -> None:
    draft_rows(draft, [sample], is_module, names, number=False)
    ask_modules(draft, lost)


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


def line_ways(texts: Sequence[str], names: Sequence[str], is_module: Modules, form: str) -> list[Way]:
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
        found = known_names(headings)
        named = len(found) >= _FEWEST_NAMES and len(found) >= 0.5 * len(headings)
        if named or _modules_and_codes(headings, line, below):
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
            ways.append(Way("fixed", why, partial(_draft_sample, sample, is_module, names, lost)))
            break
    why = "it begins as a PDF does" if form == "pdf" else "it is read line by line"
    return [*ways, Way(form, why, lambda draft: draft_printed(draft, lines, is_module, names))]
