"""Do two names of parts look like one part written twice?

A letter too many, words in another order, a near miss: such pairs are worth a
question to a person.  Words that tell two parts apart (front and rear, a number)
are no slip of the pen, so names that differ in them do not look alike.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from difflib import SequenceMatcher

import numpy as np

from analysis.vocabulary.parts import part_key

_TELLING = re.compile(
    r".*\d.*|front|rear|left|right|upper|lower|inner|outer|inlet|outlet|intake|exhaust|input|output|high|low|hot|cold"
    r"|fl|fr|lf|rf|rl|lr|rr|lh|rh|ns|os|nsf|osf|nsr|osr|lhs|rhs"
    r"|driver|passenger|primary|secondary|main|auxiliary|positive|negative|internal|external"
)
_SHORTEST = 5
_ALIKE = 0.9
_ROUNDING = 1e-9


def why_alike(first: str, second: str) -> str | None:
    """Return why two names look like one part, in words, or None where they do not.

    Args:
        first: A part's name.
        second: Another one's, whose key (``part_key``) differs.
    """
    one, two = part_key(first).split(), part_key(second).split()
    if sorted(one) == sorted(two):
        return "the same words in another order"
    if _tells_apart(one, two):
        return None
    joined, other = "".join(one), "".join(two)
    if min(len(joined), len(other)) >= _SHORTEST:
        if joined == other:
            return "the same letters, parted in another place"
        if one_edit(joined, other):
            return "one letter apart"
    match = SequenceMatcher(None, " ".join(sorted(one)), " ".join(sorted(two)), autojunk=False)
    alike = match.real_quick_ratio() >= _ALIKE and match.quick_ratio() >= _ALIKE and match.ratio() >= _ALIKE
    return "nearly the same letters" if alike else None


def alike_pairs(names: Sequence[str]) -> Iterator[tuple[str, str, str]]:
    """Yield every two names that look alike, with the reason, in alphabetical order.

    Args:
        names: Names of different parts.
    """
    found = []
    for one, other in _with_like_letters(names):
        if why := why_alike(one, other):
            found.append((min(one, other), max(one, other), why))
    yield from sorted(found)


def _with_like_letters(names: Sequence[str]) -> Iterator[tuple[str, str]]:
    """Yield every two names whose letters differ no more than those of names that look alike can.

    The letters in which two texts differ, each as often as it does, are two where one letter is changed and at most
    ``1 - _ALIKE`` of both lengths where the ratio of ``SequenceMatcher`` is ``_ALIKE``: a third of a second for a
    thousand names, where each pair by itself takes ten.
    """
    keys = [part_key(name) for name in names]
    letters = sorted({letter for key in keys for letter in key if letter != " "})
    counts = np.array([[key.count(letter) for letter in letters] for key in keys], dtype=np.int16)
    lengths = np.array([len(key) for key in keys])
    for place, name in enumerate(names):
        apart = np.abs(counts[place + 1 :] - counts[place]).sum(axis=1)
        most = np.maximum(2, (1 - _ALIKE) * (lengths[place + 1 :] + lengths[place]) + _ROUNDING)
        for behind in np.flatnonzero(apart <= most):
            yield name, names[place + 1 + int(behind)]


def _tells_apart(one: list[str], two: list[str]) -> bool:
    return any(map(_TELLING.fullmatch, set(one) ^ set(two)))


def one_edit(first: str, second: str) -> bool:
    """Say whether one letter was added, left out, changed, or swapped with its neighbour."""
    short, long = sorted((first, second), key=len)
    if len(long) - len(short) > 1:
        return False
    at = next((place for place, (a, b) in enumerate(zip(short, long, strict=False)) if a != b), len(short))
    if len(short) < len(long):
        return short[at:] == long[at + 1 :]
    swapped = short[at + 1 : at + 2] + short[at : at + 1] + short[at + 2 :]
    return short[at + 1 :] == long[at + 1 :] or swapped == long[at:]
