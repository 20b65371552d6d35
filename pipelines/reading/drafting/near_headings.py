"""Headings that are spelled like a known one: ``Minits``, ``Klometers``.

A slip of the pen keeps the first letter and mostly the consonants.  A heading that is a known word itself is no slip.
"""

from __future__ import annotations

import re
from functools import lru_cache

from pipelines.reading.drafting.words import HEADINGS, folded

_SHORTEST, _FARTHEST = 6, 2


@lru_cache(maxsize=16_384)
def near_heading(table: str, column: str, heading: str) -> str | None:
    """Return the known name of a column that a heading is spelled like; None where it is known, or like none.

    Args:
        table: The table that the column belongs to.
        column: The column.
        heading: The heading, as the file has it.
    """
    plain = folded(heading)
    if len(plain) < _SHORTEST or plain in _known():
        return None
    found = [
        (edits, phrase)
        for phrase in HEADINGS[table].get(column, ())
        if phrase[:1] == plain[:1] and abs(len(phrase) - len(plain)) <= _FARTHEST and len(phrase) >= _SHORTEST
        for edits in [_edits(plain, phrase)]
        if _near(plain, phrase, edits)
    ]
    return min(found)[1] if found else None


@lru_cache(maxsize=1)
def _known() -> frozenset[str]:
    """Return the known headings of all tables: another table's is no slip either."""
    return frozenset(phrase for table in HEADINGS.values() for phrases in table.values() for phrase in phrases)


def _near(one: str, other: str, edits: int) -> bool:
    """Say whether one letter is wrong, or two and no consonant among them."""
    far = _consonants(one) == _consonants(other)
    return edits == 1 or (edits <= _FARTHEST and far)


def _consonants(text: str) -> str:
    return re.sub(r"[aeiouy ]", "", text)


def _edits(one: str, other: str) -> int:
    """Return how many letters have to be put in, taken out or changed to make one text of another.

    Source: R. A. Wagner and M. J. Fischer, "The string-to-string correction problem", Journal of the ACM 21 (1974).
    """
    row: list[int] = [*range(len(other) + 1)]
    for at, letter in enumerate(one, 1):
        last, row[0] = row[0], at
        for place, sign in enumerate(other, 1):
            last, row[place] = row[place], min(row[place] + 1, row[place - 1] + 1, last + (letter != sign))
    return row[-1]
