"""Draft cells that tell of several control units, each with its codes or with words that it has none."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from pipelines.reading.drafting.code_lines import fits
from pipelines.reading.drafting.draft import Draft, literal
from pipelines.reading.drafting.entries import Around
from pipelines.reading.drafting.guessing import holds_code, says_nothing
from pipelines.reading.drafting.words import Modules

_MARKS = ("\n", " | ", "|", "; ", ";", " / ", " // ", ", ", ",")
_NAME = r"^\s*[-*•·]?\s*(?<module>[^\s:=–-][^:=]*?)"
_UNITS = (
    rf"{_NAME}\s*[:=]\s*(?<code>\S.*?)\s*$",
    rf"{_NAME}\s+[–-]+>?\s+(?<code>\S.*?)\s*$",
    rf"{_NAME}\s*[(\[](?<code>[^()\[\]]+)[)\]]\s*$",
    rf"{_NAME}\s{{2,}}(?<code>\S.*?)\s*$",
)
_ENOUGH = 0.9


def with_units_apart(
    draft: Draft, columns: Mapping[str, Sequence[str]], is_module: Modules, around: Around
) -> Mapping[str, Sequence[str]]:
    """Return the columns of a table with a row for each unit of a cell that tells of several, and draft how.

    Args:
        draft: Gets the lines.
        columns: The file's columns with their cells.
        is_module: Whether a text names a module.
        around: Gets the modules.
    """
    lengths = {len(cells) for cells in columns.values()}
    for name, cells in columns.items() if len(lengths) == 1 else ():
        found = _units(cells, is_module)
        if found is None:
            continue
        mark, pattern = found
        pieces = [_pieces(cell, mark) for cell in cells]
        draft.put("units_between", mark, f"cells like {max(cells, key=len)[:100]!r} tell of several units", "codes")
        draft.line(f"unit = {literal(pattern)}", "codes")
        told = [match for cell in pieces for piece in cell if (match := fits(pattern, piece))]
        around.cells["module"] = [match["module"].strip() for match in told]
        times = [max(1, len(one)) for one in pieces]
        made = {
            other: [cell for cell, count in zip(column, times, strict=True) for _ in range(count)]
            for other, column in columns.items()
        }
        codes = (match["code"] if (match := fits(pattern, piece)) else piece for one in pieces for piece in one or [""])
        return made | {name: [*codes]}
    return columns


def _units(cells: Sequence[str], is_module: Modules) -> tuple[str, str] | None:
    """Return the mark between the units of cells and the pattern of one; None where cells tell of no units so."""
    filled = [cell for cell in cells if cell.strip() and not (says_nothing(cell) and not re.search(r"[:=–-]", cell))]
    if not any(map(holds_code, filled)):
        return None
    for mark in _MARKS:
        pieces = [piece for cell in filled for piece in _pieces(cell, mark)]
        if len(pieces) < len(filled) + 2:
            continue
        for pattern in _UNITS:
            told = [match for piece in pieces if (match := fits(pattern, piece))]
            named = sum(is_module(match["module"].strip()) for match in told)
            clean = [match for match in told if not holds_code(match["code"])]
            said = all(says_nothing(match["code"]) for match in clean)
            if len(told) == len(pieces) and named >= _ENOUGH * len(pieces) and clean and said:
                return mark, pattern
    return None


def _pieces(cell: str, mark: str) -> list[str]:
    return [piece.strip() for piece in cell.split(mark) if piece.strip()]
