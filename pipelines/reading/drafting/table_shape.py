"""How does a table stand in its rows: names in one row, over two, down the first column, or no names at all?"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import islice, pairwise

from pipelines.reading.drafting.date_guesses import looks_like_date
from pipelines.reading.drafting.guessing import looks_like_code
from pipelines.reading.drafting.numbers import looks_like_number
from pipelines.reading.drafting.sniffing import cells_of, guess_named, header_row_of
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.reshaping import Header, joined_names, names_by_place, reshaped, unique_names

_FEWEST, _MOST_ABOVE, _LOOKED = 3, 40, 300
_RULE = re.compile(r"[\s+=_|:-]*")
HOW_NAMES_STAND: dict[Header, str] = {
    "first column": "the names stand down the first column, and each further column is a record",
    "two rows": "two rows hold the names, the upper one over several columns",
    "none": "no row holds names, and all rows hold values of the same kinds",
}
Rows = dict[int, list[str]]


@dataclass(frozen=True)
class Shape:
    """How the names of a table stand, the row in which they begin, the rows with the names in one, and its number."""

    header: Header
    row: int
    rows: Rows
    names_at: int


def shape_of(rows: Rows, is_module: Callable[[str], bool]) -> Shape | None:
    """Find how the names of a table stand; None where nothing tells.

    Args:
        rows: Cells by the number of each row.
        is_module: Whether a text names a module.
    """
    plain = header_row_of(rows)
    known = _known(rows[plain]) if plain is not None else 0
    turned = _turned(rows, is_module)
    if turned is not None and turned[1] > known and turned[1] >= _FEWEST:
        at = turned[0]
        shaped = dict(reshaped(sorted(rows.items()), "first column", at)[0])
        return Shape("first column", at, shaped, 1)
    double = _double(rows, plain, known, is_module)
    if double is not None:
        shaped = dict(reshaped(sorted(rows.items()), "two rows", double)[0])
        return Shape("two rows", double, shaped, double)
    if plain is not None:
        return Shape("row", plain, rows, plain)
    first = _nameless(rows)
    if first is not None:
        names = names_by_place(len(rows[first]))
        return Shape("none", first, {0: names} | {at: cells for at, cells in rows.items() if at >= first}, 0)
    return None


def delimiter_of(lines: Sequence[str]) -> str | None:
    """Return the mark that cuts most lines below a line of headings into as many cells, or None where none does."""
    best: tuple[int, str | None] = (0, None)
    filled = [line for line in lines[:_LOOKED] if not _RULE.fullmatch(line)]
    for mark in ("\t", ";", "|", ","):
        cut = [cells_of(line, mark) for line in filled]
        for width, times in Counter(map(len, cut)).most_common(4):
            rows = {number: cells for number, cells in enumerate(cut, 1) if len(cells) == width}
            header = _begins(rows) if width >= _FEWEST and times > 1 else None
            if header is not None and times - 1 >= 0.6 * (len(filled) - header):
                best = max(best, (width * times, mark), key=lambda found: found[0])
            elif header is not None and _known(rows[header]) >= _FEWEST:
                # Reports in sections have short rows too: a label and its value, a module and a word.
                cells = sum(len(found) for found in cut if len(found) > 1)
                if sum(len(found) > 1 for found in cut) >= 0.7 * len(filled):
                    best = max(best, (cells, mark), key=lambda found: found[0])
    return best[1]


def _begins(rows: Rows) -> int | None:
    header = header_row_of(rows)
    return header if header is not None else _nameless(rows)


def _known(cells: list[str]) -> int:
    filled = [name for name in unique_names(cells) if name]
    return max(len(guess_named(filled, table)) for table in LAYOUTS)


def _is_value(cell: str) -> bool:
    return looks_like_code(cell) or looks_like_date(cell) or looks_like_number(cell)


def _turned(rows: Rows, is_module: Callable[[str], bool]) -> tuple[int, int] | None:
    """Return the first row of a turned table, and how many names of its first column are known."""
    usable = {at: cells for at, cells in islice(sorted(rows.items()), 200) if len([c for c in cells if c.strip()]) > 1}
    if not usable:
        return None
    widest = max(len([cell for cell in cells if cell.strip()]) for cells in usable.values())
    if widest < _FEWEST:
        return None
    first = next((at for at, cells in usable.items() if len([c for c in cells if c.strip()]) >= 0.6 * widest), None)
    if first is None:
        return None
    below = [cells for at, cells in rows.items() if at >= first and cells and cells[0].strip()]
    names = [cells[0] for cells in below]
    if any(map(_is_value, names)):
        return None
    # Names down the side have values of one kind behind them, in every column; so have two names in a row not.
    dated = any(sum(map(looks_like_date, cells[1:])) >= 0.6 * (len(cells) - 1) > 1 for cells in below)
    modules = sum(is_module(name) for name in dict.fromkeys(names))
    return (first, _known(names) + modules) if dated and len(names) <= 200 else None


def _double(rows: Rows, plain: int | None, known: int, is_module: Callable[[str], bool]) -> int | None:
    """Return the upper of two rows that hold the names together; None where one row does."""
    numbers = sorted(rows)[:_MOST_ABOVE]
    best: tuple[int, int] | None = None
    for upper, lower in pairwise(numbers):
        above, below = rows[upper], rows[lower]
        filled = [cell for cell in (*above, *below) if cell.strip()]
        if any(map(_is_value, filled)) or not any(cell.strip() for cell in below):
            continue
        over = [cell for cell in above if cell.strip()]
        if len(over) < 2 or len(over) == len([cell for cell in below if cell.strip()]) == len(below):
            continue
        names = [name for name in joined_names(above, below) if name]
        if len({name.lower() for name in names}) < len(names):
            continue
        found = _known(names) + sum(is_module(name) for name in {*over})
        twice = len({cell.strip() for cell in below if cell.strip()}) < len([cell for cell in below if cell.strip()])
        blanks = any(not cell.strip() for cell in below) or any(not cell.strip() for cell in above)
        if blanks and found > known + (0 if twice else 1) and (best is None or found > best[0]):
            best = found, upper
    return best[1] if best else None


def _nameless(rows: Rows) -> int | None:
    """Return the first row of a table without names: all rows are as wide, and hold values of the same kinds."""
    some = list(islice(sorted(rows.items()), 200))
    widths = [len(cells) for _, cells in some]
    usual = max(set(widths), key=widths.count) if widths else 0
    kept = [(at, cells) for at, cells in some if len(cells) == usual]
    if usual < _FEWEST or len(kept) < 2 or len(kept) < 0.8 * len(some):
        return None
    first, cells = kept[0]
    dated = any(all(looks_like_date(row[place]) for _, row in kept) for place in range(usual))
    return first if dated and any(map(_is_value, cells)) else None
