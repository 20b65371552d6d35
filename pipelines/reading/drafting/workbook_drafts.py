"""Draft the mapping of a workbook: its sheets of the same columns, and the sheet that the rows of another belong to."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import islice
from pathlib import Path

from pipelines.errors import InputFileError
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.draft_rows import Sample, draft_rows, known_names, sample_of
from pipelines.reading.drafting.guessing import Guess, Source, guess_columns, holds_code
from pipelines.reading.drafting.sniffing import MOST_LINES
from pipelines.reading.drafting.words import Modules
from pipelines.reading.mapping.mapping_file import EVERY_SHEET
from pipelines.reading.mapping.reshaping import with_joined
from pipelines.reading.mapping.workbook_reader import hidden_rows, sheet_names, sheet_rows


def draft_workbook(draft: Draft, path: Path, names: Sequence[str], is_module: Modules) -> Draft:
    """Draft a workbook by its sheets of the same columns."""
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
    main = max(found, key=lambda name: (told_by(found[name]), -list(found).index(name)))
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


def told_by(found: Sample) -> int:
    """Return how much a table tells: so many known names, and of as many so many rows."""
    return len(known_names(found.names)) * 10_000 + len(found.rows)
