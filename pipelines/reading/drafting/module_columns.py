"""Draft columns whose cells list modules: those that were read and are clean, and those that did not answer."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.guessing import Source
from pipelines.reading.drafting.words import NO_CODES, NOT_READ, SILENT, Modules, folded

_MARKS = (", ", ",", "; ", ";", " / ", "/", "|", "\n", " + ", "+", " ")
_CLEAN = re.compile(
    r"\b(?:ok|okay|clean|read|in ordnung|in orde|ohne|without|sin|senza|sans|zonder|bez|uden|uten|utan|sem)\b",
    re.IGNORECASE,
)


def draft_listed(
    draft: Draft,
    sources: Mapping[str, Source],
    chosen: Mapping[str, list[str]],
    apart: Sequence[str],
    is_module: Modules,
) -> list[str]:
    """Draft the columns that list modules of which no code is told: as clean, or as silent; return them.

    Args:
        draft: Gets the lines.
        sources: The file's columns.
        chosen: Which of them is which.
        apart: Those that are told apart before.
        is_module: Whether a text names a module.
    """
    taken = [*apart, *(name for names in chosen.values() for name in names)]
    found: list[str] = []
    between: str | None = None
    for name, source in sources.items():
        mark = None if name in taken else _between(source, between, is_module)
        if mark is None:
            continue
        coded = [sources[one] for column in ("module", "code") for one in chosen.get(column, ())[:1]]
        key = _said_of(draft, name, source, _lists_coded_too(source, mark, coded))
        if key is None:
            continue
        if key in [line.split(" = ")[0] for line in draft.tables.get("codes", ())]:
            asks = f"{name!r} lists modules too, as the column does that is {key} now; may it be left out?"
            draft.ask_leave(
                "codes.lists", asks, "one column of each kind is read, and what this one says would be lost"
            )
            continue
        why = f"cells like {source.filled[0]!r} list modules, and their codes stand elsewhere"
        draft.put(key, name, why, "codes")
        between = mark
        draft.put("modules_between", mark, table="codes")
        for piece in dict.fromkeys(piece for cell in source.filled for piece in _pieces(cell, mark)):
            module = is_module.means(piece)
            if module is not None and module != piece:
                draft.put(piece, module, table="values.module")
        found.append(name)
    return found


def lists_modules(source: Source, is_module: Modules) -> bool:
    """Say whether the cells of a column name modules, several in some of them, or its heading says what of them."""
    plain = all(map(is_module, source.filled)) and not _names_state(source.name)
    return _between(source, None, is_module) is not None and not plain


def _between(source: Source, known: str | None, is_module: Modules) -> str | None:
    """Return the mark between the modules that the cells of a column list; None where they list none."""
    if not source.filled:
        return None
    for mark in _MARKS if known is None else (known,):
        lists = [_pieces(cell, mark) for cell in source.filled]
        several = known is not None or any(len(pieces) > 1 for pieces in lists) or _names_state(source.name)
        if several and all(is_module(piece) for pieces in lists for piece in pieces):
            return mark
    return None


def _pieces(cell: str, mark: str) -> list[str]:
    return [piece.strip() for piece in cell.split(mark) if piece.strip()]


def _words(name: str) -> str:
    return f"{name} {folded(name)}"


def _names_state(name: str) -> bool:
    return any(pattern.search(_words(name)) for pattern in (SILENT, NOT_READ))


def _lists_coded_too(source: Source, mark: str, coded: Sequence[Source]) -> bool:
    """Say whether each module with a code is in the list of its row, which has others too: a list of all that answered.

    Args:
        source: The lists.
        mark: What stands between their modules.
        coded: The columns of modules and of codes.
    """
    if len(coded) < len(("module", "code")) or any(len(one.cells) != len(source.cells) for one in coded):
        return False
    rows = [
        (module.strip(), _pieces(cell, mark))
        for cell, module, code in zip(source.cells, *(one.cells for one in coded), strict=True)
        if module.strip() and code.strip()
    ]
    others = {piece for _, pieces in rows for piece in pieces} - {module for module, _ in rows}
    more = any(len(pieces) > 1 for _, pieces in rows) or bool(others)
    return bool(rows) and more and all(module in pieces for module, pieces in rows)


def _said_of(draft: Draft, name: str, source: Source, coded_too: bool) -> str | None:
    """Return the key of a mapping that a column of modules belongs to; None: nothing is known, or so answered."""
    if SILENT.search(_words(name)):
        return "silent_modules"
    if NOT_READ.search(_words(name)):
        return None
    if coded_too:
        return "clean"
    why = f"cells like {source.filled[0]!r} list modules, and their codes stand elsewhere"
    asks = f"Are the modules in {name!r} those that were read and stored no code?"
    called = NO_CODES.search(_words(name)) or _CLEAN.search(_words(name))
    return "clean" if draft.ask("codes.clean", asks, "yes" if called else None, why, ("yes", "no")) == "yes" else None
