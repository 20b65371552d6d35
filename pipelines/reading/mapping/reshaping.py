"""Rows that are no plain table yet, brought to one: names down the first column, over two rows, twice or nowhere.

What comes out has one row of names, no two alike, and below it one row a record; what reads the cells
need not know how the file had them.
"""

from __future__ import annotations

import string
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import zip_longest
from typing import Literal

Header = Literal["row", "two rows", "none", "first column"]
Rows = Iterable[tuple[int, list[str]]]
_WIDEST_TURNED = 20_000


def reshaped(rows: Rows, header: Header, at: int) -> tuple[Rows, int]:
    """Return the rows of a table with its names in one row, and the number of that row.

    Args:
        rows: Numbered rows of cells.
        header: How the names stand: in a row, over that row and the next, nowhere, or down the first column.
        at: The first row with names, or with cells where there are none.

    Returns:
        The rows, numbered as they were; those of a turned table by their column, the first being 1.
    """
    if header == "two rows":
        return _two_rows(rows, at), at
    if header == "none":
        return _named_by_place(rows, at), at
    if header == "first column":
        return _turned(rows, at), 1
    return rows, at


def _two_rows(rows: Rows, at: int) -> Iterator[tuple[int, list[str]]]:
    """Join the names of a row with those right below: what stands over several columns counts for each of them."""
    above: list[str] | None = None
    for number, cells in rows:
        if number == at:
            above = cells
        elif above is not None:
            yield at, joined_names(above, cells)
            above = None
        else:
            yield number, cells
    if above is not None:
        yield at, above


def joined_names(above: Sequence[str], below: Sequence[str]) -> list[str]:
    """Return the names that two rows make together; one over several columns stands in the first of them."""
    over, made = "", list[str]()
    for one, other in zip_longest(above, below, fillvalue=""):
        over = one.strip() or over
        # A name over several columns has names below it; one that has none stands alone.
        made.append(" ".join(filter(None, (over if other.strip() else one.strip(), other.strip()))))
    return made


def _named_by_place(rows: Rows, at: int) -> Iterator[tuple[int, list[str]]]:
    """Give columns without names the names ``column A``, ``column B``; the first row is both names and row."""
    begun = False
    for number, cells in rows:
        if number < at:
            continue
        if not begun:
            yield at, names_by_place(len(cells))
            begun = True
        yield number, cells


def names_by_place(count: int) -> list[str]:
    """Return names for columns that have none, by the letters that spreadsheets give them."""
    letters = string.ascii_uppercase
    return [
        f"column {letters[at // 26 - 1] if at >= 26 else ''}{letters[at % 26]}" for at in range(min(count, 26 * 27))
    ]


def _turned(rows: Rows, at: int) -> Iterator[tuple[int, list[str]]]:
    """Make columns of the rows from one on; a row without a name belongs to none and is left out."""
    kept = [cells for number, cells in rows if number >= at and cells and cells[0].strip()]
    for place, column in enumerate(zip_longest(*kept, fillvalue=""), 1):
        if place > _WIDEST_TURNED:
            return
        if place == 1 or any(cell.strip() for cell in column):
            yield place, [*column]


def unique_names(names: Sequence[str]) -> list[str]:
    """Return names of which no two are alike: the second ``Code`` is ``Code (2)``; blank ones stay blank."""
    seen: Counter[str] = Counter()
    made = []
    for name in names:
        plain = " ".join(name.split()).lower()
        seen[plain] += 1
        made.append(f"{name.strip()} ({seen[plain]})" if plain and seen[plain] > 1 else name.strip())
    return made


def with_joined(rows: Rows, at: int, keys: Mapping[str, str], other: Sequence[Sequence[str]]) -> Rows:
    """Put the cells of another table behind those of each row, by a column that both have.

    Args:
        rows: Numbered rows of the table.
        at: The row of its names.
        keys: The one column of this table that names a row of the other, to that column's name there.
        other: The other table, its names first.

    Returns:
        The rows; where the other table has no such row, or two, the cells stay blank.
    """
    mine, theirs = next(iter(keys.items()))
    names = [plain(name) for name in other[0]] if other else []
    place = names.index(plain(theirs)) if plain(theirs) in names else None
    found: dict[str, list[str] | None] = {}
    for cells in other[1:]:
        key = _key(cells[place]) if place is not None and place < len(cells) else ""
        if key:
            found[key] = None if key in found and found[key] != [*cells] else [*cells]
    behind = ["" if at_ == place else name for at_, name in enumerate(other[0] if other else ())]
    return _joined(rows, at, mine, found, behind)


def _joined(
    rows: Rows, at: int, mine: str, found: Mapping[str, list[str] | None], behind: Sequence[str]
) -> Iterator[tuple[int, list[str]]]:
    width, own = 0, None
    for number, cells in rows:
        if number == at:
            width = len(cells)
            plain_names = [plain(name) for name in cells]
            own = plain_names.index(plain(mine)) if plain(mine) in plain_names else None
            yield number, [*cells, *behind]
        elif number < at or own is None:
            yield number, cells
        else:
            key = _key(cells[own]) if own < len(cells) else ""
            more = found.get(key) or []
            yield number, [*cells, *[""] * (width - len(cells)), *more]


def _key(cell: str) -> str:
    text = cell.strip().lower()
    return text.removesuffix(".0")


def plain(name: str) -> str:
    """Return a name as names are compared: single blanks, small letters."""
    return " ".join(name.split()).lower()
