"""Columns of a file that nothing of ours holds: named on its card, with what each looks like it would be good for.

Nobody misses a column that was dropped in silence, until a year of erased codes is not known to have been erased.
"""

from __future__ import annotations

import ast
from dataclasses import dataclass

from analysis.texts import desk_file_text as say
from analysis.texts.desk_plain_text import column
from pipelines.desk.look import Look
from pipelines.reading.drafting.words import ERASED, HEADINGS, PLATES, folded

LEFT_OUT = "left out, not in "
"""How a reader's note begins that names the columns it left out."""
_NOT_USED = "# not used: "
_SHORTEST = 4  # letters of a word that says what a column holds


@dataclass(frozen=True)
class Unused:
    """A column that is not used.

    Attributes:
        name: What the file calls it.
        like: What it looks like, in words; blank where it looks like nothing of ours.
        column: The column of ours that it may be, where that can be said of it.
    """

    name: str
    like: str = ""
    column: str = ""


def unused_in(seen: Look) -> list[Unused]:
    """Return the columns of a file that are not used, in its order; one that a question is about is asked there."""
    if seen.draft is not None:
        lines = seen.draft.tables.get("columns", [])
        names = [str(ast.literal_eval(line[len(_NOT_USED) :])) for line in lines if line.startswith(_NOT_USED)]
    else:
        told = (note.partition(": ")[2] for note in seen.found.notes if note.startswith(LEFT_OUT))
        names = [name for note in told for name in note.split(", ")]
    table = seen.draft.table if seen.draft else seen.found.table or "scans"
    asked = {
        name
        for one in seen.undecided
        if one.key.startswith("columns.") and len(one.choices) == 1
        for name in one.choices
    }
    return [_unused(name, table, seen) for name in names if name.strip() and name not in asked]


def _unused(name: str, table: str, seen: Look) -> Unused:
    words = {*folded(name).split()}
    if folded(name) in PLATES or any({*plate.split()} <= words for plate in PLATES if len(plate) >= _SHORTEST):
        return Unused(name, say.PLATE_LIKE)
    if table == "repairs" and words & {word for phrase in ERASED for word in phrase.split() if word in _WIPED}:
        return Unused(name, say.ERASED_LIKE)
    open_ones = {one: phrases for one, phrases in HEADINGS.get(table, {}).items() if one not in seen.heads}
    found = [
        (len(phrase), one)
        for one, phrases in open_ones.items()
        for phrase in phrases
        if len(phrase) >= _SHORTEST and {*phrase.split()} <= words
    ]
    if not found:
        return Unused(name)
    best = max(found)[1]
    return Unused(name, column(best), best if seen.draft is not None else "")


_WIPED = {phrase for phrase in ERASED if " " not in phrase}
