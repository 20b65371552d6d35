"""Which column of a file is which column of the layout, or why the file cannot be the layout.

A header that lacks a column stops its file; a column that nobody knows is left
out and named.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from pipelines.errors import InputFileError
from pipelines.reading.drafting.words import PLATES, folded
from pipelines.reading.layouts import Layout

_LONGEST_SHOWN = 500


def match_header(path: Path, header: Sequence[str], layout: Layout, notes: list[str]) -> dict[str, int]:
    """Find the layout's columns in a header; capitals and spaces around a name do not matter.

    Args:
        path: The file, for messages.
        header: The names as they stand.
        layout: What the file should be.
        notes: Gets one line that names the columns left out, if any.

    Returns:
        Name of each column that is there to its place in the header, from 0, in the layout's order.

    Raises:
        InputFileError: A required column is missing or one stands twice.
    """
    names = [name.strip().lower() for name in header]
    twice = sorted(name for name, times in Counter(filter(None, names)).items() if times > 1)
    if twice:
        raise InputFileError(
            f"{path}: the header has {', '.join(twice)} more than once; expected each column once. "
            "The file was not loaded."
        )
    missing = missing_columns(names, layout)
    if missing:
        found = ", ".join(name.strip() or "a blank name" for name in header)
        like = f"it looks like {layout.name}; " if any(column.name in names for column in layout.columns) else ""
        raise InputFileError(
            f"{path}: {like}the header lacks {' and '.join(missing)}; it has {found[:_LONGEST_SHOWN]}. "
            "The file was not loaded."
        )
    known = {column.name: names.index(column.name) for column in layout.columns if column.name in names}
    unknown = [name.strip() for name, plain in zip(header, names, strict=True) if plain and plain not in known]
    if unknown:
        notes.append(f"left out, not in the layout of {layout.name}: {', '.join(unknown)[:_LONGEST_SHOWN]}")
    if plates := [name for name in unknown if layout.mapped and folded(name) in PLATES]:
        notes.append(
            f"{plates[0]} can name the cars too: a mapping takes it as {layout.mapped[0]} ('knockon map FILE')"
        )
    return known


def missing_columns(names: Sequence[str], layout: Layout) -> list[str]:
    """Return what a header in lower case lacks of the columns that the layout must have, in words."""
    missing = [column.name for column in layout.columns if column.required and column.name not in names]
    missing += [
        " or ".join(rule.any_of)
        for rule in layout.rules
        if rule.column is None and not any(name in names for name in rule.any_of)
    ]
    others = {*names} - {column.name for column in layout.columns}
    if others and layout.headed and not any(name in names for name in layout.headed):
        missing.append(" or ".join(layout.headed))
    return missing
