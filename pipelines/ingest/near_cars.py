"""Repairs of a car that no stock list and no scan knows: whose number is one letter off one that is known?"""

from __future__ import annotations

from collections.abc import Iterable

from analysis.vocabulary.likeness import one_edit
from pipelines.errors import plain_name

_SHORTEST, _MOST = 4, 3


def near_cars(name: str, known: Iterable[str]) -> list[str]:
    """Return the known numbers and plates that a name is one letter or digit off, three at most.

    Args:
        name: A stock number or plate that is not known.
        known: Those that are.
    """
    plain = plain_name(name)
    if len(plain) < _SHORTEST:
        return []
    return sorted({one for one in known if plain != plain_name(one) and one_edit(plain, plain_name(one))})[:_MOST]
