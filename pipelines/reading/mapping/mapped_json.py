"""JSON of other programs, as one document or one a line, and XML: lists inside lists become rows.

A mapping names each column by its path, ``scans[].units[].faults[].code`` for
instance, where ``[]`` walks through a list.  An empty list is one row without the
columns below it: a unit without faults was read and stored none.  ``{}`` walks through an
object whose names are data: ``units{}.name`` is each name, ``units{}.value`` what stands there; a name that begins with
an underscore tells of the object itself and is passed over.
A null in place of a list of codes stands as the word ``null`` where the mapping says what that means.
A list of plain values that no path walks through is one text, ``;`` between them.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path

import polars as pl

from pipelines.errors import InputFileError
from pipelines.library_words import in_our_words
from pipelines.reading.account import Found, codes_in
from pipelines.reading.mapping.mapping_file import Mapping
from pipelines.reading.mapping.translating import CLEAN, ERASED, FLAG, NO_ANSWER, REPEATED, SESSION
from pipelines.reading.mapping.xml_tree import read_tree
from pipelines.reading.source import is_whole, read_text
from pipelines.reading.tabular.raw_table import RawTable, Reject

_MOST_ROWS = 5_000_000
_SHOWN = 120
_LIST, _NAMED = "[]", "{}"
NULL = "null"
_WALKS = (_LIST, _NAMED)
Steps = tuple[str, ...]


def read_mapped_json(path: Path, mapping: Mapping) -> RawTable:
    """Read JSON.

    Args:
        path: The file.
        mapping: Its encoding, format (json, jsonl or xml) and paths.

    Returns:
        Int64 ``row`` and the layout's columns.  In a document, rows are counted from 1 as they come; in JSON lines the
        row is the line.

    Raises:
        InputFileError: It is no JSON, or holds more rows than is good.
        OSError: It cannot be opened.
    """
    text = read_text(path, mapping.encoding)
    rejects: list[Reject] = []
    paths = {name: steps_of(name) for name in mapping.source_names()}
    deepest = _lists_of(path, mapping, paths)
    count, numbers = 0, list[int]()
    nulls = mapping.columns.get("code", ()) if NULL in mapping.codes.in_place else ()
    made = mapping.made() | ({ERASED: (mapping.erased.column,)} if mapping.erased else {})
    made |= {CLEAN: (mapping.codes.clean,)} if mapping.codes.clean else {}
    made |= {NO_ANSWER: (mapping.codes.silent_modules,)} if mapping.codes.silent_modules else {}
    made |= {REPEATED: (mapping.codes.repeated,)} if mapping.codes.repeated else {}
    made |= {FLAG + name: (name,) for name in (mapping.flags.columns if mapping.flags else ())}
    made |= {SESSION: (mapping.session,)} if mapping.session else {}
    columns: dict[str, list[str | None]] = {name: [] for name in made}
    for line, document in _documents(path, text, mapping, rejects):
        for record in _walk(document, deepest):
            if count >= _MOST_ROWS:
                raise InputFileError(f"{path}: more than {_MOST_ROWS} rows; split it. The file was not loaded.")
            count += 1
            row = line if mapping.format == "jsonl" else count
            cells = {name: _cell(record, steps, deepest) for name, steps in paths.items()}
            cells |= {name: NULL for name in nulls if cells[name] is None and _is_null(record, paths[name], deepest)}
            half = next((name for name, cell in cells.items() if cell and not is_whole(cell)), None)
            if half is not None:
                rejects.append((row, half, ascii(cells[half])[:_SHOWN], "it holds half of a character"))
                continue
            numbers.append(row)
            for column, names in made.items():
                filled = [text for text in (cells[name] for name in names) if text]
                columns[column].append(("" if column == "code" else " ").join(filled) or None)
    schema = {"row": pl.Int64, **dict.fromkeys(columns, pl.String)}
    return RawTable(pl.DataFrame({"row": numbers, **columns}, schema=schema), rejects, found=Found(codes_in([text])))


def steps_of(dotted: str) -> Steps:
    """Return a path's steps: ``units[].name`` is ``units``, ``[]``, ``name``."""
    marked = dotted.replace(_LIST, f"\0{_LIST}").replace(_NAMED, f"\0{_NAMED}")
    return tuple(step for part in marked.split(".") for step in part.split("\0") if step)


def _lists_of(path: Path, mapping: Mapping, paths: dict[str, Steps]) -> Steps:
    """Return the steps down to the innermost list; every other list must lie on the way."""
    deepest: Steps = ()
    for steps in paths.values():
        lists = steps[: max((at + 1 for at, step in enumerate(steps) if step in _WALKS), default=0)]
        longer, shorter = (lists, deepest) if len(lists) > len(deepest) else (deepest, lists)
        if longer[: len(shorter)] != shorter:
            raise InputFileError(
                f"{path}: {mapping.name} walks through two lists side by side, {_dotted(shorter)} and "
                f"{_dotted(longer)}; expected one inside the other. The file was not loaded."
            )
        deepest = longer
    return deepest


def _dotted(steps: Steps) -> str:
    return ".".join(steps).replace(f".{_LIST}", _LIST).replace(f".{_NAMED}", _NAMED)


def _documents(path: Path, text: str, mapping: Mapping, rejects: list[Reject]) -> Iterator[tuple[int, object]]:
    decode = json.JSONDecoder(parse_float=str, parse_int=str, parse_constant=_no_number).decode
    if mapping.format in ("json", "xml"):
        try:
            yield 1, named_rows(decode(text)) if mapping.format == "json" else read_tree(text)
        except (ValueError, RecursionError) as error:
            form = mapping.format.upper()
            raise InputFileError(
                f"{path}: it cannot be read as {form} ({in_our_words(error)}). The file was not loaded."
            ) from error
        return
    for line, one in enumerate(text.split("\n"), 1):
        if not one.strip():
            continue
        try:
            document = decode(one)
        except (ValueError, RecursionError) as error:
            rejects.append((line, None, one[:_SHOWN], f"expected JSON: {in_our_words(error)}"))
            continue
        yield line, named_rows(document)


def named_rows(value: object) -> object:
    """Return JSON in which lists of lists beside one list of as many names are lists of objects with those names."""
    if isinstance(value, list):
        return [named_rows(one) if isinstance(one, dict | list) else one for one in value]
    if not isinstance(value, dict):
        return value
    names = next((one for one in value.values() if _are_names(one)), None)
    made: dict[str, object] = {}
    for name, one in value.items():
        rows = isinstance(one, list) and one and all(isinstance(row, list) for row in one)
        if names is not None and isinstance(one, list) and rows and all(len(row) == len(names) for row in one):
            made[name] = [dict(zip(names, row, strict=True)) for row in one]
        else:
            made[name] = named_rows(one) if isinstance(one, dict | list) else one
    return made


def _are_names(value: object) -> bool:
    return (
        isinstance(value, list)
        and len(value) > 1
        and all(isinstance(one, str) for one in value)
        and (len({*value}) == len(value))
    )


def _no_number(name: str) -> str:
    raise ValueError(f"{name} is no number")


def _walk(document: object, lists: Steps) -> Iterator[list[object]]:
    """Yield one record for each item of the innermost list: what stands at each of the steps on the way to it."""
    if not lists:
        yield [document]
        return
    step, below = lists[0], lists[1:]
    items: list[object]
    if step == _LIST:
        # An element of XML that could be repeated and is not stands there alone.
        items = document if isinstance(document, list) and document else [_NONE if document == [] else document]
    elif step == _NAMED:
        items = [{"name": name, "value": value} for name, value in data_names(document).items()]
        items = items or [_NONE]
    else:
        items = [document.get(step, _NONE) if isinstance(document, dict) else _NONE]
    for item in items:
        for record in _walk(item, below):
            yield [document, *record]


def data_names(value: object) -> dict[str, object]:
    """Return an object by those of its names that are data; one with an underscore in front tells of the object."""
    return {name: one for name, one in value.items() if name[:1] != "_"} if isinstance(value, dict) else {}


class _Nothing:
    """What stands where nothing does: no name in an object, no item in a list; null is another thing."""


_NONE = _Nothing()


def _is_null(record: Sequence[object], steps: Steps, lists: Steps) -> bool:
    """Say whether null stands in place of a list on the way to a path's end."""
    way = steps[: _shared(steps, lists)]
    return any(record[at] is None for at, step in enumerate(way) if step in _WALKS)


def nulls_of(documents: Sequence[object], dotted: str) -> tuple[int, int]:
    """Count the nulls that stand in place of a list on the way to a path's end, and the empty ones of its last list."""
    steps = steps_of(dotted)
    lists = steps[: max((at + 1 for at, step in enumerate(steps) if step in _WALKS), default=0)]
    records = [record for document in documents for record in _walk(document, lists)] if lists else []
    return sum(_is_null(record, steps, lists) for record in records), sum(record[-2] in ([], {}) for record in records)


def columns_of(documents: Sequence[object], paths: Sequence[str], lists: str, most: int) -> dict[str, list[str]]:
    """Return what stands at the end of some paths in each record, blank where nothing does, so that all are as long.

    Args:
        documents: JSON, or XML as objects.
        paths: Where to look; one that ends in a list of plain values is one text of them.
        lists: The path to the items that are a record each, through each list on the way.
        most: So many records at most.
    """
    way = steps_of(lists)
    records = list(islice((record for document in documents for record in _walk(document, way)), most))
    made = {}
    for path in paths:
        steps = steps_of(path)
        steps = steps if steps == way else steps_of(path.removesuffix(_LIST))
        made[path] = [_cell(record, steps, way) or "" for record in records]
    return made


def _shared(steps: Steps, lists: Steps) -> int:
    apart = next((at for at, (one, other) in enumerate(zip(steps, lists, strict=False)) if one != other), None)
    return min(len(steps), len(lists)) if apart is None else apart


def _cell(record: list[object], steps: Steps, lists: Steps) -> str | None:
    """Return what stands at the end of a path in one record, as text."""
    at = _shared(steps, lists)
    found = record[at]
    for step in steps[at:]:
        found = found.get(step) if isinstance(found, dict) else None
    if isinstance(found, list):
        return ";".join(text for one in found if (text := _plain(one))) or None
    return _plain(found)


def _plain(value: object) -> str | None:
    if value is None or isinstance(value, dict | list | _Nothing):
        return None
    return str(value).lower() if isinstance(value, bool) else str(value)
