"""Rows of a price book that hold a name alone: headings of the parts below them, most often their supplier."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.entries import Around
from pipelines.reading.drafting.guessing import Source, guess_columns
from pipelines.reading.drafting.numbers import looks_like_number
from pipelines.reading.drafting.scan_lines import escaped
from pipelines.reading.drafting.words import GROUPS_OF_PARTS, Modules, folded
from pipelines.reading.mapping.table_surroundings import row_text

_SUPPLIER, _TITLE, _PART = "supplier", "title", "part"


def draft_group_headings(
    draft: Draft, rows: Sequence[list[str]], columns: Mapping[str, list[str]], is_module: Modules
) -> tuple[Around, list[list[str]]]:
    """Ask what rows are that hold a name alone, and draft them.

    They are headings where the table begins with one and parts stand below each; else parts without a price.

    Args:
        draft: Gets the lines.
        rows: The rows of a price book.
        columns: Its columns with their cells.
        is_module: Whether a text names a module.

    Returns:
        What the rows tell of those below them, and the rows that are left.
    """
    alone = [
        sum(bool(cell.strip()) for cell in cells) == 1 and not looks_like_number(row_text(cells)) for cells in rows
    ]
    names = list(dict.fromkeys(row_text(cells) for cells, one in zip(rows, alone, strict=True) if one))
    if not names or all(alone):
        return Around(), [*rows]
    sources = [Source(name, tuple(cells)) for name, cells in columns.items()]
    has_supplier = any(guess.column == _SUPPLIER for guess in guess_columns(sources, "parts", is_module))
    # What stands alone below the last part heads nothing: a note, most often.
    body = alone[: len(alone) - alone[::-1].index(False)]
    leads = alone[0] and not any(one and other for one, other in pairwise(body))
    groups = any(is_module(name) or {*folded(name).split()} & {*GROUPS_OF_PARTS} for name in names)
    proposal = _PART if not leads else _TITLE if has_supplier or groups else _SUPPLIER
    why = (
        "the table begins with such a row, and parts stand below each"
        if leads
        else "such rows do not stand above all the others, so it may be a part without a price"
    )
    means = {
        _SUPPLIER: "who sells the parts below it",
        _TITLE: "a heading that is passed over",
        _PART: "a part without a price",
    }
    asks = f"What is {names[0]!r}, which stands alone in its row?"
    answer = draft.ask("rows.alone", asks, proposal, why, tuple(means), means=means)
    if answer not in (_SUPPLIER, _TITLE):
        return Around(), [*rows]
    either = "|".join(sorted(map(escaped, names), key=lambda name: (-len(name), name)))
    around = Around()
    if answer == _SUPPLIER:
        around.cells[_SUPPLIER] = names
        draft.put("above", [f"^(?<{_SUPPLIER}>{either})$"], f"rows like {names[0]!r} tell who sells the parts below")
    else:
        # One that tells nothing ends nothing either: the rows are passed over as others are that are none.
        draft.put("above", [f"^(?:{either})$"], f"rows like {names[0]!r} are headings of the parts below them")
    return around, [cells for cells, one in zip(rows, alone, strict=True) if not one]
