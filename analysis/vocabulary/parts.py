"""One spelling for each part and each place on the car.

"Ignition coils" and "ignition-coil" are one part, "FL" and "left front" one place.
The price book's spelling wins; where it has none, the one that the repairs use most.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence

_WHEELS = {
    "fl": "front left",
    "lf": "front left",
    "fr": "front right",
    "rf": "front right",
    "rl": "rear left",
    "lr": "rear left",
    "rr": "rear right",
}
_ENDS = {"front": "front", "rear": "rear", "back": "rear"}
_SIDES = {"left": "left", "lh": "left", "right": "right", "rh": "right"}
_EMPTY_WORDS = frozenset({"hand", "side"})
_CYLINDER = re.compile(r"cyl(?:inder)?\.?\s*(?:no\.?|number|#)?\s*0*([0-9]+)")


def part_key(text: str) -> str:
    """Return what two spellings of one part share.

    Args:
        text: A part's name in any case, with spaces or hyphens.

    Returns:
        Lower case, single spaces, the last word in the singular (English endings only).
    """
    words = re.sub(r"[\s\-\u2010-\u2015_]+", " ", text.casefold()).split()
    if words:
        words[-1] = _singular(words[-1])
    return " ".join(words)


def _singular(word: str) -> str:
    if word.endswith("ies") and len(word) > 4:
        return word[:-3] + "y"
    if word.endswith(("ches", "shes", "sses", "xes", "zes")):
        return word[:-2]
    if word.endswith("s") and len(word) > 3 and not word.endswith(("ss", "us", "is")):
        return word[:-1]
    return word


def position_key(text: str) -> str:
    """Return what two spellings of one place share.

    Args:
        text: A place such as "FL", "left front", "cyl. 2" or anything else.

    Returns:
        ``front left`` and the like for a wheel or corner, ``left`` for one side, ``cylinder 2`` for a cylinder, else
        the text in lower case with single spaces.  Nearside and offside are kept: they depend on the country.
    """
    plain = " ".join(re.sub(r"[\s\-\u2010-\u2015_]+", " ", text.casefold()).split())
    if match := _CYLINDER.fullmatch(plain):
        return f"cylinder {int(match[1])}"
    words = [word for word in re.split(r"[ /,.]+", plain) if word and word not in _EMPTY_WORDS]
    words = [spread for word in words for spread in _WHEELS.get(word, word).split()]
    ends = [_ENDS[word] for word in words if word in _ENDS]
    sides = [_SIDES[word] for word in words if word in _SIDES]
    if words and len(ends) + len(sides) == len(words) and len(ends) <= 1 and len(sides) <= 1:
        return " ".join(ends + sides)
    return plain


def canonical_parts(
    price_book: list[tuple[str, str]], repairs: list[tuple[str, int]], one_part: Sequence[tuple[str, str]] = ()
) -> tuple[dict[str, str], list[str]]:
    """Give every spelling of a part its one name.

    Args:
        price_book: Each part with its ``;``-separated synonyms (blank where it has none).
        repairs: Each spelling of a part in the repairs with how often it stands there.
        one_part: Each name that the dealer said to mean a part of another name, with that part; it goes before the
            price book.

    Returns:
        Spelling (of price book and repairs) to the part's name, and notes.  The name is the price book's, else the
        commonest spelling in the repairs, ties in alphabetical order.  A synonym that two parts claim goes to
        neither, and one that is another part's own name stays that part's; the notes name both.
    """
    own: dict[str, str] = {}
    for part, _ in sorted(price_book):
        own.setdefault(part_key(part), part)
    claims: dict[str, set[str]] = defaultdict(set)
    for part, also_called in price_book:
        for synonym in filter(None, map(part_key, also_called.split(";"))):
            claims[synonym].add(own[part_key(part)])
    notes = []
    known = dict(own)
    for synonym, claimants in sorted(claims.items()):
        if synonym in own and claimants != {own[synonym]}:
            others = " and ".join(sorted(claimants - {own[synonym]}))
            notes.append(f"price book: {synonym!r} is a part of its own, so it is no other name for {others}")
        elif len(claimants) > 1:
            notes.append(f"price book: {synonym!r} is claimed by {' and '.join(sorted(claimants))}; neither has it")
        else:
            known[synonym] = min(claimants)
    found = _spread(repairs, part_key, known) | {part: own[part_key(part)] for part, _ in price_book}
    return _as_said(found, known, one_part), notes


def _as_said(found: Mapping[str, str], known: Mapping[str, str], one_part: Sequence[tuple[str, str]]) -> dict[str, str]:
    """Return the parts of some spellings with those of other names brought to the part that they were said to mean.

    Args:
        found: Spelling to the part's name.
        known: Key to the name that the price book gives it.
        one_part: Each name with the part that it means.
    """
    names = {part_key(part): part for _, part in one_part}
    names |= {part_key(spelling): name for spelling, name in found.items()} | dict(known)
    meant = {part_key(name): part_key(part) for name, part in one_part}
    return {spelling: names[_last(part_key(name), meant)] for spelling, name in found.items()}


def _last(key: str, meant: Mapping[str, str]) -> str:
    """Follow what names mean to the last one; of names that mean each other the first in the alphabet is that."""
    seen = [key]
    while (key := meant.get(key, key)) not in seen:
        seen.append(key)
    return min(seen[seen.index(key) :])


def canonical_positions(repairs: list[tuple[str, int]]) -> dict[str, str]:
    """Give every spelling of a place the commonest spelling of that place, ties in alphabetical order.

    Args:
        repairs: Each spelling with how often it stands in the repairs.
    """
    return _spread(repairs, position_key, {})


def _spread(repairs: list[tuple[str, int]], key: Callable[[str], str], known: dict[str, str]) -> dict[str, str]:
    """Map each spelling to the known name of its key, else to the commonest spelling with that key."""
    commonest: dict[str, str] = {}
    for spelling, _ in sorted(repairs, key=lambda counted: (-counted[1], counted[0])):
        commonest.setdefault(key(spelling), spelling)
    names = commonest | known
    return {spelling: names[key(spelling)] for spelling, _ in repairs}
