"""What kind of file is this: how is its text encoded, what cuts its cells, where does its header stand?"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence

from pipelines.reading.drafting.guessing import looks_like_code, looks_like_date
from pipelines.reading.source import is_whole, looks_like_utf16

MOST_LINES = 300


def encoding_of(content: bytes) -> str:
    """Return the encoding that a file's bytes seem to have; Windows-1252 where they are no UTF-8."""
    if looks_like_utf16(content):
        return "utf-16"
    try:
        content.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def documents_of(text: str, lines: Sequence[str]) -> list[object]:
    """Return the JSON documents of a text: one, or one a line; none where it is no JSON."""
    if not text.lstrip().startswith(("{", "[")):
        return []
    try:
        return [json.loads(text)]
    except (ValueError, RecursionError):
        pass
    try:
        return [json.loads(line) for line in lines if line.strip()]
    except (ValueError, RecursionError):
        return []


def delimiter_of(lines: Sequence[str]) -> str | None:
    """Return the mark that cuts most lines into the same number of cells, or None where none does."""
    best: tuple[int, str | None] = (0, None)
    filled = [line for line in lines if line.strip()]
    for mark in ("\t", ";", "|", ","):
        widths = Counter(line.count(mark) for line in filled)
        width, times = max(widths.items(), key=lambda item: (item[1] if item[0] else 0, item[0]))
        rows = {n: line.split(mark) for n, line in enumerate(filled, 1) if line.count(mark) == width}
        if width >= 2 and times >= max(2, 0.7 * len(filled)) and header_row_of(rows) is not None:
            best = max(best, (width * times, mark), key=lambda found: found[0])
    return best[1]


def header_row_of(rows: dict[int, list[str]]) -> int | None:
    """Return the first row as wide as most that holds names only, or None."""
    wide = Counter(len(cells) for cells in rows.values()).most_common(1)
    for number, cells in rows.items():
        names = [cell.strip(' "') for cell in cells]
        filled = [name for name in names if name]
        distinct = len(set(filled)) == len(filled) >= max(2, 0.6 * (wide[0][0] if wide else 0))
        values = any(looks_like_code(name) or looks_like_date(name) or name.isdigit() for name in filled)
        if wide and len(cells) >= wide[0][0] and distinct and not values:
            return number
    return None


def paths_of(documents: Sequence[object]) -> dict[str, list[str]]:
    """Return every path to a value that is no list or object, with the values; of lists side by side, the fullest."""
    found: dict[str, list[str]] = {}
    stack: list[tuple[str, object, int]] = [("", document, 0) for document in reversed(documents)]
    while stack:
        path, value, depth = stack.pop()
        if isinstance(value, dict) and depth < 50:
            stack += [(f"{path}.{name}".lstrip("."), below, depth + 1) for name, below in reversed(value.items())]
        elif isinstance(value, list) and depth < 50:
            stack += [(f"{path}[]", below, depth + 1) for below in reversed(value)]
        elif (
            value is not None
            and is_whole(path)
            and is_whole(str(value))
            and len(found.setdefault(path, [])) < MOST_LINES
        ):
            found[path].append(str(value).lower() if isinstance(value, bool) else str(value))
    coded = [path for path, cells in found.items() if any(map(looks_like_code, cells))]
    deepest = max(coded or found, key=lambda path: path.count("[]"), default="")
    chain = deepest[: deepest.rfind("[]") + 2] if "[]" in deepest else ""
    return {
        path: cells
        for path, cells in found.items()
        if chain.startswith(path[: path.rfind("[]") + 2] if "[]" in path else "")
    }
